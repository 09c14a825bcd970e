"""What the log's file looks like inside, version by version."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from coach.errors import CoachError

APPLICATION = 0x43484F52
"""SQLite's application id of a practice log ("CHOR"), so that another program's file is not taken for one."""

_FIRST = """
CREATE TABLE pieces (
    mark TEXT PRIMARY KEY,
    title TEXT NOT NULL,
    source TEXT NOT NULL,
    state TEXT NOT NULL DEFAULT 'known' CHECK (state IN ('known', 'in practice', 'set aside')),
    quarter_bpm REAL,
    changed TEXT NOT NULL
) STRICT;

CREATE TABLE takes (
    id INTEGER PRIMARY KEY,
    uid TEXT NOT NULL UNIQUE,
    at TEXT NOT NULL,
    day TEXT NOT NULL,
    piece TEXT NOT NULL REFERENCES pieces (mark),
    kind TEXT NOT NULL,
    first INTEGER NOT NULL,
    last INTEGER NOT NULL,
    onset TEXT NOT NULL,
    end TEXT NOT NULL,
    mark TEXT NOT NULL,
    bar_first INTEGER NOT NULL,
    bar_last INTEGER NOT NULL,
    step TEXT NOT NULL,
    hand TEXT NOT NULL,
    clock TEXT NOT NULL,
    tempo_fraction REAL NOT NULL,
    fingers TEXT NOT NULL,
    voices TEXT NOT NULL,
    plain INTEGER NOT NULL,
    pedal INTEGER NOT NULL,
    seam INTEGER NOT NULL,
    days_apart INTEGER NOT NULL,
    chosen INTEGER NOT NULL,
    verdict TEXT NOT NULL CHECK (verdict IN ('solid', 'shaky', 'weak')),
    seconds REAL NOT NULL,
    target_bpm REAL,
    quarter_bpm REAL,
    faults TEXT NOT NULL,
    parts TEXT NOT NULL,
    reached TEXT,
    measures TEXT NOT NULL,
    midi TEXT NOT NULL,
    plan TEXT NOT NULL
) STRICT;
CREATE INDEX takes_of_a_piece ON takes (piece, at);
CREATE INDEX takes_of_a_mark ON takes (mark, at);
CREATE INDEX takes_of_a_day ON takes (day);
CREATE INDEX takes_by_time ON takes (at);

CREATE TABLE passages (
    id INTEGER PRIMARY KEY,
    piece TEXT NOT NULL REFERENCES pieces (mark),
    kind TEXT NOT NULL CHECK (kind IN ('phrase', 'join', 'piece')),
    first INTEGER NOT NULL,
    last INTEGER NOT NULL,
    onset TEXT NOT NULL,
    end TEXT NOT NULL,
    mark TEXT NOT NULL,
    bar_first INTEGER NOT NULL,
    bar_last INTEGER NOT NULL,
    current INTEGER NOT NULL,
    open INTEGER NOT NULL,
    in_tempo INTEGER NOT NULL,
    learned INTEGER NOT NULL,
    step TEXT NOT NULL,
    height REAL NOT NULL,
    standing TEXT,
    due TEXT,
    reviewed TEXT,
    stability REAL,
    difficulty REAL,
    begun TEXT,
    first_day TEXT,
    last_day TEXT,
    newest TEXT NOT NULL DEFAULT '',
    takes INTEGER NOT NULL,
    seconds REAL NOT NULL,
    today_minutes REAL NOT NULL,
    climb_minutes REAL,
    climb_days INTEGER NOT NULL,
    drills TEXT NOT NULL,
    kept_from TEXT NOT NULL DEFAULT '',
    shape TEXT NOT NULL,
    state TEXT NOT NULL,
    UNIQUE (piece, kind, onset, end)
) STRICT;
CREATE INDEX passages_of_a_mark ON passages (mark);
CREATE INDEX passages_by_time ON passages (newest);
CREATE INDEX passages_due ON passages (due) WHERE current AND open AND learned;
CREATE INDEX passages_learning ON passages (height DESC, first) WHERE current AND open AND NOT learned AND takes > 0;
CREATE INDEX passages_new ON passages (first, piece) WHERE current AND takes = 0 AND kind = 'phrase';
CREATE INDEX passages_joins ON passages (last, piece) WHERE current AND open AND takes = 0 AND kind <> 'phrase';
CREATE INDEX passages_climbed ON passages (last_day) WHERE climb_minutes IS NOT NULL AND kind = 'phrase';

