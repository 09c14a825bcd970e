"""How MEI is read (Music Encoding Initiative 5.0, common music notation: https://music-encoding.org/guidelines/v5/)."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from xml.etree.ElementTree import Element

from coach.errors import CoachError
from coach.score.formats.mei_signs import Event, Signs
from coach.score.formats.mei_staves import Staves
from coach.score.formats.xml import decimal, local, whole
from coach.score.page import (
    FINEST,
    STEPS,
    Mark,
    Page,
    Rest,
    Tally,
    divided,
    measured,
    midi_of,
    numbered_from_pickup,
    spelled,
)
from coach.score.piece import Bar, Quarters
from coach.score.repeats import Repeat, ending_of
from coach.score.spelling import moved
from coach.score.stanzas import stanza_places

ID = "{http://www.w3.org/XML/1998/namespace}id"
DURATIONS = {"breve": Fraction(8), "long": Fraction(16), "maxima": Fraction(32)}
ALTERS = {"s": 1, "f": -1, "n": 0, "ss": 2, "x": 2, "ff": -2, "ns": 1, "nf": -1, "xs": 3, "sx": 3, "tf": -3, "ts": 3}
DOUBLE = {"dbl", "end", "rptstart", "rptend", "rptboth", "dbldashed", "dbldotted", "dblheavy"}
OPENS, CLOSES = {"rptstart", "rptboth"}, {"rptend", "rptboth"}
SECTIONS = {"section", "expansion", "mdiv", "part"}
RESTS = {"rest", "mRest", "multiRest"}
REPEATED = {"beatRpt", "halfmRpt", "mRpt", "mRpt2", "multiRpt"}
"""Signs that stand for music that was there before."""

CONTAINERS = {"beam", "fTrem", "bTrem"}
ALTERNATIVES = {"app", "choice", "subst"}
"""Elements of which one child is played (MEI Guidelines 5.0, editorial markup)."""

PREFERRED = ("lem", "corr", "reg", "expan", "add", "rdg", "orig", "sic", "abbr")
"""The editor's reading before the others."""

EDITED = {*PREFERRED, "supplied", "unclear"}
"""Elements that say whose reading their content is; by themselves they are played, and only `del` is not."""


MOST_RESTS = 999
"""Most bars that one sign for several bars of rest is believed to stand for."""


def read_mei(root: Element, name: str) -> Page:
    """Read an MEI document.

    Args:
        root: Its root element.
        name: What the player calls it, for error sentences.

    Raises:
        CoachError: no common music notation, or unplayable values in it.
    """
    return _MeiReader(root, name).page()


