"""Beats and count-ins. Common practice, no source."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

from coach.practice.beat import beats_of, count_in
from coach.score.piece import Bar, Piece


def piece(metre: str, pickup: str = "0", bars: int = 3) -> Piece:
    made, onset = [], Fraction(0)
    if Fraction(pickup):
        made.append(Bar(0, onset, Fraction(pickup), metre))
        onset += Fraction(pickup)
    for number in range(1, bars + 1):
        bar = Bar(number, onset, Fraction(0), metre)
        made.append(Bar(number, onset, bar.full, metre))
        onset += bar.full
    return Piece("Test", "test", (), (), tuple(made))


def counted(of: Piece, onset: str) -> str:
    return " ".join(str(beat.number) for beat in count_in(of, Fraction(onset)))


@pytest.mark.parametrize(
    ("metre", "pickup", "onset", "said"),
    [
        ("4/4", "0", "0", "1 2 3 4"),
        ("4/4", "1", "0", "1 2 3"),
        ("4/4", "0", "3", "1 2 3"),
        ("4/4", "0", "6", "1 2 3 4 1 2"),
        ("3/4", "0", "0", "1 2 3"),
        ("3/4", "1", "0", "1 2 3 1 2"),
        ("2/2", "0", "0", "1 2 1 2"),
        ("6/8", "0", "0", "1 2 1 2"),
        ("4/4", "1/2", "0", "1 2 3 4"),
    ],
)
def test_what_is_counted_before_the_first_chord(metre: str, pickup: str, onset: str, said: str) -> None:
    assert counted(piece(metre, pickup), onset) == said


@pytest.mark.parametrize("onset", ["0", "1/2", "1", "3", "7/2"])
def test_the_count_in_leads_into_the_first_chord_beat_by_beat(onset: str) -> None:
    of = piece("4/4")
    beats = count_in(of, Fraction(onset))
    distances = {later.onset - earlier.onset for earlier, later in pairwise(beats)}
    assert distances == {1}
    assert 0 < Fraction(onset) - beats[-1].onset <= 1
    following = beats_of(of, Fraction(onset), Fraction(8))
    if Fraction(onset).denominator == 1:
        assert following[0].number == beats[-1].number % 4 + 1


def test_beats_of_a_phrase_with_a_pickup_carry_their_numbers() -> None:
    beats = beats_of(piece("3/4", "1"), Fraction(0), Fraction(4))
    assert [(beat.bar, beat.number) for beat in beats] == [(0, 3), (1, 1), (1, 2), (1, 3)]
    assert [beat.first for beat in beats] == [False, True, False, False]


def test_compound_time_is_felt_in_dotted_beats() -> None:
    assert [float(beat.onset) for beat in beats_of(piece("6/8"), Fraction(0), Fraction(6))] == [0, 1.5, 3, 4.5]


def test_an_overlong_bar_is_counted_to_its_end() -> None:
    """A last bar that holds a fifth beat, as bars before a repeat sometimes do."""
    bar = Bar(1, Fraction(0), Fraction(5), "4/4")
    of = Piece("Test", "test", (), (), (bar,))
    assert [beat.number for beat in beats_of(of, Fraction(0), Fraction(5))] == [1, 2, 3, 4, 5]


def test_an_upbeat_inside_a_piece_is_counted_in_its_printed_bar() -> None:
    """A bar that a double line divides after two beats: "1 2 3 1 2" in three, and the upbeat is beat 3."""
    whole = Bar(1, Fraction(0), Fraction(3), "3/4")
    ends, goes_on = Bar(2, Fraction(3), Fraction(2), "3/4"), Bar(2, Fraction(5), Fraction(1), "3/4", before=Fraction(2))
    of = Piece("Test", "test", (), (), (whole, ends, goes_on, Bar(3, Fraction(6), Fraction(3), "3/4")))
    assert counted(of, "5") == "1 2 3 1 2"
    assert [beat.number for beat in beats_of(of, Fraction(5), Fraction(9))] == [3, 1, 2, 3]
