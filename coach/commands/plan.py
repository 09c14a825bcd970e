"""coach plan: the chord table of each phrase, and why; the player's own choices, and what else could be done."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

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

if TYPE_CHECKING:
    from coach.fingering.alternatives import Alternative
    from coach.fingering.choices import Choices
    from coach.fingering.hand import Hands
    from coach.fingering.plan import Plan
    from coach.fingering.search import Options
    from coach.score.piece import Phrase, Piece

CHOICES = ("keep", "ignore", "list", "undo", "redo", "clear")


def add(parser: argparse.ArgumentParser) -> None:
    from coach.fingering.notation import HOW

    add_piece(parser)
    parser.add_argument("--json", action="store_true", help="print the plan as JSON")
    add_hands(parser)
    add_part(parser)
    own = parser.add_argument_group("your choices", "kept with the piece, and planned around from then on")
    own.add_argument("--fix", action="append", default=[], metavar="CHOICE", help=HOW.replace("%", "%%"))
    own.add_argument(
        "--choices",
        choices=CHOICES,
        default="keep",
        help="what to do with them: honour them (keep), plan without, list them, take the last change back, make it "
        "again, or clear them all",
    )
    own.add_argument(
        "--printed-fingers", choices=("keep", "ignore"), default="keep", help="fingers that the source prints"
    )
    own.add_argument(
        "--habits", choices=("keep", "ignore"), default="keep", help="what your choices say of your habits"
    )
    own.add_argument(
        "--alternatives", action="store_true", help="the next-best plans of a phrase, with what each costs and gains"
    )


def run(arguments: argparse.Namespace) -> int:
    from coach.fingering.planner import plan_piece
    from coach.practice.chosen import options_for
    from coach.score.library import open_piece
    from coach.settings import load

    settings = load()
    hands = hands_from(arguments, settings)
    piece = open_piece(arguments.piece)
    phrases = phrases_from(piece, arguments)
    options = options_from(arguments, settings)
    if arguments.choices not in ("keep", "ignore"):
        return _change(piece, arguments)
    part = part_from(piece, phrases, arguments)
    if arguments.fix and (part is not piece or arguments.choices == "ignore"):
        other = "--choices ignore" if part is piece else "--plain" if arguments.plain else "--voices"
        raise CoachError(f"a choice is made for the whole piece as written: give --fix without {other}")
    kept: dict[str, Any] = {
        "printed_fingers": arguments.printed_fingers,
        "habits": arguments.habits,
        "part": part if part is not piece else None,
    }
    chosen = asked_of(phrases, arguments)
    if arguments.alternatives and len(chosen) != 1:
        raise CoachError("alternatives are for one phrase at a time: name it with --phrase N")
    if arguments.fix:
        _fix(piece, phrases, hands, options, arguments)
    options = options_for(piece, options, own=arguments.choices, **kept)
    plan = plan_piece(part, chosen, hands, options)
    found = _alternatives(part, chosen[0], hands, options) if arguments.alternatives else None
    if arguments.json:
        _print_json(piece, plan, found)
        return 0
    _print(piece, part, plan, found, options)
    return 0


def _fix(
    piece: Piece, phrases: Sequence[Phrase], hands: Hands, options: Options, arguments: argparse.Namespace
) -> None:
    from coach.fingering.notation import read_fix
    from coach.practice.chosen import make

    make(piece, phrases, [read_fix(text, piece) for text in arguments.fix], hands, options)


def _change(piece: Piece, arguments: argparse.Namespace) -> int:
    """List the choices, take back, make again or clear them; what holds then is printed."""
    from coach.fingering.notation import write_fix
    from coach.practice import chosen

    if arguments.fix:
        raise CoachError(f"--fix and --choices {arguments.choices} are two changes: make them one after the other")
    changes: dict[str, Callable[[Piece], Choices]] = {
        "list": chosen.choices_of,
        "undo": chosen.undo,
        "redo": chosen.redo,
        "clear": chosen.clear,
    }
    choices = changes[arguments.choices](piece)
    lines = [write_fix(one, piece) for one in sorted(choices.fixes, key=lambda one: one.onset)]
    print("\n".join(lines) if lines else f'nothing is chosen in "{piece.title}"')
    return 0


def _alternatives(part: Piece, phrase: Phrase, hands: Hands, options: Options) -> list[Alternative]:
    from coach.fingering.alternatives import alternatives
    from coach.score.piece import chords_of

    return alternatives(phrase, chords_of(part, phrase), hands, options)


def _print_json(piece: Piece, plan: Plan, found: list[Alternative] | None) -> None:
    import json
    from dataclasses import asdict

    from coach.fingering.notation import write_fix

    form = plan.to_json()
    if found is not None:
        form["alternatives"] = [
            {"fix": write_fix(one.fix, piece), "costs": one.costs, "gains": one.gains, "phrase": asdict(one.plan)}
            for one in found
        ]
    json.dump(form, sys.stdout)
    print()


def _print(piece: Piece, part: Piece, plan: Plan, found: list[Alternative] | None, options: Options) -> None:
    from dataclasses import replace

    from coach.fingering.weights import WEIGHTS
    from coach.paper.cells import first_stanza
    from coach.paper.plan_text import plan_text
    from coach.paper.signs import signs_for

    if options.weights != WEIGHTS:
        plan = replace(plan, remarks=(*plan.remarks, "planned with your habits, see coach habits"))
    words = {phrase.number: first_stanza(part, phrase) for phrase in plan.phrases}
    signs = signs_for(sys.stdout.encoding)
    print(plan_text(plan, words, signs=signs))
    if found is not None:
        from coach.paper.alternatives_text import alternatives_text

        print()
        print(alternatives_text(piece, plan.phrases[0], found, words[plan.phrases[0].number], signs=signs))
