"""How well phrases are found without the signs that mark them: python tests/bench/bench_phrases.py [STEP]

- Chorales of music21's corpus with their fermatas hidden, with words and without: the fermatas are the phrase ends.
  The weights of the signs were fitted to the half of them that `fitted` picks; figures are given for both halves.
- Folk songs of the Essen collection (in music21's corpus), whose lines are phrases; those with an index divisible by 25
  were fitted to, the measured ones have remainder 7.
- The sixteen hymns of tests/score/data/hymns against their poetic metres, and twenty hymns from memory (fitted).
"""

from __future__ import annotations

import os
import random
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

from coach.errors import CoachError
from coach.score.chorales import catalogue
from coach.score.formats.abc import _TuneReader, read_abc
from coach.score.formats.abc_file import decoded, tunes_of
from coach.score.library import corpus_folder, open_piece
from coach.score.page import complete
from coach.score.phrases import find_phrases
from coach.score.piece import Piece
from coach.score.reading import read_score
from coach.score.voices import piece_of
from coach.score.words import melody

DATA = Path(__file__).parents[1] / "score" / "data"
Cut = set[Fraction]


def fitted(names: list[str]) -> tuple[list[str], list[str]]:
    """The chorales that weights were fitted to, and the others."""
    shuffled = sorted(name.removeprefix("corpus:") for name in names)
    random.seed(1)
    random.shuffle(shuffled)
    return shuffled[:175], shuffled[175:]


def without_signs(piece: Piece, *, words: bool) -> Piece:
    notes = tuple(replace(note, fermata=False, words=note.words if words else ()) for note in piece.notes)
    return replace(piece, notes=notes, cuts=None)


def chorales(names: list[str], *, words: bool) -> Iterator[tuple[Piece, Cut]]:
    for name in names:
        piece = open_piece(f"corpus:{name}")
        ends = {after.note.onset for before, after in pairwise(melody(piece)) if before.note.fermata}
        if len(ends) >= 3:
            yield without_signs(piece, words=words), ends


def folk_songs(remainder: int) -> Iterator[tuple[Piece, Cut]]:
    """Melodies whose lines of code are phrases."""
    number = 0
    for path in sorted((corpus_folder() / "essenFolksong").glob("*.abc")):
        if "test" in path.name:
            continue
        for tune in tunes_of(decoded(path.read_bytes()), path.name):
            number += 1
            if number % 25 != remainder:
                continue
            reader = _TuneReader(tune, path.name)
            counts: list[int] = []
            try:
                for line in tune.lines:
                    reader.line(line)
                    count = sum(len(voice.unsung) for voice in reader.voices.values())
                    if not counts or count != counts[-1]:
                        counts.append(count)
                page = reader.page()
                complete(page, path.name)
                piece = piece_of(page, tune.title, path.name)
            except CoachError:
                continue
            marks = sorted(page.marks, key=lambda mark: mark.onset)
            onsets = {note.onset for note in piece.notes}
            ends = {marks[count].onset for count in counts[:-1] if 0 < count < len(marks)} & onsets
            if len(marks) == counts[-1] and len(ends) > 1:
                yield piece, ends


def report(label: str, pieces: Iterator[tuple[Piece, Cut]]) -> None:
    both = found = wanted = exact = count = 0
    for piece, ends in pieces:
        cuts = {phrase.onset for phrase in find_phrases(piece)[1:]}
        both, found, wanted = both + len(cuts & ends), found + len(cuts), wanted + len(ends)
        exact, count = exact + (cuts == ends), count + 1
    precision, recall = both / found, both / wanted
    score = 2 * precision * recall / (precision + recall)
    print(
        f"{label:44} precision {precision:.1%}, recall {recall:.1%}, F {score:.1%}; "
        f"{exact / count:.1%} of {count} cut exactly so"
    )


def main() -> None:
    os.environ["COACH_HOME"] = tempfile.mkdtemp()
    step = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    for half, label in zip(fitted(sorted({c.name for c in catalogue()})), ("fitted", "not fitted"), strict=True):
        for words in (True, False):
            report(f"chorales {'with' if words else 'without'} words, {label}", chorales(half[::step], words=words))
    report("folk songs, melody only, not fitted", folk_songs(7))
    right = 0
    rows = [row.split("\t") for row in (DATA / "hymns" / "metres.tsv").read_text("utf-8").splitlines()]
    for name, metre in rows:
        piece = read_score((DATA / "hymns" / name).read_bytes(), name, name)
        right += len(find_phrases(piece)) == len(metre.split())
    print(f"hymns of the Open Hymnal Project: {right} of {len(rows)} have one phrase a line")
    tunes = tunes_of((DATA / "from_memory.abc").read_text("utf-8"), "from memory")
    right = 0
    for tune in tunes:
        lines = next(line.text[2:].split(".") for line in tune.lines if line.text.startswith("N:"))
        right += len(find_phrases(piece_of(read_abc(tune, tune.title), tune.title, tune.title))) == len(lines)
    print(f"hymns from memory, fitted: {right} of {len(tunes)} have one phrase a line")


if __name__ == "__main__":
    main()
