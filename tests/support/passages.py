"""Short passages written as a musician would dictate them, planned as one phrase."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any, Literal

from ruler import midi_of

from coach.fingering.hand import Hands
from coach.fingering.plan import PhrasePlan, Side
from coach.fingering.planner import Options, plan_phrase
from coach.score.piece import SATB, Bar, Chord, Note, Phrase, Piece, chords_of


def line(voice: str, text: str, staff: int = 0, length: str = "1") -> list[Note]:
    """One voice.

    Args:
        voice: Its name.
        text: Notes apart by blanks: "C4 Bb3:2 r:1/2 F#4"; "r" rests, a length in quarter notes follows a colon.
        staff: The staff it is written on.
        length: Length of the notes that give none.
    """
    notes = []
    onset = Fraction(0)
    for word in text.split():
        pitch, _, given = word.partition(":")
        duration = Fraction(given or length)
        if pitch != "r":
            notes.append(Note(voice, onset, duration, midi_of(pitch), pitch, staff))
        onset += duration
    return notes


def passage(*lines: Iterable[Note]) -> Piece:
    """A piece of some voices, in bars of four quarters."""
    notes = sorted((note for each in lines for note in each), key=lambda note: (note.onset, -note.midi))
    voices = tuple(dict.fromkeys(note.voice for each in lines for note in each))
    end = max(note.end for note in notes)
    bars = tuple(Bar(number + 1, Fraction(4 * number), Fraction(4), "4/4") for number in range(int(end) // 4 + 1))
    return Piece("a passage", "a test", voices, tuple(notes), bars)


def chorale(soprano: str, alto: str, tenor: str, bass: str) -> Piece:
    """Four voices, an open score."""
    return passage(*(line(voice, text) for voice, text in zip(SATB, (soprano, alto, tenor, bass), strict=True)))


def on_staves(right: Sequence[str] = (), left: Sequence[str] = (), length: str = "1") -> Piece:
    """Voices on a piano score: some on the upper staff, some on the lower one."""
    upper = [line(f"voice {number}", text, 1, length) for number, text in enumerate(right, 1)]
    lower = [line(f"voice {number}", text, 2, length) for number, text in enumerate(left, len(right) + 1)]
    return passage(*upper, *lower)


def in_chords(side: Side, *chords: str) -> Piece:
    """Chords for one hand, each a quarter: in_chords("right", "C4 E4 G4", "C4 F4 A4")."""
    staff = 1 if side == "right" else 2
    notes = []
    for number, chord in enumerate(chords):
        for place, pitch in enumerate(chord.split(), 1):
            notes.append(Note(f"voice {place}", Fraction(number), Fraction(1), midi_of(pitch), pitch, staff))
    return passage(notes)


def whole(piece: Piece) -> Phrase:
    """All of a piece as one phrase."""
    return Phrase(1, Fraction(0), max(note.end for note in piece.notes), "end of the piece")


def chords(piece: Piece) -> tuple[Chord, ...]:
    return chords_of(piece, whole(piece))


def planned(
    piece: Piece,
    span_mm: float = 208,
    hands: Literal["planned", "as-written"] = "planned",
    **options: Any,
) -> PhrasePlan:
    """Plan a passage as one phrase."""
    return plan_phrase(whole(piece), chords(piece), Hands.of_span(span_mm), Options(hands=hands, **options))


def fingers(plan: PhrasePlan, side: Side) -> list[tuple[int, ...]]:
    """The fingers of a hand's struck notes in each chord, in the order of its keys from low to high."""
    return [
        tuple(note.finger or 0 for note in sorted(chord.played_by(side), key=lambda n: n.midi) if note.struck)
        for chord in plan.chords
    ]


def line_fingers(plan: PhrasePlan, side: Side) -> str:
    """The fingers of a line of single notes: "12312345"."""
    return "".join(str(finger) for chord in fingers(plan, side) for finger in chord)


def distributions(plan: PhrasePlan) -> list[str]:
    return [chord.distribution for chord in plan.chords]


def mirror_image(piece: Piece) -> Piece:
    """A passage on staves reflected about D4: what the right hand plays becomes the left hand's."""
    notes = tuple(
        replace(note, midi=124 - note.midi, pitch=_sharp_name(124 - note.midi), staff=3 - note.staff)
        for note in piece.notes
    )
    return replace(piece, notes=tuple(sorted(notes, key=lambda note: (note.onset, -note.midi))))


def _sharp_name(midi: int) -> str:
    names = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
    return f"{names[midi % 12]}{midi // 12 - 1}"
