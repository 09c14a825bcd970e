"""Counts of terms by name, kept in the form in which they are quickest to weigh.

Almost all that a chord or a change of chord costs is a matter of two fingers: two on keys of one chord, or one on a key
of the chord before and one on a key of the chord after. So both are kept as a small table for each such pair of keys,
and written out for all fingerings only where somebody asks.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import product
from types import MappingProxyType
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from coach.fingering.handful import Ways
from coach.fingering.keyboard import WHITE_KEYS

Array = NDArray[np.float64]

NOTHING: Mapping[str, float] = MappingProxyType({})


@dataclass(frozen=True, slots=True, eq=False)
class Pairing:
    """What a finger on one key and a finger on another mean, for all pairs of fingers at once.

    Attributes:
        terms: For each term its counts, an array `[finger - 1, other finger - 1]`.
        can: Which pairs are possible, in the same shape; None where all are.
    """

    terms: Mapping[str, Array]
    can: NDArray[np.bool_] | None = None
    _found: dict[tuple[int, int], dict[str, float]] = field(default_factory=dict, init=False)

    @classmethod
    def of_one(cls, terms: Mapping[str, Array]) -> Pairing:
        """What one finger means by itself, from counts `[finger - 1]`: the key is paired with itself."""
        return cls({name: np.diag(count) for name, count in terms.items()})

    def at(self, finger: int, other: int) -> dict[str, float]:
        """The counts of two fingers, those of nothing left out."""
        found = self._found.get((finger, other))
        if found is None:
            counts = {name: float(table[finger - 1, other - 1]) for name, table in self.terms.items()}
            found = self._found[finger, other] = {name: count for name, count in counts.items() if count}
        return found


class Paired(NamedTuple):
    """What the fingers on two keys mean.

    Attributes:
        at, other: Places of the keys, counted from the thumb's side; the same twice where one finger means something by
            itself.
        pairing: What they mean.
    """

    at: int
    other: int
    pairing: Pairing


paired = lru_cache(maxsize=16384)(Paired)
"""The same pairs come back in every chord: one object each."""


class _Written(Mapping[str, Array]):
    """Counts that are written out term by term when they are asked for."""

    __slots__ = ()

    def _names(self) -> Iterator[str]:
        raise NotImplementedError

    def __iter__(self) -> Iterator[str]:
        return iter(dict.fromkeys(self._names()))

    def __len__(self) -> int:
        return sum(1 for _ in self)


@dataclass(frozen=True, slots=True, eq=False)
class ChordCounts(_Written):
    """The counts of one hand's chord; looked up by name, each has the shape `(ways,)`.

    Attributes:
        ways: The fingerings.
        pairings: What two fingers mean, for keys of the chord counted from the thumb's side.
    """

    ways: Ways
    pairings: tuple[Paired, ...] = ()

    def at(self, way: int) -> dict[str, float]:
        """The counts of one fingering, those of nothing left out."""
        found: dict[str, float] = {}
        fingers = self.ways.rows[way]
        for at, other, pairing in self.pairings:
            _add(found, pairing.at(fingers[at], fingers[other]))
        return found

    def __getitem__(self, name: str) -> Array:
        fingers = self.ways.fingers - 1
        named = [(at, other, pairing.terms[name]) for at, other, pairing in self.pairings if name in pairing.terms]
        if not named:
            raise KeyError(name)
        count = np.zeros(len(self.ways))
        for at, other, table in named:
            count += table[fingers[:, at], fingers[:, other]]
        return count

    def _names(self) -> Iterator[str]:
        for _, _, pairing in self.pairings:
            yield from pairing.terms


class Travel(NamedTuple):
    """The way of the hand's place from one chord to the next, in white keys.

    Attributes:
        near: The term that counts all of it; "" for none.
        far: The term that counts what lies beyond the first white key.
        crossing: Outer fingers, as in a `Pairing`, for which `far` counts nothing; None for none.
    """

    near: str
    far: str
    crossing: Array | None = None


class Manner(NamedTuple):
    """One manner of leaving a chord for the next: on the keys or through the air.

    Attributes:
        pairings: What two fingers mean, for each key of the chord before in turn with each key of the chord after, from
            the thumb's side outward; None for what means nothing. No pairings at all mean the same.
        travel: The way of the hand, where it counts.
        everywhere: Counts that are the same for all fingerings.
        never: That no fingering can leave the chord so.
    """

    pairings: tuple[Pairing | None, ...] = ()
    travel: Travel | None = None
    everywhere: Mapping[str, float] = NOTHING
    never: bool = False

    def paired(self, keys: int) -> list[Paired]:
        """The pairings that mean something, after so many keys in the chord after."""
        return [
            Paired(at // keys, at % keys, pairing) for at, pairing in enumerate(self.pairings) if pairing is not None
        ]


NEVER = Manner(never=True)


@dataclass(frozen=True, slots=True, eq=False)
class MoveCounts(_Written):
    """The counts of one manner of leaving; looked up by name, each has the shape `(ways before, ways after)`.

    Attributes:
        before, after: The fingerings of both chords.
        octaves: How many octaves the chord after lies further out than its fingerings say.
        manner: How the chord is left.
    """

    before: Ways
    after: Ways
    octaves: int
    manner: Manner

    @property
    def shape(self) -> tuple[int, int]:
        return len(self.before), len(self.after)

    @property
    def can(self) -> NDArray[np.bool_]:
        """Where it is possible."""
        can = np.full(self.shape, not self.manner.never)
        for at, next_at, _ in self._paired():
            can &= self.possible(at, next_at)
        return can

    def pairing(self, at: int, next_at: int) -> Pairing | None:
        """What the fingers on a key of the chord before and on one of the chord after mean, None for nothing."""
        pairings = self.manner.pairings
        return pairings[at * self.after.fingers.shape[1] + next_at] if pairings else None

    def possible(self, at: int, next_at: int) -> NDArray[np.bool_]:
        """Where the fingers on a key of the chord before and on one of the chord after can follow each other."""
        pairing = self.pairing(at, next_at)
        if pairing is None or pairing.can is None:
            return np.ones(self.shape, np.bool_)
        return self._spread(at, next_at, pairing.can)

    def at(self, before: int, after: int) -> dict[str, float]:
        """The counts between two fingerings, those of nothing left out."""
        pairings, travel, everywhere, _ = self.manner
        found = dict(everywhere)
        fingers, following = self.before.rows[before], self.after.rows[after]
        for (finger, next_finger), pairing in zip(product(fingers, following), pairings, strict=False):
            if pairing is not None and (counts := pairing.at(finger, next_finger)):
                _add(found, counts)
        if travel:
            keys = abs(float(self.before.place[before] - self.after.place[after]) - WHITE_KEYS * self.octaves)
            if travel.near and keys:
                found[travel.near] = keys
            if keys > 1 and (travel.crossing is None or not travel.crossing[fingers[-1] - 1, following[-1] - 1]):
                found[travel.far] = keys - 1
        return found

    def __getitem__(self, name: str) -> Array:
        _, travel, everywhere, _ = self.manner
        found: Array | None = None
        for at, next_at, pairing in self._paired():
            if name in pairing.terms:
                spread = self._spread(at, next_at, pairing.terms[name])
                found = spread if found is None else found + spread
        if travel and name in (travel.near, travel.far):
            near, far = travelled(self.before, self.after, self.octaves)
            found = near if name == travel.near else uncrossed(far, travel, self.before, self.after)
        if name in everywhere:
            found = np.full(self.shape, everywhere[name])
        if found is None:
            raise KeyError(name)
        return found

    def _names(self) -> Iterator[str]:
        for _, _, pairing in self._paired():
            yield from pairing.terms
        if self.manner.travel:
            yield from filter(None, (self.manner.travel.near, self.manner.travel.far))
        yield from self.manner.everywhere

    def _paired(self) -> list[Paired]:
        return self.manner.paired(self.after.fingers.shape[1])

    def _spread(self, at: int, next_at: int, table: NDArray[Any]) -> NDArray[Any]:
        return table[self.before.fingers[:, at][:, None] - 1, self.after.fingers[:, next_at] - 1]


def travelled(before: Ways, after: Ways, octaves: int) -> tuple[Array, Array]:
    """White keys that the hand's place moves between any two fingerings, and those beyond the first.

    Args:
        before, after: The fingerings.
        octaves: How many octaves the chord after lies further out than its fingerings say.
    """
    near = np.subtract.outer(before.place, after.place + WHITE_KEYS * octaves)
    np.abs(near, out=near)
    far = near - 1.0
    np.maximum(far, 0.0, out=far)
    return near, far


def uncrossed(far: Array, travel: Travel, before: Ways, after: Ways) -> Array:
    """What the way beyond the first white key counts where the outer fingers do not cross."""
    if travel.crossing is None:
        return far
    return far * (1 - travel.crossing).take(before.outer, 0).take(after.outer, 1)


def _add(found: dict[str, float], counts: Mapping[str, float]) -> None:
    for name, count in counts.items():
        found[name] = found.get(name, 0.0) + count
