"""Where the keys are, in millimetres across the keyboard."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

FULL_SIZE_OCTAVE_MM = 164.5
"""Seven white keys 23.5 mm apart, the usual full-size keyboard (6.5 in; makers vary between 164 and 165 mm)."""

OCTAVES_MM = {"6.5 in": FULL_SIZE_OCTAVE_MM, "6.0 in": 152.4, "5.5 in": 139.7}
"""Octave widths that keyboards are built with: full size and two narrower ones."""

LOWEST_KEY, HIGHEST_KEY = 21, 108
"""MIDI numbers of the outer keys of an 88-key instrument, A0 and C8."""

OCTAVE, WHITE_KEYS = 12, 7
"""Semitones and white keys in an octave."""

WHOLE_TONE, FIFTH = 2, 7
"""Semitones."""

MIDDLE_C = 60

MIRROR_SUM = 124
"""Two keys whose MIDI numbers add up to this mirror each other about D4 (62), about which black and white keys lie
symmetrically (A flat is the other such key)."""

BLACK_SETBACK_MM = 28.0
"""How much further from the player the middle of a black key lies than that of a white one: keys about 150 and 95 mm
long that end together (from memory)."""

_WHITE_STEPS = {0: 0, 2: 1, 4: 2, 5: 3, 7: 4, 9: 5, 11: 6}


@dataclass(frozen=True, slots=True)
class Keyboard:
    """A keyboard by the width of its octave.

    Attributes:
        octave_mm: Distance from one C to the next.
    """

    octave_mm: float = FULL_SIZE_OCTAVE_MM

    @property
    def white_mm(self) -> float:
        """Distance between the centres of neighbouring white keys."""
        return self.octave_mm / WHITE_KEYS

    def x_mm(self, key: int) -> float:
        """Centre of a key, from the centre of the C below MIDI number 0 on, growing to the right."""
        return in_white_keys(key) * self.white_mm

    def distance_across_mm(self, key: int, other: int) -> float:
        """How far the centres of two keys lie apart across the keyboard."""
        return abs(in_white_keys(other) - in_white_keys(key)) * self.white_mm

    def distance_mm(self, key: int, other: int) -> float:
        """Straight distance between the centres of two keys, a black key's setback included."""
        setback = BLACK_SETBACK_MM if is_black(key) != is_black(other) else 0.0
        return hypot(self.distance_across_mm(key, other), setback)


def in_white_keys(key: int) -> float:
    """Centre of a key in widths of a white key, from the centre of the C below MIDI number 0 on."""
    octave, step = divmod(key, OCTAVE)
    return WHITE_KEYS * octave + _CENTRES[step]


def is_black(key: int) -> bool:
    """Whether a key (MIDI number) is black."""
    return key % 12 in (1, 3, 6, 8, 10)


def are_white_neighbours(lower: int, higher: int) -> bool:
    """Whether two keys are white and next to each other."""
    return not is_black(lower) and not is_black(higher) and 1 <= higher - lower <= 2


def mirrored(key: int) -> int:
    """The key as far to the left of D4 as this one is to its right."""
    return MIRROR_SUM - key


def _centres() -> tuple[float, ...]:
    """Centres of an octave's twelve keys in white-key widths from the centre of C.

    At the back of the keyboard the three white and two black keys from C to E are equally wide, and so are the seven
    from F to B (the usual layout; makers differ by fractions of a millimetre; from memory).
    """
    c_to_e = [3 / 5 * (place + 0.5) - 0.5 for place in range(5)]
    f_to_b = [3 + 4 / 7 * (place + 0.5) - 0.5 for place in range(7)]
    centres = c_to_e + f_to_b
    return tuple(float(_WHITE_STEPS.get(step, centre)) for step, centre in enumerate(centres))


_CENTRES = _centres()
