"""Where the beats of a passage fall, and how they are counted in."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from coach.score.piece import Bar, Piece, Quarters

FEWEST_COUNTED = 3
"""Beats that are counted at least before the first chord (common practice: fewer do not settle a tempo)."""


@dataclass(frozen=True, slots=True)
class Beat:
    """One beat.

    Attributes:
        onset: In quarter notes from the start of the piece; a count-in may lie before it.
        bar: Printed bar number.
        number: In its bar, from 1.
        of: How many beats its bar has.
        counted: It belongs to the count-in.
    """

    onset: Quarters
    bar: int
    number: int
    of: int
    counted: bool = False

    @property
    def first(self) -> bool:
        """The first beat of its bar."""
        return self.number == 1


def beats_of(piece: Piece, onset: Quarters, end: Quarters) -> tuple[Beat, ...]:
    """All beats from `onset` up to but not including `end`."""
    beats: list[Beat] = []
    for bar in piece.bars:
        if bar.end <= onset or bar.onset >= end:
            continue
        of = _beats_in(bar)
        for number in range(of):
            place = bar.onset - bar.skipped + number * bar.beat_length
            if max(onset, bar.onset) <= place < min(end, bar.end):
                beats.append(Beat(place, bar.number, number + 1, of))
    return tuple(beats)


def count_in(piece: Piece, onset: Quarters) -> tuple[Beat, ...]:
    """The beats counted before a passage that starts at `onset`.

    The bar of the first chord is counted from its first beat, and whole bars before it until there are
    `FEWEST_COUNTED` beats: "1 2 3 4" before a first beat, "1 2 3" before an upbeat on 4.
    """
    if not piece.bars:
        return ()
    bar = piece.bar_at(onset)
    of, length = _beats_in(bar), bar.beat_length
    into = (onset - bar.onset + bar.skipped) / length
    before = ceil(into)
    while before < FEWEST_COUNTED:
        before += of
    start = onset - (into + before - ceil(into)) * length
    return tuple(Beat(start + place * length, bar.number, place % of + 1, of, counted=True) for place in range(before))


def _beats_in(bar: Bar) -> int:
    return max(1, ceil(max(bar.full, bar.duration) / bar.beat_length))
