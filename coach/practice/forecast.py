"""How likely a passage is to be remembered on a day to come, corrected by how this player has remembered so far."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from math import erf, exp, log, sqrt
from typing import NamedTuple

from coach.practice.memory import Memory, reviewed

PACES = tuple(exp(step * log(2) / 2) for step in range(-6, 7))
"""How much longer a player may remember than the library supposes: an eighth to eight times, in steps of half a
doubling."""

SLIPS = (0.0, 0.02, 0.05, 0.1, 0.15, 0.2)
"""Chance that a passage which is remembered still goes wrong."""

SPREAD = 1.0
"""Standard deviation, in natural logarithms, of how players differ before anything is known of one (an assumption,
wide enough that fifty reviews outweigh it)."""

USUAL_SLIP = 0.05
"""The slip supposed before anything is known."""

SLIP_WEIGHT = 20.0
"""How many reviews that supposition is worth."""

ENOUGH_REVIEWS = 500
"""Newest reviews that are looked at: a player changes."""

LOOK_AHEAD = 8
"""Reviews between now and the day that are thought through."""


class Outcome(NamedTuple):
    """One review: how stable the passage was, in days, how many days had passed, and whether it was remembered."""

    stability: float
    elapsed: int
    remembered: bool


@dataclass(frozen=True, slots=True)
class Player:
    """What the reviews tell of a player.

    Attributes:
        pace: How much longer than the library supposes a passage is remembered.
        slip: Chance that a remembered passage still goes wrong.
    """

    pace: float = 1.0
    slip: float = USUAL_SLIP

    def chance(self, memory: Memory, day: date) -> float:
        """The chance that a passage goes well on a day when it is not played before."""
        return (1 - self.slip) * memory.chance(day, self.pace)


UNKNOWN = Player()
"""Before the first review."""


def player_from(outcomes: Iterable[Outcome]) -> Player:
    """The pace and the slip that explain the reviews best, held back by what players are usually like.

    The greatest of likelihood times prior over `PACES` and `SLIPS`: few reviews move it little.
    """
    grouped: dict[tuple[int, int, bool], int] = {}
    for outcome in outcomes:
        # Reviews of nearly the same age and stability say the same: a step of a tenth of a doubling.
        ratio = round(10 * log(max(outcome.elapsed, 1) / max(outcome.stability, 0.01), 2))
        key = (ratio, 0 if outcome.elapsed else 1, outcome.remembered)
        grouped[key] = grouped.get(key, 0) + 1
    best, found = float("-inf"), UNKNOWN
    for pace in PACES:
        curve = {ratio: _kept(2 ** (ratio / 10) / pace) for ratio, _, _ in grouped}
        for slip in SLIPS:
            fit = -((log(pace) / SPREAD) ** 2) / 2
            fit += SLIP_WEIGHT * (USUAL_SLIP * log(max(slip, 1e-3)) + (1 - USUAL_SLIP) * log(1 - slip))
            for (ratio, _, remembered), count in grouped.items():
                chance = min(max((1 - slip) * curve[ratio], 1e-4), 1 - 1e-4)
                fit += count * log(chance if remembered else 1 - chance)
            if fit > best:
                best, found = fit, Player(pace, slip)
    return found


def chance_on(memory: Memory, day: date, today: date, player: Player, *, eve: bool = False) -> float:
    """The chance that a passage goes well on a day, with the reviews that lie between kept.

    Args:
        today: The present day of practice.
        eve: Whether it is also played on the day before.
    """
    chance, weight = 0.0, 1.0
    reviews = 0
    last_review = day - timedelta(days=1)
    while reviews < LOOK_AHEAD:
        at = max(memory.due, today)
        if eve and at > last_review > memory.last:
            at = max(last_review, today)
        if at >= day or at <= memory.last:
            break
        passes = player.chance(memory, at)
        failed = reviewed(memory, 1, at)
        chance += weight * (1 - passes) * player.chance(failed, day)
        weight *= passes
        memory = reviewed(memory, 3, at)
        reviews += 1
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


def _kept(age: float) -> float:
    """The library's forgetting curve, at an age in units of stability."""
    days = 1000
    return Memory(days / age, 5.0, _FIRST, _FIRST).chance(_FIRST + timedelta(days=days))


_FIRST = date(2000, 1, 1)
