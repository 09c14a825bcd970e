"""Week: seven days back and ahead; weak phrases first, one key to drill them all in turn."""

from __future__ import annotations

import asyncio
import textwrap
from collections.abc import Iterable
from datetime import date
from typing import ClassVar

from textual import work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from coach.errors import CoachError
from coach.listing import numbered
from coach.practice import days
from coach.practice.log import Log
from coach.practice.passage import Passage
from coach.practice.ready import Readiness, said
from coach.practice.session import in_turn
from coach.practice.week import Ahead, Past, Week, week
from coach.practice.work import Item
from coach.screens.base import CoachScreen, Head, Prose, shortened
from coach.screens.hints import Hints


class WeekScreen(CoachScreen[None]):
    """The week around today."""

    called = "Week"
    about = (
        "Which phrases are weak and which shaky, what you played on seven days back, and what is due on seven "
        "days ahead; for a piece with a date, the chance that each phrase is remembered on the day."
    )
    DEFAULT_CSS = """
    WeekScreen VerticalScroll { padding: 1 2 0 2; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "drill", "Drill the weak phrases", key_display="Enter"),
        Binding("down", "scroll(1)", "Read on", key_display="↑ ↓"),
        Binding("up", "scroll(-1)", "Read back", show=False),
        Binding("escape", "dismiss", "Back", key_display="Esc"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.week: Week | None = None

    def compose(self) -> ComposeResult:
        yield Head("Week")
        with VerticalScroll(can_focus=False):
            yield Prose(id="page")
        yield Hints()

    def on_screen_resume(self) -> None:
        """The screen is up for the first time, or again after something else."""
        super().on_screen_resume()
        self._work_out()

    def take_kept(self) -> None:
        self._work_out()

    @work(exclusive=True, group="week")
    async def _work_out(self) -> None:
        """Work the week out; a thread does it, for what is forecast for distant dates takes long."""
        log, minutes = self.coach.log_, self.coach.settings.minutes
        try:
            self.week = await asyncio.to_thread(worked_out, log, minutes) if log is not None else None
        except CoachError as error:
            self.coach.say(str(error), problem=True)
        self._draw()
        self.refresh_bindings()

    def on_resize(self) -> None:
        # A window of another size shows the same week.
        if self.week is not None:
            self._draw()

    def _draw(self) -> None:
        drawn = page(self.week, max(self.size.width - 6, 40)) if self.week else "The practice log cannot be used."
        self.query_one("#page", Static).update(drawn)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """The key that drills weak phrases is there while there are some."""
        return action != "drill" or (self.week is not None and bool(self.week.weak))

    def action_scroll(self, by: int) -> None:
        """Move the page by some lines."""
        self.query_one(VerticalScroll).scroll_relative(y=4 * by, animate=False)

    def action_drill(self) -> None:
        """Drill all weak phrases, one after the other."""
        from coach.screens.drill import DrillScreen

        log = self.coach.log_
        if self.week is None or log is None:
            return
        items = [Item.of_row(row, log) for row in in_turn(self.week.weak)]
        self.coach.push_screen(DrillScreen(items))


def worked_out(log: Log, minutes: float) -> Week:
    """The week around today, with the forecasts that are shown in it.

    Args:
        minutes: How long a day's practice is meant to be.
    """
    found = week(log, minutes=minutes)
    for ready in found.dates:
        # Worked out when it is first asked for, and kept.
        _ = ready.forecast
    return found


def page(week: Week, width: int) -> Content:
    """The whole week in lines of so many places."""
    lines: list[Content] = []
    counts = week.standing
    words = [f"{counts[word]} {word}" for word in ("solid", "shaky", "weak") if counts.get(word)]
    if counts.get(None):
        words.append(f"{counts[None]} not played yet")
    lines.append(Content(f"Phrases in practice: {', '.join(words) if words else 'none yet'}"))
    lines.append(Content(""))
    for name, stands in (("Weak", week.weak), ("Shaky", week.shaky)):
        if stands or name == "Weak":
            lines.append(Content.styled(name, "bold"))
            lines += [Content(shortened(f"  {one.title}, {one.passage.label}", width)) for one in stands]
            lines += [Content("  none")] if not stands else []
            lines.append(Content(""))
    if week.dates:
        lines.append(Content.styled("Chance that each phrase is remembered on the day", "bold"))
        lines += [line for one in week.dates for line in _date(one, week.today, width)]
        lines.append(Content(""))
    lines.append(Content.styled("Seven days back, in minutes", "bold"))
    most = max((day.minutes for day in week.past), default=0.0)
    lines += [line for day in week.past for line in _past(day, max(most, LEAST_MINUTES), width)]
    lines.append(Content(""))
    lines.append(Content.styled("Seven days ahead, what is due", "bold"))
    busiest = max((len(day.due) for day in week.ahead), default=0)
    lines += [line for day in week.ahead for line in _ahead(day, max(busiest, LEAST_DUE), width)]
    return Content("\n").join(lines)


RISING = "▁▂▃▄▅▆▇█"
"""Eighths of a place in height, as Unicode's block elements have them (U+2581 to U+2588)."""


