"""The practice record: one SQLite file that every finished take is written into at once."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from fractions import Fraction
from functools import wraps
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Literal, ParamSpec, Self, TypeVar

from coach import places
from coach.errors import CoachError
from coach.practice import days, derive, naming, rows
from coach.practice.entry import Entry, rested
from coach.practice.ladder import Shape, Step
from coach.practice.lineage import NEW_PLAN
from coach.practice.memory import Player
from coach.practice.mending import Damaged
from coach.practice.merging import add_spelling, take_in
from coach.practice.passage import Passage, passages_of
from coach.practice.progress import UNPLAYED, Progress
from coach.practice.ready import climb_rate
from coach.practice.spelling import Spelled
from coach.practice.stand import HERE, Stand, stands, stands_for
from coach.practice.store import Store

if TYPE_CHECKING:
    from coach.listening.take import Take
    from coach.listening.verdict import Word
    from coach.score.piece import Phrase, Piece

State = Literal["known", "in practice", "set aside"]
"""A piece is known once it was opened, in practice once it was taken up or played, set aside when it should rest."""

Given = ParamSpec("Given")
Result = TypeVar("Result")

PAGE = 1000
"""Entries read at a time."""


def _though_damaged(work: Callable[Given, Result]) -> Callable[Given, Result]:
    """Do something again when the file turned out to be damaged: it has been mended by then."""

    @wraps(work)
    def working(*given: Given.args, **more: Given.kwargs) -> Result:
        try:
            return work(*given, **more)
        except Damaged:
            return work(*given, **more)

    return working


class Log:
    """The practice log. Every method that writes has written to the disk when it returns."""

    def __init__(self, store: Store) -> None:
        self._store = store

    @classmethod
    def open(
        cls, path: Path | None = None, takes: Path | None = None, clock: Callable[[], datetime] = days.now
    ) -> Self:
        """Open the log, made on first use; a damaged one is mended, takes that it lacks are put back (see `notices`).

        Args:
            path: Its file; the data folder's where none is given.
            takes: The folder of takes; "takes" beside the file where none is given.
            clock: Tells this instant.

        Raises:
            CoachError: written by a newer coach, another program's file, or not to be opened at all.
        """
        where = path or places.log_file()
        return cls(Store(where, takes or where.parent / "takes", clock))

    @property
    def notices(self) -> list[str]:
        """Sentences to tell the player: what was mended, or put back."""
        return self._store.notices

    @property
    def takes(self) -> Path:
        """The folder of the takes' MIDI files."""
        return self._store.takes

    def close(self) -> None:
        """Let go of the file."""
        self._store.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    # Writing

    def keep(self, take: Take, entry: Entry) -> Entry:
        """Keep a finished take: its MIDI file first, which carries the entry, then the entry in the log.

        A disk that cannot hold the file does not cost the entry; `notices` says so.

        Returns:
            The entry as recorded, with the name of its file.
        """
        from coach.practice.files import file_name, write_with_entry

        named = replace(entry, midi=file_name(entry))
        try:
            write_with_entry(take, named, self.takes)
        except CoachError as error:
            self.notices.append(str(error))
            named = replace(entry, midi="")
        self.record(named)
        return named

    @_though_damaged
    def record(self, entry: Entry) -> None:
        """Write an entry. One that the log has already changes nothing. Its piece is in practice from here on."""
        with self._store.writing() as connection:
            if derive.add_entry(connection, entry):
                derive.follow(connection, entry)
                derive.take_up(connection, entry)

    @_though_damaged
    def keep_spelling(self, spelling: Spelled) -> None:
        """Write a spelling, apart from what was played."""
        with self._store.writing() as connection:
            add_spelling(connection, spelling)

    @_though_damaged
    def merge(self, entries: Iterable[Entry], others: Mapping[str, Sequence[Mapping[str, Any]]]) -> int:
        """Take in another machine's record (see `exchange.read_log`), without what this log has already.

        Returns:
            How many takes were new.
        """
        with self._store.writing() as connection:
            return take_in(connection, entries, others, here=False)

    @_though_damaged
    def mirror(
        self,
        entries: Iterable[Entry],
        others: Mapping[str, Sequence[Mapping[str, Any]]],
        cuts: Sequence[tuple[Passage, Shape]],
    ) -> None:
        """Make a new log tell what another player's tells there (see `exchange.read_log`): to be read, and thrown away.

        Args:
            cuts: What their pieces are cut into: what they have still to play is in no take.
        """
        with self._store.writing() as connection:
            take_in(connection, entries, others)
            derive.cut_all(connection, cuts)

    @_though_damaged
    def know(
        self, piece: Piece, phrases: Sequence[Phrase], shapes: Mapping[int, Shape] | None = None
    ) -> tuple[Passage, ...]:
        """Make the log know a piece and how it is cut into phrases today.

        A phrase that is cut anew keeps its history (see `lineage`); `kept_from` then says so. Where the same source
        held other notes before, these take their place in practice, with their date.

        Args:
            shapes: Shapes of the phrases that are planned, by number.

        Returns:
            All passages: the phrases, neighbours joined, the whole piece.
        """
        passages = passages_of(piece, phrases)
        mark = passages[0].piece if passages else ""
        if not passages or (self._is_opened_by(mark, piece) and self._cut_so(mark, passages, shapes or {})):
            return passages
        with self._store.writing() as connection:
            derive.opened(connection, mark, piece.title, piece.source, days.written(days.now()))
            connection.execute("UPDATE pieces SET quarter_bpm = ? WHERE mark = ?", (piece.quarter_bpm, mark))
            derive.cut(connection, mark, passages, shapes or {})
        return passages

    @_though_damaged
    def set_state(self, piece: str, state: State) -> None:
        """Take a piece up, or set it aside.

        Raises:
            CoachError: the log does not know the piece.
        """
        with self._store.writing() as connection:
            found = connection.execute(
                "UPDATE pieces SET state = ?, changed = ? WHERE mark = ?", (state, days.written(days.now()), piece)
            )
            if found.rowcount == 0:
                raise CoachError("the practice log does not know this piece yet; open it first")

    # Reading

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

    @_though_damaged
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

    @_though_damaged
    def kept_from(self, passage: Passage) -> str:
        """Where a passage's history comes from while it has not been played as it is cut today; "" else."""
        with self._store.reading() as connection:
            found = connection.execute(f"SELECT kept_from FROM passages {_THIS}", _key(passage)).fetchone()
        return str(found[0]) if found else ""

    @_though_damaged
    def cuts(self) -> list[tuple[Passage, Shape]]:
        """The passages that pieces are cut into today, and the shapes of their plans."""
        with self._store.reading() as connection:
            found = connection.execute(f"{rows.PASSAGE} WHERE current ORDER BY piece, id").fetchall()
        return [(known.passage, known.shape) for known in map(rows.passage_from, found)]

    @_though_damaged
    def standings(self, piece: str) -> dict[int, Word | None]:
        """How each phrase of a piece stands, by number."""
        with self._store.reading() as connection:
            found = connection.execute(
                "SELECT first, standing FROM passages WHERE piece = ? AND kind = 'phrase' AND current ORDER BY first",
                (piece,),
            )
            return dict(found.fetchall())

    @_though_damaged
    def spellings(self) -> list[Spelled]:
        """What was spelled, oldest first."""
        with self._store.reading() as connection:
            found = connection.execute("SELECT form FROM spellings ORDER BY at, uid").fetchall()
        return [Spelled.from_json(json.loads(form)) for (form,) in found]

    @_though_damaged
    def names(self) -> dict[str, str]:
        """What to call each piece, by its mark: its title, or its name where another has that title too."""
        with self._store.reading() as connection:
            return naming.names(connection)

    @_though_damaged
    def pieces(self) -> list[dict[str, Any]]:
        """What the log knows of pieces: mark, title, source, state, tempo, date, and when that was changed last."""
        with self._store.reading() as connection:
            found = connection.execute("SELECT * FROM pieces ORDER BY title, mark")
            names = [column[0] for column in found.description]
            return [dict(zip(names, row, strict=True)) for row in found.fetchall()]

    @_though_damaged
    def last_days(self) -> dict[str, date]:
        """The day on which each piece was last played, by its mark."""
        # From the takes of each piece itself: phrases of the same notes in other pieces share their passages' days.
        query = (
            "SELECT p.mark, (SELECT t.day FROM takes t WHERE t.piece = p.mark ORDER BY t.at DESC LIMIT 1) FROM pieces p"
        )
        with self._store.reading() as connection:
            found = connection.execute(query).fetchall()
        return {mark: date.fromisoformat(day) for mark, day in found if day}

    @_though_damaged
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

    @_though_damaged
    def planned_anew(self) -> list[Stand]:
        """Phrases of pieces in practice here that have another plan than they were last played from, piece by piece."""
        condition = f" {HERE} AND s.kind = 'phrase' AND s.kept_from = ? ORDER BY p.rowid, s.first"
        with self._store.reading() as connection:
            return naming.called(connection, stands(connection, condition, (NEW_PLAN,)))

    @_though_damaged
    def in_practice(self) -> tuple[int, date | None]:
        """How many pieces are in practice here, and the day on which the next review of them is due."""
        with self._store.reading() as connection:
            count, due = connection.execute(
                "SELECT count(DISTINCT p.mark), min(CASE WHEN s.open AND s.learned THEN s.due END)"
                f" FROM pieces p JOIN passages s ON s.piece = p.mark AND s.current WHERE 1 {HERE}"
            ).fetchone()
        return int(count), date.fromisoformat(due) if due else None

    @_though_damaged
    def stands_for(self, now: datetime, day: date) -> tuple[list[Stand], int]:
        """How the passages stand that a day's practice may be made of, and how many more reviews are due."""
        with self._store.reading() as connection:
            found, more = stands_for(connection, days.written(now), day)
            return naming.called(connection, found), more

    @_though_damaged
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

    @_though_damaged
    def spans(self, since: datetime, until: datetime) -> list[tuple[datetime, float]]:
        """When each take between two instants began, and how many seconds it lasted; the oldest first."""
        with self._store.reading() as connection:
            found = connection.execute(
                "SELECT at, seconds FROM takes WHERE at BETWEEN ? AND ? ORDER BY at",
                (days.written(since), days.written(until)),
            ).fetchall()
        return [(days.read(at), seconds) for at, seconds in found]

    @_though_damaged
    def player(self) -> Player:
        """How the player remembers, as far as the reviews have told."""
        with self._store.reading() as connection:
            return derive.player_of(connection)

    @_though_damaged
    def know_player(self, today: date) -> bool:
        """Ask the reviews how the player remembers, if there are enough new ones; opening the log does so too.

        Args:
            today: The day of practice: nothing becomes due on a day that is over.

        Returns:
            Whether anything changed, what is due included.
        """
        with self._store.writing() as connection:
            return derive.know_player(connection, today)

    @_though_damaged
    def climb_rate(self) -> float:
        """Minutes that learning takes for a quarter note of a phrase, from the phrases learned last."""
        with self._store.reading() as connection:
            found = connection.execute(
                "SELECT climb_minutes, onset, end FROM passages WHERE climb_minutes IS NOT NULL AND kind = 'phrase'"
                " ORDER BY last_day DESC LIMIT 40"
            ).fetchall()
        return climb_rate([(minutes, float(Fraction(end) - Fraction(onset))) for minutes, onset, end in found])

    @_though_damaged
    def set_date(self, piece: str, ready_by: datetime | None) -> None:
        """Give a piece the instant that it must be ready by, or none; a piece with a date is in practice.

        Raises:
            CoachError: the log does not know the piece.
        """
        with self._store.writing() as connection:
            written = days.written(ready_by) if ready_by else None
            found = connection.execute(
                "UPDATE pieces SET ready_by = ?, state = CASE WHEN ? IS NULL THEN state ELSE 'in practice' END,"
                " changed = ? WHERE mark = ?",
                (written, written, days.written(days.now()), piece),
            )
            if found.rowcount == 0:
                raise CoachError("the practice log does not know this piece yet; open it first")

    @_though_damaged
    def count(self, day: date | None = None) -> int:
        """How many takes the log holds, in all or of one day."""
        where, values = ("", ()) if day is None else (" WHERE day = ?", (day.isoformat(),))
        with self._store.reading() as connection:
            return int(connection.execute(f"SELECT count(*) FROM takes{where}", values).fetchone()[0])

    @_though_damaged
    def source(self, piece: str) -> str:
        """What opens a piece, by its mark; "" where the log does not know it."""
        with self._store.reading() as connection:
            found = connection.execute("SELECT source FROM pieces WHERE mark = ?", (piece,)).fetchone()
        return str(found[0]) if found else ""

    @_though_damaged
    def forget_source(self, *names: str) -> None:
        """A piece is no longer to be had by these names: it is not asked for until it is opened again."""
        with self._store.writing() as connection:
            connection.executemany("UPDATE pieces SET source = '' WHERE source = ?", [(name,) for name in names])

    @_though_damaged
    def find_sources(self, names: Mapping[str, str]) -> list[str]:
        """Say what opens pieces here that came with another machine's record.

        Args:
            names: What opens pieces, by their marks.

        Returns:
            Titles of the pieces in practice that nothing here opens.
        """
        with self._store.writing() as connection:
            connection.executemany(
                "UPDATE pieces SET source = :name WHERE mark = :mark AND source = ''"
                " AND NOT EXISTS (SELECT 1 FROM pieces WHERE source = :name)",
                [{"mark": mark, "name": name} for mark, name in names.items()],
            )
            found = connection.execute(
                "SELECT title FROM pieces WHERE source = '' AND state = 'in practice' ORDER BY title"
            ).fetchall()
        return [title for (title,) in found]

    @_though_damaged
    def played_on(self, day: date) -> tuple[str, ...]:
        """What was played on a day, as `names` calls it, in the order in which it was begun."""
        with self._store.reading() as connection:
            found = connection.execute(
                "SELECT piece FROM takes WHERE day = ? GROUP BY piece ORDER BY min(at)", (day.isoformat(),)
            ).fetchall()
            called = naming.names(connection) if found else {}
        return tuple(called[mark] for (mark,) in found)

    @_though_damaged
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

    # Inside

    @_though_damaged
    def _known(self, passage: Passage) -> rows.Known | None:
        with self._store.reading() as connection:
            found = connection.execute(f"{rows.PASSAGE} {_THIS}", _key(passage)).fetchone()
        return rows.passage_from(found) if found else None

    @_though_damaged
    def _is_opened_by(self, mark: str, piece: Piece) -> bool:
        """Whether the log has the piece's source and title already."""
        with self._store.reading() as connection:
            found = connection.execute("SELECT source, title FROM pieces WHERE mark = ?", (mark,)).fetchone()
        return found is not None and piece.source in ("", found[0]) and piece.title == found[1]

    @_though_damaged
    def _cut_so(self, mark: str, passages: Sequence[Passage], shapes: Mapping[int, Shape]) -> bool:
        with self._store.reading() as connection:
            found = connection.execute(f"{rows.PASSAGE} WHERE piece = ? AND current", (mark,)).fetchall()
        known = [rows.passage_from(row) for row in found]
        if {one.passage for one in known} != set(passages):
            return False
        return all(
            one.passage.kind != "phrase" or shapes.get(one.passage.first, one.shape) == one.shape for one in known
        )


_THIS = "WHERE piece = ? AND kind = ? AND onset = ? AND end = ?"


def _key(passage: Passage) -> tuple[str, str, str, str]:
    return passage.piece, passage.kind, str(passage.onset), str(passage.end)
