"""The exact minimum of effort over a phrase, by dynamic programming.

The states of a chord are its deals (who takes which note) with a fingering of each hand. Given the deals the hands are
independent, so that a change of chord is minimised over the right hand's fingerings first and the left hand's next.

Ways out are admitted chord by chord, as few as will do: a chord takes a way out only where no plan that reached the
chord before it can go on without.

What the player has chosen limits the states that are there without it: a choice is never met by a way out that the
plan would not need otherwise, and planning again around a choice looks at nothing anew.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from threading import RLock
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from coach.errors import CoachError
from coach.fingering.as_written import as_written
from coach.fingering.deals import (
    Deal,
    Fate,
    dealing_effort,
    deals,
    redealing_terms,
    sounding,
)
from coach.fingering.hand import Hands, widest_semitones
from coach.fingering.handful import Grip, Handful, Ways
from coach.fingering.options import Options as Options
from coach.fingering.outer_line import black_again, places
from coach.fingering.plan import SIDES, Side
from coach.fingering.weighing import Change, Posture, hand_effort
from coach.score.counting import place_words
from coach.score.piece import Chord

Matrix = NDArray[np.float64]

MOST_WAYS_OUT = 4
"""Both hands rolled and both let go of all they hold is always possible."""


class State(NamedTuple):
    """A deal with every fingering of both hands.

    Attributes:
        deal: Who takes which note.
        ways: The fingerings of each hand.
        own: Effort of the chord itself, shape `(right ways, left ways)`.
    """

    deal: Deal
    ways: Mapping[Side, Ways]
    own: Matrix


@dataclass(frozen=True)
class Choice:
    """What the minimum does in one chord.

    Attributes:
        deal: Who takes which note.
        row: For each hand which of its fingerings that is.
        ways: For each hand all its fingerings here.
    """

    deal: Deal
    row: Mapping[Side, int]
    ways: Mapping[Side, Ways]

    def fingers(self, side: Side) -> tuple[int, ...]:
        """The finger of every key of a hand."""
        return self.ways[side].rows[self.row[side]] if self.deal.handful(side).grip.keys else ()


@dataclass(frozen=True, eq=False)
class Limits:
    """What is left of a search's states.

    Attributes:
        fingerings: By place and index of a state: which of its fingerings are left, shape `(right ways, left ways)`;
            all of them where nothing is said.
        leaving: By place and hand: how the hand has to leave the chord, "join" standing for a restrike as well.
    """

    fingerings: Mapping[tuple[int, int], NDArray[np.bool_]] = field(default_factory=dict)
    leaving: Mapping[tuple[int, Side], Literal["join", "lift"]] = field(default_factory=dict)

    @property
    def first(self) -> int | None:
        """The first place where less is left than without limits; None where nothing is limited."""
        places = [place for place, _ in self.fingerings] + [place + 1 for place, _ in self.leaving]
        return min(places, default=None)

    def left(self, place: int, index: int, value: Matrix) -> Matrix:
        """The values of a state, infinite where its fingerings are not left."""
        there = self.fingerings.get((place, index))
        return value if there is None else np.where(there, value, np.inf)

    def change(self, place: int, side: Side, change: Change) -> Change:
        """A hand's change out of the chord at a place, infinite where it leaves the chord otherwise."""
        kind = self.leaving.get((place, side))
        if kind is None:
            return change
        never = np.full(change.least.shape, np.inf)
        if kind == "join":
            return replace(change, lift=never, least=change.join)
        return replace(change, join=never, least=change.lift)


FREE = Limits()
"""Nothing is chosen."""

least_of, most_of = np.minimum.reduce, np.maximum.reduce
"""Along an axis, or of all: what `min` and `max` of an array come down to. Arrays here are so small that the way there
costs as much as the work."""


class Reached(NamedTuple):
    """The least effort up to a state, its place in its column, and the effort up to each of its fingerings."""

    least: float
    at: int
    values: Matrix


