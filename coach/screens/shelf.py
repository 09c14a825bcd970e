"""The shelf: every piece that can be opened, and the 371 chorales, found by words of the title."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from textual import work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Input, OptionList, Static

from coach.errors import CoachError
from coach.practice.naming import told_apart
from coach.practice.standing import stand_in_words
from coach.screens.base import CoachScreen, Head, Prose
from coach.screens.hints import Hints
from coach.screens.rows import Column, Rows
from coach.screens.words import title_of

if TYPE_CHECKING:
    from coach.practice.log import Log
    from coach.score.chorales import Preparation

COLUMNS = (Column(20, 1), Column(13), Column(11), Column(18))


@dataclass(frozen=True, slots=True)
class Line:
    """One piece of the list.

    Attributes:
        name: What opens it.
        title: Of the piece.
        key: "E flat major", "" where unknown.
        phrases: How many, 0 where unknown.
        note: How it stands, or where it comes from.
        found_by: What words are looked for in.
    """

    name: str
    title: str
    key: str = ""
    phrases: int = 0
    note: str = ""
    found_by: str = ""


class ShelfScreen(CoachScreen[None]):
    """A list of pieces with a line to search it."""

    called = "Shelf"
    about = (
        "Every piece that can be opened: those you took in, those that ship with the coach, and the 371 chorales."
        " Type words of a title to find it, or the name of a file. F2 reads keys and phrases of all chorales, "
        "which takes some minutes. To take files in: coach pieces add FILE."
    )
    DEFAULT_CSS = """
    ShelfScreen Input, ShelfScreen Input:focus { margin: 1 1 0 1; }
    ShelfScreen Rows { height: 1fr; margin-top: 1; }
    ShelfScreen #below { padding: 0 2; color: $secondary; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "open", "Open", priority=True, key_display="Enter"),
        Binding("down", "step(1)", "Choose", key_display="↑ ↓", priority=True),
        Binding("up", "step(-1)", "Choose", show=False, priority=True),
        Binding("pagedown", "step(10)", "Ten on", show=False, priority=True),
        Binding("pageup", "step(-10)", "Ten back", show=False, priority=True),
        Binding("f2", "prepare", "Read the chorales", key_display="F2"),
        Binding("escape", "dismiss", "Back", key_display="Esc"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._pieces: list[Line] = []
        self._preparation: Preparation | None = None

    def compose(self) -> ComposeResult:
        yield Head("Shelf")
        yield Input(placeholder="words of the title, corpus:bach/bwv269, or a file")
        yield Rows(COLUMNS, id="rows")
        yield Prose("", id="below")
        yield Hints()

    def on_mount(self) -> None:
        self.query_one(Input).focus()
        self.query_one("#below", Static).update("Looking through the shelf.")
        self._read()
        self.set_interval(0.5, self._watch)

    def on_unmount(self) -> None:
        if self._preparation is not None:
            self._preparation.stop()

    @work(exclusive=True, group="read")
    async def _read(self) -> None:
        """Read the cards of all pieces; new ones are opened for it, so a thread does that."""
        log = self.coach.log_
        try:
            self._pieces = await asyncio.to_thread(lines_of, log)
        except CoachError as error:
            self.coach.say(str(error), problem=True)
        self.query_one("#below", Static).update("")
        self._list()

    def on_input_changed(self, event: Input.Changed) -> None:
        event.stop()
        self._list()

    def _list(self) -> None:
        from coach.score.library import has_words
        from coach.score.piece import count_of_phrases

        words = self.query_one(Input).value
        found = [line for line in self._pieces if not words.strip() or has_words(line.found_by, words)]
        self.query_one(Rows).fill(
            [
                (line.title, line.key, count_of_phrases(line.phrases) if line.phrases else "", line.note)
                for line in found
            ],
            [line.name for line in found],
        )
        nothing = "No title has these words; Enter opens them as a file or a corpus path."
        if self._preparation is None:
            self.query_one("#below", Static).update(nothing if words and not found else "")

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
        name = self.query_one(Rows).name_chosen or self.query_one(Input).value.strip()
        if name:
            self.coach.open_piece(name)

    # The chorales

    def action_prepare(self) -> None:
        """Read keys and phrases of all 371 chorales, in a process of its own."""
        from coach.score.chorales import Preparation

        if self._preparation is None:
            self._preparation = Preparation()

    def _watch(self) -> None:
        """Show how far the chorales are."""
        preparation = self._preparation
        if preparation is None:
            return
        if preparation.running:
            total = preparation.total or 371
            done = 20 * preparation.done // total
            blocks = "█" * done + "░" * (20 - done)
            self.query_one("#below", Static).update(
                f"Reading the chorales {blocks} {preparation.done} of {total}. Leaving this screen stops it."
            )
            return
        self._preparation = None
        self._read()


def lines_of(log: Log | None) -> list[Line]:
    """All pieces of the shelf, then the shipped ones, then the chorales."""
    from coach.score.cards import cards
    from coach.score.chorales import catalogue

    lines = []
    pieces = log.pieces() if log is not None else []
    aside = {str(piece["mark"]) for piece in pieces if piece["state"] == "set aside"}
    found = cards()
    titles = told_apart((card.name, card.title or title_of(card.name), card.name) for card in found)
    for card in found:
        title = titles[card.name]
        note = card.problem or standing_of(log, card.mark, card.mark in aside) or ("shipped" if card.shipped else "")
        found_by = f"{card.name} {card.title} {card.composer}"
        lines.append(Line(card.name, title, card.key, card.phrases, note, found_by))
    # Which music a chorale is, is known once it was practised: nothing reads all of them for it.
    marks = {str(piece["source"]): str(piece["mark"]) for piece in pieces}
    for chorale in catalogue():
        found_by = f"{chorale.title} {chorale.name} {chorale.number} chorale"
        mark = marks.get(chorale.name, "")
        note = standing_of(log, mark, mark in aside) or f"chorale {chorale.number}"
        lines.append(Line(chorale.name, chorale.title, chorale.key, chorale.phrases, note, found_by))
    return lines


def standing_of(log: Log | None, mark: str, aside: bool) -> str:
    """How the phrases of a piece stand: "2 solid, 1 weak"; "" before the first take.

    Args:
        aside: Whether the piece was set aside, which stands before it.
    """
    if log is None or not mark:
        return ""
    said = stand_in_words(list(log.standings(mark).values()))
    return ", ".join(filter(None, ("set aside" if aside else "", said)))
