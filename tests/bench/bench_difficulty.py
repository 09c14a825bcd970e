"""Holds the difficulty of pieces against facts from outside the planner.

Over corpus chorales: rank correlation with accidentals (notes outside the key signature) and with decorations (notes
that the plain chords leave out), both counted from the page alone. Over the studies op. 100 by Burgmüller, whose title
page calls them "faciles et progressives", played as written: rank correlation with their number.

python tests/bench/bench_difficulty.py [--first N] [--span MM]
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from coach.fingering.difficulty import Difficulty, difficulty
from coach.fingering.hand import Hands
from coach.fingering.planner import Options, plan_piece
from coach.score.chorales import catalogue
from coach.score.library import open_piece
from coach.score.phrases import find_phrases
from coach.score.piece import Piece
from coach.score.plain import plain_piece

STUDIES = Path(__file__).parents[1] / "data" / "fingerings"


def rank_correlation(one: Sequence[float], other: Sequence[float]) -> float:
    """Spearman's rho, equal values sharing their mean rank."""
    return float(np.corrcoef(_ranks(one), _ranks(other))[0, 1])


def _ranks(values: Sequence[float]) -> np.ndarray:
    order = np.argsort(values, kind="stable")
    ranks = np.empty(len(values))
    ranks[order] = np.arange(len(values))
    array = np.asarray(values)
    return np.array([ranks[array == value].mean() for value in array])


def accidentals(piece: Piece) -> float:
    """Notes outside the key signature, a quarter note of music."""
    sharps = {"FCGDAEB"[place]: "#" for place in range(max(piece.fifths, 0))}
    flats = {"BEADGCF"[place]: "b" for place in range(max(-piece.fifths, 0))}
    signature = sharps | flats
    spelled = [re.fullmatch(r"([A-G])([#b]*)-?\d+", note.pitch) for note in piece.notes]
    strange = sum(found is not None and found[2] != signature.get(found[1], "") for found in spelled)
    return strange / float(piece.end)


def decorations(piece: Piece) -> float:
    """Notes that the plain chords leave out, a quarter note of music."""
    return (len(piece.notes) - len(plain_piece(piece).notes)) / float(piece.end)


def graded(piece: Piece, hands: Hands, options: Options | None = None) -> Difficulty:
    """At one tempo for all, so that what a source prints as tempo does not decide."""
    return difficulty(plan_piece(piece, find_phrases(replace(piece, cuts=None)), hands, options))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--first", type=int, default=371, metavar="N", help="only the first N chorales")
    parser.add_argument("--span", type=float, default=208.0, metavar="MM")
    arguments = parser.parse_args()
    hands = Hands.of_span(arguments.span)
    found: list[tuple[Difficulty, float, float]] = []
    for chorale in catalogue()[: arguments.first]:
        piece = open_piece(chorale.name)
        found.append((graded(piece, hands), accidentals(piece), decorations(piece)))
    numbers = [one.number for one, _, _ in found]
    by_hands = [one.number - one.density for one, _, _ in found]
    print(f"{len(found)} chorales, a hand of {arguments.span:g} mm, one tempo; Spearman's rho with difficulty,")
    print("and with what is left of it when the keys struck (density) are taken off:")
    for name, facts in (("accidentals", [f for _, f, _ in found]), ("decorations", [f for _, _, f in found])):
        print(f"  {name:12} {rank_correlation(numbers, facts):+.2f}   {rank_correlation(by_hands, facts):+.2f}")
    studies = sorted(STUDIES.glob("burgmuller-op100-*.musicxml"), key=lambda path: int(path.stem.rsplit("-", 1)[1]))
    order = [int(path.stem.rsplit("-", 1)[1]) for path in studies]
    efforts = [graded(open_piece(str(path)), hands, Options(hands="as-written")).number for path in studies]
    said = ", ".join(f"{number}: {effort:.1f}" for number, effort in zip(order, efforts, strict=True))
    print(f"Burgmüller op. 100 ({said}): rho with the number {rank_correlation(order, efforts):+.2f}")


if __name__ == "__main__":
    main()
