"""A second pianist, for piano music: free tempo, hands that drift apart, ornaments that no score spells out.

It shares no code with the simulated pianist of the coach, so that matching is not tried only on the timing it was
written beside.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, sqrt
from random import Random

from coach.listening.events import Event
from coach.listening.expected import Expected, ExpectedNote

Pressed = tuple[float, int, int | None, float]
"""Seconds, key, the note it is (or None), seconds down."""


@dataclass(frozen=True)
class Freedom:
    """How freely the pianist plays.

    Attributes:
        drift: Standard deviation, in seconds, of how far the hands are apart; it changes slowly.
        rubato: How much the tempo wanders, as a share over a quarter note.
        mistakes: Share of notes left out, taken wrong, or struck with a neighbour.
        ornaments: Chance that a longer note is ornamented.
        rolled: Chance that a chord of three notes or more is rolled.
    """

    drift: float = 0.03
    rubato: float = 0.06
    mistakes: float = 0.03
    ornaments: float = 0.15
    rolled: float = 0.06


def play(expected: Expected, seed: int, freedom: Freedom | None = None) -> tuple[list[Event], list[int | None]]:
    """A take, and for each press the note that it is."""
    random = Random(seed)
    free = freedom or Freedom()
    quarter = 60 / random.uniform(60, 150)
    times = _times(expected, quarter, free, random)
    apart = {"right": 0.0, "left": 0.0}
    pressed: list[Pressed] = []
    for chord in expected.chords:
        for hand in apart:
            apart[hand] = 0.9 * apart[hand] + random.gauss(0, 0.44 * free.drift)
        rolled = random.random() < free.rolled and len(chord.struck) > 2
        for order, note in enumerate(sorted(expected.struck(chord.number), key=lambda note: note.midi)):
            start = times[chord.number] + apart.get(note.hand or "", 0.0) + random.gauss(0, 0.008)
            start += order * random.uniform(0.03, 0.09) if rolled else 0.0
            pressed += _note(note, start, note.duration * quarter * random.uniform(0.6, 1.05), free, random)
    pressed.sort(key=lambda one: one[0])
    return _events(pressed), [number for _, _, number, _ in pressed]


def _times(expected: Expected, quarter: float, free: Freedom, random: Random) -> list[float]:
    """When each chord comes: the logarithm of the tempo wanders and is drawn back."""
    seconds, wander, before = 0.0, 0.0, expected.chords[0].onset
    times = []
    for chord in expected.chords:
        distance = chord.onset - before
        wander = 0.97 * max(-0.5, min(0.5, wander + random.gauss(0, free.rubato) * sqrt(max(distance, 0.05))))
        if random.random() < 0.01:
            seconds += random.uniform(0.3, 1.2) * quarter
        seconds += distance * quarter * exp(wander + random.gauss(0, 0.03))
        before = chord.onset
        times.append(seconds)
    return times


def _note(note: ExpectedNote, start: float, length: float, free: Freedom, random: Random) -> list[Pressed]:
    key, number = note.midi, note.number
    chance = random.random()
    if chance < free.mistakes / 3:
        return []
    if chance < free.mistakes * 2 / 3:
        return [(start, key + random.choice([-2, -1, 1, 2]), None, length)]
    pressed: list[Pressed] = []
    if chance < free.mistakes:
        pressed.append((start + random.uniform(-0.03, 0.06), key + random.choice([-3, -2, -1, 1, 2, 3]), None, 0.1))
    if note.duration >= 0.5 and random.random() < free.ornaments * min(note.duration, 1.0):
        return pressed + _ornament(note, start, length, random)
    return [*pressed, (start, key, number, length)]


def _ornament(note: ExpectedNote, start: float, length: float, random: Random) -> list[Pressed]:
    """A grace note, a mordent, a turn or a trill; its first main note is the note."""
    key, number = note.midi, note.number
    upper, lower = key + random.choice([1, 2]), key - random.choice([1, 2])
    step = random.uniform(0.06, 0.1)
    kind = random.choice(["grace note", "mordent", "turn", "trill"])
    if kind == "grace note":
        return [(start - random.uniform(0.04, 0.1), upper, None, 0.06), (start, key, number, length)]
    if kind == "mordent":
        keys = [key, upper, key]
    elif kind == "turn":
        keys = [key, upper, key, lower, key]
    else:
        keys = [key, upper] * max(int(min(length, 3.0) / step) // 2, 1)
    return [(start + place * step, one, number if place == 0 else None, 0.9 * step) for place, one in enumerate(keys)]


def _events(pressed: list[Pressed]) -> list[Event]:
    """Every key comes up before it is struck again."""
    found = []
    again: dict[int, float] = {}
    for seconds, key, _, length in reversed(pressed):
        up = min(seconds + length, again.get(key, seconds + length + 1) - 0.005)
        found.append(Event(seconds, "press", key, 60))
        found.append(Event(max(up, seconds + 0.001), "release", key, 0))
        again[key] = seconds
    order = {id(event): place for place, event in enumerate(reversed(found))}
    return sorted(found, key=lambda event: (event.seconds, event.kind == "press", order[id(event)]))
