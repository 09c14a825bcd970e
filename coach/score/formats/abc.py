"""How an ABC tune becomes a page (ABC 2.1, https://abcnotation.com/wiki/abc:standard:v2.1)."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from functools import reduce
from operator import or_

from coach.errors import CoachError
from coach.score.counting import bar_words
from coach.score.formats.abc_bars import CodedBar, CodedNote
from coach.score.formats.abc_fields import (
    Key,
    VoiceField,
    composer_of,
    default_unit,
    key_of,
    metre_of,
    score_of,
    tempo_of,
    unit_of,
    voice_field,
)
from coach.score.formats.abc_file import Line, Tune, plain
from coach.score.formats.abc_music import VoiceReader
from coach.score.formats.abc_words import lay_words
from coach.score.page import (
    Mark,
    Page,
    Part,
    Printed,
    Rest,
    Tally,
    changes_of_key,
    numbered,
    with_held_rests,
)
from coach.score.piece import Bar, Quarters
from coach.score.spelling import leading, moved, printable
from coach.score.waymark_places import Posts

INLINE = re.compile(r"\[([A-Za-z]):([^\[\]]*)\]")
MOST_VOICES = 40


def read_abc(tune: Tune, name: str) -> Page:
    """Read one tune.

    Args:
        tune: The tune.
        name: What the player calls its source.

    Raises:
        CoachError: what is no music code, or voices that do not fit together.
    """
    reader = _TuneReader(tune, name)
    for line in tune.lines:
        reader.line(line)
    return reader.page()


class _TuneReader:
    def __init__(self, tune: Tune, name: str) -> None:
        self.tune = tune
        self.name = name
        self.tally = Tally(name)
        self.voices: dict[str, VoiceReader] = {}
        self.fields: dict[str, VoiceField] = {}
        self.staves: list[list[str]] = []
        self.body = False
        self.key = Key()
        self.metre = ""
        self.unit: Quarters | None = None
        self.tempo: str | None = None
        self.composers: list[str] = []
        self.symbols: dict[str, str] = {}
        self.propagate = "pitch"
        self.macros = False
        self.current: str | None = None
        self.words: list[str] = []
        self.pending: tuple[str, str] | None = None

    def line(self, line: Line) -> None:
        text = line.text
        field = line.field if re.match(r"[A-Za-z+]:(?![|:])", text) else None
        if field and field[0] == "+" and self.pending:
            letter, before = self.pending
            if letter == "w" and self.words:
                self.words[-1] += " " + field[1]
            elif letter == "C" and self.composers:
                self.composers[-1] = f"{before} {plain(field[1])}"
            return
        if field and field[0] == "w":
            self.words.append(field[1])
            self.pending = ("w", field[1])
            return
        if self.words and text.strip():
            self._lay_words()
        if text.startswith("%%"):
            self._directive(text[2:].strip())
        elif field:
            self.pending = (field[0], plain(field[1]))
            self._field(field[0], field[1])
        elif self.body and text.strip():
            self._music(line)

    def page(self) -> Page:
        self._lay_words()
        for voice in self.voices.values():
            voice.close()
        page = Page(title=self.tune.title, composer=composer_of(self.composers))
        if self.tempo is not None:
            page.quarter_bpm = tempo_of(self.tempo, self.unit or default_unit(self.metre))
        self._fill(page)
        graces = sum(voice.graces for voice in self.voices.values())
        if graces:
            page.remarks.append(f"left out {graces} grace note{'s' if graces > 1 else ''}")
        if self.macros:
            page.remarks.append("left out what its macros stand for")
        return page

    def _directive(self, text: str) -> None:
        word = text.split(None, 1)
        if word and word[0] in ("score", "staves") and len(word) > 1 and not self.staves:
            self.staves = score_of(word[1])
        elif word and word[0] == "propagate-accidentals" and len(word) > 1:
            self.propagate = word[1].strip() if word[1].strip() in ("not", "octave", "pitch") else "pitch"
            for voice in self.voices.values():
                voice.propagate = self.propagate

    def _field(self, letter: str, text: str) -> None:
        """An information field, on its own line or inline."""
        voices = [self._voice()] if self.current is not None else list(self.voices.values())
        if letter == "V":
            self._choose(text)
        elif letter == "K":
            key = key_of(text)
            if not self.body:
                self.body = True
                self.key = key or Key()
                # A later metre does not change the unit that follows from that of the header (ABC 2.1, 3.1.7).
                self.unit = self.unit or default_unit(self.metre)
                common = VoiceField()
                voice_field(text, common)
                self.fields.setdefault("", common)
            elif key:
                # What stands before the first voice is the key of all of them.
                self.key = self.key if voices else key
                for voice in voices:
                    voice.set_key(key)
        elif letter == "M":
            metre = metre_of(text)
            if metre is not None:
                self.metre = self.metre if voices else metre
                for voice in voices:
                    voice.set_metre(metre)
        elif letter == "L":
            unit = unit_of(text)
            if unit is None:
                raise CoachError(f'cannot read "{self.name}": its unit note length "{text}" makes no sense')
            self.unit = self.unit if voices else unit
            for voice in voices:
                voice.unit = unit
        elif letter == "Q" and self.tempo is None:
            self.tempo = text
        elif letter == "C" and not self.body:
            self.composers.append(plain(text))
        elif letter == "U":
            found = re.match(r"\s*(\S)\s*=\s*[!+]?([\w().<>-]+)[!+]?", text)
            if found:
                self.symbols[found[1]] = found[2]
                for voice in self.voices.values():
                    voice.symbols[found[1]] = found[2]
        elif letter == "I":
            self._directive(text)
        elif letter == "m":
            self.macros = True

    def _choose(self, text: str) -> None:
        found = re.match(r"\s*([^\s\]]+)\s*(.*)", text, re.S)
        if not found:
            return
        label = found[1]
        if label not in self.fields and len(self.fields) > MOST_VOICES:
            raise CoachError(f'cannot read "{self.name}": it has more than {MOST_VOICES} voices')
        properties = self.fields.get(label)
        if properties is None:
            common = self.fields.get("", VoiceField())
            properties = self.fields[label] = replace(common, name="", merge=False)
        voice_field(found[2], properties)
        if self.body:
            self.current = label

    def _voice(self) -> VoiceReader:
        label = self.current
        if label is None:
            label = next((label for label in self.fields if label), "1")
            self.current = label
        if label not in self.voices:
            properties = self.fields.setdefault(label, replace(self.fields.get("", VoiceField())))
            voice = VoiceReader(label, self.tally, self.unit, self.metre, self.key, properties)
            voice.symbols |= self.symbols
            voice.propagate = self.propagate
            self.voices[label] = voice
        return self.voices[label]

    def _music(self, line: Line) -> None:
        text = line.text
        place = 0
        for found in INLINE.finditer(text):
            self._code(text[place : found.start()], line.number)
            self._field(found[1], found[2].strip())
            place = found.end()
        self._code(text[place:], line.number)

    def _code(self, text: str, number: int) -> None:
        if text.strip():
            self._voice().read(text, number)

    def _lay_words(self) -> None:
        if self.words:
            voice = self._voice()
            for stanza, words in enumerate(self.words):
                lay_words(words, stanza, voice.unsung)
            voice.unsung = []
            self.words = []

    def _order(self) -> list[list[VoiceReader]]:
        """Voices a staff, from the top; voices that %%score leaves out are not on the page."""
        if self.staves:
            staves = [[self.voices[label] for label in staff if label in self.voices] for staff in self.staves]
            return [staff for staff in staves if staff]
        staves = []
        for label in [label for label in self.fields if label in self.voices]:
            if self.voices[label].properties.merge and staves:
                staves[-1].append(self.voices[label])
            else:
                staves.append([self.voices[label]])
        return staves

    def _fill(self, page: Page) -> None:
        staves = self._order()
        voices = [voice for staff in staves for voice in staff if any(bar.notes for bar in voice.bars)]
        unseen = [voice for voice in self.voices.values() if voice not in [v for staff in staves for v in staff]]
        if unseen:
            page.remarks.append("left out voices that the page does not show: " + ", ".join(v.label for v in unseen))
        drums = [voice for voice in voices if voice.properties.drums]
        if drums:
            page.remarks.append("left out percussion")
            voices = [voice for voice in voices if voice not in drums]
        starts, page.bars = self._aligned(voices, page)
        page.fifths, page.minor = printable(self.key.fifths), self.key.minor
        key = leading(voice.begins_in for voice in voices if voice.begins_in is not None)
        if key is not None:
            voice = next(voice for voice in voices if voice.begins_in == key)
            begun = starts[voice.label]
            later = ((begun[bar] + place, fifths) for bar, place, fifths in voice.later_keys if bar < len(begun))
            page.fifths, page.minor = key.sounding, voice.begins_minor
            page.key_changes = changes_of_key(key.sounding, later)
        rests: list[Rest] = []
        for place, staff in enumerate(staves):
            names = [voice.properties.name for voice in staff if voice.properties.name]
            page.parts.append(Part(" ".join(names) if len(staff) > 1 else (names[0] if names else "")))
            for row, voice in enumerate(staff):
                if voice in voices:
                    shift = _clef_shift(voice)
                    page.marks += [
                        _mark(place, f"{row}.{note.overlay}", start, note, shift)
                        for bar, start in zip(voice.bars, starts[voice.label], strict=True)
                        for note in bar.notes
                    ]
                    rests += [
                        Rest(place, f"{row}.{overlay}", start + at)
                        for bar, start in zip(voice.bars, starts[voice.label], strict=True)
                        for at, overlay in bar.held_rests
                    ]
        page.marks = with_held_rests(page.marks, rests, page.bars)
        posts = Posts()
        for voice in voices:
            begun = starts[voice.label]
            for place, at, text in voice.texts:
                if place < len(begun):
                    here = voice.bars[place].length if at is None else at
                    posts.text(text, begun[place] + here, begun[place])
        posts.fill(page)

    def _end_together(self, voices: list[VoiceReader], page: Page) -> None:
        """Let a voice rest to the end that stops some bars early and agrees with the longest one until then."""
        longest = max(voices, key=lambda voice: len(voice.bars))
        lengths = [bar.length for bar in longest.bars]
        for voice in voices:
            missing = len(lengths) - len(voice.bars)
            if missing and [bar.length for bar in voice.bars] == lengths[: len(voice.bars)]:
                voice.bars += [CodedBar(bar.metre, length=bar.length) for bar in longest.bars[-missing:]]
                bars = "one bar" if missing == 1 else f"{missing} bars"
                page.remarks.append(f"voice {voice.properties.name or voice.label} ends {bars} before the others")

    def _aligned(self, voices: list[VoiceReader], page: Page) -> tuple[dict[str, list[Quarters]], list[Bar]]:
        """Where every bar of every voice starts, and the bars of the page.

        Voices meet at their bar lines; one that has too little in a bar waits for the others, which is said. Voices
        with unlike numbers of bars must at least take the same time altogether.

        Raises:
            CoachError: the voices do not fit together.
        """
        if not voices:
            return {}, []
        self._end_together(voices, page)
        counts = {len(voice.bars) for voice in voices}
        if len(counts) > 1:
            totals = {sum((bar.length for bar in voice.bars), Fraction(0)) for voice in voices}
            if len(totals) > 1:
                told = ", ".join(f"{voice.properties.name or voice.label} {len(voice.bars)}" for voice in voices)
                raise CoachError(f'cannot read "{self.name}": its voices have unlike numbers of bars ({told})')
            longest = max(voices, key=lambda voice: len(voice.bars))
            starts = {voice.label: _running([bar.length for bar in voice.bars]) for voice in voices}
            return starts, numbered([_printed(bar, bar.length) for bar in longest.bars])
        lengths = []
        short: list[tuple[int, str]] = []
        for place in range(counts.pop()):
            long = [voice.bars[place].length for voice in voices]
            lengths.append(max(long))
            for voice, length in zip(voices, long, strict=True):
                if length < max(long) and voice.bars[place].notes:
                    short.append((place, voice.properties.name or voice.label))
        running = _running(lengths)
        printed = []
        for place, length in enumerate(lengths):
            here = [voice.bars[place] for voice in voices]
            double, repeat = any(bar.double for bar in here), reduce(or_, (bar.repeat for bar in here))
            printed.append(_printed(replace(here[0], double=double, repeat=repeat), length))
        bars = numbered(printed)
        if short:
            named = [f"{bar_words(bars[place].number)} of voice {name}" for place, name in short[:2]]
            more = f" and {len(short) - 2} more" if len(short) > 2 else ""
            page.remarks.append(f"shorter than the other voices, and so filled up with rests: {', '.join(named)}{more}")
        return {voice.label: running for voice in voices}, bars


def _running(lengths: list[Quarters]) -> list[Quarters]:
    starts, now = [], Fraction(0)
    for length in lengths:
        starts.append(now)
        now += length
    return starts


def _printed(bar: CodedBar, length: Quarters) -> Printed:
    return Printed(length, bar.metre, bar.double, bar.repeat)


def _clef_shift(voice: VoiceReader) -> int:
    """Octaves that an octave clef moves the voice.

    By the standard a player transposes a voice under "treble-8", but many files under this clef are coded as they
    sound: whichever lies in a singer's range is meant.
    """
    pitches = sorted(note.midi for bar in voice.bars for note in bar.notes)
    if not voice.properties.clef or voice.properties.octave or not pitches:
        return 0
    middle = pitches[len(pitches) // 2]
    if voice.properties.clef < 0:
        return -1 if middle > 62 else 0
    return 1 if middle < 72 else 0


def _mark(part: int, line: str, start: Quarters, note: CodedNote, shift: int) -> Mark:
    return Mark(
        part=part,
        staff=1,
        line=line,
        onset=start + note.place,
        duration=note.duration,
        midi=note.midi + 12 * shift,
        pitch=moved(note.pitch, 7 * shift, 12 * shift),
        tied_on=note.tied_on,
        fermata=note.fermata,
        breath=note.breath,
        finger=note.finger,
        words=tuple(note.words),
    )
