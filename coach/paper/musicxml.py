"""A sheet as MusicXML (MusicXML 4.0, W3C Music Notation Community Group), written by music21.

music21 settles what engraving asks for: note values and their ties, beams and the accidentals of each voice.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from importlib import import_module
from itertools import groupby
from typing import Any
from xml.etree.ElementTree import Element, SubElement, fromstring, tostring

from coach.fingering.plan import SIDES, Pedal, Side
from coach.paper.clefs import clefs_of
from coach.paper.musicxml_accidentals import settle_accidentals
from coach.paper.musicxml_waymarks import add_waymarks
from coach.paper.sheet import Sheet, Stroke
from coach.paper.staves import Staff, Stem, by_beat, gaps, staves_of
from coach.score.piece import Bar, Quarters
from coach.score.spelling import parsed

HEAD = (
    b'<?xml version="1.0" encoding="utf-8"?>\n'
    b'<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    b'"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
"""How a document begins."""

STEMS: dict[Side, tuple[str, str]] = {"right": ("up", "down"), "left": ("down", "up")}
"""Where the stems point of the outer of several voices of a hand, and those of its other notes. Those of whole chords
point between the staves, away from the fingers."""

OUTSIDE: dict[Side, str] = {"right": "above", "left": "below"}
"""Where a hand's fingers stand, and words: away from the other staff."""

INSIDE: dict[Side, str] = {"right": "below", "left": "above"}
"""Where its slurs are: a slur on the side of the fingers would cross them out."""

SLURS = 3
"""So many numbers tell the slurs of a staff apart, which follow each other: readers know six of them (MusicXML 3.1)."""

LONGEST_REST = 4
"""Quarter notes of the longest rest that stands by itself: a semibreve's."""

DOTTED = 1.5
"""Quarter notes of a dotted crotchet."""

FOOT: dict[Pedal, str] = {"down": "start", "change": "change", "up": "stop"}
"""How MusicXML calls what the foot does."""


def musicxml_of(sheet: Sheet) -> bytes:
    """The sheet as a document of one part with two staves."""
    music21: Any = import_module("music21")
    exporter = music21.musicxml.m21ToXml.GeneralObjectExporter(_Writer(sheet, music21).score())
    root = fromstring(exporter.parse())
    _settle(root, sheet.composer)
    settle_accidentals(root)
    add_waymarks(root, sheet.bars)
    _add_pedal(root, sheet)
    return HEAD + tostring(root, encoding="unicode").encode("utf-8") + b"\n"


def _settle(root: Element, composer: str) -> None:
    """Mend what music21 cannot say.

    It names parts by random numbers, and itself as the composer where none is known; it numbers the slurs of each staff
    by itself, so that those of two staves that overlap would be taken for one another; a chord has a finger for each of
    its notes or for none; the line that opens a bar comes after the notes of the upper staff; and a new clef of that
    staff does not name it.
    """
    for part in root.iter():
        if part.tag in ("score-part", "part"):
            part.set("id", "P1")
    for measure in root.iter("measure"):
        for clef in measure.iter("clef"):
            clef.set("number", clef.get("number", "1"))
        for line in measure.findall("barline[@location='left']"):
            measure.remove(line)
            measure.insert(0, line)
    for identification in root.findall("identification"):
        for creator in identification.findall("creator"):
            if not composer:
                identification.remove(creator)
    for note in root.iter("note"):
        for slur in note.iter("slur"):
            number = (int(slur.get("number", "1")) - 1) % SLURS + 1
            slur.set("number", str(number + (SLURS if note.findtext("staff") == "2" else 0)))
    for notations in root.iter("notations"):
        for technical in notations.findall("technical"):
            for finger in technical.findall("fingering"):
                if not finger.text:
                    technical.remove(finger)
            if len(technical) == 0:
                notations.remove(technical)
    for note in root.iter("note"):
        for notations in note.findall("notations"):
            if len(notations) == 0:
                note.remove(notations)


