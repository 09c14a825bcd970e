"""Today's practice from a log of 200,000 takes, against the start of an empty Textual app, in one run.

python tests/bench/bench_today.py [--takes N]

The log holds 400 pieces of six phrases that are all in practice, five of them with a date. Opening the log is counted
too. Both are timed several times in turn, and the medians compared; the app is timed from its making to its first
screen, without the import of Textual. A second comparison counts imports: two fresh interpreters, one that imports
what it needs and lays out the day, one that imports Textual and starts the app.
"""

from __future__ import annotations

import argparse
import asyncio
import random
import subprocess
import sys
import tempfile
import time
from datetime import UTC, timedelta
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))

from practising import MONDAY, entry, hymn, open_log, phrases_of

from coach.practice import derive
from coach.practice.ladder import TOGETHER, phrase_steps
from coach.practice.ladder import Shape as LadderShape
from coach.practice.schedule import today

PIECES, PHRASES, ROUNDS = 400, 6, 9

ALONE = """
import time; began = time.perf_counter()
from datetime import UTC, datetime
from pathlib import Path
from coach.practice.log import Log
from coach.practice.schedule import today
with Log.open(Path({folder!r}) / "practice.sqlite") as log:
    today(log, datetime.fromisoformat({now!r}), zone=UTC)
print(time.perf_counter() - began)
"""

EMPTY = """
import time; began = time.perf_counter()
import asyncio
from textual.app import App
async def start():
    async with App().run_test():
        print(time.perf_counter() - began)
asyncio.run(start())
"""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--takes", type=int, default=200_000)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        fill(folder, arguments.takes)
        now = MONDAY + timedelta(days=700)
        ours, theirs = [], []
        for _ in range(ROUNDS):
            began = time.perf_counter()
            with open_log(folder) as log:
                day = today(log, now, zone=UTC)
            ours.append(time.perf_counter() - began)
            theirs.append(asyncio.run(empty_app()))
        print(
            f"{arguments.takes} takes; today has {len(day.rows)} rows, {day.waiting} more due, {len(day.dates)} dates"
        )
        print(
            f"today, log opened: {1000 * median(ours):.1f} ms; empty app: {1000 * median(theirs):.1f} ms; "
            f"ratio {median(ours) / median(theirs):.3f}"
        )
        with_imports = [alone(ALONE.format(folder=name, now=now.isoformat())) for _ in range(ROUNDS)]
        app_with_imports = [alone(EMPTY) for _ in range(ROUNDS)]
        print(
            f"with imports: {1000 * median(with_imports):.1f} ms against {1000 * median(app_with_imports):.1f} ms; "
            f"ratio {median(with_imports) / median(app_with_imports):.3f}"
        )


def fill(folder: Path, takes: int) -> None:
    """A log of years: nearly every phrase was learned and reviewed for long; some sixty are on the ladder or new."""
    draw = random.Random(7)
    steps = phrase_steps(LadderShape(8))
    with open_log(folder) as log:
        passages = []
        for number in range(PIECES):
            piece = hymn(PHRASES, seed=number, title=f"Hymn {number}")
            known = log.know(piece, phrases_of(piece))
            log.set_state(known[0].piece, "in practice")
            if number < 5:
                log.set_date(known[0].piece, MONDAY + timedelta(days=705 + number))
            passages += [passage for passage in known if passage.kind == "phrase"]
        new, climbing = passages[::80], {passage.mark for passage in passages[1::80]}
        passages = [passage for passage in passages if passage not in new]
        minutes = sorted(draw.randrange(690 * 1440) for _ in range(takes))
        seen: dict[str, int] = {}
        with log._store.writing() as connection:
            for minute in minutes:
                passage = draw.choice(passages)
                count = seen[passage.mark] = seen.get(passage.mark, -1) + 1
                step = steps[min(count, len(steps) - 2)]
                verdict = draw.choices(("solid", "shaky", "weak"), (95, 4, 1))[0]
                if passage.mark in climbing:
                    step, verdict = TOGETHER, "shaky"
                played = entry(passage, step, verdict, at=MONDAY + timedelta(minutes=minute), title="")
                derive.add_entry(connection, played)
            derive.work_out_all(connection)


async def empty_app() -> float:
    from textual.app import App

    began = time.perf_counter()
    async with App().run_test():
        return time.perf_counter() - began


def alone(script: str) -> float:
    found = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    return float(found.stdout.split()[0])


if __name__ == "__main__":
    main()
