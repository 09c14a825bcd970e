"""A hand's outer line through a phrase, and what a note's neighbours in it mean for the hand."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from coach.fingering.as_written import Written
from coach.fingering.handful import hand_key
from coach.fingering.keyboard import OCTAVE, WHOLE_TONE, in_white_keys, is_black
from coach.fingering.moving import AT_ONCE
from coach.fingering.plan import Side
from coach.score.piece import Chord

LOOKS_AHEAD = 8
"""Notes of the line that the hand has in mind besides the one it plays (common practice, no source)."""

RUN = 3
"""From this many steps in one direction a line runs, and the thumb carries the hand on: it need not reach what is at
the end of the run (common practice, no source)."""

MOST_REPEATS = 3
"""More repeats to come call for no other finger: 4-3-2-1 is what a hand has (common practice, no source)."""


class Frame(NamedTuple):
    """The lowest and the highest key of a hand's line in a phrase, in hand coordinates; they frame the hand."""

    thumb_side: int
    outside: int

    def finger(self, key: int) -> float:
        """The finger that falls on a key when the thumb and the little finger stand on the frame's ends."""
        low, high = in_white_keys(self.thumb_side), in_white_keys(self.outside)
        return 1 + 4 * (in_white_keys(key) - low) / (high - low)

    @property
    def fits_a_hand(self) -> bool:
        """From a fifth to an octave: narrower lines need no frame, wider ones break it (common practice)."""
        return 7 <= self.outside - self.thumb_side <= 12


class Place(NamedTuple):
    """Where a chord stands in its hand's outer line.

    Attributes:
        frame: The line's, over the whole phrase.
        lowest, highest: Of this note and the next few, as far as they are within an octave and no run comes before
            them; in hand coordinates.
        repeats: How often the same key follows at once.
    """

    frame: Frame
    lowest: int
    highest: int
    repeats: int


class _Strike(NamedTuple):
    """What a hand strikes in a chord: its innermost and outermost key that belong to the line, and whether that is all
    it strikes."""

    onset: float
    inner: int
    outer: int
    alone: bool


def places(chords: Sequence[Chord], side: Side, written: Written | None) -> list[Place | None]:
    """Where each chord of a phrase stands in a hand's outer line; None where the line strikes nothing.

    With hands as written the line is what the hand strikes, else the outermost voice: who takes the inner ones is not
    known before the plan is made.
    """
    strikes = [_strike(chord, side, written) for chord in chords]
    rests = [written is not None and all(written.hand(note) != side for note in chord.notes) for chord in chords]
    keys = [strike.outer for strike in strikes if strike]
    if not keys:
        return [None] * len(chords)
    frame = Frame(min(keys), max(keys))
    found: list[Place | None] = []
    # Backwards, so that each strike finds what follows it, and how much of that comes before the hand rests.
    following: list[_Strike] = []
    before_rest = 0
    for strike, rest in zip(reversed(strikes), reversed(rests), strict=True):
        if strike is None:
            found.append(None)
        else:
            lowest, highest = _ahead(strike, following[:before_rest])
            found.append(Place(frame, lowest, highest, _repeats(strike, following)))
            following.insert(0, strike)
            before_rest += 1
        if rest:
            before_rest = 0
    return found[::-1]


def _strike(chord: Chord, side: Side, written: Written | None) -> _Strike | None:
    struck = [hand_key(side, note.midi) for note in chord.struck if not written or written.hand(note) == side]
    if written:
        return _Strike(float(chord.onset), min(struck), max(struck), len(set(struck)) == 1) if struck else None
    outer = max(hand_key(side, note.midi) for note in chord.notes)
    return _Strike(float(chord.onset), outer, outer, True) if outer in struck else None


def _ahead(strike: _Strike, following: Sequence[_Strike]) -> tuple[int, int]:
    """The lowest and the highest key that the hand has in mind."""
    lowest, highest = strike.inner, strike.outer
    keys = [one.outer for one in (strike, *following[: LOOKS_AHEAD + RUN])]
    for one in following[: min(LOOKS_AHEAD, _before_a_run(keys))]:
        low, high = min(lowest, one.inner), max(highest, one.outer)
        if high - low > OCTAVE:
            break
        lowest, highest = low, high
    return lowest, highest


def _before_a_run(keys: Sequence[int]) -> int:
    """How many of the keys after the first come before the line runs up or down by step."""
    began = direction = 0
    for at, (key, next_key) in enumerate(pairwise(keys)):
        step = next_key - key
        way = (step > 0) - (step < 0) if abs(step) <= WHOLE_TONE else 0
        if way != direction:
            began, direction = at, way
        if way and at + 1 - began >= RUN:
            return began
    return len(keys)


def _repeats(strike: _Strike, following: Sequence[_Strike]) -> int:
    repeats, onset = 0, strike.onset
    for one in following[:MOST_REPEATS]:
        if one.outer != strike.outer or not one.alone or one.onset - onset > AT_ONCE:
            break
        repeats, onset = repeats + 1, one.onset
    return repeats


def black_again(chords: Sequence[Chord], side: Side) -> list[frozenset[int]]:
    """For each chord of a phrase the black keys, in a hand's coordinates, that it strikes and that sounded in the chord
    before."""
    struck = [frozenset(note.midi for note in chord.struck) for chord in chords]
    sounding = [frozenset(note.midi for note in chord.notes if is_black(note.midi)) for chord in chords]
    again = [frozenset(), *(before & here for before, here in zip(sounding, struck[1:], strict=False))]
    return [frozenset(hand_key(side, key) for key in keys) for keys in again]
