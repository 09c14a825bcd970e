"""The page of a drill: the passage on the stand with what is asked for, its marks, and what is heard. It only draws."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.widgets import Static

from coach.listening.ports import Link
from coach.paper.cells import first_stanza
from coach.paper.signs import breadth
from coach.practice.attempt import Done
from coach.practice.drill import State
from coach.practice.fingers_shown import FingersShown
from coach.screens.base import Prose
from coach.screens.beat_line import BeatLine
from coach.screens.chord_table import ChordTableView
from coach.screens.heard import Heard
from coach.screens.rest_line import RestLine
from coach.screens.stand import Stand


class DrillPage(Vertical):
    """What is seen of a drill from the bench.

    Attributes:
        looking: Place of the chord that is looked at, away from the piano; None while one plays.
        fingers: Which fingers are in sight.
        link: How things stand with the keyboard that is listened to; None where that is nobody's business.
    """

    DEFAULT_CSS = """
    DrillPage { overflow-y: auto; }
    DrillPage #asked { padding: 0 2; height: auto; min-height: 1; color: $secondary; }
    DrillPage #page { height: 1fr; min-height: 10; padding: 1 1 0 1; scrollbar-size-vertical: 1; }
    DrillPage #said { padding: 0 2; height: auto; min-height: 1; }
    DrillPage RestLine { dock: bottom; }
    """

    def __init__(self) -> None:
        super().__init__()
        self.looking: int | None = None
        self.fingers = FingersShown()
        self.link: Link | None = None
        self._stand: Stand | None = None
        self._drawn = State()
        self._text = ""

    def compose(self) -> ComposeResult:
        yield Prose(id="asked")
        yield BeatLine()
        with VerticalScroll(id="page", can_focus=False):
            yield ChordTableView(live=True, id="table")
        yield Prose(id="said")
        yield Heard()
        yield RestLine(id="rest")

    def put_up(self, stand: Stand) -> None:
        """Show the passage on the stand from its beginning."""
        self._stand, self.looking = stand, None
        task, step = stand.drill.task, stand.step
        side = None if step.hand == "both" else step.hand
        self.query_one(ChordTableView).show(task.playable, side, first_stanza(stand.music.piece, task.plan))
        self.see(FingersShown(step.fingers, step.fingers))
        self.query_one(BeatLine).show(task)
        self.draw(stand.drill.state)
        self.query_one("#page").scroll_home(animate=False)

    def ask(self, words: str) -> None:
        """Say what is asked for."""
        self.query_one("#asked", Static).update(words)

    def see(self, fingers: FingersShown) -> None:
        """Have these fingers in sight."""
        if fingers != self.fingers:
            self.fingers = fingers
            self.query_one(ChordTableView).fingers = fingers.shown

    def draw(self, state: State) -> None:
        """Draw a state of the drill."""
        before, self._drawn = self._drawn, state
        table, heard = self.query_one(ChordTableView), self.query_one(Heard)
        here = state.here if self.looking is None else self.looking
        moved = table.here != here
        table.mark(state.marks, here)
        if moved and here is not None:
            self.query_one("#page", VerticalScroll).scroll_to_region(table.system_of(here), animate=False)
        if state.done is not None and not state.going_on:
            # Not before the verdict stands there, which takes room from the table.
            self.call_after_refresh(self._turn_to, state.done)
        self.query_one(BeatLine).beat = state.beat
        if state.phase != before.phase and state.going_on:
            heard.clear()
        if state.phase == "heard" and state.done is None and before.going_on:
            # What was begun was none of this passage: the verdict before it stands.
            heard.done = state.shown
        if state.going_on and (not before.going_on or state.done is not None):
            self.see(self.fingers.taken_up())
        if self._stand is not None:
            self._say(self._stand.said(state, self.looking, heard=heard.done is not None, link=self.link))

    def _turn_to(self, done: Done) -> None:
        """Have the line of the table in sight that the first remark speaks of, from its head; the first line where
        there is nothing to remark."""
        if self._stand is None or done.task is not self._stand.drill.task:
            return
        remarked = done.verdict.remarked
        table, page = self.query_one(ChordTableView), self.query_one("#page", VerticalScroll)
        if remarked is None:
            page.scroll_home(animate=False)
            return
        page.scroll_to_region(table.system_of(done.task.places.chords[remarked]), top=True, animate=False)

    def _say(self, text: str) -> None:
        if text != self._text:
            line = self.query_one("#said", Static)
            width = max(line.content_size.width, 1)
            # Laying the screen out again takes longer than drawing it; one line in place of another needs none.
            line.update(Content(text), layout=max(breadth(text), breadth(self._text)) > width)
            self._text = text
