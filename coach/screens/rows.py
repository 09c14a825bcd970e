"""A list of lines in columns that fit the window: today's practice, the shelf, the week."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from textual.content import Content
from textual.widgets import OptionList
from textual.widgets.option_list import Option

from coach.paper.signs import breadth, padded
from coach.screens.base import shortened


@dataclass(frozen=True, slots=True)
class Column:
    """One column.

    Attributes:
        least: Places it needs at least.
        share: Of the places left over, in comparison with the other columns; 0 for none.
        right: Whether its text stands to the right.
    """

    least: int
    share: int = 0
    right: bool = False


GAP = 2
"""Places between two columns."""


def widths(columns: Sequence[Column], width: int, longest: Sequence[int] = ()) -> list[int]:
    """Places for each column; the columns with a share divide what is left over, or go without.

    Args:
        longest: Places of the longest text of each column. Where one would be cut it gets the places that the texts of
            other columns leave free, the first column before the others.
    """
    fixed = sum(column.least for column in columns) + GAP * (len(columns) - 1)
    spare = max(width - fixed, 0)
    shares = sum(column.share for column in columns) or 1
    places = [column.least + spare * column.share // shares for column in columns]
    free = [max(has - needs, 0) for has, needs in zip(places, longest, strict=False)]
    for one, needs in enumerate(longest):
        for other, left in enumerate(free):
            given = min(max(needs - places[one], 0), left)
            places[one] += given
            places[other] -= given
            free[other] -= given
    return places


def line(cells: Sequence[str], columns: Sequence[Column], width: int, longest: Sequence[int] = ()) -> str:
    """One line; see `widths`."""
    parts = []
    for cell, column, places in zip(cells, columns, widths(columns, width, longest), strict=True):
        parts.append(padded(shortened(cell, places), places, right=column.right))
    return (" " * GAP).join(parts)


class Rows(OptionList):
    """Lines in columns; the chosen one is marked by a sign as well as by colour."""

    DEFAULT_CSS = """
    Rows { text-wrap: nowrap; text-overflow: ellipsis; scrollbar-gutter: stable; }
    """

    def __init__(self, columns: Sequence[Column], *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._columns = tuple(columns)
        self._cells: list[tuple[str, ...]] = []
        self._longest: list[int] = []
        self._names: list[str] = []

    def fill(self, rows: Sequence[Sequence[str]], names: Sequence[str] = ()) -> None:
        """Show these rows; the highlight stays at its place, but for rows of another kind, which begin at the first.

        Args:
            rows: The cells of each.
            names: What each row stands for, where `name_chosen` is asked; rows with names are another kind than those
                without.
        """
        if self._cells and bool(names) != bool(self._names):
            self.highlighted = 0
        self._cells = [tuple(row) for row in rows]
        self._longest = [max(map(breadth, column)) for column in zip(*self._cells, strict=True)]
        self._names = list(names)
        self._draw()

    @property
    def name_chosen(self) -> str:
        """What the chosen row stands for, "" where there is none."""
        place = self.highlighted
        return self._names[place] if place is not None and place < len(self._names) else ""

    def on_resize(self) -> None:
        self._draw()

    def watch_highlighted(self, highlighted: int | None) -> None:
        super().watch_highlighted(highlighted)
        before = getattr(self, "_pointed", None)
        for place in (before, highlighted):
            if place is not None and place < len(self.options):
                self.replace_option_prompt_at_index(place, self._prompt(place))
        self._pointed = highlighted

    def _draw(self) -> None:
        place = self.highlighted
        self.set_options([Option(self._prompt(i)) for i in range(len(self._cells))])
        if self._cells:
            self.highlighted = min(place or 0, len(self._cells) - 1)

    def _prompt(self, place: int) -> Content:
        width = max(self.scrollable_content_region.width - 4, 20)
        pointer = "▸ " if place == self.highlighted else "  "
        # Blanks beyond the edge of a narrow window would be told of as text that is cut.
        return Content((pointer + line(self._cells[place], self._columns, width, self._longest)).rstrip())
