"""Takes are kept as standard MIDI files and read from any. Oracles: Standard MIDI Files 1.0 (RP-001), `partitura`."""

from __future__ import annotations

import os
import struct
from pathlib import Path

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.errors import CoachError
from coach.listening.events import Event, Metronome
from coach.listening.take import Take, read_take, write_take

EXAMPLE_TYPE_0 = bytes.fromhex(
    "4D546864 00000006 0000 0001 0060"
    "4D54726B 0000003B"
    "00FF580404021808 00FF510307A120 00C005 00C12E 00C246"
    "00923060 003C60 60914340 60904C20 81408230 40 003C40 00814340 00804C40 00FF2F00"
)
"""The format 0 example of the specification, with running status (RP-001, "Example"; from memory)."""

EXAMPLE_TYPE_1 = bytes.fromhex(
    "4D546864 00000006 0001 0004 0060"
    "4D54726B 00000014 00FF580404021808 00FF510307A120 8300FF2F00"
    "4D54726B 00000010 00C005 8140904C20 814 04C00 00FF2F00".replace("814 0", "8140")
    + "4D54726B 0000000F 00C12E 60914340 822043 00 00FF2F00"
    "4D54726B 00000015 00C246 00923060 003C60 83003000 003C00 00FF2F00"
)
"""The format 1 example: the same music in a tempo track and three parts."""

QUARTER = 0.5
"""Seconds: both examples run at 120 quarters a minute."""

EXAMPLE = [
    (0.0, "press", 48),
    (0.0, "press", 60),
    (QUARTER, "press", 67),
    (2 * QUARTER, "press", 76),
    (4 * QUARTER, "release", 48),
    (4 * QUARTER, "release", 60),
    (4 * QUARTER, "release", 67),
    (4 * QUARTER, "release", 76),
]
"""What both examples say: C3 and C4, a quarter later G4, another quarter later E5, all until the end of the bar."""


def smf(kind: int, division: bytes, *tracks: str) -> bytes:
    chunks = [bytes.fromhex(track) for track in tracks]
    head = b"MThd" + struct.pack(">LHH", 6, kind, len(chunks)) + division
    return head + b"".join(b"MTrk" + struct.pack(">L", len(chunk)) + chunk for chunk in chunks)


def read(tmp_path: Path, content: bytes) -> Take:
    path = tmp_path / "take.mid"
    path.write_bytes(content)
    return read_take(path)


def told(take: Take) -> list[tuple[float, str, int]]:
    return [(round(event.seconds, 4), event.kind, event.key) for event in take.events]


@pytest.mark.parametrize("content", [EXAMPLE_TYPE_0, EXAMPLE_TYPE_1], ids=["type 0", "type 1"])
def test_the_examples_of_the_specification(tmp_path: Path, content: bytes) -> None:
    take = read(tmp_path, content)
    assert sorted(told(take)) == sorted(EXAMPLE)
    assert [event.key for event in take.events if event.kind == "press"] == [48, 60, 67, 76]


def test_the_patterns_of_a_type_2_file_follow_one_another(tmp_path: Path) -> None:
    pattern = "00903C40 60803C40 00FF2F00"
    take = read(tmp_path, smf(2, b"\x00\x60", pattern, pattern))
    assert told(take) == [(0.0, "press", 60), (0.5, "release", 60), (0.5, "press", 60), (1.0, "release", 60)]


def test_tempo_changes_are_followed_whichever_track_they_stand_in(tmp_path: Path) -> None:
    """From 120 to 60 quarters a minute after one quarter, in a track of its own after the notes."""
    notes = "00903C40 60803C40 00903E40 60803E40 00FF2F00"
    tempo = "60FF51030F4240 00FF2F00"
    assert told(read(tmp_path, smf(1, b"\x00\x60", notes, tempo)))[-1] == (1.5, "release", 62)


def test_smpte_time_is_followed(tmp_path: Path) -> None:
    """25 frames a second, 40 ticks a frame: a tick is a millisecond (the specification's own example)."""
    take = read(tmp_path, smf(0, b"\xe7\x28", "00903C40 8768803C40 00FF2F00"))
    assert told(take) == [(0.0, "press", 60), (1.0, "release", 60)]


def test_a_note_on_without_velocity_is_a_release(tmp_path: Path) -> None:
    assert [e.kind for e in read(tmp_path, smf(0, b"\x00\x60", "00903C40 603C00 00FF2F00")).events] == [
        "press",
        "release",
    ]


def test_two_parts_on_one_key_let_it_go_together(tmp_path: Path) -> None:
    """Where two voices meet, the key goes down once and is up when the last of them ends."""
    short, long = "00903C40 30803C40 00FF2F00", "00913C40 60813C40 00FF2F00"
    assert told(read(tmp_path, smf(1, b"\x00\x60", short, long))) == [(0.0, "press", 60), (0.5, "release", 60)]


