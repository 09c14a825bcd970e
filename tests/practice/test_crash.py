"""A process killed at any moment loses no finished take and leaves none half there."""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from practising import open_log

from coach.practice import derive
from coach.practice.files import read_entry, take_files

SUPPORT = str(Path(__file__).parents[1] / "support")
KILLS = 10

PLAYER = """
import sys; sys.path.insert(0, {support!r})
from datetime import timedelta
from pathlib import Path
from practising import MONDAY, entry, hymn, open_log, phrases_of
from coach.listening.events import Event
from coach.listening.take import Take
piece = hymn()
log = open_log(Path({folder!r}))
passages = log.know(piece, phrases_of(piece))
print("ready", flush=True)
for number in range(1000):
    began = MONDAY + timedelta(days={run}, minutes=number)
    take = Take(tuple(Event(at / 7, "press", 60 + at % 12, 64) for at in range(40)))
    kept = log.keep(take, entry(passages[number % 4], at=began, measures={{"number": number}}))
    print(kept.uid, flush=True)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs a system that can kill without asking")
def test_a_coach_killed_at_random_points_loses_no_take_that_it_had_kept(tmp_path: Path) -> None:
    """What was printed was on the disk; what was not yet printed is whole or not there."""
    draw = random.Random(5)
    finished: list[str] = []
    for run in range(KILLS):
        script = PLAYER.format(support=SUPPORT, folder=str(tmp_path), run=run)
        player = subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, text=True)
        assert player.stdout is not None
        assert player.stdout.readline() == "ready\n"
        time.sleep(draw.uniform(0.0, 0.25))
        player.kill()
        rest, _ = player.communicate()
        # The last line may be cut short: then its take was kept, but not told.
        finished += [line for line in rest.split("\n")[:-1] if len(line) == 32]
        with open_log(tmp_path) as log:
            assert "damaged" not in " ".join(log.notices)
            with log._store.reading() as connection:
                assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
                assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
            recorded = {entry.uid: entry for entry in log.entries()}
            assert set(finished) <= set(recorded)
            for entry in recorded.values():
                kept = read_entry(log.takes / entry.midi)
                assert kept is not None
                assert kept.uid == entry.uid
            assert len(list(take_files(log.takes))) == len(recorded)
    assert len(finished) > KILLS
    with open_log(tmp_path) as log:
        stood = {stand.number: stand for stand in log.stands()}
        with log._store.writing() as connection:
            derive.work_out_all(connection)
        assert {stand.number: stand for stand in log.stands()} == stood


def test_a_take_whose_coach_was_killed_between_file_and_log_is_put_back(tmp_path: Path) -> None:
    script = PLAYER.format(support=SUPPORT, folder=str(tmp_path), run=0)
    script = script.replace("import Take\n", "import Take\nfrom coach.practice.log import Log\n")
    script = script.replace(
        'print("ready"', 'Log.record = lambda self, entry: __import__("os")._exit(9)\nprint("ready"'
    )
    assert subprocess.run([sys.executable, "-c", script], capture_output=True, timeout=60).returncode == 9
    with open_log(tmp_path) as log:
        assert log.count() == 1
        assert log.notices == ["1 take was put back into the practice log from its own file."]
        assert next(iter(log.entries())).measures == {"number": 0}
    with open_log(tmp_path) as log:
        assert log.notices == []
        assert log.count() == 1
