"""The way a simulated pianist takes through the chords, and when: tempo, waits, stumbles, new beginnings."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, pi, sin
from random import Random

from coach.listening.expected import Expected

SWAY = 7.3
"""Quarter notes of one sway of the rubato; no whole number of beats, so that it falls anywhere in the bar."""

LONGEST_STUMBLE = 3
"""Chords that a stumble goes back, or a skip leaves out, at most."""


@dataclass(frozen=True, slots=True)
class Stop:
    """One chord on the way.

    Attributes:
        chord: Number of the chord.
        seconds: When it is played.
        run: How often the pianist had jumped before.
        mended: Seconds after which a slip at this chord is mended; 0 where there is none.
    """

    chord: int
    seconds: float
    run: int
    mended: float = 0.0


@dataclass(frozen=True, slots=True)
class Tempo:
    """How time goes.

    Attributes:
        quarter: Seconds a quarter note.
        rubato: How far it sways, as a share.
        unsteady: Standard deviation of a step, in seconds.
        halting: Standard deviation of the logarithm of a step.
    """

    quarter: float
    rubato: float
    unsteady: float
    halting: float = 0.0

    def step(self, onset: float, distance: float, random: Random) -> float:
        """Seconds from a chord to one some quarter notes further on."""
        swayed = self.quarter * (1 + self.rubato * sin(2 * pi * onset / SWAY))
        passed = max(distance * swayed + random.gauss(0, self.unsteady), 0.25 * distance * self.quarter)
        return passed * exp(random.gauss(0, self.halting)) if self.halting else passed


@dataclass(frozen=True, slots=True)
class Detours:
    """Chances at each chord: to wait before it; to slip, stop and mend it; after it to go back, to begin again, to
    skip, to stop for good."""

    waited: float = 0.0
    mended: float = 0.0
    back: float = 0.0
    again: float = 0.0
    skipped: float = 0.0
    stopped: float = 0.0


@dataclass(frozen=True, slots=True)
class Route:
    """The whole way.

    Attributes:
        stops: In order of time.
        jumps: The chords left and arrived at where the pianist went back or ahead.
        waits: Chords that were waited for.
        mistakes: How many detours were made.
    """

    stops: tuple[Stop, ...]
    jumps: tuple[tuple[int, int], ...]
    waits: tuple[int, ...]
    mistakes: int


def route(expected: Expected, tempo: Tempo, detours: Detours, random: Random, start: float) -> Route:
    """Find a way from the first chord to the last."""
    chords = expected.chords
    stops: list[Stop] = []
    jumps: list[tuple[int, int]] = []
    waits: list[int] = []
    mistakes, run, chord, seconds = 0, 0, 0, start
    while chord < len(chords):
        if stops and random.random() < detours.waited:
            waits.append(chord)
            mistakes += 1
            seconds += random.uniform(1.0, 2.5) * max(tempo.quarter, 0.5)
        mended = 0.0
        if detours.mended and random.random() < detours.mended:
            mended = random.uniform(0.4, 2.0)
            mistakes += 1
        stops.append(Stop(chord, seconds, run, mended))
        seconds += mended
        target = _target(expected, chord, detours, random)
        if target is None:
            mistakes += 1
            break
        passed = tempo.step(chords[chord].onset, _distance(expected, chord), random)
        if target != chord + 1:
            jumps.append((chord, target))
            mistakes += 1
            if target <= chord:
                # Who goes back stops first; who skips plays straight on.
                run += 1
                passed += random.uniform(0.5, 1.5)
        seconds += passed
        chord = target
    return Route(tuple(stops), tuple(jumps), tuple(waits), mistakes)


def _target(expected: Expected, chord: int, detours: Detours, random: Random) -> int | None:
    """The chord after this one, None for none at all."""
    first = max((start for start in expected.starts if start <= chord), default=0)
    after = min((start for start in expected.starts if start > chord), default=len(expected.chords))
    if random.random() < detours.stopped and chord + 1 < after:
        return None
    if random.random() < detours.back and chord > first:
        return max(first, chord + 1 - random.randint(1, LONGEST_STUMBLE))
    if random.random() < detours.again and chord > first:
        return first
    if random.random() < detours.skipped and chord + LONGEST_STUMBLE + 1 < after:
        return chord + 1 + random.randint(1, LONGEST_STUMBLE)
    return chord + 1


def _distance(expected: Expected, chord: int) -> float:
    if chord + 1 < len(expected.chords):
        return expected.chords[chord + 1].onset - expected.chords[chord].onset
    return expected.chords[chord].duration
