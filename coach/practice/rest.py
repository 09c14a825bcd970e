"""When the hands should rest: how long they have played, when the player is asked to stop, and what is said then."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

LONG = 25 * 60.0
"""Seconds of playing after which the hands should rest (common practice: a pause every 20 to 30 minutes)."""

REST = 5 * 60.0
"""Seconds without a key that rest the hands (common practice)."""

PAUSE = 20.0
"""Seconds without a key that still belong to playing: reading a verdict, finding the next chord."""

LONG_DAY = 60.0
"""Minutes on one day from which the hands should be thought of however they were divided (common practice, no
source)."""

LOOK_BACK = timedelta(hours=6)
"""How far back the takes are looked through for the beginning of the present stint."""


@dataclass(frozen=True, slots=True)
class Stint:
    """Playing since the last rest.

    Attributes:
        seconds: How long the hands have played.
        last: When the last key was struck.
        asked: How long they had played when the player was last asked to rest; 0 before the first time.
        asking: Whether the player is asked to rest now, and has not put it away.
    """

    seconds: float = 0.0
    last: float = float("-inf")
    asked: float = 0.0
    asking: bool = False

    def played(self, now: float) -> Stint:
        """A key was struck."""
        if self.rested(now):
            return Stint(0.0, now)
        gap = now - self.last
        return replace(self, seconds=self.seconds + min(max(gap, 0.0), PAUSE), last=max(now, self.last))

    def rested(self, now: float) -> bool:
        """Whether the hands have rested since."""
        return now - self.last >= REST

    @property
    def long(self) -> bool:
        """Whether it is time to ask the player to rest: for the first time, or again."""
        return self.seconds - self.asked >= LONG

    def ask(self) -> Stint:
        """The player is asked to rest."""
        return replace(self, asked=self.seconds, asking=True)

    def put_away(self) -> Stint:
        """The player has read it, and plays on."""
        return replace(self, asking=False)

    @property
    def sentence(self) -> str:
        """What the player is asked."""
        return f"You have played for {self.seconds / 60:.0f} minutes: rest your hands for five."


def stint_of(takes: Iterable[tuple[datetime, float]], now: datetime, clock: float) -> Stint:
    """The stint that goes on at an instant, from the takes that were kept: it does not end with the program.

    Args:
        takes: When each began, and how many seconds it lasted; the oldest first.
        now: This instant.
        clock: What the clock shows now by which keys are timed.
    """
    stint = Stint()
    for began, seconds in takes:
        begun = clock - (now - began).total_seconds()
        stint = stint.played(begun)
        stint = replace(stint, seconds=stint.seconds + seconds, last=max(stint.last, begun + seconds))
    return Stint() if stint.rested(clock) else stint


def day_is_long(played: float, minutes: float) -> str:
    """What is said of a day on which much is played, or is to be; "" where it is not much.

    Args:
        played: Minutes on this day so far.
        minutes: How long its practice is meant to be.
    """
    if played >= LONG_DAY:
        return f"You have played for {played:.0f} minutes today."
    if minutes > LONG_DAY:
        return f"{minutes:.0f} minutes are long for the hands: divide them."
    return ""
