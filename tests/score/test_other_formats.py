"""Reading Humdrum kern and MIDI: the same chorale gives the same voices, whatever it is written in, MEI among it."""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import mido
import pytest
from engraving import as_kern, as_mei

from coach.errors import CoachError
from coach.score.library import corpus_folder
from coach.score.piece import Piece
from coach.score.reading import read_score

CHORALES = ("bach/bwv153.5", "bach/bwv323", "bach/bwv352", "bach/bwv403", "bach/bwv245.28", "bach/bwv5.7")
"""With pickups and without, in sharps and flats, with quavers, ties and dotted notes; no repeats."""


def sung(piece: Piece, *spelled: bool) -> Counter[Any]:
    """All notes with voice, place and length, and their spelling unless `False` is given."""
    return Counter((n.voice, n.onset, n.duration, n.midi if spelled else n.pitch) for n in piece.notes)


def bars(piece: Piece) -> list[tuple[int, Fraction, Fraction]]:
    return [(bar.number, bar.onset, bar.duration) for bar in piece.bars]


@pytest.mark.parametrize("name", CHORALES)
def test_a_chorale_reads_alike_from_musicxml_kern_and_mei(name: str, corpus: Callable[[str], Piece]) -> None:
    chorale = corpus(name)
    for data in (as_kern(chorale).encode(), as_mei(chorale), as_mei(chorale, sounding=False)):
        other = read_score(data, "other", "other")
        assert sung(other) == sung(chorale)
        assert bars(other) == bars(chorale)
        assert other.fifths == chorale.fifths
        assert [n.onset for n in other.notes if n.fermata] == [n.onset for n in chorale.notes if n.fermata]


@pytest.mark.parametrize("name", ["bach/bwv10.7", "bach/bwv304", "bach/bwv342", "bach/bwv412"])
def test_a_chorale_reads_alike_from_musicxml_and_from_the_midi_file_that_music21_makes_of_it(
    name: str, corpus: Callable[[str], Piece], tmp_path: Path
) -> None:
    """music21 writes the MIDI file; bars are not compared, because MIDI knows no pickups."""
    from music21 import corpus as music21_corpus

    path = tmp_path / "chorale.mid"
    music21_corpus.parse(name).write("midi", path)
    assert sung(read_score(path.read_bytes(), "midi", "midi"), False) == sung(corpus(name), False)


PICKUP = {
    "musicxml": (
        '<score-partwise><part-list><score-part id="P"/></part-list><part id="P"><measure number="{0}"><attributes>'
        "<divisions>1</divisions><time><beats>3</beats><beat-type>4</beat-type></time></attributes>{1}</measure>"
        '<measure number="{2}">{3}</measure><measure number="{4}">{3}</measure></part></score-partwise>',
        "<note><pitch><step>C</step><octave>4</octave></pitch><duration>{}</duration></note>",
    ),
    "mei": (
        '<mei><music><body><mdiv><score><scoreDef meter.count="3" meter.unit="4"/><section><measure n="{0}"><staff>'
        '<layer>{1}</layer></staff></measure><measure n="{2}"><staff><layer>{3}</layer></staff></measure>'
        '<measure n="{4}"><staff><layer>{3}</layer></staff></measure></section></score></mdiv></body></music></mei>',
        '<note pname="c" oct="4" dur="4"/>',
    ),
    "kern": ("**kern\n*M3/4\n={0}\n{1}={2}\n{3}={4}\n{3}==\n*-\n", "4c\n"),
}
"""For each format three bars and a note of one quarter."""


@pytest.mark.parametrize("form", PICKUP)
@pytest.mark.parametrize(
    ("printed", "pickup", "found"),
    [
        ((1, 2, 3), 1, [(0, 0, 1), (1, 1, 3), (2, 4, 3)]),
        ((0, 1, 2), 1, [(0, 0, 1), (1, 1, 3), (2, 4, 3)]),
        ((1, 2, 3), 3, [(1, 0, 3), (2, 3, 3), (3, 6, 3)]),
        ((5, 6, 7), 1, [(0, 0, 1), (6, 1, 3), (7, 4, 3)]),
    ],
)
def test_a_pickup_is_bar_0_whatever_the_file_calls_it(
    form: str, printed: tuple[int, ...], pickup: int, found: list[tuple[int, int, int]]
) -> None:
    """The first full bar is bar 1 (common practice, no source)."""
    frame, note = PICKUP[form]
    note = note.format(1)
    data = frame.format(printed[0], note * pickup, printed[1], note * 3, printed[2])
    assert bars(read_score(data.encode(), "test", "test")) == found


