"""What to play today: due reviews first, then what is being learned, then what is new, within the day's minutes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, tzinfo
from typing import Literal

from coach.listening.verdict import Word
from coach.practice import days
from coach.practice.entry import Fault
from coach.practice.ladder import FEWER, MEMORY, NO_FINGERS, PEDAL, Step
from coach.practice.log import Log
from coach.practice.memory import ANYONE, Player
from coach.practice.passage import Passage
from coach.practice.ready import CLIMB_MINUTES, Readiness, readiness, said
from coach.practice.stand import Stand

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

IN_TEMPO = frozenset({FEWER.name, NO_FINGERS.name, MEMORY.name, PEDAL.name})
"""Steps beyond playing together in tempo: from there a phrase can be joined to its neighbour."""


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
    stands = log.stands()
    dated = any(stand.ready_by for stand in stands)
    return arrange(
        stands,
        instant,
        minutes=minutes,
        played=log.minutes_on(day),
        player=log.player() if dated else ANYONE,
        climb=log.climb_minutes() if dated else CLIMB_MINUTES,
        zone=zone,
    )


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
            row
            for piece, some in by_piece.items()
            if (piece in dates) == first
            for row in _wanted(some, day, dates.get(piece), zone)
        ]
        found.sort(key=lambda ranked: ranked[0])
        for _, row in found:
            if row.minutes > left >= WORTHWHILE and row.kind != "review":
                row = replace(row, minutes=left)
            if row.minutes <= left or (not rows and left > SHORTEST):
                rows.append(row)
                left -= row.minutes
            elif row.kind == "review":
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


def _wanted(stands: Sequence[Stand], day: date, ready: Readiness | None, zone: tzinfo | None) -> list[tuple[Rank, Row]]:
    """What one piece would like to have played today, each with its rank."""
    text = day.isoformat()
    wanted: list[tuple[Rank, Row]] = []
    reviews = [stand for stand in stands if _to_review(stand, text, ready)]
    reviews.sort(key=lambda stand: (stand.first - stand.last, stand.first))
    covered: list[Stand] = []
    for stand in reviews:
        if any(longer.first <= stand.first and stand.last <= longer.last for longer in covered):
            continue
        covered.append(stand)
        row = _row("review", stand, REVIEW_TAKES * stand.seconds_a_take() / 60, _why_review(stand, day, ready, zone))
        wanted.append(((0, _urgency(stand, day), stand.first, stand.piece), row))
    in_tempo = {stand.first for stand in stands if stand.kind == "phrase" and stand.step in IN_TEMPO}
    begun = [stand for stand in stands if not stand.learned and stand.takes]
    seen: set[str] = set()
    for stand in sorted(begun, key=lambda stand: (-stand.height, stand.first)):
        left = min(_dose(stand, ready) - _spent(stand, text), max(CLIMB_MINUTES * (1 - stand.height), SHORTEST))
        if left < SHORTEST or stand.mark in seen:
            continue
        seen.add(stand.mark)
        rank = (1, -stand.height, stand.first, stand.piece)
        for fault in stand.changes:
            why = f"the change in bar {fault.bar} keeps failing"
            wanted.append((rank, _row("learning", stand, min(DRILL_MINUTES, left), why, fault)))
        wanted.append((rank, _row("learning", stand, left, _why_learning(stand))))
    wanted += _new(stands, in_tempo, ready, day, zone, seen)
    return wanted


def _to_review(stand: Stand, text: str, ready: Readiness | None) -> bool:
    if not stand.learned or stand.last_day == text:
        return False
    if ready is not None and ready.days_left <= 1 and (stand.last_day or "") < text:
        return True
    return stand.due is not None and stand.due <= text


def _urgency(stand: Stand, day: date) -> float:
    """Reviews that have waited longest, measured by how long they could wait, come first."""
    memory = stand.memory
    if memory is None:
        return 0.0
    interval = max((memory.due - memory.last).days, 1)
    return -(day - memory.last).days / interval


def _new(
    stands: Sequence[Stand],
    in_tempo: set[int],
    ready: Readiness | None,
    day: date,
    zone: tzinfo | None,
    seen: set[str],
) -> list[tuple[Rank, Row]]:
    """New phrases by place; joins as soon as both phrases go in tempo, the whole piece once all of them do."""
    wanted: list[tuple[Rank, Row]] = []
    phrases = 0
    for stand in sorted(stands, key=lambda stand: (stand.last - stand.first, stand.first)):
        if stand.takes or stand.mark in seen:
            continue
        if stand.kind == "phrase":
            if ready is not None and phrases >= ready.new_today:
                continue
            phrases += 1
            seen.add(stand.mark)
            why = "new" if ready is None else f"new, to be ready by {said(ready.at, day, zone)}"
            wanted.append(((2, float(stand.first), stand.first, stand.piece), _row("new", stand, FIRST_DOSE, why)))
        elif in_tempo.issuperset(range(stand.first, stand.last + 1)):
            seen.add(stand.mark)
            why = f"joins phrases {stand.first} and {stand.last}" if stand.kind == "join" else "all phrases together"
            row = _row("learning", stand, DOSE, why)
            wanted.append(((1, 0.0, stand.first, stand.piece), row))
    return wanted


def _dose(stand: Stand, ready: Readiness | None) -> float:
    if stand.takes == 0:
        return FIRST_DOSE
    return 2 * DOSE if ready is not None and ready.days_left <= 2 else DOSE


def _spent(stand: Stand, text: str) -> float:
    """Minutes that the passage was practised today."""
    return stand.today_minutes if stand.last_day == text else 0.0


def _why_review(stand: Stand, day: date, ready: Readiness | None, zone: tzinfo | None) -> str:
    if stand.due is not None and stand.due < day.isoformat():
        return f"due since {day_name(date.fromisoformat(stand.due), day)}"
    if stand.due == day.isoformat():
        return "due today"
    assert ready is not None
    return f"once more before {said(ready.at, day, zone)}"


def _why_learning(stand: Stand) -> str:
    if stand.standing == "weak" and stand.step == NO_FINGERS.name:
        return "forgotten at its last review"
    return f"next: {stand.step}"


def day_name(day: date, today: date) -> str:
    """A day as a player says it: "yesterday", "Tuesday", "3 March"."""
    away = (day - today).days
    near = {-1: "yesterday", 0: "today", 1: "tomorrow"}
    if away in near:
        return near[away]
    return f"{day:%A}" if abs(away) < 7 else f"{day.day} {day:%B}"


def _row(kind: Kind, stand: Stand, minutes: float, why: str, change: Fault | None = None) -> Row:
    if stand.kept_from:
        why = f"{why}; {stand.kept_from}"
    return Row(kind, stand.passage, stand.title, stand.next_step, minutes, why, stand.standing, change)
