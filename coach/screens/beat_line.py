"""The beat of a drill in tempo, counted where it can be seen from the bench."""

from __future__ import annotations

from textual.app import RenderResult
from textual.content import Content
from textual.reactive import reactive
from textual.widget import Widget

from coach.practice.beat import Beat
from coach.practice.task import Task


class BeatLine(Widget):
    """The beat, counted where it can be seen from the bench."""

    DEFAULT_CSS = """
    BeatLine { height: 1; padding: 0 2; display: none; }
    BeatLine.-on { display: block; }
    """

    beat: reactive[Beat | None] = reactive(None)
    quarter_bpm: reactive[float] = reactive(60.0)
    beats: reactive[int] = reactive(4)

    def show(self, task: Task) -> None:
        """Be there for a passage that is played in tempo."""
        self.set_class(task.step.clock == "tempo", "-on")
        self.quarter_bpm = task.quarter_bpm
        self.beats = task.beats[0].of if task.beats else 4

    def render(self) -> RenderResult:
        now = self.beat
        parts: list[Content] = []
        for number in range(1, (now.of if now else self.beats) + 1):
            here = now is not None and number == now.number
            parts.append(Content.styled(f" {number} ", "reverse bold" if here else ""))
        counting = "  count-in" if now is not None and now.counted else ""
        return Content(" ").join(parts) + Content(f"   ♩ = {self.quarter_bpm:.0f}{counting}")
