"""Which voice each note of a chord belongs to, where the page does not say: a small optimisation.

Notes are handed to voices from left to right so that the whole costs least: small steps in every voice, no crossing
without need, everybody in range, nobody changing staff or the file's own numbering without reason. The weights are
common practice in part writing (voices move by step, keep their order and their range); no source. The search keeps
the best few states at every onset (a beam), which bounds its time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations, pairwise

from coach.score.page import Mark
from coach.score.piece import Quarters

BEAM = 16
"""States kept at every onset."""

CROSSING = 7.0
"""Cost of two neighbouring voices that sound crossed; their distance in semitones comes on top."""

STAFF_CHANGE = 9.0
"""Cost of a voice that goes on on another staff."""

LINE_CHANGE = 3.0
"""Cost of a voice that goes on in another of the file's own voices."""

LINES_CROSSED = 5.0
"""Cost of giving the file's upper voice of a staff to a lower voice than its lower one."""

DIVIDED = 25.0
"""Cost of a voice that takes a second note."""

OUTER_RESTS = 2.0
"""Cost of silence in the highest or the lowest voice while an inner one sounds."""

OUT_OF_RANGE = 1.0
"""Cost of every semitone beyond a voice's range."""

FORGOTTEN = Fraction(8)
"""After so many quarter notes of rest a voice may start anywhere at half the cost of a leap."""

