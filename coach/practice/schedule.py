"""What to play today, within the minutes: what is due, being learned, new; then what stands shaky, and is due soon."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta, tzinfo
from typing import TYPE_CHECKING

from coach.practice import days
from coach.practice.doses import EVE, LAST_DAYS
from coach.practice.entry import Fault
from coach.practice.ladder import NO_FINGERS, Step
from coach.practice.log import Log
from coach.practice.memory import ANYONE, Player
from coach.practice.passage import Passage
from coach.practice.ready import CLIMB, Readiness, readiness, said
from coach.practice.stand import SOON as AHEAD
from coach.practice.stand import Stand
from coach.practice.wishes import AGAIN, DUE, LEARNING, NEW, SOON, Kind, Wish, wishes_of

if TYPE_CHECKING:
    from coach.listening.word import Word

MINUTES = 25
"""A day's practice, in minutes, unless the player says otherwise."""

WORTHWHILE = 2.0
"""Minutes that learning can still use when the day has no more."""

OPEN_PIECES = 3
"""Pieces with phrases still to be met that are under way at once (common practice, no source)."""

LEAST_LEFT = 0.5
"""Minutes left from which a day of which nothing is played still gets a row, though it takes longer; once something
is, `WORTHWHILE` must be left for that."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of today's practice.

    Attributes:
        kind: A review, a passage being learned, a new one, or one that stands shaky and is played once more.
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
        climb=log.climb_rate() if dated else CLIMB,
        zone=zone,
    )
    return replace(arranged, waiting=arranged.waiting + more_due)


def dates(
    log: Log, now: datetime | None = None, *, minutes: float = MINUTES, zone: tzinfo | None = None
) -> tuple[Readiness, ...]:
    """How the pieces with a date stand before it, the nearest first; see `today`."""
    return today(log, now, minutes=minutes, zone=zone).dates


def next_day(
    log: Log, now: datetime | None = None, *, minutes: float = MINUTES, zone: tzinfo | None = None
) -> date | None:
    """The first day after this one that has something to play; None where nothing will come back. See `today`.

    Few days need to be tried: what is begun or unsure comes tomorrow, else all is learned, and waits until it is nearly
    due or until the eve of a date.
    """
    instant = now or days.now()
    day = days.practice_day(instant, zone)
    _, due = log.in_practice()
    eves = [one.day - timedelta(days=EVE) for one in dates(log, instant, minutes=minutes, zone=zone)]
    nearly = [due - timedelta(days=early) for early in range(AHEAD.days + 1)] if due else []
    tried = sorted({one for one in (*eves, *nearly, day + timedelta(days=1)) if one > day})
    return next((one for one in tried if today(log, days.day_begins(one, zone), minutes=minutes, zone=zone).rows), None)


def arrange(
    stands: Sequence[Stand],
    now: datetime,
    *,
    minutes: float = MINUTES,
    played: float = 0.0,
    player: Player = ANYONE,
    climb: float = CLIMB,
    zone: tzinfo | None = None,
) -> Today:
    """What to play today, from how every passage in practice stands. Pure: the same stands give the same day.

    Pieces with a date come first for the minutes that they need to be ready. The rest goes to due reviews, then to what
    is being learned, then to what is new; what is left to passages that stand shaky, and to those that are due in the
    next days. Pieces take turns.
    """
    day = days.practice_day(now, zone)
    by_piece: dict[str, list[Stand]] = {}
    for stand in stands:
        by_piece.setdefault(stand.piece, []).append(stand)
    dated = _dates(by_piece, now, minutes, player, climb, zone)
    left = max(minutes - played, 0.0)
    rows: list[tuple[int, Row]] = []
    waiting = 0
    begun = _pieces_to_begin(by_piece, dated)
    found = [wish for piece, some in by_piece.items() for wish in wishes_of(some, day, dated.get(piece), climb)]
    found = [w for w in found if w.rank[0] != NEW or w.stand.piece in dated or _may_begin(w.stand, begun)]
    found.sort(key=lambda wish: wish.rank)
    for wish in _first_for_dates(found, dated):
        asked = min(wish.minutes, left) if wish.kind in ("learning", "new") and left >= WORTHWHILE else wish.minutes
        if asked <= left or (not rows and left > (LEAST_LEFT if not played else WORTHWHILE)):
            rows.append((wish.rank[0], _row(wish, asked, day, dated.get(wish.stand.piece), zone)))
            left -= asked
        elif wish.rank[0] == DUE:
            waiting += 1
    ordered = [row for place in range(SOON + 1) for row in take_turns([row for at, row in rows if at == place])]
    nearest = sorted(dated.values(), key=lambda one: one.at)
    return Today(day, minutes, played, tuple(ordered), waiting, tuple(nearest))


def _first_for_dates(wishes: Sequence[Wish], dated: Mapping[str, Readiness]) -> list[Wish]:
    """Wishes in the order in which they get their minutes: first what pieces with a date cannot do without today.

    That is its reviews for the minutes that its upkeep takes, all of them on the eve; and its phrases being learned,
    or new, for the minutes that they need to be ready. All else of such a piece comes in the common order.
    """
    upkeep = {piece: one.upkeep for piece, one in dated.items()}
    learning = {piece: one.first for piece, one in dated.items()}
    first: list[Wish] = []
    others: list[Wish] = []
    for wish in wishes:
        piece, kind = wish.stand.piece, wish.rank[0]
        ready = dated.get(piece)
        needed = False
        if ready is not None and ready.days_left <= EVE and kind in (DUE, AGAIN):
            needed = True
        elif ready is not None and kind == DUE:
            needed = upkeep[piece] > 0
            upkeep[piece] -= wish.minutes
        elif ready is not None and kind in (LEARNING, NEW) and wish.stand.kind == "phrase":
            needed = learning[piece] >= WORTHWHILE or ready.days_left <= LAST_DAYS or _goes_on(wish, first)
            learning[piece] -= wish.minutes
        (first if needed else others).append(wish)
    return first + others


def _goes_on(wish: Wish, before: Sequence[Wish]) -> bool:
    """Whether a wish is for the passage of the change that was wished for just before."""
    return bool(before) and before[-1].change is not None and before[-1].stand is wish.stand


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


def _pieces_to_begin(by_piece: Mapping[str, Sequence[Stand]], dated: Mapping[str, Readiness]) -> set[str]:
    """Undated pieces whose new phrases may come: those that are begun, and so many others that few are open at once."""
    new = {
        piece: some[0]
        for piece, some in by_piece.items()
        if piece not in dated and any(s.kind == "phrase" and not s.takes for s in some)
    }
    started = {piece for piece, stand in new.items() if stand.started}
    others = sorted((stand.place, piece) for piece, stand in new.items() if not stand.started)
    return started | {piece for _, piece in others[: max(OPEN_PIECES - len(started), 0)]}


def _may_begin(stand: Stand, begun: set[str]) -> bool:
    return stand.kind != "phrase" or stand.piece in begun


def day_name(day: date, today: date) -> str:
    """A day as a player says it: "yesterday", "Tuesday", "3 March", "3 March 2026"."""
    away = (day - today).days
    near = {-1: "yesterday", 0: "today", 1: "tomorrow"}
    if away in near:
        return near[away]
    if abs(away) < 7:
        return f"{day:%A}"
    return days.day_of_year(day, today)


def _row(wish: Wish, minutes: float, day: date, ready: Readiness | None, zone: tzinfo | None) -> Row:
    stand = wish.stand
    why = _why(wish, day, ready, zone)
    if stand.kept_from:
        why = f"{why}; {stand.kept_from}"
    step = wish.step or stand.next_step
    return Row(wish.kind, stand.passage, stand.title, step, minutes, why, stand.standing, wish.change)


def _why(wish: Wish, day: date, ready: Readiness | None, zone: tzinfo | None) -> str:
    """Why a row is there, in a few words."""
    stand = wish.stand
    if wish.kind == "again":
        return f"stands {stand.standing}, once more"
    if wish.kind == "review":
        if stand.due is not None and stand.due < day.isoformat():
            return f"due since {day_name(date.fromisoformat(stand.due), day)}"
        if stand.due == day.isoformat():
            return "due today"
        if wish.rank[0] == SOON or ready is None:
            due = date.fromisoformat(stand.due) if stand.due is not None else day
            return f"early, due {day_name(due, day)}"
        return f"once more before {said(ready.at, day, zone)}"
    if wish.change is not None:
        # Which bar stands before it.
        whose = "the" if wish.change.hand == "both" else f"{wish.change.hand} hand's"
        return f"{whose} change keeps failing"
    if stand.takes == 0 and stand.kind != "phrase":
        return f"joins phrases {stand.first} and {stand.last}" if stand.kind == "join" else "all phrases together"
    if wish.kind == "new":
        # In one line with all else there is room for the day; its hour stands where the date itself is told.
        return "new" if ready is None else f"new, for {day_name(ready.at.astimezone(zone).date(), day)}"
    if stand.standing == "weak" and stand.step == NO_FINGERS.name and stand.climb_minutes is not None:
        return "forgotten at its last review"
    return f"next: {stand.step}"
