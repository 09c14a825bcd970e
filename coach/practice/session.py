"""One row of today's practice: what is played of its passage, and when the next row comes."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Protocol

from coach.practice.changes import Trouble
from coach.practice.doses import DOSE
from coach.practice.ladder import FEWER, Step, learned, next_step
from coach.practice.passage import Passage
from coach.practice.progress import Progress
from coach.practice.schedule import Row
from coach.practice.stand import Stand

MENDING = 1.5
"""How many times the minutes of its row are spent when a review that is still shaky is left: after some three takes, as
a line is played three times before one goes on (common practice, no source)."""


class Chords(Protocol):
    """What knows the chords of a passage, as `Music` does."""

    def change(self, home: Passage, trouble: Trouble, troubles: Sequence[Trouble], /) -> Passage | None:
        """The passage of a change's drill; None where it leads the hand to no chord."""


def in_turn(stands: Sequence[Stand]) -> tuple[Row, ...]:
    """Passages to practise one after the other, each for one dose."""
    return tuple(
        Row("learning", stand.passage, stand.title, stand.next_step, DOSE, f"stands {stand.standing}", stand.standing)
        for stand in stands
    )


def asked_of(
    chords: Chords,
    home: Passage,
    trouble: Trouble | None,
    steps: tuple[Step, ...],
    progress: Progress,
    row: Row | None = None,
) -> tuple[Passage, Step]:
    """What is played of a passage, and in which step: one change in it by itself, or all of it.

    Args:
        chords: The piece.
        home: The passage.
        trouble: The change to drill, None for all of the passage.
        steps: The ladder of the passage.
        progress: How far the passage has come by now.
        row: The line of today's practice that it is played for; a review that it asks for with fingers has them.
    """
    change = chords.change(home, trouble, progress.troubles) if trouble else None
    if trouble and change:
        return change, next_step(trouble.steps, trouble.place)
    if row is not None and row.step == FEWER and row.kind == "review" and learned(steps, progress.place):
        return home, row.step
    return home, next_step(steps, progress.place)


def is_done(row: Row, steps: tuple[Step, ...], progress: Progress, spent: float, day: date) -> bool:
    """Whether enough of a row has been played, so that the next row should come.

    A review is done with its first take, unless that failed: then the passage is learned again for one dose. One that
    was shaky is taken again, so that it need not stay so until another day. A passage that is being learned is done
    when its minutes are spent or its ladder is climbed as far as it goes today.

    Args:
        row: As today's practice has it.
        steps: The ladder of its passage.
        progress: How far the passage has come by now.
        spent: Minutes spent on this row so far, rests included.
        day: Today's day of practice.
    """
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
