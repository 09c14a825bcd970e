"""Reading MEI (Music Encoding Initiative, Guidelines 5.0, common music notation; elements and attributes are named)."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import pytest
from engraving import as_mei

from coach.errors import CoachError
from coach.score.piece import Piece
from coach.score.reading import read_page, read_score


def mei(layers: str, staffs: str = '<staffDef n="1" lines="5"/>', after: str = "") -> Piece:
    return read_score(
        (
            '<mei xmlns="http://www.music-encoding.org/ns/mei"><music><body><mdiv><score>'
            f'<scoreDef key.sig="1s" meter.count="3" meter.unit="4"><staffGrp>{staffs}</staffGrp></scoreDef>'
            f'<section><measure n="1"><staff n="1">{layers}</staff>{after}</measure></section>'
            "</score></mdiv></body></music></mei>"
        ).encode(),
        "test.mei",
        "test",
    )


def test_mei_in_small() -> None:
    """MEI 5.0, common music notation: layers, chords, beams, tuplets, dots, accidentals of the signature, verses."""
    piece = mei(
        '<layer n="1"><beam><note pname="f" oct="5" dur="8" dots="1">'
        '<verse n="1"><syl con="d" wordpos="i">Ho</syl></verse></note><note pname="g" oct="5" dur="16"/></beam>'
        '<chord dur="4"><note pname="d" oct="5"/><note pname="b" oct="4"/></chord>'
        '<tuplet num="3" numbase="2"><note pname="a" oct="4" dur="8"/><note pname="g" oct="4" dur="8"/>'
        '<note pname="f" oct="4" dur="8" accid="n"/></tuplet></layer>'
        '<layer n="2"><note grace="acc" pname="c" oct="4" dur="8"/><note pname="c" oct="4" dur="2" dots="1"/></layer>'
    )
    assert [(n.onset, n.duration, n.pitch) for n in piece.notes] == [
        (0, Fraction(3, 4), "F#5"),
        (0, 3, "C4"),
        (Fraction(3, 4), Fraction(1, 4), "G5"),
        (1, 1, "D5"),
        (1, 1, "B4"),
        (2, Fraction(1, 3), "A4"),
        (Fraction(7, 3), Fraction(1, 3), "G4"),
        (Fraction(8, 3), Fraction(1, 3), "F4"),
    ]
    assert piece.notes[0].words == ("Ho-",)
    assert piece.remarks == ("left out 1 grace note",)


def test_of_several_readings_in_mei_one_is_played() -> None:
    """MEI Guidelines 5.0, editorial markup: what stands in `choice` or `app` is alternatives for one place."""

    def note(pitch: str) -> str:
        return f'<note pname="{pitch}" oct="5" dur="4"/>'

    piece = mei(
        f'<layer n="1"><choice><sic>{note("c")}</sic><corr>{note("d")}</corr></choice>'
        f"<app><rdg>{note('e')}</rdg><rdg>{note('f')}</rdg></app>"
        f"<app><rdg>{note('a')}</rdg><lem>{note('g')}</lem></app></layer>"
    )
    assert [(n.onset, n.pitch) for n in piece.notes] == [(0, "D5"), (1, "E5"), (2, "G5")]
    assert piece.remarks == ("took the editor's reading, or the first of several, in bar 1",)
    alone = mei(
        f'<layer n="1"><supplied>{note("d")}</supplied><del>{note("c")}</del>'
        f"<orig>{note('e')}</orig>{note('g')}</layer>"
    )
    assert [n.pitch for n in alone.notes] == ["D5", "E5", "G5"]
    assert alone.remarks == ()


@pytest.mark.parametrize(
    ("keys", "fifths"),
    [
        (('key.sig="2s" trans.semi="-2" trans.diat="-1"',), 0),
        (('key.sig="2s" trans.semi="-2"',), 0),
        (('key.sig="0" trans.semi="-12"',), 0),
        (('key.sig="0" trans.semi="-7"', 'key.sig="3f"', 'key.sig="3f"'), -3),
    ],
    ids=["a clarinet in B flat", "without steps", "an octave", "a horn without signature over strings"],
)
def test_mei_of_transposing_staves_is_in_the_key_that_sounds(keys: tuple[str, ...], fifths: int) -> None:
    """MEI 5, att.transposition: what is added to the written pitch to make it sound; key.sig is as written."""
    staffs = "".join(f'<staffDef n="{number}" {key}/>' for number, key in enumerate(keys, 1))
    body = "".join(
        f'<staff n="{number}"><layer n="1"><note pname="d" oct="{6 - number}" dur="1"/></layer></staff>'
        for number in range(1, len(keys) + 1)
    )
    data = (
        '<mei xmlns="http://www.music-encoding.org/ns/mei"><music><body><mdiv><score>'
        f'<scoreDef meter.count="4" meter.unit="4"><staffGrp>{staffs}</staffGrp></scoreDef>'
        f'<section><measure n="1">{body}</measure></section></score></mdiv></body></music></mei>'
    )
    assert read_score(data.encode(), "t.mei", "t").fifths == fifths


def test_signs_of_mei_that_point_at_notes() -> None:
    notes = "".join(f'<note xml:id="n{place}" pname="c" oct="5" dur="4"/>' for place in range(3))
    signs = (
        '<tie startid="#n0" endid="#n1"/><fermata startid="#n2"/><fing startid="#n2">4</fing>'
        '<breath staff="1" tstamp="1"/><tempo tstamp="1" mm="96" mm.unit="4">Allegro</tempo>'
    )
    piece = mei(f"<layer>{notes}</layer>", after=signs)
    assert [(n.onset, n.duration, n.fermata, n.finger, n.breath) for n in piece.notes] == [
        (0, 2, False, None, True),
        (2, 1, True, 4, False),
    ]
    assert piece.quarter_bpm == 96


def test_a_tuplet_that_is_marked_from_note_to_note() -> None:
    notes = "".join(f'<note xml:id="n{place}" pname="c" oct="5" dur="8"/>' for place in range(3))
    span = '<tupletSpan startid="#n0" endid="#n2" num="3" numbase="2"/>'
    rest = '<note pname="d" oct="5" dur="2"/>'
    assert [n.duration for n in mei(f"<layer>{notes}{rest}</layer>", after=span).notes] == [Fraction(1, 3)] * 3 + [2]


def test_mei_agrees_with_partitura(corpus: Callable[[str], Piece], tmp_path: Path) -> None:
    """`partitura` reads MEI independently; it does not join notes by the attribute `tie`, so printed notes are held
    against printed notes."""
    import partitura

    chorale = corpus("bach/bwv352")
    path = tmp_path / "chorale.mei"
    path.write_bytes(as_mei(chorale))
    expected = Counter(
        (round(float(part.quarter_map(note.start.t)), 3), note.midi_pitch)
        for part in partitura.load_mei(path).parts
        for note in part.notes
    )
    start = min(onset for onset, _ in expected)
    own = read_page(path.read_bytes(), "mei")
    assert Counter((round(float(mark.onset) + start, 3), mark.midi) for mark in own.marks) == expected


@pytest.mark.parametrize(
    ("layers", "said"),
    [
        ("<layer><note pname='c' oct='5'/></layer>", "bar 1 has a note without a sensible length"),
        ("<layer><note pname='h' oct='5' dur='4'/></layer>", "bar 1 has a note whose pitch makes no sense"),
        ("<layer><note pname='c' oct='5' dur='4' accid='1qs'/></layer>", "bar 1 has quarter tones"),
        ("<layer><mRpt/></layer>", "bar 1 has signs that repeat what came before"),
    ],
)
def test_what_mei_says_and_nobody_can_play_is_refused(layers: str, said: str) -> None:
    with pytest.raises(CoachError, match=said):
        mei(layers)
