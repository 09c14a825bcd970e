"""From a note-on leaving the player's port to the cell redrawn, over JACK with periods of 64 frames.

Run: python tests/bench/bench_latency.py

The app runs as a player runs it, on a pseudo terminal in a process of its own. Every key of a phrase is pressed one by
one; the clock stops when the terminal has received the mark of the cell.
"""

from __future__ import annotations

import fcntl
import importlib.util
import os
import pty
import select
import signal
import statistics
import struct
import sys
import tempfile
import termios
import time
from dataclasses import replace
from pathlib import Path

PIECE = "wide-water"
ROUNDS = 12
APART = 0.12
"""Seconds between two keys."""

LIMIT_MS = 30.0
SHARE = 0.95
MARKS = ("•".encode(), b"~")
"""In the chord's time, or late after its other notes."""


def conftest() -> object:
    path = Path(__file__).parent.parent / "conftest.py"
    spec = importlib.util.spec_from_file_location("conftest_of_tests", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def read_until(terminal: int, wanted: tuple[bytes, ...], seconds: float) -> float | None:
    """When one of these arrived, None where none did."""
    drawn = b""
    limit = time.perf_counter() + seconds
    while time.perf_counter() < limit:
        if select.select([terminal], [], [], 0.05)[0]:
            drawn += os.read(terminal, 65536)
            if any(each in drawn for each in wanted):
                return time.perf_counter()
    return None


def drain(terminal: int, seconds: float) -> None:
    read_until(terminal, (b"\0never\0",), seconds)


def main() -> None:
    made = conftest()
    server = made.JackServer(f"coach-bench-{os.getpid()}", period=64)  # type: ignore[attr-defined]
    os.environ["JACK_DEFAULT_SERVER"] = server.name
    with tempfile.TemporaryDirectory() as folder:
        os.environ["COACH_HOME"] = folder
        server.start()
        piano = made.Piano("Bench Piano")  # type: ignore[attr-defined]
        try:
            late = measure(piano)
        finally:
            piano.unplug()
            server.stop()
    late.sort()
    within = sum(each <= LIMIT_MS for each in late) / len(late)
    print(
        f"{len(late)} keys: median {statistics.median(late):.1f} ms, 95 % within {late[int(0.95 * len(late))]:.1f} ms"
    )
    print(f"within {LIMIT_MS:.0f} ms: {within:.1%}, to be at least {SHARE:.0%}")
    if within < SHARE:
        raise SystemExit("too slow")


def measure(piano: object) -> list[float]:
    from coach import settings as kept
    from coach.practice.ladder import TOGETHER
    from coach.practice.music import open_music

    kept.save(replace(kept.Settings(), set_up=True))
    music = open_music(PIECE)
    task = music.task(music.phrase_passage(1), TOGETHER)
    process, terminal = pty.fork()
    if process == 0:
        os.environ["TERM"] = "xterm-256color"
        code = f"import sys; from coach.cli import main; sys.exit(main(['drill', '{PIECE}', '--hand', 'both']))"
        os.execv(sys.executable, [sys.executable, "-c", code])
    fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", 30, 100, 0, 0))
    late = []
    try:
        if read_until(terminal, (b"Bench",), 30) is None:
            raise SystemExit("the app does not hear the piano")
        drain(terminal, 1.0)
        for _ in range(ROUNDS):
            for chord in task.expected.chords:
                keys = [task.expected.notes[number].midi for number in chord.struck]
                if chord.number == 0:
                    # The marks of the take before stay in sight until the chord that begins the next one is complete.
                    piano.press(*keys)  # type: ignore[attr-defined]
                    drain(terminal, 0.3)
                for key in keys if chord.number else ():
                    sent = time.perf_counter()
                    piano.press(key)  # type: ignore[attr-defined]
                    seen = read_until(terminal, MARKS, 1.0)
                    late.append(1000.0 if seen is None else 1000 * (seen - sent))
                    drain(terminal, APART)
                piano.release(*keys)  # type: ignore[attr-defined]
                drain(terminal, APART)
            drain(terminal, 1.5)
    finally:
        os.kill(process, signal.SIGKILL)
        os.waitpid(process, 0)
        os.close(terminal)
    return late


if __name__ == "__main__":
    main()
