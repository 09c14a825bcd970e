"""Today's practice from a log of 200,000 takes, against the start of an empty Textual app, in one run.

python tests/bench/bench_today.py [--takes N]

The log holds 400 pieces of six phrases that are all in practice, five of them with a date. Ours is what the app does
on its way to the first list: open the log and lay out the day; as it is opened once more, and as it is on the day after
some practice, when the reviews are asked how the player remembers. The empty app is started as a player starts one, in
a fresh interpreter, until its first screen is there. All are timed in turn, and the medians compared; their processor
times too, which a busy machine does not blur. For scale: the same app without the import of Textual.
"""

from __future__ import annotations

import argparse
import asyncio
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, timedelta
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))

from practising import MONDAY, entry, hymn, open_log, phrases_of

from coach.practice import derive
from coach.practice.ladder import MEMORY, START, TOGETHER, Place, after, next_step, phrase_steps
from coach.practice.ladder import Shape as LadderShape
from coach.practice.schedule import today

PIECES, PHRASES, ROUNDS, REVIEWS = 400, 6, 9, 8

LATER = 1000
"""The day that is laid out: most of a year after the last take, so that hundreds of phrases are overdue."""

Span = tuple[float, float]
"""Seconds on the clock and of the processor."""

EMPTY = """
import time
import asyncio
from textual.app import App
async def start():
    async with App().run_test():
        print(time.time(), time.process_time())
asyncio.run(start())
"""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--takes", type=int, default=200_000)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        fill(folder, arguments.takes)
        now = MONDAY + timedelta(days=LATER)
        ours: list[Span] = []
        later: list[Span] = []
        theirs: list[Span] = []
        warm: list[Span] = []
        for number in range(ROUNDS):
            practise(folder, number)
            with timed(later), open_log(folder) as log:
                today(log, now, zone=UTC)
            with timed(ours), open_log(folder) as log:
                day = today(log, now, zone=UTC)
            began = time.time()
            found = subprocess.run([sys.executable, "-c", EMPTY], capture_output=True, text=True, check=True)
            shown, spent = map(float, found.stdout.split())
            theirs.append((shown - began, spent))
            with timed(warm):
                asyncio.run(empty_app())
        print(f"{arguments.takes} takes: {len(day.rows)} rows, {day.waiting} more due, {len(day.dates)} dates")
        for name, place in (("time", 0), ("processor time", 1)):
            app, bare = (1000 * median(one[place] for one in some) for some in (theirs, warm))
            for when, some in (("today", ours), ("today after a day of practice", later)):
                us = 1000 * median(one[place] for one in some)
                print(
                    f"{name}: {when} {us:.1f} ms, empty app {app:.1f} ms, ratio {us / app:.3f} "
                    f"(without the import of Textual {bare:.1f} ms, ratio {us / bare:.3f})"
                )


@contextmanager
def timed(into: list[Span]) -> Iterator[None]:
    began = time.perf_counter(), time.process_time()
    yield
    into.append((time.perf_counter() - began[0], time.process_time() - began[1]))


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
                log.set_date(known[0].piece, MONDAY + timedelta(days=LATER + 5 + number))
            passages += [passage for passage in known if passage.kind == "phrase"]
        new, climbing = passages[::80], {passage.mark for passage in passages[1::80]}
        passages = [passage for passage in passages if passage not in new]
        minutes = sorted(draw.randrange(690 * 1440) for _ in range(takes))
        places: dict[str, Place] = {}
        with log._store.writing() as connection:
            for minute in minutes:
                passage = draw.choice(passages)
                step = next_step(steps, places.get(passage.mark, START))
                verdict = draw.choices(("solid", "shaky", "weak"), (84, 10, 6))[0]
                if passage.mark in climbing:
                    step, verdict = TOGETHER, "shaky"
                played = entry(passage, step, verdict, at=MONDAY + timedelta(minutes=minute), title="")
                places[passage.mark] = after(places.get(passage.mark, START), steps, played)
                derive.add_entry(connection, played)
            derive.work_out_all(connection)


def practise(folder: Path, number: int) -> None:
    """Some reviews on an evening after all the others: as many as ask anew how the player remembers, and a few more."""
    with open_log(folder) as log:
        learned = [stand for stand in log.stands() if stand.kind == "phrase" and stand.learned]
        assert len(learned) > REVIEWS * ROUNDS
        for stand in learned[REVIEWS * number : REVIEWS * (number + 1)]:
            verdict = "weak" if number % 2 else "solid"
            log.record(entry(stand.passage, MEMORY, verdict, at=MONDAY + timedelta(days=700 + number), title=""))


async def empty_app() -> None:
    from textual.app import App

    async with App().run_test():
        pass


if __name__ == "__main__":
    main()
