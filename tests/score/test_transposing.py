"""Other keys: held against music21's own transposition, and the rules of intervals."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.errors import CoachError
from coach.score.page import midi_of
from coach.score.piece import Bar, Note, Piece
from coach.score.reading import read_score
from coach.score.spelling import carried, key_name, likely_fifths, moved, parsed, spelling_of
from coach.score.transposing import Interval, interval_of, interval_to, transposed, unwrapped, wrapped


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("minor third up", "m3"),
        ("major second down", "-M2"),
        ("P5", "P5"),
        ("a fourth lower", "-P4"),
        ("octave", "P8"),
        ("whole tone down", "-M2"),
        ("m6", "m6"),
        ("M6", "M6"),
        ("-m3", "-m3"),
        ("diminished fifth", "d5"),
    ],
)
def test_intervals_by_name_agree_with_music21(text: str, name: str) -> None:
    from music21.interval import Interval as Theirs

    theirs = Theirs(name)
    steps = theirs.generic.directed
    found = interval_of(text)
    assert (found.steps, found.semitones) == (steps - 1 if steps > 0 else steps + 1, int(theirs.semitones))


@pytest.mark.parametrize(("text", "semitones"), [("+2", 2), ("-3", -3), ("12", 12), ("14 semitones", 14), ("0", 0)])
def test_intervals_in_semitones(text: str, semitones: int) -> None:
    assert interval_of(text).semitones == semitones


@pytest.mark.parametrize(
    ("fifths", "text", "there"),
    [
        (2, "-1", -5),
        (2, "semitone down", -5),
        (2, "minor second down", 7),
        (5, "+2", -5),
        (5, "whole tone up", -5),
        (-4, "+1", 3),
        (1, "-1", 6),
        (-3, "-13", 2),
        (0, "12", 0),
    ],
)
def test_semitones_lead_to_the_key_of_fewer_accidentals(fifths: int, text: str, there: int) -> None:
    """D major a semitone down is D flat; by a minor second down it is C sharp (common practice, no source)."""
    bars = (Bar(1, Fraction(0), Fraction(4), "4/4"),)
    tonic = spelling_of(60 + 7 * fifths % 12, fifths)
    notes = (Note("soprano", Fraction(0), Fraction(4), 60 + 7 * fifths % 12, tonic),)
    piece = Piece("a note", "a test", ("soprano",), notes, bars, fifths=fifths)
    interval = interval_of(text)
    moved = transposed(piece, interval)
    assert moved.fifths == there
    (note,) = moved.notes
    assert note.midi == notes[0].midi + interval.semitones
    assert note.pitch == spelling_of(note.midi, there)
    kept = unwrapped(wrapped(b"X:1", "Title", interval), "x")
    assert transposed(piece, kept.interval) == moved


@pytest.mark.parametrize("text", ["", "far", "25", "augmented octave", "--"])
def test_what_is_no_interval(text: str) -> None:
    with pytest.raises(CoachError, match="cannot make an interval of"):
        interval_of(text)


@pytest.mark.parametrize(("key", "name"), [("E flat", "E-"), ("A", "A"), ("F sharp", "F#"), ("Db", "D-"), ("b♭", "B-")])
def test_a_chorale_in_another_key_is_spelled_as_music21_spells_it(
    key: str, name: str, corpus: Callable[[str], Piece]
) -> None:
    """BWV 269 is in G major; music21 transposes note by note by the interval between the tonics."""
    from music21.interval import Interval as Theirs
    from music21.pitch import Pitch

    chorale = corpus("bach/bwv269")
    interval = interval_to(chorale, key)
    assert abs(interval.semitones) <= 6
    goal = Pitch(name)
    goal.octave = 4
    start = Pitch("G4")
    while goal.ps - start.ps > 6:
        goal.octave -= 1
    while start.ps - goal.ps > 6:
        goal.octave += 1
    theirs = Theirs(pitchStart=start, pitchEnd=goal)
    for note, other in zip(chorale.notes, transposed(chorale, interval).notes, strict=True):
        expected = Pitch(note.pitch.replace("b", "-")).transpose(theirs)
        assert other.pitch == expected.nameWithOctave.replace("-", "b")
        assert other.midi == expected.midi


@given(st.sampled_from("CDEFGAB"), st.integers(-1, 1), st.integers(2, 5), st.integers(-14, 14), st.integers(-1, 1))
def test_moving_there_and_back_ends_on_the_same_key(step: str, alter: int, octave: int, steps: int, off: int) -> None:
    semitones = round(steps * 12 / 7) + off
    pitch = f"{step}{'#' * alter if alter > 0 else 'b' * -alter}{octave}"
    there = moved(pitch, steps, semitones)
    assert midi_of(*parsed(there)) == midi_of(*parsed(pitch)) + semitones
    assert midi_of(*parsed(moved(there, -steps, -semitones))) == midi_of(*parsed(pitch))


def test_a_note_that_stays_keeps_its_name() -> None:
    assert moved("F###4", 0, 0) == "F###4"


@given(st.sampled_from("CDEFGAB"), st.integers(-2, 2), st.integers(-48, 48), st.integers(-48, 48))
def test_no_interval_gives_a_note_more_than_two_accidentals(step: str, alter: int, steps: int, semitones: int) -> None:
    """However odd the interval: a file may say that a part sounds seven semitones lower and on the same step."""
    pitch = f"{step}{'#' * alter if alter > 0 else 'b' * -alter}4"
    there = moved(pitch, steps, semitones)
    assert midi_of(*parsed(there)) == midi_of(*parsed(pitch)) + semitones
    assert abs(parsed(there)[1]) <= 2


@pytest.mark.parametrize(
    ("fifths", "interval", "there"),
    [
        (0, (1, 2), (2, 1)),
        (4, (2, 4), (-4, 3)),
        (-6, (-1, -2), (4, -2)),
        (0, (0, -7), (-1, -4)),
        (8, (0, 0), (-4, 1)),
    ],
    ids=["a second", "up to A flat, not G sharp", "down to E, not F flat", "a fifth in semitones", "G sharp major"],
)
def test_notes_move_to_where_their_signature_does(
    fifths: int, interval: tuple[int, int], there: tuple[int, int]
) -> None:
    """A signature has at most seven sharps or flats (common practice, no source)."""
    assert carried(fifths, *interval) == there


def test_each_section_of_a_piece_that_modulates_is_spelled_in_its_own_new_key() -> None:
    """From G to B a major third up; E major then comes to A flat, whose scale this is (from memory)."""
    code = "X:1\nT:t\nM:4/4\nL:1/4\nK:G\nGABc|[K:E]EFGA|BcdB|\n"
    piece = read_score(code.encode(), "t", "t")
    there = transposed(piece, interval_to(piece, "B"))
    assert (there.fifths, there.key_changes) == (5, ((Fraction(4), -4),))
    told = "B4 C#5 D#5 E5 Ab4 Bb4 C5 Db5 Eb5 F5 G5 Eb5"
    assert " ".join(note.pitch for note in there.notes) == told
    assert [note.midi - before.midi for note, before in zip(there.notes, piece.notes, strict=True)] == [4] * 12


@given(st.integers(21, 108), st.integers(-7, 7))
def test_every_key_has_a_spelling_in_every_signature(midi: int, fifths: int) -> None:
    step, alter, octave = parsed(spelling_of(midi, fifths))
    assert midi_of(step, alter, octave) == midi
    assert abs(alter) <= 2


@pytest.mark.parametrize(
    ("midi", "fifths", "pitch"),
    [(66, 0, "F#4"), (70, 0, "Bb4"), (66, -5, "Gb4"), (61, 3, "C#4"), (68, 0, "G#4"), (63, 0, "Eb4"), (60, 7, "B#3")],
)
def test_usual_spellings(midi: int, fifths: int, pitch: str) -> None:
    """Common practice, no source."""
    assert spelling_of(midi, fifths) == pitch


@pytest.mark.parametrize(
    ("fifths", "minor", "name"),
    [
        (-3, False, "E flat major"),
        (-3, True, "C minor"),
        (6, False, "F sharp major"),
        (0, True, "A minor"),
        (3, True, "F sharp minor"),
    ],
)
def test_names_of_keys(fifths: int, minor: bool, name: str) -> None:
    assert key_name(fifths, minor) == name


def test_the_key_that_fits_the_notes(corpus: Callable[[str], Piece]) -> None:
    for name in ("bach/bwv269", "bach/bwv352", "bach/bwv403"):
        chorale = corpus(name)
        bass = [note.midi for note in chorale.notes if note.voice == "bass"]
        assert abs(likely_fifths((note.midi for note in chorale.notes), bass[-1]) - chorale.fifths) <= 1


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("H", 'cannot make a key of "H"'),
        ("G minor", "transposing keeps the mode"),
        ("", "cannot make a key"),
        ("G# major", "more than seven"),
    ],
)
def test_keys_that_will_not_do(key: str, said: str, corpus: Callable[[str], Piece]) -> None:
    with pytest.raises(CoachError, match=said):
        interval_to(corpus("bach/bwv269"), key)


def test_a_piece_cannot_leave_the_piano(corpus: Callable[[str], Piece]) -> None:
    chorale = corpus("bach/bwv269")
    with pytest.raises(CoachError, match="would leave the piano"):
        transposed(transposed(chorale, interval_of("octave down")), interval_of("-24"))


def test_a_kept_transposition_holds_its_source() -> None:
    inner = unwrapped(wrapped(b"X:1\nK:C\nC", "Title", Interval(2, 3)), "x")
    assert (inner.data, inner.title, inner.interval) == (b"X:1\nK:C\nC", "Title", Interval(2, 3))


@pytest.mark.parametrize(
    "data",
    [
        b'{"coach": "transposed"',
        b'{"coach": "transposed"}',
        b'{"coach": "transposed", "title": "x", "steps": 1, "semitones": 2, "source": "!!"}',
        b'{"coach": "transposed", "title": "x", "steps": 1e9, "semitones": 2, "source": ""}',
        wrapped(wrapped(b"X", "a", Interval(1, 2)), "b", Interval(1, 2)),
    ],
)
def test_a_damaged_transposition_is_refused(data: bytes) -> None:
    with pytest.raises(CoachError, match="the kept transposition is damaged"):
        unwrapped(data, "x")
