"""A plan as a standard MIDI file. Oracles: `mido` and `partitura` as readers, and the listener's own ear."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import mido
import pytest
from sheets import piece_of, plan_of

from coach.fingering.plan import PhrasePlan
from coach.fingering.planner import Options, plan_piece
from coach.listening.hearing import hear
from coach.listening.take import read_take
from coach.paper.sheet import sheet_of
from coach.paper.sound_file import midi_of
from coach.score.cuts import phrases_of
from coach.score.library import open_piece

Phrases = Callable[..., PhrasePlan]


def file_of(*phrases: PhrasePlan, bpm: float = 60, pickup: int = 0, metre: int = 4, **more: Any) -> Any:
    plan, piece = plan_of(*phrases), piece_of(*phrases, pickup=pickup, metre=metre, **more)
    return mido.MidiFile(file=BytesIO(midi_of(plan, sheet_of(plan, piece), bpm)))


def metas(file: Any, kind: str) -> list[Any]:
    return [message for message in file.tracks[0] if message.type == kind]


def strokes(track: Any, ticks: int) -> list[tuple[int, float, float]]:
    """Key, onset and end in quarter notes."""
    now, down, found = 0, {}, []
    for message in track:
        now += message.time
        if message.type == "note_on" and message.velocity:
            assert message.note not in down, "a key that is down is struck"
            down[message.note] = now / ticks
        elif message.type in ("note_on", "note_off"):
            found.append((message.note, down.pop(message.note), now / ticks))
    assert not down
    return sorted(found, key=lambda stroke: (stroke[1], stroke[0]))


def test_each_hand_is_a_track_of_its_own_name_and_channel(phrase: Phrases) -> None:
    file = file_of(phrase({"soprano": "C5:1:r5", "tenor": "E4:1:r1", "bass": "C3:1:l5"}))
    assert file.type == 1
    assert [track.name for track in file.tracks] == ["a passage", "right hand", "left hand"]
    keys = [{(m.note, m.channel) for m in track if m.type == "note_on"} for track in file.tracks]
    assert keys == [set(), {(72, 0), (64, 0)}, {(48, 1)}]


def test_tempo_key_and_metre_are_given(phrase: Phrases) -> None:
    made = phrase({"soprano": "F5:3:r5 E5:3:r5", "bass": "D3:3:l5 D3:3:l5"}, metre=3)
    file = file_of(made, bpm=80, metre=3, fifths=-1, minor=True)
    assert [round(mido.tempo2bpm(mark.tempo), 3) for mark in metas(file, "set_tempo")] == [80]
    assert [mark.key for mark in metas(file, "key_signature")] == ["Dm"]
    assert [(m.numerator, m.denominator) for m in metas(file, "time_signature")] == [(3, 4)]


@pytest.mark.parametrize(
    ("fifths", "minor", "name"), [(-7, False, "Cb"), (7, True, "A#m"), (0, False, "C"), (3, True, "F#m")]
)
def test_every_key_has_its_name(phrase: Phrases, fifths: int, minor: bool, name: str) -> None:
    """Key signatures of Standard MIDI Files 1.0: so many sharps or flats, major or minor."""
    file = file_of(phrase({"soprano": "C5:1:r5", "bass": "C3:1:l5"}), fifths=fifths, minor=minor)
    assert [mark.key for mark in metas(file, "key_signature")] == [name]


def test_a_pickup_is_a_bar_of_its_own_length(phrase: Phrases) -> None:
    made = phrase({"soprano": "C5:1:r5 D5:4:r5", "bass": "C3:1:l5 G3:4:l1"}, pickup=1)
    file = file_of(made, pickup=1)
    now, found = 0, []
    for message in file.tracks[0]:
        now += message.time
        if message.type == "time_signature":
            found.append((now / file.ticks_per_beat, message.numerator, message.denominator))
    assert found == [(0, 1, 4), (1, 4, 4)]


def test_lifts_are_heard_and_joins_last(phrase: Phrases) -> None:
    made = phrase({"soprano": "E5:1:r5 D5:1:r4 C5:1:r3", "bass": "C3:3:l5"}, right_lifts=[1])
    file = file_of(made)
    upper = strokes(file.tracks[1], file.ticks_per_beat)
    assert [(key, onset) for key, onset, _ in upper] == [(76, 0), (74, 1), (72, 2)]
    assert upper[0][2] == 1
    assert upper[1][2] == pytest.approx(1.75, abs=0.01)


def test_the_pedal_is_sent_to_both_hands(phrase: Phrases) -> None:
    piece = open_piece("wide-water")
    plan = plan_piece(piece, phrases_of(piece), options=Options(pedal=True))
    sheet = sheet_of(plan, piece)
    file = mido.MidiFile(file=BytesIO(midi_of(plan, sheet, 60)))
    feet = [[m.value for m in track if m.type == "control_change" and m.control == 64] for track in file.tracks[1:]]
    assert feet[0] == feet[1]
    assert feet[0].count(127) == sum(foot in ("down", "change") for _, foot in sheet.pedal) > 4
    assert feet[0].count(0) == feet[0].count(127)


def test_the_pedal_goes_down_after_its_chord_and_comes_up_with_the_next() -> None:
    """It takes nothing along of the chord before: legato pedalling (common practice, no source)."""
    piece = open_piece("wide-water")
    plan = plan_piece(piece, phrases_of(piece), options=Options(pedal=True))
    sheet = sheet_of(plan, piece)
    file = mido.MidiFile(file=BytesIO(midi_of(plan, sheet, 60)))
    now, found = 0, []
    for message in file.tracks[1]:
        now += message.time
        if message.type == "control_change" and message.control == 64:
            found.append((now / file.ticks_per_beat, message.value))
    start = sheet.bars[0].onset
    feet = [(float(onset - start), foot) for onset, foot in sheet.pedal]
    ups = [(at, 0) for at, foot in feet if foot in ("up", "change")]
    downs = [(at + 0.15, 127) for at, foot in feet if foot in ("down", "change")]
    wanted = sorted(ups + downs)
    assert len(wanted) > 10
    assert [value for _, value in found] == [value for _, value in wanted]
    assert [at for at, _ in found] == pytest.approx([at for at, _ in wanted], abs=0.01)


@pytest.mark.parametrize("name", ["before-the-tide", "wide-water", "corpus:bach/bwv66.6"])
def test_an_independent_reader_hears_every_note(name: str, tmp_path: Path) -> None:
    """`partitura` reads the file's notes in seconds."""
    partitura = pytest.importorskip("partitura")
    piece = open_piece(name)
    plan = plan_piece(piece, phrases_of(piece))
    path = tmp_path / "sheet.mid"
    path.write_bytes(midi_of(plan, sheet_of(plan, piece), 60))
    rows = partitura.load_performance_midi(str(path)).note_array()
    found = Counter((round(float(row["onset_sec"]), 1), int(row["pitch"])) for row in rows)
    assert found == Counter(
        (round(note.onset, 1), note.midi)
        for chord in plan.chords()
        for note in {n.midi: n for n in chord.notes if n.struck and n.hand}.values()
    )


