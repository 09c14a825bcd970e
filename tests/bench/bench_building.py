"""Learners who build chords key by key: how often another chord is taken for theirs, over corpus chorales.

python tests/bench/bench_building.py [TAKES]
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "support"))

from building import build
from simulated import chorale_plan

from coach.listening.expected import expect

CHORALES = ("bach/bwv269", "bach/bwv66.6", "bach/bwv305", "bach/bwv352", "bach/bwv10.7", "bach/bwv153.5", "bach/bwv430")


def main() -> None:
    takes = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    phrases = [phrase for name in CHORALES for phrase in chorale_plan(name).phrases]
    found = [build(expect([phrase]), seed) for phrase in phrases for seed in range(takes)]
    presses = sum(one.presses for one in found)
    print(f"{len(found)} takes of {len(phrases)} phrases, {presses} presses")
    print(f"  another chord shown right after {sum(one.astray for one in found) / presses:.4f} of the presses")
    print(f"  takes in which that happened: {sum(one.astray > 0 for one in found) / len(found):.3f}")
    print(f"  put down to another chord at the end: {sum(one.wrong for one in found) / presses:.4f}")


if __name__ == "__main__":
    main()
