"""What to play today: due reviews first, then what is being learned, then what is new, within the day's minutes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, tzinfo
from typing import TYPE_CHECKING, Literal, NamedTuple

from coach.practice import days
from coach.practice.entry import Fault
from coach.practice.ladder import NO_FINGERS, Step
from coach.practice.log import Log
from coach.practice.memory import ANYONE, Player
from coach.practice.passage import Passage
from coach.practice.ready import CLIMB_MINUTES, Readiness, readiness, said
from coach.practice.stand import Stand

if TYPE_CHECKING:
    from coach.listening.verdict import Word

Kind = Literal["review", "learning", "new"]

MINUTES = 25
"""A day's practice, in minutes, unless the player says otherwise."""

DOSE = 5.0
"""Minutes that one phrase being learned gets on one day: little and often (common practice, no source)."""

FIRST_DOSE = 6.0
"""Minutes for the first meeting with a phrase."""

REVIEW_TAKES = 1.5
"""Takes that a review needs on average: one, and a few more where it fails (common practice, no source)."""

DRILL_MINUTES = 1.0
"""Minutes for the drill of one change (common practice, no source)."""

WORTHWHILE = 2.0
"""Minutes that learning can still use when the day has no more."""

SHORTEST = 0.5
"""Minutes below which nothing is begun."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of today's practice.

    Attributes:
        kind: A due review, a passage being learned, or a new one.
        passage: What to play.
        title: Of its piece.
        step: How.
        minutes: How long it will take, about.
        why: Why it is there, in a few words.
        standing: How it stands, None before its first take.
        change: The change to drill on its own; None for the passage itself.
    """

    kind: Kind
    passage: Passage
    title: str
    step: Step
    minutes: float
    why: str
    standing: Word | None
    change: Fault | None = None


@dataclass(frozen=True, slots=True)
class Today:
    """A day's practice, as far as it is not played yet.

    Attributes:
        day: Day of practice.
        minutes: How long the day's practice is meant to be.
        played: Minutes that were practised on it already.
        rows: What to play, in order.
        waiting: Due reviews that do not fit into the minutes.
        dates: Pieces with a date, the nearest first.
    """

    day: date
    minutes: float
    played: float
    rows: tuple[Row, ...]
    waiting: int
    dates: tuple[Readiness, ...]

    @property
    def planned(self) -> float:
        """Minutes that the rows will take, about."""
        return sum(row.minutes for row in self.rows)


def today(log: Log, now: datetime | None = None, *, minutes: float = MINUTES, zone: tzinfo | None = None) -> Today:
    """What to play today, from the log.

    Args:
        now: This instant, with its time zone.
        minutes: How long the day's practice is meant to be, what was played already included.
        zone: Where the player is; None for this computer's zone.
    """
    instant = now or days.now()
    day = days.practice_day(instant, zone)
    stands, more_due = log.stands_for(instant, day)
    dated = any(stand.ready_by for stand in stands)
    arranged = arrange(
        stands,
        instant,
        minutes=minutes,
        played=log.minutes_on(day),
        player=log.player() if dated else ANYONE,
        climb=log.climb_minutes() if dated else CLIMB_MINUTES,
        zone=zone,
    )
    return replace(arranged, waiting=arranged.waiting + more_due)


