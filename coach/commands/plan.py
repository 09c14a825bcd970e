"""coach plan: the chord table of each phrase, and why; the player's own choices, and what else could be done."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from coach.commands.planning import Asked, add_planning, asked_for
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

    add_planning(parser)
    parser.add_argument("--json", action="store_true", help="print the plan as JSON")
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

    asked = asked_for(arguments)
    piece = asked.piece
    if arguments.choices not in ("keep", "ignore"):
        return _change(piece, arguments)
    part = asked.part
    if arguments.fix and (part is not piece or arguments.choices == "ignore"):
        other = "--choices ignore" if part is piece else "--plain" if arguments.plain else "--voices"
        raise CoachError(f"a choice is made for the whole piece as written: give --fix without {other}")
    wanted = asked.wanted
    if arguments.alternatives and len(wanted) != 1:
        raise CoachError("alternatives are for one phrase at a time: name it with --phrase N")
    also = _fix(asked) if arguments.fix else ""
    options = asked.choosing(own=arguments.choices, printed_fingers=arguments.printed_fingers, habits=arguments.habits)
    plan = plan_piece(part, wanted, asked.hands, options)
    found = _alternatives(part, wanted[0], asked.hands, options) if arguments.alternatives else None
    if arguments.json:
        _print_json(piece, plan, found)
        return 0
    if also:
        plan = replace(plan, remarks=(*plan.remarks, also))
    _print(piece, part, plan, found, options)
    return 0


def _fix(asked: Asked) -> str:
    """Make the choices; where else they hold, "" for nowhere."""
    from coach.fingering.notation import read_fix
    from coach.practice.chosen import make

    wishes = [read_fix(text, asked.piece) for text in asked.arguments.fix]
    return make(asked.piece, asked.phrases, wishes, asked.hands, asked.options).said


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
    from coach.paper.cells import first_stanza
    from coach.paper.plan_text import plan_text
    from coach.paper.signs import signs_for

    if options.weights != options.usual.weights:
        plan = replace(plan, remarks=(*plan.remarks, "planned with your habits, see coach habits"))
    words = {phrase.number: first_stanza(part, phrase) for phrase in plan.phrases}
    signs = signs_for(sys.stdout.encoding)
    print(plan_text(plan, words, signs=signs))
    if found is not None:
        from coach.paper.alternatives_text import alternatives_text

        print()
        print(alternatives_text(piece, plan.phrases[0], found, words[plan.phrases[0].number], signs=signs))
