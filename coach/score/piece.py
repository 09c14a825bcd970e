"""What a piece is: notes in voices, bars, and what the page says about them. Nothing here reads files."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property, lru_cache
from itertools import groupby
from typing import Any

from coach.errors import CoachError
from coach.score.repeats import ONCE, Repeat, turns
from coach.score.waymarks import Waymark

Quarters = Fraction
"""A place or a length in quarter notes, exact, counted from the start of the piece as written."""

SATB = ("soprano", "alto", "tenor", "bass")
"""The four voices, from the top of the page; further voices are called "voice 5", "voice 6" and so on."""

FORM = 5
"""Version of the JSON form of a piece. Raise it when the form or the meaning of a field changes."""


@dataclass(frozen=True, slots=True)
class Note:
    """One note as it sounds: tied notes are a single note.

    Attributes:
        voice: "soprano", "alto", "tenor", "bass", "voice 5" ...
        onset: Start, in quarter notes.
        duration: Length in quarter notes, above zero.
        midi: MIDI note number, 60 is middle C.
        pitch: Spelling with octave in ASCII: "E5", "Bb3", "F##4".
        staff: 1 for the upper staff (right hand as written), 2 for the lower one; 0 where the page does not say.
        fermata: Whether the note carries a fermata.
        breath: Whether a breath mark or a caesura follows the note.
        finger: The finger printed in the source, 1 to 5, or None.
        words: The syllable under the note for each stanza, "" where a stanza has none; a hyphen at its end says that
            the word goes on ("Ho-").
    """

    voice: str
    onset: Quarters
    duration: Quarters
    midi: int
    pitch: str
    staff: int = 0
    fermata: bool = False
    breath: bool = False
    finger: int | None = None
    words: tuple[str, ...] = ()

    @property
    def end(self) -> Quarters:
        return self.onset + self.duration

    def __hash__(self) -> int:
        # Notes are looked up by the thousand and hashing every field is slow: these tell them apart.
        return hash((self.voice, self.midi, self.onset.numerator, self.onset.denominator))


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar as printed.

    Attributes:
        number: The printed number; 0 for a pickup.
        onset: Start in quarter notes.
        duration: Its actual length in quarter notes (a pickup is shorter than its metre).
        metre: Time signature, "4/4"; in music without one a metre as long as the bar, to count in.
        double: Whether it closes with a double or final bar line, a repeat or an ending.
        before: How much of it stands in the bar before: above zero for the second half of a bar that a repeat or a
            double line divides.
        repeat: Its repeat signs and its ending.
        metred: Whether the music has a metre, and the page says it.
        waymarks: Segno, Coda, Fine, D.C. and the like, by place.
    """

    number: int
    onset: Quarters
    duration: Quarters
    metre: str
    double: bool = False
    before: Quarters = Fraction(0)
    repeat: Repeat = ONCE
    metred: bool = True
    waymarks: tuple[Waymark, ...] = ()

    @property
    def end(self) -> Quarters:
        return self.onset + self.duration

    @property
    def full(self) -> Quarters:
        """Length in quarter notes that the metre asks for."""
        return _full_and_beat(self.metre)[0]

    @property
    def beat_length(self) -> Quarters:
        """One beat in quarter notes; a dotted beat in 6/8, 9/8 and 12/8."""
        return _full_and_beat(self.metre)[1]

    @property
    def pulse(self) -> Quarters:
        """What the foot taps, in quarter notes: the beat; all of a bar of 3/8, half a bar of 6/8 (common practice, no
        source); where there is no metre a quarter note."""
        if not self.metred:
            return Fraction(1)
        in_one = self.beat_length < 1 and self.full == 3 * self.beat_length and self.beat_length.numerator == 1
        return self.full if in_one else self.beat_length

    @property
    def skipped(self) -> Quarters:
        """How much of its metre goes by before its first note: in a pickup, and in a bar that is divided."""
        return max(self.full - self.duration, Fraction(0)) if self.number == 0 else self.before

    def beat(self, onset: Quarters) -> float:
        """The beat on which something starts, counted from 1; a pickup counts the beats that end its bar."""
        return round(float((onset - self.onset + self.skipped) / self.beat_length) + 1, 4)


def partings(bars: Sequence[Bar]) -> dict[Quarters, str]:
    """Where nobody plays what comes next on the page, each with the reason: another ending, a D.C. or D.S."""
    places = turns([bar.repeat for bar in bars])
    endings = {bars[place].onset: f"end of ending {bars[place - 1].repeat.bracket}" for place in places}
    return endings | {bar.onset + mark.at: mark.words for bar in bars for mark in bar.waymarks if mark.goes_back}


def music_ends(bars: Sequence[Bar]) -> dict[Quarters, str]:
    """Where players stop or go back, each with its words: a Fine, a D.C. or D.S."""
    return {bar.onset + mark.at: mark.words for bar in bars for mark in bar.waymarks if mark.ends_music}


