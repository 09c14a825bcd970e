"""How entries and passages are written into the log's tables and read from them."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import date
from fractions import Fraction
from functools import wraps
from typing import Any, TypeVar

from coach.errors import DAMAGED
from coach.practice import days
from coach.practice.entry import Entry, faults_from, parts_from
from coach.practice.ladder import (
    JOIN_STEPS,
    PIECE_STEPS,
    Shape,
    Step,
    height,
    in_tempo,
    learned,
    next_step,
    phrase_steps,
)
from coach.practice.passage import Passage
from coach.practice.progress import Progress
from coach.practice.schema import Unreadable

Value = TypeVar("Value")

ENTRY_COLUMNS = (
    "t.uid, t.at, t.day, t.piece, t.kind, t.first, t.last, t.onset, t.end, t.mark, t.bar_first, t.bar_last,"
    " t.step, t.hand, t.clock, t.tempo_fraction, t.fingers, t.voices, t.plain, t.pedal, t.seam, t.days_apart,"
    " t.chosen, t.verdict, t.seconds, t.target_bpm, t.quarter_bpm, t.faults, t.parts, t.reached, t.measures,"
    " t.midi, t.plan"
)
"""Columns of an entry in the order that `entry_from` expects; title and source of its piece follow."""

ENTRY = f"SELECT {ENTRY_COLUMNS}, p.title, p.source FROM takes t JOIN pieces p ON p.mark = t.piece"
"""Reads entries; conditions and order follow."""

PASSAGE = (
    "SELECT id, piece, kind, first, last, onset, end, mark, bar_first, bar_last, shape, state, current, newest"
    " FROM passages"
)
"""Reads passages in the order that `passage_from` expects; conditions follow."""


def _sound(read: Callable[[tuple[Any, ...]], Value]) -> Callable[[tuple[Any, ...]], Value]:
    """Say of a row that cannot be read that the file is damaged."""

    @wraps(read)
    def reading(row: tuple[Any, ...]) -> Value:
        try:
            return read(row)
        except DAMAGED as error:
            raise Unreadable(str(error)) from error

    return reading


def entry_row(entry: Entry) -> dict[str, Any]:
    """The columns of `takes` for an entry."""
    step, passage = entry.step, entry.passage
    return {
        "uid": entry.uid,
        "at": days.written(entry.at),
        "day": entry.day.isoformat(),
        "piece": passage.piece,
        **_place_row(passage),
        "step": step.name,
        "hand": step.hand,
        "clock": step.clock,
        "tempo_fraction": step.tempo_fraction,
        "fingers": step.fingers,
        "voices": step.voices,
        "plain": int(step.plain),
        "pedal": int(step.pedal),
        "seam": int(step.seam),
        "days_apart": step.days_apart,
        "chosen": int(entry.chosen),
        "verdict": entry.verdict,
        "seconds": entry.seconds,
        "target_bpm": entry.target_bpm,
        "quarter_bpm": entry.quarter_bpm,
        "faults": json.dumps([fault.to_json() for fault in entry.faults]),
        "parts": json.dumps([part.to_json() for part in entry.parts]),
        "reached": None if entry.reached is None else str(entry.reached),
        "measures": json.dumps(dict(entry.measures)),
        "midi": entry.midi,
        "plan": entry.plan,
    }


@_sound
def entry_from(row: tuple[Any, ...]) -> Entry:
    """An entry from a row that `ENTRY` read."""
    uid, at, day = row[:3]
    name, hand, clock, tempo, fingers, voices, plain, pedal, seam, days_apart = row[12:22]
    chosen, verdict, seconds, target, reached_bpm, faults, parts, reached, measures, midi, plan, title, source = row[
        22:
    ]
    return Entry(
        uid=uid,
        at=days.read(at),
        day=date.fromisoformat(day),
        passage=place_from(row[3:12]),
        title=title,
        step=Step(name, hand, clock, tempo, fingers, voices, bool(plain), bool(pedal), bool(seam), days_apart),
        verdict=verdict,
        seconds=seconds,
        chosen=bool(chosen),
        target_bpm=target,
        quarter_bpm=reached_bpm,
        faults=faults_from(json.loads(faults)),
        parts=parts_from(json.loads(parts)),
        reached=None if reached is None else Fraction(reached),
        measures=json.loads(measures),
        midi=midi,
        plan=plan,
        source=source,
    )


def passage_row(passage: Passage, shape: Shape) -> dict[str, Any]:
    """The columns of `passages` that say what a passage is."""
    return {
        "piece": passage.piece,
        **_place_row(passage),
        "shape": json.dumps(asdict(shape)),
        "open": int(passage.kind == "phrase"),
    }


def progress_row(progress: Progress, steps: tuple[Step, ...]) -> dict[str, Any]:
    """The columns of `passages` that say how far a passage has come."""
    memory = progress.memory
    return {
        "state": json.dumps(progress.to_json()),
        "step": next_step(steps, progress.place).name,
        "learned": int(learned(steps, progress.place)),
        "in_tempo": int(in_tempo(steps, progress.place)),
        "standing": progress.standing,
        "due": memory.due.isoformat() if memory else None,
        "reviewed": memory.last.isoformat() if memory else None,
        "stability": memory.stability if memory else None,
        "difficulty": memory.difficulty if memory else None,
        "begun": progress.begun.isoformat() if progress.begun else None,
        "first_day": progress.first_day.isoformat() if progress.first_day else None,
        "last_day": progress.last_day.isoformat() if progress.last_day else None,
        "takes": progress.takes,
        "seconds": progress.seconds,
        "today_minutes": progress.today_minutes,
        "climb_minutes": progress.climb_minutes,
        "climb_days": progress.climb_days,
        "height": height(steps, progress.place),
        "drills": json.dumps([trouble.fault.to_json() for trouble in progress.troubles if trouble.drilled]),
    }


@dataclass(frozen=True, slots=True)
class Known:
    """A passage as the log knows it.

    Attributes:
        number: Of its row.
        passage: What it is.
        shape: Of its plan.
        progress: How far it has come.
        current: Whether it belongs to the way its piece is cut today.
        newest: When the newest take that counts for it began, as the log writes it; "" where there is none.
    """

    number: int
    passage: Passage
    shape: Shape
    progress: Progress
    current: bool
    newest: str

    @property
    def steps(self) -> tuple[Step, ...]:
        return steps_of(self.passage, self.shape)


@_sound
def place_from(row: tuple[Any, ...]) -> Passage:
    """A passage from its columns in the order of `PASSAGE`, without the number before and what follows."""
    piece, kind, first, last, onset, end, mark, bar_first, bar_last = row
    return Passage(piece, kind, first, last, Fraction(onset), Fraction(end), mark, (bar_first, bar_last))


@_sound
def passage_from(row: tuple[Any, ...]) -> Known:
    """A passage from a row that `PASSAGE` read."""
    shape, state, current, newest = row[10:]
    progress = Progress.from_json(json.loads(state))
    return Known(row[0], place_from(row[1:10]), Shape(**json.loads(shape)), progress, bool(current), newest)


def steps_of(passage: Passage, shape: Shape) -> tuple[Step, ...]:
    """The ladder that a passage climbs."""
    if passage.kind == "join":
        return JOIN_STEPS
    return PIECE_STEPS if passage.kind == "piece" else phrase_steps(shape)


def insert(connection: sqlite3.Connection, table: str, columns: dict[str, Any]) -> sqlite3.Cursor:
    """Write one new row; the names of table and columns are this module's own."""
    names, places = ", ".join(columns), ", ".join(f":{name}" for name in columns)
    return connection.execute(f"INSERT INTO {table} ({names}) VALUES ({places})", columns)


def update(connection: sqlite3.Connection, table: str, number: int, columns: dict[str, Any]) -> None:
    """Change columns of the row with this id."""
    sets = ", ".join(f"{name} = :{name}" for name in columns)
    connection.execute(f"UPDATE {table} SET {sets} WHERE id = :id", {**columns, "id": number})


def _place_row(passage: Passage) -> dict[str, Any]:
    return {
        "kind": passage.kind,
        "first": passage.first,
        "last": passage.last,
        "onset": str(passage.onset),
        "end": str(passage.end),
        "mark": passage.mark,
        "bar_first": passage.bars[0],
        "bar_last": passage.bars[1],
    }
