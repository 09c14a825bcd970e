"""What a foot asks for: quick presses of the sustain pedal on its own, twice for the next phrase, three times back."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from coach.listening.events import PEDAL_DOWN, Event

Wish = Literal["", "next", "back"]

APART = 0.5
"""Seconds at most from one press to the next; pedalling under chords is slower (common practice, no source)."""

UP = 48
"""Position below which a pedal has come up; between this and `PEDAL_DOWN` a foot trembles (common practice)."""


@dataclass(frozen=True, slots=True)
class Foot:
    """The pedal as far as it has come.

    Attributes:
        down: Whether it is down.
        presses: Quick presses so far.
        last: When the last of them came.
    """

    down: bool = False
    presses: int = 0
    last: float = float("-inf")

    def hear(self, event: Event, *, pedalling: bool = False) -> Foot:
        """Count a press; a key between two presses makes them pedalling.

        Args:
            event: What came in.
            pedalling: The player is playing, and the pedal part of it: a pedal may be changed twice on a long note.
        """
        if event.kind == "press":
            return replace(self, presses=0)
        if event.kind != "pedal":
            return self
        down = event.value >= (UP if self.down else PEDAL_DOWN)
        if not down or self.down:
            return replace(self, down=down)
        if pedalling:
            return replace(self, down=True, presses=0)
        quick = event.seconds - self.last <= APART
        return Foot(True, self.presses + 1 if quick and self.presses else 1, event.seconds)

    def wish(self, now: float) -> tuple[Wish, Foot]:
        """What is asked for once no further press can belong to it, and the foot after it was heard."""
        if self.presses == 0 or now - self.last <= APART:
            return "", self
        asked: Wish = "next" if self.presses == 2 else "back" if self.presses == 3 else ""
        return asked, replace(self, presses=0)
