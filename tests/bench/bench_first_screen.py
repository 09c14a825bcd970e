"""Time to the first screen, with a shelf of 400 pieces and a full log, beside an empty Textual app, in one run.

Run: python tests/bench/bench_first_screen.py

Each app is started in a process of its own, as a player starts it, on a pseudo terminal; the clock runs from the start
of the process until the screen was drawn. The two take turns, and medians are compared.
"""

from __future__ import annotations

import fcntl
import os
import pty
import select
import shutil
import signal
import statistics
import struct
import sys
import tempfile
import termios
import time
from datetime import timedelta
from pathlib import Path

TURNS = 15
PIECES = 400
TAKES = 20_000
LIMIT = 2.0
"""The first screen comes within twice the time of an empty app."""

EMPTY = """
from textual.app import App
from textual.widgets import Static
class Empty(App):
    def compose(self):
        yield Static("Empty app")
Empty().run()
"""

COACH = "import sys; from coach.cli import main; sys.exit(main([]))"


def furnish(home: Path) -> None:
    """A shelf of many pieces, and a log of many takes over the last months."""
    os.environ["COACH_HOME"] = str(home)
    from dataclasses import replace

    from coach import places
    from coach import settings as kept
    from coach.practice import days
    from coach.practice.entry import new_entry
    from coach.practice.ladder import NO_FINGERS, RIGHT, TOGETHER
    from coach.practice.log import Log
    from coach.practice.music import open_music

    kept.save(replace(kept.Settings(), set_up=True))
    shipped = sorted(places.shipped_pieces().glob("*.musicxml"))
    for number in range(PIECES):
        shutil.copy(shipped[number % len(shipped)], places.shelf() / f"piece {number:03d}.musicxml")
    with Log.open() as log:
        passages = []
        for path in shipped:
            music = open_music(path.stem)
            log.know(music.piece, music.phrases, music.shapes)
            passages += [(music, passage) for passage in music.passages if passage.kind == "phrase"]
        now = days.now() - timedelta(days=2)
        with log._store.writing() as connection:
            from coach.practice import derive

            for number in range(TAKES):
                music, passage = passages[number % len(passages)]
                step = (RIGHT, TOGETHER, NO_FINGERS)[number % 3]
                began = now - timedelta(minutes=10 * (TAKES - number))
                entry = new_entry(
                    passage, music.piece.title, step, "solid", began=began, seconds=30.0, source=music.name
                )
                derive.add_entry(connection, entry)
            derive.work_out_all(connection)
        for music, _ in passages:
            log.set_state(music.passages[0].piece, "in practice")


def seconds_to_first_screen(code: str, wanted: bytes) -> float:
    """Start a program on a terminal of its own and wait until these words were drawn."""
    start = time.perf_counter()
    process, terminal = pty.fork()
    if process == 0:
        os.environ["TERM"] = "xterm-256color"
        # Before the program looks: on a terminal without a size nothing is drawn.
        fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        os.execv(sys.executable, [sys.executable, "-c", code])
    drawn = b""
    limit = start + 30
    while wanted not in drawn:
        if time.perf_counter() > limit or not select.select([terminal], [], [], 5)[0]:
            raise SystemExit(f"nothing was drawn: {drawn[-2000:]!r}")
        drawn += os.read(terminal, 65536)
    took = time.perf_counter() - start
    os.kill(process, signal.SIGKILL)
    os.waitpid(process, 0)
    os.close(terminal)
    return took


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        furnish(Path(folder))
        empty, coach = [], []
        for _ in range(TURNS):
            empty.append(seconds_to_first_screen(EMPTY, b"Empty app"))
            coach.append(seconds_to_first_screen(COACH, "′".encode()))
    ratio = statistics.median(coach) / statistics.median(empty)
    print(f"empty Textual app: {1000 * statistics.median(empty):.0f} ms (median of {TURNS})")
    print(f"coach, {PIECES} pieces, {TAKES} takes: {1000 * statistics.median(coach):.0f} ms")
    print(f"ratio {ratio:.2f}, to be at most {LIMIT}")
    if ratio > LIMIT:
        raise SystemExit("too slow")


if __name__ == "__main__":
    main()
