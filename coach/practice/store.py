"""The log's file: opened, written all or nothing, shared with other coaches, and mended when it is damaged."""

from __future__ import annotations

import os
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import date, datetime, timedelta
from pathlib import Path

from coach.errors import CoachError
from coach.practice import days, derive, schema
from coach.practice.files import newest_months
from coach.practice.mending import Damaged, Saved, is_damage, salvage, set_aside, unrecorded
from coach.practice.merging import take_in
from coach.practice.progress import FORM

PATIENCE = 20.0
"""Seconds to wait for another coach that is writing into the same log."""

BELIEVED = timedelta(days=2)
"""How far beyond this instant a take may lie: clocks of two machines differ, and so do their time zones."""

RECENT_MONTHS = 2
"""Newest months of takes' files that are looked through on opening, for takes that the log lacks."""


class Store:
    """One open log file. Safe to use from several threads and beside other coaches.

    Attributes:
        path: Of the file.
        takes: The folder of the takes' MIDI files.
        notices: Sentences to tell the player: what was mended, or put back.
    """

    def __init__(self, path: Path, takes: Path, clock: Callable[[], datetime] = days.now) -> None:
        """Open the file, made on first use.

        Args:
            path: Of the file.
            takes: The folder of the takes' MIDI files.
            clock: Tells this instant; takes that lie far beyond it do not count until their day comes.

        Raises:
            CoachError: written by a newer coach, another program's file, or not to be opened at all.
        """
        self.path = path
        self.takes = takes
        self.notices: list[str] = []
        self._clock = clock
        self._lock = threading.RLock()
        self._connection: sqlite3.Connection | None = None
        self._file = (0, 0)
        self._closed = False
        try:
            self._connect(None)
        except Damaged:
            self._mend()
        except BaseException:
            self.close()
            raise

    def close(self) -> None:
        """Let go of the file for good."""
        self._closed = True
        self._let_go()

    def _let_go(self) -> None:
        with self._lock:
            if self._connection is not None:
                self._connection.close()
            self._connection = None

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """The connection, to read from.

        Raises:
            Damaged: the file was damaged; it has been mended, and the reading is to be done again.
            CoachError: the file cannot be read.
        """
        with self._lock, self._mending(), _plain_errors(self.path):
            yield self._ours()

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """The connection, to write to: all or nothing, and alone; another coach waits until this is on the disk.

        Raises:
            Damaged: the file was damaged; it has been mended, and the writing is to be done again.
            CoachError: the file cannot be written, or a newer coach has raised it to its form meanwhile.
        """
        with self._lock, self._mending(), _plain_errors(self.path):
            connection = self._ours()
            with _transaction(connection):
                schema.version_of(connection)
                yield connection

    def _connect(self, saved: Saved | None) -> int:
        """Open the file and bring it up to date: its form, what is worked out, takes that it lacks.

        Args:
            saved: What could be read of a damaged file in whose place this one is.

        Returns:
            How many takes were put in.
        """
        schema.refuse_newer(self.path)
        with _plain_errors(self.path):
            connection = sqlite3.connect(self.path, timeout=PATIENCE, isolation_level=None, check_same_thread=False)
            self._connection = connection
            schema.version_of(connection)
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA foreign_keys = ON")
            connection.execute("PRAGMA synchronous = FULL")
            connection.create_function("until", 0, self._until)
            self._file = _identity(self.path)
            with _transaction(connection):
                before = schema.migrate(connection)
                if derive.fact(connection, "rules") != str(FORM):
                    derive.work_out_all(connection, self._today())
                if saved is not None:
                    take_in(connection, saved.entries, saved.others)
                back = self._put_back(connection, None if before == 0 or saved is not None else RECENT_MONTHS)
                derive.leave_out_future(connection)
                derive.know_player(connection, self._today())
        if back and saved is None:
            takes, files = ("1 take was", "its own file") if back == 1 else (f"{back} takes were", "their own files")
            self.notices.append(f"{takes} put back into the practice log from {files}.")
        return back + (len(saved.entries) if saved else 0)

    def _put_back(self, connection: sqlite3.Connection, months: int | None) -> int:
        """Take in takes whose files lie in the folder and that the log lacks: a coach was killed between the two."""
        folders = newest_months(self.takes, months)
        if not folders:
            return 0
        since = "" if months is None else folders[0]
        found = connection.execute("SELECT midi FROM takes WHERE at >= ?", (since,))
        entries = tuple(unrecorded(self.takes, frozenset(name for (name,) in found), months))
        return take_in(connection, entries, {}) if entries else 0

    def _today(self) -> date:
        return days.practice_day(self._clock())

    def _until(self) -> str:
        return days.written(self._clock() + BELIEVED)

    def _mend(self) -> None:
        """Set a damaged file aside and begin a new one with all that can be saved."""
        self._let_go()
        aside = set_aside(self.path)
        count = self._connect(salvage(aside) if aside else None)
        if aside is not None:
            saved = "No take could be saved" if count == 0 else f"{count} take{'s' if count > 1 else ''} could be saved"
            self.notices.append(f'The practice log was damaged and has been set aside as "{aside.name}". {saved}.')

    @contextmanager
    def _mending(self) -> Iterator[None]:
        try:
            yield
        except Damaged as error:
            self._mend()
            raise Damaged(f"{self.notices[-1] if self.notices else error} Please try again.") from error

    def _ours(self) -> sqlite3.Connection:
        """The connection, made anew where another coach has put a mended file in the place of the one we had."""
        if self._closed:
            raise CoachError("the practice log is closed")
        if self._connection is None or _identity(self.path) != self._file:
            self._let_go()
            try:
                self._connect(None)
            except BaseException:
                # The next reading tries again: a folder that is away may come back.
                self._let_go()
                raise
        assert self._connection is not None
        return self._connection


@contextmanager
def _transaction(connection: sqlite3.Connection) -> Iterator[None]:
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
    except BaseException:
        with suppress(sqlite3.Error):
            connection.execute("ROLLBACK")
        raise
    connection.execute("COMMIT")


@contextmanager
def _plain_errors(path: Path) -> Iterator[None]:
    try:
        yield
    except (sqlite3.Error, UnicodeDecodeError) as error:
        if is_damage(error):
            raise Damaged(f'the practice log "{path}" is damaged') from error
        raise CoachError(f'cannot use the practice log "{path}": {error}') from error


def _identity(path: Path) -> tuple[int, int]:
    """What tells a file from another one put in its place."""
    try:
        found = os.stat(path)
    except OSError:
        return (0, 0)
    return (found.st_dev, found.st_ino)
