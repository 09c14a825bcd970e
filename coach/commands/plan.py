"""coach plan: the chord table of each phrase, and why."""

from __future__ import annotations

import argparse


def add(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("piece", metavar="PIECE", help="a file, a piece on the shelf, or corpus:bach/bwv269")
    parser.add_argument("--phrase", type=int, metavar="N", help="only this phrase, counted from 1")
    parser.add_argument("--hands", choices=("planned", "as-written"), default="planned", help="who takes which note")
    parser.add_argument("--span", type=float, metavar="MM", help="span of the open hand, thumb to little finger")
    parser.add_argument(
        "--way-out", choices=("raise", "roll", "omit"), default="raise", help="what to do with a note out of reach"
    )
    parser.add_argument("--json", action="store_true", help="print the plan as JSON")


def run(arguments: argparse.Namespace) -> int:
    from coach.fingering.hand import Hands
    from coach.fingering.planner import Options, plan_piece
    from coach.score.library import open_piece
    from coach.score.phrases import find_phrases
    from coach.score.piece import phrase_numbered

    hands = Hands() if arguments.span is None else Hands.of_span(arguments.span)
    piece = open_piece(arguments.piece)
    phrases = find_phrases(piece)
    if arguments.phrase is not None:
        phrases = (phrase_numbered(phrases, arguments.phrase),)
    plan = plan_piece(piece, phrases, hands, Options(hands=arguments.hands, way_out=arguments.way_out))
    if arguments.json:
        import json

        print(json.dumps(plan.to_json(), ensure_ascii=False))
        return 0
    from coach.paper.cells import first_stanza
    from coach.paper.plan_text import plan_text

    words = {phrase.number: first_stanza(piece, phrase) for phrase in plan.phrases}
    print(plan_text(plan, words))
    return 0