FREE = {
    "musicxml": (
        '<score-partwise><part-list><score-part id="P"/></part-list><part id="P">'
        "<measure number='1'><attributes><divisions>1</divisions></attributes>{}</measure>"
        "<measure number='2'>{}</measure></part></score-partwise>",
        "<note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration></note>",
    ),
    "mei": (
        '<mei><music><body><mdiv><score><section><measure n="1"><staff><layer>{}</layer></staff></measure>'
        '<measure n="2"><staff><layer>{}</layer></staff></measure></section></score></mdiv></body></music></mei>',
        '<note pname="c" oct="4" dur="4"/>',
    ),
    "kern": ("**kern\n=1\n{}=2\n{}==\n*-\n", "4c\n"),
    "kern that says so": ("**kern\n*M4/4\n*MX\n=1\n{}=2\n{}==\n*-\n", "4c\n"),
    "abc": ("X:1\nT:T\nL:1/4\nK:C\n{}|{}|]\n", "C"),
    "abc that says so": ("X:1\nT:T\nM:none\nL:1/4\nK:C\n{}|{}|]\n", "C"),
}
"""For each format two bars without a metre and a note of one quarter. MusicXML 4.0, time is optional; MEI Guidelines
5.0, meter.count and meterSig are optional; Humdrum reference, *MX; ABC 2.1, section 3.1.6: without M: the metre is
free."""


@pytest.mark.parametrize("form", FREE)
def test_music_without_metre_is_counted_by_its_bars_and_has_no_pickup(form: str) -> None:
    frame, note = FREE[form]
    for lengths in ((3, 4), (8, 10)):
        piece = read_score(frame.format(*(note * length for length in lengths)).encode(), "test", "test")
        assert [(bar.number, bar.metre, bar.metred) for bar in piece.bars] == [
            (number, f"{length}/4", False) for number, length in enumerate(lengths, 1)
        ]
        assert Piece.from_json(piece.to_json()) == piece


# Humdrum kern


@pytest.mark.parametrize("name", ["bach/bwv277", "bach/bwv281", "bach/bwv366"])
def test_kern_agrees_with_music21(name: str) -> None:
    """The corpus has three chorales as kern; music21 reads it independently."""
    from music21 import converter

    path = corpus_folder() / f"{name}.krn"
    piece = read_score(path.read_bytes(), name, name)
    theirs = converter.parse(path).stripTies()
    expected = Counter(
        (Fraction(note.offset), Fraction(note.quarterLength), note.pitch.midi)
        for part in theirs.parts
        for note in part.flatten().notes
        if not note.duration.isGrace
    )
    assert Counter((n.onset, n.duration, n.midi) for n in piece.notes) == expected
    assert piece.voices == ("soprano", "alto", "tenor", "bass")


KERN = """!!!OTL: Test
**kern\t**kern\t**text
*I"Bass\t*I"Soprano\t*
*M3/4\t*M3/4\t*
*k[b-]\t*k[b-]\t*
4FF\t4f\tHo-
=1\t=1\t=1
2.BB-\t8bbqL\t.
.\t4dd\t-ly,
.\t4.cc;\tthree
.\t8b-,\tin
=2||\t=2||\t=2||
*^\t*\t*
4C\t4E\t[2a\tone
4D\t4F\t.\t.
*v\t*v\t*\t*
4C\t4a]\t.
=\t=\t=
*-\t*-\t*-
"""


def test_kern_in_small() -> None:
    """Signs of **kern: ties, fermata, breath, grace note, split columns, words beside their column."""
    piece = read_score(KERN.encode(), "test.krn", "test")
    upper = [(n.onset, n.duration, n.pitch, n.words) for n in piece.notes if n.voice == "soprano"]
    assert upper == [
        (0, 1, "F4", ("Ho-",)),
        (1, 1, "D5", ("ly,",)),
        (2, Fraction(3, 2), "C5", ("three",)),
        (Fraction(7, 2), Fraction(1, 2), "Bb4", ("in",)),
        (4, 3, "A4", ("one",)),
    ]
    assert [n.fermata for n in piece.notes if n.pitch == "C5"] == [True]
    assert [n.breath for n in piece.notes if n.pitch == "Bb4"] == [True]
    assert [(bar.number, bar.duration, bar.double) for bar in piece.bars] == [
        (0, 1, False),
        (1, 3, True),
        (2, 3, False),
    ]
    assert "left out 1 grace note" in piece.remarks
    assert [(n.pitch, n.onset) for n in piece.notes if n.midi < 60 and n.onset >= 4] == [
        ("E3", 4),
        ("C3", 4),
        ("F3", 5),
        ("D3", 5),
        ("C3", 6),
    ]


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("4C\t4c\t.\t.", "has 4 columns where 3 are open"),
        ("4\t4c\t.", 'has a note without pitch: "4"'),
        ("C\t4c\t.", 'has a note without length: "C"'),
        ("4CCCCCCC\t4c\t.", "has a note that no piano has"),
    ],
)
def test_damaged_kern_is_refused_with_its_line(line: str, said: str) -> None:
    lines = KERN.split("\n")
    with pytest.raises(CoachError, match=f"line 6 {said}"):
        read_score("\n".join([*lines[:5], line, *lines[6:]]).encode(), "test.krn", "test")


