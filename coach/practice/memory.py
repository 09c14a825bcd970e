"""When a passage should come back: the grade that a take earns, and the `fsrs` library that is given the grades."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from functools import cache
from typing import TYPE_CHECKING, Any, Literal

from coach.listening.verdict import Word
from coach.practice.ladder import IN_TEMPO, Fingers

if TYPE_CHECKING:
    from fsrs import Card, Scheduler

Grade = Literal[1, 2, 3]
"""The library's ratings by number; 1 says that the passage was forgotten. The fourth, for what came easily, is never
given: ease cannot be heard."""

WANTED = 0.9
"""Chance of remembering at which a passage is due (the library's own default)."""

NOON = time(12, 0, tzinfo=UTC)


def grade(verdict: Word, tempo_share: float, fingers: Fingers) -> Grade:
    """The one rule by which a take is graded.

    | verdict | in tempo and not all fingers shown | slower, without a clock, or all fingers shown |
    | ------- | ---------------------------------- | --------------------------------------------- |
    | solid   | 3                                  | 2                                             |
    | shaky   | 2                                  | 2                                             |
    | weak    | 1                                  | 1                                             |

    Only takes of the passage as written, by both hands and to its end, are graded, and one of them a day: on later
    days the first (what was remembered before any practice), on the very first day the last (what was learned on it).

    Args:
        tempo_share: Tempo reached as a share of the target, 0 without a clock.
        fingers: Fingers shown during the take.
    """
    if verdict == "weak":
        return 1
    if verdict == "solid" and tempo_share >= IN_TEMPO and fingers != "all":
        return 3
    return 2


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

    def chance(self, day: date, pace: float = 1.0) -> float:
        """The chance, 0 to 1, that the passage is remembered on a day.

        Args:
            pace: How much longer (above 1) or shorter this player remembers than the library supposes.
        """
        card = _card(self, stability=self.stability * pace)
        return float(_scheduler().get_card_retrievability(card, datetime.combine(day, NOON)))

    def to_json(self) -> list[Any]:
        return [self.stability, self.difficulty, self.last.isoformat(), self.due.isoformat()]

    @classmethod
    def from_json(cls, form: list[Any]) -> Memory:
        return cls(form[0], form[1], date.fromisoformat(form[2]), date.fromisoformat(form[3]))


def reviewed(memory: Memory | None, given: Grade, day: date) -> Memory:
    """What is kept after a review; None before the first one. A day before the last review counts as that day."""
    from fsrs import Card, Rating, State

    if memory is None:
        card = Card(card_id=0, due=datetime.combine(day, NOON))
    else:
        day = max(day, memory.last)
        card = _card(memory)
        card.state = State.Review
    card, _ = _scheduler().review_card(card, Rating(given), datetime.combine(day, NOON))
    assert card.stability is not None
    assert card.difficulty is not None
    return Memory(card.stability, card.difficulty, day, card.due.date())


@cache
def _scheduler() -> Scheduler:
    from fsrs import Scheduler

    return Scheduler(desired_retention=WANTED, learning_steps=(), relearning_steps=(), enable_fuzzing=False)


def _card(memory: Memory, stability: float | None = None) -> Card:
    from fsrs import Card, State

    return Card(
        card_id=0,
        state=State.Review,
        stability=memory.stability if stability is None else stability,
        difficulty=memory.difficulty,
        due=datetime.combine(memory.due, NOON),
        last_review=datetime.combine(memory.last, NOON),
    )
