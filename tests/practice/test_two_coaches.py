"""Two coaches on one log do not lose each other's takes."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from practising import entry, evening, hymn, open_log, phrases_of

from coach.practice import derive
from coach.practice.schema import NEWEST, version_of

SUPPORT = str(Path(__file__).parents[1] / "support")
TAKES = 30

COACH = """
import sys; sys.path.insert(0, {support!r})
from datetime import timedelta
from pathlib import Path
from practising import MONDAY, entry, hymn, open_log, phrases_of
piece = hymn()
log = open_log(Path({folder!r}))
passages = log.know(piece, phrases_of(piece))
for number in range({takes}):
    log.record(entry(passages[number % 4], at=MONDAY + timedelta(minutes=number, seconds={coach})))
    log.progress(passages[0])
"""


def test_two_processes_write_at_once_and_every_take_counts_once(tmp_path: Path) -> None:
    scripts = [COACH.format(support=SUPPORT, folder=str(tmp_path), takes=TAKES, coach=coach) for coach in (1, 2)]
    coaches = [subprocess.Popen([sys.executable, "-c", script], stderr=subprocess.PIPE) for script in scripts]
    for coach in coaches:
        _, errors = coach.communicate(timeout=120)
        assert coach.returncode == 0, errors.decode()
    with open_log(tmp_path) as log:
        assert log.count() == 2 * TAKES
        followed = [(stand.passage, stand.takes, stand.step) for stand in log.stands()]
        assert sum(takes for passage, takes, _ in followed if passage.kind == "phrase") == 2 * TAKES
        with log._store.writing() as connection:
            derive.work_out_all(connection)
        assert [(stand.passage, stand.takes, stand.step) for stand in log.stands()] == followed


def test_each_sees_at_once_what_the_other_wrote(tmp_path: Path) -> None:
    with open_log(tmp_path) as one, open_log(tmp_path) as other:
        passage = one.know(hymn(), phrases_of(hymn()))[0]
        for number in range(6):
            writer, reader = (one, other) if number % 2 else (other, one)
            writer.record(entry(passage, at=evening(0, number)))
            assert reader.progress(passage).takes == number + 1


def test_a_coach_goes_on_in_the_log_that_another_has_mended(tmp_path: Path) -> None:
    """One finds the file damaged and puts a new one in its place while the other has the old one open."""
    with open_log(tmp_path) as one:
        passage = one.know(hymn(), phrases_of(hymn()))[0]
        one.record(entry(passage))
        with open_log(tmp_path) as other:
            other._store._mend()
            one.record(entry(passage, at=evening(0, 1)))
            other.record(entry(passage, at=evening(0, 2)))
            assert one.count() == other.count() == 3


@pytest.mark.parametrize("after", [1, 2, 3])
def test_a_log_that_another_coach_is_just_making_is_nobody_elses(after: int, tmp_path: Path) -> None:
    """Whenever it appears while its version is being read."""
    path = tmp_path / "practice.sqlite"
    asked: list[str] = []

    class Watched(sqlite3.Connection):
        def execute(self, sql: str, *values: object) -> sqlite3.Cursor:  # type: ignore[override]
            found = super().execute(sql, *values)
            rows = found.fetchall()
            asked.append(sql)
            if len(asked) == after:
                open_log(tmp_path).close()
            return super().execute("SELECT ?", rows[0])

    connection = sqlite3.connect(path, factory=Watched)
    assert version_of(connection) in (0, NEWEST)
    assert len(asked) == 3
    connection.close()