@lru_cache(maxsize=256)
def _full_and_beat(metre: str) -> tuple[Quarters, Quarters]:
    """Length of a bar and of a beat in quarter notes."""
    count, unit = (int(number) for number in metre.split("/"))
    compound = count > 3 and count % 3 == 0 and unit >= 8
    return Fraction(count * 4, unit), Fraction(12 if compound else 4, unit)


USUAL_BPM = 72.0
"""Beats a minute for a piece that prints no tempo: a hymn sung without hurry (common practice, no source)."""

USUAL_DOTTED_BPM = 54.0
"""The same of dotted beats, as in 6/8: three quavers want more time than two (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A score as read: everything later floors need, nothing of the file it came from.

    Attributes:
        title: As printed, or the file's name.
        source: Where it came from, as the player would name it: a path, "corpus:bach/bwv269".
        voices: Names of the voices that have notes, from the top.
        notes: All notes by onset, then from high to low.
        bars: All bars in order, without gaps.
        composer: "" where unknown.
        fifths: Sharps (positive) or flats (negative) of the key signature at the start.
        minor: Whether the key at the start is minor.
        key_changes: Later signatures, each with the place from which it counts.
        quarter_bpm: Tempo at the start in quarter notes a minute, or None where none is printed.
        remarks: Sentences to tell the player: what was left out, guessed or mended.
        cuts: The player's own phrase boundaries, each the onset of the phrase after it and what it rests on; None
            where the player has made none.
    """

    title: str
    source: str
    voices: tuple[str, ...]
    notes: tuple[Note, ...]
    bars: tuple[Bar, ...]
    composer: str = ""
    fifths: int = 0
    minor: bool = False
    key_changes: tuple[tuple[Quarters, int], ...] = ()
    quarter_bpm: float | None = None
    remarks: tuple[str, ...] = ()
    cuts: tuple[tuple[Quarters, str], ...] | None = None

    @property
    def tempo(self) -> float:
        """Quarter notes a minute to play at: as printed, else at the usual pace of what is the pulse in most bars."""
        if self.quarter_bpm:
            return self.quarter_bpm
        lasting: dict[Quarters, Quarters] = {}
        for bar in self.bars:
            lasting[bar.pulse] = lasting.get(bar.pulse, Fraction(0)) + bar.duration
        pulse = max(lasting, key=lasting.__getitem__, default=Fraction(1))
        return float(pulse) * (USUAL_DOTTED_BPM if pulse.numerator == 3 else USUAL_BPM)

    @property
    def end(self) -> Quarters:
        """Where the last bar or the last note ends."""
        ends = [note.end for note in self.notes]
        if self.bars:
            ends.append(self.bars[-1].end)
        return max(ends, default=Fraction(0))

    def fifths_at(self, onset: Quarters) -> int:
        """The signature that counts at a place."""
        return fifths_at(self.fifths, self.key_changes, onset)

    def bar_at(self, onset: Quarters) -> Bar:
        """The bar that holds a place; the last bar for places beyond the end."""
        return self.bars[max(bisect_right(self.bars, onset, key=_onset) - 1, 0)]

    def to_json(self) -> dict[str, Any]:
        """A compact JSON form: `from_json` gives back an equal piece."""
        return {
            "form": FORM,
            "title": self.title,
            "source": self.source,
            "composer": self.composer,
            "voices": list(self.voices),
            "fifths": self.fifths,
            "minor": self.minor,
            "key_changes": [[str(onset), fifths] for onset, fifths in self.key_changes],
            "quarter_bpm": self.quarter_bpm,
            "remarks": list(self.remarks),
            "cuts": None if self.cuts is None else [[str(onset), why] for onset, why in self.cuts],
            "bars": [
                [
                    b.number,
                    str(b.onset),
                    str(b.duration),
                    b.metre,
                    int(b.double),
                    str(b.before),
                    [int(b.repeat.opens), int(b.repeat.closes), list(b.repeat.ending)],
                    int(b.metred),
                    [[mark.kind, str(mark.at), mark.until] for mark in b.waymarks],
                ]
                for b in self.bars
            ],
            "notes": [
                [
                    self.voices.index(n.voice),
                    str(n.onset),
                    str(n.duration),
                    n.midi,
                    n.pitch,
                    n.staff,
                    int(n.fermata),
                    int(n.breath),
                    n.finger,
                    list(n.words),
                ]
                for n in self.notes
            ],
        }

    @classmethod
    def from_json(cls, form: dict[str, Any]) -> Piece:
        """Read the form that `to_json` writes.

        Raises:
            KeyError, ValueError, TypeError: the form is of another version or damaged.
        """
        if form["form"] != FORM:
            raise ValueError(f"form {form['form']} of a piece, not {FORM}")
        voices = tuple(form["voices"])
        notes = tuple(
            Note(
                voice=voices[voice],
                onset=Fraction(onset),
                duration=Fraction(duration),
                midi=midi,
                pitch=pitch,
                staff=staff,
                fermata=bool(fermata),
                breath=bool(breath),
                finger=finger,
                words=tuple(words),
            )
            for voice, onset, duration, midi, pitch, staff, fermata, breath, finger, words in form["notes"]
        )
        bars = tuple(map(_bar_of, form["bars"]))
        return cls(
            title=form["title"],
            source=form["source"],
            voices=voices,
            notes=notes,
            bars=bars,
            composer=form["composer"],
            fifths=form["fifths"],
            minor=form["minor"],
            key_changes=tuple((Fraction(onset), fifths) for onset, fifths in form["key_changes"]),
            quarter_bpm=form["quarter_bpm"],
            remarks=tuple(form["remarks"]),
            cuts=None if form["cuts"] is None else tuple((Fraction(onset), why) for onset, why in form["cuts"]),
        )


