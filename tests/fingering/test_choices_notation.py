"""Choices written on one line."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from passages import chorale, line, passage
from random_phrases import phrases

from coach.errors import CoachError
from coach.fingering.choices import Fix, FixedFinger, FixedLeaving, FixedSharing, of_note
from coach.fingering.notation import read_fix, write_fix
from coach.paper.signs import ASCII, SIGNS, note_name, octave_figure
from coach.score.piece import Piece

HYMN = chorale("E5 D5 C5 D5 E5:2", "C5 B4:1/2 A4:1/2 G4 B4 C5:2", "G4 G4 E4 G4 G4:2", "C4 G3 C4 G3 C3:2")


@pytest.mark.parametrize(
    ("text", "fix"),
    [
        ("1:2 soprano 4", FixedFinger(Fraction(1), "soprano", 74, 4)),
        ("1:2 S 4", FixedFinger(Fraction(1), "soprano", 74, 4)),
        ("1:2 D5 4", FixedFinger(Fraction(1), "soprano", 74, 4)),
        ("1:2 d5 4", FixedFinger(Fraction(1), "soprano", 74, 4)),
        ("1:2.5 alto 2", FixedFinger(Fraction(3, 2), "alto", 69, 2)),
        ("  2:1   Bass   5 ", FixedFinger(Fraction(4), "bass", 48, 5)),
        ("1:3 2+2", FixedSharing(Fraction(2), 2, 2)),
        ("1:3 right lift", FixedLeaving(Fraction(2), "right", "lift")),
        ("1:3 left hand join", FixedLeaving(Fraction(2), "left", "join")),
        ("1:2 soprano free", FixedFinger(Fraction(1), "soprano", 74, 1).what),
        ("1:3 hands free", FixedSharing(Fraction(2), 0, 0).what),
        ("1:3 left free", FixedLeaving(Fraction(2), "left", "lift").what),
    ],
)
def test_a_line_says_a_choice(text: str, fix: object) -> None:
    assert read_fix(text, HYMN) == fix


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "is no choice"),
        ("soprano 4", "is no choice"),
        ("9" * 5000 + ":1 soprano 4", "is no choice"),
        ("1:2 " + "2" * 5000 + "+2", "is no choice"),
        ("1:2", "is no choice"),
        ("1:2 soprano", "is no choice"),
        ("1:2 soprano 6", "names no finger: they are counted from 1, the thumb, to 5"),
        ("1:2 right 4 5", "is no choice|strikes nothing"),
        ("1:2 right jump", "is no choice"),
        ("9:1 soprano 4", "there is no bar 9: the piece has bars 1 to 2"),
        ("1:1.7 soprano 4", "bar 1, beat 1.7: no chord begins here; chords begin on 1, 2, 2.5, 3, 4"),
        ("1:2.5 soprano 4", "the soprano's note is held from bar 1, beat 2: choose its finger there"),
        ("1:2 F5 4", '"F5" strikes nothing here, but soprano D5, alto B4, tenor G4, bass G3'),
        ("1:2 voice 5 4", '"voice 5" strikes nothing here'),
    ],
)
def test_other_lines_are_refused_with_the_reason(text: str, said: str) -> None:
    with pytest.raises(CoachError, match=said.replace("+", "[+]")):
        read_fix(text, HYMN)


@pytest.mark.parametrize(
    ("name", "key"),
    [
        *(("Eb5", 75), ("E♭5", 75), ("e♭5", 75), ("E♭₅", 75), ("E♭", 75), ("E flat", 75)),
        *(("F♯4", 66), ("F♯₄", 66), ("F sharp", 66), ("F##3", 55), ("F♯♯₃", 55), ("F double sharp", 55)),
        *(("Bbb2", 45), ("B♭♭2", 45), ("B double flat", 45), ("C♮₂", 36), ("C", 36)),
    ],
)
def test_pitches_are_read_as_the_coach_prints_them(name: str, key: int) -> None:
    """In the chord table and in its sentences; the octave is small, or missing where it was said before."""
    spelled = passage(*(line(f"voice {n}", pitch) for n, pitch in enumerate(("Eb5", "F#4", "F##3", "Bbb2", "C2"), 1)))
    found = read_fix(f"1:1 {name} 5", spelled)
    assert isinstance(found, FixedFinger)
    assert (found.key, found.finger) == (key, 5)


@settings(max_examples=100, deadline=None)
@given(st.data(), phrases(most_voices=5, most_chords=3))
def test_every_name_of_the_chord_table_is_read(data: st.DataObject, piece: Piece) -> None:
    note = data.draw(st.sampled_from(piece.notes))
    for signs in (SIGNS, ASCII):
        bar = piece.bar_at(note.onset)
        name = note_name(note.pitch, signs) + octave_figure(note.pitch, signs)
        fix = read_fix(f"{bar.number}:{bar.beat(note.onset):g} {name} 3", piece)
        assert isinstance(fix, FixedFinger)
        assert (fix.onset, fix.key) == (note.onset, note.midi)


def test_a_name_without_its_octave_names_one_note() -> None:
    with pytest.raises(CoachError, match=r"1:1: C is struck in several octaves here, name one by its pitch: C5, C4"):
        read_fix("1:1 C 3", chorale("C5", "G4", "C4", "E3"))


def test_a_third_of_a_beat_is_named_by_its_decimals() -> None:
    triplets = passage(line("soprano", "C5 D5 E5", length="1/3"))
    assert read_fix("1:1.67 soprano 3", triplets) == of_note(triplets.notes[2], 3)


def test_of_several_notes_in_a_voice_one_is_named_by_its_pitch() -> None:
    divided = passage([*line("voice 1", "C4"), *line("voice 1", "E4")])
    with pytest.raises(CoachError, match=r"strikes several notes here, name one by its pitch: E4, C4"):
        read_fix("1:1 voice 1 3", divided)
    fix = read_fix("1:1 E4 3", divided)
    assert isinstance(fix, FixedFinger)
    assert fix.key == 64
    assert write_fix(fix, divided) == "1:1 E4 3"


@settings(max_examples=100, deadline=None)
@given(st.data(), phrases(most_voices=5, most_chords=4))
def test_what_is_written_reads_back(data: st.DataObject, piece: Piece) -> None:
    note = data.draw(st.sampled_from(piece.notes))
    sides = st.sampled_from(["right", "left"])
    fix: Fix = data.draw(
        st.one_of(
            st.builds(lambda finger: of_note(note, finger), st.integers(1, 5)),
            st.builds(lambda right, left: FixedSharing(note.onset, right, left), st.integers(0, 5), st.integers(0, 5)),
            st.builds(
                lambda side, after: FixedLeaving(note.onset, side, after), sides, st.sampled_from(["lift", "join"])
            ),
        )
    )
    assert read_fix(write_fix(fix, piece), piece) == fix