def kern(*rows: str) -> Piece:
    """Rows of one column, or of several apart by spaces; clefs and the like are left to the rows."""
    text = "\n".join(row.replace(" ", "\t") for row in rows)
    width = rows[0].count(" ") + 1
    return read_score((text + "\n" + "\t".join(["*-"] * width) + "\n").encode(), "t.krn", "t")


def test_later_signatures_of_kern_count_from_their_place() -> None:
    """Humdrum reference, **kern: *k[...] is the signature from there on; of several columns the first leads."""
    piece = kern(
        "**kern **kern", "*k[f#] *k[f#]", "*M3/4 *M3/4", "=1 =1", "2.G 2.d", "=2 =2", "*k[b-] *k[b-]", "2.F 2.c"
    )
    assert (piece.fifths, piece.key_changes) == (1, ((3, -1),))
    late = kern("**kern", "*M2/4", "=1", "4c", "4d", "=2", "*k[f#c#]", "4c#", "*k[f#c#]", "4d", "=3", "*k[]", "2c")
    assert (late.fifths, late.key_changes) == (0, ((2, 2), (4, 0)))
    twice = kern("**kern **kern", "*k[] *k[]", "*k[f#] *k[f#c#]", "1G 1d", "=2 =2", "* *k[b-]", "1G 1d")
    assert (twice.fifths, twice.key_changes) == (1, ())


@pytest.mark.parametrize(
    ("rows", "held"),
    [
        (("2c 2e", "2r; 2r;", "=2 =2", "1d 1f"), ["E4", "C4"]),
        (("2c 2e", "2r 2r;", "=2 =2", "1d 1f"), ["E4"]),
        (("1c 2e", ". 2r;", "=2 =2", "1d 1f"), ["C4"]),
        (("1c 1e", "=2 =2", "1r; 1r;", "=3 =3", "1d 1f"), ["E4", "C4"]),
        (("1c 1e", "=2 =2", "1r 1r", "=3 =3", "1r; 1r;", "=4 =4", "1d 1f"), []),
    ],
)
def test_a_fermata_over_a_rest_of_kern_holds_what_sounds_or_what_sounded_last(
    rows: tuple[str, ...], held: list[str]
) -> None:
    """Humdrum reference, **kern: ";" is a pause sign, on notes and rests. What it holds: common practice, no source."""
    piece = kern("**kern **kern", "*M4/4 *M4/4", "=1 =1", *rows)
    assert [note.pitch for note in piece.notes if note.fermata] == held


def test_kern_of_transposing_instruments_holds_what_sounds_already() -> None:
    """Humdrum encodes sounding pitch and signature; *ITrd1c2 says how the part is written
    (https://doc.verovio.humdrum.org/humdrum/getting_started/transposing.html)."""
    rows = ("**kern\t**kern", "*\t*ITrd1c2", "*k[]\t*k[]", "*M4/4\t*M4/4", "=1\t=1", "1C\t1c", "==\t==", "*-\t*-")
    piece = read_score(("\n".join(rows) + "\n").encode(), "t.krn", "t")
    assert piece.fifths == 0
    assert [n.pitch for n in piece.notes] == ["C4", "C3"]


# MIDI


def midi(*tracks: list[tuple[Fraction, Fraction, int]], quarter: int = 480, **more: Any) -> Piece:
    """A MIDI file, written by `mido`, of tracks of (onset, length, key) in quarter notes."""
    file = mido.MidiFile(ticks_per_beat=quarter)
    for place, notes in enumerate(tracks):
        track = mido.MidiTrack()
        events = [(round(on * quarter), 1, key) for on, _, key in notes]
        events += [(round((on + length) * quarter), 0, key) for on, length, key in notes]
        if place == 0:
            for message in more.get("meta", []):
                track.append(message)
        now = 0
        for tick, kind, key in sorted(events):
            name = "note_on" if kind else "note_off"
            track.append(mido.Message(name, note=key, time=tick - now, channel=more.get("channel", place)))
            now = tick
        file.tracks.append(track)
    stream = io.BytesIO()
    file.save(file=stream)
    return read_score(stream.getvalue(), "test.mid", "test")


