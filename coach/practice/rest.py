"""How long the hands have played without a rest."""

from __future__ import annotations

from dataclasses import dataclass, replace

LONG = 25 * 60.0
"""Seconds of playing after which the hands should rest (common practice: a pause every 20 to 30 minutes)."""

REST = 5 * 60.0
"""Seconds without a key that rest the hands (common practice)."""

PAUSE = 20.0
"""Seconds without a key that still belong to playing: reading a verdict, finding the next chord."""


@dataclass(frozen=True, slots=True)
class Stint:
    """Playing since the last rest.

    Attributes:
        seconds: How long the hands have played.
        last: When the last key was struck.
        told: The player was told to rest.
    """

    seconds: float = 0.0
    last: float = float("-inf")
    told: bool = False

    def played(self, now: float) -> Stint:
        """A key was struck."""
        gap = now - self.last
        if gap >= REST:
            return Stint(0.0, now)
        return replace(self, seconds=self.seconds + min(max(gap, 0.0), PAUSE), last=max(now, self.last))

    @property
    def long(self) -> bool:
        """Whether it is time to rest, and the player was not told yet."""
        return self.seconds >= LONG and not self.told
