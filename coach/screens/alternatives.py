"""Other ways to play a phrase, beside what each costs and gains; one key takes one."""

from __future__ import annotations

import asyncio
from typing import ClassVar

from textual import work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from coach.errors import CoachError
from coach.fingering.alternatives import Alternative, alternatives
from coach.paper.alternatives_text import alternatives_text
from coach.practice import chosen
from coach.practice.music import Music
from coach.score.piece import Phrase, chords_of
from coach.screens.base import CoachScreen, Head, Prose
from coach.screens.hints import Hints
from coach.screens.words import as_sentence

MARGINS = 6
"""Columns beside the page: its padding and the bar by which it scrolls."""

NARROWEST, WIDEST = 40, 100
"""Columns between which the page is laid out."""


class AlternativesScreen(CoachScreen[bool]):
    """The next-best plans of one phrase; gives whether one was taken."""

    called = "Alternatives"
    about = (
        "Other ways to play the phrase: what each does otherwise, what it costs in effort and what it gains, and "
        "its table. One key takes one: it becomes a choice of yours, and the rest is planned around it. Undo on "
        "the page of the piece takes it back."
    )
    DEFAULT_CSS = """
    AlternativesScreen VerticalScroll { padding: 1 2; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("a", "take(0)", "Take A"),
        Binding("b", "take(1)", "Take B"),
        Binding("c", "take(2)", "Take C"),
        Binding("down", "scroll(1)", "Read on", key_display="↑ ↓"),
        Binding("up", "scroll(-1)", "Read back", show=False),
        Binding("escape", "dismiss(False)", "Back", key_display="Esc"),
    ]

    def __init__(self, music: Music, phrase: Phrase) -> None:
        super().__init__()
        self._music, self._phrase = music, phrase
        self._found: list[Alternative] = []
        self._looked = False

    def compose(self) -> ComposeResult:
        yield Head(f"{self._music.piece.title} · phrase {self._phrase.number}")
        with VerticalScroll(can_focus=False):
            yield Prose("Looking for other ways.", id="page")
        yield Hints()

    def on_mount(self) -> None:
        self._look()

    @work(exclusive=True)
    async def _look(self) -> None:
        music, phrase = self._music, self._phrase

        def found() -> list[Alternative]:
            options = chosen.options_for(music.piece, music.options)
            return alternatives(phrase, chords_of(music.piece, phrase), music.hands, options)

        try:
            self._found = await asyncio.to_thread(found)
        except CoachError as error:
            self.coach.say(str(error), problem=True)
            return
        self._looked = True
        self._show()
        self.refresh_bindings()

    def on_resize(self) -> None:
        if self._looked:
            self._show()

    def _show(self) -> None:
        """Write what was found, as wide as there is room."""
        plan = next(plan for plan in self._music.plan.phrases if plan.number == self._phrase.number)
        width = min(max(self.size.width - MARGINS, NARROWEST), WIDEST)
        # On paper an alternative is taken by a word of the command; here it has a key.
        page = alternatives_text(self._music.piece, plan, self._found, width=width, how="choose {choice}")
        self.query_one("#page", Static).update(Content(page))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        if action == "take":
            return bool(parameters) and isinstance(parameters[0], int) and parameters[0] < len(self._found)
        return True

    def action_take(self, place: int) -> None:
        """Choose this way."""
        music = self._music
        try:
            made = chosen.make(music.piece, music.phrases, [self._found[place].fix], music.hands, music.options)
        except CoachError as error:
            self.coach.say(str(error), problem=True)
            return
        if made.said:
            self.coach.say(as_sentence(made.said))
        self.dismiss(True)

    def action_scroll(self, by: int) -> None:
        """Move the page by some lines."""
        self.query_one(VerticalScroll).scroll_relative(y=4 * by, animate=False)