def quarters(*keys: int) -> list[tuple[Fraction, Fraction, int]]:
    return [(Fraction(place), Fraction(1), key) for place, key in enumerate(keys)]


def test_notes_that_programs_let_go_early_last_until_the_next() -> None:
    """Sequencers shorten notes to nine tenths or so (common practice, no source)."""
    short = [(on, length * Fraction(9, 10), key) for on, length, key in quarters(60, 62, 64, 65)]
    assert [note.duration for note in midi(short).notes] == [1, 1, 1, 1]


def test_a_slightly_uneven_recording_falls_on_the_grid() -> None:
    off = [Fraction(1, 60), Fraction(-1, 70), Fraction(1, 90), Fraction(-1, 50)]
    even = quarters(60, 62, 64, 65)
    uneven = [(on + late if on else on, length, key) for (on, length, key), late in zip(even, off, strict=True)]
    assert [note.onset for note in midi(uneven).notes] == [0, 1, 2, 3]


def test_triplets_and_semiquavers_in_one_piece() -> None:
    notes = [(Fraction(n, 3), Fraction(1, 3), 60) for n in range(3)] + [
        (1 + Fraction(n, 4), Fraction(1, 4), 62) for n in range(4)
    ]
    assert [note.onset for note in midi(notes).notes] == [on for on, _, _ in notes]


def test_what_was_played_rather_than_written_is_said() -> None:
    wild = [(place + Fraction((place * 7) % 11, 60), Fraction(1, 2), 60 + place % 5) for place in range(1, 40)]
    assert any("played rather than written" in remark for remark in midi(wild).remarks)


def test_metre_key_and_tempo_of_a_midi_file() -> None:
    meta = [
        mido.MetaMessage("time_signature", numerator=3, denominator=4),
        mido.MetaMessage("key_signature", key="Eb"),
        mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(96)),
    ]
    piece = midi(quarters(63, 68, 70, 63, 68, 63), meta=meta)
    assert [bar.metre for bar in piece.bars] == ["3/4", "3/4"]
    assert (piece.fifths, piece.quarter_bpm) == (-3, 96)
    assert [n.pitch for n in piece.notes][:3] == ["Eb4", "Ab4", "Bb4"]


@pytest.mark.parametrize(
    ("tempos", "silence", "bpm"),
    [
        ([(3, 40)], 0, None),
        ([(0, 96), (3, 40)], 0, 96),
        ([(0, 120), (2, 60), (5, 40)], 2, 60),
        ([(1, 60)], 2, 60),
        ([(0, 5)], 0, None),
    ],
    ids=["a ritardando alone", "a ritardando", "silence first", "in the silence", "none that could be played"],
)
def test_the_tempo_of_a_midi_file_is_the_one_at_the_first_note(
    tempos: list[tuple[int, int]], silence: int, bpm: int | None
) -> None:
    """Standard MIDI Files 1.0, set tempo (FF 51): each counts from its place; without one at the start nothing is said
    of it."""
    now, meta = 0, []
    for quarter, tempo in tempos:
        meta.append(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(tempo), time=(quarter - now) * 480))
        now = quarter
    for order in (1, -1):
        file = mido.MidiFile(type=1, ticks_per_beat=480)
        notes = mido.MidiTrack()
        for place, key in enumerate((60, 62, 64, 65)):
            notes.append(mido.Message("note_on", note=key, time=silence * 480 if not place else 0))
            notes.append(mido.Message("note_off", note=key, time=480))
        file.tracks.extend([mido.MidiTrack(meta), notes][::order])
        stream = io.BytesIO()
        file.save(file=stream)
        assert read_score(stream.getvalue(), "t.mid", "t").quarter_bpm == bpm


def test_a_later_track_may_have_the_earlier_tempo() -> None:
    file = mido.MidiFile(type=1, ticks_per_beat=480)
    slow, fast = (mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm), time=at) for bpm, at in ((40, 960), (96, 0)))
    sung = [mido.Message(kind, note=60, time=480 * (kind == "note_off")) for kind in ("note_on", "note_off") * 4]
    file.tracks.extend([mido.MidiTrack([slow]), mido.MidiTrack([fast, *sung])])
    stream = io.BytesIO()
    file.save(file=stream)
    assert read_score(stream.getvalue(), "t.mid", "t").quarter_bpm == 96


