"""The chord table on screen: the page laid out by `coach.paper`, with marks of what was heard and the current chord."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import ClassVar

from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.geometry import Region, Size
from textual.message import Message
from textual.reactive import reactive
from textual.strip import Strip
from textual.widget import Widget

from coach.fingering.plan import PhrasePlan, Side
from coach.paper.cells import Fingers
from coach.paper.chord_table import ChordTable, chord_table, marked
from coach.paper.lines import Line, Part, System
from coach.paper.signs import ASCII, SIGNS, Signs, breadth
from coach.practice.marks import Mark, Marks
from coach.screens.terminal import signs_here

SIGN: Mapping[Mark, str] = {
    "right": "•", "late": "~", "wrong": "×", "missing": "○",
    "kept": "•", "let go": "○", "lifted": "•", "not lifted": "×",
}  # fmt: skip
"""How each mark is written, so that it reads without colour."""

ASCII_SIGN: Mapping[str, str] = {"•": "+", "~": "<", "×": "x", "○": "o"}
"""The same for terminals that know no more, where the wave is the sign of a rolled chord."""


def sign_of(mark: Mark, signs: Signs = SIGNS) -> str:
    """How a mark is written beside a set of signs."""
    return ASCII_SIGN[SIGN[mark]] if signs is ASCII else SIGN[mark]


MARKS_LEGEND = ("• as planned", "~ late", "× wrong", "○ missing")
"""What the marks mean, in few words."""


class ChordTableView(Widget):
    """One phrase as a table, as high as it needs to be.

    Give it a phrase with `show`, then move `here`, write `marks` and choose `fingers` as they change.
    """

    DEFAULT_CSS = """
    ChordTableView { height: auto; width: 1fr; }
    ChordTableView .table--quiet { color: $secondary; }
    ChordTableView .table--name { color: $foreground; }
    ChordTableView .table--finger { color: $primary; text-style: bold; }
    ChordTableView .table--line { color: $primary; }
    ChordTableView .table--good { color: $success; }
    ChordTableView .table--bad { color: $error; text-style: bold; }
    ChordTableView .table--here { background: $primary 18%; }
    """
    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "table--quiet", "table--name", "table--finger", "table--line", "table--good", "table--bad", "table--here",
    }  # fmt: skip

    fingers: reactive[Fingers] = reactive("all", init=False)
    here: reactive[int | None] = reactive(None, init=False)

    class ChordClicked(Message):
        """A chord was clicked.

        Attributes:
            chord: Its place in the phrase.
        """

        def __init__(self, view: ChordTableView, chord: int) -> None:
            super().__init__()
            self.view = view
            self.chord = chord

        @property
        def control(self) -> ChordTableView:
            return self.view

    def __init__(self, *, signs: Signs | None = None, live: bool = False, id: str | None = None) -> None:
        """Show nothing yet.

        Args:
            signs: The set of signs; those that the terminal can show by default.
            live: A take is to be marked in it, and it may fill the room that its container has: voices stand apart
                and the signs are explained where all of the phrase is in sight all the same.
            id: As for every widget.
        """
        super().__init__(id=id)
        self._signs = signs or signs_here()
        self._live = live
        self._phrase: PhrasePlan | None = None
        self._hand: Side | None = None
        self._syllables: Mapping[float, str] | None = None
        self._marks: Marks = {}
        self._page: ChordTable | None = None
        self._page_for: tuple[object, ...] = ()
        self._lines: tuple[Line, ...] = ()
        self._starts: tuple[int, ...] = ()
        self._styles: dict[str, Style] = {}
        self._room = 0
        self._drawn_here: int | None = None
        self._column_of: tuple[int, range] | None = None

    @property
    def phrase(self) -> PhrasePlan | None:
        """What is shown."""
        return self._phrase

    def show(self, phrase: PhrasePlan, hand: Side | None = None, syllables: Mapping[float, str] | None = None) -> None:
        """Show a phrase.

        Args:
            phrase: Its plan.
            hand: One hand alone.
            syllables: Onset in quarter notes to the syllable that starts there.
        """
        self._phrase, self._hand, self._syllables = phrase, hand, syllables
        self._marks = {}
        self._page_for = ()
        self.set_reactive(ChordTableView.here, None)
        self._draw()
        self.refresh(layout=True)

    def mark(self, marks: Marks, here: int | None) -> None:
        """Write how the cells stand, and point at a chord."""
        if marks != self._marks or here != self.here:
            self._marks = dict(marks)
            self.set_reactive(ChordTableView.here, here)
            self._draw()

    def system_of(self, chord: int) -> Region:
        """The lines that hold a chord, in the widget's own coordinates."""
        if self._page is not None:
            for start, system in zip(self._starts, self._page.systems, strict=True):
                if chord in system.chords:
                    return Region(0, start, self.size.width, len(system.lines))
        return Region(0, 0, self.size.width, 1)

    def watch_fingers(self) -> None:
        self._draw()

    def watch_here(self) -> None:
        self._draw()

    def on_resize(self) -> None:
        self._draw()
        self.refresh(layout=True)

    def notify_style_update(self) -> None:
        super().notify_style_update()
        self._styles.clear()

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        self._room = container.height
        self._lay_out(width)
        return max(len(self._lines), 1)

    def render_line(self, y: int) -> Strip:
        width = self.size.width
        if y >= len(self._lines):
            return Strip.blank(width, self._style("base"))
        segments = [Segment(part.text, self._style_of(part)) for part in self._lines[y].parts]
        strip = Strip(segments).adjust_cell_length(width, self._style("base"))
        column = self._column_at(y)
        if column is None:
            return strip
        # A window narrower than a chord shows part of its column, or none of it.
        start, stop = min(column.start, width), min(column.stop, width)
        before, here, after = strip.crop(0, start), strip.crop(start, stop), strip.crop(stop, width)
        over = self._style("here")
        pointed = Strip([Segment(part.text, (part.style or Style()) + over) for part in here], here.cell_length)
        return Strip.join([before, pointed, after])

    def _column_at(self, y: int) -> range | None:
        """The places of the current chord's column in a line, None where it has none."""
        if self.here is None or self._page is None:
            return None
        for start, system in zip(self._starts, self._page.systems, strict=True):
            if self.here in system.chords and start <= y < start + len(system.lines):
                if self._column_of is None or self._column_of[0] != self.here:
                    self._column_of = self.here, self._column(system)
                return self._column_of[1]
        return None

    def _column(self, system: System) -> range:
        """The places of the current chord's column: from its left bracket to its right one."""
        places = [
            place
            for line in system.lines
            for place, part in _placed(line)
            if part.chord == self.here and part.kind in ("pointer", "beat", "name", "finger", "mark", "bracket")
            if part.kind != "mark" or part.note is not None
        ]
        return range(min(places), max(places) + 1) if places else range(0)

    def on_click(self, event: events.Click) -> None:
        if event.y < len(self._lines):
            part = next((part for place, part in _placed(self._lines[event.y]) if place == event.x), None)
            if part is not None and part.chord is not None:
                self.post_message(self.ChordClicked(self, part.chord))

    def _draw(self) -> None:
        """Bring the lines up to date and repaint those that changed."""
        if self._phrase is None or self.size.width == 0:
            return
        before, was_here = self._lines, self._drawn_here if self._lines else None
        self._lay_out(self.size.width)
        if len(before) != len(self._lines):
            self.refresh(layout=True)
            return
        changed = {y for y, (old, new) in enumerate(zip(before, self._lines, strict=True)) if old != new}
        for chord in (was_here, self.here) if was_here != self.here else ():
            if chord is not None:
                region = self.system_of(chord)
                changed |= set(range(region.y, region.bottom))
        for y in sorted(changed):
            self.refresh(Region(0, y, self.size.width, 1))

    def _lay_out(self, width: int) -> None:
        if self._phrase is None:
            return
        room = self._room if self._live else 0
        wanted = (width, self.fingers, room)
        if self._page is None or self._page_for != wanted:
            self._page = self._page_in(width, room)
            self._column_of = None
            self._page_for = wanted
        signs = {cell: self._sign(mark) for cell, mark in self._marks.items()}
        page = marked(self._page, signs, self.here, self._signs)
        lines: list[Line] = []
        starts = []
        for system in page.systems:
            if lines:
                lines.append(Line(()))
            starts.append(len(lines))
            lines.extend(system.lines)
        legend = self._legend(page, width) if self._live else []
        if legend and len(lines) + 1 + len(legend) <= room:
            lines += [Line(()), *(Line((Part(text, "label"),)) for text in legend)]
        self._lines, self._starts = tuple(lines), tuple(starts)
        self._drawn_here = self.here

    def _page_in(self, width: int, room: int) -> ChordTable:
        """The page, with the voices apart where all of it fits so."""
        assert self._phrase is not None
        for airy in (True, False) if room else (False,):
            page = chord_table(
                self._phrase,
                width,
                fingers=self.fingers,
                hand=self._hand,
                syllables=self._syllables,
                signs=self._signs,
                marks=self._live,
                airy=airy,
            )
            if sum(len(system.lines) + 1 for system in page.systems) - 1 <= room:
                break
        return page

    def _legend(self, page: ChordTable, width: int) -> list[str]:
        marks = "   ".join(MARKS_LEGEND)
        if self._signs is ASCII:
            marks = "".join(ASCII_SIGN.get(character, character) for character in marks)
        return [text[:width] for text in (*page.legend, marks)]

    def _sign(self, mark: Mark) -> str:
        return sign_of(mark, self._signs)

    def _style_of(self, part: Part) -> Style:
        kind = "quiet"
        if part.kind in ("name", "word"):
            kind = "name"
        elif part.kind == "finger":
            kind = "finger"
        elif part.kind in ("bracket", "slur", "lift", "hold", "sign", "pointer"):
            kind = "line"
        if part.chord is not None:
            key = part.note if part.note is not None else part.hand
            mark = self._marks.get((part.chord, key)) if key is not None else None
            if part.kind == "mark" and mark:
                kind = "good" if mark in ("right", "kept", "lifted") else "bad"
            elif part.kind == "name" and mark in ("wrong", "missing", "late"):
                kind = "bad"
        return self._style(kind)

    def _style(self, kind: str) -> Style:
        style = self._styles.get(kind)
        if style is None:
            if kind == "base":
                style = self.rich_style
            elif kind == "here":
                colour = self.background_colors[1] + self.get_component_styles("table--here").background
                style = Style(bgcolor=colour.rich_color, bold=True)
            else:
                style = self.get_component_rich_style(f"table--{kind}")
            self._styles[kind] = style
        return style


def _placed(line: Line) -> Iterator[tuple[int, Part]]:
    """The parts of a line with the places they fill."""
    place = 0
    for part in line.parts:
        for _ in range(breadth(part.text)):
            yield place, part
            place += 1
