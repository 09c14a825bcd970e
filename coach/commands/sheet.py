"""coach sheet: the fingered music to print, to go on with in another program, or to hear."""

from __future__ import annotations

import argparse

from coach import places
from coach.commands.output import output
from coach.commands.planning import add_planning, asked_for
from coach.errors import CoachError


def add(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    add_planning(parser)
    parser.add_argument(
        "--fingers",
        choices=("all", "changes", "none"),
        default="all",
        help="which fingers to write: all, only where a hand changes its place, or none",
    )
    parser.add_argument(
        "-o",
        "--output",
        required=True,
        metavar="FILE",
        help="where to write it: .html to print, .svg the music alone, .musicxml to go on with, .mid to hear",
    )


def run(arguments: argparse.Namespace) -> int:
    """Plan the piece and write the sheet."""
    from coach.fingering.planner import plan_piece
    from coach.paper.sheet_files import Order, must_be_a_form, written
    from coach.score.library import find_source

    must_be_a_form(arguments.output)
    asked = asked_for(arguments)
    source, target = find_source(arguments.piece).path, places.expanded(arguments.output)
    if target.exists() and target.samefile(source):
        raise CoachError(f'"{arguments.output}" is the piece itself: write the sheet to another file')
    plan = plan_piece(asked.part, asked.wanted, asked.hands, asked.choosing())
    content = written(arguments.output, Order(asked.part, plan, arguments.fingers))
    with output(arguments.output, binary=True) as file:
        file.write(content)
    print(f'"{asked.piece.title}" is written to {arguments.output}')
    return 0
