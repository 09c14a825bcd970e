"""The best that a hand could do with another finger on a key: what the planned finger is held against.

A note keeps its finger while it sounds, so it is compared through all the chords that the hand holds it in: there the
hand's other fingers are free, before and after it is as planned. Where the chords around leave no other finger so, the
whole phrase is free.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf
from typing import NamedTuple

from coach.fingering.counts import Array
from coach.fingering.finished import Finished
from coach.fingering.instead import Instead
from coach.fingering.plan import Side
from coach.fingering.search import least_of


class Rival(NamedTuple):
    """The best way with another finger on a key.

    Attributes:
        way: The hand's fingers.
        more: How much more effort they are than the planned ones.
    """

    way: Instead
    more: float


class Rivals:
    """Finds the rival of each finger of a finished search."""

    def __init__(self, plan: Finished) -> None:
        self.plan = plan
        self._efforts: dict[tuple[int, Side, int], tuple[list[Array], list[int | None]]] = {}
        self._found: dict[tuple[Side, tuple[tuple[int, int], ...]], Rival] = {}

    def of(self, place: int, side: Side, key: int) -> Rival | None:
        """The best way with another finger on a key that a hand strikes (hand coordinates), None where none is."""
        choice = self.plan.choices[place]
        at, planned = choice.deal.handful(side).keys.index(key), choice.row[side]
        last = self._held_to(place, side, key)
        efforts, best = self._through(place, side, last)
        row = best[at]
        if row is not None:
            rows = {place: row}
            for there in range(place + 1, last + 1):
                change = self.plan.change(there - 1, side).least
                rows[there] = int((change[rows[there - 1]] + efforts[there - place]).argmin())
            return self._instead(side, rows, efforts[0][row] - efforts[0][planned])
        ways = choice.ways[side].rows
        if all(fingers[at] == ways[planned][at] for fingers in ways):
            return None
        line = self.plan.line(side)
        through = line.through(place)
        row = _least(through, ways, planned)[at]
        return None if row is None else self._instead(side, line.around({place: row}), through[row] - through[planned])

    def _held_to(self, place: int, side: Side, key: int) -> int:
        """The last chord through which a hand holds a key."""
        choices, last = self.plan.choices, place
        while last + 1 < len(choices):
            grip = choices[last + 1].deal.handful(side).grip
            if key not in grip.keys or not grip.kept[grip.keys.index(key)]:
                break
            last += 1
        return last

    def _through(self, place: int, side: Side, last: int) -> tuple[list[Array], list[int | None]]:
        """For each of these chords the least effort of every fingering up to the end of the last, and of the change out
        of it, as planned; the first has the change into it as well. And by key the best fingering of the first with
        another finger there."""
        known = self._efforts.get((place, side, last))
        if known is None:
            plan, choices = self.plan, self.plan.choices
            effort = plan.posture(last, side).effort
            if last + 1 < len(choices):
                effort = effort + plan.change(last, side).least[:, choices[last + 1].row[side]]
            found = [effort]
            for there in range(last - 1, place - 1, -1):
                change = plan.change(there, side).least
                found.insert(0, plan.posture(there, side).effort + least_of(change + found[0][None, :], 1))
            if place:
                found[0] = found[0] + plan.change(place - 1, side).least[choices[place - 1].row[side]]
            best = _least(found[0], choices[place].ways[side].rows, choices[place].row[side])
            known = self._efforts[place, side, last] = found, best
        return known

    def _instead(self, side: Side, rows: dict[int, int], more: float) -> Rival:
        """One object for the same way, however many fingers it is a rival of."""
        key = side, tuple(rows.items())
        found = self._found.get(key)
        if found is None:
            found = self._found[key] = Rival(Instead(self.plan, side, rows), float(more))
        return found


def _least(effort: Array, rows: Sequence[Sequence[int]], planned: int) -> list[int | None]:
    """For each key of a chord the fingering of least effort that has another finger there; None where none can be.

    Args:
        effort: Of each fingering, infinite where it cannot be.
        rows: The fingerings.
        planned: The planned one.
    """
    mine = rows[planned]
    found: list[int | None] = [None] * len(mine)
    costs = effort.tolist()
    missing = len(mine)
    for row in sorted(range(len(costs)), key=costs.__getitem__):
        if costs[row] == inf or not missing:
            break
        for at, finger in enumerate(rows[row]):
            if found[at] is None and finger != mine[at]:
                found[at] = row
                missing -= 1
    return found
