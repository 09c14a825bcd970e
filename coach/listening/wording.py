"""How notes, chords, hands and fingers are called when the coach speaks of them."""

from __future__ import annotations

from collections.abc import Iterable

from coach.listening.expected import Expected, ExpectedNote, Leaving
from coach.listing import listed
from coach.score.counting import beat_words, place_words
from coach.score.page import STEPS, midi_of
from coach.score.page import spelled as score_name
from coach.score.spelling import parsed, spelling_of

NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
"""Names of keys that no score spells."""

FINGERS = {1: "thumb", 2: "second finger", 3: "third finger", 4: "fourth finger", 5: "little finger"}


def key_name(key: int) -> str:
    """A key by itself: "F4"."""
    return f"{NAMES[key % 12]}{key // 12 - 1}"


def spelled(key: int, expected: Expected, chord: int | None = None) -> str:
    """A key as the music around it writes it: "C#4" in A major, "Db4" in A flat major.

    Args:
        key: MIDI number.
        expected: What the take is heard against: a note of it is called as it is there, any other by its key.
        chord: Number of the chord in which it was struck, whose own spelling comes first.
    """
    here = expected.sounding(chord) if chord is not None else ()
    for note in (*here, *expected.notes):
        if (note.midi - key) % 12 == 0:
            step, alter, _ = parsed(note.pitch)
            return score_name(step, alter, (key - midi_of(step, alter, -1)) // 12 - 1)
    # A white key that the music does not have is called as it is seen: who slips onto it looks for no E sharp.
    return key_name(key) if NAMES[key % 12] in STEPS else spelling_of(key, expected.fifths)


def place(expected: Expected, chord: int | Leaving, after: int | Leaving | None = None) -> str:
    """A chord as the chord table heads it, by bar and beat: "bar 21, beat 2".

    Args:
        expected: What the take was heard against. Where all of it lies in one bar, the beat is enough.
        chord: Number of the chord, or the one that a hand leaves.
        after: A chord that was named just before: in the same bar the beat is enough.
    """
    bar, beat = _where(expected, chord)
    named = after is not None and _where(expected, after)[0] == bar
    return beat_words(beat) if named or expected.in_one_bar else place_words(bar, beat)


def _where(expected: Expected, chord: int | Leaving) -> tuple[int, float]:
    here = expected.chords[chord] if isinstance(chord, int) else chord
    return here.bar, here.beat


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
