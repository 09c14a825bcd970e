"""What a plan leads the listener to expect: chord by chord, the keys that one hand or both will strike and hold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from statistics import mean
from typing import Literal

from coach.fingering.plan import SIDES, After, HandPart, Name, PhrasePlan, PlannedChord, PlannedNote, Side
from coach.score.spelling import likely_fifths, place_of

Hand = Literal["right", "left", "both"]
"""Which hand plays."""


@dataclass(frozen=True, slots=True)
class ExpectedNote:
    """One note that the plan expects to be struck.

    Attributes:
        number: Its place in `Expected.notes`.
        chord: Number of the chord that strikes it.
        last: Number of the last chord that it is to sound through; `chord` where nothing is struck under it.
        voice, onset, duration, pitch, midi, written_midi, hand, finger, rolled: As planned.
        optional: The plan leaves the note out: it may be struck, but nothing is missing without it.
    """

    number: int
    chord: int
    last: int
    voice: str
    onset: float
    duration: float
    pitch: str
    midi: int
    written_midi: int
    hand: Side | None
    finger: int | None
    rolled: bool
    optional: bool

    @property
    def end(self) -> float:
        return self.onset + self.duration


@dataclass(frozen=True, slots=True)
class Leaving:
    """How a hand goes from one chord that it strikes to the next.

    Attributes:
        after: As planned: "join", "restrike", "lift", "end".
        onset: Of the chord that it leaves, in quarter notes; later than the chord it struck where it holds on while
            the other hand moves.
        bar, beat: Of that chord, as planned.
        following: Number of the next chord that it strikes, None after its last.
    """

    after: After
    onset: float
    bar: int
    beat: float
    following: int | None

    @property
    def planned_lift(self) -> bool:
        return self.after in ("lift", "end")


@dataclass(frozen=True, slots=True)
class ExpectedChord:
    """One chord that at least one expected note is struck in.

    Attributes:
        number: Its place in `Expected.chords`.
        phrase: Number of its phrase, as in the plan.
        place: Its place in the phrase, from 1, as the chord table counts.
        onset, duration, bar, beat: As planned.
        struck: Numbers of the notes struck here, from high to low.
        held: Numbers of the notes held from an earlier chord.
        leaving: For each hand that strikes here, how it goes on to the next chord that it strikes.
    """

    number: int
    phrase: int
    place: int
    onset: float
    duration: float
    bar: int
    beat: float
    struck: tuple[int, ...]
    held: tuple[int, ...]
    leaving: Mapping[Side, Leaving]

    @property
    def end(self) -> float:
        return self.onset + self.duration


@dataclass(frozen=True)
class Expected:
    """Everything a take is heard against.

    Attributes:
        notes: By chord, then from high to low.
        chords: In order.
        hands: The hands that play.
        starts: Numbers of the chords that open a phrase.
    """

    notes: tuple[ExpectedNote, ...]
    chords: tuple[ExpectedChord, ...]
    hands: tuple[Side, ...]
    starts: tuple[int, ...]

    @cached_property
    def in_one_bar(self) -> bool:
        """Whether all of it lies in one bar, as a change that is drilled on its own may."""
        return len({chord.bar for chord in self.chords}) == 1

    @cached_property
    def fifths(self) -> int:
        """The key signature that its notes speak for, in fifths: six sharps or six flats as they are spelled."""
        if not self.notes:
            return 0
        found = likely_fifths((note.midi for note in self.notes), self.notes[-1].midi)
        # The seven notes of a key lie one fifth below to five above its tonic: two above it on average.
        middle = mean(place_of(note.pitch) for note in self.notes) - 2
        return min((found, found - 12, found + 12), key=lambda fifths: abs(fifths - middle))

    def struck(self, chord: int) -> tuple[ExpectedNote, ...]:
        """The notes struck in a chord."""
        return tuple(self.notes[number] for number in self.chords[chord].struck)

    def asked(self, chord: int) -> tuple[ExpectedNote, ...]:
        """The notes that must be struck in a chord, one for each key: voices that meet on a key ask for one stroke."""
        keys: dict[int, ExpectedNote] = {}
        for note in self.struck(chord):
            if not note.optional:
                keys.setdefault(note.midi, note)
        return tuple(keys.values())

    def sharing(self, note: ExpectedNote) -> tuple[ExpectedNote, ...]:
        """The notes that are struck in a note's chord on its key, itself among them."""
        return tuple(other for other in self.struck(note.chord) if other.midi == note.midi)

    def sounding(self, chord: int) -> tuple[ExpectedNote, ...]:
        """The notes struck or held in a chord."""
        return tuple(self.notes[number] for number in (*self.chords[chord].struck, *self.chords[chord].held))

    def leaving(self, note: ExpectedNote) -> Leaving | None:
        """How the hand of a note goes on from the last chord that it strikes while the note sounds."""
        for chord in range(note.last, note.chord - 1, -1):
            if note.hand is not None and note.hand in self.chords[chord].leaving:
                return self.chords[chord].leaving[note.hand]
        return None

    def held_over(self, chord: int, hand: Side) -> tuple[ExpectedNote, ...]:
        """The notes of a chord that a hand holds on into the next chord that it strikes."""
        leaving = self.chords[chord].leaving.get(hand)
        if leaving is None or leaving.following is None:
            return ()
        return tuple(n for n in self.sounding(chord) if n.hand == hand and n.last >= leaving.following)

    def range_of(self, phrase: int) -> range:
        """Numbers of the chords of one phrase."""
        numbers = [chord.number for chord in self.chords if chord.phrase == phrase]
        return range(numbers[0], numbers[-1] + 1) if numbers else range(0)


