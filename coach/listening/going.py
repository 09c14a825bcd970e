"""How the player goes, as heard so far: the tempo, and how unevenly it is kept."""

from __future__ import annotations

from math import log
from typing import NamedTuple

UNKNOWN_STEP = 0.5
"""Seconds from chord to chord assumed while no tempo is known."""

SHORTEST_STEP = 0.04
"""Seconds within which two chords are struck as one and say nothing about the tempo (a melody leads by 20 to 30 ms,
Goebl 2001)."""

LATELY = 0.25
"""Share of the last step in the unevenness: it is that of the last few steps."""


class Going(NamedTuple):
    """How the player goes.

    Attributes:
        quarter: Seconds a quarter note; 0 while unknown.
        uneven: Running mean of the squared logarithms of each step's seconds over the expected ones, each 1 at most;
            0 for a player who goes evenly.
    """

    quarter: float = 0.0
    uneven: float = 0.0

    def step(self, quarters: float) -> float:
        """Seconds that so many quarter notes will take."""
        return self.quarter * quarters if self.quarter > 0 else UNKNOWN_STEP

    def ratio(self, seconds: float, quarters: float) -> float:
        """A step's seconds over the expected ones; 1 while nothing is expected."""
        return seconds / (self.quarter * quarters) if self.quarter > 0 else 1.0

    def after(self, seconds: float, quarters: float) -> Going:
        """How the player goes, one more step heard."""
        if seconds <= SHORTEST_STEP:
            return self
        heard = seconds / quarters
        if self.quarter <= 0:
            return Going(heard, self.uneven)
        ratio = heard / self.quarter
        stray = min(log(ratio) ** 2, 1.0)
        return Going(_kept(self.quarter, ratio), self.uneven + LATELY * (stray - self.uneven))


def _kept(quarter: float, ratio: float) -> float:
    """The tempo after a step: it follows the player but not a stop or a slip."""
    if 0.6 < ratio < 1.7:
        return float(quarter * ratio**0.35)
    if 0.3 < ratio < 3.0:
        return float(quarter * ratio**0.2)
    return quarter
