"""Which changes of chords keep failing, and the short drill each of them becomes until it passes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from coach.practice.ladder import START, Hand, Place, Step, after, change_steps
from coach.score.piece import Quarters

if TYPE_CHECKING:
    from coach.practice.entry import Entry

KEEPS_FAILING = 3
"""Takes in a row in which a change went wrong before it becomes a drill of its own (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Trouble:
    """A change that went wrong in the last take that reached it.

    Attributes:
        onset: Of the chord that the change leads to.
        hand: The hand it goes wrong in.
        fails: Takes in a row in which it went wrong.
        place: Where its own drill stands.
    """

    onset: Quarters
    hand: Hand
    fails: int
    place: Place = START

    @property
    def drilled(self) -> bool:
        """Whether it has become a drill of its own."""
        return self.fails >= KEEPS_FAILING

    @property
    def steps(self) -> tuple[Step, ...]:
        return change_steps(self.hand)

    def to_json(self) -> list[Any]:
        return [str(self.onset), self.hand, self.fails, self.place.to_json()]

    @classmethod
    def from_json(cls, form: list[Any]) -> Trouble:
        onset, hand, fails, place = form
        return cls(Fraction(onset), hand, fails, Place.from_json(place))


def heard_again(troubles: tuple[Trouble, ...], entry: Entry) -> tuple[Trouble, ...]:
    """The troubles of a phrase after one more take of it, of a longer passage, or of one change in it.

    A take tries a change when its hands play it and it gets that far. A change that goes right is forgotten unless it
    has become a drill: a drill ends when its own steps are passed.
    """
    if entry.passage.kind == "change":
        drilled = [_drilled(trouble, entry) for trouble in troubles]
        return tuple(trouble for trouble in drilled if trouble is not None)
    wrong = {(f.onset, f.hand) for f in entry.faults if f.onset > entry.passage.onset}
    kept = []
    for trouble in troubles:
        key = (trouble.onset, trouble.hand)
        if key in wrong:
            kept.append(replace(trouble, fails=trouble.fails + 1))
        elif trouble.drilled or not _tries(entry, trouble):
            kept.append(trouble)
        wrong.discard(key)
    kept += [Trouble(onset, hand, 1) for onset, hand in wrong]
    return tuple(sorted(kept, key=lambda trouble: (trouble.onset, trouble.hand)))


def to_drill(troubles: Sequence[Trouble]) -> Trouble | None:
    """The change to drill on its own next: the one that fails most, the earlier of equals; None where none does."""
    drilled = [trouble for trouble in troubles if trouble.drilled]
    return max(drilled, key=lambda trouble: (trouble.fails, -trouble.onset), default=None)


def _tries(entry: Entry, trouble: Trouble) -> bool:
    step, passage = entry.step, entry.passage
    hands = step.hand in ("both", trouble.hand)
    there = passage.onset < trouble.onset < passage.end
    return hands and there and not step.seam and (entry.reached is None or entry.reached >= trouble.onset)


def _drilled(trouble: Trouble, entry: Entry) -> Trouble | None:
    passage = entry.passage
    if not (trouble.drilled and passage.onset < trouble.onset < passage.end):
        return trouble
    if entry.step.hand not in ("both", trouble.hand):
        return trouble
    place = after(trouble.place, trouble.steps, entry)
    return None if place.index >= len(trouble.steps) else replace(trouble, place=place)
