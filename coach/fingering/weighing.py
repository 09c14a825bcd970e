"""Effort weighed and remembered: each grip and each change of one hand is worked out once, wherever it comes back."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from coach.fingering.counts import (
    Array,
    ChordCounts,
    Manner,
    MoveCounts,
    Paired,
    Pairing,
    travelled,
    uncrossed,
)
from coach.fingering.effort import in_line, posture
from coach.fingering.hand import Hand
from coach.fingering.handful import Grip, Handful, Ways, in_octave, ways
from coach.fingering.keyboard import Keyboard
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
    counts: ChordCounts
    effort: Array


@dataclass(frozen=True, slots=True, eq=False)
class Change:
    """One hand's change of chord.

    Attributes:
        before, after: The fingerings of both chords.
        octaves: How many octaves the chord after lies further out than its fingerings say.
        moves: What joining and lifting mean.
        join, lift: Their effort, infinite where it cannot be; shape `(ways before, ways after)`.
        least: The lesser of the two.
    """

    before: Ways
    after: Ways
    octaves: int
    moves: Moves
    join: Array
    lift: Array
    least: Array

    @property
    def joined(self) -> MoveCounts:
        """The terms of joining."""
        return MoveCounts(self.before, self.after, self.octaves, self.moves.join)

    @property
    def lifted(self) -> MoveCounts:
        """The terms of lifting."""
        return MoveCounts(self.before, self.after, self.octaves, self.moves.lift)

    def at(self, before: int, after: int) -> dict[str, float]:
        """The terms of the lesser way of leaving between two fingerings; joining comes first where both are equal."""
        join = self.join[before, after] <= self.lift[before, after]
        return (self.joined if join else self.lifted).at(before, after)


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
        self._pairings: dict[Pairing, Array] = {}
        self._changes: dict[tuple[int, int, int, Leaving | None], Change] = {}

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
            there = self._added(found, in_line(grip, self.hand, self.keyboard, place))
            _remember(self._in_line, (grip, place), there)
        return there

    def _posture_anywhere(self, grip: Grip) -> Posture:
        """The posture of a grip, worked out once for all octaves."""
        octave, keys = in_octave(grip.keys)
        if octave:
            return self.posture(grip._replace(keys=keys))
        them = ways(grip, self.hand, self.keyboard)
        paired = posture(grip, self.hand, self.keyboard)
        table = np.zeros((len(keys), 5, len(keys), 5))
        for at, other, pairing in paired:
            table[at, :, other] = self._weigh_pairing(pairing)
        size = 5 * len(keys)
        effort = (them.chosen @ table.reshape(size, size) * them.chosen).sum(axis=1)
        return Posture(them, ChordCounts(them, paired), effort)

    def _added(self, posture: Posture, paired: tuple[Paired, ...]) -> Posture:
        """A posture with what more each finger by itself means."""
        if not paired:
            return posture
        effort = posture.effort
        for at, _, pairing in paired:
            effort = effort + self._weigh_pairing(pairing).diagonal()[posture.ways.fingers[:, at] - 1]
        counts = ChordCounts(posture.ways, posture.counts.pairings + paired)
        return Posture(posture.ways, counts, effort)

    def _weighed(self, before: Ways, after: Ways, octaves: int, moves: Moves) -> Change:
        near, far = travelled(before, after, octaves)
        join, lift = (self._weigh(manner, before, after, near, far) for manner in moves)
        return Change(before, after, octaves, moves, join, lift, np.minimum(join, lift))

    def _weigh(self, manner: Manner, before: Ways, after: Ways, near: Array, far: Array) -> Array:
        """The effort of leaving so, infinite where it cannot be; `near` and `far` as `travelled` says."""
        pairings, travel, everywhere, never = manner
        if never:
            return np.full(near.shape, np.inf)
        effort = self._weigh_pairings(manner, before, after) if pairings else np.zeros(near.shape)
        if travel:
            effort += self.weights[travel.far] * uncrossed(far, travel, before, after)
            if travel.near:
                effort += self.weights[travel.near] * near
        if everywhere:
            effort += sum([self.weights[name] * count for name, count in everywhere.items()])
        return effort

    def _weigh_pairings(self, manner: Manner, before: Ways, after: Ways) -> Array:
        """All pairings in one table, a row for each finger on each key before, a column for each after."""
        rows, columns = before.chosen.shape[1], after.chosen.shape[1]
        table = np.zeros((rows // 5, 5, columns // 5, 5))
        for at, next_at, pairing in manner.paired(columns // 5):
            table[at, :, next_at] = self._weigh_pairing(pairing)
        effort: Array = before.chosen @ table.reshape(rows, columns) @ after.chosen.T
        effort[effort > IMPOSSIBLE / 2] = np.inf
        return effort

    def _weigh_pairing(self, pairing: Pairing) -> Array:
        """The effort of two fingers, `[finger - 1, other finger - 1]`."""
        effort = self._pairings.get(pairing)
        if effort is None:
            effort = np.zeros((5, 5))
            for name, count in pairing.terms.items():
                effort += self.weights[name] * count
            if pairing.can is not None:
                effort[~pairing.can] = IMPOSSIBLE
            self._pairings[pairing] = effort
        return effort

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
            these, those = self.ways(before), self.ways(after)
            found = self._weighed(these, those, next_octave - octave, self._moves(before, after, when))
            _remember(self._changes, key, found)
        return found

    def _moves(self, before: Handful, after: Handful, when: Leaving | None) -> Moves:
        if not after.keys:
            return resting(len((before.memory or before).keys))
        if when is None:
            return starting(before.memory is not None)
        return moves(before.grip, after.grip, when, self.hand, self.keyboard)

    def _shape(self, grip: Grip) -> tuple[int, int]:
        """A number for what a grip looks like wherever it is, and the octave it is in."""
        found = self._shapes.get(grip)
        if found is None:
            octave, keys = in_octave(grip.keys)
            found = self._numbers.setdefault(grip._replace(keys=keys), len(self._numbers)), octave
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