class Search:
    """Finds the plan of least effort for one phrase and one pair of hands.

    Args:
        chords: The phrase's chords, in order.
        hands: The player.
        options: The player's wishes; the choices among them are for `limited`.

    Attributes:
        columns: The states of each chord that can be reached with as few ways out as will do.
    """

    def __init__(self, chords: Sequence[Chord], hands: Hands, options: Options) -> None:
        self.hands = hands
        self.options = options
        self.weights = options.weights
        self.as_written, self.preference = options.as_written, options.preference
        self.written = as_written(chords) if options.as_written else None
        self.chords = [sounding(chord, before) for before, chord in zip([None, *chords[:-1]], chords, strict=True)]
        self.efforts = {side: hand_effort(hands.hand(side), hands.keyboard, self.weights) for side in SIDES}
        self.lines = {side: places(chords, side, self.written) for side in SIDES}
        self._black_again = {side: black_again(chords, side) for side in SIDES}
        self._widest = (widest_semitones(hands.right, hands.keyboard), widest_semitones(hands.left, hands.keyboard))
        self.columns: list[list[State]] = []
        self.bars = [(chord.bar, chord.beat) for chord in chords]
        self.onsets = {chord.onset: place for place, chord in enumerate(chords)}
        self._values: list[list[Matrix]] = []
        self._cheapest_first: list[list[Reached]] = []
        self._groups: dict[int, dict[tuple[Fate, ...], list[int]]] = {}
        self._changes: dict[tuple[int, int, Side], Change] = {}
        self._handfuls: dict[Handful, Handful] = {}
        self._postures: dict[tuple[int, Side, Handful], Posture] = {}
        self._lock = RLock()

    def best(self) -> tuple[float, list[Choice]]:
        """The least effort and what reaches it, whatever the player has chosen.

        Raises:
            CoachError: no plan meets the player's wishes.
        """
        return self.free

    @cached_property
    def free(self) -> tuple[float, list[Choice]]:
        """The same, worked out once, by whichever thread comes first."""
        with self._lock:
            while len(self.columns) < len(self.chords):
                self._open(len(self.columns))
            return self._trace(self._cheapest_first, FREE)

    def _open(self, place: int) -> None:
        """Find the states of a chord and the least effort up to each of their fingerings."""
        before = self._cheapest_first[-1] if place else []
        for ways_out in range(MOST_WAYS_OUT + 1):
            states = self._states(place, ways_out)
            reached = [self._value(place, state, before, FREE) for state in states]
            least = [float(least_of(value, None)) for value in reached]
            keep = [index for index, effort in enumerate(least) if effort < np.inf]
            if keep:
                self.columns.append([states[index] for index in keep])
                self._values.append([reached[index] for index in keep])
                self._cheapest_first.append(
                    sorted([Reached(least[index], at, reached[index]) for at, index in enumerate(keep)])
                )
                return
        raise CoachError(f"{place_words(*self.bars[place])}: no hand can play what is wished for here")

    def limited(self, limits: Limits) -> tuple[float, list[Choice]] | None:
        """The least effort within limits and what reaches it; None where nothing does."""
        values = self.forward(limits)
        if len(values) < len(self.chords):
            return None
        return self._trace([cheapest_first(column) for column in values], limits)

    def forward(self, limits: Limits) -> list[list[Matrix]]:
        """The least effort up to each fingering of each state, for the chords that can be reached within limits."""
        _ = self.free
        first = limits.first
        if first is None:
            return self._values
        values = self._values[:first]
        for place in range(first, len(self.columns)):
            before = cheapest_first(values[-1]) if place else []
            reached = [
                limits.left(place, index, self._value(place, state, before, limits))
                for index, state in enumerate(self.columns[place])
            ]
            if not any(value.min() < np.inf for value in reached):
                break
            values.append(reached)
        return values

    def beyond(self, limits: Limits) -> list[list[Matrix]]:
        """The least effort after each fingering of each state within limits, to the end of the phrase."""
        _ = self.free
        last = len(self.columns) - 1
        values = [[np.zeros(state.own.shape) for state in self.columns[last]]]
        for place in range(last - 1, -1, -1):
            following = [
                limits.left(place + 1, index, state.own + value)
                for index, (state, value) in enumerate(zip(self.columns[place + 1], values[0], strict=True))
            ]
            values.insert(0, [self._beyond(place, state, following, limits) for state in self.columns[place]])
        return values

    def _beyond(self, place: int, state: State, following: list[Matrix], limits: Limits) -> Matrix:
        best = np.full(state.own.shape, np.inf)
        for after, value in zip(self.columns[place + 1], following, strict=True):
            change = self.change(place + 1, state, after, limits)
            if change is None:
                continue
            right, left, constant = change
            # The way back is the way there with each hand's change turned round.
            np.minimum(best, over(value, right.T, left.T, constant), out=best)
        return best

    def _states(self, place: int, ways_out: int) -> list[State]:
        states = []
        previous = self.columns[-1] if place else []
        for inherited in dict.fromkeys(self._inherited(place, state) for state in previous) or [()]:
            found = deals(self.chords[place], inherited, ways_out, self.written, self._widest)
            for deal in found:
                for remembered in self._remembering(deal, previous):
                    state = self._state(remembered, place)
                    if state is not None:
                        states.append(state)
        return states

    def _inherited(self, place: int, before: State | Choice) -> tuple[Fate, ...]:
        """The fates of the notes that a chord holds over from a state of the chord before it."""
        return tuple(before.deal.fates[earlier] for earlier in self.chords[place].held_over)

    def _remembering(self, deal: Deal, previous: Sequence[State]) -> list[Deal]:
        """A deal for every handful that a resting hand may have played last."""
        found = [deal]
        if deal.right.grip.keys and deal.left.grip.keys:
            return found
        for side in SIDES:
            if deal.handful(side).keys:
                continue
            last = dict.fromkeys(_last_played(state.deal.handful(side)) for state in previous)
            found = [one.remembering(side, memory) for one in found for memory in last or [None]]
        return found

    def _state(self, deal: Deal, place: int) -> State | None:
        # One object a handful, so that the change from one to another is looked up once.
        right, left = self._one(deal.right), self._one(deal.left)
        if right is not deal.right or left is not deal.left:
            deal = deal._replace(right=right, left=left)
        if deal.ways_out and any(self._need_not_roll(side, deal.handful(side).grip) for side in SIDES):
            return None
        of_right, of_left = self.posture(place, "right", right), self.posture(place, "left", left)
        if not (of_right.ways.rows and of_left.ways.rows):
            return None
        own = of_right.effort[:, None] + of_left.effort[None, :]
        own += dealing_effort(deal, self.as_written, self.preference, self.weights)
        return State(deal, {"right": of_right.ways, "left": of_left.ways}, own)

    def _need_not_roll(self, side: Side, grip: Grip) -> bool:
        return grip.rolled and len(self.efforts[side].posture(grip._replace(rolled=False)).ways) > 0

    def posture(self, place: int, side: Side, handful: Handful) -> Posture:
        """A hand's fingerings in a chord, with their terms and their effort; a resting hand's cost nothing, whatever
        fingers it has in mind."""
        key = (place, side, handful)
        found = self._postures.get(key)
        if found is None:
            found = self._postures[key] = self._posture(place, side, handful)
        return found

    def _posture(self, place: int, side: Side, handful: Handful) -> Posture:
        grip, black = handful.grip, self._black_again[side][place]
        if not grip.keys:
            ways = self.efforts[side].ways(handful)
            return Posture(ways, (), np.zeros(len(ways)))
        again = tuple([key in black for key in grip.keys]) if black.intersection(grip.keys) else None
        return self.efforts[side].posture(grip, self.lines[side][place], again)

    def _one(self, handful: Handful) -> Handful:
        return self._handfuls.setdefault(handful, handful)

    def _value(self, place: int, state: State, before: list[Reached], limits: Limits) -> Matrix:
        """Least effort up to this state, shape `(right ways, left ways)`.

        Args:
            before: The states of the chord before, the cheapest first.
        """
        if not place:
            return state.own
        best: Matrix | None = None
        worst = np.inf
        leading = self._leading_to(place, state)
        for least, index, reached in before:
            # No change costs less than nothing: what is dearer already cannot lead to anything cheaper.
            if least >= worst:
                break
            if index not in leading:
                continue
            change = self._change(place, self.columns[place - 1][index], state, limits, worst - least)
            if change is not None:
                value = over(reached, *change)
                best = value if best is None else np.minimum(best, value, out=best)
                worst = float(most_of(best, None))
        return np.full(state.own.shape, np.inf) if best is None else best + state.own

    def _leading_to(self, place: int, state: State) -> Sequence[int]:
        """The states of the chord before that hold over what this one goes on from, by their index."""
        if place not in self._groups:
            groups: dict[tuple[Fate, ...], list[int]] = {}
            for index, before in enumerate(self.columns[place - 1]):
                groups.setdefault(self._inherited(place, before), []).append(index)
            self._groups[place] = groups
        return self._groups[place].get(state.deal.inherited, ())

    def change(
        self, place: int, before: State | Choice, after: State | Choice, limits: Limits = FREE
    ) -> tuple[Matrix, Matrix, float] | None:
        """Effort of the change into a chord for each hand and for the dealing; None where it cannot be."""
        if after.deal.inherited != self._inherited(place, before):
            return None
        return self._change(place, before, after, limits)

    def _change(
        self, place: int, before: State | Choice, after: State | Choice, limits: Limits, most: float = np.inf
    ) -> tuple[Matrix, Matrix, float] | None:
        """The same for states that hold over the same; None as well where the dealing alone costs so much."""
        one, two = before.deal, after.deal
        for old, new in ((one.right, two.right), (one.left, two.left)):
            if not new.grip.keys and _last_played(old) != new.memory:
                return None
        constant = 0.0
        if not self.as_written:
            for name, count in redealing_terms(one, self.chords[place], two).items():
                constant += self.weights.prices[name] * count
            if constant >= most:
                return None
        right, left = self.move("right", before, after), self.move("left", before, after)
        if limits is not FREE:
            right, left = limits.change(place - 1, "right", right), limits.change(place - 1, "left", left)
        return right.least, left.least, constant

    def move(self, side: Side, before: State | Choice, after: State | Choice) -> Change:
        """One hand's change from one chord to the next."""
        one, two = before.deal, after.deal
        old, new = (one.right, two.right) if side == "right" else (one.left, two.left)
        key = (id(old), id(new), side)
        found = self._changes.get(key)
        if found is None:
            found = self._changes[key] = self.efforts[side].change(old, new)
        return found

    def _trace(self, reached: list[list[Reached]], limits: Limits) -> tuple[float, list[Choice]]:
        """The plan of least effort, from that up to the states of every chord, the cheapest of each chord first."""
        effort, at, values = reached[-1][0]
        right, left = divmod(int(values.argmin()), values.shape[1])
        choices: list[Choice] = []
        columns = self.columns
        for place in range(len(columns) - 1, -1, -1):
            state = columns[place][at]
            choices.append(Choice(state.deal, {"right": right, "left": left}, state.ways))
            if not place:
                break
            best = np.inf
            leading = self._leading_to(place, state)
            for least, index, values in reached[place - 1]:
                if least > best:
                    break
                if index not in leading:
                    continue
                change = self._change(place, columns[place - 1][index], state, limits)
                if change is None:
                    continue
                costs = values + change[0][:, right, None] + change[1][:, left] + change[2]
                cheapest = int(costs.argmin())
                cost = float(costs.flat[cheapest])
                # The first state of the column is taken where several cost the same.
                if cost < best or (cost == best and index < at):
                    best, at = cost, index
                    row = divmod(cheapest, costs.shape[1])
            right, left = row
        return effort, choices[::-1]


def cheapest_first(values: Sequence[Matrix]) -> list[Reached]:
    """The states of a column by the least effort up to them."""
    return sorted([Reached(float(least_of(value, None)), index, value) for index, value in enumerate(values)])


def over(value: Matrix, right: Matrix, left: Matrix, constant: float) -> Matrix:
    """The least effort up to each fingering after a change, from that up to each fingering before it."""
    over_right = least_of(value[:, :, None] + right[:, None, :], 0)
    both: Matrix = least_of(over_right[:, :, None] + left[:, None, :], 0)
    return both + constant


def search_of(chords: Sequence[Chord], hands: Hands, options: Options) -> Search:
    """The search for a phrase, kept for a while: planning it again around the player's choices is quick.

    What is chosen, and the pedal, change nothing about it.
    """
    return kept_search(tuple(chords), hands, replace(options, choices=(), pedal=False))


kept_search = lru_cache(maxsize=24)(Search)


def _last_played(handful: Handful) -> Handful | None:
    return handful if handful.keys else handful.memory
