"""A progress bar on standard error, for work that is long enough to wait for."""

from __future__ import annotations

import sys

WIDTH = 30
"""Characters of a progress bar."""


class ProgressBar:
    """Shows how far work has come, where a person can see it."""

    def __init__(self, text: str) -> None:
        self.text = text
        self._shown = False

    def __enter__(self) -> ProgressBar:
        return self

    def __exit__(self, *_: object) -> None:
        self.clear()

    def show(self, done: int, total: int) -> None:
        if total < 3 or not sys.stderr.isatty():
            return
        filled = WIDTH * done // total
        line = f"{self.text} [{'=' * filled}{' ' * (WIDTH - filled)}] {done} of {total}"
        print(f"\r{line}", end="", file=sys.stderr, flush=True)
        self._shown = True

    def clear(self) -> None:
        if self._shown:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)
            self._shown = False