def _add_pedal(root: Element, sheet: Sheet) -> None:
    """Mark the pedal under the lower staff. (music21 ties its end to the end of a note; a foot comes up where the next
    chord is struck.)"""
    divisions = int(root.findtext("part/measure/attributes/divisions", "1"))
    feet = list(sheet.pedal)
    for measure, bar in zip(root.iterfind("part/measure"), sheet.bars, strict=True):
        place = (
            1 + [child.tag for child in measure].index("attributes") if measure.find("attributes") is not None else 0
        )
        while feet and feet[0][0] < bar.end:
            onset, foot = feet.pop(0)
            direction = Element("direction", placement="below")
            kind = SubElement(direction, "direction-type")
            SubElement(kind, "pedal", type=FOOT[foot], line="yes", sign="no")
            SubElement(direction, "offset").text = str(round((onset - bar.onset) * divisions))
            SubElement(direction, "staff").text = "2"
            measure.insert(place, direction)
            place += 1


def _metronome(quarter_bpm: float, bar: Bar) -> tuple[int, float]:
    """Number and note of a metronome mark: a dotted crotchet where that is the pulse, as in 6/8 (common practice, no
    source), and has a whole number; else a crotchet."""
    dotted = quarter_bpm / DOTTED
    if bar.pulse == DOTTED and abs(dotted - round(dotted)) < 0.01:
        return round(dotted), DOTTED
    return round(quarter_bpm), 1.0


def _syllabics(strokes: Sequence[Stroke]) -> dict[tuple[int, int], str]:
    """Where each syllable stands in its word, by the stroke's place and the stanza from 1 (MusicXML 4.0, syllabic)."""
    found: dict[tuple[int, int], str] = {}
    goes_on: dict[int, bool] = {}
    for place, stroke in enumerate(strokes):
        for stanza, syllable in enumerate(stroke.words, 1):
            if syllable:
                inside, more = goes_on.get(stanza, False), syllable.endswith("-")
                found[place, stanza] = ("middle" if more else "end") if inside else ("begin" if more else "single")
                goes_on[stanza] = more
    return found


