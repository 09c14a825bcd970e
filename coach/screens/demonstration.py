"""The demonstration: a simulated player performs into the drill. Labelled as what it is, and kept nowhere."""

from __future__ import annotations

import tempfile
from collections import deque
from collections.abc import Sequence
from pathlib import Path
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType

from coach.errors import CoachError
from coach.listening.events import Event
from coach.listening.player import Manner, Mistakes, perform
from coach.listening.ports import Link
from coach.practice.ladder import Step
from coach.practice.log import Log
from coach.practice.round import Round
from coach.practice.work import phrases_from
from coach.score.library import shelf_entries
from coach.screens.base import Prose
from coach.screens.drill import DrillScreen
from coach.screens.stand import Stand

LABEL = "Demonstration: a simulated player is playing. Nothing of this is kept."

FIRST_PIECE = "wide-water"
"""The piece shown where none is named, if it is there."""

PAUSE = 2.5
"""Seconds between two takes, to read what was heard."""

SLIPS = (
    Mistakes(),
    Mistakes(wrong=0.12),
    Mistakes(),
    Mistakes(no_lift=0.9, missing=0.06),
    Mistakes(),
    Mistakes(late=0.12),
)
"""What goes wrong in one take after the other, over and over: a newcomer should see faults and passes."""


class DemonstrationScreen(DrillScreen):
    """A drill that a simulated player plays."""

    called = "Demonstration"
    about = (
        "A simulated player practises a phrase before your eyes, with slips, so that you see how takes are heard "
        "and steps passed. Nothing of it is kept."
    )
    DEFAULT_CSS = """
    DemonstrationScreen #label { padding: 0 2; height: auto; background: $warning 20%; text-style: bold; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave", "End", key_display="Esc")]

    def __init__(
        self, name: str, number: int | None = None, step: Step | None = None, seed: int = 1, *, letters: str = ""
    ) -> None:
        """Show a phrase being practised.

        Args:
            name: What opens the piece.
            number: Of the phrase to begin with; the first that has something to play where none is named.
            step: The step to show, None to climb the ladder.
            seed: The same seed plays the same takes.
            letters: The voices that are played, "" for all.
        """
        super().__init__([])
        self._source, self._number, self._asked, self._seed, self._letters = name, number, step, seed, letters
        self._folder = tempfile.TemporaryDirectory(prefix="coach-demonstration-")
        self._own_log: Log | None = None
        self._script: deque[Event] = deque()
        self._next_at: float | None = None
        self._take = 0
        self._waiting_for_beat = False

    @property
    def log_(self) -> Log | None:
        """A log that is thrown away, so that the ladder is climbed as it would be."""
        return self._own_log

    def compose(self) -> ComposeResult:
        yield from super().compose()
        yield Prose(LABEL, id="label")

    async def prepare(self) -> None:
        """Put the phrase on the stand and sit down."""
        self.move_child(self.query_one("#label"), after=self.query_one("Head"))
        try:
            self._own_log = Log.open(Path(self._folder.name) / "practice.sqlite")
            music = await self.coach.music(self._source, self._letters)
            self._own_log.know(music.piece, music.phrases, music.shapes)
            items, place = phrases_from(music, self._number, self._asked)
        except CoachError as error:
            self.coach.say(str(error), problem=True)
            self.leave()
            return
        self.set_interval(1 / 60, self._play)
        self._round = Round(tuple(items), place, place)
        self._take_up(place)

    def on_unmount(self) -> None:
        log, folder = self._own_log, self._folder

        def clear() -> None:
            if log is not None:
                log.close()
            folder.cleanup()

        # After the last take, which may still be on its way into that log.
        self.coach.keeper.submit(clear)

    @property
    def link(self) -> Link | None:
        """The simulated player needs no keyboard."""
        return None

    def hear(self, events: Sequence[Event]) -> None:
        """The keyboard is not heard while the simulated player plays."""

    def unplugged(self, releases: Sequence[Event]) -> None:
        """Nor is it missed."""

    def _listen_again(self, stand: Stand) -> None:
        """A take that nobody watched to its end is begun again."""
        if self._script or self._waiting_for_beat:
            self._take = max(self._take - bool(self._script), 0)
            self._script.clear()
            self._waiting_for_beat, self._next_at = False, None
            self.heard.clear()
            self._set(stand.music, stand.home, stand.passage, stand.step, chosen=stand.chosen, bpm=stand.bpm)

    def _play(self) -> None:
        """Let the simulated player do what is due."""
        drill = self.drill
        if drill is None or not self.is_active:
            return
        now = self.coach.clock()
        if self._script:
            due = []
            while self._script and self._script[0].seconds <= now:
                due.append(self._script.popleft())
            super().hear(due)
            return
        phase = self.state.phase
        if phase == "counting" and self._waiting_for_beat and self.state.first_chord is not None:
            self._waiting_for_beat = False
            self._perform(self.state.first_chord)
        elif phase in ("ready", "heard"):
            if self._next_at is None:
                self._next_at = now + PAUSE
            elif now >= self._next_at:
                self._next_at = None
                self._begin(now)

    def _begin(self, now: float) -> None:
        """Begin a take as a player would: with the first chord, which in tempo asks for the count-in."""
        drill = self.drill
        assert drill is not None
        if drill.task.step.clock == "none":
            self._perform(now + 0.1)
            return
        keys = sorted(drill.task.first_keys)
        self._waiting_for_beat = True
        self._script.extend(Event(now + 0.004 * i, "press", key, 64) for i, key in enumerate(keys))
        self._script.extend(Event(now + 0.3, "release", key, 64) for key in keys)

    def _perform(self, start: float) -> None:
        drill = self.drill
        assert drill is not None
        task = drill.task
        bpm = task.quarter_bpm if task.step.clock == "tempo" else min(task.quarter_bpm, 66.0)
        slips = SLIPS[self._take % len(SLIPS)]
        played = perform(task.expected, Manner(quarter_bpm=bpm), slips, self._seed + self._take, start)
        self._take += 1
        self._script.extend(sorted(played.events, key=lambda event: event.seconds))


def shown_piece() -> str:
    """The piece that is demonstrated where none is named.

    Raises:
        CoachError: there is no piece at all.
    """
    names = [entry.name for entry in shelf_entries()]
    if not names:
        raise CoachError("there is no piece to demonstrate: take one in with coach pieces add FILE")
    return FIRST_PIECE if FIRST_PIECE in names else names[0]
