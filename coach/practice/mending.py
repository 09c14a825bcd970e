"""What becomes of a damaged log: it is set aside, and what can be read of it and of the takes' files is put back."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import wraps
from pathlib import Path
from typing import Any, Literal, ParamSpec, TypeVar
from urllib.parse import quote

from coach.errors import DAMAGED, CoachError
from coach.practice import days, rows
from coach.practice.entry import Entry
from coach.practice.files import read_entry, take_files
from coach.practice.schema import Unreadable

BESIDE = ("-wal", "-shm")
"""Endings of the files that SQLite keeps beside its own."""

DAMAGE = frozenset({sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB})
"""Result codes that say that a file is damaged, or is no database at all."""


Given = ParamSpec("Given")
Result = TypeVar("Result")


class Damaged(CoachError):
    """The log's file is damaged."""


def though_damaged(work: Callable[Given, Result]) -> Callable[Given, Result]:
    """Do something again when the file turned out to be damaged: it has been mended by then."""

    @wraps(work)
    def working(*given: Given.args, **more: Given.kwargs) -> Result:
        try:
            return work(*given, **more)
        except Damaged:
            return work(*given, **more)

    return working


@dataclass(frozen=True, slots=True)
class Saved:
    """What could be read of a damaged log.

    Attributes:
        entries: Takes.
        others: Rows of tables that the takes' files know nothing of, by table.
    """

    entries: tuple[Entry, ...]
    others: dict[str, list[dict[str, Any]]]


def is_damage(error: Exception) -> bool:
    """Whether an error says that the file is damaged (extended codes of SQLite carry the plain one in one byte)."""
    if isinstance(error, UnicodeDecodeError | Unreadable):
        return True
    code = getattr(error, "sqlite_errorcode", None)
    return (code is not None and (code & 0xFF) in DAMAGE) or "Could not decode to UTF-8" in str(error)


def set_aside(path: Path) -> Path | None:
    """Move a damaged log away, with what lies beside it.

    Returns:
        Where it is now; None where another coach has moved it already.

    Raises:
        CoachError: it cannot be moved.
    """
    aside = path.with_name(f"{path.stem}.damaged-{days.now():%Y%m%dT%H%M%S%fZ}{path.suffix}")
    try:
        os.rename(path, aside)
        for ending in BESIDE:
            beside = path.with_name(path.name + ending)
            if beside.exists():
                os.rename(beside, aside.with_name(aside.name + ending))
    except FileNotFoundError:
        return aside if aside.exists() else None
    except OSError as error:
        raise CoachError(
            f'the practice log "{path}" is damaged and cannot be set aside ({error.strerror}); close every other coach '
            "and try again"
        ) from error
    return aside


def salvage(path: Path, others: tuple[str, ...] = ("pieces", "spellings"), *, read_only: bool = False) -> Saved:
    """Read what can be read of a log, damaged or whole: from its beginning as far as it goes, then from its end.

    Args:
        others: Tables whose rows are read as they are.
        read_only: Whether the file must not change at all; a damaged one may only be read whole when it may.
    """
    entries: dict[str, Entry] = {}
    found: dict[str, list[dict[str, Any]]] = {table: [] for table in others}
    try:
        mode = "ro" if read_only else "rw"
        connection = sqlite3.connect(f"file:{quote(path.resolve().as_posix())}?mode={mode}", uri=True)
    except sqlite3.Error:
        return Saved((), found)
    for table in others:
        try:
            cursor = connection.execute(f"SELECT * FROM {table} NOT INDEXED")
            names = [column[0] for column in cursor.description]
            found[table].extend(dict(zip(names, row, strict=True)) for row in cursor)
        except (sqlite3.Error, UnicodeDecodeError):
            continue
    called = {row["mark"]: row for row in found.get("pieces", [])}
    for order in ("ASC", "DESC"):
        for row in _take_rows(connection, order):
            entry = _sound(row)
            if entry is not None and entry.uid not in entries:
                piece = called.get(entry.passage.piece, {"title": "", "source": ""})
                entries[entry.uid] = replace(entry, title=piece["title"], source=piece["source"])
    connection.close()
    return Saved(tuple(sorted(entries.values(), key=lambda entry: (entry.at, entry.uid))), found)


def _take_rows(connection: sqlite3.Connection, order: Literal["ASC", "DESC"]) -> Iterator[tuple[Any, ...]]:
    """The rows of takes in an order of their numbers, up to the first that cannot be read.

    Python reads a row ahead and drops the one before a damaged page along with it, so that near the damage they are
    asked for one by one.
    """
    wanted = f"SELECT {rows.ENTRY_COLUMNS}, '', '', t.id FROM takes t NOT INDEXED"
    last: int | None = None
    with suppress(sqlite3.Error, UnicodeDecodeError):
        for *row, number in connection.execute(f"{wanted} ORDER BY t.id {order}"):
            last = number
            yield tuple(row)
        return  # all of them
    beyond = ">" if order == "ASC" else "<"
    with suppress(sqlite3.Error, UnicodeDecodeError):
        one = f"{wanted} WHERE t.id {beyond} ? ORDER BY t.id {order} LIMIT 1"
        while last is not None and (found := connection.execute(one, (last,)).fetchone()) is not None:
            *row, last = found
            yield tuple(row)


def unrecorded(folder: Path, recorded: frozenset[str], months: int | None) -> Iterator[Entry]:
    """The entries of takes whose files lie in the folder and that the log does not name.

    Args:
        recorded: Names of files that the log names.
        months: Look only into so many of the newest months; None for all.
    """
    for path in take_files(folder, months):
        name = path.relative_to(folder).as_posix()
        if name not in recorded:
            entry = read_entry(path)
            if entry is not None:
                yield replace(entry, midi=name)


def _sound(row: tuple[Any, ...]) -> Entry | None:
    """An entry from a row of a damaged file, None where the row makes no sense."""
    try:
        entry = rows.entry_from(row)
        return Entry.from_json(entry.to_json())
    except (Unreadable, *DAMAGED):
        return None
