"""When a passage should come back: the grade that a take earns, and the `fsrs` library that is given the grades."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from functools import cache
from math import log
from typing import TYPE_CHECKING, Any, Literal

from coach.practice.ladder import IN_TEMPO, Fingers

if TYPE_CHECKING:
    from fsrs import Card, Scheduler

    from coach.listening.word import Word

Grade = Literal[1, 2, 3]
"""The library's ratings by number; 1 says that the passage was forgotten. The fourth, for what came easily, is never
given: ease cannot be heard."""

WANTED = 0.9
"""Chance of remembering at which a passage is due (the library's own default)."""

LONGEST_REST = 90
"""Days after which a passage comes back at the latest, however well it is remembered: a hymn in use is heard at least
once a quarter (common practice, no source)."""

Course = Sequence[tuple[date, int]]
"""The reviews of one passage, oldest first: day and grade; the first is that of its first day."""

NOON = time(12, 0, tzinfo=UTC)


def grade(verdict: Word, tempo_share: float, fingers: Fingers) -> Grade | None:
    """The one rule by which a take is graded.

    | verdict | in tempo, no fingers shown | slower, no clock, or fingers where the hand moves | all fingers |
    | ------- | -------------------------- | ------------------------------------------------- | ----------- |
    | solid   | 3                          | 2                                                 | no grade    |
    | shaky   | 2                          | 2                                                 | no grade    |
    | weak    | 1                          | 1                                                 | no grade    |

    Only takes of the passage as written, by both hands and to its end, are graded, and one of them a day: on later
    days the first (what was remembered before any practice), on the very first day the last (what was learned on it).

    Args:
        tempo_share: Tempo reached as a share of the target, 0 without a clock.
        fingers: Fingers shown during the take.

    Returns:
        None where all fingers were shown: reading says nothing of what the hands remember.
    """
    if fingers == "all":
        return None
    if verdict == "weak":
        return 1
    return 3 if verdict == "solid" and tempo_share >= IN_TEMPO and fingers == "none" else 2


@dataclass(frozen=True, slots=True)
class Player:
    """How one player remembers, as factors on the library's own starting parameters.

    Attributes:
        pace: On the stability after the first day (parameters 0 to 3): how long what was learned lasts at first.
        growth: On the growth of stability with a review that went well (the exponential of parameter 8).
        slip: Chance that a passage which is remembered goes wrong all the same; the library knows none.
        first_try: Chance that a step in tempo which is tried for the first time is not weak.
    """

    pace: float = 1.0
    growth: float = 1.0
    slip: float = 0.05
    first_try: float = 0.8

    def chance(self, memory: Memory, day: date) -> float:
        """The chance that a passage goes well on a day when it was not played before."""
        return (1 - self.slip) * memory.chance(day)


ANYONE = Player()
"""A player of whom nothing is known yet."""


@dataclass(frozen=True, slots=True)
class Memory:
    """What the library keeps of a passage.

    The library counts whole days; it is given every review at noon UTC of its day of practice, so that an evening
    and the next morning are two days, and neither clock changes nor travel shift what is due.

    Attributes:
        stability: Days after which the chance of remembering has fallen to nine in ten.
        difficulty: 1 to 10.
        last: Day of the last review.
        due: Day on which the passage should come back.
    """

    stability: float
    difficulty: float
    last: date
    due: date

    def chance(self, day: date) -> float:
        """The chance, 0 to 1, that the passage is remembered on a day."""
        return float(_scheduler(1.0, 1.0).get_card_retrievability(_card(self), datetime.combine(day, NOON)))

    def to_json(self) -> list[Any]:
        return [self.stability, self.difficulty, self.last.isoformat(), self.due.isoformat()]

    @classmethod
    def from_json(cls, form: list[Any]) -> Memory:
        return cls(form[0], form[1], date.fromisoformat(form[2]), date.fromisoformat(form[3]))


def reviewed(memory: Memory | None, given: int, day: date, player: Player = ANYONE) -> Memory:
    """What is kept after a review; None before the first one. A day before the last review counts as that day.

    Args:
        given: The grade.
        player: Whose memory it is.
    """
    from fsrs import Card, Rating, State

    if memory is None:
        card = Card(card_id=0, due=datetime.combine(day, NOON))
    else:
        day = max(day, memory.last)
        card = _card(memory)
        card.state = State.Review
    card, _ = _scheduler(player.pace, player.growth).review_card(card, Rating(given), datetime.combine(day, NOON))
    assert card.stability is not None
    assert card.difficulty is not None
    return Memory(card.stability, card.difficulty, day, card.due.date())


def expected(course: Course, player: Player) -> Iterator[tuple[float, bool]]:
    """The chance of remembering that there was at every review after the first, and whether it was remembered.

    The same as `reviewed` and `Memory.chance` review by review, in half the time: one card goes through it all.

    Args:
        player: Whose memory is supposed.
    """
    from fsrs import Card, Rating

    scheduler = _scheduler(player.pace, player.growth)
    card = None
    for day, given in course:
        at = datetime.combine(day, NOON)
        if card is None:
            card = Card(card_id=0, due=at)
        else:
            yield float(scheduler.get_card_retrievability(card, at)), given > 1
        card, _ = scheduler.review_card(card, Rating(given), at)


def parameters(player: Player) -> tuple[float, ...]:
    """The library's parameters for a player."""
    from fsrs.scheduler import DEFAULT_PARAMETERS, LOWER_BOUNDS_PARAMETERS, UPPER_BOUNDS_PARAMETERS

    own = [value * player.pace for value in DEFAULT_PARAMETERS[:4]]
    own += DEFAULT_PARAMETERS[4:8]
    own.append(DEFAULT_PARAMETERS[8] + log(player.growth))
    own += DEFAULT_PARAMETERS[9:]
    bounds = zip(own, LOWER_BOUNDS_PARAMETERS, UPPER_BOUNDS_PARAMETERS, strict=True)
    return tuple(min(max(value, low), high) for value, low, high in bounds)


@cache
def _scheduler(pace: float, growth: float) -> Scheduler:
    from fsrs import Scheduler

    return Scheduler(
        parameters=parameters(Player(pace, growth)),
        desired_retention=WANTED,
        maximum_interval=LONGEST_REST,
        learning_steps=(),
        relearning_steps=(),
        enable_fuzzing=False,
    )


def _card(memory: Memory) -> Card:
    from fsrs import Card, State

    return Card(
        card_id=0,
        state=State.Review,
        stability=memory.stability,
        difficulty=memory.difficulty,
        due=datetime.combine(memory.due, NOON),
        last_review=datetime.combine(memory.last, NOON),
    )
