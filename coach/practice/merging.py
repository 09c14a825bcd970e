"""Another machine's log, or what was saved of a damaged one, taken into this one without duplicates."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from coach.practice import derive
from coach.practice.entry import Entry

STATES = ("known", "in practice", "set aside")


def take_in(
    connection: sqlite3.Connection,
    entries: Iterable[Entry],
    others: Mapping[str, Sequence[Mapping[str, Any]]],
) -> int:
    """Take in entries, and rows of other tables, that the log does not have.

    What a player decided about a piece (in practice or set aside, its date) follows whoever decided last.

    Args:
        entries: Takes; those that the log has already are passed over.
        others: Rows of `pieces` and `spellings`; rows that make no sense are passed over.

    Returns:
        How many takes were new.
    """
    new = [entry for entry in entries if derive.add_entry(connection, entry)]
    for row in others.get("pieces", ()):
        _take_piece(connection, row)
    derive.follow_all(connection, new)
    return len(new)


def _take_piece(connection: sqlite3.Connection, row: Mapping[str, Any]) -> None:
    mark, changed, state = row.get("mark"), row.get("changed"), row.get("state")
    if not (isinstance(mark, str) and isinstance(changed, str) and state in STATES):
        return
    derive.know_piece(connection, mark, str(row.get("title") or ""), str(row.get("source") or ""), "")
    bpm, ready_by = row.get("quarter_bpm"), row.get("ready_by")
    connection.execute(
        "UPDATE pieces SET state = ?, ready_by = ?, quarter_bpm = coalesce(quarter_bpm, ?), changed = ?"
        " WHERE mark = ? AND changed < ?",
        (
            state,
            ready_by if isinstance(ready_by, str) else None,
            bpm if isinstance(bpm, float | int) else None,
            changed,
            mark,
            changed,
        ),
    )
