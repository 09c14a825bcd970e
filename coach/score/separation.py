"""Which voice each note of a chord belongs to, where the page does not say: a small optimisation.

Notes are handed to voices from left to right so that the whole costs least: small steps in every voice, no crossing
without need, everybody in range, nobody changing staff or the file's own numbering without reason. The weights are
common practice in part writing (voices move by step, keep their order and their range); no source. The search keeps
the best few states at every onset (a beam), which bounds its time.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from heapq import nsmallest
from itertools import combinations, islice, pairwise
from math import comb, lcm
from typing import Any

from coach.score.page import Mark
from coach.score.piece import Quarters

BEAM = 6
"""States kept at every onset."""

MOST_TRIES = 1_500_000
"""Ways tried altogether; where a long piece has many voices, fewer states are kept."""

CROSSING = 7.0
"""Cost of two neighbouring voices that sound crossed; their distance in semitones comes on top."""

STAFF_CHANGE = 9.0
"""Cost of a voice that goes on on another staff."""

LINE_CHANGE = 3.0
"""Cost of a voice that goes on in another of the file's own voices."""

LINES_CROSSED = 10.0
"""Cost of giving the file's upper voice of a staff to a lower voice than its lower one."""

DIVIDED = 25.0
"""Cost of a voice that takes a second note."""

OUTER_RESTS = 2.0
"""Cost of silence in the highest or the lowest voice while an inner one sounds."""

OUT_OF_RANGE = 1.0
"""Cost of every semitone beyond a voice's range."""

MOST_WAYS = 60
"""Choices of voices tried for the notes of one onset; four voices have at most six."""

MOST_CROSSING = 5
"""Most notes struck at once among which crossing voices are looked for; of more, nobody could follow them."""

FORGOTTEN = Fraction(8)
"""After so many quarter notes of rest a voice may start anywhere at half the cost of a leap."""

OFTEN = Fraction(1, 7)
"""Share of the sounding time for which a voice is there often."""

