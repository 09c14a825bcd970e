"""Counts of terms by name, kept in the form in which they are quickest to weigh.

Almost all that a change of chord costs is a matter of two fingers: one on a key of the chord before, one on a key of
the chord after. So a change is kept as a small table for each such pair of keys, and written out for all fingerings of
both chords only where somebody asks.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from coach.fingering.handful import Ways

Array = NDArray[np.float64]

Counts = dict[str, Array]
"""Counts by the name of their term."""


@dataclass(frozen=True, slots=True, eq=False)
class Pairing:
    """What a finger on a key and a finger on a key of the next chord mean, for all pairs of fingers at once.

    Attributes:
        terms: For each term its counts, an array `[finger - 1, next finger - 1]`.
        can: Which pairs are possible, in the same shape; None where all are.
    """

    terms: Mapping[str, Array]
    can: NDArray[np.bool_] | None = None
    _found: dict[tuple[int, int], dict[str, float]] = field(default_factory=dict, init=False)

    def at(self, finger: int, following: int) -> dict[str, float]:
        """The counts of two fingers, those of nothing left out."""
        found = self._found.get((finger, following))
        if found is None:
            counts = {name: float(table[finger - 1, following - 1]) for name, table in self.terms.items()}
            found = self._found[finger, following] = {name: count for name, count in counts.items() if count}
        return found


@dataclass(frozen=True, slots=True)
class Travel:
    """The way of the hand's place from one chord to the next, in white keys.

    Attributes:
        near: The term that counts all of it; "" for none.
        far: The term that counts what lies beyond the first white key.
        crossing: Outer fingers, as in a `Pairing`, for which `far` counts nothing; None for none.
    """

    near: str
    far: str
    crossing: Array | None = None


@dataclass(frozen=True, slots=True, eq=False)
class MoveCounts(Mapping[str, Array]):
    """The counts of one way to leave a chord; looked up by name, each has the shape `(ways before, ways after)`.

    Attributes:
        before, after: The fingerings of both chords.
        white_mm: Distance between white keys.
        pairings: What two fingers mean, for each key of the chord before in turn with each key of the chord after, from
            the thumb's side outward; None for what means nothing. No pairings at all mean the same.
        travel: The way of the hand, where it counts.
        everywhere: Counts that are the same for all fingerings.
        never: That no fingering can leave the chord so.
    """

    before: Ways
    after: Ways
    white_mm: float
    pairings: tuple[Pairing | None, ...] = ()
    travel: Travel | None = None
    everywhere: Mapping[str, float] = field(default_factory=dict)
    never: bool = False

    @property
    def shape(self) -> tuple[int, int]:
        return len(self.before), len(self.after)

    def paired(self) -> list[tuple[int, int, Pairing]]:
        """Place of a key before and of a key after, and what two fingers on them mean."""
        keys = self.after.fingers.shape[1]
        return [(at // keys, at % keys, pairing) for at, pairing in enumerate(self.pairings) if pairing is not None]

    @property
    def can(self) -> NDArray[np.bool_]:
        """Where it is possible."""
        can = np.full(self.shape, not self.never)
        for at, next_at, pairing in self.paired():
            if pairing.can is not None:
                can &= self._spread(at, next_at, pairing.can)
        return can

    def at(self, before: int, after: int) -> dict[str, float]:
        """The counts between two fingerings, those of nothing left out."""
        found = dict(self.everywhere)
        fingers, following = self.before.rows[before], self.after.rows[after]
        pairings = iter(self.pairings)
        for finger in fingers if self.pairings else ():
            for next_finger, pairing in zip(following, pairings, strict=False):
                if pairing is not None:
                    for name, count in pairing.at(finger, next_finger).items():
                        found[name] = found.get(name, 0.0) + count
        if self.travel:
            keys = abs(float(self.before.place_mm[before] - self.after.place_mm[after])) / self.white_mm
            crossing = self.travel.crossing
            if self.travel.near and keys:
                found[self.travel.near] = keys
            if keys > 1 and (crossing is None or not crossing[fingers[-1] - 1, following[-1] - 1]):
                found[self.travel.far] = keys - 1
        return found

    def uncrossed(self, far: Array) -> Array:
        """What the way beyond the first white key counts where the outer fingers do not cross."""
        if self.travel is None or self.travel.crossing is None:
            return far
        return far * (1 - self.travel.crossing[self.before.outer[:, None], self.after.outer])

    def __getitem__(self, name: str) -> Array:
        found: Array | None = None
        for at, next_at, pairing in self.paired():
            if name in pairing.terms:
                spread = self._spread(at, next_at, pairing.terms[name])
                found = spread if found is None else found + spread
        if self.travel and name in (self.travel.near, self.travel.far):
            near, far = travelled(self.before, self.after, self.white_mm)
            found = near if name == self.travel.near else self.uncrossed(far)
        if name in self.everywhere:
            found = np.full(self.shape, self.everywhere[name])
        if found is None:
            raise KeyError(name)
        return found

    def __iter__(self) -> Iterator[str]:
        names = [name for _, _, pairing in self.paired() for name in pairing.terms]
        if self.travel:
            names += [name for name in (self.travel.near, self.travel.far) if name]
        return iter(dict.fromkeys((*names, *self.everywhere)))

    def __len__(self) -> int:
        return sum(1 for _ in self)

    def _spread(self, at: int, next_at: int, table: NDArray[Any]) -> NDArray[Any]:
        return table[self.before.fingers[:, at][:, None] - 1, self.after.fingers[:, next_at] - 1]


def travelled(before: Ways, after: Ways, white_mm: float) -> tuple[Array, Array]:
    """White keys that the hand's place moves between any two fingerings, and those beyond the first."""
    near = before.place_mm[:, None] - after.place_mm
    np.abs(near, out=near)
    near *= 1 / white_mm
    far = near - 1.0
    np.maximum(far, 0.0, out=far)
    return near, far