class _MeiReader:
    def __init__(self, root: Element, name: str) -> None:
        self.root = root
        self.name = name
        self._tally = Tally(name)
        self.staves = Staves()
        self.signs = Signs()
        self.tempo: float | None = None
        self.graces = self.cues = self.drums = 0
        self.readings: list[str] = []
        self.bars: list[Bar] = []
        self.start: Quarters = Fraction(0)
        self.now: Quarters = Fraction(0)
        self.bar = "1"
        self.ending: tuple[int, ...] = ()
        self.opens_next = False
        # How many bars of rest a measure stands for, the last one stood for if several, and what later numbers lack.
        self._resting, self._rested, self._skipped = 1, 0, 0
        self._ratio = Fraction(1)
        self._accidentals: dict[tuple[str, int], int] = {}
        # Where no note states how it sounds, the signature and the accidentals of the bar decide, as on paper.
        self.explicit = any(item.get("accid.ges") is not None for item in root.iter())
        verses = (item.get("n") for item in root.iter() if local(item) == "verse")
        self.stanzas = stanza_places(number for number in verses if number and whole(number) is not None)
        self.anonymous = 0
        # Tuplets that are marked from note to note: by the note they start at, their ratio and the note they end with.
        self._span: tuple[Fraction, str] | None = None
        self.spans = {
            (item.get("startid") or "").removeprefix("#"): (
                Fraction(whole(item.get("numbase")) or 2, whole(item.get("num")) or 3),
                (item.get("endid") or "").removeprefix("#"),
            )
            for item in root.iter()
            if local(item) == "tupletSpan"
        }

    def page(self) -> Page:
        score = next((item for item in self.root.iter() if local(item) == "score"), None)
        if score is None:
            raise CoachError(f'cannot read "{self.name}": the MEI document holds no score')
        self._walk(score)
        page = Page(title=self._title(), composer=self._composer(), quarter_bpm=self.tempo)
        page.bars = numbered_from_pickup(self.bars)
        places = self.staves.fill(page)
        for mark in self.signs.settled(page.bars):
            part, staff = places[mark.part]
            page.marks.append(replace(mark, part=part, staff=staff))
        if self.readings:
            bars = f"bar{'s' if len(self.readings) > 1 else ''} {', '.join(self.readings)}"
            page.remarks.append(f"took the editor's reading, or the first of several, in {bars}")
        for count, what in ((self.graces, "grace note"), (self.cues, "cue note"), (self.drums, "percussion note")):
            if count:
                page.remarks.append(f"left out {count} {what}{'s' if count > 1 else ''}")
        page.remarks += self.signs.remarks
        self.signs.posts.fill(page)
        return page

    def _walk(self, parent: Element) -> None:
        for item in self._played(parent):
            tag = local(item)
            if tag == "scoreDef":
                self.staves.score_def(item, self.start)
                bpm = decimal(item.get("midi.bpm"))
                if bpm and self.tempo is None and 10 <= bpm <= 500:
                    self.tempo = float(bpm)
            elif tag == "staffDef":
                self.staves.staff_def(item, self.start)
            elif tag == "measure":
                self._measure(item)
            elif tag == "ending":
                self.ending = ending_of(item.get("n") or item.get("label") or "")
                self._walk(item)
                self.ending = ()
            elif tag in SECTIONS:
                self._walk(item)

    def _played(self, parent: Element) -> Iterator[Element]:
        """What an element holds, one reading where there are several."""
        for item in parent:
            tag = local(item)
            if tag in ALTERNATIVES:
                readings = sorted((r for r in item if local(r) in PREFERRED), key=lambda r: PREFERRED.index(local(r)))
                if len(readings) > 1 and self.bar not in self.readings:
                    self.readings.append(self.bar)
                if readings:
                    yield from self._played(readings[0])
            elif tag in EDITED:
                yield from self._played(item)
            else:
                yield item

    def _measure(self, item: Element) -> None:
        self.bar = item.get("n") or str(len(self.bars) + 1)
        self._accidentals, self._resting = {}, 1
        ends = [self.start]
        for staff in item:
            if local(staff) != "staff":
                continue
            number = whole(staff.get("n")) or 1
            self._accidentals = {}
            for place, layer in enumerate(child for child in staff if local(child) == "layer"):
                self.now, self._ratio, self._span = self.start, Fraction(1), None
                self._layer(layer, number, f"{number}.{layer.get('n') or place + 1}")
                ends.append(self.now)
        length = max(ends) - self.start
        metre = self.staves.metre
        if length:
            self._resting = 1
        else:
            # Nothing but rests of a whole bar.
            length = Bar(1, self.start, Fraction(0), metre or "4/4").full
        self.signs.measure(item, self.start, self.bar, self.staves.metre)
        for sign in item:
            if local(sign) == "tempo":
                self._tempo(sign)
        left, right = item.get("left") or "", item.get("right") or ""
        if left in DOUBLE and self.bars:
            closes = Repeat(closes=left in CLOSES)
            self.bars[-1] = replace(self.bars[-1], double=True, repeat=self.bars[-1].repeat | closes)
        opens = left in OPENS or self.opens_next
        self.opens_next = right in OPENS
        number = self._number()
        for place in range(self._resting):
            last = place == self._resting - 1
            repeat = Repeat(opens and not place, right in CLOSES and last, self.ending)
            bar = measured(Bar(number + place, self.start, length, metre, right in DOUBLE and last, repeat=repeat))
            if self.bars and self.bars[-1].number and divided(self.bars[-1], bar):
                bar = replace(bar, before=self.bars[-1].duration)
            self.bars.append(bar)
            self.start += length

    def _number(self) -> int:
        """The number of the measure's bar; one without digits continues the bar before it.

        Some files number measure elements on, whatever bars of rest they stand for: then later numbers are too low.
        """
        digits = re.match(r"\d{1,6}", self.bar)
        last = self.bars[-1].number if self.bars else 0
        if not digits:
            return last if self.bars else 1
        number = int(digits[0]) + self._skipped
        if self._rested and number == last - self._rested + 2:
            self._skipped += self._rested - 1
            number = last + 1
        self._rested = self._resting if self._resting > 1 else 0
        return number

    def _layer(self, parent: Element, staff: int, line: str) -> None:
        for item in self._played(parent):
            tag, start = local(item), self.now
            keys = {key for child in (item, *(item if tag == "chord" else ())) if (key := child.get(ID))}
            for key in keys & self.spans.keys():
                self._span = self.spans[key]
            if tag == "note":
                self._note(item, self._duration(item), staff, line, item)
            elif tag == "chord":
                self._chord(item, staff, line)
            elif tag in ("rest", "space"):
                self.now += self._duration(item)
            elif tag == "multiRest":
                self._resting = max(self._resting, min(whole(item.get("num")) or 1, MOST_RESTS))
            elif tag == "graceGrp":
                self.graces += sum(local(note) == "note" for note in item.iter())
            elif tag == "tuplet":
                before = self._ratio
                over, under = whole(item.get("numbase")) or 2, whole(item.get("num")) or 3
                self._ratio = before * Fraction(over, under)
                self._layer(item, staff, line)
                self._ratio = before
            elif tag in CONTAINERS:
                self._layer(item, staff, line)
            elif tag == "keySig":
                self.staves.key_sig(item, staff, self.now)
            elif tag in REPEATED:
                raise CoachError(f'cannot read "{self.name}": bar {self.bar} has signs that repeat what came before')
            if tag in RESTS and item.get("fermata"):
                self.signs.rests.append(Rest(staff, line, start))
            for key in keys:
                self.signs.events[key] = Event(staff, line, start)
            if self._span and self._span[1] in keys:
                self._span = None

    def _chord(self, item: Element, staff: int, line: str) -> None:
        length, start = self._duration(item), self.now
        keys = []
        for note in item.iter():
            if local(note) == "note":
                self.now = start
                own = self._duration(note) if note.get("dur") else length
                keys += self._note(note, own, staff, line, item)
        self.now = start + (Fraction(0) if item.get("grace") else length)
        if name := item.get(ID):
            self.signs.chords[name] = keys

    def _duration(self, item: Element) -> Quarters:
        if item.get("grace"):
            return Fraction(0)
        text = item.get("dur") or ""
        if text in DURATIONS:
            length = DURATIONS[text]
        elif text in ("1", "2", "4", "8", "16", "32", "64", "128", "256"):
            length = Fraction(4, int(text))
        else:
            raise CoachError(f'cannot read "{self.name}": bar {self.bar} has a note without a sensible length')
        dots = whole(item.get("dots")) or sum(local(child) == "dot" for child in item)
        if not 0 <= dots <= 4:
            raise CoachError(f'cannot read "{self.name}": bar {self.bar} has a note with {dots} dots')
        spanned = self._span[0] if self._span else Fraction(1)
        length *= (2 - Fraction(1, 2**dots)) * self._ratio * spanned
        if (self.now + length).denominator > FINEST or length <= 0:
            raise CoachError(f'cannot read "{self.name}": bar {self.bar} has a rhythm that nobody can count')
        return length

    def _note(self, item: Element, length: Quarters, staff: int, line: str, outer: Element) -> list[str]:
        """Take in a note of a layer or, if `outer` is one, of a chord; its name if it is to be played."""
        self._tally.note()
        if item.get("grace") or outer.get("grace"):
            self.graces += 1
            return []
        if item.get("cue") == "true" or outer.get("cue") == "true":
            self.cues += 1
            self.now += length
            return []
        if self.staves.at(staff).drums or (item.get("pname") is None and item.get("loc") is not None):
            self.drums += 1
            self.now += length
            return []
        number = whole(item.get("staff")) or whole(outer.get("staff")) or staff
        self.staves.at(number)
        midi, pitch = self._pitch(item, staff)
        key = item.get(ID) or ""
        if not key or key in self.signs.marks:
            self.anonymous += 1
            key = f"{key}#{self.anonymous}"
        tie = (item.get("tie") or outer.get("tie") or "").split()
        marks = list(item) + (list(outer) if outer is not item else [])
        if item.get("oct.ges") is None:
            self.signs.as_written.add(key)
        self.signs.marks[key] = Mark(
            part=number,
            staff=1,
            line=line,
            onset=self.now,
            duration=length,
            midi=midi,
            pitch=pitch,
            tied_in=any(sign[0] in "mt" for sign in tie),
            tied_on=any(sign[0] in "im" for sign in tie),
            fermata=bool(item.get("fermata") or outer.get("fermata")) or any(local(k) == "fermata" for k in marks),
            breath=any(local(k) == "breath" for k in marks),
            words=self._words(item) or (self._words(outer) if outer is not item else ()),
        )
        self.now += length
        return [key]

    def _words(self, item: Element) -> tuple[str, ...]:
        """The syllable of each stanza, which is the one that a verse's n says or, without one, the next."""
        syllables: dict[int, str] = {}
        for verse in item:
            if local(verse) != "verse":
                continue
            stanza = self.stanzas.get(verse.get("n") or "", max(syllables, default=-1) + 1)
            parts = [child for child in verse if local(child) == "syl"]
            text = " ".join("".join(part.itertext()).strip() for part in parts)
            goes_on = bool(parts) and (parts[-1].get("con") == "d" or parts[-1].get("wordpos") in ("i", "m"))
            text = re.sub(r"^\d+\s*[.)]\s*(?=\S)", "", text)
            syllables[stanza] = text + ("-" if goes_on and text and not text.endswith("-") else "")
        if not syllables and item.get("syl"):
            return (str(item.get("syl")),)
        return tuple(syllables.get(stanza, "") for stanza in range(max(syllables, default=-1) + 1))

    def _pitch(self, item: Element, staff: int) -> tuple[int, str]:
        step, octave = (item.get("pname") or "").upper(), whole(item.get("oct"))
        sounds = octave if item.get("oct.ges") is None else whole(item.get("oct.ges"))
        if step not in STEPS or octave is None or sounds is None or not {octave, sounds} <= set(range(-1, 10)):
            raise CoachError(f'cannot read "{self.name}": bar {self.bar} has a note whose pitch makes no sense')
        child = next((k for k in item if local(k) == "accid"), None)
        written = item.get("accid") or (child.get("accid") if child is not None else None)
        sounding = item.get("accid.ges") or (child.get("accid.ges") if child is not None else None)
        sign = sounding or written
        if sign is not None and sign not in ALTERS:
            raise CoachError(f'cannot read "{self.name}": bar {self.bar} has quarter tones, which no keyboard has')
        if sign is not None:
            alter = ALTERS[sign]
        elif self.explicit:
            alter = 0
        else:
            alter = self._accidentals.get((step, octave), self.staves.at(staff).alters.get(step, 0))
        if written is not None:
            self._accidentals[step, octave] = alter
        steps, semitones = self.staves.at(staff).interval
        return midi_of(step, alter, sounds) + semitones, moved(spelled(step, alter, sounds), steps, semitones)

    def _tempo(self, item: Element) -> None:
        if self.tempo is None and not self.bars:
            bpm = decimal(item.get("midi.bpm")) or decimal(item.get("mm"))
            unit = Fraction(4, whole(item.get("mm.unit")) or 4) if item.get("midi.bpm") is None else Fraction(1)
            if bpm and 10 <= bpm * unit <= 500:
                self.tempo = float(bpm * unit)

    def _title(self) -> str:
        for item in self.root.iter():
            if local(item) == "title":
                text = " ".join("".join(item.itertext()).split())
                if text:
                    return text
        return ""

    def _composer(self) -> str:
        for item in self.root.iter():
            if local(item) == "composer" or (local(item) == "persName" and item.get("role") == "composer"):
                text = " ".join("".join(item.itertext()).split())
                if text:
                    return text
        return ""
