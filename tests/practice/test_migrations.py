"""Older logs are brought up to date, newer ones are refused untouched."""

from __future__ import annotations

import hashlib
import sqlite3
from datetime import timedelta
from pathlib import Path

import pytest
from practising import entry, evening, hymn, make_solid, open_log, phrases_of

from coach.errors import CoachError
from coach.listening.events import Event
from coach.listening.take import Take
from coach.practice import derive, memory, schema
from coach.practice.progress import FORM


def old_log(path: Path, version: int) -> None:
    """A log as an earlier coach left it, with a history."""
    connection = sqlite3.connect(path, isolation_level=None)
    connection.create_function("until", 0, lambda: "9")
    for statements in schema.MIGRATIONS[:version]:
        connection.executescript(statements)
    connection.execute(f"PRAGMA application_id = {schema.APPLICATION}")
    connection.execute(f"PRAGMA user_version = {version}")
    elsewhere = path.parent / "other"
    elsewhere.mkdir()
    with open_log(elsewhere) as other:
        piece = hymn()
        passage = other.know(piece, phrases_of(piece))[0]
        make_solid(other, passage)
        entries = list(other.entries())
    derive.set_fact(connection, "rules", str(FORM))
    for one in entries:
        assert derive.add_entry(connection, one)
        derive.follow(connection, one)
        derive.take_up(connection, one)
    connection.close()


@pytest.mark.parametrize("version", range(1, schema.NEWEST + 1))
def test_a_log_of_every_earlier_version_is_brought_up_to_date(version: int, tmp_path: Path) -> None:
    path = tmp_path / "practice.sqlite"
    old_log(path, version)
    with open_log(tmp_path) as log:
        takes = list(log.entries())
        assert len(takes) == 9
        assert log.progress(takes[0].passage).standing == "solid"
        log.set_date(takes[0].passage.piece, evening(20))
        assert log.spellings() == []
        log.record(entry(takes[0].passage, at=evening(9)))
        with log._store.reading() as connection:
            assert schema.version_of(connection) == schema.NEWEST


@pytest.mark.parametrize("version", range(1, schema.NEWEST))
def test_a_migrated_log_has_the_same_form_as_a_new_one(version: int, tmp_path: Path) -> None:
    def form(folder: Path) -> list[tuple[str, str]]:
        with open_log(folder) as log, log._store.reading() as connection:
            return sorted(connection.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL").fetchall())

    for name in ("old", "new"):
        (tmp_path / name).mkdir()
    old_log(tmp_path / "old" / "practice.sqlite", version)
    assert form(tmp_path / "old") == form(tmp_path / "new")


def test_a_migration_that_is_interrupted_leaves_the_old_form(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "practice.sqlite"
    old_log(path, 1)
    monkeypatch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS[:2], "CREATE TABLE half (a); THIS IS NO SQL"))
    with pytest.raises(CoachError):
        open_log(tmp_path)
    connection = sqlite3.connect(path)
    assert connection.execute("PRAGMA user_version").fetchone() == (1,)
    assert not connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'half'").fetchone()
    assert connection.execute("SELECT count(*) FROM takes").fetchone() == (9,)
    connection.close()
    monkeypatch.undo()
    with open_log(tmp_path) as log:
        assert log.count() == 9


def contents(folder: Path) -> dict[str, str]:
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.iterdir()}


def test_a_newer_log_is_refused_untouched(tmp_path: Path) -> None:
    with open_log(tmp_path) as log:
        log.record(entry(log.know(hymn(), phrases_of(hymn()))[0]))
    connection = sqlite3.connect(tmp_path / "practice.sqlite")
    connection.execute(f"PRAGMA user_version = {schema.NEWEST + 1}")
    connection.close()
    before = contents(tmp_path)
    with pytest.raises(CoachError, match=r"newer coach.*left untouched"):
        open_log(tmp_path)
    assert contents(tmp_path) == before


def test_a_newer_log_that_is_open_elsewhere_is_refused_too(tmp_path: Path) -> None:
    """The newer version may still stand in the write-ahead log only."""
    with open_log(tmp_path) as log, log._store.reading() as connection:
        connection.execute(f"PRAGMA user_version = {schema.NEWEST + 5}")
        with pytest.raises(CoachError, match="newer coach"):
            open_log(tmp_path)
        assert connection.execute("PRAGMA user_version").fetchone() == (schema.NEWEST + 5,)


def test_a_log_that_a_newer_coach_raises_meanwhile_is_written_no_more(tmp_path: Path) -> None:
    """The take's own file is kept all the same: whichever coach opens the log next puts it back."""
    with open_log(tmp_path) as log:
        passage = log.know(hymn(), phrases_of(hymn()))[0]
        log.record(entry(passage))
        newer = sqlite3.connect(tmp_path / "practice.sqlite")
        newer.execute(f"PRAGMA user_version = {schema.NEWEST + 1}")
        take = Take((Event(0.0, "press", 60, 64), Event(0.5, "release", 60, 0)))
        with pytest.raises(CoachError, match=r"newer coach.*left untouched"):
            log.keep(take, entry(passage, at=evening(0, 5)))
        assert newer.execute("SELECT count(*) FROM takes").fetchone() == (1,)
        newer.execute(f"PRAGMA user_version = {schema.NEWEST}")
        newer.close()
    with open_log(tmp_path) as log:
        assert log.count() == 2


def test_another_programs_database_is_left_untouched(tmp_path: Path) -> None:
    connection = sqlite3.connect(tmp_path / "practice.sqlite")
    connection.execute("CREATE TABLE recipes (name TEXT)")
    connection.commit()
    connection.close()
    before = contents(tmp_path)
    with pytest.raises(CoachError, match="another program's database"):
        open_log(tmp_path)
    assert contents(tmp_path) == before


def test_other_rules_work_everything_out_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with open_log(tmp_path) as log:
        passage = log.know(hymn(), phrases_of(hymn()))[0]
        make_solid(log, passage)
        with log._store.writing() as connection:
            connection.execute("UPDATE passages SET state = replace(state, '\"takes\": 9', '\"takes\": 1')")
        assert log.progress(passage).takes == 1
    monkeypatch.setattr("coach.practice.store.FORM", FORM + 1)
    monkeypatch.setattr("coach.practice.derive.FORM", FORM + 1)
    with open_log(tmp_path) as log:
        assert log.progress(passage).takes == 9


def test_a_log_with_longer_rests_is_brought_to_a_quarter_at_the_most(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Dues that lay more than a quarter ahead come nearer; none falls on a day that is over."""
    monkeypatch.setattr(memory, "LONGEST_REST", 36_500)
    memory._scheduler.cache_clear()
    with open_log(tmp_path, evening(150)) as log:
        one, other = [p for p in log.know(hymn(), phrases_of(hymn())) if p.kind == "phrase"][:2]
        make_solid(log, one, (0, 3, 14, 60))
        make_solid(log, other, (0, 3, 14, 60, 140))
        before = {passage: log.progress(passage).memory for passage in (one, other)}
        assert all(kept is not None and (kept.due - kept.last).days > 90 for kept in before.values())
        with log._store.writing() as connection:
            derive.set_fact(connection, "rules", "4")
    monkeypatch.undo()
    memory._scheduler.cache_clear()
    with open_log(tmp_path, evening(160)) as log:
        for passage, said in before.items():
            kept = log.progress(passage).memory
            assert kept is not None
            assert said is not None
            assert (kept.stability, kept.last) == (said.stability, said.last)
            assert kept.due == max(said.last + timedelta(days=90), evening(160).date())
