"""Choosing a step of a phrase's ladder."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import OptionList

from coach.practice.ladder import Step
from coach.screens.base import CoachScreen, Head, Prose
from coach.screens.hints import Hints
from coach.screens.rows import Column, Rows


class StepsScreen(CoachScreen[Step | None]):
    """The steps from the lowest, with the one that is next."""

    called = "Steps"
    about = (
        "The ladder of the phrase from its lowest step. The coach goes up it by what it hears; choose any step to"
        " play that one."
    )
    DEFAULT_CSS = """
    StepsScreen #above { padding: 1 2; color: $secondary; }
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "choose", "Choose", priority=True, key_display="Enter"),
        Binding("escape", "dismiss(None)", "Back", key_display="Esc"),
    ]

    def __init__(self, steps: Sequence[Step], place: int) -> None:
        """Offer steps.

        Args:
            steps: The ladder.
            place: The step to play next; beyond the last where all are passed.
        """
        super().__init__()
        self._steps = tuple(steps)
        self._at = place

    def compose(self) -> ComposeResult:
        yield Head("Steps")
        yield Prose("Each step is passed by what is heard. You can always choose another one.", id="above")
        yield Rows((Column(24, 1), Column(10, 0)), id="rows")
        yield Hints()

    def on_mount(self) -> None:
        words = ["passed" if i < self._at else "next" if i == self._at else "" for i in range(len(self._steps))]
        rows = self.query_one(Rows)
        rows.fill([(step.name, word) for step, word in zip(self._steps, words, strict=True)])
        rows.highlighted = min(self._at, len(self._steps) - 1)
        rows.focus()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        self.action_choose()

    def action_choose(self) -> None:
        """Take the chosen step."""
        place = self.query_one(Rows).highlighted
        if place is not None:
            self.dismiss(self._steps[place])