def test_a_part_that_holds_a_key_holds_it_on_when_another_strikes_it_again(tmp_path: Path) -> None:
    held, again = "00903C40 8100803C40 00FF2F00", "30903C40 18803C40 00FF2F00"
    assert told(read(tmp_path, smf(1, b"\x00\x60", held, again))) == [
        (0.0, "press", 60),
        (0.25, "release", 60),
        (0.25, "press", 60),
        (0.6667, "release", 60),
    ]


def test_a_part_that_ends_as_another_begins_does_not_cut_it_off(tmp_path: Path) -> None:
    first, second = "60903C40 60803C40 00FF2F00", "00903C40 60803C40 00FF2F00"
    take = read(tmp_path, smf(1, b"\x00\x60", first, second))
    assert told(take)[-1] == (1.0, "release", 60)


def test_foreign_chunks_and_longer_headers_are_passed_over(tmp_path: Path) -> None:
    track = EXAMPLE_TYPE_0[14:]
    content = b"MThd" + struct.pack(">LHHH", 8, 0, 1, 96) + b"\0\0" + b"XFIH" + struct.pack(">L", 3) + b"abc" + track
    assert sorted(told(read(tmp_path, content))) == sorted(EXAMPLE)


def test_the_pedal_and_all_notes_off(tmp_path: Path) -> None:
    take = read(tmp_path, smf(0, b"\x00\x60", "00903C40 00B0407F 30B07B00 30B04000 00FF2F00"))
    assert [(e.kind, e.key, e.value) for e in take.events] == [
        ("press", 60, 64),
        ("pedal", 64, 127),
        ("release", 60, 64),
        ("pedal", 64, 0),
    ]


def test_a_change_of_mode_lets_the_keys_go_as_it_does_live(tmp_path: Path) -> None:
    """Omni and mono messages end all notes (MIDI 1.0 Detailed Specification, channel mode messages)."""
    for controller in ("7B", "7C", "7D", "7E", "7F"):
        take = read(tmp_path, smf(0, b"\x00\x60", f"00 903C40 60 B0{controller}00 00 FF2F00"))
        assert told(take) == [(0.0, "press", 60), (0.5, "release", 60)]


def test_an_independent_reader_hears_the_same(tmp_path: Path) -> None:
    """`partitura` reads the same notes from a file with three tracks, tempo changes and several channels."""
    partitura = pytest.importorskip("partitura")
    score = mido.MidiFile(type=1, ticks_per_beat=480)
    tempo = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=600_000)])
    tempo.append(mido.MetaMessage("set_tempo", tempo=400_000, time=960))
    tempo.append(mido.MetaMessage("set_tempo", tempo=750_000, time=1000))
    score.tracks.append(tempo)
    for channel in range(2):
        track = mido.MidiTrack()
        for step in range(12):
            key = 48 + 12 * channel + 2 * step
            track.append(mido.Message("note_on", note=key, velocity=50 + step, channel=channel, time=37 * channel))
            track.append(mido.Message("note_off", note=key, channel=channel, time=211))
        score.tracks.append(track)
    path = tmp_path / "three tracks.mid"
    score.save(path)
    take = read_take(path)
    mine = sorted((round(e.seconds, 3), e.key, e.value) for e in take.events if e.kind == "press")
    notes = partitura.load_performance_midi(path).note_array()
    theirs = sorted((round(float(n["onset_sec"]), 3), int(n["pitch"]), int(n["velocity"])) for n in notes)
    assert len(mine) == len(theirs) == 24
    for ours, other in zip(mine, theirs, strict=True):
        assert ours[1:] == other[1:]
        assert ours[0] == pytest.approx(other[0], abs=0.002)


PRESSED = st.tuples(st.integers(0, 127), st.integers(1, 127), st.floats(0.0, 0.9))


@given(st.lists(PRESSED, min_size=1, max_size=30), st.floats(20, 240), st.text(max_size=40))
def test_what_was_written_is_read_again(pressed: list[tuple[int, int, float]], bpm: float, about: str) -> None:
    import tempfile

    events = []
    for place, (key, velocity, longer) in enumerate(pressed):
        events.append(Event(float(place), "press", key, velocity))
        events.append(Event(place + max(longer, 0.05), "release", key, 0))
    take = Take(tuple(events), Metronome(bpm, 0.0), about)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "take.mid"
        write_take(take, path)
        back = read_take(path)
    assert [(e.kind, e.key, e.value) for e in back.events] == [(e.kind, e.key, e.value) for e in events]
    for ours, theirs in zip(back.events, events, strict=True):
        assert ours.seconds == pytest.approx(theirs.seconds, abs=0.005)
    assert back.metronome is not None
    assert back.metronome.quarter_bpm == pytest.approx(bpm, rel=1e-4)
    assert back.about == about


