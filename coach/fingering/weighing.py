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
from coach.fingering.keyboard import OCTAVE, Keyboard
from coach.fingering.moving import Leaving, Moves, leaving, moves, resting, starting
from coach.fingering.outer_line import Place
from coach.fingering.weights import Weights

MOST_REMEMBERED = 200_000
"""Grips, pairs of fingers or changes remembered before all are forgotten, which bounds the memory of a long session.
Only the numbers of shapes are kept for good: a shape is the same in every octave, and there are few."""

IMPOSSIBLE = 1e9
"""Stands for what cannot be while efforts are added up: more than any phrase can cost."""

NO_EFFORT = np.zeros((5, 5))
"""The effort of two fingers that mean nothing."""


@dataclass(frozen=True, slots=True, eq=False)
class Posture:
    """One hand's chord.

    Attributes:
        ways: Its fingerings.
        paired: What the fingers on its keys mean.
        effort: Of each fingering, shape `(ways,)`.
    """

    ways: Ways
    paired: tuple[Paired, ...]
    effort: Array

    @property
    def counts(self) -> ChordCounts:
        """The terms."""
        return ChordCounts(self.ways, self.paired)


@dataclass(frozen=True, slots=True, eq=False)
class Change:
    """One hand's change of chord.

    Attributes:
        before, after: The fingerings of both chords.
        octaves: How many octaves the chord after lies further out than its fingerings say.
        joining, lifting: What both ways of leaving mean.
        join, lift: Their effort, infinite where it cannot be; shape `(ways before, ways after)`.
        least: The lesser of the two.
    """

    before: Ways
    after: Ways
    octaves: int
    joining: Manner
    lifting: Manner
    join: Array
    lift: Array
    least: Array

    @property
    def joined(self) -> MoveCounts:
        """The terms of joining."""
        return MoveCounts(self.before, self.after, self.octaves, self.joining)

    @property
    def lifted(self) -> MoveCounts:
        """The terms of lifting."""
        return MoveCounts(self.before, self.after, self.octaves, self.lifting)

    def lifts(self, before: int, after: int) -> bool:
        """Whether lifting is the lesser way of leaving between two fingerings; joining comes first where both are
        equal."""
        return bool(self.join[before, after] > self.lift[before, after])

    def at(self, before: int, after: int) -> dict[str, float]:
        """The terms of the lesser way of leaving between two fingerings."""
        return (self.lifted if self.lifts(before, after) else self.joined).at(before, after)


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
        self._prices = weights.prices
        self._shapes: dict[Grip | tuple[int, ...], tuple[int, int]] = {}
        self._numbers: dict[Grip | tuple[int, ...], int] = {}
        self._postures: dict[tuple[int, tuple[bool, ...] | None], Posture] = {}
        self._in_line: dict[tuple[object, ...], Posture] = {}
        self._pairings: dict[Pairing, Array] = {}
        self._tables: dict[tuple[tuple[Pairing | None, ...], int], Array] = {}
        self._whens: dict[Leaving | None, int] = {}
        self._changes: dict[tuple[int, int, int, int], Change] = {}

    def posture(self, grip: Grip, place: Place | None = None, again: tuple[bool, ...] | None = None) -> Posture:
        """Every fingering of a grip and its effort.

        Args:
            grip: The keys.
            place: Where the chord stands in the hand's line, where that is known.
            again: Which of its keys are black and sounded in the chord before; None for none.
        """
        number, octave = self._shape(grip)
        found = self._postures.get((number, again))
        if found is None:
            found = self._posture(grip._replace(keys=in_octave(grip.keys)[1]), again)
            _remember(self._postures, (number, again), found)
        if place is None:
            return found
        shift = OCTAVE * octave
        key: tuple[object, ...] = (number, again, place.lowest - shift, place.highest - shift)
        if len(grip.keys) == 1:
            key += (place.frame.thumb_side - shift, place.frame.outside - shift, place.repeats)
        there = self._in_line.get(key)
        if there is None:
            there = self._added(found, in_line(grip, self.hand, self.keyboard, place))
            _remember(self._in_line, key, there)
        return there

    def _posture(self, grip: Grip, again: tuple[bool, ...] | None) -> Posture:
        them = ways(grip, self.hand, self.keyboard)
        paired = posture(grip, self.hand, self.keyboard, again)
        keys = len(grip.keys)
        table = np.zeros((keys, 5, keys, 5))
        for at, other, pairing in paired:
            table[at, :, other] = self._weigh_pairing(pairing)
        effort = (them.chosen @ table.reshape(5 * keys, 5 * keys) * them.chosen).sum(axis=1)
        return Posture(them, paired, effort)

    def _added(self, posture: Posture, paired: tuple[Paired, ...]) -> Posture:
        """A posture with what more each finger by itself means."""
        if not paired:
            return posture
        effort = posture.effort
        for at, _, pairing in paired:
            effort = effort + self._weigh_pairing(pairing).diagonal()[posture.ways.fingers[:, at] - 1]
        return Posture(posture.ways, posture.paired + paired, effort)

    def _weighed(self, before: Ways, after: Ways, octaves: int, moves: Moves) -> Change:
        near, far = travelled(before, after, octaves)
        join, lift = (self._weigh(manner, before, after, near, far) for manner in moves)
        least = lift if moves.join.never else join if moves.lift.never else np.minimum(join, lift)
        return Change(before, after, octaves, moves.join, moves.lift, join, lift, least)

    def _weigh(self, manner: Manner, before: Ways, after: Ways, near: Array, far: Array) -> Array:
        """The effort of leaving so, infinite where it cannot be; `near` and `far` as `travelled` says."""
        pairings, travel, everywhere, never = manner
        if never:
            return _never(*near.shape)
        effort = self._weigh_pairings(pairings, before, after) if pairings else np.zeros(near.shape)
        if travel:
            effort += self._prices[travel.far] * uncrossed(far, travel, before, after)
            if travel.near:
                effort += self._prices[travel.near] * near
        if everywhere:
            effort += sum([self._prices[name] * count for name, count in everywhere.items()])
        return effort

    def _weigh_pairings(self, pairings: tuple[Pairing | None, ...], before: Ways, after: Ways) -> Array:
        effort: Array = before.chosen @ self._table(pairings, before.chosen.shape[1]) @ after.chosen.T
        effort[effort > IMPOSSIBLE / 2] = np.inf
        return effort

    def _table(self, pairings: tuple[Pairing | None, ...], rows: int) -> Array:
        """All pairings in one table, a row for each finger on each key before, a column for each after."""
        table = self._tables.get((pairings, rows))
        if table is None:
            cells = np.array([NO_EFFORT if pairing is None else self._weigh_pairing(pairing) for pairing in pairings])
            table = cells.reshape(rows // 5, -1, 5, 5).swapaxes(1, 2).reshape(rows, -1)
            _remember(self._tables, (pairings, rows), table)
        return table

    def _weigh_pairing(self, pairing: Pairing) -> Array:
        """The effort of two fingers, `[finger - 1, other finger - 1]`."""
        effort = self._pairings.get(pairing)
        if effort is None:
            effort = np.zeros((5, 5))
            for name, count in pairing.terms.items():
                effort += self._prices[name] * count
            if pairing.can is not None:
                effort[~pairing.can] = IMPOSSIBLE
            _remember(self._pairings, pairing, effort)
        return effort

    def ways(self, handful: Handful) -> Ways:
        """The fingerings of a handful; a resting hand's are those it remembers."""
        playing = handful if handful.grip.keys else handful.memory or handful
        return self.posture(playing.grip).ways

    def change(self, before: Handful, after: Handful) -> Change:
        """One hand's change from one chord to the next."""
        grip = before.grip
        when = leaving(before, after) if grip.keys and after.grip.keys else None
        if not grip.keys and before.memory:
            grip = before.memory.grip
        # As the next chord finds it: which of its keys were struck matters no more, unless they were rolled.
        one, octave = self._shape(grip if grip.rolled else grip.keys)
        two, next_octave = self._shape(after.grip)
        # Plain numbers, which the collector of garbage need not look into.
        key = (one, two, next_octave - octave, self._whens.setdefault(when, len(self._whens)))
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

    def _shape(self, what: Grip | tuple[int, ...]) -> tuple[int, int]:
        """A number for what a grip, or its keys alone, look like wherever they are, and the octave they are in."""
        found = self._shapes.get(what)
        if found is None:
            octave, keys = in_octave(what.keys if isinstance(what, Grip) else what)
            shape = what._replace(keys=keys) if isinstance(what, Grip) else keys
            found = self._numbers.setdefault(shape, len(self._numbers)), octave
            _remember(self._shapes, what, found)
        return found


@lru_cache(maxsize=256)
def _never(before: int, after: int) -> Array:
    """The effort of what cannot be between so many fingerings and so many; shared, and not to be changed."""
    effort = np.full((before, after), np.inf)
    effort.flags.writeable = False
    return effort


def _remember(memory: dict, key: object, value: object) -> None:  # type: ignore[type-arg]
    if len(memory) >= MOST_REMEMBERED:
        memory.clear()
    memory[key] = value


@lru_cache(maxsize=16)
def hand_effort(hand: Hand, keyboard: Keyboard, weights: Weights) -> HandEffort:
    """The one `HandEffort` for a hand, so that pieces planned one after the other share what it remembers."""
    return HandEffort(hand, keyboard, weights)
