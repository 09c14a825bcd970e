"""How likely a passage is to be remembered on a day to come, and what the reviews so far tell of the player."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, timedelta
from functools import cache, lru_cache
from itertools import product
from math import erf, exp, floor, log, sqrt
from random import Random
from typing import TYPE_CHECKING

from coach.practice.doses import Need, laid_out
from coach.practice.ladder import FEWER, NO_FINGERS, STEPS_IN_TEMPO
from coach.practice.memory import ANYONE, Course, Memory, Player, expected, reviewed

if TYPE_CHECKING:
    from coach.listening.word import Word

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

CLEARLY = 1.0
"""By how much, in natural logarithms of likelihood times prior, another pace and growth must explain the reviews better
to be believed: from there on evidence is called positive, below it hardly worth a mention (Kass and Raftery 1995, from
memory)."""

ENOUGH_REVIEWS = 1000
"""Newest reviews that are looked at, with all that came before them in their passages: a player changes, and nobody
waits for more to be worked out."""

LOOK_AHEAD = 8
"""Reviews between now and the day that are thought through."""

IN_TEMPO_STEPS = len((*STEPS_IN_TEMPO, FEWER, NO_FINGERS))
"""Steps of a phrase's ladder from the first in tempo to the one without fingers: before them the hands are apart, or
together chord by chord for the first time."""

LEARNING_SPREAD = 0.5
"""Standard deviation of the natural logarithm of how long learning a phrase takes (an assumption: two thirds lie
between 0.55 and 1.45 times what it takes on average)."""

NINE_IN_TEN = 1.2816
"""Standard deviations above the mean below which nine in ten lie, of what is spread normally."""

PACES = 50
"""How often the days are laid out, with paces of learning drawn anew."""

FIRST_TRY_WEIGHT = 10.0
"""How many first tries the usual chance is worth as long as few are known."""


def player_from(courses: Iterable[Course], before: Player) -> Player:
    """The player who explains the reviews best, reached step by step from what was supposed before.

    The greatest of likelihood times prior over paces, growths and `SLIPS`. Each course is put through the library anew
    for every supposition. Pace and growth stay as they were unless others are clearly better.
    """
    given = list(courses)

    @cache
    def fit(pace: int, growth: int) -> tuple[float, Player]:
        return _fit(given, before.pace * STEP**pace, before.growth * STEP**growth)

    here = (0, 0)
    for _ in range(MOST_STEPS):
        around = [(here[0] + pace, here[1] + growth) for pace, growth in product((0, -1, 1), repeat=2)]
        best = max(around, key=lambda steps: fit(*steps)[0])
        if best == here:
            break
        here = best
    clearly = fit(*here)[0] - fit(0, 0)[0] >= CLEARLY
    return fit(*here)[1] if clearly else replace(before, slip=fit(0, 0)[1].slip)


def _fit(courses: Sequence[Course], pace: float, growth: float) -> tuple[float, Player]:
    """How well a pace and a growth explain the reviews, and the player who has them with the likeliest slip."""
    if not (PACE_BOUNDS[0] <= pace <= PACE_BOUNDS[1] and GROWTH_BOUNDS[0] <= growth <= GROWTH_BOUNDS[1]):
        return float("-inf"), ANYONE
    player = Player(pace, growth)
    supposed = [one for course in courses for one in expected(course, player)]
    fits = {slip: _likelihood(supposed, slip) + _prior(pace, growth, slip) for slip in SLIPS}
    slip = max(fits, key=lambda one: fits[one])
    return fits[slip], replace(player, slip=slip)


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


def in_time(needed: float, available: float) -> float:
    """The chance that work supposed to need some minutes fits into those there are.

    How long learning takes is spread log-normally, and takes what it is supposed to take on average: a little less more
    often than not, and now and then much more.
    """
    if needed <= 0:
        return 1.0
    if available <= 0:
        return 0.0
    return (1 + erf((log(available / needed) / LEARNING_SPREAD + LEARNING_SPREAD / 2) / sqrt(2))) / 2


def enough_for(needed: float) -> float:
    """Minutes in which work supposed to need some minutes fits nine times in ten: the other way round of `in_time`."""
    return needed * exp(LEARNING_SPREAD * (NINE_IN_TEN - LEARNING_SPREAD / 2))


def half_learned(height: float, steps: int, player: Player) -> float:
    """The chance that a phrase can be played as it is meant to though its ladder is not climbed to the end.

    It would have to take all the steps that are left at once; each of them goes as a first try does. While the hands
    are still apart there is nothing to go well.

    Args:
        height: Share of the ladder that is climbed, up to playing from memory.
        steps: On this ladder.
    """
    left = steps - floor(height * steps + 1e-9)
    return player.first_try**left if left <= IN_TEMPO_STEPS else 0.0


FAR_AHEAD = 366
"""Days that are laid out at most: who has a year has time enough, and nobody waits for more to be worked out."""


def ready_in_time(needs: Sequence[Need], days_left: int, minutes: float, player: Player) -> list[float]:
    """The chance for each phrase that it can be played once the days are over, wherever on its ladder they leave it.

    The days are laid out again and again, each phrase quicker or slower than supposed, spread as in `in_time` and each
    for itself: how quick the player is on the whole is in the minutes already.

    Args:
        needs: As `laid_out` takes them.
        days_left: Days of practice, today the first.
        minutes: There are each day.
    """
    return list(_ready_in_time(tuple(needs), min(days_left, FAR_AHEAD), minutes, player))


@lru_cache(maxsize=64)
def _ready_in_time(needs: tuple[Need, ...], days_left: int, minutes: float, player: Player) -> tuple[float, ...]:
    """Remembered, for the screens that show the same date one after the other."""
    sums = [0.0] * len(needs)
    for factors in _paces(len(needs)):
        slower = [replace(need, minutes=need.minutes * factor) for need, factor in zip(needs, factors, strict=True)]
        for place, (need, given) in enumerate(zip(slower, laid_out(slower, days_left, minutes), strict=True)):
            share = min(given / need.minutes, 1.0) if need.minutes > 0 else 1.0
            climbed = need.height + (1 - need.height) * share
            sums[place] += half_learned(climbed, need.steps, player)
    return tuple(one / PACES for one in sums)


@cache
def _paces(phrases: int) -> tuple[tuple[float, ...], ...]:
    """Factors on the minutes that learning takes, for each phrase, as often as they are tried; the same each time."""
    draw = Random(1)
    mean = -(LEARNING_SPREAD**2) / 2
    return tuple(tuple(exp(draw.gauss(mean, LEARNING_SPREAD)) for _ in range(phrases)) for _ in range(PACES))


def first_try(words: Iterable[Word]) -> float:
    """The chance of `Player.first_try`, from first tries of steps in tempo."""
    given = list(words)
    not_weak = sum(word != "weak" for word in given)
    return (not_weak + FIRST_TRY_WEIGHT * ANYONE.first_try) / (len(given) + FIRST_TRY_WEIGHT)
