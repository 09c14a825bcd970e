"""What to play next within one row of today's practice, and when to go on to the next row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from coach.practice.changes import Trouble, to_drill
from coach.practice.doses import DOSE
from coach.practice.ladder import Step, learned, next_step
from coach.practice.progress import Progress
from coach.practice.schedule import Row
from coach.practice.stand import Stand


@dataclass(frozen=True, slots=True)
class Next:
    """What to play.

    Attributes:
        step: How.
        trouble: The change to drill on its own; None for the whole passage.
    """

    step: Step
    trouble: Trouble | None = None


def in_turn(stands: Sequence[Stand]) -> tuple[Row, ...]:
    """Passages to practise one after the other, each for one dose."""
    return tuple(
        Row("learning", stand.passage, stand.title, stand.next_step, DOSE, f"stands {stand.standing}", stand.standing)
        for stand in stands
    )


def next_up(row: Row, steps: tuple[Step, ...], progress: Progress, spent: float, day: date) -> Next | None:
    """What to play next of a row; None when it is done and the next row should come.

    A review is done with its first take, unless that failed: then the passage is learned again for one dose. A passage
    that is being learned is done when its minutes are spent or its ladder is climbed as far as it goes today. A change
    that keeps failing is drilled at once.

    Args:
        row: As today's practice has it.
        steps: The ladder of its passage.
        progress: How far the passage has come by now.
        spent: Minutes spent on this row so far, rests included.
        day: Today's day of practice.
    """
    up = learned(steps, progress.place)
    heard_today = progress.memory is not None and progress.memory.last == day and progress.last_day == day
    if row.kind == "review":
        if spent >= max(row.minutes, DOSE) or (heard_today and up):
            return None
    elif spent >= row.minutes or (up and heard_today):
        return None
    trouble = to_drill(progress.troubles)
    if trouble is not None and progress.last_day == day:
        return Next(trouble.steps[min(trouble.place.index, len(trouble.steps) - 1)], trouble)
    return Next(next_step(steps, progress.place))
