"""How likely a passage is to be remembered on a day to come, and what the reviews so far tell of the player."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from itertools import product
from math import erf, exp, log, sqrt
from statistics import mean

from coach.practice.memory import ANYONE, Memory, Player, reviewed

STEP = exp(log(2) / 2)
"""Factor between neighbouring paces, and between neighbouring growths: half a doubling."""

PACE_BOUNDS = (0.12, 8.1)
GROWTH_BOUNDS = (0.24, 2.1)
"""How far a player may be from what the library supposes."""

MOST_STEPS = 4
"""Steps taken at once: what a few reviews say is not followed further."""

SLIPS = (0.0, 0.02, 0.05, 0.1, 0.15, 0.2)
"""Slips that are tried."""

SPREAD = 0.7
"""Standard deviation, in natural logarithms, of how players differ before anything is known of one (an assumption,
wide enough that a few dozen reviews outweigh it)."""

SLIP_WEIGHT = 20.0
"""How many reviews the usual slip is worth as long as little is known."""

ENOUGH_REVIEWS = 500
"""Newest reviews that are looked at: a player changes."""

LOOK_AHEAD = 8
"""Reviews between now and the day that are thought through."""

PARTS = 10
"""Parts that a piece of work is cut into to see how much of it is done in time."""

Course = Sequence[tuple[date, int]]
"""The reviews of one passage, oldest first: day and grade; the first is that of its first day."""


def player_from(courses: Iterable[Course], before: Player) -> Player:
    """The player who explains the reviews best, reached step by step from what was supposed before.

    The greatest of likelihood times prior over paces, growths and `SLIPS`. Each course is put through the library anew
    for every supposition.
    """
    given = list(courses)
    found = before
    for _ in range(MOST_STEPS):
        better = _best_around(given, found)
        if (better.pace, better.growth) == (found.pace, found.growth):
            return better
        found = better
    return found


def _best_around(courses: Sequence[Course], before: Player) -> Player:
    """The best player at most a step away."""
    best, found = float("-inf"), before
    for pace, growth in _around(before):
        supposed = [one for course in courses for one in _supposed(course, Player(pace, growth))]
        for slip in SLIPS:
            fit = _likelihood(supposed, slip) + _prior(pace, growth, slip)
            if fit > best:
                best, found = fit, Player(pace, growth, slip)
    return found


def _around(player: Player) -> list[tuple[float, float]]:
    """Pace and growth, and their neighbours within bounds."""
    steps = product((-1, 0, 1), repeat=2)
    around = [(player.pace * STEP**pace, player.growth * STEP**growth) for pace, growth in steps]
    return [
        (pace, growth)
        for pace, growth in around
        if PACE_BOUNDS[0] <= pace <= PACE_BOUNDS[1] and GROWTH_BOUNDS[0] <= growth <= GROWTH_BOUNDS[1]
    ]


def _supposed(course: Course, player: Player) -> Iterable[tuple[float, bool]]:
    """The chance supposed of every review after the first, and whether the passage was remembered."""
    memory: Memory | None = None
    for day, grade in course:
        if memory is not None:
            yield memory.chance(day), grade > 1
        memory = reviewed(memory, grade, day, player)


def _likelihood(supposed: Iterable[tuple[float, bool]], slip: float) -> float:
    total = 0.0
    for chance, remembered in supposed:
        own = min(max((1 - slip) * chance, 1e-4), 1 - 1e-4)
        total += log(own if remembered else 1 - own)
    return total


def _prior(pace: float, growth: float, slip: float) -> float:
    away = (log(pace) / SPREAD) ** 2 + (log(growth) / SPREAD) ** 2
    usual = ANYONE.slip
    return SLIP_WEIGHT * (usual * log(max(slip, 1e-3)) + (1 - usual) * log(1 - slip)) - away / 2


def chance_on(memory: Memory, day: date, today: date, player: Player, *, eve: bool = False) -> float:
    """The chance that a passage goes well on a day, with the reviews that lie between kept.

    Args:
        today: The present day of practice.
        eve: Whether it is also played on the day before.
    """
    chance, weight = 0.0, 1.0
    last = max(day - timedelta(days=1), today)
    for _ in range(LOOK_AHEAD):
        at = max(memory.due, today)
        if eve and at > last > memory.last:
            at = last
        if at >= day or at <= memory.last:
            break
        passes = player.chance(memory, at)
        # What fails is learned again on the same day, so that the next day finds it as after any first day.
        failed = reviewed(memory, 1, at, player)
        chance += weight * (1 - passes) * player.chance(failed, day)
        weight *= passes
        memory = reviewed(memory, 3, at, player)
    return chance + weight * player.chance(memory, day)


def in_time(needed: float, available: float, spread: float = 0.5) -> float:
    """The chance that work supposed to need some minutes fits into those there are.

    How long learning takes is spread log-normally about what it is supposed to take.

    Args:
        spread: Standard deviation of the natural logarithm (an assumption: two thirds lie within 0.6 and 1.65 times).
    """
    if needed <= 0:
        return 1.0
    if available <= 0:
        return 0.0
    return (1 + erf(log(available / needed) / (spread * sqrt(2)))) / 2


def share_in_time(before: float, own: float, available: float) -> float:
    """The share of a piece of work that is done in time, on average over how long learning may take (see `in_time`).

    Args:
        before: Minutes supposed for what comes before it.
        own: Minutes supposed for itself.
        available: Minutes that there are.
    """
    return mean(in_time(before + own * (part + 0.5) / PARTS, available) for part in range(PARTS))