class _Writer:
    """Writes one sheet; remembers what each stroke became in music21, for signs that go from one to another."""

    def __init__(self, sheet: Sheet, music21: Any) -> None:
        self._sheet = sheet
        self._m21 = music21
        self._starts: dict[int, Any] = {}
        self._ends: dict[int, Any] = {}
        self._syllabics = _syllabics(sheet.strokes)

    def score(self) -> Any:
        """The sheet as music21's score."""
        sheet = self._sheet
        score = self._m21.stream.Score()
        score.metadata = self._m21.metadata.Metadata(title=sheet.title)
        if sheet.composer:
            score.metadata.composer = sheet.composer
        parts = {side: self._part(side) for side in SIDES}
        for side, part in parts.items():
            score.insert(0, part)
            for sign in (*self._slurs(side), *self._rolls(side)):
                part.insert(0, sign)
        score.insert(0, self._m21.layout.StaffGroup(list(parts.values()), symbol="brace"))
        return score

    # Staves.

    def _part(self, side: Side) -> Any:
        part = self._m21.stream.PartStaff(id=side)
        before, read_in = "", ""
        words, clefs = self._words(side), clefs_of(self._sheet, side)
        for place, (bar, staff) in enumerate(zip(self._sheet.bars, staves_of(self._sheet, side), strict=True)):
            measure = self._measure(bar, staff, side)
            for onset, said in words.get(place, ()):
                measure.insert(onset - bar.onset, said)
            if clefs[place] != read_in:
                read_in = clefs[place]
                measure.clef = self._m21.clef.TrebleClef() if read_in == "treble" else self._m21.clef.BassClef()
            if place == 0:
                self._open(measure, side)
            for onset, fifths in self._sheet.key_changes:
                if bar.onset <= onset < bar.end:
                    measure.insert(onset - bar.onset, self._m21.key.KeySignature(fifths))
            sign = self._sheet.lines.metres[place]
            if sign or bar.metre != before:
                # One that is not printed still tells music21 how long the bar is.
                measure.timeSignature = self._m21.meter.TimeSignature(bar.metre)
                measure.timeSignature.style.hideObjectOnPrint = sign != bar.metre
            before = bar.metre
            self._close(measure, place)
            part.append(measure)
        for bracket in self._endings(part):
            part.insert(0, bracket)
        return part

    def _close(self, measure: Any, place: int) -> None:
        """The lines on both sides of a bar."""
        bars = self._sheet.bars
        if bars[place].repeat.opens:
            measure.leftBarline = self._m21.bar.Repeat(direction="start")
        if bars[place].repeat.closes:
            measure.rightBarline = self._m21.bar.Repeat(direction="end")
            return
        line = "final" if place == len(bars) - 1 else "double" if bars[place].double else "regular"
        measure.rightBarline = self._m21.bar.Barline("none" if place in self._sheet.lines.open_bars else line)

    def _endings(self, part: Any) -> Iterator[Any]:
        """The brackets over endings, each over all its bars."""
        measures = list(part.getElementsByClass(self._m21.stream.Measure))
        together = groupby(zip(self._sheet.bars, measures, strict=True), key=lambda each: each[0].repeat.bracket)
        for bracket, under in together:
            if bracket:
                yield self._m21.spanner.RepeatBracket([measure for _, measure in under], number=bracket)

    def _open(self, measure: Any, side: Side) -> None:
        """The key, and the tempo where one is printed."""
        key = self._m21.key.KeySignature(self._sheet.fifths)
        measure.keySignature = key.asKey("minor" if self._sheet.minor else "major")
        if side == "right" and self._sheet.quarter_bpm:
            number, referent = _metronome(self._sheet.quarter_bpm, self._sheet.bars[0])
            mark = self._m21.tempo.MetronomeMark(number=number, referent=referent)
            mark.placement = "above"
            measure.insert(0, mark)

    def _measure(self, bar: Bar, staff: Staff, side: Side) -> Any:
        measure = self._m21.stream.Measure(number=bar.number)
        # Without these music21 fills a short bar up with rests.
        measure.paddingLeft = bar.skipped
        measure.paddingRight = max(bar.full - bar.skipped - bar.duration, 0)
        lines = [[(stem[0].onset, self._element(stem)) for stem in line] for line in staff.lines] or [[]]
        innermost = len(lines) - 1 if side == "right" else min(1, len(lines) - 1)
        for number, line in enumerate(lines):
            for _, element in line:
                element.stemDirection = STEMS[side][1 if number == innermost else 0]
        # Where the whole hand is silent its first line has rests; a line that is silent beside others has hidden ones.
        for number, stems in enumerate(staff.lines or ((),)):
            sounding = [(stem[0].onset, stem[0].end) for stem in stems]
            rests = list(staff.rests) if number == 0 else []
            lines[number] += [(onset, self._rest(onset, end, bar)) for onset, end in rests]
            for onset, end in gaps(bar, [*sounding, *rests]):
                lines[number] += [(at, self._hidden(at, until)) for at, until in by_beat(bar, onset, end)]
        # Voices are numbered from the one with its stems up.
        for number, line in enumerate(lines if side == "right" else [*lines[1:], lines[0]], 1):
            voice = self._m21.stream.Voice(id=str(number)) if len(lines) > 1 else measure
            for onset, element in line:
                voice.insert(onset - bar.onset, element)
            if voice is not measure:
                measure.insert(0, voice)
        return measure

    def _words(self, side: Side) -> dict[int, list[tuple[Quarters, Any]]]:
        """The numbers of the phrases, where there are several, and what is said above or below a staff, by the bar."""
        said: list[tuple[Quarters, Any]] = []
        if side == "right" and len(self._sheet.phrases) > 1:
            said += [(onset, self._m21.expressions.RehearsalMark(str(n))) for onset, n in self._sheet.phrases]
        for one in self._sheet.directions:
            if one.hand == side:
                words = self._m21.expressions.TextExpression(one.text)
                words.placement = OUTSIDE[side]
                said.append((one.onset, words))
        by_bar: dict[int, list[tuple[Quarters, Any]]] = {}
        for onset, words in said:
            by_bar.setdefault(self._bar_of(onset), []).append((onset, words))
        return by_bar

    def _bar_of(self, onset: Quarters) -> int:
        """The place of the bar in which something starts."""
        return max(bisect_right(self._sheet.bars, onset, key=lambda bar: bar.onset) - 1, 0)

    # Notes.

    def _element(self, stem: Stem) -> Any:
        """The notes on one stem, as music21's note or chord."""
        notes = []
        for portion in stem:
            stroke = self._sheet.strokes[portion.place]
            one = self._m21.note.Note(self._pitch(stroke.pitch))
            one.noteheadParenthesis = stroke.left_out
            if portion.tied_in or portion.tied_on:
                one.tie = self._m21.tie.Tie(
                    "continue" if portion.tied_in and portion.tied_on else "stop" if portion.tied_in else "start"
                )
            notes.append(one)
        element = self._m21.chord.Chord(notes) if len(notes) > 1 else notes[0]
        element.quarterLength = stem[0].end - stem[0].onset
        strokes = [(portion.place, self._sheet.strokes[portion.place]) for portion in stem]
        for place, _ in strokes:
            self._starts.setdefault(place, element)
            self._ends[place] = element
        if not stem[0].tied_in:
            self._mark_start(element, strokes)
        if not stem[0].tied_on:
            self._mark_end(element, strokes)
        return element

    def _mark_start(self, element: Any, strokes: Sequence[tuple[int, Stroke]]) -> None:
        """Fingers and words."""
        if any(stroke.finger for _, stroke in strokes):
            # music21 hands a chord's fingers out in the order of its notes.
            for _, stroke in strokes:
                finger = self._m21.articulations.Fingering(stroke.finger)
                finger.placement = OUTSIDE[stroke.hand]
                element.articulations.append(finger)
        for place, stroke in strokes:
            for stanza, syllable in enumerate(stroke.words, 1):
                if syllable:
                    kind, text = self._syllabics[place, stanza], syllable.removesuffix("-")
                    element.lyrics.append(self._m21.note.Lyric(text, number=stanza, applyRaw=True, syllabic=kind))

    def _mark_end(self, element: Any, strokes: Sequence[tuple[int, Stroke]]) -> None:
        """Fermata and comma."""
        side = strokes[0][1].hand
        if any(stroke.fermata for _, stroke in strokes):
            fermata = self._m21.expressions.Fermata()
            fermata.type = "upright" if side == "right" else "inverted"
            element.expressions.append(fermata)
        if any(place in self._sheet.commas for place, _ in strokes):
            element.articulations.append(self._m21.articulations.BreathMark())

    def _pitch(self, spelling: str) -> Any:
        step, alter, octave = parsed(spelling)
        return self._m21.pitch.Pitch(step=step, octave=octave, accidental=alter or None)

    def _rest(self, onset: Quarters, end: Quarters, bar: Bar) -> Any:
        """A silence of the whole hand: of a whole bar the bar's rest, else of the length that it has.

        A pickup and the end of an excerpt are no whole bars. Without metre nobody knows how long a bar is, so that its
        rest stands only where no single one would do.
        """
        rest = self._m21.note.Rest(quarterLength=end - onset)
        whole = bar.duration == bar.full if bar.metred else bar.duration > LONGEST_REST
        rest.fullMeasure = whole and (onset, end) == (bar.onset, bar.end)
        return rest

    def _hidden(self, onset: Quarters, end: Quarters) -> Any:
        rest = self._m21.note.Rest(quarterLength=end - onset)
        rest.style.hideObjectOnPrint = True
        return rest

    # Signs over several notes.

    def _slurs(self, side: Side) -> Iterator[Any]:
        for first, last in self._sheet.slurs:
            if self._sheet.strokes[first].hand == side:
                slur = self._m21.spanner.Slur(self._starts[first], self._ends[last])
                slur.placement = INSIDE[side]
                yield slur

    def _rolls(self, side: Side) -> Iterator[Any]:
        """The wavy line of each rolled chord, through all its stems."""
        rolled = [(p, one) for p, one in enumerate(self._sheet.strokes) if one.rolled and one.hand == side]
        for _, together in groupby(rolled, key=lambda each: each[1].onset):
            elements = list({id(self._starts[place]): self._starts[place] for place, _ in together}.values())
            if len(elements) == 1:
                elements[0].expressions.append(self._m21.expressions.ArpeggioMark())
            else:
                yield self._m21.expressions.ArpeggioMarkSpanner(elements)
