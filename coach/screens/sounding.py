"""What sounds while a screen is up: a passage as planned, or the beat of a take in tempo."""

from __future__ import annotations

from collections.abc import Sequence

from coach.paper.sound import Message, Output, clicks
from coach.practice.task import Task

NO_OUTPUT = "There is no MIDI output to hear it on."
NO_CLICKS = "There is no MIDI output to click on: the beat is to be seen only."


class Sounding:
    """Sounds one thing at a time on the MIDI output."""

    def __init__(self, output: Output) -> None:
        self._output = output
        self._clicking_for: float | None = None

    def hear(self, messages: Sequence[Message]) -> str:
        """Sound something, or stop what is sounding.

        Returns:
            A sentence where there is nothing to hear it on; "" else.
        """
        if self._output.playing:
            self.stop()
            return ""
        if not self._output.ready:
            return NO_OUTPUT
        self._output.play(messages)
        return ""

    def click(self, task: Task, first_chord: float | None, *, wanted: bool) -> None:
        """Click the count-in and the beats while a take in tempo goes on.

        Args:
            task: What is played.
            first_chord: When its first chord is due, by `time.perf_counter()`; None while no such take goes on.
            wanted: Whether the player wants clicks.
        """
        if first_chord is None or not wanted:
            # What else is sounding goes on.
            if self._clicking_for is not None:
                self.stop()
        elif first_chord != self._clicking_for:
            self._clicking_for = first_chord
            self._output.play(clicks(task.clicks()), first_chord)

    def said_of_clicks(self, *, wanted: bool) -> str:
        """What becomes of the beat: it clicks where the player wants it to and there is something to click on."""
        if not wanted:
            return "The beat is silent."
        return "The beat clicks." if self._output.ready else NO_CLICKS

    def stop(self) -> None:
        """Silence, at once."""
        self._clicking_for = None
        self._output.stop()
