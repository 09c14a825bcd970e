"""What a piece knows of itself: the tempo it is played at where none is printed (common practice, no source)."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from coach.score.piece import USUAL_BPM, USUAL_DOTTED_BPM, Bar, Note, Piece


def piece(*metres: str, metred: bool = True) -> Piece:
    """A bar of each metre with one note in it."""
    bars: list[Bar] = []
    for number, metre in enumerate(metres, 1):
        bar = Bar(number, bars[-1].end if bars else Fraction(0), Fraction(1), metre, metred=metred)
        bars.append(replace(bar, duration=bar.full))
    notes = tuple(Note("soprano", bar.onset, bar.duration, 60, "C4") for bar in bars)
    return Piece("a test", "a test", ("soprano",), notes, tuple(bars))


@pytest.mark.parametrize(
    ("metre", "pulse"),
    [
        ("4/4", Fraction(1)),
        ("3/4", Fraction(1)),
        ("6/4", Fraction(1)),
        ("2/2", Fraction(2)),
        ("3/2", Fraction(2)),
        ("4/2", Fraction(2)),
        ("4/8", Fraction(1, 2)),
    ],
)
def test_hymns_go_at_one_pace_whichever_note_is_the_beat(metre: str, pulse: Fraction) -> None:
    assert piece(metre).bars[0].pulse == pulse
    assert piece(metre).tempo / pulse == USUAL_BPM


@pytest.mark.parametrize(
    ("metre", "pulse"),
    [
        ("6/8", Fraction(3, 2)),
        ("9/8", Fraction(3, 2)),
        ("12/8", Fraction(3, 2)),
        ("3/8", Fraction(3, 2)),
        ("6/16", Fraction(3, 4)),
        ("9/16", Fraction(3, 4)),
        ("3/16", Fraction(3, 4)),
    ],
)
def test_dotted_beats_go_a_little_slower(metre: str, pulse: Fraction) -> None:
    """A carol in 6/8 goes in two, one in 3/8 in one; its quavers are no slower than those of 4/4, its beats are."""
    assert piece(metre).bars[0].pulse == pulse
    assert piece(metre).tempo / pulse == USUAL_DOTTED_BPM < USUAL_BPM
    if pulse == Fraction(3, 2):
        assert piece(metre).tempo >= piece("4/4").tempo


def test_the_metre_of_most_of_the_piece_decides() -> None:
    assert piece("4/4", "3/2", "3/2").tempo == piece("3/2").tempo
    assert piece("4/4", "4/4", "3/2").tempo == piece("4/4").tempo


def test_music_without_a_metre_goes_in_quarter_notes() -> None:
    """A line of chant of thirteen quavers is no bar of 13/8, nor one of nine of 9/8."""
    for metre in ("13/8", "9/8"):
        assert piece(metre, metred=False).tempo == USUAL_BPM


def test_a_printed_tempo_counts() -> None:
    assert replace(piece("6/8"), quarter_bpm=60.0).tempo == 60
