"""Another way that one hand could have taken: by how much it costs more than the planned one, in what, and where.

What is said of a finger or a lift is the term in which the best other way costs most more, and a reason has to name the
fingers and keys that it means: they are found here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cached_property
from itertools import product
from typing import NamedTuple

from coach.fingering.finished import Finished
from coach.fingering.plan import Side

ALIKE = 0.25
"""Below this difference in effort two ways are alike to a hand, and no reason is given for either."""


class Spot(NamedTuple):
    """Where another way costs more.

    Attributes:
        place: The chord, or the chord that a change leaves.
        moving: Whether it is a change of chord.
        at, other: Places of the two keys that it costs so, counted from the thumb's side, the same twice where one
            finger does by itself; of a change the key before and the key after. None where the whole hand moves.
    """

    place: int
    moving: bool
    at: int | None = None
    other: int | None = None


class Part(NamedTuple):
    """A chord or a change of chord in which another way is not as planned.

    Attributes:
        place: The chord, or the chord that the change leaves.
        moving: Whether it is a change.
        theirs, mine: The counts of the other way and of the planned one.
    """

    place: int
    moving: bool
    theirs: Mapping[str, float]
    mine: Mapping[str, float]


class Instead:
    """Other fingers of one hand in some chords, the rest as planned.

    Args:
        plan: The plan.
        side: The hand.
        rows: The fingering of each chord, one after the other, that may be another than planned.
        joined: A chord that the hand leaves by joining, whatever it costs.
    """

    def __init__(self, plan: Finished, side: Side, rows: Mapping[int, int], joined: int | None = None) -> None:
        self.plan, self.side, self.rows, self.joined = plan, side, rows, joined

    def row(self, place: int) -> int:
        """The fingering of a chord."""
        return self.rows.get(place, self.plan.choices[place].row[self.side])

    def fingers(self, place: int) -> tuple[int, ...]:
        """The fingers on the keys of a chord."""
        choice = self.plan.choices[place]
        return choice.ways[self.side].rows[self.row(place)] if choice.deal.handful(self.side).grip.keys else ()

    @cached_property
    def parts(self) -> tuple[Part, ...]:
        """Where it is not as planned, one after the other."""
        return tuple(self._parts())

    def _parts(self) -> Iterator[Part]:
        plan, side, choices = self.plan, self.side, self.plan.choices
        first, last = max(min(self.rows) - 1, 0), max(self.rows)
        planned = choices[first].row[side]
        row = self.rows.get(first, planned)
        for at in range(first, last + 1):
            if row != planned:
                yield Part(at, False, plan.counts(at, side, row), plan.counts(at, side, planned))
            if at + 1 == len(choices):
                return
            next_planned = choices[at + 1].row[side]
            next_row = self.rows.get(at + 1, next_planned)
            if at == self.joined:
                yield Part(at, True, plan.change(at, side).joined.at(row, next_row), plan.chosen(at, side))
            elif row != planned or next_row != next_planned:
                yield Part(at, True, plan.moved(at, side, row, next_row), plan.chosen(at, side))
            row, planned = next_row, next_planned

    @cached_property
    def grown(self) -> dict[str, float]:
        """By how much each term is greater than as planned, in effort."""
        more: dict[str, float] = {}
        for _, _, theirs, mine in self.parts:
            for name, count in theirs.items():
                more[name] = more.get(name, 0.0) + count
            for name, count in mine.items():
                more[name] = more.get(name, 0.0) - count
        weights = self.plan.weights
        return {name: weights[name] * count for name, count in more.items() if count}

    @property
    def lifts(self) -> list[int]:
        """The chords that are left by a lift where the plan joins."""
        first, last = max(min(self.rows) - 1, 0), min(max(self.rows), len(self.plan.choices) - 2)
        return [
            place
            for place in range(first, last + 1)
            if place != self.joined and not self.plan.lifts(place, self.side) and self._lifts(place)
        ]

    def _lifts(self, place: int) -> bool:
        return self.plan.change(place, self.side).lifts(self.row(place), self.row(place + 1))

    def spot(self, term: str) -> Spot:
        """Where a term grows most; it does grow."""
        part = max(self.parts, key=lambda one: one.theirs.get(term, 0.0) - one.mine.get(term, 0.0))
        place = part.place
        best: tuple[float, int, int] | None = None
        for at, other, more in self._moved(term, place) if part.moving else self._held(term, place):
            if more > 0 and (best is None or more > best[0]):
                best = more, at, other
        return Spot(place, part.moving) if best is None else Spot(place, part.moving, *best[1:])

    def _held(self, term: str, place: int) -> Iterator[tuple[int, int, float]]:
        """By how much each two fingers of a chord have more of a term."""
        theirs, mine = self.fingers(place), self.plan.choices[place].fingers(self.side)
        for at, other, pairing in self.plan.posture(place, self.side).paired:
            there = pairing.at(theirs[at], theirs[other]).get(term, 0.0)
            yield at, other, there - pairing.at(mine[at], mine[other]).get(term, 0.0)

    def _moved(self, term: str, place: int) -> Iterator[tuple[int, int, float]]:
        """By how much each two fingers of a change have more of a term than in the planned one."""
        change, choices = self.plan.change(place, self.side), self.plan.choices
        joins = place == self.joined or not self._lifts(place)
        theirs = change.joining if joins else change.lifting
        mine = change.lifting if self.plan.lifts(place, self.side) else change.joining
        count = len(choices[place + 1].deal.handful(self.side).keys)
        pairs = product(self.fingers(place), self.fingers(place + 1))
        planned = product(choices[place].fingers(self.side), choices[place + 1].fingers(self.side))
        for number, (pair, own) in enumerate(zip(pairs, planned, strict=True)):
            there, here = (manner.pairings[number] if manner.pairings else None for manner in (theirs, mine))
            more = there.at(*pair).get(term, 0.0) if there else 0.0
            yield *divmod(number, count), more - (here.at(*own).get(term, 0.0) if here else 0.0)
