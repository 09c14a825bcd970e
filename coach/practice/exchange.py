"""The record on its way out of the coach and in again: JSON for another coach, CSV for a spreadsheet."""

from __future__ import annotations

import csv
import json
import sqlite3
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import IO, Any
from urllib.parse import quote

from coach.errors import DAMAGED, CoachError
from coach.practice import days, schema
from coach.practice.entry import Entry
from coach.practice.forms import must_be_sound
from coach.practice.ladder import Shape
from coach.practice.log import Log
from coach.practice.mending import salvage
from coach.practice.passage import Passage
from coach.practice.spelling import Spelled

FORM = 1
"""Version of the JSON form; raised when the meaning of a field changes."""

DAY = 1440.0
"""Minutes."""

SOUND = Shape(chords=0)
"""Tells what each attribute of a shape is."""

LARGEST = 2_000_000_000
"""Bytes of the largest file taken in."""

COLUMNS = (
    *("what", "at", "day", "title", "passage", "phrase_first", "phrase_last", "bar_first", "bar_last", "onset", "end"),
    *("step", "hand", "clock", "tempo_share_asked", "target_bpm", "reached_bpm", "fingers_shown", "voices", "plain"),
    *("pedal", "chosen", "verdict", "seconds", "broken_off_at", "changes_that_failed", "parts", "measures", "midi"),
    *("chords_asked", "chords_as_planned", "piece_mark", "passage_mark", "plan_mark", "source", "uid"),
)
"""Columns of the CSV form; a spelling leaves those of playing empty, and a take those of spelling."""


@dataclass(frozen=True, slots=True)
class Record:
    """A log that was read from a file.

    Attributes:
        entries: Its takes, oldest first.
        others: Rows of its other tables.
        cuts: The passages that its pieces are cut into there, played or not, each with the shape of its plan.
        minutes: How long a day's practice is meant to be there, None where that is not written.
    """

    entries: tuple[Entry, ...]
    others: dict[str, list[dict[str, Any]]]
    cuts: tuple[tuple[Passage, Shape], ...] = ()
    minutes: float | None = None


def write_json(log: Log, file: IO[str], minutes: float | None = None) -> None:
    """Write all of a log: one JSON object, a take a line.

    Args:
        minutes: How long a day's practice is meant to be, which a forecast rests on.
    """
    head = {
        "coach_log": FORM,
        "minutes": minutes,
        "pieces": log.pieces(),
        "passages": [{**passage.to_json(), "shape": asdict(shape)} for passage, shape in log.cuts()],
        "spellings": [one.to_json() for one in log.spellings()],
    }
    file.write(json.dumps(head, ensure_ascii=False)[:-1] + ', "takes": [')
    for number, entry in enumerate(log.entries()):
        file.write((",\n" if number else "\n") + json.dumps(entry.to_json(), ensure_ascii=False))
    file.write("\n]}\n")


def write_csv(log: Log, file: IO[str]) -> None:
    """Write all takes, one a row, then what was spelled away from the piano (RFC 4180); instants in UTC."""
    writer = csv.DictWriter(file, COLUMNS, lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(map(_take_row, log.entries()))
    writer.writerows(map(_spelling_row, log.spellings()))


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
    saved = salvage(path, ("pieces", "spellings", "passages"), read_only=True)
    return Record(saved.entries, saved.others, _cuts(_cut_of_row, saved.others.pop("passages")))


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
        except DAMAGED as error:
            raise CoachError(f'cannot read "{name}": take {number} is damaged ({error})') from error
    others = {
        "pieces": [row for row in _list(form, "pieces") if isinstance(row, dict)],
        "spellings": [{"form": row} for row in _list(form, "spellings") if isinstance(row, dict)],
    }
    minutes = form.get("minutes")
    told = isinstance(minutes, int | float) and not isinstance(minutes, bool) and 0 < minutes <= DAY
    return Record(tuple(entries), others, _cuts(_cut_from_json, _list(form, "passages")), minutes if told else None)


def _cuts(
    read: Callable[[Any], tuple[Passage, Shape] | None], given: Iterable[Any]
) -> tuple[tuple[Passage, Shape], ...]:
    """Passages as they were written; what makes no sense is passed over."""
    found = []
    for one in given:
        with suppress(*DAMAGED):
            must_be_sound(one)
            if cut := read(one):
                found.append(cut)
    return tuple(found)


def _cut_of_row(row: dict[str, Any]) -> tuple[Passage, Shape] | None:
    """A passage of a log's own file, None where its piece is cut otherwise today."""
    form = {**row, "phrases": [row["first"], row["last"]], "bars": [row["bar_first"], row["bar_last"]]}
    return _cut_from_json({**form, "shape": json.loads(row["shape"])}) if row["current"] else None


def _cut_from_json(form: dict[str, Any]) -> tuple[Passage, Shape]:
    shape = Shape(**form["shape"])
    if any(type(value) is not type(getattr(SOUND, name)) for name, value in asdict(shape).items()):
        raise ValueError(f"no shape: {shape!r}")
    return Passage.from_json(form), shape


def _list(form: dict[str, Any], name: str) -> list[Any]:
    found = form.get(name, [])
    return found if isinstance(found, list) else []


def _take_row(entry: Entry) -> dict[str, Any]:
    step = entry.step
    return {
        "what": "played",
        **_where(entry),
        "step": step.name,
        "hand": step.hand,
        "clock": step.clock,
        "tempo_share_asked": step.tempo_fraction,
        "target_bpm": entry.target_bpm,
        "reached_bpm": entry.quarter_bpm,
        "fingers_shown": step.fingers,
        "voices": step.voices,
        "plain": int(step.plain),
        "pedal": int(step.pedal),
        "chosen": int(entry.chosen),
        "verdict": entry.verdict,
        "seconds": entry.seconds,
        "broken_off_at": "" if entry.reached is None else str(entry.reached),
        "changes_that_failed": " ".join(f"{fault.onset}:{fault.hand}" for fault in entry.faults),
        "parts": " ".join(f"{part.onset}:{part.verdict}" for part in entry.parts),
        "measures": json.dumps(dict(entry.measures), ensure_ascii=False),
        "midi": entry.midi,
    }


def _spelling_row(spelling: Spelled) -> dict[str, Any]:
    return {
        "what": "spelled",
        **_where(spelling),
        "hand": spelling.hand,
        "chords_asked": len(spelling.answers),
        "chords_as_planned": spelling.right,
    }


def _where(one: Entry | Spelled) -> dict[str, Any]:
    """What takes and spellings have in common: when and what."""
    passage = one.passage
    return {
        "at": days.written(one.at),
        "day": one.day.isoformat(),
        "title": one.title,
        "passage": passage.label,
        "phrase_first": passage.first,
        "phrase_last": passage.last,
        "bar_first": passage.bars[0],
        "bar_last": passage.bars[1],
        "onset": str(passage.onset),
        "end": str(passage.end),
        "piece_mark": passage.piece,
        "passage_mark": passage.mark,
        "plan_mark": one.plan,
        "source": one.source,
        "uid": one.uid,
    }
