"""How one passage stands today, as the schedule reads it from the log: one row, and no more than is needed."""

from __future__ import annotations

import json
import sqlite3
from datetime import date, timedelta
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from coach.practice import ladder
from coach.practice.entry import Fault, faults_from
from coach.practice.ladder import Shape, Step
from coach.practice.memory import Memory
from coach.practice.passage import Kind, Passage
from coach.practice.progress import REST
from coach.practice.rows import steps_of

if TYPE_CHECKING:
    from coach.listening.word import Word

SECONDS_A_CHORD = 3.0
"""How long a chord lasts on average over the whole ladder, until the player's own takes tell (common practice)."""

CHORDS = 10
"""Chords of a phrase that was never planned."""


class Stand(NamedTuple):
    """One passage of a piece in practice; days are ISO text, which sorts as days do.

    Attributes:
        number: Of its row in the log.
        piece, title, kind, first, last, onset, end, mark, bar_first, bar_last: What it is, see `Passage`.
        shape: Of its plan, JSON.
        step: Name of the step to play next.
        height: How much of its ladder is climbed, 0 to 1.
        learned: Whether only playing from memory (and the pedal) is left.
        open: Whether it can be practised: a join waits until its phrases go in tempo.
        standing: Solid, shaky, weak; None before the first take.
        due, reviewed, stability, difficulty: What `Memory` keeps, None before the first take that is graded.
        begun, last_day: Days of its first and its last take, None before the first.
        takes, seconds: How many takes, how long in all.
        today_minutes: Minutes practised on `last_day`, rests included.
        climb_minutes, climb_days: What learning it took; None, and the days so far, before it is learned.
        drills: Changes that are drilled on their own, JSON.
        kept_from: Where its history comes from, "" where it is its own.
        ready_by: The instant its piece must be ready by, ISO text in UTC; None without one.
        quarter_bpm: Tempo of the piece, None where none is known.
        started: Whether anything of its piece was played.
        place: Of its piece among all that the log knows, in the order in which they came.
    """

    number: int
    piece: str
    title: str
    kind: Kind
    first: int
    last: int
    onset: str
    end: str
    mark: str
    bar_first: int
    bar_last: int
    shape: str
    step: str
    height: float
    learned: int
    open: int
    standing: Word | None
    due: str | None
    reviewed: str | None
    stability: float | None
    difficulty: float | None
    begun: str | None
    last_day: str | None
    takes: int
    seconds: float
    today_minutes: float
    climb_minutes: float | None
    climb_days: int
    drills: str
    kept_from: str
    ready_by: str | None
    quarter_bpm: float | None
    started: int
    place: int

    @property
    def passage(self) -> Passage:
        bars = (self.bar_first, self.bar_last)
        span = Fraction(self.onset), Fraction(self.end)
        return Passage(self.piece, self.kind, self.first, self.last, *span, self.mark, bars)

    @property
    def quarters(self) -> float:
        """How long it is, in quarter notes."""
        return float(Fraction(self.end) - Fraction(self.onset))

    @property
    def steps(self) -> tuple[Step, ...]:
        """The ladder that it climbs."""
        return steps_of(self.passage, Shape(**json.loads(self.shape)))

    @property
    def climbing_steps(self) -> int:
        """Steps of its ladder up to playing from memory."""
        return next(place for place, step in enumerate(self.steps) if step == ladder.MEMORY)

    @property
    def next_step(self) -> Step:
        steps = self.steps
        return next((step for step in steps if step.name == self.step), ladder.ALL_STEPS[self.step])

    @property
    def memory(self) -> Memory | None:
        if self.stability is None or self.difficulty is None or self.reviewed is None or self.due is None:
            return None
        return Memory(self.stability, self.difficulty, date.fromisoformat(self.reviewed), date.fromisoformat(self.due))

    @property
    def changes(self) -> tuple[Fault, ...]:
        """The changes that are drilled on their own."""
        return faults_from(json.loads(self.drills))

    def seconds_a_take(self) -> float:
        """How long one take lasts, with the rest after it: from the player's own takes as soon as there are some."""
        if self.takes >= 3:
            return self.seconds / self.takes + REST
        chords = int(json.loads(self.shape).get("chords", 0)) or CHORDS
        phrases = self.last - self.first + 1
        return chords * phrases * SECONDS_A_CHORD + REST


