"""Damages files of every format for as long as one likes: python tests/bench/fuzz_readings.py [MUTATIONS [SEED]]

The same as tests/score/test_mutations.py, with any seed and with whole files: three hymns, three chorales as MusicXML,
archive, kern, MEI. Prints how many were read and refused, and every file that gave a traceback.
"""

from __future__ import annotations

import random
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "support"))

from engraving import as_kern, as_mei, closed_score
from mutations import mutated

from coach.errors import CoachError
from coach.score.library import corpus_file
from coach.score.page import complete
from coach.score.phrases import find_phrases
from coach.score.reading import read_page, read_score
from coach.score.voices import piece_of

HYMNS = Path(__file__).parents[1] / "score" / "data" / "hymns"


def sources() -> list[bytes]:
    found = [path.read_bytes() for path in sorted(HYMNS.glob("*.abc"))[:3]]
    for name in ("bach/bwv352", "bach/bwv403", "bach/bwv281"):
        data = corpus_file(f"corpus:{name}").read_bytes()
        chorale = read_score(data, name, name)
        found += [data, closed_score(chorale).encode(), as_kern(chorale).encode(), as_mei(chorale)]
    return [*found, corpus_file("corpus:bach/bwv281.krn").read_bytes()]


def main() -> int:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 2_000
    chance = random.Random(int(sys.argv[2]) if len(sys.argv) > 2 else 1)
    files = sources()
    outcomes: Counter[str] = Counter()
    slowest = 0.0
    for number in range(count):
        data = mutated(files[number % len(files)], chance)
        start = time.perf_counter()
        try:
            page = read_page(data, "damaged")
            complete(page, "damaged")
            find_phrases(piece_of(page, "damaged", "damaged"))
            outcomes["read"] += 1
        except CoachError:
            outcomes["refused"] += 1
        except Exception:
            outcomes["traceback"] += 1
            kept = Path(tempfile.gettempdir()) / f"damaged-{number}.bin"
            kept.write_bytes(data)
            print(f"{kept}:\n{traceback.format_exc()}")
        slowest = max(slowest, time.perf_counter() - start)
    print(", ".join(f"{count} {what}" for what, count in outcomes.items()), f"(the slowest took {slowest:.2f} s)")
    return 1 if outcomes["traceback"] else 0


if __name__ == "__main__":
    sys.exit(main())
