"""Which changes of chords keep failing, and the short drill each of them becomes until it passes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from coach.practice.entry import Entry, Fault, faults_from
from coach.practice.ladder import START, Place, Step, after, change_steps

if TYPE_CHECKING:
    from coach.score.piece import Quarters

KEEPS_FAILING = 3
"""Takes in a row in which a change went wrong before it becomes a drill of its own (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Trouble:
    """A change that went wrong in the last take that reached it.

    Attributes:
        fault: Where and in which hand.
        fails: Takes in a row in which it went wrong.
        place: Where its own drill stands.
    """

    fault: Fault
    fails: int
    place: Place = START

    @property
    def drilled(self) -> bool:
        """Whether it has become a drill of its own."""
        return self.fails >= KEEPS_FAILING

    @property
    def steps(self) -> tuple[Step, ...]:
        return change_steps(self.fault.hand)

    def to_json(self) -> list[Any]:
        return [self.fault.to_json(), self.fails, self.place.to_json()]

    @classmethod
    def from_json(cls, form: list[Any]) -> Trouble:
        fault, fails, place = form
        return cls(faults_from([fault])[0], fails, Place.from_json(place))


def heard_again(troubles: tuple[Trouble, ...], entry: Entry) -> tuple[Trouble, ...]:
    """The troubles of a phrase after one more take of it, of a longer passage, or of one change in it.

    A take tries a change when its hands play it and it gets that far. A change that goes right is forgotten unless it
    has become a drill: a drill ends when its own steps are passed.
    """
    if entry.passage.kind == "change":
        drilled = [_drilled(trouble, entry) for trouble in troubles]
        return tuple(trouble for trouble in drilled if trouble is not None)
    wrong = {(fault.onset, fault.hand): fault for fault in entry.faults if fault.onset > entry.passage.onset}
    kept = []
    for trouble in troubles:
        again = wrong.pop((trouble.fault.onset, trouble.fault.hand), None)
        if again is not None:
            kept.append(replace(trouble, fails=trouble.fails + 1))
        elif trouble.drilled or not _tries(entry, trouble.fault):
            kept.append(trouble)
    kept += [Trouble(fault, 1) for fault in wrong.values()]
    return tuple(sorted(kept, key=lambda trouble: (trouble.fault.onset, trouble.fault.hand)))


def to_drill(troubles: Sequence[Trouble]) -> Trouble | None:
    """The change to drill on its own next: the one that fails most, the earlier of equals; None where none does."""
    drilled = [trouble for trouble in troubles if trouble.drilled]
    return max(drilled, key=lambda trouble: (trouble.fails, -trouble.fault.onset), default=None)


def span_of(trouble: Trouble, troubles: Sequence[Trouble], onsets: Sequence[Quarters]) -> tuple[int, int]:
    """The chords of a change's drill: the one before and its own, and the next where that change keeps failing too.

    Args:
        troubles: All of the passage.
        onsets: Of all chords of the passage in which the change's hand plays, in order.

    Returns:
        Places of the first and the last chord.
    """
    at = next((place for place, onset in enumerate(onsets) if onset >= trouble.fault.onset), len(onsets) - 1)
    drilled = {other.fault.onset for other in troubles if other.drilled and other.fault.hand == trouble.fault.hand}
    both = at + 1 < len(onsets) and onsets[at + 1] in drilled
    return max(at - 1, 0), at + both


def _tries(entry: Entry, fault: Fault) -> bool:
    hands = entry.step.hand in ("both", fault.hand)
    there = entry.passage.onset < fault.onset < entry.passage.end
    return hands and there and not entry.step.seam and (entry.reached is None or entry.reached >= fault.onset)


def _drilled(trouble: Trouble, entry: Entry) -> Trouble | None:
    inside = entry.passage.onset < trouble.fault.onset < entry.passage.end
    if not (trouble.drilled and inside and entry.step.hand in ("both", trouble.fault.hand)):
        return trouble
    place = after(trouble.place, trouble.steps, entry)
    return None if place.index >= len(trouble.steps) else replace(trouble, place=place)
