"""The practice record: one SQLite file that every finished take is written into at once; `record` reads it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Literal, Self

from coach import places
from coach.errors import CoachError
from coach.practice import days, derive, rows
from coach.practice.entry import Entry
from coach.practice.ladder import Shape
from coach.practice.mending import though_damaged
from coach.practice.merging import add_spelling, take_in
from coach.practice.passage import Passage, passages_of
from coach.practice.record import Record
from coach.practice.spelling import Spelled
from coach.practice.store import Store

if TYPE_CHECKING:
    from coach.listening.take import Take
    from coach.score.piece import Phrase, Piece

State = Literal["known", "in practice", "set aside"]
"""A piece is known once it was opened, in practice once it was taken up or played, set aside when it should rest."""


class Log(Record):
    """The practice log. Every method that writes has written to the disk when it returns."""

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

    @though_damaged
    def record(self, entry: Entry) -> None:
        """Write an entry. One that the log has already changes nothing. Its piece is in practice from here on."""
        with self._store.writing() as connection:
            if derive.add_entry(connection, entry):
                derive.follow(connection, entry)
                derive.take_up(connection, entry)

    @though_damaged
    def keep_spelling(self, spelling: Spelled) -> None:
        """Write a spelling, apart from what was played."""
        with self._store.writing() as connection:
            add_spelling(connection, spelling)

    @though_damaged
    def merge(self, entries: Iterable[Entry], others: Mapping[str, Sequence[Mapping[str, Any]]]) -> int:
        """Take in another machine's record (see `exchange.read_log`), without what this log has already.

        Returns:
            How many takes were new.
        """
        with self._store.writing() as connection:
            return take_in(connection, entries, others, here=False)

    @though_damaged
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

    @though_damaged
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

    @though_damaged
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

    @though_damaged
    def know_player(self, today: date) -> bool:
        """Ask the reviews how the player remembers, if there are enough new ones; opening the log does so too.

        Args:
            today: The day of practice: nothing becomes due on a day that is over.

        Returns:
            Whether anything changed, what is due included.
        """
        with self._store.writing() as connection:
            return derive.know_player(connection, today)

    @though_damaged
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

    @though_damaged
    def forget_source(self, *names: str) -> None:
        """A piece is no longer to be had by these names: it is not asked for until it is opened again."""
        with self._store.writing() as connection:
            connection.executemany("UPDATE pieces SET source = '' WHERE source = ?", [(name,) for name in names])

    @though_damaged
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

    @though_damaged
    def _is_opened_by(self, mark: str, piece: Piece) -> bool:
        """Whether the log has the piece's source and title already."""
        with self._store.reading() as connection:
            found = connection.execute("SELECT source, title FROM pieces WHERE mark = ?", (mark,)).fetchone()
        return found is not None and piece.source in ("", found[0]) and piece.title == found[1]

    @though_damaged
    def _cut_so(self, mark: str, passages: Sequence[Passage], shapes: Mapping[int, Shape]) -> bool:
        with self._store.reading() as connection:
            found = connection.execute(f"{rows.PASSAGE} WHERE piece = ? AND current", (mark,)).fetchall()
        known = [rows.passage_from(row) for row in found]
        if {one.passage for one in known} != set(passages):
            return False
        return all(
            one.passage.kind != "phrase" or shapes.get(one.passage.first, one.shape) == one.shape for one in known
        )
