"""Keys and spans in millimetres, measured anew for the tests: nothing here comes from the coach."""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import hypot

WHITE_MM = 23.5
"""Width of a white key of a full-size keyboard; seven make an octave of 164.5 mm."""

KEY_CENTRES_MM = (0.0, 9.4, 23.5, 37.6, 47.0, 70.5, 79.11, 94.0, 105.96, 117.5, 132.82, 141.0)
"""Centres of the keys C to B from the centre of C: between C and E, and between F and B, the ends of the keys at the
back are equally wide (the usual layout, from memory)."""

SETBACK_MM = 27.5
"""White keys are about 150 mm long, black ones 95 mm, and they end together: half the difference (from memory)."""

HAND_BEHIND_KEYS_MM = 4.5
"""A span of about 216 mm strikes a tenth of 211.5 mm (Boyle, Boyle and Booker, 2015)."""

TABLE_HAND_MM = 208.0
"""Span of the hand that the table below is taken to describe: it reaches a ninth."""

PRACTICAL_SEMITONES = {
    (1, 2): (-5, 10),
    (1, 3): (-4, 12),
    (1, 4): (-3, 14),
    (1, 5): (-1, 15),
    (2, 3): (1, 5),
    (2, 4): (1, 7),
    (2, 5): (2, 10),
    (3, 4): (1, 4),
    (3, 5): (1, 7),
    (4, 5): (1, 5),
}
"""Least and greatest practical span of two fingers in semitones. Parncutt, Sloboda, Clarke, Raekallio and Desain, Music
Perception 14(4), 1997, Table 1."""

_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


@dataclass(frozen=True)
class Player:
    """The hands that the plan is for.

    Attributes:
        right_mm, left_mm: Their spans.
        octave_mm: Width of an octave of the keyboard.
    """

    right_mm: float
    left_mm: float
    octave_mm: float = 7 * WHITE_MM

    def reach_mm(self, side: str) -> float:
        return (self.right_mm if side == "right" else self.left_mm) - HAND_BEHIND_KEYS_MM

    def x_mm(self, midi: int) -> float:
        return (midi // 12 + KEY_CENTRES_MM[midi % 12] / (7 * WHITE_MM)) * self.octave_mm

    def apart_mm(self, one: int, other: int) -> float:
        """Distance of two keys, the setback of a black one included."""
        return hypot(self.x_mm(other) - self.x_mm(one), SETBACK_MM if is_black(one) != is_black(other) else 0.0)

    def widest_mm(self, side: str, finger: int, other: int) -> float:
        """How far two fingers of a hand can be apart: the table's span in its widest place, scaled to the hand."""
        semitones = PRACTICAL_SEMITONES[min(finger, other), max(finger, other)][1]
        full = Player(TABLE_HAND_MM, TABLE_HAND_MM)
        widest = max(full.x_mm(key + semitones) - full.x_mm(key) for key in range(12))
        return min(widest * self.reach_mm(side) / full.reach_mm(side), self.reach_mm(side))


def is_black(midi: int) -> bool:
    return midi % 12 in (1, 3, 6, 8, 10)


def midi_of(pitch: str) -> int:
    """The key of a spelled pitch: "Bb3" is 58."""
    found = re.fullmatch(r"([A-G])(#*|b*)(-?\d+)", pitch)
    if found is None:
        raise ValueError(f'no pitch: "{pitch}"')
    return _STEPS[found[1]] + found[2].count("#") - found[2].count("b") + 12 * (int(found[3]) + 1)