def arrange(
    stands: Sequence[Stand],
    now: datetime,
    *,
    minutes: float = MINUTES,
    played: float = 0.0,
    player: Player = ANYONE,
    climb: float = CLIMB_MINUTES,
    zone: tzinfo | None = None,
) -> Today:
    """What to play today, from how every passage in practice stands. Pure: the same stands give the same day.

    Pieces whose date comes near take what they need of the minutes; the rest goes to reviews, then to what is being
    learned, then to new phrases. Pieces take turns.
    """
    day = days.practice_day(now, zone)
    by_piece: dict[str, list[Stand]] = {}
    for stand in stands:
        by_piece.setdefault(stand.piece, []).append(stand)
    dates = _dates(by_piece, now, minutes, player, climb, zone)
    left = max(minutes - played, 0.0)
    rows: list[Row] = []
    waiting = 0
    for first in (True, False):
        found = [
            wish
            for piece, some in by_piece.items()
            if (piece in dates) == first
            for wish in _wishes(some, day, dates.get(piece))
        ]
        found.sort(key=lambda wish: wish.rank)
        for wish in found:
            asked = min(wish.minutes, left) if wish.kind != "review" and left >= WORTHWHILE else wish.minutes
            if asked <= left or (not rows and left > SHORTEST):
                rows.append(_row(wish, asked, day, dates.get(wish.stand.piece), zone))
                left -= asked
            elif wish.kind == "review":
                waiting += 1
    ordered = [row for kind in ("review", "learning", "new") for row in take_turns([r for r in rows if r.kind == kind])]
    nearest = sorted(dates.values(), key=lambda one: one.at)
    return Today(day, minutes, played, tuple(ordered), waiting, tuple(nearest))


def take_turns(rows: Iterable[Row]) -> list[Row]:
    """Order rows so that pieces take turns, each piece's rows in the order given; a change stays before its phrase."""
    queues: dict[str, list[list[Row]]] = {}
    open_change: dict[str, bool] = {}
    for row in rows:
        queue = queues.setdefault(row.passage.piece, [])
        if open_change.get(row.passage.piece):
            queue[-1].append(row)
        else:
            queue.append([row])
        open_change[row.passage.piece] = row.change is not None
    ordered: list[Row] = []
    while queues:
        for piece in list(queues):
            ordered += queues[piece].pop(0)
            if not queues[piece]:
                del queues[piece]
    return ordered


Rank = tuple[int, float, int, str]
"""Class, urgency (smaller comes first), place in the piece, piece."""


class _Wish(NamedTuple):
    """What a piece would like to have played today."""

    rank: Rank
    kind: Kind
    stand: Stand
    minutes: float
    change: Fault | None = None


def _dates(
    by_piece: Mapping[str, Sequence[Stand]],
    now: datetime,
    minutes: float,
    player: Player,
    climb: float,
    zone: tzinfo | None,
) -> dict[str, Readiness]:
    """Readiness of each piece with a date to come; they share the day's minutes alike."""
    text = days.written(now)
    dated = {piece: some for piece, some in by_piece.items() if some[0].ready_by and some[0].ready_by > text}
    found = {}
    for piece, some in dated.items():
        share = minutes / len(dated)
        one = readiness(some, now, minutes=share, player=player, climb=climb, zone=zone)
        if one is not None:
            found[piece] = one
    return found


def _wishes(stands: Sequence[Stand], day: date, ready: Readiness | None) -> list[_Wish]:
    """What one piece would like to have played today."""
    text = day.isoformat()
    reviews = [stand for stand in stands if _to_review(stand, text, ready)]
    seen: set[str] = set()
    wishes = _reviews(reviews, day)
    begun = [stand for stand in stands if not stand.learned and stand.takes]
    for stand in sorted(begun, key=lambda stand: (-stand.height, stand.first)):
        left = min(_dose(stand, ready) - _spent(stand, text), max(CLIMB_MINUTES * (1 - stand.height), SHORTEST))
        if left < SHORTEST or stand.mark in seen:
            continue
        seen.add(stand.mark)
        rank = (1, -stand.height, stand.first, stand.piece)
        wishes += [_Wish(rank, "learning", stand, min(DRILL_MINUTES, left), fault) for fault in stand.changes]
        wishes.append(_Wish(rank, "learning", stand, left))
    return wishes + _new(stands, ready, seen)


