"""What the definitions of an MEI score say of its staves: names, groups, keys, metre (MEI Guidelines 5.0, scoreDef)."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction
from xml.etree.ElementTree import Element

from coach.score.formats.xml import local, whole
from coach.score.page import Page, Part, changes_of_key, signature
from coach.score.piece import Quarters
from coach.score.spelling import Signature, leading, signature_of

KEYBOARD = (2, 3)
"""How many staves of one instrument a brace joins: two hands, and an organ's pedals."""


WIDEST = 48
"""Largest transposition believed, in semitones or steps: four octaves."""


@dataclass(slots=True)
class Staff:
    """What lasts on a staff.

    Attributes:
        name: As printed before it.
        alters: Alteration of every step that its signature changes.
        transpose: Steps and semitones to add to what is written, as the file has them.
        fifths: The signature that counts, as it is written.
        key: The signature that it begins in.
        minor: Whether that key is minor, None where nothing says so.
        later_keys: Later signatures as they sound, each with its place.
        drums: Whether its clef is that of percussion.
    """

    name: str = ""
    alters: dict[str, int] = field(default_factory=dict)
    transpose: tuple[int, int] = (0, 0)
    fifths: int = 0
    key: Signature | None = None
    minor: bool | None = None
    later_keys: list[tuple[Quarters, int]] = field(default_factory=list)
    drums: bool = False

    @property
    def interval(self) -> tuple[int, int]:
        """Steps and semitones to add to what is written, so that it goes with its signature as it sounds."""
        return signature_of(self.fifths, *self.transpose).steps, self.transpose[1]


