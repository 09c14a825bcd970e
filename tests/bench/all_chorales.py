"""Plans all 371 chorales, has the checker look at every plan, and counts what the plans do.

python tests/bench/all_chorales.py [--span MM] [--way-out raise|roll|omit] [--first N]
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))

from plan_checker import faults
from ruler import Player

from coach.errors import CoachError
from coach.fingering.hand import Hands
from coach.fingering.plan import SIDES, Plan, PlannedChord
from coach.fingering.planner import Options, plan_piece
from coach.score.chorales import catalogue
from coach.score.library import open_piece
from coach.score.phrases import find_phrases
from coach.score.piece import chords_of


def as_printed(chord: tuple[int, ...], player: Player) -> set[str]:
    """What the page alone asks of two hands, of four notes that sound together.

    Args:
        chord: Keys from high to low.
        player: The hands.
    """
    found = set()
    if chord[2] - chord[3] >= 12:
        found.add("an octave or more between tenor and bass")
    if not any(
        all(
            player.apart_mm(part[0], part[-1]) <= player.reach_mm(side)
            for side, part in (("right", chord[:cut]), ("left", chord[cut:]))
            if part
        )
        for cut in range(1, 4)
    ):
        found.add("out of reach of two hands as written")
    return found


def doings(plan: Plan) -> Iterator[str]:
    """What the plan does, once for each time."""
    for phrase in plan.phrases:
        gone: set[tuple[str, float]] = set()
        for before, chord in zip([None, *phrase.chords[:-1]], phrase.chords, strict=True):
            if len(chord.notes) == 4:
                yield f"{chord.distribution} of four notes" if all(note.hand for note in chord.notes) else "incomplete"
            if before and before.distribution != chord.distribution and len(before.notes) == len(chord.notes):
                yield "change of distribution"
            yield from _ways_out(chord, gone)
            for side in SIDES:
                part = chord.part(side)
                if part is not None:
                    yield f"{side} {part.after}"
        for side in SIDES:
            parts = [chord.part(side) for chord in phrase.chords]
            yield from (f"{side} group" for _ in {part.group for part in parts if part})


def _ways_out(chord: PlannedChord, gone: set[tuple[str, float]]) -> Iterator[str]:
    for note in chord.notes:
        if note.struck and note.midi != note.written_midi:
            yield "raise"
        if note.hand is None and (note.voice, note.onset) not in gone:
            gone.add((note.voice, note.onset))
            yield "omit" if note.struck else "let go"
    yield from ("roll" for side in SIDES if any(note.rolled for note in chord.played_by(side)))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--span", type=float, default=208.0)
    parser.add_argument("--way-out", choices=("raise", "roll", "omit"), default="raise")
    parser.add_argument("--first", type=int, help="only the first so many")
    arguments = parser.parse_args()
    player = Player(arguments.span, arguments.span)
    counts: Counter[str] = Counter()
    found = 0
    started = time.perf_counter()
    names = [chorale.name for chorale in catalogue()][: arguments.first]
    for name in names:
        try:
            piece = open_piece(name)
            phrases = find_phrases(piece)
            plan = plan_piece(piece, phrases, Hands.of_span(arguments.span), Options(way_out=arguments.way_out))
        except CoachError as error:
            print(f"{name}: no plan: {error}")
            found += 1
            continue
        for fault in faults(plan.to_json(), piece.notes):
            print(f"{name}: {fault}")
            found += 1
        counts.update(doings(plan))
        counts["phrases"] += len(plan.phrases)
        for phrase in phrases:
            for chord in chords_of(piece, phrase):
                counts["chords"] += 1
                if len(chord.notes) == 4:
                    counts["four-note chords"] += 1
                    counts.update(as_printed(tuple(note.midi for note in chord.notes), player))
    print(f"{len(names)} chorales, span {arguments.span:g} mm, in {time.perf_counter() - started:.0f} s")
    _table(counts)
    print("no faults" if not found else f"{found} faults")
    return 1 if found else 0


def _table(counts: Counter[str]) -> None:
    chords = counts["four-note chords"]
    print(f"{counts['phrases']} phrases, {counts['chords']} chords, {chords} of them of four notes")
    for text in ("an octave or more between tenor and bass", "out of reach of two hands as written"):
        print(f"{counts[text]:7d}  {counts[text] / chords:7.2%}  {text}")
    for text, count in counts.most_common():
        if text.endswith("of four notes") or text == "incomplete":
            print(f"{count:7d}  {count / chords:7.2%}  {text}")
    for text in ("raise", "roll", "omit", "let go", "change of distribution"):
        print(f"{counts[text]:7d}  {counts[text] / counts['chords']:7.2%}  {text}")
    for side in SIDES:
        played = sum(counts[f"{side} {after}"] for after in ("join", "restrike", "lift", "end"))
        parts = ", ".join(
            f"{after} {counts[f'{side} {after}'] / played:.1%}" for after in ("join", "restrike", "lift", "end")
        )
        print(f"{side} hand: {parts}; {played / counts[f'{side} group']:.2f} chords to a group")


if __name__ == "__main__":
    sys.exit(main())
