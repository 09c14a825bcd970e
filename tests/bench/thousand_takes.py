"""A thousand takes of corpus chorales by the simulated pianist: how well they are heard, and beside `parangonar`.

python tests/bench/thousand_takes.py [TAKES [CHORALES]]
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "support"))

from note_matching import f_measure, parangonar_matchers
from scored import Score
from simulated import EVERYTHING, FIVE_PER_CENT, HANDS, MENDING, chorale_plan, manner

from coach.listening.expected import expect
from coach.listening.matching import match_take
from coach.listening.player import Mistakes, perform

COMPARED = 100
"""Takes that `parangonar` hears too."""


def chorales(count: int) -> list[str]:
    """Names of chorales, spread over the 371 of the corpus."""
    from music21 import corpus

    paths = [str(score.sourcePath) for score in corpus.search("bach", "composer", fileExtensions=("mxl", "xml"))]
    names = sorted({path.removesuffix(".mxl").removesuffix(".xml") for path in paths if "/bwv" in path})
    step = max(len(names) // count, 1)
    return names[::step][:count]


def main() -> None:
    takes = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    plans = {}
    for name in chorales(int(sys.argv[2]) if len(sys.argv) > 2 else 100):
        try:
            plans[name] = chorale_plan(name)
        except Exception as error:
            print(f"left out {name}: {error}")
    names = list(plans)
    kinds: dict[str, tuple[Mistakes | None, float]] = {
        "no mistakes": (None, 0.0),
        "5 % note errors": (FIVE_PER_CENT, 0.0),
        "5 % note errors, each chord found before it is struck": (FIVE_PER_CENT, 0.5),
        "5 % of the chords mended after a slip": (MENDING, 0.0),
        "lifts and holds": (HANDS, 0.0),
        "everything, stumbles and new beginnings too": (EVERYTHING, 0.0),
    }
    print(f"{takes} takes each, of {len(names)} chorales")
    for title, (mistakes, halting) in kinds.items():
        score = Score()
        start = time.process_time()
        for seed in range(takes):
            expected = expect(plans[names[seed % len(names)]].phrases)
            score.add(expected, perform(expected, replace(manner(seed), halting=halting), mistakes, seed))
        right = score.current[True] / score.current.total()
        print(f"\n{title} ({time.process_time() - start:.0f} s)")
        print(f"  notes: {score.notes}")
        print(f"  lifts: {score.lifts}")
        print(f"  holds let go: {score.holds}")
        print(f"  current chord right after {right:.4f} of the presses; verdicts {dict(score.words)}", flush=True)
    compare(plans)


def compare(plans: dict[str, object]) -> None:
    """The same takes with 5 % note errors, heard by both."""
    matchers = parangonar_matchers()
    mine, theirs = 0.0, dict.fromkeys(matchers, 0.0)
    counted = dict.fromkeys(matchers, 0)
    for seed, name in enumerate((list(plans) * COMPARED)[:COMPARED]):
        expected = expect(chorale_plan(name).phrases)
        performance = perform(expected, manner(seed), FIVE_PER_CENT, seed)
        match = match_take(expected, performance.events)
        true = set(performance.truth.played.items())
        mine += f_measure(set(match.played.items()), true)
        for title, matcher in matchers.items():
            try:
                theirs[title] += f_measure(matcher(expected, match.strokes), true)
                counted[title] += 1
            except Exception as error:
                print(f"parangonar {title} gave up on take {seed}: {error!r}")
    print(f"\nmean F over {COMPARED} takes with 5 % note errors: {mine / COMPARED:.5f}")
    for title, total in theirs.items():
        print(f"  parangonar {title}: {total / max(counted[title], 1):.5f} over {counted[title]}")


if __name__ == "__main__":
    main()
