"""Another machine's log, or what was saved of a damaged one, taken into this one without duplicates."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from coach.errors import DAMAGED
from coach.practice import days, derive
from coach.practice.entry import Entry
from coach.practice.forms import must_be_sound
from coach.practice.spelling import Spelled

STATES = ("known", "in practice", "set aside")


def take_in(
    connection: sqlite3.Connection,
    entries: Iterable[Entry],
    others: Mapping[str, Sequence[Mapping[str, Any]]],
    *,
    here: bool = True,
) -> int:
    """Take in entries, and rows of other tables, that the log does not have.

    What a player decided about a piece (in practice or set aside, its date) follows whoever decided last.

    Args:
        entries: Takes; those that the log has already are passed over.
        others: Rows of `pieces` and `spellings`; rows that make no sense are passed over.
        here: Whether they come from this machine.

    Returns:
        How many takes were new.
    """
    new = [entry for entry in entries if derive.add_entry(connection, entry, here=here)]
    for row in others.get("pieces", ()):
        _take_piece(connection, row, here)
    for row in others.get("spellings", ()):
        spelling = _spelled(row.get("form"))
        if spelling is not None:
            add_spelling(connection, spelling, here=here)
    derive.follow_all(connection, new)
    return len(new)


def _take_piece(connection: sqlite3.Connection, row: Mapping[str, Any], here: bool) -> None:
    mark, changed, state = row.get("mark"), row.get("changed"), row.get("state")
    if not (isinstance(mark, str) and isinstance(changed, str) and state in STATES):
        return
    bpm, ready_by = row.get("quarter_bpm"), row.get("ready_by")
    try:
        must_be_sound(dict(row))
        changed = days.written(days.read(changed)) if changed else ""
        ready_by = days.written(days.read(ready_by)) if ready_by else None
    except DAMAGED:
        return
    source = str(row.get("source") or "") if here else ""
    derive.know_piece(connection, mark, str(row.get("title") or ""), source, "")
    connection.execute(
        "UPDATE pieces SET state = ?, ready_by = ?, quarter_bpm = coalesce(quarter_bpm, ?), changed = ?"
        " WHERE mark = ? AND changed < ?",
        (
            state,
            ready_by,
            bpm if isinstance(bpm, float | int) else None,
            changed,
            mark,
            changed,
        ),
    )


def add_spelling(connection: sqlite3.Connection, spelling: Spelled, *, here: bool = True) -> None:
    """Write a spelling; one that the log has already changes nothing."""
    mark = spelling.passage.piece
    source = spelling.source if here else ""
    derive.know_piece(connection, mark, spelling.title, source, days.written(spelling.at))
    form = json.dumps(spelling.to_json(), separators=(",", ":"))
    connection.execute(
        "INSERT OR IGNORE INTO spellings (uid, at, day, piece, form) VALUES (?, ?, ?, ?, ?)",
        (spelling.uid, days.written(spelling.at), spelling.day.isoformat(), mark, form),
    )


def _spelled(form: object) -> Spelled | None:
    try:
        return Spelled.from_json(json.loads(form) if isinstance(form, str) else form)  # type: ignore[arg-type]
    except DAMAGED:
        return None
