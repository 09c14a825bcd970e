"""Effort weighed and remembered: each grip and each change of one hand is worked out once, wherever it comes back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from coach.fingering.counts import Counts, MoveCounts
from coach.fingering.effort import Frame, Leaving, Moves, framing, leaving, moves, posture, resting, starting
from coach.fingering.hand import Hand
from coach.fingering.handful import Grip, Handful, Ways, ways
from coach.fingering.keyboard import OCTAVE, Keyboard
from coach.fingering.weights import Weights

MOST_REMEMBERED = 200_000
"""Grips or changes remembered before all are forgotten, which bounds the memory of a long session."""


@dataclass(frozen=True, slots=True, eq=False)
class Posture:
    """A grip's fingerings, the counts of their terms, and their effort, shape `(ways,)`."""

    ways: Ways
    counts: Counts
    effort: NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Change:
    """A change's terms, the effort of joining and of lifting (infinite where it cannot be), and the lesser of the two;
    shape `(ways before, ways after)` each."""

    moves: Moves
    join: NDArray[np.float64]
    lift: NDArray[np.float64]
    least: NDArray[np.float64]

    def counts(self, before: int, after: int) -> Counts:
        """The terms of the lesser way of leaving between two fingerings; joining comes first where both are equal."""
        return self._joining if self.join[before, after] <= self.lift[before, after] else self._lifting

    @cached_property
    def _joining(self) -> Counts:
        return _occurring(self.moves.join)

    @cached_property
    def _lifting(self) -> Counts:
        return _occurring(self.moves.lift)


class HandEffort:
    """Weighs what one hand does.

    Octaves look alike to a hand, so grips are remembered by their place in the octave.

    Args:
        hand: The hand.
        keyboard: The keyboard.
        weights: The weight of each term.
    """

    def __init__(self, hand: Hand, keyboard: Keyboard, weights: Weights) -> None:
        self.hand = hand
        self.keyboard = keyboard
        self.weights = weights
        self._postures: dict[Grip, Posture] = {}
        self._shapes: dict[Grip, tuple[int, int]] = {}
        self._numbers: dict[Grip, int] = {}
        self._lines: dict[tuple[int, int], NDArray[np.float64]] = {}
        self._changes: dict[tuple[int, int, int, Leaving], Change] = {}

    def total(self, counts: Counts, shape: tuple[int, ...]) -> NDArray[np.float64]:
        """Each count times its term's weight, summed."""
        sum_ = np.zeros(shape)
        for name, count in counts.items():
            sum_ += self.weights[name] * count
        return sum_

    def _weigh(self, counts: MoveCounts) -> NDArray[np.float64]:
        """The same for a change, written out only where fingerings differ."""
        alike = sum((self.weights[name] * count for name, count in counts.everywhere.items()), 0.0)
        sum_ = np.full(counts.shape, alike)
        for name, count in counts.arrays.items():
            sum_ += self.weights[name] * count
        line = counts.line
        if line is not None and counts.outer is not None:
            key = line.start, line.interval
            if key not in self._lines:
                self._lines[key] = self.total(line.tables, (6, 6))
            sum_ += self._lines[key][counts.outer]
        return sum_

    def posture(self, grip: Grip, frame: Frame | None = None) -> Posture:
        """Every fingering of a grip and its effort; a frame adds the place of a lone key in its line."""
        found = self._postures.get(grip)
        if found is None:
            them = ways(grip, self.hand, self.keyboard)
            counts = _occurring(posture(grip, them, self.hand, self.keyboard))
            found = Posture(them, counts, self.total(counts, (len(them),)))
            _remember(self._postures, grip, found)
        framed = framing(grip, found.ways, self.keyboard, frame)
        if not framed:
            return found
        effort = found.effort + self.total(framed, (len(found.ways),))
        return Posture(found.ways, found.counts | framed, effort)

    def ways(self, handful: Handful) -> Ways:
        """The fingerings of a handful; a resting hand's are those it remembers."""
        return self.posture((handful.memory or handful).grip if not handful.keys else handful.grip).ways

    def change(self, before: Handful, after: Handful) -> Change:
        """One hand's change from one chord to the next."""
        if not after.keys:
            return self._weighed(resting(self.ways(before)))
        if not before.keys:
            remembers = before.memory is not None
            return self._weighed(starting(self.ways(before), self.ways(after), self.keyboard, remembers))
        (one, octave), (two, next_octave) = self._shape(before.grip), self._shape(after.grip)
        when = leaving(before, after)
        key = (one, two, next_octave - octave, when)
        found = self._changes.get(key)
        if found is None:
            these, those = self.posture(before.grip).ways, self.posture(after.grip).ways
            found = self._weighed(moves(before.grip, these, after.grip, those, when, self.hand, self.keyboard))
            _remember(self._changes, key, found)
        return found

    def _shape(self, grip: Grip) -> tuple[int, int]:
        """A number for what a grip looks like wherever it is, and the octave it is in."""
        found = self._shapes.get(grip)
        if found is None:
            octave = grip.keys[0] // OCTAVE
            shape = grip._replace(keys=tuple(key - OCTAVE * octave for key in grip.keys))
            found = self._numbers.setdefault(shape, len(self._numbers)), octave
            _remember(self._shapes, grip, found)
        return found

    def _weighed(self, found: Moves) -> Change:
        join = np.where(found.can_join, self._weigh(found.join), np.inf)
        lift = np.where(found.can_lift, self._weigh(found.lift), np.inf)
        return Change(found, join, lift, np.minimum(join, lift))


def _occurring(counts: Mapping[str, NDArray[np.float64]]) -> Counts:
    """Terms that count anything."""
    return {name: count for name, count in counts.items() if count.any()}


def _remember(memory: dict, key: object, value: object) -> None:  # type: ignore[type-arg]
    if len(memory) >= MOST_REMEMBERED:
        memory.clear()
    memory[key] = value


@lru_cache(maxsize=16)
def hand_effort(hand: Hand, keyboard: Keyboard, weights: Weights) -> HandEffort:
    """The one `HandEffort` for a hand, so that pieces planned one after the other share what it remembers."""
    return HandEffort(hand, keyboard, weights)
