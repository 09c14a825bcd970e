"""How notes, chords, hands and fingers are called when the coach speaks of them."""

from __future__ import annotations

from collections.abc import Iterable

from coach.listening.expected import Expected, ExpectedNote
from coach.listing import listed

NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
"""Names of keys that no score spells."""

FINGERS = {1: "thumb", 2: "second finger", 3: "third finger", 4: "fourth finger", 5: "little finger"}


def key_name(key: int) -> str:
    """A key by itself: "F4"."""
    return f"{NAMES[key % 12]}{key // 12 - 1}"


def place(expected: Expected, chord: int) -> str:
    """A chord as the chord table counts it: "chord 5"."""
    return f"chord {expected.chords[chord].place}"


def finger(note: ExpectedNote) -> str:
    """The finger of the plan: "the right thumb"."""
    if note.hand is None:
        return "a free finger"
    return f"the {note.hand} {FINGERS[note.finger]}" if note.finger in FINGERS else f"the {note.hand} hand"


def voice(note: ExpectedNote) -> str:
    """A voice: "the tenor", "voice 5"."""
    return note.voice if note.voice.startswith("voice") else f"the {note.voice}"


def voices(notes: Iterable[ExpectedNote]) -> str:
    """Voices that meet on one key: "the soprano and the alto"."""
    return listed(voice(note) for note in notes)


def milliseconds(seconds: float) -> int:
    return round(seconds * 1000)
