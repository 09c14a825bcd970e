"""What is read from one bar of one ABC voice."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from coach.score.piece import Quarters
from coach.score.repeats import ONCE, Repeat


@dataclass(slots=True)
class CodedNote:
    """A note in its bar.

    Attributes:
        place: Onset from the start of the bar, in quarter notes.
        duration: In quarter notes.
        midi: MIDI number as it sounds.
        pitch: Spelling as it sounds, "Bb3".
        written: Step, octave and alteration as the code has them, before any transposition.
        overlay: 0, or the number of the overlay (`&`) it belongs to.
    """

    place: Quarters
    duration: Quarters
    midi: int
    pitch: str
    written: tuple[str, int, int]
    overlay: int = 0
    tied_on: bool = False
    fermata: bool = False
    breath: bool = False
    finger: int | None = None
    words: list[str] = field(default_factory=list)


@dataclass(slots=True)
class CodedBar:
    """One bar of one voice.

    Attributes:
        held_rests: Rests with a fermata: their place from the start of the bar, and the overlay they belong to.
    """

    metre: str
    notes: list[CodedNote] = field(default_factory=list)
    held_rests: list[tuple[Quarters, int]] = field(default_factory=list)
    length: Quarters = Fraction(0)
    double: bool = False
    repeat: Repeat = ONCE
