"""How one part of a MusicXML score is read, bar by bar."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from xml.etree.ElementTree import Element

from coach.errors import CoachError
from coach.score.formats.musicxml_bars import BarLine
from coach.score.formats.musicxml_clock import LENGTHS, Clock, tuplet_length
from coach.score.formats.musicxml_waymarks import waymarks_of
from coach.score.formats.xml import decimal, local, whole
from coach.score.page import FINEST, STEPS, Mark, Rest, Tally, midi_of, spelled
from coach.score.piece import Quarters
from coach.score.repeats import ending_of
from coach.score.spelling import Signature, moved, signature_of
from coach.score.stanzas import stanza_places
from coach.score.waymark_places import Posts

DOUBLE = {"light-light", "light-heavy", "heavy-light", "heavy-heavy", "heavy"}
"""Values of bar-style that close a section."""


class PartReader:
    """Reads one part bar by bar, because the length of a bar is known only from all parts together."""

    def __init__(self, place: int, part: Element, tally: Tally, posts: Posts, all_hidden: bool = False) -> None:
        self.place = place
        self.name = tally.name
        self._tally = tally
        self._posts = posts
        self.measures = part.findall("measure")
        self.marks: list[Mark] = []
        self.rests: list[Rest] = []
        self.hidden: list[Mark] = []
        """Notes that sound from the file but are not printed, unless the whole score is of that kind."""
        self._all_hidden = all_hidden
        self.staves = 1
        self.fault = ""
        self.metre = ""
        self.key: Signature | None = None
        self.minor: bool | None = None
        self.later_keys: list[tuple[Quarters, int]] = []
        self.quarter_bpm: float | None = None
        self.lines: list[BarLine] = []
        self.graces = self.cues = self.drums = self.slashes = 0
        self._clock = Clock()
        self._lengths: dict[str, Quarters] = {}
        self._transpose = (0, 0)
        self._signature = Signature(0, 0)
        self._stanzas = stanza_places(_stanza(lyric) for lyric in part.iter("lyric") if lyric.find("text") is not None)
        self._bar = ""

    def read_bar(self, place: int, start: Quarters) -> Quarters:
        """Read a bar that starts at `start` and return its length in quarter notes."""
        self.lines = []
        if place >= len(self.measures):
            return Fraction(0)
        self._bar = self.measures[place].get("number") or str(place + 1)
        clock, last = self._clock, start
        clock.begin_bar()
        begun = len(self.marks)
        for item in self.measures[place]:
            tag = local(item)
            if tag == "note":
                last = self._note_or_rest(item, start, last)
            elif tag == "backup":
                clock.back(self._length(item))
            elif tag == "forward":
                clock.forward(self._length(item))
            elif tag == "attributes":
                self._attributes(item, start + clock.here)
            elif tag == "barline":
                where = item.get("location") or ("right" if clock.longest > 0 else "left")
                at = {"left": Fraction(0), "middle": clock.here}.get(where)
                self._barline(item, begun, at)
                self._waymarks(item, start, clock.longest if at is None else at)
            elif tag in ("direction", "sound"):
                if self.quarter_bpm is None and place == 0:
                    self.quarter_bpm = _tempo(item)
                self._waymarks(item, start, clock.here)
            if clock.exact.denominator > FINEST:
                raise CoachError(f'cannot read "{self.name}": bar {self._bar} has a rhythm that nobody can count')
        return clock.longest

    def _note_or_rest(self, item: Element, start: Quarters, last: Quarters) -> Quarters:
        """Read a `note` element and return its onset; a chord's further notes begin with its first, at `last`."""
        counted = self._length(item)
        exact = tuplet_length(item, counted, self._clock.division)
        length = counted if exact is None else exact
        if item.find("chord") is not None:
            onset = last
        elif item.find("grace") is not None:
            onset = start + self._clock.exact
        elif item.find("rest") is not None and exact is None:
            onset = start + self._clock.exact
            self._clock.forward(counted)
        else:
            onset = start + self._clock.sound(counted, exact)
        self._note(item, onset, length)
        return onset

    def _length(self, item: Element) -> Quarters:
        if item.find("grace") is not None:
            return Fraction(0)
        text = item.findtext("duration") or ""
        # The same few lengths come again and again.
        known = self._lengths.get(text)
        if known is not None:
            return known
        length = decimal(text)
        if length is None or length < 0:
            raise CoachError(f'cannot read "{self.name}": bar {self._bar} has a note without a sensible length')
        self._lengths[text] = length * self._clock.division
        return self._lengths[text]

    def _note(self, item: Element, onset: Quarters, length: Quarters) -> None:
        self._tally.note()
        if item.find("rest") is not None:
            if item.find("notations/fermata") is not None:
                self.rests.append(Rest(self.place, _line(item), onset))
            return
        if item.find("grace") is not None:
            self.graces += 1
            return
        if item.find("cue") is not None:
            self.cues += 1
            return
        if item.find("unpitched") is not None:
            self.drums += 1
            return
        if (item.findtext("notehead") or "").strip() == "slash":
            # A guitarist's beat: the place of the slash on the staff means no key.
            self.slashes += 1
            return
        pitch = item.find("pitch")
        if pitch is None:
            return
        if length == 0:
            raise CoachError(f'cannot read "{self.name}": bar {self._bar} has a note without a sensible length')
        midi, spelling = self._pitch(pitch)
        notations = item.findall("notations")
        ties = {tie.get("type") for tie in item.findall("tie")}
        ties |= {tie.get("type") for notation in notations for tie in notation.findall("tied")}
        (self.marks if is_printed(item) or self._all_hidden else self.hidden).append(
            Mark(
                part=self.place,
                staff=_staff(item),
                line=_line(item),
                onset=onset,
                duration=length,
                midi=midi,
                pitch=spelling,
                tied_in="stop" in ties or "continue" in ties,
                tied_on="start" in ties or "continue" in ties,
                fermata=any(notation.find("fermata") is not None for notation in notations),
                breath=any(
                    notation.find(f"articulations/{sign}") is not None
                    for notation in notations
                    for sign in ("breath-mark", "caesura")
                ),
                finger=_finger(notations),
                words=self._words(item),
            )
        )

    def _pitch(self, pitch: Element) -> tuple[int, str]:
        step = (pitch.findtext("step") or "").strip().upper()
        octave, sign = whole(pitch.findtext("octave")), pitch.findtext("alter") or "0"
        alter = whole(sign)
        if alter is None and decimal(sign) is not None:
            raise CoachError(f'cannot read "{self.name}": bar {self._bar} has quarter tones, which no keyboard has')
        if step not in STEPS or octave is None or alter is None or abs(alter) > 3 or not -1 <= octave <= 9:
            raise CoachError(f'cannot read "{self.name}": bar {self._bar} has a note whose pitch makes no sense')
        semitones = self._transpose[1]
        pitch_sounding = moved(spelled(step, alter, octave), self._signature.steps, semitones)
        return midi_of(step, alter, octave) + semitones, pitch_sounding

    def _attributes(self, item: Element, now: Quarters) -> None:
        divisions = decimal(item.findtext("divisions"))
        if item.find("divisions") is not None:
            if divisions is None or divisions <= 0:
                raise CoachError(f'cannot read "{self.name}": bar {self._bar} counts in divisions that make no sense')
            self._clock.division = 1 / divisions
            self._lengths = {}
        staves = decimal(item.findtext("staves"))
        if staves is not None and 1 <= staves <= 9:
            self.staves = max(self.staves, int(staves))
        fifths = decimal(item.findtext("key/fifths"))
        if fifths is not None and -7 <= fifths <= 7:
            self._signature = signature_of(int(fifths), *self._transpose)
        if fifths is not None and -7 <= fifths <= 7 and self.key is not None:
            self.later_keys.append((now, self._signature.sounding))
        elif fifths is not None and -7 <= fifths <= 7:
            self.key = self._signature
            mode = (item.findtext("key/mode") or "").strip().lower()
            self.minor = {"minor": True, "aeolian": True, "major": False, "ionian": False}.get(mode)
        time = item.find("time")
        if time is not None:
            self.metre = _metre(time) or self.metre
        repeated = [sign for tag in ("measure-repeat", "beat-repeat") for sign in item.iterfind(f"measure-style/{tag}")]
        if not self.fault and any(sign.get("type", "start") == "start" for sign in repeated):
            self.fault = f'cannot read "{self.name}": bar {self._bar} has signs that repeat what came before'
        transpose = item.find("transpose")
        if transpose is not None:
            octaves = int(decimal(transpose.findtext("octave-change")) or 0)
            chromatic = int(decimal(transpose.findtext("chromatic")) or 0)
            diatonic = decimal(transpose.findtext("diatonic"))
            steps = round(chromatic * 7 / 12) if diatonic is None else int(diatonic)
            self._transpose = (steps + 7 * octaves, chromatic + 12 * octaves)
            self._signature = signature_of(self._signature.written, *self._transpose)
            if self.key is not None and not self.marks:
                self.key = self._signature

    def _barline(self, item: Element, begun: int, at: Quarters | None) -> None:
        """Note what a bar line says: `at` is where it stands in the bar, None for the end."""
        turns = {sign.get("direction") for sign in item.iterfind("repeat")}
        ending = item.find("ending")
        begins: tuple[int, ...] = ()
        double = bool(turns) or (item.findtext("bar-style") or "").strip() in DOUBLE
        if ending is not None and ending.get("type") == "start":
            begins = ending_of(ending.get("number") or ending.text or "")
        elif ending is not None:
            double = True
        self.lines.append(
            BarLine(
                at,
                double=double,
                closes="backward" in turns,
                opens="forward" in turns,
                stops=ending is not None,
                begins=begins,
            )
        )
        if item.find("fermata") is not None and at != 0 and len(self.marks) > begun:
            end = max(mark.end for mark in self.marks[begun:])
            self.marks[begun:] = [
                replace(mark, fermata=True) if mark.end == end else mark for mark in self.marks[begun:]
            ]

    def _waymarks(self, item: Element, start: Quarters, at: Quarters) -> None:
        """Note what a direction or a bar line says of going elsewhere, `at` so far from the start of the bar."""
        moved = decimal(item.findtext("sound/offset") or item.findtext("offset"))
        onset = start + max(at + (moved or 0) * self._clock.division, Fraction(0))
        for said in waymarks_of(item):
            if isinstance(said, str):
                self._posts.text(said, onset, start)
            else:
                self._posts.add(said, onset, start)

    def _words(self, item: Element) -> tuple[str, ...]:
        syllables: dict[int, str] = {}
        for lyric in item.findall("lyric"):
            place = self._stanzas.get(_stanza(lyric))
            if place is None:
                continue
            text = "".join(
                (part.text or "") if local(part) == "text" else (part.text or " ")
                for part in lyric
                if local(part) in ("text", "elision")
            ).strip()
            kinds = [(kind.text or "").strip() for kind in lyric.findall("syllabic")]
            text = re.sub(r"^\d+\s*[.)]\s*(?=\S)", "", text)
            goes_on = bool(kinds) and kinds[-1] in ("begin", "middle") and text and not text.endswith("-")
            syllables[place] = text + ("-" if goes_on else "")
        return tuple(syllables.get(place, "") for place in range(max(syllables, default=-1) + 1))


