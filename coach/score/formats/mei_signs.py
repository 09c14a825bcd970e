"""Signs of MEI that stand beside the notes and point at them: fermatas, breaths, fingers, octave lines, ties, D.C.

They point by the name of an element (startid, endid) or by a place in a bar (tstamp, tstamp2; MEI Guidelines 5.0,
control events). Some point at what comes later, so all of them wait until everything is read.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from xml.etree.ElementTree import Element

from coach.listing import listed
from coach.score.formats.mei_waymarks import SAYING, said_by
from coach.score.formats.xml import decimal, local, whole
from coach.score.page import Mark, Rest, with_held_rests
from coach.score.piece import Bar, Quarters
from coach.score.spelling import moved
from coach.score.waymark_places import Posts

WAITING = {"fermata", "breath", "caesura", "fing", "octave", "tie", *SAYING}
"""Elements that are signs."""

OCTAVES = {None: 1, "8": 1, "15": 2, "22": 3}
"""How far an octave line moves its notes, by its attribute dis."""


@dataclass(frozen=True, slots=True)
class Event:
    """Where an element with a name stands: its staff, its line, its onset."""

    staff: int
    line: str
    onset: Quarters


@dataclass(frozen=True, slots=True)
class _Measure:
    """A measure element: where it starts, its number, and the length of what tstamp counts."""

    start: Quarters
    number: str
    beat: Quarters


class Signs:
    """The notes with their names, and the signs that wait for them.

    Attributes:
        marks: Every note by its name or, where it has none, a made-up one; their parts are numbers of staves.
        chords: Of every chord with a name the names of its notes.
        events: Everything with a name that takes time.
        as_written: Names of the notes of which the file does not say in which octave they sound.
        rests: Rests with a fermata.
        posts: D.C., Fine, Segno and the like.
        remarks: What could not be read.
    """

    def __init__(self) -> None:
        self.marks: dict[str, Mark] = {}
        self.chords: dict[str, list[str]] = {}
        self.events: dict[str, Event] = {}
        self.as_written: set[str] = set()
        self.rests: list[Rest] = []
        self.remarks: list[str] = []
        self.posts = Posts()
        self._measures: list[_Measure] = []
        self._waiting: list[tuple[Element, int]] = []
        self._order: list[str] = []
        self._onsets: list[Quarters] = []

    def measure(self, item: Element, start: Quarters, number: str, metre: str) -> None:
        """Remember the signs of a measure, whose notes are known."""
        beat = Fraction(4, int((metre or "4/4").split("/")[1]))
        self._measures.append(_Measure(start, number, beat))
        self._waiting += [(sign, len(self._measures) - 1) for sign in item if local(sign) in WAITING]

    def settled(self, bars: Sequence[Bar]) -> list[Mark]:
        """All notes with their signs."""
        self._order = sorted(self.marks, key=lambda key: self.marks[key].onset)
        self._onsets = [self.marks[key].onset for key in self._order]
        endless = []
        for sign, place in self._waiting:
            tag = local(sign)
            if tag == "octave":
                if not self._octave(sign, place):
                    endless.append(self._measures[place].number)
            elif tag == "tie":
                self._tie(sign)
            elif tag == "fing":
                self._finger(sign, place)
            elif tag in SAYING:
                self._waymark(sign, place)
            else:
                self._pause(sign, place, fermata=tag == "fermata")
        if endless:
            places = listed(list(dict.fromkeys(endless)))
            self.remarks.append(f"left out an octave line that does not say how far it reaches, in bar {places}")
        return with_held_rests(list(self.marks.values()), self.rests, bars)

    def _named(self, attribute: str | None) -> list[str]:
        """The notes that a startid or an endid names: one, or those of a chord."""
        name = (attribute or "").removeprefix("#")
        return self.chords.get(name) or ([name] if name in self.marks else [])

    def _pause(self, sign: Element, place: int, *, fermata: bool) -> None:
        name = (sign.get("startid") or "").removeprefix("#")
        keys = self._named(name) if name else list(self._at(sign, place))
        for key in keys:
            mark = self.marks[key]
            self.marks[key] = replace(mark, fermata=mark.fermata or fermata, breath=mark.breath or not fermata)
        event = self.events.get(name)
        if fermata and not keys and event is not None:
            self.rests.append(Rest(event.staff, event.line, event.onset))

    def _waymark(self, sign: Element, place: int) -> None:
        start = self._measures[place].start
        event = self.events.get((sign.get("startid") or "").removeprefix("#"))
        here = event.onset if event else self._moment(sign.get("tstamp"), place)
        onset = max(start if here is None else here, start)
        said = said_by(sign)
        if isinstance(said, str):
            self.posts.text(said, onset, start)
        else:
            self.posts.add(said, onset, start)

    def _finger(self, sign: Element, place: int) -> None:
        digit = re.match(r"\s*([1-5])", "".join(sign.itertext()))
        keys = self._named(sign.get("startid")) if sign.get("startid") else list(self._at(sign, place))
        struck = max((self.marks[key].onset for key in keys), default=None)
        keys = [key for key in keys if self.marks[key].onset == struck]
        # A finger that points at a whole chord does not say which note it is for.
        if digit and len(keys) == 1:
            self.marks[keys[0]] = replace(self.marks[keys[0]], finger=int(digit[1]))

    def _at(self, sign: Element, place: int) -> Iterator[str]:
        """The notes of the measure that sound at a sign's tstamp, on its staff where it names one."""
        onset = self._moment(sign.get("tstamp"), place)
        staves = _numbers(sign.get("staff"))
        if onset is not None:
            for key in self._between(self._measures[place].start, onset):
                if self.marks[key].end > onset and (not staves or self.marks[key].part in staves):
                    yield key

    def _between(self, first: Quarters, last: Quarters) -> list[str]:
        """The notes that begin from one place to another, both included."""
        after = bisect_left(self._onsets, first)
        found = []
        while after < len(self._order) and self._onsets[after] <= last:
            found.append(self._order[after])
            after += 1
        return found

    def _moment(self, text: str | None, place: int) -> Quarters | None:
        """A place given in beats of a measure, or with tstamp2 also so many measures later ("1m+2.5")."""
        found = re.fullmatch(r"\s*(?:(\d{1,4})m\s*\+\s*)?([\d.]+)\s*", text or "")
        beat = decimal(found[2]) if found else None
        at = place + int(found[1] or 0) if found else place
        if beat is None or at >= len(self._measures):
            return None
        return self._measures[at].start + (beat - 1) * self._measures[at].beat

    def _octave(self, sign: Element, place: int) -> bool:
        """Move the notes under an octave line, which begins and ends with notes; whether it says where.

        It belongs to a staff, whatever layers that has, unless it names layers.
        """
        first = self.events.get((sign.get("startid") or "").removeprefix("#"))
        last = self.events.get((sign.get("endid") or "").removeprefix("#"))
        begins = first.onset if first else self._moment(sign.get("tstamp"), place)
        ends = last.onset if last else self._moment(sign.get("tstamp2"), place)
        staves = _numbers(sign.get("staff")) or ({first.staff} if first else set())
        layers = _numbers(sign.get("layer"))
        octaves = OCTAVES.get(sign.get("dis"), 0) * (-1 if sign.get("dis.place") == "below" else 1)
        if begins is None or ends is None or not staves or not octaves:
            return False
        for key in self._between(begins, ends):
            mark = self.marks[key]
            layer = whole(mark.line.rpartition(".")[2])
            if key in self.as_written and mark.part in staves and (not layers or layer in layers):
                pitch = moved(mark.pitch, 7 * octaves, 12 * octaves)
                self.marks[key] = replace(mark, midi=mark.midi + 12 * octaves, pitch=pitch)
                self.as_written.discard(key)
        return True

    def _tie(self, sign: Element) -> None:
        starts, ends = self._named(sign.get("startid")), self._named(sign.get("endid"))
        if starts and ends:
            for key in starts:
                self.marks[key] = replace(self.marks[key], tied_on=True)
            for key in ends:
                self.marks[key] = replace(self.marks[key], tied_in=True)


def _numbers(text: str | None) -> set[int]:
    return {int(number) for number in re.findall(r"\d{1,3}", text or "")}