class Staves:
    """All staves, and the metre; definitions change them as they are met."""

    def __init__(self) -> None:
        self.metre = ""
        self._staves: dict[int, Staff] = {}
        self._key: tuple[int, bool | None] | None = None
        self._groups: list[tuple[str, tuple[int, ...]]] = []

    def at(self, number: int) -> Staff:
        """The staff of this number; one that nothing defines comes to be, with the key of the score."""
        staff = self._staves.get(number)
        if staff is None:
            staff = self._staves[number] = Staff()
            if self._key is not None:
                self._begin_key(staff, *self._key, Fraction(0))
        return staff

    def score_def(self, item: Element, now: Quarters) -> None:
        """Take in a definition of the whole score that counts from a place on."""
        self._read_metre(item)
        fifths, minor = _key(item)
        if fifths is not None:
            self._key = fifths, minor
            for staff in self._staves.values():
                self._begin_key(staff, fifths, minor, now)
        for definition in item.iter():
            if local(definition) == "staffDef":
                self.staff_def(definition, now)
        for group in item.iter():
            if local(group) == "staffGrp":
                self._group(group)

    def staff_def(self, item: Element, now: Quarters) -> None:
        """Take in a definition of one staff that counts from a place on."""
        number = whole(item.get("n")) or 1
        # A staff that comes later begins in the key that it comes with.
        known, since = number in self._staves, now if number in self._staves else Fraction(0)
        staff = self._staves.setdefault(number, Staff())
        staff.name = staff.name or _label(item)
        self._read_metre(item)
        semitones, steps = _interval(item.get("trans.semi")), _interval(item.get("trans.diat"))
        if semitones:
            staff.transpose = (round(semitones * 7 / 12) if steps is None else steps, semitones)
        fifths, minor = _key(item)
        if fifths is not None:
            self._key = self._key or (fifths, minor)
            self._begin_key(staff, fifths, minor, since)
        elif not known and self._key is not None:
            self._begin_key(staff, *self._key, since)
        shape = item.get("clef.shape") or next((k.get("shape") for k in item if local(k) == "clef"), None)
        if shape:
            staff.drums = shape == "perc"

    def key_sig(self, item: Element, number: int, now: Quarters) -> None:
        """Take in a signature that stands among the notes of a staff."""
        fifths = _fifths(item.get("sig"))
        if fifths is not None:
            self._begin_key(self.at(number), fifths, None, now)

    def fill(self, page: Page) -> dict[int, tuple[int, int]]:
        """Write parts and keys to the page.

        Returns:
            For every staff its part, counted from 0, and its place in the part, counted from 1.
        """
        places: dict[int, tuple[int, int]] = {}
        for number in sorted(self._staves):
            if number in places:
                continue
            name, numbers = next((one for one in self._groups if number in one[1]), ("", (number,)))
            name = name or next((self._staves[each].name for each in numbers if self._staves[each].name), "")
            places |= {each: (len(page.parts), place) for place, each in enumerate(numbers, 1)}
            page.parts.append(Part(name, len(numbers)))
        order = [self._staves[number] for number in sorted(self._staves)]
        key = leading(staff.key for staff in order if staff.key is not None)
        if key is not None:
            staff = next(staff for staff in order if staff.key == key)
            page.fifths, page.minor = key.sounding, staff.minor
            page.key_changes = changes_of_key(key.sounding, staff.later_keys)
        elif self._key is not None:
            page.fifths, page.minor = self._key
        return places

    def _group(self, group: Element) -> None:
        """Staves that a brace joins are one instrument's, unless each has a name; so are two under one name."""
        staves = [item for item in group.iter() if local(item) == "staffDef"]
        numbers = tuple(whole(item.get("n")) or 1 for item in staves)
        names = {_label(item) for item in staves} - {""}
        symbols = {group.get("symbol"), *(item.get("symbol") for item in group if local(item) == "grpSym")} - {None}
        together = not names and bool(_label(group)) and group.get("bar.thru") == "true" and len(staves) == KEYBOARD[0]
        joined = "brace" in symbols or (not symbols and together)
        if joined and len(staves) in KEYBOARD and len(names) < 2 and not self._grouped(numbers):
            self._groups.append((_label(group), numbers))

    def _grouped(self, numbers: tuple[int, ...]) -> bool:
        return len(set(numbers)) < len(numbers) or any(set(numbers) & set(known) for _, known in self._groups)

    def _begin_key(self, staff: Staff, fifths: int, minor: bool | None, now: Quarters) -> None:
        staff.fifths, staff.alters = fifths, signature(fifths)
        found = signature_of(fifths, *staff.transpose)
        if now == 0:
            staff.key, staff.minor = found, minor
            return
        if staff.key is None:
            # What begins without a signature begins with none.
            staff.key = signature_of(0, *staff.transpose)
        staff.later_keys.append((now, found.sounding))

    def _read_metre(self, item: Element) -> None:
        sign = next((k for k in item.iter() if local(k) == "meterSig"), None)
        count = item.get("meter.count") or (sign.get("count") if sign is not None else None)
        unit = item.get("meter.unit") or (sign.get("unit") if sign is not None else None)
        total = sum(int(number) for number in re.findall(r"\d{1,3}", count or ""))
        if total and unit in ("1", "2", "4", "8", "16", "32"):
            self.metre = f"{total}/{unit}"
        symbol = item.get("meter.sym") or (sign.get("sym") if sign is not None else None)
        if not count and symbol in ("common", "cut"):
            self.metre = "4/4" if symbol == "common" else "2/2"


def _label(item: Element) -> str:
    text = item.get("label") or next(("".join(k.itertext()) for k in item if local(k) == "label"), "")
    return " ".join(text.split())


def _key(item: Element) -> tuple[int | None, bool | None]:
    """Sharps or, negative, flats, and whether it is minor, of an element that may say it."""
    sign = next((k for k in item if local(k) == "keySig"), None)
    text = item.get("key.sig") or item.get("keysig") or (sign.get("sig") if sign is not None else None)
    mode = item.get("key.mode") or (sign.get("mode") if sign is not None else None)
    return _fifths(text), {"minor": True, "major": False}.get(mode or "")


def _fifths(text: str | None) -> int | None:
    found = re.fullmatch(r"([0-7])([sf]?)", text or "")
    return (int(found[1]) * (-1 if found[2] == "f" else 1)) if found else None


def _interval(text: str | None) -> int | None:
    """Steps or semitones, None where there are none that music could mean."""
    found = whole(text)
    return found if found is not None and abs(found) <= WIDEST else None
