"""What becomes of a voice that divides: it keeps its row, and what it adds gets a row beside it.

Singers who divide for a few chords go on as one voice before and after. So only the chords in question are taken
apart; of each the outer note stays with the voice, the upper one or, of the lowest voice, the lower (common practice,
no source).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import accumulate

from coach.score.page import Mark
from coach.score.piece import Quarters
from coach.score.separation import separate, usual_count

STEADY = 0.1
"""Share of a voice's notes from which a second note beside it is a voice of its own, not a division in passing."""

IN_PASSING = 2
"""So many divisions are always in passing, however short the piece."""

IN_CHORDS = 0.5
"""Share of a voice's notes from which it is not one that divides but several, written as chords."""


def divides(marks: Sequence[Mark]) -> bool:
    """Whether more than one voice is needed for these notes: many of them start while another one sounds."""
    return often(len(divided_notes(marks)), len(marks))


def often(divisions: int, notes: int) -> bool:
    """Whether so many divisions among so many notes are more than divisions in passing."""
    return divisions > max(STEADY * notes, IN_PASSING)


def in_chords(marks: Sequence[Mark]) -> bool:
    """Whether these notes are several voices most of the time."""
    divided = len(divided_notes(marks))
    return often(divided, len(marks)) and divided >= IN_CHORDS * len({mark.onset for mark in marks})


def divided_notes(marks: Sequence[Mark]) -> list[Mark]:
    """The notes that start while another one sounds."""
    found, until = [], Fraction(-1)
    for mark in sorted(marks, key=lambda mark: mark.onset):
        if mark.onset < until:
            found.append(mark)
        until = max(until, mark.end)
    return found


def rows_of(marks: Sequence[Mark], lowest: bool = False) -> list[list[Mark]]:
    """A voice and what it adds where it divides, as rows from the top; one row where it divides in passing.

    Args:
        marks: All its notes.
        lowest: Whether it is the lowest voice, whose row is the last one; else the first row is the voice's.
    """
    count = usual_count(marks) if divides(marks) else 1
    if count == 1:
        return [list(marks)]
    rows: list[list[Mark]] = [[] for _ in range(count)]
    for chord in _together(marks):
        needed = min(count, _most_at_once(chord))
        above = count - needed if lowest else 0
        for mark, place in zip(chord, separate(chord, needed), strict=True):
            rows[above + place].append(mark)
    return [row for row in rows if row]


def _together(marks: Sequence[Mark]) -> Iterator[list[Mark]]:
    """Notes that sound together, or are linked by one that sounds with both."""
    chord: list[Mark] = []
    until = Fraction(-1)
    for mark in sorted(marks, key=lambda mark: mark.onset):
        if chord and mark.onset >= until:
            yield chord
            chord = []
        chord.append(mark)
        until = max(until, mark.end)
    if chord:
        yield chord


def _most_at_once(chord: Sequence[Mark]) -> int:
    changes: dict[Quarters, int] = {}
    for mark in chord:
        changes[mark.onset] = changes.get(mark.onset, 0) + 1
        changes[mark.end] = changes.get(mark.end, 0) - 1
    return max(accumulate(changes[place] for place in sorted(changes)))
