"""How each cell of the chord table stands while a take is played: what was struck, kept and lifted so far."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from coach.fingering.plan import PhrasePlan, Side
from coach.listening.events import MIDI_KEYS, Metronome
from coach.listening.expected import Expected, ExpectedNote
from coach.listening.matching import Match
from coach.listening.thresholds import LATE_NOTE
from coach.listening.touch import holds, lifts

Mark = Literal["right", "late", "wrong", "missing", "kept", "let go", "lifted", "not lifted"]
"""A note: struck as planned, after the others or after the beat, another key instead, not at all. A hold: kept, or let
go before its time. A planned lift: seen, or not."""

Cell = tuple[int, int | Side]
"""Place of a chord in the phrase and of a note in the chord, or the hand that leaves the chord."""

Marks = Mapping[Cell, Mark]

LATE_BEAT = 0.15
"""Seconds after its beat that a chord is late (common practice, no source)."""

NEAR = 2
"""Semitones from a note within which another key was probably meant for it, octaves apart too (as in the verdict)."""


@dataclass(frozen=True, slots=True)
class Places:
    """Where in the table each expected note stands.

    Attributes:
        struck: For each expected note, the cell where it is struck.
        held: For each expected note, the cells through which it is held.
        chords: For each expected chord, its place in the phrase.
        required: For each expected chord, the numbers of the notes that must be struck.
    """

    struck: tuple[Cell, ...]
    held: tuple[tuple[Cell, ...], ...]
    chords: tuple[int, ...]
    required: tuple[tuple[int, ...], ...]


def places_of(plan: PhrasePlan, expected: Expected, keys: range = MIDI_KEYS) -> Places:
    """Find each expected note in a phrase.

    Args:
        plan: The phrase that `expected` was made of, alone.
        expected: What the take is heard against.
        keys: The keys that the instrument has; notes beyond are not required.
    """
    chords = tuple(chord.place - 1 for chord in expected.chords)
    struck: list[Cell] = []
    held: list[tuple[Cell, ...]] = []
    for note in expected.notes:
        first = chords[note.chord]
        found = [cell for cell, same in _cells(plan, note, first) if same]
        struck.append(found[0])
        held.append(tuple(found[1:]))
    required = tuple(
        tuple(note.number for note in expected.struck(chord.number) if not note.optional and note.midi in keys)
        for chord in expected.chords
    )
    return Places(tuple(struck), tuple(held), chords, required)


def _cells(plan: PhrasePlan, note: ExpectedNote, first: int) -> Iterable[tuple[Cell, bool]]:
    name = (note.voice, note.onset, note.written_midi)
    for place in range(first, len(plan.chords)):
        chord = plan.chords[place]
        if chord.onset >= note.end and place > first:
            return
        for index, other in enumerate(chord.notes):
            same = other.known_by == name
            yield (place, index), same and (place == first or other.hand is not None)


def due(expected: Expected, metronome: Metronome, chord: int) -> float:
    """When a chord is due by the metronome."""
    return metronome.start + (expected.chords[chord].onset - expected.chords[0].onset) * 60 / metronome.quarter_bpm


def complete(match: Match, places: Places, chord: int) -> bool:
    """Whether all that must be struck in a chord was struck; voices on one key need one stroke."""
    notes = match.expected.notes
    sounded = {notes[number].midi for number in match.expected.chords[chord].struck if number in match.played}
    return all(notes[number].midi in sounded for number in places.required[chord])


def note_marks(
    match: Match, places: Places, wrong: Mapping[int, int], metronome: Metronome | None = None, now: float = 0.0
) -> dict[Cell, Mark]:
    """Marks of the struck notes.

    Args:
        match: The take so far.
        places: Where its notes stand.
        wrong: For notes not played, the press that was probably meant for them.
        metronome: The clock, where there is one.
        now: The time, for what the clock has passed by; infinity when the take is over.
    """
    expected = match.expected
    marks: dict[Cell, Mark] = {}
    front = match.front if match.front is not None else -1
    over = now == float("inf")
    for chord in expected.chords:
        visit = match.last_visits.get(chord.number)
        gone_by = chord.number < front + over or _gone_by(expected, chord.number, metronome, now)
        if visit is None and not gone_by:
            continue
        behind = visit.seconds - due(expected, metronome, chord.number) if visit and metronome else 0.0
        sounded = set()
        rolled = any(expected.notes[number].rolled for number in chord.struck)
        for number in chord.struck:
            press = match.played.get(number)
            if press is None:
                continue
            # The notes of a roll come one after the other.
            late = not rolled and visit is not None and match.strokes[press].press - visit.seconds > LATE_NOTE
            marks[places.struck[number]] = "late" if late or behind > LATE_BEAT else "right"
            sounded.add(expected.notes[number].midi)
        for number in chord.struck:
            if number in match.played:
                continue
            if expected.notes[number].midi in sounded:
                marks[places.struck[number]] = "right"
            elif gone_by and number in places.required[chord.number] and number not in wrong:
                marks[places.struck[number]] = "missing"
    for number in wrong:
        marks[places.struck[number]] = "wrong"
    return marks


def touch_marks(match: Match, places: Places) -> dict[Cell, Mark]:
    """Marks of holds and planned lifts, as far as they were heard."""
    marks: dict[Cell, Mark] = {}
    for hold in holds(match):
        for cell in places.held[hold.note]:
            marks[cell] = "kept" if hold.kept else "let go"
    for lift in lifts(match):
        if lift.planned and lift.seen is not None:
            marks[places.chords[lift.chord], lift.hand] = "lifted" if lift.seen else "not lifted"
    return marks


def meant_for(match: Match, places: Places, stroke: int) -> int | None:
    """The note that a wrong key was probably meant for: of the current chord, or of the next when that is complete."""
    front = match.front
    chord = 0 if front is None else front + 1 if complete(match, places, front) else front
    if chord >= len(match.expected.chords):
        return None
    key = match.strokes[stroke].key
    missing = [match.expected.notes[n] for n in places.required[chord] if n not in match.played]
    near = [(_unlike(key - note.midi), note.number) for note in missing]
    close = [(how, number) for how, number in near if how is not None]
    return min(close)[1] if close else None


def _unlike(distance: int) -> int | None:
    if 0 < abs(distance) <= NEAR:
        return abs(distance)
    if distance == 0:
        # The right key: the listener will say so once the next keys make it sure.
        return None
    return NEAR + abs(distance) // 12 if distance % 12 == 0 else None


def _gone_by(expected: Expected, chord: int, metronome: Metronome | None, now: float) -> bool:
    """Whether the clock has reached the next chord, or the end of the last one, without this one."""
    if metronome is None:
        return False
    if chord + 1 < len(expected.chords):
        return now > due(expected, metronome, chord + 1) + LATE_BEAT
    last = expected.chords[chord]
    return now > due(expected, metronome, chord) + last.duration * 60 / metronome.quarter_bpm
