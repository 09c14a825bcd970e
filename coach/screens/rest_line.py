"""The line that asks the player to rest."""

from __future__ import annotations

from coach.fingering.hand import CAUTION
from coach.practice.rest import Stint
from coach.screens.base import Prose


class RestLine(Prose):
    """Asks the player to rest, with how long it has been by now; gone once the hands have rested."""

    DEFAULT_CSS = """
    RestLine { padding: 0 2; height: auto; color: $warning; display: none; }
    RestLine.-on { display: block; }
    """

    def show(self, stint: Stint, clock: float) -> None:
        """Ask, or no longer, as things stand."""
        asking = stint.asking and not stint.rested(clock)
        if asking:
            self.update(f"{stint.sentence} {CAUTION}")
        self.set_class(asking, "-on")

    def tick(self, stint: Stint, clock: float) -> None:
        """Let time pass."""
        if self.has_class("-on") and stint.rested(clock):
            self.show(stint, clock)