RANGES = {4: ((58, 83), (52, 77), (46, 69), (36, 64))}
"""Usual ranges of four singing voices as MIDI numbers, generously (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class _State:
    """What the search remembers: the last note of every voice (-1 for none), and how it came here."""

    cost: float
    last: tuple[int, ...]
    before: _State | None
    given: tuple[tuple[int, int], ...]
    """Notes given at this onset, each with its voice."""


def usual_count(marks: Sequence[Mark], share: Fraction = OFTEN) -> int:
    """How many voices a page has: the most notes that sound together often.

    Often is more than twice, and for a share of the sounding time.
    """
    changes: dict[Quarters, int] = {}
    for mark in marks:
        changes[mark.onset] = changes.get(mark.onset, 0) + 1
        changes[mark.end] = changes.get(mark.end, 0) - 1
    times: dict[int, Quarters] = {}
    often: dict[int, int] = {}
    sounding, places = 0, sorted(changes)
    for place, until in pairwise(places):
        sounding += changes[place]
        times[sounding] = times.get(sounding, Fraction(0)) + until - place
        often[sounding] = often.get(sounding, 0) + 1
    total = sum((time for count, time in times.items() if count), Fraction(0))
    reached, seen = Fraction(0), 0
    for count in sorted(times, reverse=True):
        reached += times[count]
        seen += often[count]
        if count <= 1 or (reached >= share * total and (seen > 2 or seen == sum(often.values()))):
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
    slices: dict[int, list[int]] = {}
    for place in search.by_height:
        slices.setdefault(search.starts[place], []).append(place)
    tries = sum(_tries(len(notes), count) for notes in slices.values())
    beam = max(1, min(BEAM, MOST_TRIES // tries))
    states = [_State(0.0, (-1,) * count, None, ())]
    for onset in sorted(slices):
        found: dict[tuple[int, ...], _State] = {}
        for state in states:
            for following in search.following(state, onset, slices[onset]):
                known = found.get(following.last)
                if known is None or following.cost < known.cost:
                    found[following.last] = following
        states = nsmallest(beam, found.values(), key=lambda state: state.cost)
    voices = [0] * len(marks)
    best: _State | None = states[0]
    while best is not None:
        for place, voice in best.given:
            voices[place] = voice
        best = best.before
    return voices


class _Search:
    """The notes as plain numbers, because the search compares them very often."""

    def __init__(self, marks: Sequence[Mark], count: int) -> None:
        self.count = count
        self.ranges = RANGES.get(count, ((0, 127),) * count)
        common = lcm(*(mark.onset.denominator for mark in marks), *(mark.duration.denominator for mark in marks))
        self.starts = [int(mark.onset * common) for mark in marks]
        self.ends = [start + int(mark.duration * common) for start, mark in zip(self.starts, marks, strict=True)]
        self.forgotten = int(FORGOTTEN * common)
        self.keys = [mark.midi for mark in marks]
        self.staves = _ranks([(mark.part, mark.staff) for mark in marks])
        self.lines = _ranks([_natural(mark.line) for mark in marks])
        self.by_height = sorted(
            range(len(marks)), key=lambda place: (-self.keys[place], self.staves[place], self.lines[place])
        )

    def following(self, state: _State, onset: int, notes: list[int]) -> Iterator[_State]:
        """All ways worth trying to hand out the notes of one onset, which stand from the top."""
        ends, last = self.ends, state.last
        free = [voice for voice in range(self.count) if last[voice] < 0 or ends[last[voice]] <= onset]
        held = {voice: last[voice] for voice in range(self.count) if voice not in free}
        steps = {(place, voice): self._step(place, voice, last[voice], onset) for place in notes for voice in free}
        if len(notes) <= len(free):
            ways = ((notes, voices) for voices in islice(combinations(free, len(notes)), MOST_WAYS))
        else:
            ways = ((list(some), tuple(free)) for some in islice(combinations(notes, len(free)), MOST_WAYS))
        for some, voices in ways:
            spare = [place for place in notes if place not in some] if len(some) < len(notes) else []
            for order in _orders(voices, self._worth_crossing(some, voices, steps)):
                yield self._way(state, some, order, spare, held, steps)

    def _worth_crossing(
        self, some: list[int], voices: tuple[int, ...], steps: dict[tuple[int, int], float]
    ) -> list[int]:
        """Neighbours that may exchange their notes: those whose steps get smaller by it, or whom the page parts.

        On a unison it matters who takes the longer note.
        """
        if len(some) > MOST_CROSSING:
            return []
        found = []
        for place, ((upper, lower), (one, other)) in enumerate(zip(pairwise(some), pairwise(voices), strict=True)):
            parted = self.staves[upper] != self.staves[lower] or self.lines[upper] != self.lines[lower]
            parted = parted or self.keys[upper] == self.keys[lower]
            straight = steps[upper, one] + steps[lower, other]
            if parted or steps[upper, other] + steps[lower, one] < straight:
                found.append(place)
        return found

    def _way(
        self,
        state: _State,
        some: list[int],
        voices: tuple[int, ...],
        spare: list[int],
        held: dict[int, int],
        steps: dict[tuple[int, int], float],
    ) -> _State:
        sounding = dict(held)
        last = list(state.last)
        given = list(zip(some, voices, strict=True))
        cost = state.cost
        for pair in given:
            cost += steps[pair]
            sounding[pair[1]] = last[pair[1]] = pair[0]
        for place in spare:
            voice = min(
                sounding, key=lambda voice: (abs(self.keys[sounding[voice]] - self.keys[place]), voice), default=0
            )
            cost += DIVIDED
            given.append((place, voice))
        cost += self._order_cost(sounding)
        return _State(cost, tuple(last), state, tuple(given))

    def _step(self, place: int, voice: int, before: int, onset: int) -> float:
        key = self.keys[place]
        low, high = self.ranges[voice]
        cost = OUT_OF_RANGE * max(low - key, key - high, 0)
        if before < 0:
            return cost
        leap = min(abs(key - self.keys[before]), 24)
        cost += leap / 2 if onset - self.ends[before] >= self.forgotten else leap
        if self.staves[before] != self.staves[place]:
            return cost + STAFF_CHANGE
        return cost + LINE_CHANGE * (self.lines[before] != self.lines[place])

    def _order_cost(self, sounding: dict[int, int]) -> float:
        cost = OUTER_RESTS * ((0 not in sounding) + (self.count - 1 not in sounding)) if sounding else 0.0
        for upper, lower in pairwise(sorted(sounding)):
            above, below = sounding[upper], sounding[lower]
            if self.keys[above] < self.keys[below]:
                cost += CROSSING + self.keys[below] - self.keys[above]
            if self.staves[above] > self.staves[below]:
                cost += STAFF_CHANGE
            elif self.staves[above] == self.staves[below] and self.lines[above] > self.lines[below]:
                cost += LINES_CROSSED
        return cost


def _tries(notes: int, count: int) -> int:
    """At most how many ways are tried for so many notes struck at once."""
    struck = min(notes, count)
    return min(comb(max(notes, count), struck), MOST_WAYS) * len(
        _orders(tuple(range(struck)), range(min(struck, MOST_CROSSING) - 1))
    )


def _orders(voices: tuple[int, ...], swaps: Sequence[int]) -> list[tuple[int, ...]]:
    """The voices in order, and every order that one or two exchanges of separate neighbours make.

    Args:
        voices: In order.
        swaps: Neighbours to exchange, by the place of the upper one.
    """
    orders = [voices]
    for first in swaps:
        orders.append(_swapped(voices, first))
        orders += [_swapped(orders[-1], second) for second in swaps if second > first + 1]
    return orders


def _swapped(voices: tuple[int, ...], place: int) -> tuple[int, ...]:
    return (*voices[:place], voices[place + 1], voices[place], *voices[place + 2 :])


def _ranks(values: Sequence[tuple[int, Any]]) -> list[int]:
    order = {value: rank for rank, value in enumerate(sorted(set(values)))}
    return [order[value] for value in values]


def _natural(line: str) -> tuple[int, str]:
    """Order of a file's own voice numbers: "2" before "10", names after numbers."""
    head = line.split(".")[0]
    return (int(head), line) if head.isdecimal() and len(head) < 9 else (1_000_000_000, line)
