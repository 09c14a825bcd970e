"""Which fingers are in sight: those that the step shows, all of them for a peek, all or none to be read."""

from __future__ import annotations

from dataclasses import dataclass, replace

from coach.practice.ladder import Fingers

PEEK = 2.0
"""Seconds that a peek at hidden fingers lasts; a key held down repeats and keeps them in sight."""


@dataclass(frozen=True, slots=True)
class FingersShown:
    """What the player sees of the fingers.

    Attributes:
        asked: What the step shows.
        read: What is shown while nobody peeks: as asked, or all or none for the player to read between two takes.
        peek_until: When a peek is over, in seconds of the drill's clock; None where there is none.
    """

    asked: Fingers = "all"
    read: Fingers = "all"
    peek_until: float | None = None

    @property
    def shown(self) -> Fingers:
        """What is in sight."""
        return "all" if self.peek_until is not None else self.read

    def peeked(self, clock: float) -> FingersShown:
        """The player peeks at them, or goes on peeking."""
        return replace(self, peek_until=clock + PEEK)

    def laid_open(self, show: bool) -> FingersShown:
        """The player wants to read with them, or without."""
        return replace(self, read="all" if show else "none")

    def at(self, clock: float) -> FingersShown:
        """Time has passed: a peek that is over shows nothing more."""
        return replace(self, peek_until=None) if self.peek_until is not None and clock >= self.peek_until else self

    def taken_up(self) -> FingersShown:
        """A take begins: fingers that were shown to be read are hidden again; those that were hidden stay so."""
        return FingersShown(self.asked, self.asked) if self.shown == "all" else self
