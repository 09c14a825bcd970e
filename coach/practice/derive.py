"""Keeps what is worked out from the takes (how far each passage has come) in step with them, inside a transaction."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import astuple, replace
from datetime import date
from typing import TYPE_CHECKING

from coach.practice import days, rows
from coach.practice.entry import Entry
from coach.practice.forecast import ENOUGH_REVIEWS, first_try, player_from
from coach.practice.ladder import Shape
from coach.practice.lineage import as_heard_in, counts_for, history_of, new_plan, part_of
from coach.practice.memory import ANYONE, Course, Memory, Player, reviewed
from coach.practice.passage import Passage
from coach.practice.progress import FORM, UNPLAYED, Progress, Review, after

if TYPE_CHECKING:
    from coach.listening.word import Word

NEW_REVIEWS = 5
"""New reviews after which they are asked again how the player remembers."""

FITTED_ANEW = 5000
"""Newest reviews that are put through the library anew when they are asked, with all that came before them in their
passages: a tenth of a second, whatever the log holds."""

LEFT_OUT = "left out from"
"""The fact that says when the earliest take was played whose day had not come yet."""

NEWEST_TAKES = 2000
"""Takes that are looked through for first tries: a player changes."""


def add_entry(connection: sqlite3.Connection, entry: Entry, *, here: bool = True) -> bool:
    """Write an entry; False where the log has it already.

    Args:
        here: Whether it was played on this machine, so that its source opens the piece here.
    """
    if connection.execute("SELECT 1 FROM takes WHERE uid = ?", (entry.uid,)).fetchone():
        return False
    source = entry.source if here else ""
    know_piece(connection, entry.passage.piece, entry.title, source, days.written(entry.at))
    rows.insert(connection, "takes", rows.entry_row(entry))
    _wait_for(connection, days.written(entry.at))
    return True


def know_piece(connection: sqlite3.Connection, mark: str, title: str, source: str, changed: str) -> None:
    """Make sure that the log knows a piece; a source that opens no other one is what opens it from here on."""
    if source and connection.execute("SELECT 1 FROM pieces WHERE source = ? AND mark <> ?", (source, mark)).fetchone():
        source = ""
    connection.execute(
        "INSERT INTO pieces (mark, title, source, changed) VALUES (?, ?, ?, ?) ON CONFLICT (mark) DO UPDATE SET"
        " title = CASE WHEN excluded.source <> '' OR title = '' THEN excluded.title ELSE title END,"
        " source = CASE WHEN excluded.source <> '' THEN excluded.source ELSE source END",
        (mark, title, source, changed),
    )


def opened(connection: sqlite3.Connection, mark: str, title: str, source: str, changed: str) -> None:
    """A source was opened, and these are the notes in it.

    Where it opened others so far the score was changed: the new notes take their place in practice, with their date.
    """
    others = connection.execute(
        "SELECT mark, state, ready_by FROM pieces WHERE source = ? AND source <> '' AND mark <> ?"
        " ORDER BY changed DESC",
        (source, mark),
    ).fetchall()
    connection.executemany("UPDATE pieces SET source = '' WHERE mark = ?", [(other,) for other, _, _ in others])
    know_piece(connection, mark, title, source, changed)
    for _, state, ready_by in others:
        connection.execute(
            "UPDATE pieces SET state = ?, ready_by = ?, changed = ? WHERE mark = ? AND state = 'known'",
            (state, ready_by, changed, mark),
        )


def follow(connection: sqlite3.Connection, entry: Entry) -> None:
    """Bring every passage that a newly written entry counts for up to date."""
    if _is_to_come(connection, days.written(entry.at)):
        return
    if not _cut_as_played(connection, entry):
        return
    found = connection.execute(
        f"{rows.PASSAGE} WHERE piece = ? OR mark = ?", (entry.passage.piece, entry.passage.mark)
    ).fetchall()
    at, player = days.written(entry.at), player_of(connection)
    for known in map(rows.passage_from, found):
        if not counts_for(known.passage, entry):
            if known.current and part_of(known.passage, entry):
                work_out(connection, known)
            continue
        if at < known.newest or known.progress.takes == 0:
            # A take that came late (from another machine, or a mended log), or one that may have forebears.
            work_out(connection, known)
            continue
        moved, review = after(known.progress, known.steps, as_heard_in(known.passage, entry), player)
        columns = {**rows.progress_row(moved, known.steps), "newest": at}
        if entry.passage.mark == known.passage.mark and entry.passage.piece == known.passage.piece:
            columns["kept_from"] = new_plan(known.shape.plan, moved.plan)
        rows.update(connection, "passages", known.number, columns)
        if review:
            _write_review(connection, known.number, review)
        _write_turn(connection, known.number, known.progress, moved)
    _open_joins(connection, entry.passage.piece)


def follow_all(connection: sqlite3.Connection, entries: Sequence[Entry]) -> None:
    """The same for many entries at once, in any order."""
    if not entries:
        return
    for entry in sorted(entries, key=lambda entry: (entry.at, entry.uid)):
        _cut_as_played(connection, entry)
        take_up(connection, entry)
    _work_out_those(connection, {entry.passage.piece for entry in entries}, {entry.passage.mark for entry in entries})


def _work_out_those(connection: sqlite3.Connection, pieces: set[str], marks: set[str]) -> None:
    """Work out the passages of some pieces, and those that are written like some others."""
    touched = set(pieces)
    for row in connection.execute(rows.PASSAGE).fetchall():
        known = rows.passage_from(row)
        if known.passage.piece in pieces or known.passage.mark in marks:
            work_out(connection, known)
            touched.add(known.passage.piece)
    for piece in touched:
        _open_joins(connection, piece)


def take_up(connection: sqlite3.Connection, entry: Entry) -> None:
    """A piece that is played is in practice, unless the player set it aside."""
    connection.execute(
        "UPDATE pieces SET state = 'in practice', changed = ? WHERE mark = ? AND state = 'known'",
        (days.written(entry.at), entry.passage.piece),
    )


def _open_joins(connection: sqlite3.Connection, piece: str) -> None:
    """Phrases can be joined, and the piece be played whole, as soon as all of them go together in tempo."""
    connection.execute(
        "UPDATE passages AS s SET open = NOT EXISTS (SELECT 1 FROM passages q WHERE q.piece = s.piece AND q.current"
        " AND q.kind = 'phrase' AND q.first >= s.first AND q.last <= s.last AND NOT q.in_tempo)"
        " WHERE piece = ? AND kind <> 'phrase'",
        (piece,),
    )


def _cut_as_played(connection: sqlite3.Connection, entry: Entry) -> bool:
    """Make sure that the log has the passage that was played; False where it was made and worked out just here."""
    if entry.passage.kind == "change":
        return True
    known = connection.execute(
        "SELECT 1 FROM passages WHERE piece = ? AND kind = ? AND onset = ? AND end = ?", _key(entry.passage)
    ).fetchone()
    if not known:
        cut(connection, entry.passage.piece, (entry.passage,), {}, whole=False)
    return known is not None


def cut(
    connection: sqlite3.Connection,
    piece: str,
    passages: Sequence[Passage],
    shapes: Mapping[int, Shape],
    *,
    whole: bool = True,
) -> None:
    """Make these passages the ones that a piece is cut into.

    Args:
        shapes: Of phrases that are planned, by number; a phrase keeps the shape it had where none is given.
        whole: Whether they are all of the piece's passages, so that the others are history only.
    """
    known = [rows.passage_from(row) for row in connection.execute(f"{rows.PASSAGE} WHERE piece = ?", (piece,))]
    wanted = {_key(passage) for passage in passages}
    for old in known:
        there = old.passage
        replaced = whole or any(p.kind == there.kind and p.onset < there.end and there.onset < p.end for p in passages)
        if old.current and _key(there) not in wanted and replaced:
            rows.update(connection, "passages", old.number, {"current": 0})
    found = {_key(one.passage): one for one in known}
    for passage in passages:
        shape = shapes.get(passage.first) if passage.kind == "phrase" else None
        one = found.get(_key(passage))
        if one is None:
            one = _new(connection, passage, shape or Shape(chords=0))
        elif one.passage == passage and one.current and shape in (None, one.shape):
            continue
        else:
            one = replace(one, passage=passage, shape=shape or one.shape)
            columns = {**rows.passage_row(passage, one.shape), "current": 1}
            rows.update(connection, "passages", one.number, columns)
        work_out(connection, one, said_until=date.max)
    _open_joins(connection, piece)


def cut_all(connection: sqlite3.Connection, cuts: Sequence[tuple[Passage, Shape]]) -> None:
    """Make these passages, each with the shape of its plan, the ones that the pieces known are cut into."""
    for (mark,) in connection.execute("SELECT mark FROM pieces").fetchall():
        own = [(passage, shape) for passage, shape in cuts if passage.piece == mark]
        if own:
            shapes = {passage.first: shape for passage, shape in own if passage.kind == "phrase"}
            cut(connection, mark, [passage for passage, _ in own], shapes)


def _new(connection: sqlite3.Connection, passage: Passage, shape: Shape) -> rows.Known:
    blank = rows.progress_row(UNPLAYED, rows.steps_of(passage, shape))
    columns = {**rows.passage_row(passage, shape), **blank, "current": 1}
    number = rows.insert(connection, "passages", columns).lastrowid or 0
    return rows.Known(number, passage, shape, UNPLAYED, True, "")


def work_out(connection: sqlite3.Connection, known: rows.Known, said_until: date = date.min) -> None:
    """Work out one passage from the takes, as if it had been followed from the first.

    Args:
        said_until: As in `_as_said`, where nothing new was heard.
    """
    passage, steps, number = known.passage, known.steps, known.number
    found = connection.execute(
        f"{rows.ENTRY} WHERE (t.piece = ? OR t.mark = ?) AND t.at <= (SELECT until()) ORDER BY t.at, t.uid",
        (passage.piece, passage.mark),
    ).fetchall()
    history = history_of(passage, [rows.entry_from(row) for row in found], steps)
    connection.execute("DELETE FROM reviews WHERE passage = ?", (number,))
    connection.execute("DELETE FROM turns WHERE passage = ?", (number,))
    progress, newest, player = UNPLAYED, "", player_of(connection)
    for entry in history.entries:
        moved, review = after(progress, steps, entry, player)
        if review:
            _write_review(connection, number, review)
        _write_turn(connection, number, progress, moved)
        progress, newest = moved, days.written(entry.at)
    progress = _as_said(known.progress, progress, said_until)
    said = history.kept_from or new_plan(known.shape.plan, progress.plan)
    columns = {**rows.progress_row(progress, steps), "newest": newest, "kept_from": said}
    rows.update(connection, "passages", number, columns)


def work_out_all(connection: sqlite3.Connection, said_until: date = date.min) -> None:
    """Work out every passage anew: after a merge, a rebuilding, or a change of the rules.

    Args:
        said_until: As in `_as_said`, where nothing new was heard.
    """
    for row in connection.execute(rows.PASSAGE).fetchall():
        work_out(connection, rows.passage_from(row), said_until)
    for (piece,) in connection.execute("SELECT mark FROM pieces").fetchall():
        _open_joins(connection, piece)
    set_fact(connection, "rules", str(FORM))


def _as_said(was: Progress, became: Progress, until: date) -> Progress:
    """Progress that was worked out otherwise, though nothing new was heard: it does not fall due in days that are over.

    Nobody could have played a passage on a day on which it was not said to be due.

    Args:
        until: A due day that was told stands up to this day: what becomes of it is no earlier than both.
    """
    before, memory = was.memory, became.memory
    if before is None or memory is None or before.last != memory.last:
        return became
    return replace(became, memory=replace(memory, due=max(memory.due, min(before.due, until))))


def player_of(connection: sqlite3.Connection) -> Player:
    """Whose log it is: how the player remembers, as far as the reviews have told."""
    written = fact(connection, "player")
    return Player(*json.loads(written)) if written else ANYONE


def know_player(connection: sqlite3.Connection, today: date) -> bool:
    """Ask the reviews how the player remembers, if there are enough new ones, and work out what is due accordingly.

    The passages that were reviewed last tell, and are worked out anew; the others keep what they were given until they
    are reviewed again.

    Args:
        today: The day of practice: nothing becomes due on a day that is over.

    Returns:
        Whether anything changed.
    """
    count = int(connection.execute("SELECT count(*) FROM reviews").fetchone()[0])
    if count < int(fact(connection, "reviews heeded") or 0) + NEW_REVIEWS:
        return False
    courses = [course for _, course in _newest_courses(connection, ENOUGH_REVIEWS)]
    before = player_of(connection)
    player = replace(player_from(courses, before), first_try=first_try(_first_tries(connection)))
    set_fact(connection, "reviews heeded", str(count))
    set_fact(connection, "player", json.dumps(astuple(player)))
    if (player.pace, player.growth) == (before.pace, before.growth):
        return player != before
    for number, course in _newest_courses(connection, FITTED_ANEW):
        memory: Memory | None = None
        for day, grade in course:
            memory = reviewed(memory, grade, day, player)
        row = connection.execute(f"{rows.PASSAGE} WHERE id = ?", (number,)).fetchone()
        known = rows.passage_from(row)
        progress = _as_said(known.progress, replace(known.progress, memory=memory), today)
        rows.update(connection, "passages", number, rows.progress_row(progress, known.steps))
    return True


def _newest_courses(connection: sqlite3.Connection, most: int) -> Iterator[tuple[int, Course]]:
    """The passages that were reviewed last, with all reviews of each, while they come to no more than so many."""
    found = connection.execute(
        "SELECT id FROM passages WHERE reviewed IS NOT NULL ORDER BY reviewed DESC, newest DESC, id"
    )
    for (number,) in found.fetchall():
        course = _course(connection, number)
        most -= len(course)
        if most < 0:
            return
        yield number, course


def _first_tries(connection: sqlite3.Connection) -> list[Word]:
    """How steps in tempo went that were tried for the first time, among the newest takes."""
    found = connection.execute(
        "SELECT verdict FROM (SELECT * FROM takes ORDER BY at DESC LIMIT ?) t"
        " WHERE kind = 'phrase' AND clock = 'tempo' AND days_apart = 0 AND NOT pedal AND NOT EXISTS"
        " (SELECT 1 FROM takes o WHERE o.mark = t.mark AND o.at < t.at AND o.step = t.step)",
        (NEWEST_TAKES,),
    )
    return [verdict for (verdict,) in found]


def _course(connection: sqlite3.Connection, number: int) -> Course:
    found = connection.execute("SELECT day, grade FROM reviews WHERE passage = ? ORDER BY day", (number,))
    return [(date.fromisoformat(day), grade) for day, grade in found]


def leave_out_future(connection: sqlite3.Connection) -> None:
    """Work out anew what rests on takes from days that have not come yet: the clock was ahead when they were played.

    Such takes stay in the record and count from their day on. `until()` is the last instant that is believed.
    """
    for row in connection.execute(f"{rows.PASSAGE} WHERE newest > (SELECT until())").fetchall():
        work_out(connection, rows.passage_from(row))
    waited = fact(connection, LEFT_OUT)
    come = "SELECT DISTINCT piece, mark FROM takes WHERE at >= ? AND at <= (SELECT until())"
    if waited and (found := connection.execute(come, (waited,)).fetchall()):
        _work_out_those(connection, {piece for piece, _ in found}, {mark for _, mark in found})
        connection.execute("DELETE FROM facts WHERE name = ?", (LEFT_OUT,))
    (earliest,) = connection.execute("SELECT min(at) FROM takes WHERE at > (SELECT until())").fetchone()
    if earliest:
        _wait_for(connection, earliest)


def _wait_for(connection: sqlite3.Connection, at: str) -> None:
    """Note a take from a day that has not come yet, so that it counts when it has."""
    if not _is_to_come(connection, at):
        return
    waited = fact(connection, LEFT_OUT)
    if waited is None or at < waited:
        set_fact(connection, LEFT_OUT, at)


def _is_to_come(connection: sqlite3.Connection, at: str) -> bool:
    return bool(connection.execute("SELECT ? > until()", (at,)).fetchone()[0])


def fact(connection: sqlite3.Connection, name: str) -> str | None:
    """Something the log notes about itself."""
    found = connection.execute("SELECT value FROM facts WHERE name = ?", (name,)).fetchone()
    return str(found[0]) if found else None


def set_fact(connection: sqlite3.Connection, name: str, value: str) -> None:
    connection.execute(
        "INSERT INTO facts (name, value) VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value",
        (name, value),
    )


def _write_review(connection: sqlite3.Connection, number: int, review: Review) -> None:
    connection.execute(
        "INSERT OR REPLACE INTO reviews (passage, day, grade, expected) VALUES (?, ?, ?, ?)",
        (number, review.day.isoformat(), review.grade, review.expected),
    )


def _write_turn(connection: sqlite3.Connection, number: int, was: Progress, became: Progress) -> None:
    if became.standing != was.standing and became.standing and became.last_day:
        connection.execute(
            "INSERT INTO turns (passage, day, was, became) VALUES (?, ?, ?, ?)",
            (number, became.last_day.isoformat(), was.standing, became.standing),
        )


def _key(passage: Passage) -> tuple[str, str, str, str]:
    return passage.piece, passage.kind, str(passage.onset), str(passage.end)
