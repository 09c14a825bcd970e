"""The command line: find the command, hand over, print one clear line for what goes wrong."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from importlib import import_module
from io import TextIOWrapper
from typing import Any, NoReturn

from coach.errors import CoachError
from coach.likeness import error_handler

COMMANDS = {
    "plan": "plan hands and fingers, and say why",
    "habits": "what your choices say about how you like to play",
    "drill": "practise one phrase at the keyboard",
    "sheet": "write the fingered music to print, to go on with in another program, or to hear",
    "check": "hear a recorded take: notes, lifts, holds, tempo, and a verdict",
    "pieces": "what is on the shelf: take pieces in, find, transpose, cut into phrases",
    "ports": "list MIDI inputs and outputs",
    "log": "the practice record: print it, take it along, take another one in",
    "spell": "away from the piano: type a phrase's fingers chord by chord",
}
"""Each command's module in `coach/commands/` and what it does; a module loads only when it is called for."""


BROKEN_OFF = 130
"""The exit code where the player pressed Ctrl-C, as shells give it (128 and the signal's number, POSIX)."""


def _plain(text: str) -> str:
    from coach.paper.signs import plain

    return plain(text)


IN_PLAIN_LETTERS = error_handler("coach.plain", _plain)
"""What becomes of a character that a terminal or a file cannot take: its nearest likeness."""


class Parser(argparse.ArgumentParser):
    """Says in one line what is wrong with the words of a command, and where its help is."""

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> tuple[Any, list[str]]:
        """Refuse words that are left over here, where the command is known: argparse leaves them to the parser of all
        commands, whose help says nothing of them."""
        found, over = super().parse_known_args(args, namespace)
        if over:
            self.error(f"unrecognized arguments: {' '.join(over)}")
        return found, over

    def error(self, message: str) -> NoReturn:
        raise CoachError(f"{message} (see {self.prog} -h)")


def main(words: Sequence[str] | None = None) -> int:
    """Run one command.

    Returns:
        The exit code: 0, or 2 after one line on standard error; 130 where the player broke off.
    """
    given = list(sys.argv[1:] if words is None else words)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors=IN_PLAIN_LETTERS)
    try:
        code = _run(given)
        sys.stdout.flush()
        return code
    except CoachError as error:
        print(f"coach: {error}", file=sys.stderr)
        return 2
    except BrokenPipeError:
        # The reader of our output went away ("coach plan ... | head"): nothing is wrong.
        sys.stderr.close()
        return 0
    except OSError as error:
        _print_no_more()
        print(f"coach: {error.strerror or error}{f': {error.filename}' if error.filename else ''}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print(file=sys.stderr)
        return BROKEN_OFF


def _print_no_more() -> None:
    """What is still to be printed has nowhere to go: a full disk would be told of again at the very end."""
    with suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)


def _run(words: list[str]) -> int:
    if not words:
        return int(import_module("coach.commands.app").run())
    parser = Parser(
        prog="coach",
        description="A practice coach for hymns and chorales. Without a command it opens on today's practice.",
    )
    commands = parser.add_subparsers(metavar="COMMAND", dest="command", required=True)
    called = next((word for word in words if not word.startswith("-")), None)
    for name, summary in COMMANDS.items():
        command = commands.add_parser(name, help=summary, description=summary[0].upper() + summary[1:] + ".")
        if name == called:
            module = import_module(f"coach.commands.{name}")
            module.add(command)
            command.set_defaults(run=module.run)
    arguments = parser.parse_args(words)
    return int(arguments.run(arguments))


if __name__ == "__main__":
    sys.exit(main())
