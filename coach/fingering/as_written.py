"""Which hand the page gives each note to: the staves are the hands', and where there are none the voices say."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from coach.fingering.keyboard import MIDDLE_C
from coach.fingering.plan import Side
from coach.score.piece import SATB, Chord, Note


@dataclass(frozen=True, slots=True)
class Written:
    """The hands of a phrase as written.

    Attributes:
        voices: The hand of each voice whose notes stand on no hand's staff.
    """

    voices: Mapping[str, Side]

    def hand(self, note: Note) -> Side:
        """The hand that a note is written for."""
        if note.staff:
            return "right" if note.staff == 1 else "left"
        return self.voices[note.voice]


def as_written(chords: Sequence[Chord]) -> Written:
    """The hands of a phrase as written.

    Soprano and alto are the right hand's, tenor and bass the left hand's. Other choirs are shared by where their voices
    lie in the phrase: the upper half to the right hand, the lower half to the left, a middle one with the voice that is
    nearer to it, so that no hand has to reach across the other (common practice, no source).
    """
    heights = _heights([note for chord in chords for note in chord.struck if not note.staff])
    if set(heights) <= set(SATB):
        return Written({voice: "right" if voice in SATB[:2] else "left" for voice in heights})
    order = sorted(heights, key=lambda voice: (-heights[voice], voice))
    half, odd = divmod(len(order), 2)
    if odd and _belongs_above([heights[voice] for voice in order]):
        half += 1
    return Written({voice: "right" if place < half else "left" for place, voice in enumerate(order)})


def _heights(notes: Sequence[Note]) -> dict[str, float]:
    """Where each voice lies: the mean of its keys, by how long they sound."""
    sums: dict[str, list[float]] = {}
    for note in notes:
        total = sums.setdefault(note.voice, [0.0, 0.0])
        total[0] += float(note.duration) * note.midi
        total[1] += float(note.duration)
    return {voice: keys / time for voice, (keys, time) in sums.items()}


def _belongs_above(heights: Sequence[float]) -> bool:
    """Whether the middle one of an odd number of voices, the highest first, is nearer to those above it."""
    middle = len(heights) // 2
    if not middle:
        return heights[0] >= MIDDLE_C
    above, here, below = heights[middle - 1 : middle + 2]
    return above - here <= here - below
