"""Random short phrases: several voices with held notes, rests, unisons, crossings and black keys."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from hypothesis import strategies as st
from passages import passage

from coach.score.piece import Note, Piece

GAPS = (Fraction(1, 4), Fraction(1, 2), Fraction(1), Fraction(2))

NAMES = ("soprano", "alto", "tenor", "bass", "voice 5", "voice 6", "voice 7")

_SPELLED = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")


@dataclass(frozen=True)
class _Begun:
    """A note that sounds on until its voice does something else."""

    onset: Fraction
    key: int
    staff: int

    def ended(self, voice: int, end: Fraction) -> Note:
        pitch = f"{_SPELLED[self.key % 12]}{self.key // 12 - 1}"
        return Note(NAMES[voice], self.onset, end - self.onset, self.key, pitch, self.staff)


@st.composite
def phrases(
    draw: st.DrawFn, *, staves: bool = False, one_hand: bool = False, most_voices: int = 5, most_chords: int = 4
) -> Piece:
    """A piece of one phrase.

    Args:
        staves: Notes stand on two staves, each voice mostly on one of them.
        one_hand: All notes stand on the upper staff, near each other.
        most_voices, most_chords: No more voices and onsets than these.
    """
    voices = draw(st.integers(1, most_voices))
    # Four chords of many notes are more plans than can be tried in the time.
    onsets = draw(st.integers(1, min(most_chords, 3) if voices > 3 else most_chords))
    gaps = draw(st.lists(st.sampled_from(GAPS), min_size=onsets, max_size=onsets))
    starts = [sum(gaps[:place], Fraction(0)) for place in range(onsets)]
    # Half of the time notes lie far apart and sound long: hands must find ways out.
    far = draw(st.booleans())
    steps = st.integers(-15, 15) if far else st.integers(-9, 9)
    deeds = (
        ("strike", "strike", "hold", "hold", "hold", "rest", "unison")
        if far
        else ("strike", "strike", "strike", "hold", "rest", "unison", "short")
    )
    notes: list[Note] = []
    struck: dict[Fraction, list[int]] = {}
    for voice in range(voices):
        middle = (67 if one_hand else 76) - voice * (4 if one_hand else 28 // voices)
        home = 0 if not (staves or one_hand) else 1 if one_hand or voice < (voices + 1) // 2 else 2
        begun: _Begun | None = None
        for place, onset in enumerate(starts):
            what = draw(st.sampled_from(deeds))
            if what == "hold" and begun is not None:
                continue
            if begun is not None:
                early = gaps[place - 1] / 2 if what == "short" else Fraction(0)
                notes.append(begun.ended(voice, onset - early))
                begun = None
            if what == "rest":
                continue
            key = middle + draw(steps)
            if what == "unison" and onset in struck:
                key = draw(st.sampled_from(struck[onset]))
            struck.setdefault(onset, []).append(key)
            away = staves and not one_hand and draw(st.integers(0, 9)) == 9
            begun = _Begun(onset, key, 3 - home if away else home)
        if begun is not None:
            notes.append(begun.ended(voice, starts[-1] + gaps[-1]))
    if not notes:
        notes = [_Begun(Fraction(0), 60, 1 if staves or one_hand else 0).ended(0, Fraction(1))]
    return passage(notes)
