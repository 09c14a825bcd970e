"""The record on its way out of the coach and in again: JSON for another coach, CSV for a spreadsheet."""

from __future__ import annotations

import csv
import json
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TextIO
from urllib.parse import quote

from coach.errors import CoachError
from coach.practice import days, schema
from coach.practice.entry import Entry
from coach.practice.log import Log
from coach.practice.mending import salvage

FORM = 1
"""Version of the JSON form; raised when the meaning of a field changes."""

LARGEST = 2_000_000_000
"""Bytes of the largest file taken in."""

COLUMNS = (
    *("at", "day", "title", "passage", "phrase_first", "phrase_last", "bar_first", "bar_last", "onset", "end"),
    *("step", "hand", "clock", "tempo_share_asked", "target_bpm", "reached_bpm", "fingers_shown", "voices", "plain"),
    *("pedal", "chosen", "verdict", "seconds", "broken_off_at", "changes_that_failed", "parts", "measures", "midi"),
    *("piece_mark", "passage_mark", "plan_mark", "source", "uid"),
)
"""Columns of the CSV form."""


@dataclass(frozen=True, slots=True)
class Record:
    """A log that was read from a file.

    Attributes:
        entries: Its takes, oldest first.
        others: Rows of its other tables.
    """

    entries: tuple[Entry, ...]
    others: dict[str, list[dict[str, Any]]]


def write_json(log: Log, file: TextIO) -> None:
    """Write all of a log: one JSON object, a take a line."""
    head = {"coach_log": FORM, "pieces": log.pieces(), "spellings": [one.to_json() for one in log.spellings()]}
    file.write(json.dumps(head, ensure_ascii=False)[:-1] + ', "takes": [')
    for number, entry in enumerate(log.entries()):
        file.write((",\n" if number else "\n") + json.dumps(entry.to_json(), ensure_ascii=False))
    file.write("\n]}\n")


def write_csv(log: Log, file: TextIO) -> None:
    """Write all takes, one a row (RFC 4180); instants in UTC."""
    writer = csv.writer(file, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    writer.writerows(map(_csv_row, log.entries()))


def read_log(path: Path) -> Record:
    """Read a log that another coach wrote: what `write_json` writes, or the log's own file.

    Raises:
        CoachError: the file cannot be read, or is no practice log, or a newer coach wrote it.
    """
    try:
        if path.is_dir():
            raise CoachError(f'cannot read "{path}": it is a folder')
        if path.stat().st_size > LARGEST:
            raise CoachError(f'cannot read "{path}": it is too large for a practice log')
        with path.open("rb") as file:
            start = file.read(16)
        if start == b"SQLite format 3\0":
            return _read_file(path)
        return _read_json(path.name, path.read_text("utf-8-sig"))
    except FileNotFoundError as error:
        raise CoachError(f'cannot find the log "{path}"') from error
    except OSError as error:
        raise CoachError(f'cannot read "{path}": {error.strerror or error}') from error
    except UnicodeDecodeError as error:
        raise CoachError(f'cannot read "{path}": it is no practice log') from error


def _read_file(path: Path) -> Record:
    """Read a log's own file without changing it."""
    schema.refuse_newer(path)
    try:
        connection = sqlite3.connect(f"file:{quote(path.resolve().as_posix())}?mode=ro", uri=True)
    except sqlite3.Error as error:
        raise CoachError(f'cannot read "{path}": {error}') from error
    try:
        if schema.version_of(connection) == 0:
            raise CoachError(f'cannot read "{path}": it is no practice log')
    except sqlite3.Error as error:
        raise CoachError(f'cannot read "{path}": {error}') from error
    finally:
        connection.close()
    saved = salvage(path, read_only=True)
    return Record(saved.entries, saved.others)


def _read_json(name: str, text: str) -> Record:
    try:
        form = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise CoachError(f'cannot read "{name}": it is no practice log (not JSON)') from error
    if not isinstance(form, dict) or "coach_log" not in form or not isinstance(form.get("takes"), list):
        raise CoachError(f'cannot read "{name}": it is no practice log')
    if form["coach_log"] != FORM:
        raise CoachError(f'cannot read "{name}": a newer coach wrote it (form {form["coach_log"]})')
    entries = []
    for number, one in enumerate(form["takes"], 1):
        try:
            entries.append(Entry.from_json(one))
        except (KeyError, ValueError, TypeError, AttributeError, ZeroDivisionError) as error:
            raise CoachError(f'cannot read "{name}": take {number} is damaged ({error})') from error
    others = {
        "pieces": [row for row in _list(form, "pieces") if isinstance(row, dict)],
        "spellings": [{"form": row} for row in _list(form, "spellings") if isinstance(row, dict)],
    }
    return Record(tuple(entries), others)


def _list(form: dict[str, Any], name: str) -> list[Any]:
    found = form.get(name, [])
    return found if isinstance(found, list) else []


def _csv_row(entry: Entry) -> Iterator[Any]:
    passage, step = entry.passage, entry.step
    yield from (days.written(entry.at), entry.day.isoformat(), entry.title, passage.label)
    yield from (passage.first, passage.last, *passage.bars, str(passage.onset), str(passage.end))
    yield from (step.name, step.hand, step.clock, step.tempo_fraction, entry.target_bpm, entry.quarter_bpm)
    yield from (step.fingers, step.voices, int(step.plain), int(step.pedal), int(entry.chosen), entry.verdict)
    yield from (entry.seconds, "" if entry.reached is None else str(entry.reached))
    yield " ".join(f"{fault.onset}:{fault.hand}" for fault in entry.faults)
    yield " ".join(f"{part.onset}:{part.verdict}" for part in entry.parts)
    yield json.dumps(dict(entry.measures), ensure_ascii=False)
    yield from (entry.midi, passage.piece, passage.mark, entry.plan, entry.source, entry.uid)