def test_later_keys_of_a_midi_file_count_from_their_place_and_spell_the_notes() -> None:
    """Standard MIDI Files 1.0, key signature meta event (FF 59)."""

    def keys(*found: tuple[int, str]) -> list[mido.MetaMessage]:
        now, messages = 0, []
        for quarter, key in found:
            messages.append(mido.MetaMessage("key_signature", key=key, time=(quarter - now) * 480))
            now = quarter
        return messages

    def piece(*found: tuple[int, str], silence: int = 0) -> Piece:
        file = mido.MidiFile(type=1, ticks_per_beat=480)
        file.tracks.append(mido.MidiTrack(keys(*found)))
        notes = mido.MidiTrack()
        for place in range(8):
            notes.append(mido.Message("note_on", note=66, time=silence * 480 if not place else 0))
            notes.append(mido.Message("note_off", note=66, time=480))
        file.tracks.append(notes)
        stream = io.BytesIO()
        file.save(file=stream)
        return read_score(stream.getvalue(), "test.mid", "test")

    changed = piece((0, "G"), (4, "Db"), (6, "Db"))
    assert (changed.fifths, changed.key_changes) == (1, ((4, -5),))
    assert [note.pitch for note in changed.notes] == ["F#4"] * 4 + ["Gb4"] * 4
    assert piece((0, "G"), (7, "F"), silence=3).key_changes == ((4, -1),)
    assert piece((0, "G"), (0, "F")).fifths == 1


def test_without_a_key_the_notes_tell_it() -> None:
    scale = quarters(62, 64, 66, 67, 69, 71, 73, 74)
    assert midi(scale).fifths == 2
    assert "C#5" in [n.pitch for n in midi(scale).notes]


def test_silence_before_the_first_note_makes_a_pickup() -> None:
    late = [(on + 3, length, key) for on, length, key in quarters(67, 72, 72, 72, 72)]
    piece = midi(late)
    assert [(bar.number, bar.duration) for bar in piece.bars] == [(0, 1), (1, 4)]
    assert piece.notes[0].onset == 0


def test_tracks_are_voices_and_two_tracks_are_two_staves() -> None:
    two = midi(quarters(72, 74), quarters(48, 50))
    assert [(n.voice, n.staff) for n in two.notes] == [("soprano", 1), ("bass", 2)] * 2
    four = midi(quarters(48), quarters(72), quarters(64), quarters(55))
    assert {n.midi: n.voice for n in four.notes} == {72: "soprano", 64: "alto", 55: "tenor", 48: "bass"}


def test_drums_are_left_out_and_said_so() -> None:
    file = mido.MidiFile()
    track = mido.MidiTrack()
    for channel in (0, 9):
        track.append(mido.Message("note_on", note=60, channel=channel, time=0))
    for channel in (0, 9):
        track.append(mido.Message("note_off", note=60, channel=channel, time=240))
    file.tracks.append(track)
    stream = io.BytesIO()
    file.save(file=stream)
    piece = read_score(stream.getvalue(), "test.mid", "test")
    assert len(piece.notes) == 1
    assert "left out 1 percussion note" in piece.remarks


def test_words_of_a_midi_file_stand_under_the_highest_part() -> None:
    """Standard MIDI Files 1.0: lyric meta event, one syllable each."""
    meta = [mido.MetaMessage("lyrics", text="Ho-", time=0)]
    assert midi(quarters(72, 74), quarters(48, 50), meta=meta).notes[0].words == ("Ho-",)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda data: data[:30], "cut short"),
        (lambda data: data[:10], "cut short"),
        (lambda data: data[:12] + b"\xe7\x28" + data[14:], "counts film frames instead of beats"),
        (lambda data: data[:14], "holds no track"),
    ],
)
def test_damaged_midi_files_are_refused(change: Callable[[bytes], bytes], said: str) -> None:
    file = mido.MidiFile()
    track = mido.MidiTrack([mido.Message("note_on", note=60), mido.Message("note_off", note=60, time=480)])
    file.tracks.append(track)
    stream = io.BytesIO()
    file.save(file=stream)
    with pytest.raises(CoachError, match=said):
        read_score(change(stream.getvalue()), "test.mid", "test")


def test_a_piece_from_any_format_survives_being_kept_as_json(corpus: Callable[[str], Piece]) -> None:
    chorale = corpus("bach/bwv352")
    assert Piece.from_json(chorale.to_json()) == chorale
    assert replace(chorale, cuts=((Fraction(8), "your choice"),)).to_json()["cuts"] == [["8", "your choice"]]
