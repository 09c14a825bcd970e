"""How many notes find their own voice again: python tests/bench/bench_voices.py [STEP]

Merges chorales of music21's corpus into two staves without voices, and onto one, separates the voices again and prints
the share of notes that land in their own one, and the chorales that come apart worst.
"""

from __future__ import annotations

import os
import sys
import tempfile
from collections import Counter

from coach.score.chorales import catalogue
from coach.score.library import open_piece
from coach.score.page import Mark
from coach.score.separation import separate


def main() -> None:
    os.environ["COACH_HOME"] = tempfile.mkdtemp()
    step = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    names = sorted({chorale.name for chorale in catalogue()})[::step]
    for staves, label in ((2, "two staves"), (1, "one staff")):
        right = total = 0
        shares = []
        for name in names:
            piece = open_piece(name)
            if len(piece.voices) != 4:
                continue
            # The order of the notes must not give away who sings which note of a unison.
            notes = sorted(piece.notes, key=lambda note: (note.onset, note.midi, note.duration))
            own = [piece.voices.index(note.voice) for note in notes]
            marks = [
                Mark(0, 1 + (voice > 1 and staves == 2), "", note.onset, note.duration, note.midi, note.pitch)
                for note, voice in zip(notes, own, strict=True)
            ]
            given = separate(marks, 4)
            keys = [(mark.onset, mark.duration, mark.midi) for mark in marks]
            pairs = [Counter(zip(keys, voices, strict=True)) for voices in (own, given)]
            hits = sum((pairs[0] & pairs[1]).values())
            right, total = right + hits, total + len(marks)
            shares.append((hits / len(marks), name))
        worst = ", ".join(f"{name.removeprefix('corpus:bach/')} {share:.1%}" for share, name in sorted(shares)[:3])
        print(f"{label}: {right / total:.2%} of {total} notes in {len(shares)} chorales land in their own voice")
        print(f"  {sum(share == 1 for share, _ in shares)} chorales come apart entirely right; worst: {worst}")


if __name__ == "__main__":
    main()
