"""The shelf: every piece that can be opened, found by the words of its title."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Input, OptionList, Static

from coach.score.library import shelf_entries
from coach.screens.base import CoachScreen, Head
from coach.screens.hints import Hints
from coach.screens.rows import Column, Rows


class ShelfScreen(CoachScreen[None]):
    """A list of pieces with a line to search it."""

    DEFAULT_CSS = """
    ShelfScreen Input { margin: 1 1 0 1; border: none; height: 1; padding: 0 1; background: $surface; }
    ShelfScreen Rows { height: 1fr; margin-top: 1; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "open", "Open", priority=True, key_display="Enter"),
        Binding("down", "step(1)", "Choose", key_display="↑ ↓", priority=True),
        Binding("up", "step(-1)", "Choose", show=False, priority=True),
        Binding("escape", "dismiss", "Back", key_display="Esc"),
    ]

    def compose(self) -> ComposeResult:
        yield Head("Shelf")
        yield Input(placeholder="words of the title, or corpus:bach/bwv269, or a file")
        yield Rows((Column(20, 1), Column(9, 0)), id="rows")
        yield Static("", id="none", classes="quiet")
        yield Hints()

    def on_mount(self) -> None:
        self._entries = shelf_entries()
        self._list("")
        self.query_one(Input).focus()

    def on_input_changed(self, event: Input.Changed) -> None:
        self._list(event.value)

    def _list(self, words: str) -> None:
        wanted = words.lower().split()
        found = [entry for entry in self._entries if all(word in entry.name.lower() for word in wanted)]
        self.query_one(Rows).fill(
            [(entry.name, "shipped" if entry.shipped else "") for entry in found], [entry.name for entry in found]
        )
        nothing = "" if found or not words else "No title has these words; Enter opens it as a file or a corpus path."
        self.query_one("#none", Static).update(nothing)

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        self.action_open()

    def action_step(self, by: int) -> None:
        """Move the choice."""
        rows = self.query_one(Rows)
        if rows.option_count:
            rows.highlighted = min(max((rows.highlighted or 0) + by, 0), rows.option_count - 1)

    def action_open(self) -> None:
        """Open the chosen piece, or what was typed."""
        rows = self.query_one(Rows)
        typed = self.query_one(Input).value.strip()
        if rows.highlighted is not None and rows.option_count:
            name = rows.get_option_at_index(rows.highlighted).id
            if name:
                self.coach.open_piece(name)
        elif typed:
            self.coach.open_piece(typed)
