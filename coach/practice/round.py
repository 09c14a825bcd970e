"""A round of practice: which passage is on the stand, how long it has been practised, and which one comes next."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from coach.practice import days
from coach.practice.entry import rested
from coach.practice.replanning import is_played
from coach.practice.session import is_done

if TYPE_CHECKING:
    from coach.practice.following import Following
    from coach.practice.log import Log
    from coach.practice.passage import Passage
    from coach.practice.work import Item


@dataclass(frozen=True, slots=True)
class Round:
    """Passages that are practised one after the other.

    Attributes:
        items: What is gone through.
        place: Of the item that is asked for; until its piece is opened, another one may be on the stand.
        up: Place of the item that is on the stand.
        spent: Seconds spent on that one so far, rests included.
        until: Up to when they are counted, in seconds of the drill's clock.
    """

    items: tuple[Item, ...]
    place: int = 0
    up: int = 0
    spent: float = 0.0
    until: float = 0.0

    @property
    def item(self) -> Item:
        """What is on the stand."""
        return self.items[self.up]

    @property
    def moving(self) -> bool:
        """Whether the player has asked for another item than the one on the stand."""
        return self.place != self.up

    @property
    def minutes(self) -> float:
        """Minutes spent on what is on the stand."""
        return self.spent / 60

    def asking(self, place: int) -> Round:
        """Another item is asked for, and is not on the stand yet."""
        return replace(self, place=place)

    def put_up(self, place: int, clock: float) -> Round:
        """An item was put on the stand."""
        return Round(self.items, place, place, until=clock)

    def played(self, began: float, seconds: float, clock: float) -> Round:
        """A take has ended.

        Args:
            began: When its first key went down, by the drill's clock.
            seconds: How long was practised in it.
            clock: What the clock shows now.
        """
        return replace(self, spent=self.spent + rested(began - self.until) + seconds, until=clock)

    def next_open(self, after: int, log: Log | None) -> int | None:
        """The place of the next item; lines of today's practice that were done along with others are passed over."""
        places = range(after + 1, len(self.items))
        return next((place for place in places if not _is_done(self.items[place], log)), None)

    def announced(self, following: Following, home: Passage, place: int | None) -> str:
        """What is said after a take with which a passage is finished.

        Args:
            following: What follows the take.
            home: The passage.
            place: Of the item that comes next, None where there is none.
        """
        if place is not None:
            return f"{following.said} Next: {self.items[place].called(home)}."
        if self.item.row is not None:
            return f"{following.said} That was the last one; the pedal twice goes back."
        return following.said


def _is_done(item: Item, log: Log | None) -> bool:
    if item.row is None or log is None:
        return False
    if item.row.kind == "anew":
        return is_played(log, item.passage)
    today, progress = days.practice_day(days.now()), log.progress(item.passage)
    return is_done(item.row, log.steps(item.passage), progress, 0.0, today)