@pytest.mark.parametrize("name", ["before-the-tide", "between-two-banks", "corpus:bach/bwv269", "corpus:bach/bwv305"])
def test_what_the_coach_writes_it_hears_as_solid(name: str, tmp_path: Path) -> None:
    piece = open_piece(name)
    plan = plan_piece(piece, phrases_of(piece))
    path = tmp_path / "sheet.mid"
    path.write_bytes(midi_of(plan, sheet_of(plan, piece), 72))
    heard = hear(plan.phrases, read_take(str(path)))
    assert heard.word == "solid"
    assert not heard.not_played
    for one in heard.heard:
        assert not one.verdict.findings.absent
        assert not one.verdict.findings.extra
        # In BWV 305 a hand lifts its outer voice while it holds another note.
        assert all(hold.kept for hold in one.verdict.findings.holds)


def test_a_key_that_two_voices_come_to_is_struck_twice_and_down_once(phrase: Phrases) -> None:
    """The alto comes to the key that the soprano still holds: it comes up before it is struck again."""
    made = phrase({"soprano": "G4:4:r5", "alto": "E4:2:r1 G4:1:r4 E4:1:r1", "bass": "C3:4:l5"})
    file = file_of(made)
    upper = [stroke for stroke in strokes(file.tracks[1], file.ticks_per_beat) if stroke[0] == 67]
    assert [onset for _, onset, _ in upper] == [0, 2]
    assert 1.5 < upper[0][2] < 2
    assert upper[1][2] > 3.5