def _stanza(lyric: Element) -> str:
    return lyric.get("number") or lyric.get("name") or "1"


def is_printed(note: Element) -> bool:
    return note.get("print-object") != "no"


def _line(item: Element) -> str:
    return (item.findtext("voice") or "").strip()


def _staff(item: Element) -> int:
    staff = whole(item.findtext("staff"))
    return staff if staff is not None and 1 <= staff <= 9 else 1


def _finger(notations: list[Element]) -> int | None:
    """The first printed finger; of a silent change ("4-3") the finger that strikes."""
    for notation in notations:
        for fingering in notation.iterfind("technical/fingering"):
            digit = re.match(r"\s*([1-5])(?!\d)", fingering.text or "")
            if digit and fingering.get("alternate") != "yes" and fingering.get("substitution") != "yes":
                return int(digit[1])
    return None


def _metre(time: Element) -> str:
    """ "6/8"; additive signatures are added up; "" for none."""
    counts: list[int] = []
    for beats in time.findall("beats"):
        counts += [int(number) for number in re.findall(r"\d{1,3}", beats.text or "")]
    unit = decimal(time.findtext("beat-type"))
    if not counts or not sum(counts) or unit is None or unit not in (1, 2, 4, 8, 16, 32, 64):
        return ""
    return f"{sum(counts)}/{int(unit)}"


def _tempo(item: Element) -> float | None:
    sound = item if local(item) == "sound" else item.find("sound")
    tempo = decimal(sound.get("tempo")) if sound is not None else None
    if tempo is None:
        mark = item.find("direction-type/metronome")
        if mark is None:
            return None
        unit = LENGTHS.get((mark.findtext("beat-unit") or "").strip())
        count = decimal(re.sub(r"[^\d.].*", "", (mark.findtext("per-minute") or "").strip()))
        if unit is None or count is None:
            return None
        tempo = count * unit * (Fraction(3, 2) if mark.find("beat-unit-dot") is not None else 1)
    return float(tempo) if 10 <= tempo <= 500 else None
