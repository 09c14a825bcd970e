"""The accidentals of a sheet, as one who reads its voices together needs them (MusicXML 4.0: accidental)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby
from xml.etree.ElementTree import Element

from coach.score.page import signature

NAMES = {
    -3: "triple-flat",
    -2: "flat-flat",
    -1: "flat",
    0: "natural",
    1: "sharp",
    2: "double-sharp",
    3: "triple-sharp",
}
"""How MusicXML calls the accidentals, by the semitones that they move a note."""

BEFORE = ("type", "dot")
"""What stands before the accidental in a note."""

UNKNOWN = 9
"""What is in force on a line where two different notes have been struck together: no alteration is as large."""

Line = tuple[str, str, str]
"""Where a note stands: its staff, and the letter and the octave of the line or space."""


@dataclass(frozen=True, slots=True)
class _Placed:
    """A note or a signature of a bar.

    Attributes:
        at: When it starts, in divisions from the start of the bar.
        element: The note, or the signature.
    """

    at: int
    element: Element


def settle_accidentals(root: Element) -> None:
    """Write the accidentals that are missing, and take away those that remind of nothing.

    An accidental counts for its line or space of the staff from where it stands to the end of the bar, whichever voice
    has it; a tie takes it over the bar line for its own note alone. One that the signature has already reminds of
    another one, in the bar or the bar before (common practice, no source). music21 reads a bar voice by voice: it takes
    the sign of a later note of one voice to have been read before an earlier note of another.

    Args:
        root: A document of one part.
    """
    altered: dict[str, int] = {}
    strayed: set[tuple[str, str]] = set()
    for measure in root.iterfind("part/measure"):
        read: dict[Line, int] = {}
        strayed_before, strayed = strayed, set()
        for _, together in groupby(sorted(_placed(measure), key=lambda one: one.at), key=lambda one: one.at):
            elements = [one.element for one in together]
            for key in (element for element in elements if element.tag == "key"):
                altered = signature(int(key.findtext("fifths", "0")))
            for line, notes in _by_line(elements).items():
                alters = {_alter(note) for note in notes}
                signed = [note for note in notes if note.find("accidental") is not None]
                usual, letter = altered.get(line[1], 0), line[:2]
                # Where B and B flat are struck together each wants its sign, and so does any B behind them.
                if len(alters) > 1 or (not signed and alters != {read.get(line, usual)}):
                    for note in notes:
                        _write(note)
                elif alters == {read.get(line, usual)} == {usual} and letter not in strayed | strayed_before:
                    for note in signed:
                        for accidental in note.findall("accidental"):
                            note.remove(accidental)
                if alters != {usual}:
                    strayed.add(letter)
                read[line] = alters.pop() if len(alters) == 1 else UNKNOWN


def _placed(measure: Element) -> Iterator[_Placed]:
    """The notes and signatures of a bar; rests have nothing to read."""
    now = start = 0
    for element in measure:
        length = int(element.findtext("duration", "0"))
        if element.tag == "note":
            if element.find("chord") is None:
                start, now = now, now + length
            if element.find("pitch") is not None:
                yield _Placed(start, element)
        elif element.tag in ("backup", "forward"):
            now += length if element.tag == "forward" else -length
        elif element.tag == "attributes":
            yield from (_Placed(now, key) for key in element.findall("key"))


def _by_line(elements: Iterable[Element]) -> dict[Line, list[Element]]:
    """The notes that are read at one time, by where they stand: one that is tied to the note before is not."""
    found: dict[Line, list[Element]] = {}
    for note in elements:
        if note.tag == "note" and (note.find("tie[@type='stop']") is None or note.find("accidental") is not None):
            found.setdefault(_line(note), []).append(note)
    return found


def _line(note: Element) -> Line:
    return note.findtext("staff", "1"), note.findtext("pitch/step", ""), note.findtext("pitch/octave", "")


def _alter(note: Element) -> int:
    return int(float(note.findtext("pitch/alter", "0")))


def _write(note: Element) -> None:
    """Give a note its accidental, if it has none."""
    if note.find("accidental") is None:
        accidental = Element("accidental")
        accidental.text = NAMES[_alter(note)]
        place = max((at + 1 for at, child in enumerate(note) if child.tag in BEFORE), default=len(note))
        note.insert(place, accidental)
