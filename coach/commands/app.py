"""`coach` alone: the app, on today's practice."""

from __future__ import annotations

import sys

from coach.errors import CoachError


def run() -> int:
    """Open the app.

    Raises:
        CoachError: there is no terminal to open it in.
    """
    need_terminal()
    from coach.screens.app import run_app

    return run_app()


def need_terminal() -> None:
    """Make sure that there is a terminal to draw on and to read keys from.

    Raises:
        CoachError: there is none.
    """
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise CoachError("the practice screen needs a terminal; coach -h lists the commands that do not")