RANGES = {4: ((58, 83), (52, 77), (46, 69), (36, 64))}
"""Usual ranges of four singing voices as MIDI numbers, generously (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class _State:
    """What the search remembers: the last note of every voice, and how it came here."""

    cost: float
    last: tuple[int | None, ...]
    before: _State | None
    given: tuple[tuple[int, int], ...]
    """Notes given at this onset, each with its voice."""


def usual_count(marks: Sequence[Mark]) -> int:
    """How many voices a page has: the most notes that sound together for at least a tenth of its sounding time."""
    changes: dict[Quarters, int] = {}
    for mark in marks:
        changes[mark.onset] = changes.get(mark.onset, 0) + 1
        changes[mark.end] = changes.get(mark.end, 0) - 1
    times: dict[int, Quarters] = {}
    sounding, places = 0, sorted(changes)
    for place, until in pairwise(places):
        sounding += changes[place]
        times[sounding] = times.get(sounding, Fraction(0)) + until - place
    total = sum((time for count, time in times.items() if count), Fraction(0))
    reached = Fraction(0)
    for count in sorted(times, reverse=True):
        reached += times[count]
        if count <= 1 or reached * 10 >= total:
            return max(count, 1)
    return 1


def separate(marks: Sequence[Mark], count: int) -> list[int]:
    """Hand every note to one of `count` voices.

    Args:
        marks: Notes without ties (each one a whole note); `part`, `staff` and `line` are taken as hints.
        count: How many voices there are.

    Returns:
        For every note the index of its voice, 0 for the highest.
    """
    search = _Search(marks, count)
    slices: dict[Quarters, list[int]] = {}
    for place, mark in enumerate(marks):
        slices.setdefault(mark.onset, []).append(place)
    states = [_State(0.0, (None,) * count, None, ())]
    for onset in sorted(slices):
        notes = sorted(slices[onset], key=lambda place: search.height(place))
        found: dict[tuple[int | None, ...], _State] = {}
        for state in states:
            for following in search.following(state, onset, notes):
                known = found.get(following.last)
                if known is None or following.cost < known.cost:
                    found[following.last] = following
        states = sorted(found.values(), key=lambda state: state.cost)[:BEAM]
    voices = [0] * len(marks)
    best: _State | None = states[0]
    while best is not None:
        for place, voice in best.given:
            voices[place] = voice
        best = best.before
    return voices


class _Search:
    def __init__(self, marks: Sequence[Mark], count: int) -> None:
        self.marks = marks
        self.count = count
        self.ranges = RANGES.get(count)
        self.staves = [(mark.part, mark.staff) for mark in marks]

    def height(self, place: int) -> tuple[object, ...]:
        """Notes of one onset from the top: by pitch, on a unison by staff and line."""
        mark = self.marks[place]
        return (-mark.midi, self.staves[place], _natural(mark.line))

    def following(self, state: _State, onset: Quarters, notes: list[int]) -> list[_State]:
        """All ways worth trying to hand out the notes of one onset."""
        free = [
            voice for voice in range(self.count) if (last := state.last[voice]) is None or self.marks[last].end <= onset
        ]
        held = {voice: last for voice, last in enumerate(state.last) if voice not in free and last is not None}
        ways: list[tuple[list[int], list[int]]] = []
        if len(notes) <= len(free):
            ways = [(notes, list(voices)) for voices in combinations(free, len(notes))]
        else:
            ways = [(list(some), list(free)) for some in combinations(notes, len(free))][:300]
        found = []
        for some, voices in ways:
            spare = [place for place in notes if place not in some]
            for order in _orders(voices):
                found.append(self._way(state, onset, some, order, spare, held))
        return found

    def _way(
        self, state: _State, onset: Quarters, some: list[int], voices: list[int], spare: list[int], held: dict[int, int]
    ) -> _State:
        cost = state.cost
        sounding = dict(held)
        last = list(state.last)
        given = list(zip(some, voices, strict=True))
        for place, voice in given:
            cost += self._step(place, voice, state.last[voice], onset)
            sounding[voice] = place
            last[voice] = place
        for place in spare:
            voice = self._nearest(place, sounding)
            cost += DIVIDED
            given.append((place, voice))
        cost += self._order_cost(sounding)
        if sounding:
            cost += OUTER_RESTS * ((0 not in sounding) + (self.count - 1 not in sounding))
        return _State(cost, tuple(last), state, tuple(given))

    def _step(self, place: int, voice: int, before: int | None, onset: Quarters) -> float:
        mark = self.marks[place]
        cost = 0.0
        if self.ranges:
            low, high = self.ranges[voice]
            cost += OUT_OF_RANGE * max(low - mark.midi, mark.midi - high, 0)
        if before is None:
            return cost
        earlier = self.marks[before]
        leap = float(min(abs(mark.midi - earlier.midi), 24))
        cost += leap / 2 if onset - earlier.end >= FORGOTTEN else leap
        if self.staves[before] != self.staves[place]:
            cost += STAFF_CHANGE
        elif earlier.line != mark.line:
            cost += LINE_CHANGE
        return cost

    def _order_cost(self, sounding: dict[int, int]) -> float:
        cost = 0.0
        order = sorted(sounding)
        for upper, lower in pairwise(order):
            above, below = self.marks[sounding[upper]], self.marks[sounding[lower]]
            if above.midi < below.midi:
                cost += CROSSING + below.midi - above.midi
            if (above.part, above.staff) > (below.part, below.staff):
                cost += STAFF_CHANGE
            same = self.staves[sounding[upper]] == self.staves[sounding[lower]]
            if same and _natural(above.line) > _natural(below.line):
                cost += LINES_CROSSED
        return cost

    def _nearest(self, place: int, sounding: dict[int, int]) -> int:
        midi = self.marks[place].midi
        return min(sounding, key=lambda voice: (abs(self.marks[sounding[voice]].midi - midi), voice), default=0)


def _orders(voices: list[int]) -> list[list[int]]:
    """The voices in order, and every order that one or two exchanges of separate neighbours make."""
    swaps = range(len(voices) - 1)
    orders = [voices]
    for first in swaps:
        orders.append(_swapped(voices, first))
        orders += [_swapped(orders[-1], second) for second in swaps if second > first + 1]
    return orders


def _swapped(voices: list[int], place: int) -> list[int]:
    return [*voices[:place], voices[place + 1], voices[place], *voices[place + 2 :]]


def _natural(line: str) -> tuple[int, str]:
    """Order of a file's own voice numbers: "2" before "10", names after numbers."""
    head = line.split(".")[0]
    return (int(head), line) if head.isdigit() else (10_000, line)