QUERY = (
    "SELECT s.id, s.piece, p.title, s.kind, s.first, s.last, s.onset, s.end, s.mark, s.bar_first, s.bar_last,"
    " s.shape, s.step, s.height, s.learned, s.open, s.standing, s.due, s.reviewed, s.stability, s.difficulty,"
    " s.begun, s.last_day, s.takes, s.seconds, s.today_minutes, s.climb_minutes, s.climb_days, s.drills, s.kept_from,"
    " p.ready_by, p.quarter_bpm, EXISTS (SELECT 1 FROM passages o WHERE o.piece = s.piece AND o.takes > 0), p.rowid"
    " FROM passages s JOIN pieces p ON p.mark = s.piece WHERE s.current"
)
"""Reads stands; conditions on `p` and `s` follow."""


MOST = 60
"""Rows of each kind that are looked at for one day: no day holds as many."""

HERE = "AND p.state = 'in practice' AND p.source <> ''"
"""Pieces in practice that can be opened: of one that came with another machine's log only the takes may be here."""

_UNDATED = f"{HERE} AND (p.ready_by IS NULL OR p.ready_by <= :now)"

_FOR_A_DAY = (
    f"{QUERY} AND s.open {HERE} AND p.ready_by > :now",
    f"{QUERY} AND s.open AND s.learned AND s.due <= :day {_UNDATED}"
    " ORDER BY (julianday(:day) - julianday(s.reviewed)) / max(julianday(s.due) - julianday(s.reviewed), 1) DESC"
    " LIMIT :most",
    f"{QUERY} AND s.open AND NOT s.learned AND s.takes > 0 {_UNDATED} ORDER BY s.height DESC, s.first LIMIT :most",
    f"{QUERY} AND s.open AND s.takes = 0 AND s.kind <> 'phrase' {_UNDATED} ORDER BY s.last, p.rowid LIMIT :most",
    f"{QUERY} AND s.takes = 0 AND s.kind = 'phrase' {_UNDATED} AND EXISTS (SELECT 1 FROM passages o"
    " WHERE o.piece = s.piece AND o.takes > 0) ORDER BY s.first, p.rowid LIMIT :most",
    f"{QUERY} AND s.takes = 0 AND s.kind = 'phrase' {_UNDATED} AND NOT EXISTS (SELECT 1 FROM passages o"
    " WHERE o.piece = s.piece AND o.takes > 0) ORDER BY p.rowid, s.first LIMIT :most",
    f"{QUERY} AND s.open AND s.learned AND s.due > :day AND s.standing <> 'solid' AND s.reviewed < :day {_UNDATED}"
    " ORDER BY s.standing = 'weak' DESC, s.reviewed LIMIT :most",
    f"{QUERY} AND s.open AND s.learned AND s.due > :day AND s.due <= :soon {_UNDATED} ORDER BY s.due LIMIT :most",
)
"""Pieces with a date; then what is due, being learned, to be joined, new in pieces that are begun, new in others, not
solid, and due soon, each in the order of `schedule`."""

SOON = timedelta(days=2)
"""How long before it is due a passage may be played while there is time."""


def stands(connection: sqlite3.Connection, condition: str = "", values: tuple[object, ...] = ()) -> list[Stand]:
    """The passages that pieces are cut into today.

    Args:
        condition: SQL that follows `QUERY`, this package's own.
    """
    return list(map(Stand._make, connection.execute(QUERY + condition, values)))


def stands_for(connection: sqlite3.Connection, now: str, day: date) -> tuple[list[Stand], int]:
    """The passages that a day's practice may be made of.

    Args:
        now: This instant, as the log writes it.
        day: The day of practice.

    Returns:
        The passages, and how many more reviews are due.
    """
    values = {"now": now, "day": day.isoformat(), "soon": (day + SOON).isoformat(), "most": MOST}
    found = [list(map(Stand._make, connection.execute(query, values))) for query in _FOR_A_DAY]
    due = 0
    if len(found[1]) == MOST:
        count = "SELECT count(*) FROM passages s JOIN pieces p ON p.mark = s.piece WHERE s.current"
        query = f"{count} AND s.open AND s.learned AND s.due <= :day {_UNDATED}"
        due = int(connection.execute(query, values).fetchone()[0])
    return list({stand.number: stand for some in found for stand in some}.values()), max(due - MOST, 0)
