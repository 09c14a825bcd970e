"""Tied notes are one note, of the voice that the tie stays in."""

from __future__ import annotations

from fractions import Fraction
from itertools import permutations

import pytest

from coach.score.page import Mark, tied


def mark(line: str, staff: int, onset: int, *, into: bool = False, on: bool = False) -> Mark:
    """A half note C5."""
    return Mark(0, staff, line, Fraction(onset), Fraction(2), 72, "C5", tied_in=into, tied_on=on)


@pytest.mark.parametrize(
    ("printed", "goes_on", "longer"),
    [
        ([("1", 1), ("2", 1)], ("2", 1), ("2", 1)),
        ([("1", 1), ("2", 1)], ("1", 1), ("1", 1)),
        ([("1", 1), ("2", 2)], ("2", 1), ("2", 2)),
        ([("1", 1), ("2", 2)], ("1", 2), ("1", 1)),
        ([("", 1), ("", 2)], ("", 2), ("", 2)),
        ([("1", 1), ("2", 2)], ("3", 2), ("2", 2)),
    ],
    ids=["lower voice", "upper voice", "voice changes staff", "other voice does", "no voices told", "neither voice"],
)
def test_of_two_voices_on_one_key_the_tie_goes_on_in_its_own(
    printed: list[tuple[str, int]], goes_on: tuple[str, int], longer: tuple[str, int]
) -> None:
    """Both are printed with a tie, and one note follows: of the same voice, or else on the same staff."""
    for order in permutations([*(mark(*each, 0, on=True) for each in printed), mark(*goes_on, 2, into=True)]):
        lengths = {(note.line, note.staff): note.duration for note in tied(order)}
        assert lengths == {each: 4 if each == longer else 2 for each in printed}


def test_two_voices_tied_on_one_key_stay_apart() -> None:
    """In the second bar the lower voice is printed first."""
    first = [mark("1", 1, 0, on=True), mark("2", 1, 0, on=True)]
    second = [mark("2", 1, 2, into=True, on=True), mark("1", 1, 2, into=True)]
    found = tied([*first, *second, mark("2", 1, 4, into=True)])
    assert sorted((note.line, note.onset, note.duration) for note in found) == [("1", 0, 4), ("2", 0, 6)]
