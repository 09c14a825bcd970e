"""How long a plan takes to come back after the player has chosen something, for phrases of twelve chords.

Every choice of a finger, a distribution, a lift and a join in the phrases is made once, as in the app: the phrase is
planned, and then planned again around the choice, reasons included. The baseline, measured in the same run, is planning
the same phrase from the beginning with nothing remembered of it.

python tests/bench/bench_replanning.py [--phrases N]
"""

from __future__ import annotations

import argparse
import random
import time
from collections.abc import Iterator

import numpy as np

from coach.errors import CoachError
from coach.fingering.choices import Choices, Fix, FixedLeaving, FixedSharing, of_note
from coach.fingering.fixing import fix
from coach.fingering.hand import Hands
from coach.fingering.plan import SIDES
from coach.fingering.planner import Options, plan_phrase
from coach.fingering.search import kept_search
from coach.score.chorales import catalogue
from coach.score.library import open_piece
from coach.score.phrases import find_phrases
from coach.score.piece import Chord, Phrase, Piece, chords_of

CHORDS = 12


def passages(most: int) -> Iterator[tuple[Piece, Phrase, tuple[Chord, ...]]]:
    """Phrases of exactly twelve chords."""
    found = 0
    for chorale in catalogue():
        piece = open_piece(chorale.name)
        for phrase in find_phrases(piece):
            chords = chords_of(piece, phrase)
            if len(chords) == CHORDS and found < most:
                found += 1
                yield piece, phrase, chords
        if found == most:
            return


def wishes(chords: tuple[Chord, ...]) -> list[Fix]:
    """Everything that can be chosen in a phrase, possible or not."""
    found: list[Fix] = []
    for chord in chords:
        found += [of_note(note, finger) for note in chord.struck for finger in range(1, 6)]
        found += [FixedSharing(chord.onset, right, len(chord.notes) - right) for right in range(1, len(chord.notes))]
        found += [FixedLeaving(chord.onset, side, after) for side in SIDES for after in ("lift", "join")]  # type: ignore[arg-type]
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--phrases", type=int, default=12, metavar="N")
    parser.add_argument("--choices", type=int, default=60, metavar="N", help="choices tried in each phrase")
    arguments = parser.parse_args()
    fresh: list[float] = []
    again: list[float] = []
    refused: list[float] = []
    order = random.Random(12)
    for piece, phrase, chords in passages(arguments.phrases):
        for _ in range(3):
            kept_search.cache_clear()
            start = time.perf_counter()
            plan_phrase(phrase, chords)
            fresh.append(time.perf_counter() - start)
        for wish in order.sample(wishes(chords), arguments.choices):
            start = time.perf_counter()
            try:
                choices = fix(piece, [phrase], Choices(), wish)
                plan_phrase(phrase, chords, Hands(), Options(choices=choices.fixes))
            except CoachError:
                refused.append(time.perf_counter() - start)
            else:
                again.append(time.perf_counter() - start)
    print(f"{len(fresh) // 3} phrases of {CHORDS} chords, {len(again)} choices honoured, {len(refused)} refused")
    for name, times in (
        ("from the beginning", fresh),
        ("around a choice", again),
        ("refusing, with the reason", refused),
    ):
        median, late = np.percentile(times, [50, 95]) * 1000
        print(f"  {name:26} median {median:6.1f} ms   95th percentile {late:6.1f} ms")
    ratio = np.percentile(again, 95) / np.percentile(fresh, 50)
    print(f"around a choice at the 95th percentile: {ratio:.2f} of planning from the beginning (median)")


if __name__ == "__main__":
    main()