def sent(tmp_path: Path, messages: list[tuple[float, int, int, int]]) -> Take:
    """Messages in order of time, three bytes each, as an instrument sends them into one track; a tick is 1 ms."""
    track, last = mido.MidiTrack(), 0
    for seconds, *data in sorted(messages, key=lambda each: each[0]):
        tick = round(1000 * seconds)
        track.append(mido.Message.from_bytes(data, time=tick - last))
        last = tick
    score = mido.MidiFile(type=0, ticks_per_beat=500)
    score.tracks.append(track)
    score.save(tmp_path / "sent.mid")
    return read_take(tmp_path / "sent.mid")


def struck(channel: int, key: int, at: float, until: float) -> list[tuple[float, int, int, int]]:
    return [(at, 0x90 | channel, key, 64), (until, 0x80 | channel, key, 64)]


@pytest.mark.parametrize("later", [0.0, 0.001, 0.008, 0.02, 0.03])
def test_a_layered_recording_has_each_stroke_once(tmp_path: Path, later: float) -> None:
    """As at the keyboard itself; each press is the first of its two note-ons, counted in file order."""
    keys = [60, 64, 67, 72]
    messages = [
        message
        for place, key in enumerate(keys)
        for channel in (0, 1)
        for message in struck(channel, key, place + channel * later, place + 0.5 + channel * later)
    ]
    take = sent(tmp_path, messages)
    assert [(e.kind, e.key) for e in take.events] == [(kind, key) for key in keys for kind in ("press", "release")]
    assert take.note_ons == (0, 2, 4, 6)


def test_percussion_is_no_playing(tmp_path: Path) -> None:
    """Channel 10 (General MIDI System Level 1): the rhythm of an instrument goes into the file with the keys."""
    rhythm = [message for beat in range(8) for message in struck(9, 36 + beat % 3, beat * 0.5, beat * 0.5 + 0.05)]
    take = sent(tmp_path, [*rhythm, *struck(0, 60, 1.2, 2.2), *struck(0, 62, 2.2, 3.0)])
    assert [(e.kind, e.key) for e in take.events] == [
        ("press", 60), ("release", 60), ("press", 62), ("release", 62)
    ]  # fmt: skip
    assert take.note_ons == (3, 6)


def test_a_take_of_percussion_alone_is_none(tmp_path: Path) -> None:
    with pytest.raises(CoachError, match="all its notes are on channel 10, which carries percussion") as caught:
        sent(tmp_path, struck(9, 60, 0, 1))
    assert "\n" not in str(caught.value)


def test_what_comes_with_its_octave_on_another_channel_is_struck_once(tmp_path: Path) -> None:
    chord = [
        message
        for at in range(3)
        for key in (48, 60, 64, 67)
        for message in (*struck(0, key, at, at + 0.8), *struck(1, key + 12, at + 0.002, at + 0.802))
    ]
    take = sent(tmp_path, chord)
    assert [e.key for e in take.events if e.kind == "press"] == [48, 60, 64, 67] * 3
    assert all(e.channel == 0 for e in take.events)
    assert take.note_ons[:4] == (0, 1, 2, 3)
    assert take.note_ons[4] == 8


def test_what_was_held_back_for_a_layer_has_its_own_time(tmp_path: Path) -> None:
    """Both hands on a split keyboard: the bass comes with its octave in the tenor, the others come alone."""
    take = sent(tmp_path, [*struck(0, 60, 0, 1), *struck(0, 64, 0, 1), *struck(1, 48, 0.01, 1), *struck(1, 50, 1, 2)])
    presses = [(e.seconds, e.key, e.channel) for e in take.events if e.kind == "press"]
    assert presses == [(0.0, 60, 0), (0.0, 64, 0), (pytest.approx(0.01), 48, 1), (1.0, 50, 1)]
    assert take.note_ons == (0, 1, 2, 3)


def test_voices_on_channels_of_their_own_that_sing_in_octaves_for_a_while_are_no_layer(tmp_path: Path) -> None:
    """A recording with a channel a voice that opens in octaves: what comes later tells, and nothing is lost."""
    octaves = [m for at in range(6) for m in (*struck(0, 60 + at, at, at + 0.9), *struck(1, 48 + at, at, at + 0.9))]
    parted = [m for at in range(6, 9) for m in (*struck(0, 60 + at, at, at + 0.9), *struck(1, 50, at, at + 0.9))]
    take = sent(tmp_path, octaves + parted)
    assert take.presses == 18
    assert sorted(take.note_ons) == list(range(18))


