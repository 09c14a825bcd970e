"""Planning beside reading: all chorales planned against music21's parsing of the same, in one run; cost by length.

python tests/bench/bench_planning.py [--first N]
"""

from __future__ import annotations

import argparse
import gc
import random
import sys
import time
from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))

from passages import passage

from coach.fingering.hand import Hands
from coach.fingering.planner import plan_phrase, plan_piece
from coach.fingering.search import kept_search
from coach.fingering.weighing import hand_effort
from coach.score.chorales import catalogue
from coach.score.library import find_source, open_piece
from coach.score.phrases import find_phrases
from coach.score.piece import SATB, Note, Phrase, Piece, chords_of

LENGTHS = (10, 30, 100, 300, 1000)

TURN = 20
"""Pieces planned, then parsed, in turn."""


def seconds(work: Callable[[], object]) -> float:
    """Processor time of a piece of work, which other programs do not lengthen."""
    start = time.process_time()
    work()
    return time.process_time() - start


def forget() -> None:
    """Forget every grip and change that was worked out: each measurement starts cold."""
    hand_effort.cache_clear()
    kept_search.cache_clear()


def against_parsing(first: int | None) -> None:
    from music21 import converter

    names = [chorale.name for chorale in catalogue()][:first]
    paths = [find_source(name).path for name in names]

    def parse(path: Path) -> None:
        converter.parse(path, forceSource=True, storePickle=False)

    def plan(piece: Piece, phrases: Sequence[Phrase]) -> None:
        plan_piece(piece, phrases, Hands())

    # The first score that music21 reads costs more than it weighs.
    parse(paths[0])
    forget()
    planning = parsing = 0.0
    # By turns, so that a slow minute of the machine falls on both; and one piece in memory at a time, as in use.
    for start in range(0, len(names), TURN):
        gc.collect()
        for name in names[start : start + TURN]:
            piece = open_piece(name)
            phrases = find_phrases(piece)
            planning += seconds(partial(plan, piece, phrases))
        gc.collect()
        for path in paths[start : start + TURN]:
            parsing += seconds(partial(parse, path))
    print(f"{len(names)} chorales: planned in {planning:.1f} s, parsed by music21 in {parsing:.1f} s")
    print(f"planning : parsing = {planning / parsing:.2f}")


def random_chords(count: int, seed: int = 1) -> list[Note]:
    """Four voices that wander by steps, each within its range, some of their notes held over."""
    draw = random.Random(seed)
    names = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
    notes = []
    for voice, (low, high) in zip(SATB, ((67, 79), (60, 70), (53, 64), (43, 57)), strict=True):
        key, onset = (low + high) // 2, 0
        while onset < count:
            length = min(draw.choice((1, 1, 1, 2)), count - onset)
            key = max(low, min(high, key + draw.choice((-4, -2, -1, 0, 1, 2, 3))))
            pitch = f"{names[key % 12]}{key // 12 - 1}"
            notes.append(Note(voice, Fraction(onset), Fraction(length), key, pitch))
            onset += length
    return notes


def by_length() -> None:
    """One phrase of so many chords, nothing remembered, the median of three."""
    cost = {}
    for length in LENGTHS:
        piece = passage(random_chords(length))
        phrase = Phrase(1, Fraction(0), piece.end, "end of the piece")
        chords = chords_of(piece, phrase)
        times = []
        for _ in range(3):
            forget()
            gc.collect()
            times.append(seconds(lambda phrase=phrase, chords=chords: plan_phrase(phrase, chords, Hands())))
        cost[length] = sorted(times)[1] / len(chords) * 1000
    print("one phrase of so many chords, milliseconds a chord, and against the phrase of 100:")
    for length, each in cost.items():
        print(f"{length:6d} {each:8.2f} {each / cost[100]:8.2f}")
    print("(Short phrases meet every grip for the first time, long ones meet most again.)")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--first", type=int, help="only the first so many chorales")
    arguments = parser.parse_args()
    by_length()
    against_parsing(arguments.first)


if __name__ == "__main__":
    main()
