"""Effort weighed and remembered: each grip and each change of one hand is worked out once, wherever it comes back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from coach.fingering.counts import Counts, MoveCounts, Pairing, travelled
from coach.fingering.effort import in_line, posture
from coach.fingering.hand import Hand
from coach.fingering.handful import Grip, Handful, Ways, ways
from coach.fingering.keyboard import OCTAVE, Keyboard
from coach.fingering.moving import Leaving, Moves, leaving, moves, resting, starting
from coach.fingering.outer_line import Place
from coach.fingering.weights import Weights

MOST_REMEMBERED = 200_000
"""Grips or changes remembered before all are forgotten, which bounds the memory of a long session."""

IMPOSSIBLE = 1e9
"""Stands for what cannot be while efforts are added up: more than any phrase can cost."""


@dataclass(frozen=True, slots=True, eq=False)
class Posture:
    """A grip's fingerings, the counts of their terms, and their effort, shape `(ways,)`."""

    ways: Ways
    counts: Counts
    effort: NDArray[np.float64]

    def at(self, way: int) -> dict[str, float]:
        """The counts of one fingering, those of nothing left out."""
        return {name: float(count[way]) for name, count in self.counts.items() if count[way]}


@dataclass(frozen=True, slots=True, eq=False)
class Change:
    """A change's terms, the effort of joining and of lifting (infinite where it cannot be), and the lesser of the two;
    shape `(ways before, ways after)` each."""

    moves: Moves
    join: NDArray[np.float64]
    lift: NDArray[np.float64]
    least: NDArray[np.float64]

    def at(self, before: int, after: int) -> dict[str, float]:
        """The terms of the lesser way of leaving between two fingerings; joining comes first where both are equal."""
        join = self.join[before, after] <= self.lift[before, after]
        return (self.moves.join if join else self.moves.lift).at(before, after)


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
        self._in_line: dict[tuple[Grip, Place], Posture] = {}
        self._shapes: dict[Grip, tuple[int, int]] = {}
        self._numbers: dict[Grip, int] = {}
        self._pairings: dict[Pairing, NDArray[np.float64]] = {}
        self._changes: dict[tuple[int, int, int, Leaving | None], Change] = {}

    def total(self, counts: Mapping[str, NDArray[np.float64]], shape: tuple[int, ...]) -> NDArray[np.float64]:
        """Each count times its term's weight, summed."""
        sum_ = np.zeros(shape)
        for name, count in counts.items():
            sum_ += self.weights[name] * count
        return sum_

    def _weighed(self, found: Moves) -> Change:
        join, lift = found.join, found.lift
        near, far = travelled(join.before, join.after, self.keyboard.white_mm)
        join_effort, lift_effort = self._weigh(join, near, far), self._weigh(lift, near, far)
        return Change(found, join_effort, lift_effort, np.minimum(join_effort, lift_effort))

    def _weigh(self, counts: MoveCounts, near: NDArray[np.float64], far: NDArray[np.float64]) -> NDArray[np.float64]:
        """The effort of leaving so, infinite where it cannot be; `near` and `far` as `travelled` says."""
        if counts.never:
            return np.full(counts.shape, np.inf)
        effort = self._weigh_pairings(counts) if counts.pairings else np.zeros(counts.shape)
        travel = counts.travel
        if travel:
            effort += self.weights[travel.far] * counts.uncrossed(far)
            if travel.near:
                effort += self.weights[travel.near] * near
        if counts.everywhere:
            effort += sum([self.weights[name] * count for name, count in counts.everywhere.items()])
        return effort

    def _weigh_pairings(self, counts: MoveCounts) -> NDArray[np.float64]:
        """All pairings in one table, a row for each finger on each key before, a column for each after."""
        before, after = counts.before.chosen, counts.after.chosen
        rows, columns = before.shape[1], after.shape[1]
        table = np.zeros((rows // 5, 5, columns // 5, 5))
        for at, next_at, pairing in counts.paired():
            weighed = self._pairings.get(pairing)
            if weighed is None:
                weighed = self._pairings[pairing] = self._weigh_pairing(pairing)
            table[at, :, next_at] = weighed
        effort: NDArray[np.float64] = before @ table.reshape(rows, columns) @ after.T
        effort[effort > IMPOSSIBLE / 2] = np.inf
        return effort

    def _weigh_pairing(self, pairing: Pairing) -> NDArray[np.float64]:
        effort = self.total(pairing.terms, (5, 5))
        return effort if pairing.can is None else np.where(pairing.can, effort, IMPOSSIBLE)

    def posture(self, grip: Grip, place: Place | None = None) -> Posture:
        """Every fingering of a grip and its effort, by its place in its line where that is known."""
        found = self._postures.get(grip)
        if found is None:
            found = self._posture_anywhere(grip)
            _remember(self._postures, grip, found)
        if place is None:
            return found
        there = self._in_line.get((grip, place))
        if there is None:
            counts = in_line(grip, found.ways, self.hand, self.keyboard, place)
            effort = found.effort + self.total(counts, (len(found.ways),))
            there = Posture(found.ways, found.counts | counts, effort)
            _remember(self._in_line, (grip, place), there)
        return there

    def _posture_anywhere(self, grip: Grip) -> Posture:
        """The posture of a grip, worked out once for all octaves."""
        octave = grip.keys[0] // OCTAVE if grip.keys else 0
        if octave:
            lowest = self.posture(grip._replace(keys=tuple([key - OCTAVE * octave for key in grip.keys])))
            return Posture(lowest.ways.moved(octave * self.keyboard.octave_mm), lowest.counts, lowest.effort)
        them = ways(grip, self.hand, self.keyboard)
        counts = posture(grip, them, self.hand, self.keyboard)
        return Posture(them, counts, self.total(counts, (len(them),)))

    def ways(self, handful: Handful) -> Ways:
        """The fingerings of a handful; a resting hand's are those it remembers."""
        return self.posture((handful.memory or handful).grip if not handful.keys else handful.grip).ways

    def change(self, before: Handful, after: Handful) -> Change:
        """One hand's change from one chord to the next."""
        last = before if before.keys else before.memory or before
        (one, octave), (two, next_octave) = self._shape(_left(last.grip)), self._shape(after.grip)
        when = leaving(before, after) if before.keys and after.keys else None
        key = (one, two, next_octave - octave, when)
        found = self._changes.get(key)
        if found is None:
            found = self._weighed(self._moves(before, after, when))
            _remember(self._changes, key, found)
        return found

    def _moves(self, before: Handful, after: Handful, when: Leaving | None) -> Moves:
        these = self.ways(before)
        if not after.keys:
            return resting(these, self.keyboard)
        those = self.ways(after)
        if when is None:
            return starting(these, those, self.keyboard, remembers=before.memory is not None)
        return moves(before.grip, these, after.grip, those, when, self.hand, self.keyboard)

    def _shape(self, grip: Grip) -> tuple[int, int]:
        """A number for what a grip looks like wherever it is, and the octave it is in."""
        found = self._shapes.get(grip)
        if found is None:
            octave = grip.keys[0] // OCTAVE if grip.keys else 0
            shape = grip._replace(keys=tuple(key - OCTAVE * octave for key in grip.keys))
            found = self._numbers.setdefault(shape, len(self._numbers)), octave
            _remember(self._shapes, grip, found)
        return found


def _left(grip: Grip) -> Grip:
    """A grip as the next chord finds it: which of its keys were struck matters no more, unless they were rolled."""
    return grip if grip.rolled else Grip(grip.keys, (), ())


def _remember(memory: dict, key: object, value: object) -> None:  # type: ignore[type-arg]
    if len(memory) >= MOST_REMEMBERED:
        memory.clear()
    memory[key] = value


@lru_cache(maxsize=16)
def hand_effort(hand: Hand, keyboard: Keyboard, weights: Weights) -> HandEffort:
    """The one `HandEffort` for a hand, so that pieces planned one after the other share what it remembers."""
    return HandEffort(hand, keyboard, weights)
