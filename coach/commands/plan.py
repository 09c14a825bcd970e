"""coach plan: the chord table of each phrase, and why; the player's own choices, and what else could be done."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.fingering.alternatives import Alternative
    from coach.fingering.choices import Choices
    from coach.fingering.hand import Hands
    from coach.fingering.plan import Plan
    from coach.fingering.search import Options
    from coach.score.piece import Phrase, Piece
    from coach.settings import Settings

CHOICES = ("keep", "ignore", "list", "undo", "redo", "clear")

OCTAVES_MM = (120.0, 180.0)
"""Octaves that keyboards are built with lie well within."""

MM_AN_INCH = 25.4


def add(parser: argparse.ArgumentParser) -> None:
    from coach.fingering.notation import HOW

    parser.add_argument("piece", metavar="PIECE", help="a file, a piece on the shelf, or corpus:bach/bwv269")
    parser.add_argument("--phrase", type=int, metavar="N", help="only this phrase, counted from 1")
    parser.add_argument("--hands", choices=("planned", "as-written"), default="planned", help="who takes which note")
    parser.add_argument(
        "--way-out", choices=("raise", "roll", "omit"), help="what to do with a note out of reach, else as set"
    )
    parser.add_argument("--json", action="store_true", help="print the plan as JSON")
    hands = parser.add_argument_group("the hands", "as set in the coach, where nothing is said here")
    hands.add_argument("--span", type=float, metavar="MM", help="span of the open hands, thumb to little finger")
    hands.add_argument("--span-right", type=float, metavar="MM", help="the right hand's alone")
    hands.add_argument("--span-left", type=float, metavar="MM", help="the left hand's alone")
    hands.add_argument("--comfort", choices=("relaxed", "normal", "wide"), help="how far the hands like to stretch")
    hands.add_argument(
        "--octave", metavar="WIDTH", help="octave of the keyboard in mm (165 at full size), or in inches: 6.0in"
    )
    part = parser.add_argument_group("part of the piece")
    part.add_argument("--metre", metavar="METRE", help="poetic metre: lines of so many syllables are phrases, 8.7.8.7")
    part.add_argument("--voices", metavar="SATB", help="only these voices, by their letters")
    part.add_argument("--plain", action="store_true", help="plain chords, without passing notes and decorations")
    part.add_argument(
        "--pedal", action="store_true", help="let the pedal cover lifts, and say where it goes down and up"
    )
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
    from coach.fingering.search import Options
    from coach.practice.chosen import options_for
    from coach.score.cuts import phrases_of
    from coach.score.library import open_piece
    from coach.score.piece import phrase_numbered
    from coach.settings import load

    settings = load()
    hands = _hands(arguments, settings)
    piece = open_piece(arguments.piece)
    phrases: tuple[Phrase, ...] = phrases_of(piece)
    if arguments.metre is not None:
        from coach.score.phrases import find_phrases
        from coach.score.words import metre_lines

        phrases = find_phrases(piece, metre_lines(arguments.metre))
    way_out = arguments.way_out or settings.way_out
    options = Options(hands=arguments.hands, way_out=way_out, pedal=arguments.pedal)
    if arguments.choices not in ("keep", "ignore"):
        return _change(piece, arguments)
    part = _part(piece, phrases, arguments)
    if arguments.fix and (part is not piece or arguments.choices == "ignore"):
        other = "--choices ignore" if part is piece else "--plain" if arguments.plain else "--voices"
        raise CoachError(f"a choice is made for the whole piece as written: give --fix without {other}")
    kept: dict[str, Any] = {
        "printed_fingers": arguments.printed_fingers,
        "habits": arguments.habits,
        "part": part if part is not piece else None,
    }
    chosen = phrases if arguments.phrase is None else (phrase_numbered(phrases, arguments.phrase),)
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


def _hands(arguments: argparse.Namespace, settings: Settings) -> Hands:
    """The player's hands as set, and as the words of the command say otherwise."""
    from dataclasses import replace

    said: dict[str, Any] = {}
    if arguments.span is not None:
        said |= {"right_span_mm": arguments.span, "left_span_mm": arguments.span}
    for side in ("right", "left"):
        span = getattr(arguments, f"span_{side}")
        if span is not None:
            said[f"{side}_span_mm"] = span
    if arguments.comfort is not None:
        said["comfort"] = arguments.comfort
    if arguments.octave is not None:
        said["octave_mm"] = _octave(arguments.octave)
    return replace(settings, **said).hands


def _octave(text: str) -> float:
    """The width of an octave in mm.

    Raises:
        CoachError: it is no keyboard's.
    """
    figure = text.strip().lower().removesuffix("mm").strip()
    inches = figure.removesuffix("in").removesuffix('"').strip()
    try:
        width = float(figure) if inches == figure else float(inches) * MM_AN_INCH
    except ValueError:
        width = 0.0
    low, high = OCTAVES_MM
    if not low <= width <= high:
        raise CoachError(f'"{text}" is no width of an octave: give {low:.0f} to {high:.0f} mm, or inches as in 6.0in')
    return width


def _part(piece: Piece, phrases: Sequence[Phrase], arguments: argparse.Namespace) -> Piece:
    """What is to be planned of a piece, with a remark that says so."""
    from dataclasses import replace

    part = piece
    if arguments.plain:
        from coach.score.plain import plain_piece

        part = plain_piece(part, phrases)
        fewer = len(piece.notes) - len(part.notes)
        part = replace(part, remarks=(*part.remarks, f"plain chords: {fewer} note{'s' * (fewer != 1)} fewer"))
    if arguments.voices is not None:
        from coach.score.parts import some_voices

        part = some_voices(part, arguments.voices)
        part = replace(part, remarks=(*part.remarks, f"only {' and '.join(part.voices)}"))
    return part


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
