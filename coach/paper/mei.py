"""Where signs stand in a sheet's MEI (Music Encoding Initiative), before verovio draws it: what it draws over another
thing, or leaves out, when it is left alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from copy import deepcopy
from dataclasses import dataclass
from fractions import Fraction
from xml.etree.ElementTree import Element

MEI = "{http://www.music-encoding.org/ns/mei}"
"""The namespace of MEI's elements."""

ID = "{http://www.w3.org/XML/1998/namespace}id"
"""The attribute by which elements point at each other (xml:id, W3C)."""

BLANK = "\u00a0"
"""A blank that counts as a letter: verovio cuts off others at the ends of a text."""

TOWARDS = {"above": "up", "below": "down"}
"""Which stems point at fingers that stand there."""

COMMA, FURTHEST = 0.35, 0.5
"""How far before the next note a comma stands: of the way to it from the note before, so that it is between the fingers
of both, and in beats (common practice, no source)."""

FERMATA = 0.75
"""How far a fermata is moved off the fingers, in half distances between two lines: its point is not to be taken for one
of theirs."""


def settle(mei: Element) -> None:
    """Give every sign a place of its own."""
    _open_bar_lines(mei)
    for bar, ticks in _bars(mei):
        staves = {staff.get("n"): list(_staff(staff)) for staff in bar.iter(f"{MEI}staff")}
        _stack_fingers(bar, staves)
        _set_commas(bar, staves, ticks)
        _lift_fermatas(bar)
        _notch_pedal(bar)
    _make_room(mei)


@dataclass(frozen=True, slots=True)
class _Placed:
    """A note of a bar.

    Attributes:
        ident: Its name in the file.
        onset: When it starts, in ticks from the start of the bar.
        height: How high it stands on the staff.
        stem: "up" or "down", "" where none is said.
    """

    ident: str
    onset: int
    height: int
    stem: str


def _bars(mei: Element) -> Iterator[tuple[Element, Fraction]]:
    """Each bar, and how many ticks (the unit of a note's length) one of the beats lasts that place signs in it."""
    quarter, unit = 1, 4
    for element in mei.iter():
        quarter = int(element.get("ppq", quarter))
        if element.tag == f"{MEI}meterSig":
            unit = int(element.get("unit", unit))
        elif element.tag == f"{MEI}measure":
            yield element, Fraction(4 * quarter, unit)


def _staff(staff: Element) -> Iterator[_Placed]:
    """The notes of a staff in one bar, those of chords among them."""
    for layer in staff.iter(f"{MEI}layer"):
        yield from _layer(layer)


def _layer(layer: Element) -> Iterator[_Placed]:
    onset = 0

    def within(parent: Element, *, chord: bool) -> Iterator[_Placed]:
        nonlocal onset
        for child in parent:
            if child.tag == f"{MEI}note":
                height = 7 * int(child.get("oct", "0")) + "cdefgab".index(child.get("pname", "c"))
                stem = (parent if chord else child).get("stem.dir", "")
                yield _Placed(child.get(ID, ""), onset, height, stem)
            if not chord and child.get("dur.ppq"):
                yield from within(child, chord=True)
                onset += int(child.get("dur.ppq", "0"))
            elif not chord:
                yield from within(child, chord=False)

    yield from within(layer, chord=False)


def _open_bar_lines(mei: Element) -> None:
    """Where there are words, end the bar lines at each staff, as hymnals do: words reach over them into the next bar,
    and a line through a word makes it unreadable (common practice, no source)."""
    if mei.find(f".//{MEI}syl") is not None:
        for group in mei.iter(f"{MEI}staffGrp"):
            if group.get("bar.thru"):
                group.set("bar.thru", "false")


def _stack_fingers(bar: Element, staves: Mapping[str | None, list[_Placed]]) -> None:
    """Put the fingers that a hand sets at one time in one column over its outer note: those of notes that stand side
    by side would be printed over each other.

    Where a stem points at the column it begins beyond the stem. verovio lets them pass beside each other, a hair
    apart; a blank on the stem's side makes the fingers broad enough to be in its way.
    """
    notes = {one.ident: one for placed in staves.values() for one in placed}
    columns: dict[tuple[str | None, int], list[tuple[_Placed, Element]]] = {}
    for finger in bar.findall(f"{MEI}fing"):
        bar.remove(finger)
        note = notes[finger.get("startid", "").removeprefix("#")]
        columns.setdefault((finger.get("staff"), note.onset), []).append((note, finger))
    for (staff, onset), column in columns.items():
        place = column[0][1].get("place", "above")
        column.sort(key=lambda each: each[0].height, reverse=place == "below")
        stemmed = any(one.onset == onset and one.stem == TOWARDS[place] for one in staves[staff])
        for _, finger in column:
            finger.set("startid", f"#{column[-1][0].ident}")
            if stemmed:
                # Stems that point up stand at the right of their notes, others at the left.
                text = finger.text or ""
                finger.text = text + BLANK if place == "above" else BLANK + text
            bar.append(finger)


def _set_commas(bar: Element, staves: Mapping[str | None, list[_Placed]], ticks: Fraction) -> None:
    """Set a comma between two notes: right before the next one it would stand in that one's fingers."""
    onsets = sorted({one.onset / ticks + 1 for placed in staves.values() for one in placed})
    for comma in bar.findall(f"{MEI}breath"):
        at = float(comma.get("tstamp", "1"))
        before = max((float(onset) for onset in onsets if onset < at), default=1.0)
        # verovio puts a comma a tenth of a beat before the end of its note.
        end = at + 0.1
        comma.set("tstamp", str(round(min(at, end - min(COMMA * (end - before), FURTHEST)), 4)))


def _lift_fermatas(bar: Element) -> None:
    """Leave room between a fermata and the fingers under it, which verovio lets touch its point."""
    for fermata in bar.findall(f"{MEI}fermata"):
        fermata.set("vo", str(-FERMATA if fermata.get("place") == "below" else FERMATA))


def _notch_pedal(bar: Element) -> None:
    """Let the line of the pedal go on from each notch: in verovio a change ends one line and begins none."""
    for change in bar.findall(f"{MEI}pedal[@dir='bounce']"):
        line = deepcopy(change)
        line.set("dir", "down")
        line.set(ID, f"{change.get(ID)}-line")
        bar.insert(list(bar).index(change) + 1, line)


def _make_room(mei: Element) -> None:
    """Begin words that end where they stand ("Fine", "D.C.") with blanks: verovio measures letters a little narrower
    than they are printed, and would let their first one touch a finger."""
    for direction in mei.iter(f"{MEI}dir"):
        for line in direction.findall(f"{MEI}rend[@halign='right']"):
            line.text = f"{BLANK}{BLANK}{line.text or ''}"