def test_the_channels_of_a_split_keyboard_are_kept(tmp_path: Path) -> None:
    events = (Event(0.0, "press", 60, 64, 0), Event(0.1, "press", 43, 64, 1), Event(1.0, "release", 43, 0, 1))
    write_take(Take(events), tmp_path / "split.mid")
    assert [(e.key, e.channel) for e in read_take(tmp_path / "split.mid").events] == [(60, 0), (43, 1), (43, 1)]


def test_a_written_take_opens_in_other_readers(tmp_path: Path) -> None:
    partitura = pytest.importorskip("partitura")
    path = tmp_path / "take.mid"
    write_take(Take((Event(5.0, "press", 60, 64), Event(5.75, "release", 60, 0))), path)
    note = partitura.load_performance_midi(path).note_array()[0]
    assert int(note["pitch"]) == 60
    assert float(note["duration_sec"]) == pytest.approx(0.75, abs=0.002)


def test_a_take_that_cannot_be_written_leaves_the_old_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A power cut just before the new file gets its name costs the new take only."""
    path = tmp_path / "take.mid"
    old = Take((Event(0.0, "press", 60, 64), Event(1.0, "release", 60, 0)))
    write_take(old, path)

    def cut(*_: object) -> None:
        raise OSError(5, "the power went")

    monkeypatch.setattr(os, "replace", cut)
    with pytest.raises(CoachError, match=r'cannot keep the take "take.mid"'):
        write_take(Take((Event(0.0, "press", 72, 64),)), path)
    assert [event.key for event in read_take(path).events] == [60, 60]
    assert list(tmp_path.iterdir()) == [path]


BAD = {
    "nothing": b"",
    "text": b"dear coach, this is my take",
    "a header alone": EXAMPLE_TYPE_0[:14],
    "half a track": EXAMPLE_TYPE_0[:40],
    "half a header": EXAMPLE_TYPE_0[:9],
    "no track": smf(0, b"\x00\x60"),
    "no notes": smf(0, b"\x00\x60", "00FF2F00"),
    "type 7": smf(7, b"\x00\x60", "00903C40 60803C40 00FF2F00"),
    "no division": smf(0, b"\x00\x00", "00903C40 60803C40 00FF2F00"),
    "running status out of nowhere": smf(0, b"\x00\x60", "003C40 00FF2F00"),
    "an endless silence": smf(0, b"\x00\x60", "FFFFFFFFFFFFFFFFFFFF7F903C40 60803C40 00FF2F00"),
}


@pytest.mark.parametrize("content", BAD.values(), ids=BAD.keys())
def test_a_bad_file_gets_one_sentence(tmp_path: Path, content: bytes) -> None:
    with pytest.raises(CoachError, match=r'"take\.mid"') as caught:
        read(tmp_path, content)
    assert "\n" not in str(caught.value)


def test_a_folder_and_a_missing_file_get_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(CoachError, match="is a folder"):
        read_take(tmp_path)
    with pytest.raises(CoachError, match="cannot find"):
        read_take(tmp_path / "none.mid")
    with pytest.raises(CoachError, match="cannot find"):
        read_take("a\0b.mid")


def test_a_file_too_large_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "huge.mid"
    with path.open("wb") as file:
        file.truncate(200_000_000)
    with pytest.raises(CoachError, match="200 MB is too large"):
        read_take(path)


@given(st.data())
def test_damaged_files_never_end_in_a_traceback(data: st.DataObject) -> None:
    """Mutations of a real file either read as a take or get one sentence."""
    import tempfile

    content = bytearray(data.draw(st.sampled_from([EXAMPLE_TYPE_0, EXAMPLE_TYPE_1])))
    for _ in range(data.draw(st.integers(1, 4))):
        place = data.draw(st.integers(0, len(content) - 1))
        deed = data.draw(st.sampled_from(["change", "drop", "double"]))
        if deed == "change":
            content[place] = data.draw(st.integers(0, 255))
        elif deed == "drop":
            del content[place]
        else:
            content[place:place] = content[place : place + data.draw(st.integers(1, 8))]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "take.mid"
        path.write_bytes(bytes(content))
        try:
            take = read_take(path)
        except CoachError as error:
            said = str(error)
            take = None
    if take is None:
        assert "\n" not in said
    else:
        assert take.presses > 0
        seconds = [event.seconds for event in take.events]
        assert seconds == sorted(seconds)


def test_a_take_of_too_many_notes_is_not_heard(tmp_path: Path) -> None:
    path = tmp_path / "endless.mid"
    presses = tuple(Event(0.001 * number, "press", 60, 64) for number in range(100_001))
    write_take(Take(presses), path)
    with pytest.raises(CoachError, match="100001 notes are too many"):
        read_take(path)