CREATE TABLE reviews (
    passage INTEGER NOT NULL REFERENCES passages (id) ON DELETE CASCADE,
    day TEXT NOT NULL,
    grade INTEGER NOT NULL,
    expected REAL,
    PRIMARY KEY (passage, day)
) STRICT, WITHOUT ROWID;
CREATE INDEX reviews_by_day ON reviews (day);

CREATE TABLE turns (
    passage INTEGER NOT NULL REFERENCES passages (id) ON DELETE CASCADE,
    day TEXT NOT NULL,
    was TEXT,
    became TEXT NOT NULL
) STRICT;
CREATE INDEX turns_of_a_passage ON turns (passage);
CREATE INDEX turns_by_day ON turns (day);

CREATE TABLE facts (
    name TEXT PRIMARY KEY,
    value TEXT NOT NULL
) STRICT;
"""
"""`pieces` and `takes` are the record; `passages`, `reviews` and `turns` are worked out from it."""

_DATES = """
ALTER TABLE pieces ADD COLUMN ready_by TEXT;
"""

_SPELLINGS = """
CREATE TABLE spellings (
    uid TEXT PRIMARY KEY,
    at TEXT NOT NULL,
    day TEXT NOT NULL,
    piece TEXT NOT NULL REFERENCES pieces (mark),
    form TEXT NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX spellings_by_time ON spellings (at);
"""

MIGRATIONS: tuple[str, ...] = (_FIRST, _DATES, _SPELLINGS)
"""The statements that lead from each version to the next; a file's version is how many it has seen."""

NEWEST = len(MIGRATIONS)

PLAUSIBLE = 9999
"""No coach will ever have seen more versions: a number beyond is damage, not news."""


class Unreadable(sqlite3.DatabaseError):
    """What stands in the file makes no sense: it is damaged."""


def refuse_newer(path: Path) -> None:
    """Look at a file's version without opening it as a database, so that a newer one stays as it is to the byte.

    The places are those of SQLite's file format, section 1.3: the "user version" at byte 60, big-endian.

    Raises:
        CoachError: the file was written by a newer coach.
    """
    try:
        with path.open("rb") as file:
            header = file.read(100)
    except OSError:
        return
    if header.startswith(b"SQLite format 3\0") and int.from_bytes(header[68:72], "big") == APPLICATION:
        _refuse(int.from_bytes(header[60:64], "big"))


def version_of(connection: sqlite3.Connection) -> int:
    """The version of an open file, 0 for an empty one.

    Raises:
        CoachError: the file belongs to another program, or to a newer coach.
        sqlite3.DatabaseError: the file is damaged.
    """
    # Tables first: another coach may be making the file, and what it makes appears all at once.
    tables = int(connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0])
    application = int(connection.execute("PRAGMA application_id").fetchone()[0])
    version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    if tables and application != APPLICATION:
        raise CoachError(
            "the file in the place of the practice log is another program's database; it is left untouched"
        )
    if version > PLAUSIBLE:
        raise Unreadable(f"form {version}")
    _refuse(version)
    return version


def migrate(connection: sqlite3.Connection) -> int:
    """Bring a file to the newest version, inside the caller's transaction.

    Returns:
        The version it came from.
    """
    before = version_of(connection)
    for statements in MIGRATIONS[before:]:
        for statement in statements.split(";"):
            if statement.strip():
                connection.execute(statement)
    if before < NEWEST:
        connection.execute(f"PRAGMA application_id = {APPLICATION}")
        connection.execute(f"PRAGMA user_version = {NEWEST}")
    return before


def _refuse(version: int) -> None:
    if NEWEST < version <= PLAUSIBLE:
        raise CoachError(
            f"the practice log was written by a newer coach (form {version}; this one reads up to {NEWEST}); "
            "it is left untouched"
        )
