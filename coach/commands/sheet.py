"""coach sheet: the fingered music to print, to go on with in another program, or to hear."""

from __future__ import annotations

import argparse
from pathlib import Path

from coach.commands.output import output
from coach.commands.planning import (
    add_hands,
    add_part,
    add_piece,
    asked_of,
    hands_from,
    options_from,
    part_from,
    phrases_from,
)
from coach.errors import CoachError


def add(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    add_piece(parser)
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
    add_hands(parser)
    add_part(parser)


def run(arguments: argparse.Namespace) -> int:
    """Plan the piece and write the sheet."""
    from coach.fingering.planner import plan_piece
    from coach.paper.sheet_files import Order, must_be_a_form, written
    from coach.practice.chosen import options_for
    from coach.score.library import find_source, open_piece
    from coach.settings import load

    must_be_a_form(arguments.output)
    settings = load()
    hands = hands_from(arguments, settings)
    piece = open_piece(arguments.piece)
    source, target = find_source(arguments.piece).path, Path(arguments.output).expanduser()
    if target.exists() and target.samefile(source):
        raise CoachError(f'"{arguments.output}" is the piece itself: write the sheet to another file')
    phrases = phrases_from(piece, arguments)
    options = options_from(arguments, settings)
    part = part_from(piece, phrases, arguments)
    options = options_for(piece, options, part=part if part is not piece else None)
    plan = plan_piece(part, asked_of(phrases, arguments), hands, options)
    content = written(arguments.output, Order(part, plan, arguments.fingers))
    with output(arguments.output, binary=True) as file:
        file.write(content)
    print(f'"{piece.title}" is written to {arguments.output}')
    return 0
