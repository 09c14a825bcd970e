"""What a hand can reach: its span, and the span of every pair of fingers."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from coach.errors import CoachError
from coach.fingering.intervals import with_article
from coach.fingering.keyboard import FULL_SIZE_OCTAVE_MM, Keyboard
from coach.fingering.plan import Side
from coach.lengths import LARGEST_SPAN_MM, SMALLEST_SPAN_MM

DEFAULT_SPAN_MM = 208.0
"""A hand that reaches a ninth: between the means of 201 mm (women) and 226 mm (men) of 473 adult pianists (Boyle, Boyle
and Booker, 2015)."""

REACH_BELOW_SPAN_MM = 4.5
"""How much less than its span a hand reaches between key centres: about 216 mm of span are needed for a tenth of
211.5 mm (Boyle, Boyle and Booker, 2015)."""

SEMITONE_MM = FULL_SIZE_OCTAVE_MM / 12
"""The mean semitone, in which stretches are counted."""

SPAN_TABLE: dict[tuple[int, int], tuple[int, int, int, int, int, int]] = {
    (1, 2): (-5, -3, 1, 5, 8, 10),
    (1, 3): (-4, -2, 3, 7, 10, 12),
    (1, 4): (-3, -1, 5, 9, 12, 14),
    (1, 5): (-1, 1, 7, 11, 13, 15),
    (2, 3): (1, 1, 1, 2, 3, 5),
    (2, 4): (1, 1, 3, 4, 5, 7),
    (2, 5): (2, 2, 5, 6, 8, 10),
    (3, 4): (1, 1, 1, 2, 2, 4),
    (3, 5): (1, 1, 3, 4, 5, 7),
    (4, 5): (1, 1, 1, 2, 3, 5),
}
"""Finger pairs of the right hand, low finger first: least practical, comfortable and relaxed, then greatest relaxed,
comfortable and practical span in semitones. Parncutt, Sloboda, Clarke, Raekallio and Desain, "An ergonomic model of
keyboard fingering for melodic fragments", Music Perception 14(4), 1997, Table 1 (secondary copies differ on the
greatest relaxed span of 1-5: 10 or 11)."""

WIDEST_MM = tuple(
    max(Keyboard().x_mm(key + semitones) - Keyboard().x_mm(key) for key in range(12)) for semitones in range(16)
)
"""The widest place of each interval, in semitones, on the full-size keyboard that the table was made for."""

_TABLE_REACH_MM = DEFAULT_SPAN_MM - REACH_BELOW_SPAN_MM
"""Reach of the hand the table describes: a ninth anywhere, but no tenth between white keys (211.5 mm)."""

_WHITE_KEY_INTERVALS = (
    "unison", "second", "third", "fourth", "fifth", "sixth", "seventh", "octave",
    "ninth", "tenth", "eleventh", "twelfth", "thirteenth", "fourteenth", "double octave",
)  # fmt: skip

CAUTION = (
    "Never force a stretch. Rest often, stop at the first pain, and ask a teacher or a clinician if it comes back."
)
"""Shown wherever a span is measured, wide chords are planned or practice runs long."""


@dataclass(frozen=True, slots=True)
class Spans:
    """Limits of one pair of fingers, the higher-numbered finger further out.

    The least are in semitones, negative where the fingers cross: what matters is which keys lie between. The greatest
    are in mm: what matters is how far the hand opens.
    """

    least_practical: int
    least_comfortable: int
    least_relaxed: int
    most_relaxed: float
    most_comfortable: float
    most_practical: float


@dataclass(frozen=True, slots=True)
class Hand:
    """One hand of the player.

    Attributes:
        span_mm: Thumb tip to little-finger tip of the open hand.
        comfort: How much of the way from relaxed to practical the hand likes to go: 1.0 as published, below for
            a hand that would rather not stretch, above for one that does not mind. Reach is not changed by it.
    """

    span_mm: float = DEFAULT_SPAN_MM
    comfort: float = 1.0

    def __post_init__(self) -> None:
        if not SMALLEST_SPAN_MM <= self.span_mm <= LARGEST_SPAN_MM:
            raise CoachError(
                f"a span of {self.span_mm:g} mm is not a hand's: measure from the tip of the thumb to the tip of the "
                f"little finger of the open hand, {SMALLEST_SPAN_MM:.0f} to {LARGEST_SPAN_MM:.0f} mm"
            )
        if not 0.8 <= self.comfort <= 1.2:
            raise CoachError(f"a stretch comfort of {self.comfort:g} is outside 0.8 to 1.2")

    @property
    def reach_mm(self) -> float:
        """Widest distance between key centres that the hand can strike together."""
        return self.span_mm - REACH_BELOW_SPAN_MM

    def spans(self, low: int, high: int) -> Spans:
        """Limits of two different fingers, the lower-numbered first.

        The greatest spans scale with the hand; the least do not: a large hand plays a narrow chord as well as a small
        one.
        """
        return _spans(self, low, high)


@lru_cache(maxsize=4096)
def _spans(hand: Hand, low: int, high: int) -> Spans:
    table = SPAN_TABLE[low, high]
    scale = hand.reach_mm / _TABLE_REACH_MM
    relaxed, comfortable, practical = (WIDEST_MM[semitones] * scale for semitones in table[3:])
    practical = min(practical, hand.reach_mm)
    return Spans(
        *table[:3],
        min(relaxed * hand.comfort, practical),
        min(comfortable * hand.comfort, practical),
        practical,
    )


@lru_cache(maxsize=64)
def span_limits(hand: Hand) -> NDArray[np.float64]:
    """The span limits as an array `[limit, low finger, high finger]`, limits and their units as in `Spans`."""
    table = np.zeros((6, 6, 6))
    for low, high in combinations(range(1, 6), 2):
        spans = hand.spans(low, high)
        table[:, low, high] = (
            spans.least_practical,
            spans.least_comfortable,
            spans.least_relaxed,
            spans.most_relaxed,
            spans.most_comfortable,
            spans.most_practical,
        )
    return table


@dataclass(frozen=True, slots=True)
class Hands:
    """The player: two hands at a keyboard."""

    right: Hand = field(default_factory=Hand)
    left: Hand = field(default_factory=Hand)
    keyboard: Keyboard = field(default_factory=Keyboard)

    @classmethod
    def of_span(cls, span_mm: float, keyboard: Keyboard | None = None) -> Hands:
        """Two hands alike."""
        return cls(Hand(span_mm), Hand(span_mm), keyboard or Keyboard())

    def hand(self, side: Side) -> Hand:
        return self.right if side == "right" else self.left

    @property
    def smaller(self) -> Hand:
        return min(self.right, self.left, key=lambda hand: hand.span_mm)


@lru_cache(maxsize=64)
def widest_semitones(hand: Hand, keyboard: Keyboard) -> int:
    """The most semitones between two keys that a hand can strike together anywhere on a keyboard."""
    semitones = 0
    while any(keyboard.distance_mm(key, key + semitones + 1) <= hand.reach_mm + 1e-6 for key in range(12)):
        semitones += 1
    return semitones


def reach_in_words(hand: Hand, keyboard: Keyboard) -> str:
    """The widest interval between white keys that a hand can strike: "ninth"."""
    steps = int(hand.reach_mm / keyboard.white_mm + 1e-9)
    return _WHITE_KEY_INTERVALS[min(steps, len(_WHITE_KEY_INTERVALS) - 1)]


def reaches(hand: Hand, keyboard: Keyboard) -> str:
    """What a hand can strike, as the end of a sentence: "reaches a ninth"."""
    return f"reaches {with_article(reach_in_words(hand, keyboard))}"


def hands_in_words(hands: Hands) -> str:
    """The hands that a plan is made for: "a hand of 208 mm that reaches a ninth", or each by itself."""
    right, left, keyboard = hands.right, hands.left, hands.keyboard
    if right.span_mm == left.span_mm:
        return f"a hand of {right.span_mm:g} mm that {reaches(right, keyboard)}"
    return (
        f"a right hand of {right.span_mm:g} mm that {reaches(right, keyboard)} "
        f"and a left hand of {left.span_mm:g} mm that {reaches(left, keyboard)}"
    )