def _bar_of(form: list[Any]) -> Bar:
    number, onset, duration, metre, double, before, (opens, closes, ending), metred, waymarks = form
    return Bar(
        number,
        Fraction(onset),
        Fraction(duration),
        metre,
        bool(double),
        Fraction(before),
        Repeat(bool(opens), bool(closes), tuple(ending)),
        bool(metred),
        tuple(Waymark(kind, Fraction(at), until) for kind, at, until in waymarks),
    )


def fifths_at(first: int, changes: Sequence[tuple[Quarters, int]], onset: Quarters) -> int:
    """The signature that counts at a place, from that at the start and its later changes, in order."""
    after = bisect_right(changes, onset, key=lambda change: change[0])
    return changes[after - 1][1] if after else first


@dataclass(frozen=True, slots=True)
class Phrase:
    """The unit of practice.

    Attributes:
        number: Counted from 1.
        onset: Start in quarter notes.
        end: Where the next phrase starts, or the end of the piece.
        why_it_ends: What the boundary rests on: "fermata", "four bars (a guess)", "end of the piece".
        again: Number of the first phrase that has the same notes, voice by voice; None where it is the first.
    """

    number: int
    onset: Quarters
    end: Quarters
    why_it_ends: str
    again: int | None = None


@dataclass(frozen=True)
class Chord:
    """All notes sounding from one onset to the next.

    Attributes:
        onset: Start in quarter notes.
        duration: To the next chord of the phrase, or to the phrase's end (a silence before that is part of it).
        bar: Printed number of its bar.
        beat: Beat in the bar, from 1.
        struck: Notes that start here, from high to low.
        held: Notes that started in an earlier chord of the phrase and sound on into this one, from high to low.
    """

    onset: Quarters
    duration: Quarters
    bar: int
    beat: float
    struck: tuple[Note, ...]
    held: tuple[Note, ...] = field(default=())

    @property
    def end(self) -> Quarters:
        return self.onset + self.duration

    @cached_property
    def notes(self) -> tuple[Note, ...]:
        """Everything that sounds, from high to low."""
        return tuple(sorted(self.struck + self.held, key=lambda note: -note.midi))


def phrase_numbered(phrases: Sequence[Phrase], number: int) -> Phrase:
    """The phrase that the player asked for.

    Raises:
        CoachError: there is none of that number.
    """
    for phrase in phrases:
        if phrase.number == number:
            return phrase
    raise CoachError(f"there is no phrase {number}: the piece has {count_of_phrases(len(phrases))}")


def with_notes(piece: Piece, phrases: Iterable[Phrase]) -> tuple[Phrase, ...]:
    """The phrases in which a note begins."""
    return tuple(phrase for phrase in phrases if any(phrase.onset <= note.onset < phrase.end for note in piece.notes))


def count_of_phrases(count: int) -> str:
    """So many phrases in words: "1 phrase", "4 phrases"."""
    return f"{count} phrase{'s' if count != 1 else ''}"


def _onset(what: Note | Bar) -> Quarters:
    return what.onset


def chords_of(piece: Piece, phrase: Phrase, notes: Sequence[Note] | None = None) -> tuple[Chord, ...]:
    """Cut a phrase into its chords.

    Args:
        piece: The piece, for its bars.
        phrase: The phrase to cut.
        notes: The notes to cut, when not all of the piece's (some voices, plain chords).
    """
    given = piece.notes if notes is None else sorted(notes, key=_onset)
    inside = given[bisect_left(given, phrase.onset, key=_onset) : bisect_left(given, phrase.end, key=_onset)]
    starts = [(onset, list(together)) for onset, together in groupby(inside, key=_onset)]
    chords = []
    sounding: list[tuple[Quarters, Note]] = []
    for place, (onset, together) in enumerate(starts):
        until = starts[place + 1][0] if place + 1 < len(starts) else phrase.end
        bar = piece.bar_at(onset)
        sounding = [(end, note) for end, note in sounding if end > onset]
        struck = tuple(sorted(together, key=lambda note: -note.midi))
        held = tuple(sorted((note for _, note in sounding), key=lambda note: -note.midi))
        chords.append(Chord(onset, until - onset, bar.number, bar.beat(onset), struck, held))
        sounding.extend((note.end, note) for note in struck)
    return tuple(chords)
