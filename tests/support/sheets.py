"""Phrases written in a few lines (see `tests/paper/conftest.py`) as sheets, and MusicXML held against its schema."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import fromstring

from coach.fingering.plan import PhrasePlan, Plan
from coach.paper.cells import Fingers
from coach.paper.sheet import Sheet, sheet_of
from coach.score.piece import Bar, Note, Piece

SIGNS = {"flat-flat": -2, "flat": -1, "natural": 0, "sharp": 1, "double-sharp": 2}
"""What accidentals do to a note (MusicXML 4.0, accidental-value)."""


def piece_of(*phrases: PhrasePlan, pickup: int = 0, metre: int = 4, **more: Any) -> Piece:
    """What was planned in these phrases, in bars of so many quarters."""
    notes = {
        (note.voice, note.onset, note.written_midi): Note(
            note.voice, Fraction(note.onset), Fraction(note.duration), note.written_midi, note.pitch
        )
        for phrase in phrases
        for chord in phrase.chords
        for note in chord.notes
    }
    end = max(note.end for note in notes.values())
    onset, number, bars = Fraction(0), 0 if pickup else 1, []
    while onset < end:
        length = Fraction(pickup if number == 0 else metre)
        bars.append(Bar(number, onset, length, f"{metre}/4"))
        onset, number = onset + length, number + 1
    voices = tuple(dict.fromkeys(voice for voice, _, _ in notes))
    ordered = tuple(sorted(notes.values(), key=lambda note: (note.onset, -note.midi)))
    return Piece("a passage", "a test", voices, ordered, tuple(bars), **more)


def plan_of(*phrases: PhrasePlan) -> Plan:
    """These phrases as a plan."""
    return Plan("a passage", "a test", 4, 208, "ninth", 203.5, "a hand of 208 mm", tuple(phrases))


def written(*phrases: PhrasePlan, fingers: Fingers = "all", pickup: int = 0, metre: int = 4) -> Sheet:
    """The sheet of these phrases."""
    return sheet_of(plan_of(*phrases), piece_of(*phrases, pickup=pickup, metre=metre), fingers)


# `partitura` carries the schema of MusicXML 3.1 (W3C Music Notation Community Group, 2017), of which 4.0 is an
# extension; the two schemas that it leans on are declared here as far as it names them.

XML = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="http://www.w3.org/XML/1998/namespace">
<xs:attribute name="lang" type="xs:language"/><xs:attribute name="space" type="xs:NCName"/></xs:schema>"""

XLINK = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="http://www.w3.org/1999/xlink">{}
</xs:schema>""".format(
    "".join(
        f'<xs:attribute name="{name}" type="xs:string"/>'
        for name in ("href", "type", "role", "title", "show", "actuate")
    )
)


@cache
def _schema() -> Any:
    import partitura
    from lxml import etree

    class Declared(etree.Resolver):  # type: ignore[misc]
        def resolve(self, url: str, _id: str, context: Any) -> Any:
            declared = {"xml.xsd": XML, "xlink.xsd": XLINK}.get(url.rsplit("/", 1)[-1])
            return None if declared is None else self.resolve_string(declared, context)

    parser = etree.XMLParser()
    parser.resolvers.add(Declared())
    path = Path(partitura.__file__).parent / "assets" / "musicxml.xsd"
    return etree.XMLSchema(etree.parse(str(path), parser))


def breaches(document: bytes) -> Sequence[str]:
    """Where a document breaks the schema of MusicXML, in sentences."""
    from lxml import etree

    schema = _schema()
    schema.validate(etree.fromstring(document))
    return [f"line {one.line}: {one.message}" for one in schema.error_log]


def misread(document: bytes) -> Sequence[str]:
    """Notes that a player would take for others, who reads signature and accidentals of a sheet in order of time.

    An accidental counts for its line or space until the bar ends, in every voice; a tied note goes on as it began
    (common practice, no source).
    """
    found: list[str] = []
    key: dict[str, int] = {}
    for measure in fromstring(document).iterfind("part/measure"):
        for fifths in (int(each.text or "0") for each in measure.iterfind("attributes/key/fifths")):
            key = dict.fromkeys("FCGDAEB"[: max(fifths, 0)], 1) | dict.fromkeys("BEADGCF"[: max(-fifths, 0)], -1)
        now, written = 0, []
        for element in measure:
            length = int(element.findtext("duration", "0"))
            if element.tag == "note" and element.find("pitch") is not None:
                onset = written[-1][0] if element.find("chord") is not None else now
                written.append((onset, element))
            now += {"backup": -length, "forward": length, "note": length}.get(element.tag, 0) * (
                element.find("chord") is None
            )
        in_force: dict[tuple[str | None, ...], int] = {}
        for onset in sorted({onset for onset, _ in written}):
            struck = [note for at, note in written if at == onset]
            lines = [tuple(note.findtext(way) for way in ("staff", "pitch/step", "pitch/octave")) for note in struck]
            for note, line in zip(struck, lines, strict=True):
                if sign := note.findtext("accidental"):
                    in_force[line] = SIGNS[sign]
            for note, line in zip(struck, lines, strict=True):
                alter = int(note.findtext("pitch/alter", "0"))
                if note.find("tie[@type='stop']") is None and in_force.get(line, key.get(line[1] or "", 0)) != alter:
                    found.append(f"bar {measure.get('number')}, {onset}: {line} altered by {alter}")
    return found
