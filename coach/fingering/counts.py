"""Counts of terms by name, kept in the form in which they are quickest to weigh."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

Counts = dict[str, Array]
"""Counts by the name of their term."""


@dataclass(frozen=True, slots=True)
class Line:
    """How a line goes from one key to another, for all pairs of fingers at once.

    Attributes:
        start: The key within its octave.
        interval: Semitones outward to the next key.
        tables: For each term an array `[finger, next finger]`, row and column 0 unused.
    """

    start: int
    interval: int
    tables: Counts


@dataclass(frozen=True, slots=True, eq=False)
class MoveCounts(Mapping[str, Array]):
    """The counts of a change of chord; looked up by name, each has the shape `(ways before, ways after)`.

    Most of them need not be written out to be weighed: what is the same for all fingerings is one number, and what
    only the outer fingers decide is a small table.

    Attributes:
        shape: `(ways before, ways after)`.
        arrays: Counts written out.
        everywhere: Counts that are the same for all fingerings.
        line: The outer voice's way, where there is one.
        outer: The outer finger before each way, and after it: indices into the line's tables.
    """

    shape: tuple[int, int]
    arrays: Counts = field(default_factory=dict)
    everywhere: Mapping[str, float] = field(default_factory=dict)
    line: Line | None = None
    outer: tuple[NDArray[np.int8], NDArray[np.int8]] | None = None

    def __getitem__(self, name: str) -> Array:
        if name in self.arrays:
            return self.arrays[name]
        if name in self.everywhere:
            return np.full(self.shape, self.everywhere[name])
        if self.line is None or self.outer is None:
            raise KeyError(name)
        return self.line.tables[name][self.outer]

    def __iter__(self) -> Iterator[str]:
        yield from self.arrays
        yield from self.everywhere
        if self.line is not None:
            yield from self.line.tables

    def __len__(self) -> int:
        return len(self.arrays) + len(self.everywhere) + (len(self.line.tables) if self.line is not None else 0)
