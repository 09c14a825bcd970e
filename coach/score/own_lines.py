"""Which of a file's own voices run through the piece, and whether they are the voices that are sung."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from itertools import accumulate

from coach.score.dividing import divided_notes, in_chords, often
from coach.score.page import Mark

RUNS_THROUGH = 0.25
"""Share of the fullest voice's notes from which one of the file's own voices counts as running through the piece."""

SINGS_THROUGH = 0.5
"""The same for two singers who share a staff: one who sings less is a division of the other."""


def own_lines(marks: Sequence[Mark], share: float = RUNS_THROUGH) -> list[list[Mark]] | None:
    """The file's own voices that run through, from the top; each takes in what stands beside it and does not.

    Args:
        marks: All notes.
        share: Share of the fullest voice's notes from which a voice runs through.

    Returns:
        The voices; None where one of them stands for another, or where a staff has none that runs through, or a single
        one in chords.
    """
    lines: dict[tuple[int, int, str], list[Mark]] = {}
    for mark in marks:
        lines.setdefault((mark.part, mark.staff, mark.line), []).append(mark)
    least = share * max(map(len, lines.values()))
    order = sorted(lines, key=lambda key: (key[:2], -_height(lines[key])))
    heights = {key: _height(lines[key]) for key in order if len(lines[key]) >= least}
    found = {key: list(lines[key]) for key in heights}
    for key in order:
        if key not in heights:
            home = _home(key, lines, heights)
            if home is None:
                return None
            found[home] += lines[key]
    for key, line in found.items():
        others = [other for other in found.values() if other is not line]
        alone = sum(other[:2] == key[:2] for other in found) == 1
        if (alone and in_chords(line)) or _stands_for_another(line, others):
            return None
    return list(found.values())


def _home(
    key: tuple[int, int, str],
    lines: Mapping[tuple[int, int, str], Sequence[Mark]],
    heights: Mapping[tuple[int, int, str], float],
) -> tuple[int, int, str] | None:
    """The voice that takes in one that does not run through: its own on another staff, else the nearest on its staff.

    Args:
        key: Part, staff and the file's number of the voice.
        lines: All of the file's voices.
        heights: How high those lie that run through.
    """
    part, staff, number = key
    for other in heights:
        if other[0] == part and other[2] == number and not divided_notes([*lines[other], *lines[key]]):
            return other
    height = _height(lines[key])
    near = [other for other in heights if other[:2] == (part, staff)]
    return min(near, key=lambda other: abs(heights[other] - height), default=None)


def _stands_for_another(line: Sequence[Mark], others: Sequence[Sequence[Mark]]) -> bool:
    """Whether a voice's chords hold the notes of another one that rests meanwhile.

    Hymnals print one voice of chords while two voices move together, and two voices while they do not.
    """
    there = [_Sounding(other) for other in others]
    instead = sum(not all(other.at(mark) for other in there) for mark in divided_notes(line))
    return often(instead, len(line))


class _Sounding:
    """Whether a voice sounds at the start of a note."""

    def __init__(self, line: Sequence[Mark]) -> None:
        ordered = sorted(line, key=lambda mark: mark.onset)
        self._onsets = [mark.onset for mark in ordered]
        self._until = list(accumulate((mark.end for mark in ordered), max))

    def at(self, mark: Mark) -> bool:
        before = bisect_right(self._onsets, mark.onset)
        return before > 0 and self._until[before - 1] > mark.onset


def _height(line: Sequence[Mark]) -> float:
    return sum(mark.midi for mark in line) / len(line)