def _reviews(stands: Sequence[Stand], day: date) -> list[_Wish]:
    """Reviews, longer passages first: a phrase that lies in one of them needs none of its own."""
    wishes: list[_Wish] = []
    for stand in sorted(stands, key=lambda stand: (stand.first - stand.last, stand.first)):
        if not any(one.stand.first <= stand.first and stand.last <= one.stand.last for one in wishes):
            rank = (0, _urgency(stand, day), stand.first, stand.piece)
            wishes.append(_Wish(rank, "review", stand, REVIEW_TAKES * stand.seconds_a_take() / 60))
    return wishes


def _to_review(stand: Stand, text: str, ready: Readiness | None) -> bool:
    if not stand.learned or stand.last_day == text:
        return False
    if ready is not None and ready.days_left <= 1 and (stand.last_day or "") < text:
        return True
    return stand.due is not None and stand.due <= text


def _urgency(stand: Stand, day: date) -> float:
    """Reviews that have waited longest, measured by how long they could wait, come first."""
    if stand.due is None or stand.reviewed is None:
        return 0.0
    last = date.fromisoformat(stand.reviewed)
    return -(day - last).days / max((date.fromisoformat(stand.due) - last).days, 1)


def _new(stands: Sequence[Stand], ready: Readiness | None, seen: set[str]) -> list[_Wish]:
    """New phrases by place; joins as soon as both phrases go in tempo, the whole piece once all of them do."""
    wishes: list[_Wish] = []
    phrases = 0
    for stand in sorted(stands, key=lambda stand: (stand.last - stand.first, stand.first)):
        if stand.takes or stand.mark in seen or not stand.open:
            continue
        if stand.kind == "phrase":
            if ready is not None and phrases >= ready.new_today:
                continue
            phrases += 1
            wishes.append(_Wish((2, float(stand.first), stand.first, stand.piece), "new", stand, FIRST_DOSE))
        else:
            wishes.append(_Wish((1, 0.0, stand.first, stand.piece), "learning", stand, DOSE))
        seen.add(stand.mark)
    return wishes


def _dose(stand: Stand, ready: Readiness | None) -> float:
    if stand.takes == 0:
        return FIRST_DOSE
    return 2 * DOSE if ready is not None and ready.days_left <= 2 else DOSE


def _spent(stand: Stand, text: str) -> float:
    """Minutes that the passage was practised today."""
    return stand.today_minutes if stand.last_day == text else 0.0


def day_name(day: date, today: date) -> str:
    """A day as a player says it: "yesterday", "Tuesday", "3 March"."""
    away = (day - today).days
    near = {-1: "yesterday", 0: "today", 1: "tomorrow"}
    if away in near:
        return near[away]
    return f"{day:%A}" if abs(away) < 7 else f"{day.day} {day:%B}"


def _row(wish: _Wish, minutes: float, day: date, ready: Readiness | None, zone: tzinfo | None) -> Row:
    stand = wish.stand
    why = _why(wish, day, ready, zone)
    if stand.kept_from:
        why = f"{why}; {stand.kept_from}"
    return Row(wish.kind, stand.passage, stand.title, stand.next_step, minutes, why, stand.standing, wish.change)


def _why(wish: _Wish, day: date, ready: Readiness | None, zone: tzinfo | None) -> str:
    """Why a row is there, in a few words."""
    stand = wish.stand
    if wish.kind == "review":
        if stand.due is not None and stand.due < day.isoformat():
            return f"due since {day_name(date.fromisoformat(stand.due), day)}"
        if stand.due == day.isoformat() or ready is None:
            return "due today"
        return f"once more before {said(ready.at, day, zone)}"
    if wish.change is not None:
        return f"the change in bar {wish.change.bar} keeps failing"
    if wish.kind == "new":
        return "new" if ready is None else f"new, to be ready by {said(ready.at, day, zone)}"
    if stand.takes == 0:
        return f"joins phrases {stand.first} and {stand.last}" if stand.kind == "join" else "all phrases together"
    if stand.standing == "weak" and stand.step == NO_FINGERS.name:
        return "forgotten at its last review"
    return f"next: {stand.step}"
