"""What is drilled: a passage as one phrase, how it is asked for, and what a take of it is heard against."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

from coach.fingering.plan import PhrasePlan
from coach.listening.events import MIDI_KEYS
from coach.listening.expected import Expected, expect
from coach.practice.beat import Beat
from coach.practice.ladder import Step
from coach.practice.marks import Places, places_of
from coach.score.counting import place_words


@dataclass(frozen=True)
class Task:
    """What is drilled.

    Attributes:
        plan: The passage as one phrase.
        step: Hand, clock, tempo and fingers asked for.
        quarter_bpm: Quarter notes a minute to play at, the step's share taken.
        beats: The beats of the passage.
        count_in: The beats before it.
        keys: The keys that the instrument has.
    """

    plan: PhrasePlan
    step: Step
    quarter_bpm: float = 60.0
    beats: tuple[Beat, ...] = ()
    count_in: tuple[Beat, ...] = ()
    keys: range = MIDI_KEYS

    @cached_property
    def playable(self) -> PhrasePlan:
        """The passage without the notes whose keys the instrument does not have: nobody waits for those."""
        chords = tuple(
            replace(
                chord,
                notes=tuple(
                    note if note.midi in self.keys else replace(note, hand=None, finger=None) for note in chord.notes
                ),
            )
            for chord in self.plan.chords
        )
        return replace(self.plan, chords=chords)

    @cached_property
    def expected(self) -> Expected:
        """What a take is heard against."""
        return expect([self.playable], self.step.hand)

    @cached_property
    def both_hands(self) -> Expected:
        """What a take is heard against where both hands play, though one may be asked."""
        return expect([self.playable])

    def others(self, chord: int) -> frozenset[int]:
        """The keys that the hand which is not asked has while a chord sounds."""
        chords = self.expected.chords
        since = chords[chord].onset
        until = chords[chord + 1].onset if chord + 1 < len(chords) else self.plan.end
        sounding = (planned for planned in self.playable.chords if since <= planned.onset < until)
        hands = self.expected.hands
        return frozenset(note.midi for one in sounding for note in one.notes if note.hand and note.hand not in hands)

    @cached_property
    def places(self) -> Places:
        """Where its notes stand in the table."""
        return places_of(self.playable, self.expected)

    @cached_property
    def first_keys(self) -> frozenset[int]:
        """The keys of the first chord."""
        return self.keys_of(0)

    def keys_of(self, chord: int) -> frozenset[int]:
        """The keys that a chord asks for; none beyond the last chord."""
        required = self.places.required
        return frozenset(self.expected.notes[n].midi for n in (required[chord] if chord < len(required) else ()))

    @cached_property
    def unplayable(self) -> str:
        """A sentence about keys that the instrument does not have, "" where it has all."""
        hands = self.expected.hands
        beyond = [
            (place_words(chord.bar, chord.beat), note.pitch)
            for chord in self.plan.chords
            for note in chord.notes
            if note.struck and note.hand in hands and note.midi not in self.keys
        ]
        if not beyond:
            return ""
        names = ", ".join(dict.fromkeys(pitch for _, pitch in beyond))
        where = list(dict.fromkeys(place for place, _ in beyond))
        first = f"{where[0]} and {len(where) - 1} more" if len(where) > 1 else where[0]
        return f"Your {len(self.keys)} keys have no {names} ({first}): nothing waits for it."

    @property
    def quarter(self) -> float:
        """Seconds a quarter note."""
        return 60 / self.quarter_bpm

    def lead_in(self) -> float:
        """Seconds from the first beat of the count-in to the first chord."""
        if not self.count_in or not self.expected.chords:
            return 0.0
        return (self.expected.chords[0].onset - float(self.count_in[0].onset)) * self.quarter

    def beat_at(self, seconds: float) -> Beat | None:
        """The beat that is sounding so many seconds after the first chord is due (below zero: before)."""
        if not self.expected.chords:
            return None
        onset = self.expected.chords[0].onset + seconds / self.quarter
        gone = [beat for beat in (*self.count_in, *self.beats) if float(beat.onset) <= onset + 1e-9]
        return gone[-1] if gone else None

    def clicks(self) -> tuple[tuple[float, bool], ...]:
        """Seconds from the moment the first chord is due to each beat, and whether it is a bar's first."""
        first = self.expected.chords[0].onset if self.expected.chords else self.plan.onset
        beats = (*self.count_in, *self.beats)
        return tuple(((float(beat.onset) - first) * self.quarter, beat.first) for beat in beats)