def _date(ready: Readiness, today: date, width: int) -> list[Content]:
    """A piece with its date: a block a phrase, as tall as its chance, and the chances in figures."""
    blocks = "".join(RISING[min(int(one.chance * len(RISING)), len(RISING) - 1)] for one in ready.forecast)
    when = said(ready.at, today)
    title = shortened(ready.title, max(width - len(blocks) - len(when) - 6, 12))
    lines = [Content.assemble(f"  {title}, {when}  ", (blocks, "$primary"))]
    # What belongs together stays in one line.
    figures = textwrap.wrap("   ".join(one.replace(" ", "\N{NO-BREAK SPACE}") for one in ready.chances), width - 4)
    return lines + [Content("    " + line) for line in figures]


BAR = 10
"""Places of a bar in a plot."""

LEAST_MINUTES, LEAST_DUE = 10.0, 5
"""Minutes, and passages, that a full bar stands for at least: a moment's playing in an idle week is no full day."""


def _past(day: Past, most: float, width: int) -> list[Content]:
    minutes = f"{days.minutes_told(day.minutes, '<1'):>3}′" if day.takes else "   –"
    head = f"  {day.day:%a} {day.day.day:2d}  {minutes}  "
    lines = _plotted(head, bar(day.minutes, most), ", ".join(day.pieces), width)
    for label, turns in (("became solid", day.solid), ("fell back", day.fell)):
        if turns:
            names = by_piece((turn.title, turn.passage) for turn in turns)
            lines += _plotted(" " * len(head), " " * BAR, f"{label}: {names}", width)
    return lines


def _ahead(day: Ahead, busiest: int, width: int) -> list[Content]:
    count = f"{len(day.due):3d} " if day.due else "   –"
    head = f"  {day.day:%a} {day.day.day:2d}  {count}  "
    names = [*day.past, *(f"{title} to be ready" for title in day.ready)]
    names += [by_piece((stand.title, stand.passage) for stand in day.due)] if day.due else []
    return _plotted(head, bar(len(day.due), busiest), "; ".join(names), width)


def by_piece(passages: Iterable[tuple[str, Passage]]) -> str:
    """Passages in a few words, each piece named once: "Wide Water, phrases 1, 3 and 4; Oars at Dusk, phrase 2".

    Args:
        passages: The title of its piece, and each passage.
    """
    pieces: dict[tuple[str, str], list[Passage]] = {}
    for title, passage in passages:
        pieces.setdefault((passage.piece, title), []).append(passage)
    said = []
    for (_, title), inside in pieces.items():
        numbers = sorted({one.first for one in inside if one.kind == "phrase"})
        labels = [numbered("phrase", numbers)] if numbers else []
        labels += [one.label for one in inside if one.kind != "phrase"]
        said.append(f"{title}, {', '.join(labels)}")
    return "; ".join(said)


def _plotted(head: str, blocks: str, said: str, width: int) -> list[Content]:
    """A line of a plot and what is said of it, in as many lines as that takes."""
    beside = len(head) + BAR + 2
    first, *more = textwrap.wrap(said, max(width - beside, 20)) or [""]
    lines = [Content.assemble(head, (blocks, "$primary"), "  ", first)]
    return lines + [Content(" " * beside + line) for line in more]


def bar(value: float, most: float) -> str:
    """A level bar of Unicode's blocks, in eighths of a place."""
    eighths = round(value / most * BAR * 8) if most > 0 else 0
    if value > 0:
        eighths = max(eighths, 1)
    whole, rest = divmod(eighths, 8)
    return ("█" * whole + ("▏▎▍▌▋▊▉"[rest - 1] if rest else "")).ljust(BAR)
