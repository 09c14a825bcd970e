"""Seven days back and seven ahead: what was played, what became solid, what fell back, what is due, what is weak."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from typing import TYPE_CHECKING

from coach.practice import days
from coach.practice.log import Log
from coach.practice.passage import Passage
from coach.practice.ready import CLIMB, Readiness, date_was
from coach.practice.schedule import MINUTES, dates
from coach.practice.stand import Stand
from coach.practice.wishes import DUE, lies_in, wishes_of

if TYPE_CHECKING:
    from coach.listening.word import Word

DAYS = 7
"""Days shown before today, and from today on."""


@dataclass(frozen=True, slots=True)
class Turn:
    """A passage that came to stand otherwise.

    Attributes:
        passage: Which.
        title: Of its piece.
        was: How it stood, None before its first take.
        became: How it stands since.
    """

    passage: Passage
    title: str
    was: Word | None
    became: Word


@dataclass(frozen=True, slots=True)
class Past:
    """A day that was.

    Attributes:
        day: Day of practice.
        minutes: Practised on it.
        takes: How many.
        pieces: Titles of what was played, in the order in which it was begun.
        solid: What became solid on it and was so at its end.
        fell: What had been solid at its beginning and was not at its end.
    """

    day: date
    minutes: float
    takes: int
    pieces: tuple[str, ...]
    solid: tuple[Turn, ...]
    fell: tuple[Turn, ...]


@dataclass(frozen=True, slots=True)
class Ahead:
    """A day to come; today is the first of them and holds all that is overdue too.

    Attributes:
        day: Day of practice.
        due: What comes back on it, by piece.
        ready: Titles of pieces that must be ready by a time on it that is still to come.
        past: Of pieces whose date was on it, with when that was: "Wide Water: its date was today 10:00".
    """

    day: date
    due: tuple[Stand, ...]
    ready: tuple[str, ...]
    past: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Week:
    """The week around today.

    Attributes:
        today: Day of practice.
        past: Seven days, today the last.
        ahead: Seven days, today the first.
        weak: Phrases that are weak, those that have waited longest first.
        dates: Pieces with a date, the nearest first.
        standing: How many phrases in practice are solid, shaky, weak, and not played yet (None).
        shaky: Phrases that are shaky, in the order of the weak ones.
    """

    today: date
    past: tuple[Past, ...]
    ahead: tuple[Ahead, ...]
    weak: tuple[Stand, ...]
    dates: tuple[Readiness, ...]
    standing: dict[Word | None, int]
    shaky: tuple[Stand, ...] = ()


def week(log: Log, now: datetime | None = None, *, minutes: float = MINUTES, zone: tzinfo | None = None) -> Week:
    """The week around an instant.

    Args:
        now: This instant, with its time zone.
        minutes: How long a day's practice is meant to be.
        zone: Where the player is; None for this computer's zone.
    """
    instant = now or days.now()
    today = days.practice_day(instant, zone)
    stands = log.stands(here=True)
    first = today - timedelta(days=DAYS - 1)
    turns = _turns(log, first, today)
    dated = dates(log, instant, minutes=minutes, zone=zone)
    past = []
    for day in _days(first):
        changed = turns.get(day, [])
        past.append(
            Past(
                day=day,
                minutes=log.minutes_on(day),
                takes=log.count(day),
                pieces=log.played_on(day),
                solid=tuple(turn for turn in changed if turn.became == "solid"),
                fell=tuple(turn for turn in changed if turn.was == "solid"),
            )
        )
    return Week(
        today=today,
        past=tuple(past),
        ahead=_ahead(stands, dated, instant, zone),
        weak=phrases_that_stand("weak", stands),
        shaky=phrases_that_stand("shaky", stands),
        dates=dated,
        standing={word: _count(stands, word) for word in ("solid", "shaky", "weak", None)},
    )


def phrases_that_stand(word: Word, stands: Sequence[Stand]) -> tuple[Stand, ...]:
    """The phrases that stand so, those that have waited longest first: the order in which one drills them in turn."""
    found = [stand for stand in stands if stand.kind == "phrase" and stand.standing == word]
    return tuple(sorted(found, key=lambda stand: (stand.last_day or "", stand.title, stand.first)))


def _days(first: date) -> list[date]:
    return [first + timedelta(days=number) for number in range(DAYS)]


def _turns(log: Log, first: date, last: date) -> dict[date, list[Turn]]:
    """What each day changed from its beginning to its end; changes undone on the same day are none."""
    whole: dict[tuple[date, int], Turn] = {}
    for day, number, passage, title, was, became in log.turns(first, last):
        before = whole.get((day, number))
        whole[day, number] = Turn(passage, title, before.was if before else was, became)
    by_day: dict[date, list[Turn]] = {}
    for (day, _), turn in whole.items():
        if turn.was != turn.became:
            by_day.setdefault(day, []).append(turn)
    return by_day


def _ahead(
    stands: Sequence[Stand], dated: Sequence[Readiness], now: datetime, zone: tzinfo | None
) -> tuple[Ahead, ...]:
    today = days.practice_day(now, zone)
    by_piece: dict[str, list[Stand]] = {}
    for stand in stands:
        by_piece.setdefault(stand.piece, []).append(stand)
    found = []
    now_due = _due_today(by_piece, today, dated)
    for day in _days(today):
        due = now_due if day == today else _due_on(day, stands, today, now_due)
        ready = sorted(
            (some[0].title, piece)
            for piece, some in by_piece.items()
            if (at := _date_of(some)) and at > now and days.practice_day(at, zone) == day
        )
        past = [
            f"{some[0].title}: {said}"
            for some in by_piece.values()
            if day == today and (said := date_was(some[0].ready_by, now, zone))
        ]
        ordered = sorted(due, key=lambda s: (s.title, s.piece, s.first, s.last))
        found.append(Ahead(day, tuple(ordered), tuple(title for title, _ in ready), tuple(sorted(past))))
    return tuple(found)


def _due_today(by_piece: Mapping[str, Sequence[Stand]], today: date, dated: Sequence[Readiness]) -> list[Stand]:
    """What is due as Today has it, whether it fits into the minutes or not."""
    ready = {one.piece: one for one in dated}
    return [
        wish.stand
        for piece, some in by_piece.items()
        for wish in wishes_of([stand for stand in some if stand.open], today, ready.get(piece), CLIMB)
        if wish.kind == "review" and wish.rank[0] == DUE
    ]


def _due_on(day: date, stands: Sequence[Stand], today: date, now_due: Sequence[Stand]) -> list[Stand]:
    """What comes back on a later day; what is due and not asked for today waits until tomorrow."""
    due: list[Stand] = []
    # As on the day itself, a phrase that lies in a longer passage needs no review of its own.
    for stand in sorted(stands, key=lambda s: (s.first - s.last, s.first)):
        if stand.learned and stand.open and stand.due is not None:
            waits = not any(lies_in(stand, other) for other in now_due)
            comes = max(date.fromisoformat(stand.due), today + timedelta(days=waits))
            if comes == day and not any(lies_in(stand, other) for other in due):
                due.append(stand)
    return due


def _date_of(stands: Sequence[Stand]) -> datetime | None:
    return days.read(stands[0].ready_by) if stands[0].ready_by else None


def _count(stands: Sequence[Stand], word: Word | None) -> int:
    return sum(1 for stand in stands if stand.kind == "phrase" and stand.standing == word)