def expect(phrases: Sequence[PhrasePlan], hand: Hand = "both") -> Expected:
    """What to expect of one hand or both over some phrases of a plan.

    Chords in which the playing hand strikes nothing are left out: nothing of it moves there.
    """
    hands: tuple[Side, ...] = SIDES if hand == "both" else (hand,)
    notes: list[ExpectedNote] = []
    chords: list[ExpectedChord] = []
    starts: list[int] = []
    for phrase in phrases:
        starts.append(len(chords))
        sounding: dict[Name, int] = {}
        for place, chord in enumerate(phrase.chords, 1):
            struck = [note for note in chord.notes if note.struck and _expected(note, hands)]
            if not struck:
                continue
            number = len(chords)
            held = _held(chord, sounding, hands)
            for index in held:
                notes[index] = _until(notes[index], number)
            for note in struck:
                sounding[note.known_by] = len(notes)
                notes.append(_note(note, len(notes), number))
            first = len(notes) - len(struck)
            chords.append(
                ExpectedChord(
                    number,
                    phrase.number,
                    place,
                    chord.onset,
                    chord.duration,
                    chord.bar,
                    chord.beat,
                    tuple(range(first, len(notes))),
                    held,
                    {},
                )
            )
        if starts[-1] == len(chords):
            starts.pop()
    return Expected(tuple(notes), _with_leaving(chords, notes, phrases, hands), hands, tuple(starts))


def _with_leaving(
    chords: list[ExpectedChord], notes: list[ExpectedNote], phrases: Sequence[PhrasePlan], hands: tuple[Side, ...]
) -> tuple[ExpectedChord, ...]:
    """Fill in how each hand leaves each chord, from the last one back."""
    numbers = {(chord.phrase, chord.place): chord.number for chord in chords}
    leaving: dict[int, dict[Side, Leaving]] = {chord.number: {} for chord in chords}
    for hand in hands:
        following: int | None = None
        for phrase in reversed(phrases):
            left: tuple[HandPart, PlannedChord] | None = None
            for place in range(len(phrase.chords), 0, -1):
                chord = phrase.chords[place - 1]
                part = chord.part(hand)
                # The chord before the next one struck is the one that is left, though the hand may only hold it.
                if part is not None and left is None:
                    left = (part, chord)
                number = numbers.get((phrase.number, place))
                if number is None or not any(notes[note].hand == hand for note in chords[number].struck):
                    continue
                if left is not None:
                    how, last = left
                    leaving[number][hand] = Leaving(how.after, last.onset, last.bar, last.beat, following)
                following, left = number, None
    return tuple(replace(chord, leaving=leaving[chord.number]) for chord in chords)


def _expected(note: PlannedNote, hands: tuple[Side, ...]) -> bool:
    # An omitted note belongs to no hand: two hands may play it after all, one hand is never asked for it.
    return note.hand in hands or (note.hand is None and len(hands) == 2)


def _held(chord: PlannedChord, sounding: Mapping[Name, int], hands: tuple[Side, ...]) -> tuple[int, ...]:
    return tuple(
        sounding[note.known_by]
        for note in chord.notes
        if not note.struck and note.hand in hands and note.known_by in sounding
    )


def _note(note: PlannedNote, number: int, chord: int) -> ExpectedNote:
    return ExpectedNote(
        number=number,
        chord=chord,
        last=chord,
        voice=note.voice,
        onset=note.onset,
        duration=note.duration,
        pitch=note.pitch,
        midi=note.midi,
        written_midi=note.written_midi,
        hand=note.hand,
        finger=note.finger,
        rolled=note.rolled,
        optional=note.hand is None,
    )


def _until(note: ExpectedNote, chord: int) -> ExpectedNote:
    return replace(note, last=chord)
