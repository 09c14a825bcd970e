"""Piano music on two staves, played freely by an invented pianist, and one recording: beside `parangonar`.

python tests/bench/piano_music.py [TAKES]
"""

from __future__ import annotations

import sys
import time
from collections import Counter, defaultdict
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "support"))

from expressive import Freedom, play
from note_matching import parangonar_matchers
from real_take import mozart

from coach.fingering.planner import Options, plan_piece
from coach.listening.expected import Expected, expect
from coach.listening.matching import match_take
from coach.score.library import open_piece
from coach.score.phrases import find_phrases

DATA = Path(__file__).parent.parent / "data" / "fingerings"

FREEDOMS = {"free": Freedom(), "very free": Freedom(drift=0.08, rubato=0.15)}


def main() -> None:
    takes = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    pieces: dict[str, Expected] = {}
    for path in sorted(DATA.glob("*.musicxml")):
        piece = open_piece(str(path))
        pieces[path.stem] = expect(plan_piece(piece, find_phrases(piece), options=Options(hands="as-written")).phrases)
    matchers = parangonar_matchers()
    for title, freedom in FREEDOMS.items():
        right: Counter[str] = Counter()
        both: Counter[str] = Counter()
        spent: dict[str, float] = defaultdict(float)
        worst = (1.0, "")
        for name, expected in pieces.items():
            for seed in range(takes):
                events, truth = play(expected, seed, freedom)
                true = {(press, place(expected, n)) for press, n in enumerate(truth) if n is not None}
                start = time.process_time()
                match = match_take(expected, events)
                spent["coach"] += time.process_time() - start
                found = {"coach": {(press, place(expected, n)) for n, press in match.played.items()}}
                for other, matcher in matchers.items():
                    start = time.process_time()
                    pairs = matcher(expected, match.strokes)
                    spent[other] += time.process_time() - start
                    found[other] = {(press, place(expected, n)) for n, press in pairs}
                for who, pairs in found.items():
                    right[who] += len(pairs & true)
                    both[who] += len(pairs) + len(true)
                f = 2 * len(found["coach"] & true) / (len(found["coach"]) + len(true))
                worst = min(worst, (f, f"{name}, take {seed}"))
        print(
            f"{title}, {takes} takes of each of {len(pieces)} pieces; "
            f"the worst for the coach {worst[0]:.4f}, {worst[1]}"
        )
        for who in both:
            print(f"  {who}: F {2 * right[who] / both[who]:.5f} in {spent[who]:.1f} s of processor time", flush=True)
    take = mozart()
    match = match_take(take.expected, take.events)
    notes = match.expected.notes
    found = {(notes[n].onset, notes[n].midi, press) for n, press in match.played.items()}
    print(f"a recording: {len(found & take.true)} of {len(take.true)} notes, {len(found - take.true)} wrong")


def place(expected: Expected, number: int) -> tuple[int, int]:
    return expected.notes[number].chord, expected.notes[number].midi


if __name__ == "__main__":
    main()
