"""Why a hand cannot stay on the keys: what keeps the outer voice of one chord from connecting with the next.

A hand that joins holds its outer key until the whole next chord is down. So it is not enough that fingers connect the
outer voice: the finger that stays must leave every inner key a finger that reaches it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np
from numpy.typing import NDArray

from coach.fingering.handful import Handful
from coach.fingering.intervals import FINGER_WORDS, note_name
from coach.fingering.keyboard import OCTAVE
from coach.fingering.plan import Side
from coach.fingering.weighing import Change
from coach.listing import listed

THUMB = 1

Possible = NDArray[np.bool_]
"""By fingering of the chord before and of the chord after."""


@dataclass(frozen=True, eq=False)
class Connection:
    """One hand's way from a chord to the next.

    Attributes:
        side: The hand.
        change: Its change of chord.
        now, then: What it has to do in the two.
        pitches, next_pitches: Spelled pitches of their keys, in hand coordinates.
    """

    side: Side
    change: Change
    now: Handful
    then: Handful
    pitches: Mapping[int, str]
    next_pitches: Mapping[int, str]

    @property
    def outer(self) -> str:
        """The outer voice's name here."""
        return note_name(self.pitches[self.now.keys[-1]])

    @property
    def next_outer(self) -> str:
        """Its name in the next chord, its octave in words where the name alone would say nothing."""
        key, next_key = self.now.keys[-1], self.then.keys[-1]
        return told_from(self.outer, key, note_name(self.next_pitches[next_key]), next_key, self.side)

    @property
    def inner_struck(self) -> list[int]:
        """Places of the inner keys that the next chord strikes and the outer finger is not on."""
        outer = self.now.keys[-1]
        return [
            place
            for place, (key, struck) in enumerate(zip(self.then.keys[:-1], self.then.struck[:-1], strict=True))
            if struck and key != outer
        ]

    @property
    def _struck_again(self) -> bool:
        """Whether an inner voice strikes the outer key again."""
        key, keys = self.now.keys[-1], self.then.keys[:-1]
        return key in keys and self.then.struck[keys.index(key)]

    def forbidden(self) -> str:
        """Why no fingering of the two chords joins them; "" where one does."""
        if np.isfinite(self.change.join).any():
            return ""
        if self.now.grip.rolled:
            return "the rolled chord is let go"
        if self._struck_again:
            return f"{self.outer} is struck again {inward(self.side)}"
        if self.change.joining.never:
            return f"{self.outer} ends before the next chord"
        return self._outer_voice() or self._inner_voices() or f"{self.outer} has to go before the next chord is down"

    def _outer_voice(self) -> str:
        """What forbids the outer voice itself to connect."""
        last, next_last = len(self.now.keys) - 1, len(self.then.keys) - 1
        joined = self.change.joined
        pairing = joined.pairing(last, next_last)
        if pairing is not None and pairing.can is not None and not pairing.can.any():
            return f"no fingers connect {self.outer} to {self.next_outer}"
        line = joined.possible(last, next_last)
        if abs(self.then.keys[-1] - self.now.keys[-1]) >= OCTAVE and not line.any():
            return f"{self.outer} to {self.next_outer} is too far to connect"
        if pairing is not None and pairing.can is not None and not line.any():
            return self._outer_fingers(pairing.can)
        if not (line & self._held()).any():
            held = [key for key, kept in zip(self.then.keys, self.then.grip.kept, strict=True) if kept]
            fingers = f"leave no fingers that connect {self.outer} to {self.next_outer}"
            if len(held) == 1:
                fingers = fingers.replace("leave", "leaves", 1)
            return f"{listed(note_name(self.next_pitches[key]) for key in reversed(held))}, held, {fingers}"
        return ""

    def _outer_fingers(self, can: Possible) -> str:
        """How the inner notes of the two chords keep fingers from the outer voice.

        Args:
            can: Which fingers would connect it, here and in the next chord.
        """
        here, there = ({row[-1] for row in ways.rows} for ways in (self.change.before, self.change.after))
        for place, available in enumerate((here, there)):
            if THUMB not in available and (np.argwhere(can)[:, place] + 1 == THUMB).all():
                return (
                    f"the thumb, which could connect {self.outer} to {self.next_outer}, is needed {inward(self.side)}"
                )
        if here == there and len(here) == 1:
            return f"{self.outer} and {self.next_outer} both need the {FINGER_WORDS[min(here)]}"
        if len(there) == 1:
            return (
                f"{self.next_outer} needs the {FINGER_WORDS[min(there)]}, which no finger on {self.outer} connects to"
            )
        if len(here) == 1:
            return f"{self.outer} needs the {FINGER_WORDS[min(here)]}, which connects to no finger on {self.next_outer}"
        return f"the notes {inward(self.side)} leave no fingers that connect {self.outer} to {self.next_outer}"

    def _inner_voices(self) -> str:
        """Which inner keys of the next chord cannot be struck while the outer one is held."""
        last, next_last = len(self.now.keys) - 1, len(self.then.keys) - 1
        joined = self.change.joined
        connecting = joined.possible(last, next_last) & self._held()
        holding = {self.change.before.rows[row][last] for row in np.flatnonzero(connecting.any(axis=1))}
        far: list[int] = []
        wanting: list[int] = []
        for place in self.inner_struck:
            pairing = joined.pairing(last, place)
            if pairing is None or pairing.can is None or (connecting & joined.possible(last, place)).any():
                continue
            reaches = any(pairing.can[finger - 1].any() for finger in holding)
            (wanting if reaches else far).append(place)
        if far:
            return self._out_of_reach(far, f"{self.outer} is held")
        short = wanting or self.inner_struck
        if not short:
            return ""
        left = "no finger is" if len(short) == 1 else "no fingers are"
        return f"{left} left for {self._inner(short)} while {self.outer} is held"

    def _held(self) -> Possible:
        """Where every note that sounds on keeps its finger."""
        joined, keys = self.change.joined, list(enumerate(self.then.keys))
        kept = [
            joined.possible(at, place)
            for at, key in enumerate(self.now.keys)
            for place, next_key in keys
            if key == next_key and self.then.grip.kept[place]
        ]
        return reduce(np.logical_and, kept, np.ones(joined.shape, np.bool_))

    def _out_of_reach(self, places: Sequence[int], meanwhile: str) -> str:
        return f"{self._inner(places)} {'is' if len(places) == 1 else 'are'} out of reach while {meanwhile}"

    def _inner(self, places: Sequence[int]) -> str:
        """Inner notes of the next chord, from the outer voice inward: "B and G below"."""
        names = listed(note_name(self.next_pitches[self.then.keys[place]]) for place in reversed(places))
        return f"{names} {inward(self.side)}"

    def forbidden_between(self, row: int, next_row: int) -> str:
        """What keeps these fingerings of the two chords from joining; "" where they can."""
        joined = self.change.joined
        if joined.can[row, next_row]:
            return ""
        fingers, following = self.change.before.rows[row], self.change.after.rows[next_row]
        last, finger = len(self.now.keys) - 1, fingers[-1]
        for key, next_finger in zip(self.then.keys, following, strict=True):
            if next_finger == finger and key != self.now.keys[-1]:
                return f"the {FINGER_WORDS[finger]} is needed on {note_name(self.next_pitches[key])}"
        if joined.possible(last, len(self.then.keys) - 1)[row, next_row]:
            short = [place for place in self.inner_struck if not joined.possible(last, place)[row, next_row]]
            if short:
                return self._out_of_reach(short, f"{finger} holds {self.outer}")
            return f"{self.outer} has to go before the next chord is down"
        outward = self.then.keys[-1] > self.now.keys[-1]
        if (following[-1] > finger) != outward:
            return f"{following[-1]} cannot cross {finger} from {self.outer} to {self.next_outer}"
        return f"{finger}-{following[-1]} cannot span {self.outer} to {self.next_outer}"


def inward(side: Side) -> str:
    """On which side of its outer voice a hand has its inner ones."""
    return "below" if side == "right" else "above"


def told_from(name: str, key: int, next_name: str, next_key: int, side: Side) -> str:
    """The name of a note that a hand goes to, its octave in words where the name alone would say nothing.

    Args:
        name, key: Where it comes from, in hand coordinates.
        next_name, next_key: Where it goes.
        side: The hand.
    """
    if name != next_name or key == next_key:
        return next_name
    octaves = abs(next_key - key) // OCTAVE
    higher = (next_key > key) == (side == "right")
    return f"the {name} {'an octave' if octaves == 1 else f'{octaves} octaves'} {'up' if higher else 'down'}"
