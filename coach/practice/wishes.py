"""What each piece would like to have played today, and how urgently."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from math import prod
from typing import Literal, NamedTuple

from coach.practice.doses import DOSE, EVE, FIRST_DOSE, dose
from coach.practice.entry import Fault
from coach.practice.ladder import FEWER, Step
from coach.practice.ready import Readiness
from coach.practice.stand import SOON as AHEAD
from coach.practice.stand import Stand

Kind = Literal["review", "learning", "new", "again", "anew"]
"""What was learned comes back; a passage is on its ladder; it is met; it stands shaky and is played once more; it has
other fingers now and is played once with them."""

REVIEW_TAKES = 1.5
"""Takes that a review needs on average: one, and a few more where it fails (common practice, no source)."""

DRILL_MINUTES = 1.0
"""Minutes for the drill of one change (common practice, no source)."""

SHORTEST = 0.5
"""Minutes below which nothing is begun."""

MOST_CHANGES = 2
"""Changes of one passage that are drilled on one day: more would leave no time for the passage (common practice)."""

EVEN_ODDS = 0.5
"""Chance of going well below which a passage is not asked for as it is meant to be: its phrases come before the whole,
and a phrase with the fingers where the hand moves."""

Rank = tuple[int, float, int, int]
"""Class, urgency (smaller comes first), place in the piece, place of the piece."""

DUE, LEARNING, NEW, AGAIN, SOON = range(5)
"""Classes of rows, in the order of the day."""


class Wish(NamedTuple):
    """What a piece would like to have played today.

    Attributes:
        rank: How urgently.
        kind: Of the row that it becomes.
        stand: Of the passage.
        minutes: That it would take.
        change: The change to drill on its own; None for the passage itself.
        step: How it is asked for; None for the step of its ladder.
    """

    rank: Rank
    kind: Kind
    stand: Stand
    minutes: float
    change: Fault | None = None
    step: Step | None = None


def wishes_of(stands: Sequence[Stand], day: date, ready: Readiness | None, climb: float) -> list[Wish]:
    """What one piece would like to have played today.

    Args:
        stands: Of its passages.
        ready: How it stands before its date, None where it has none.
        climb: Minutes that learning takes for a quarter note.
    """
    text = day.isoformat()
    reviews = [stand for stand in stands if _to_review(stand, text, ready)]
    seen: set[str] = set()
    wishes = _reviews(reviews, day)
    begun = [stand for stand in stands if not stand.learned and stand.takes]
    for stand in sorted(begun, key=lambda stand: (-stand.height, stand.first)):
        left = min(
            dose(ready.days_left if ready else None) - _spent(stand, text),
            max(climb * stand.quarters * (1 - stand.height), SHORTEST),
        )
        if left < SHORTEST or stand.mark in seen:
            continue
        seen.add(stand.mark)
        rank = (LEARNING, -stand.height, stand.first, stand.place)
        changes = stand.changes[:MOST_CHANGES]
        wishes += [Wish(rank, "learning", stand, min(DRILL_MINUTES, left), fault) for fault in changes]
        wishes.append(Wish(rank, "learning", stand, max(left - DRILL_MINUTES * len(changes), SHORTEST)))
    wishes += _new(stands, ready, seen)
    wishes += _again(stands, day, ready, wishes)
    return wishes + _soon(stands, day, wishes)


def _reviews(stands: Sequence[Stand], day: date) -> list[Wish]:
    """Reviews, longer passages first: a phrase that lies in one of them needs none of its own.

    After a long absence it is the other way round: where all of it is unlikely to go well, phrases that are due come
    first, and the longer passage as soon as they were played.
    """
    wishes: list[Wish] = []
    for stand in sorted(stands, key=lambda stand: (stand.first - stand.last, stand.first)):
        if any(lies_in(stand, one.stand) for one in wishes):
            continue
        inside = [one for one in stands if one.kind == "phrase" and one is not stand and lies_in(one, stand)]
        chance = min(_chance(stand, day), prod(_chance(one, day) for one in inside))
        if inside and chance < EVEN_ODDS:
            continue
        step = FEWER if chance < EVEN_ODDS and FEWER in stand.steps else None
        rank = (DUE, _urgency(stand, day), stand.first, stand.place)
        wishes.append(Wish(rank, "review", stand, _review_minutes(stand), step=step))
    return wishes


def _chance(stand: Stand, day: date) -> float:
    """The chance that a passage is remembered, as far as its own reviews tell."""
    memory = stand.memory
    return 1.0 if memory is None else memory.chance(day)


def _review_minutes(stand: Stand) -> float:
    return REVIEW_TAKES * stand.seconds_a_take() / 60


def lies_in(stand: Stand, longer: Stand) -> bool:
    """Whether a passage lies in another one of the same piece."""
    return stand.piece == longer.piece and longer.first <= stand.first and stand.last <= longer.last


def _to_review(stand: Stand, text: str, ready: Readiness | None) -> bool:
    """Whether a review is still to come today: hands alone, or a take that was broken off, are none."""
    if not stand.learned or stand.reviewed == text:
        return False
    if ready is not None and ready.days_left <= EVE:
        return True
    return stand.due is not None and stand.due <= text


def _urgency(stand: Stand, day: date) -> float:
    """Reviews that have waited longest, measured by how long they could wait, come first."""
    if stand.due is None or stand.reviewed is None:
        return 0.0
    last = date.fromisoformat(stand.reviewed)
    return -(day - last).days / max((date.fromisoformat(stand.due) - last).days, 1)


def _new(stands: Sequence[Stand], ready: Readiness | None, seen: set[str]) -> list[Wish]:
    """New phrases by place; joins as soon as both phrases go in tempo, the whole piece once all of them do."""
    wishes: list[Wish] = []
    phrases = 0
    for stand in sorted(stands, key=lambda stand: (stand.last - stand.first, stand.first)):
        if stand.takes or stand.mark in seen or not stand.open:
            continue
        if stand.kind == "phrase":
            if ready is not None and phrases >= ready.new_today:
                continue
            phrases += 1
        # A join comes after the phrase that follows it: what is known is joined while the piece goes on. Before a
        # date the day's new phrases come first: one that is not met cannot be ready.
        after = float(stand.first if stand.kind == "phrase" else stand.last + 1)
        if ready is not None and stand.kind != "phrase":
            after += len(stands)
        if stand.kind == "piece":
            # After the last join, whose seam its takes would pass over.
            after += 0.5
        minutes = FIRST_DOSE if stand.kind == "phrase" else DOSE
        wishes.append(Wish((NEW, after, stand.first, stand.place), "new", stand, minutes))
        seen.add(stand.mark)
    return wishes


def _again(stands: Sequence[Stand], day: date, ready: Readiness | None, wishes: Sequence[Wish]) -> list[Wish]:
    """What is learned and stands shaky or weak though it is not due, for a day that has time left: once a day.

    On the eve of a date, and on the day itself, it comes back though it was reviewed today. A longer passage is mended
    in its parts first.
    """
    text = day.isoformat()
    eve = ready is not None and ready.days_left <= EVE
    unsure = [stand for stand in stands if stand.learned and stand.open and stand.standing in ("shaky", "weak")]
    found: list[Wish] = []
    for stand in sorted(unsure, key=lambda stand: (stand.last - stand.first, stand.first)):
        if stand.reviewed == text and not (eve and _spent(stand, text) < dose(EVE)):
            continue
        reviewed = any(one.kind == "review" and lies_in(stand, one.stand) for one in wishes)
        inside = any(lies_in(one.stand, stand) or one.stand.mark == stand.mark for one in (*wishes, *found))
        if not reviewed and not inside:
            waited = (day - date.fromisoformat(stand.reviewed)).days if stand.reviewed else 0
            urgency = (stand.standing != "weak") + 1 / (1 + waited)
            rank = (AGAIN, urgency, stand.first, stand.place)
            found.append(Wish(rank, "again", stand, _review_minutes(stand)))
    return found


def _soon(stands: Sequence[Stand], day: date, wishes: Sequence[Wish]) -> list[Wish]:
    """What is due in the next days, for a day that has time left."""
    text = day.isoformat()
    found: list[Wish] = []
    soon = [
        s for s in stands if s.learned and s.reviewed != text and s.due and text < s.due <= (day + AHEAD).isoformat()
    ]
    for stand in sorted(soon, key=lambda stand: (stand.first - stand.last, stand.first)):
        if not any(lies_in(stand, one.stand) for one in (*wishes, *found)):
            rank = (SOON, float((date.fromisoformat(str(stand.due)) - day).days), stand.first, stand.place)
            found.append(Wish(rank, "review", stand, stand.seconds_a_take() / 60))
    return found


def _spent(stand: Stand, text: str) -> float:
    """Minutes that the passage was practised today."""
    return stand.today_minutes if stand.last_day == text else 0.0
