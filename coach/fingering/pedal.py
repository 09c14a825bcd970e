"""The sustain pedal: where it goes down and up to cover the gaps that lifts leave."""

from __future__ import annotations

from collections.abc import Sequence

from coach.fingering.plan import SIDES, Pedal, PlannedChord

SILENCE = 1e-6
"""Less than this many quarter notes between a note's end and the next chord is no rest."""


def pedal_marks(chords: Sequence[PlannedChord]) -> list[Pedal]:
    """What the foot does with each chord of a phrase.

    The pedal goes down after a chord that a hand leaves by lifting, and comes up as the next chord is struck, so that
    no two harmonies mix. It stays up where a written rest would be filled, and at the end of the phrase.
    """
    marks: list[Pedal] = []
    down = False
    for place, chord in enumerate(chords):
        following = chords[place + 1] if place + 1 < len(chords) else None
        covers = following is not None and _lifts(chord) and not _rests(chord, following)
        marks.append(("change" if covers else "up") if down else ("down" if covers else ""))
        down = covers
    return marks


def _lifts(chord: PlannedChord) -> bool:
    parts = (chord.part(side) for side in SIDES)
    return any(part is not None and part.after == "lift" for part in parts)


def _rests(chord: PlannedChord, following: PlannedChord) -> bool:
    """Whether a note of a chord is to be silent before the next chord, or has no successor in its hand."""
    if any(note.end < following.onset - SILENCE for note in chord.notes if note.hand is not None):
        return True
    return any(chord.played_by(side) and not following.played_by(side) for side in SIDES)
