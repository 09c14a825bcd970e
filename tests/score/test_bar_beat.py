"""Bar and beat as they are written on one line (common practice, no source)."""

from __future__ import annotations

from fractions import Fraction

import pytest

from coach.errors import CoachError
from coach.score.bar_beat import onset_at, place_written
from coach.score.piece import Bar, Note, Piece


def piece(*bars: tuple[int, int]) -> Piece:
    """A line in crotchets, in bars of some numbers and so many quarter notes each."""
    made, onset = [], Fraction(0)
    for number, quarters in bars:
        before = Fraction(made[-1].duration) if made and made[-1].number == number and quarters < 4 else Fraction(0)
        made.append(Bar(number, onset, Fraction(quarters), "4/4", before=before))
        onset += quarters
    notes = tuple(Note("soprano", Fraction(place), Fraction(1), 60, "C4") for place in range(int(onset)))
    return Piece("Line", "line.abc", ("soprano",), notes, tuple(made))


def test_every_chord_is_found_again_by_the_place_that_is_written_of_it() -> None:
    for each in (piece((1, 4), (2, 4)), piece((0, 1), (1, 4)), piece((1, 4), (2, 2), (2, 2)), piece((1, 4), (1, 4))):
        for note in each.notes:
            assert onset_at(each, place_written(each, note.onset)) == note.onset


def test_a_number_that_comes_twice_is_counted_where_one_cannot_tell() -> None:
    """Two movements in one file; but a bar that a repeat sign divides has each of its beats once."""
    two = piece((1, 4), (2, 4), (1, 4))
    assert place_written(two, Fraction(1)) == "1(1):2"
    assert place_written(two, Fraction(9)) == "1(2):2"
    assert place_written(two, Fraction(4)) == "2:1"
    divided = piece((1, 4), (2, 2), (2, 2))
    assert [place_written(divided, Fraction(place)) for place in (4, 6)] == ["2:1", "2:3"]


def test_a_place_that_may_be_either_is_refused_with_the_names_of_both() -> None:
    two = piece((1, 4), (2, 4), (1, 4))
    with pytest.raises(CoachError, match=r'bar 1, beat 2 comes 2 times, .* write "1\(1\):2" or "1\(2\):2"'):
        onset_at(two, "1:2")
    with pytest.raises(CoachError, match="bar 1 comes 2 times"):
        onset_at(two, "1(3):2")
    with pytest.raises(CoachError, match="bar 2 comes once"):
        onset_at(two, "2(2):2")


@pytest.mark.parametrize("text", ["", "1", "1:", "one:2", "1(:2", "1():2", "1:2:3"])
def test_what_is_no_place_is_none(text: str) -> None:
    assert onset_at(piece((1, 4)), text) is None
