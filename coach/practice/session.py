"""What to play next within one row of today's practice, and when to go on to the next row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from coach.practice.changes import Trouble, to_drill
from coach.practice.doses import DOSE
from coach.practice.ladder import FEWER, Step, learned, next_step
from coach.practice.progress import Progress
from coach.practice.schedule import Row
from coach.practice.stand import Stand

MENDING = 1.5
"""How many times the minutes of its row are spent when a review that is still shaky is left: after some three takes, as
a line is played three times before one goes on (common practice, no source)."""


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

    A review is done with its first take, unless that failed: then the passage is learned again for one dose. One that
    was shaky is taken again, so that it need not stay so until another day. A passage that is being learned is done
    when its minutes are spent or its ladder is climbed as far as it goes today. A change that keeps failing is drilled
    at once.

    Args:
        row: As today's practice has it.
        steps: The ladder of its passage.
        progress: How far the passage has come by now.
        spent: Minutes spent on this row so far, rests included.
        day: Today's day of practice.
    """
    if _is_done(row, steps, progress, spent, day):
        return None
    trouble = to_drill(progress.troubles)
    if trouble is not None and progress.last_day == day:
        return Next(trouble.steps[min(trouble.place.index, len(trouble.steps) - 1)], trouble)
    return Next(asked_step(row, steps, progress))


def asked_step(row: Row | None, steps: tuple[Step, ...], progress: Progress) -> Step:
    """The step that is played of a passage: its ladder's, unless a row asks for a review with fingers."""
    if row is not None and row.step == FEWER and row.kind == "review" and learned(steps, progress.place):
        return row.step
    return next_step(steps, progress.place)


def _is_done(row: Row, steps: tuple[Step, ...], progress: Progress, spent: float, day: date) -> bool:
    up = learned(steps, progress.place)
    heard_today = progress.memory is not None and progress.memory.last == day and progress.last_day == day
    if row.kind not in ("review", "again"):
        return spent >= row.minutes or (up and heard_today)
    if spent >= max(row.minutes, DOSE):
        return True
    if not (up and heard_today):
        return False
    latest = progress.heard.latest
    if latest == "solid":
        # A row of what stands shaky may come after today's review: then it is done with a take of its own.
        return row.kind == "review" or spent > 0 or progress.standing == "solid"
    return latest == "shaky" and spent >= MENDING * row.minutes
