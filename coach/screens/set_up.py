"""The first set-up: instrument, hands, and a first piece or a demonstration. Everything here can be changed later."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import OptionList, Static

from coach.fingering.hand import CAUTION, hands_in_words
from coach.listening.events import Event
from coach.listening.ports import Link
from coach.listening.wording import key_name
from coach.score.library import shelf_entries
from coach.screens.base import CoachScreen, Head, Prose
from coach.screens.hints import Hints
from coach.screens.rows import Column, Rows
from coach.screens.words import pretty, title_of


class SetUpScreen(CoachScreen[None]):
    """What a newcomer sees first."""

    called = "Set-up"
    about = (
        "Three things before the first piece: see that your instrument is heard, say how large your hands are, "
        "choose what to begin with. All of it can be changed later, from Today."
    )
    DEFAULT_CSS = """
    SetUpScreen .block { padding: 1 2 0 2; }
    SetUpScreen Rows { height: 1fr; margin: 0 0 0 0; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "begin", "Begin with this piece", priority=True, key_display="Enter"),
        Binding("d", "demonstrate", "Demonstration"),
        Binding("h", "app.go('hands')", "Hands"),
        Binding("i", "app.go('instrument')", "Instrument"),
        Binding("escape", "later", "Later", key_display="Esc"),
    ]

    def compose(self) -> ComposeResult:
        yield Head("Welcome")
        yield Prose(id="instrument", classes="block")
        yield Prose(id="hands", classes="block")
        yield Prose(CAUTION, classes="caution")
        yield Prose(
            "3  A first piece. Choose one below, or press d to watch a demonstration: a simulated player "
            "takes you through the first steps in a minute.",
            classes="block",
        )
        yield Rows((Column(30, 1),), id="rows")
        yield Hints()

    def on_mount(self) -> None:
        entries = [entry for entry in shelf_entries() if entry.shipped] or list(shelf_entries())
        self.query_one(Rows).fill([(title_of(entry.name),) for entry in entries], [entry.name for entry in entries])
        self.query_one(Rows).focus()
        self._show()

    def _show(self, heard: str = "") -> None:
        link = self.coach.link
        said = link.sentence if link is not None else "Looking for a MIDI keyboard."
        said += f" Heard: {heard}." if heard else " Press a key to see that it is heard." if self._listening else ""
        self.query_one("#instrument", Static).update(f"1  Instrument. {said}")
        made_for = hands_in_words(self.coach.settings.hands)
        self.query_one("#hands", Static).update(
            f"2  Hands. Plans are made for {made_for}. Press h to type or measure your own."
        )

    @property
    def _listening(self) -> bool:
        link = self.coach.link
        return link is not None and link.state == "listening"

    def linked(self, link: Link) -> None:
        super().linked(link)
        self._show()

    def on_screen_resume(self) -> None:
        super().on_screen_resume()
        if self.is_mounted:
            self._show()

    def hear(self, events: Sequence[Event]) -> None:
        pressed = [event.key for event in events if event.kind == "press"]
        if pressed:
            self._show(pretty(key_name(pressed[-1])))

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        self.action_begin()

    def action_begin(self) -> None:
        """Open the chosen piece."""
        name = self.query_one(Rows).name_chosen
        self.action_later()
        if name:
            self.coach.open_piece(name)

    def action_demonstrate(self) -> None:
        """Watch the demonstration; what was to be set up here still is when it is over."""
        from coach.screens import doors

        doors.demonstrate(self.coach)

    def action_later(self) -> None:
        """Go on; the set-up is in the commands."""
        self.coach.change_settings(set_up=True)
        self.dismiss()
