"""What the practice record tells: the takes, how passages stand by them, and what it knows of their pieces."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date, datetime
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from coach.practice import days, derive, naming, rows
from coach.practice.entry import Entry, rested
from coach.practice.ladder import Shape, Step
from coach.practice.lineage import NEW_PLAN
from coach.practice.memory import Player
from coach.practice.mending import though_damaged
from coach.practice.passage import Passage
from coach.practice.progress import UNPLAYED, Progress
from coach.practice.ready import climb_rate
from coach.practice.spelling import Spelled
from coach.practice.stand import HERE, Stand, stands, stands_for
from coach.practice.store import Store

if TYPE_CHECKING:
    from coach.listening.word import Word

PAGE = 1000
"""Entries read at a time."""


class Record:
    """The practice record, to be read. Whatever is asked, the file itself answers: another coach may write into it."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def entries(
        self,
        *,
        piece: str | None = None,
        since: date | None = None,
        until: date | None = None,
        latest: int | None = None,
    ) -> Iterator[Entry]:
        """The record, oldest first.

        Args:
            piece: Mark of the only piece wanted.
            since: First day of practice wanted.
            until: Last day of practice wanted.
            latest: Only so many of the newest.
        """
        wanted: list[tuple[str, tuple[str, ...]]] = []
        if piece is not None:
            wanted.append(("t.piece = ?", (piece,)))
        if since is not None:
            wanted.append(("t.day >= ?", (since.isoformat(),)))
        if until is not None:
            wanted.append(("t.day <= ?", (until.isoformat(),)))
        if latest is not None:
            return iter(self._page(wanted, "DESC", latest)[::-1])
        return self._pages(wanted)

    def _pages(self, wanted: list[tuple[str, tuple[str, ...]]]) -> Iterator[Entry]:
        """All entries wanted, a page at a time: a log of years does not fit into memory at once."""
        page = self._page(wanted, "ASC", PAGE)
        while page:
            yield from page
            # Row values compare column by column (SQLite, "Row Values").
            beyond = ("(t.at, t.uid) > (?, ?)", (days.written(page[-1].at), page[-1].uid))
            page = self._page([*wanted, beyond], "ASC", PAGE)

    @though_damaged
    def _page(self, wanted: list[tuple[str, tuple[str, ...]]], order: str, size: int) -> list[Entry]:
        where = f" WHERE {' AND '.join(condition for condition, _ in wanted)}" if wanted else ""
        values = [value for _, some in wanted for value in some]
        query = f"{rows.ENTRY}{where} ORDER BY t.at {order}, t.uid {order} LIMIT {int(size)}"
        with self._store.reading() as connection:
            found = connection.execute(query, values).fetchall()
        return [rows.entry_from(row) for row in found]

    def progress(self, passage: Passage) -> Progress:
        """How far a passage has come; as before the first take where the log does not know it."""
        known = self._known(passage)
        return known.progress if known else UNPLAYED

    def steps(self, passage: Passage) -> tuple[Step, ...]:
        """The ladder that a passage climbs."""
        known = self._known(passage)
        return known.steps if known else rows.steps_of(passage, Shape(chords=0))

    @though_damaged
    def kept_from(self, passage: Passage) -> str:
        """Where a passage's history comes from while it has not been played as it is cut today; "" else."""
        with self._store.reading() as connection:
            found = connection.execute(f"SELECT kept_from FROM passages {_THIS}", _key(passage)).fetchone()
        return str(found[0]) if found else ""

    @though_damaged
    def cuts(self) -> list[tuple[Passage, Shape]]:
        """The passages that pieces are cut into today, and the shapes of their plans."""
        with self._store.reading() as connection:
            found = connection.execute(f"{rows.PASSAGE} WHERE current ORDER BY piece, id").fetchall()
        return [(known.passage, known.shape) for known in map(rows.passage_from, found)]

    @though_damaged
    def standings(self, piece: str) -> dict[int, Word | None]:
        """How each phrase of a piece stands, by number."""
        with self._store.reading() as connection:
            found = connection.execute(
                "SELECT first, standing FROM passages WHERE piece = ? AND kind = 'phrase' AND current ORDER BY first",
                (piece,),
            )
            return dict(found.fetchall())

    @though_damaged
    def spellings(self) -> list[Spelled]:
        """What was spelled, oldest first."""
        with self._store.reading() as connection:
            found = connection.execute("SELECT form FROM spellings ORDER BY at, uid").fetchall()
        return [Spelled.from_json(json.loads(form)) for (form,) in found]

    @though_damaged
    def names(self) -> dict[str, str]:
        """What to call each piece, by its mark: its title, or its name where another has that title too."""
        with self._store.reading() as connection:
            return naming.names(connection)

    @though_damaged
    def pieces(self) -> list[dict[str, Any]]:
        """What the log knows of pieces: mark, title, source, state, tempo, date, and when that was changed last."""
        with self._store.reading() as connection:
            found = connection.execute("SELECT * FROM pieces ORDER BY title, mark")
            names = [column[0] for column in found.description]
            return [dict(zip(names, row, strict=True)) for row in found.fetchall()]

    @though_damaged
    def last_days(self) -> dict[str, date]:
        """The day on which each piece was last played, by its mark."""
        # From the takes of each piece itself: phrases of the same notes in other pieces share their passages' days.
        query = (
            "SELECT p.mark, (SELECT t.day FROM takes t WHERE t.piece = p.mark ORDER BY t.at DESC LIMIT 1) FROM pieces p"
        )
        with self._store.reading() as connection:
            found = connection.execute(query).fetchall()
        return {mark: date.fromisoformat(day) for mark, day in found if day}

    @though_damaged
    def stands(self, piece: str | None = None, *, here: bool = False) -> list[Stand]:
        """How every passage stands: of the pieces in practice, or of one piece whatever its state.

        Args:
            piece: Mark of the one piece.
            here: Only of pieces that can be opened here.

        Returns:
            Their titles as `names` tells them apart.
        """
        with self._store.reading() as connection:
            if piece is not None:
                found = stands(connection, " AND p.mark = ?", (piece,))
            else:
                found = stands(connection, f" {HERE}" if here else " AND p.state = 'in practice'")
            return naming.called(connection, found)

    @though_damaged
    def planned_anew(self) -> list[Stand]:
        """Phrases of pieces in practice here that have another plan than they were last played from, piece by piece."""
        condition = f" {HERE} AND s.kind = 'phrase' AND s.kept_from = ? ORDER BY p.rowid, s.first"
        with self._store.reading() as connection:
            return naming.called(connection, stands(connection, condition, (NEW_PLAN,)))

    @though_damaged
    def in_practice(self) -> tuple[int, date | None]:
        """How many pieces are in practice here, and the day on which the next review of them is due."""
        with self._store.reading() as connection:
            count, due = connection.execute(
                "SELECT count(DISTINCT p.mark), min(CASE WHEN s.open AND s.learned THEN s.due END)"
                f" FROM pieces p JOIN passages s ON s.piece = p.mark AND s.current WHERE 1 {HERE}"
            ).fetchone()
        return int(count), date.fromisoformat(due) if due else None

    @though_damaged
    def stands_for(self, now: datetime, day: date) -> tuple[list[Stand], int]:
        """How the passages stand that a day's practice may be made of, and how many more reviews are due."""
        with self._store.reading() as connection:
            found, more = stands_for(connection, days.written(now), day)
            return naming.called(connection, found), more

    @though_damaged
    def minutes_on(self, day: date) -> float:
        """Minutes practised on a day of practice; rests between takes count, longer pauses do not."""
        with self._store.reading() as connection:
            found = connection.execute(
                "SELECT at, seconds FROM takes WHERE day = ? ORDER BY at", (day.isoformat(),)
            ).fetchall()
        total, until = 0.0, None
        for at, seconds in found:
            began = days.read(at).timestamp()
            if until is not None:
                total += rested(began - until)
            total += seconds
            until = began + seconds
        return total / 60

    @though_damaged
    def spans(self, since: datetime, until: datetime) -> list[tuple[datetime, float]]:
        """When each take between two instants began, and how many seconds it lasted; the oldest first."""
        with self._store.reading() as connection:
            found = connection.execute(
                "SELECT at, seconds FROM takes WHERE at BETWEEN ? AND ? ORDER BY at",
                (days.written(since), days.written(until)),
            ).fetchall()
        return [(days.read(at), seconds) for at, seconds in found]

    @though_damaged
    def player(self) -> Player:
        """How the player remembers, as far as the reviews have told."""
        with self._store.reading() as connection:
            return derive.player_of(connection)

    @though_damaged
    def climb_rate(self) -> float:
        """Minutes that learning takes for a quarter note of a phrase, from the phrases learned last."""
        with self._store.reading() as connection:
            found = connection.execute(
                "SELECT climb_minutes, onset, end FROM passages WHERE climb_minutes IS NOT NULL AND kind = 'phrase'"
                " ORDER BY last_day DESC LIMIT 40"
            ).fetchall()
        return climb_rate([(minutes, float(Fraction(end) - Fraction(onset))) for minutes, onset, end in found])

    @though_damaged
    def count(self, day: date | None = None) -> int:
        """How many takes the log holds, in all or of one day."""
        where, values = ("", ()) if day is None else (" WHERE day = ?", (day.isoformat(),))
        with self._store.reading() as connection:
            return int(connection.execute(f"SELECT count(*) FROM takes{where}", values).fetchone()[0])

    @though_damaged
    def source(self, piece: str) -> str:
        """What opens a piece, by its mark; "" where the log does not know it."""
        with self._store.reading() as connection:
            found = connection.execute("SELECT source FROM pieces WHERE mark = ?", (piece,)).fetchone()
        return str(found[0]) if found else ""

    @though_damaged
    def played_on(self, day: date) -> tuple[str, ...]:
        """What was played on a day, as `names` calls it, in the order in which it was begun."""
        with self._store.reading() as connection:
            found = connection.execute(
                "SELECT piece FROM takes WHERE day = ? GROUP BY piece ORDER BY min(at)", (day.isoformat(),)
            ).fetchall()
            called = naming.names(connection) if found else {}
        return tuple(called[mark] for (mark,) in found)

    @though_damaged
    def turns(self, first: date, last: date) -> list[tuple[date, int, Passage, str, Word | None, Word]]:
        """Every change of how a passage stands, in order: day, number, passage, title, what it was, what it became."""
        with self._store.reading() as connection:
            found = connection.execute(
                "SELECT t.day, t.was, t.became, s.id, s.piece, s.kind, s.first, s.last, s.onset, s.end,"
                " s.mark, s.bar_first, s.bar_last FROM turns t JOIN passages s ON s.id = t.passage"
                " WHERE s.current AND t.day BETWEEN ? AND ? ORDER BY t.rowid",
                (first.isoformat(), last.isoformat()),
            ).fetchall()
            called = naming.names(connection) if found else {}
        return [
            (date.fromisoformat(day), number, rows.place_from((piece, *place)), called[piece], was, became)
            for day, was, became, number, piece, *place in found
        ]

    @though_damaged
    def _known(self, passage: Passage) -> rows.Known | None:
        with self._store.reading() as connection:
            found = connection.execute(f"{rows.PASSAGE} {_THIS}", _key(passage)).fetchone()
        return rows.passage_from(found) if found else None


_THIS = "WHERE piece = ? AND kind = ? AND onset = ? AND end = ?"


def _key(passage: Passage) -> tuple[str, str, str, str]:
    return passage.piece, passage.kind, str(passage.onset), str(passage.end)
