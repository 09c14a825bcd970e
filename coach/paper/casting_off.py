"""Casting off: which chords of a phrase go into which line of the page, and how wide each column is cut."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from coach.paper.cells import Cell, Column, Grid
from coach.paper.signs import Signs, breadth

LABELS = 4
"""Places for the names of the rows."""

GAPS = (6, 5, 4, 3, 2)
"""Places between two chords, the wider the better to read."""


@dataclass(frozen=True, slots=True)
class Setting:
    width: int
    signs: Signs
    marks: bool
    airy: bool


@dataclass(frozen=True, slots=True)
class Shape:
    """How one column is cut: places before the name, of the name, and of what follows it."""

    before: int
    name: int
    own: int
    mark: int
    word: int

    @property
    def finger_at(self) -> int:
        return 1 + self.before + self.name + 1

    @property
    def right_at(self) -> int:
        """Where the right hand's bracket stands, the left one's being at 0."""
        return self.finger_at + 1 + self.own + self.mark

    @property
    def breadth(self) -> int:
        return max(self.right_at + 1, 1 + self.before + self.word)


def shape_of(column: Column, first: bool, setting: Setting) -> Shape:
    busy = [cell for cell in column.cells if cell.state != "rest"]
    before = any(c.rolled or c.state == "omitted" or (first and c.state == "held") for c in busy)
    names = [breadth(name_in(cell, first, setting)) for cell in busy]
    room = setting.width - LABELS - 2
    return Shape(
        before=int(before),
        name=max(names, default=1),
        own=int(any(cell.own for cell in busy)),
        mark=int(setting.marks),
        word=min(breadth(column.word), room),
    )


def name_in(cell: Cell, first: bool, setting: Setting) -> str:
    if cell.state in ("rest", "let go") or (cell.state == "held" and not first):
        return ""
    octave = cell.octave if cell.leap or first else ""
    close = setting.signs.omitted[1] if cell.state == "omitted" else ""
    return cell.name + octave + (setting.signs.raised if cell.raised else "") + close


def _breadth(columns: Sequence[Column], gap: int, setting: Setting) -> int:
    """Places that a system of these columns fills."""
    bars = sum(after.opens_bar_after(before) for before, after in pairwise(columns))
    shapes = [shape_of(column, place == 0, setting) for place, column in enumerate(columns)]
    return LABELS + sum(shape.breadth for shape in shapes) + gap * len(columns) - max(gap - 2, 0) + 2 * bars


def cast_off(grid: Grid, setting: Setting) -> list[tuple[tuple[Column, ...], int]]:
    """Cut the columns into systems: whole bars where they fit, as few as possible, evenly filled, spaced widely."""
    tight = GAPS[-1]
    pieces: list[tuple[Column, ...]] = []
    for bar in _parted(grid.columns, lambda before, after: after.opens_bar_after(before)):
        if _breadth(bar, tight, setting) <= setting.width:
            pieces.append(bar)
            continue
        for beat in _parted(bar, lambda before, after: after.counted[0].isdigit()):
            fits = _breadth(beat, tight, setting) <= setting.width
            pieces.extend([beat] if fits else [(column,) for column in beat])
    cuts = _even_cuts(pieces, setting)
    systems = [tuple(column for piece in pieces[a:b] for column in piece) for a, b in cuts]
    gap = next((g for g in GAPS if all(_breadth(system, g, setting) <= setting.width for system in systems)), tight)
    return [(system, gap) for system in systems]


def _parted(columns: Sequence[Column], between: Callable[[Column, Column], bool]) -> list[tuple[Column, ...]]:
    """Cut before each column that `between` says begins something."""
    parts: list[list[Column]] = []
    for column in columns:
        if parts and not between(parts[-1][-1], column):
            parts[-1].append(column)
        else:
            parts.append([column])
    return [tuple(part) for part in parts]


def _even_cuts(pieces: Sequence[tuple[Column, ...]], setting: Setting) -> list[tuple[int, int]]:
    """The cut into the fewest systems whose widest is the narrowest, by dynamic programming from the end."""
    best: list[tuple[int, int, int]] = [(0, 0, 0)] * (len(pieces) + 1)
    for start in range(len(pieces) - 1, -1, -1):
        choices = []
        columns: tuple[Column, ...] = ()
        for stop in range(start + 1, len(pieces) + 1):
            columns += pieces[stop - 1]
            filled = _breadth(columns, GAPS[-1], setting)
            if filled > setting.width and stop > start + 1:
                break
            systems, widest, _ = best[stop]
            choices.append((systems + 1, max(filled, widest), stop))
        best[start] = min(choices)
    cuts = []
    start = 0
    while start < len(pieces):
        cuts.append((start, best[start][2]))
        start = best[start][2]
    return cuts
