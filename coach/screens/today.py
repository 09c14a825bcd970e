"""Today: what to play now, one key to start."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING, ClassVar

from textual import work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import OptionList, Static

from coach.errors import CoachError
from coach.listening.events import Event
from coach.practice import days
from coach.practice.gesture import Foot
from coach.practice.ready import MOST_MINUTES, date_was
from coach.practice.replanning import with_anew
from coach.practice.rest import day_is_long
from coach.practice.schedule import LEAST_LEFT, Row, Today, next_day, today
from coach.practice.work import Item, asked_for, opening
from coach.score.counting import bar_words
from coach.screens.base import CoachScreen, Head, Prose
from coach.screens.hints import Hints
from coach.screens.rows import Column, Rows
from coach.screens.words import as_sentence, pretty

if TYPE_CHECKING:
    from coach.practice.log import Log
    from coach.score.cards import Card

PREPARE_AFTER = 0.3
"""Seconds after which the first piece is put on the stand: planning must not hold up the first screen."""

MINUTES_STEP = 5
LEAST_MINUTES = 5
"""Minutes by which a key changes how long the day's practice is, and how short it can be; see `MOST_MINUTES`."""

COLUMNS = (Column(16, 1), Column(11), Column(3, right=True), Column(24, 3))


class TodayScreen(CoachScreen[None]):
    """What to play today."""

    called = "Today"
    about = (
        "What is due, what is being learned and what is new, in the minutes that you have. Choose a line and "
        "begin: from the bench the pedal twice, or the first chord of the first line, begins too. With nothing to"
        " play, the shelf is listed: choose a piece."
    )
    DEFAULT_CSS = """
    TodayScreen #rows { height: 1fr; }
    TodayScreen #above { padding: 1 2; height: auto; }
    TodayScreen #caution { display: none; }
    TodayScreen #caution.-on { display: block; }
    TodayScreen #below { padding: 1 2; height: auto; color: $secondary; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "begin", "Begin", priority=True, key_display="Enter"),
        Binding("p", "piece", "Piece"),
        Binding("s", "app.go('shelf')", "Shelf"),
        Binding("w", "app.go('week')", "Week"),
        Binding("d", "demonstrate", "Demonstration"),
        Binding("h", "app.go('hands')", "Hands"),
        Binding("i", "app.go('instrument')", "Instrument"),
        Binding("plus,equals_sign", f"minutes({MINUTES_STEP})", "Minutes", key_display="+ -"),
        Binding("minus", f"minutes(-{MINUTES_STEP})", "Fewer minutes", show=False),
        Binding("l", "app.change_light", "Light"),
        Binding("q", "app.quit", "Quit"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._today: Today | None = None
        self._foot = Foot()
        self._first_keys: frozenset[int] = frozenset()
        self._down: set[int] = set()
        self._presses: dict[int, Event] = {}
        self._first_chord = ""
        self._day: date | None = None

    def compose(self) -> ComposeResult:
        yield Head("Today")
        yield Prose(id="above")
        yield Rows(COLUMNS, id="rows")
        yield Prose(id="caution", classes="caution")
        yield Prose(id="below")
        yield Hints()

    def on_mount(self) -> None:
        self.set_interval(0.1, self._tick)
        self._fill()

    def on_screen_resume(self) -> None:
        super().on_screen_resume()
        # Keys went down and came up elsewhere.
        self._down, self._presses = set(self.coach.keys_down), {}
        if self.is_mounted:
            self._fill()

    @property
    def rows(self) -> tuple[Row, ...]:
        """What is listed; empty where nothing is in practice."""
        return self._today.rows if self._today else ()

    def _fill(self) -> None:
        self._day = days.practice_day(days.now())
        self._first_keys, self._first_chord = frozenset(), ""
        self.query_one(Head).title = f"Today · {self._day:%A} {self._day.day} {self._day:%B}"
        log = self.coach.log_
        try:
            plan = today(log, days.now(), minutes=self.coach.settings.minutes) if log else None
            self._today = with_anew(plan, log) if plan and log else None
        except CoachError as error:
            self.coach.say(str(error), problem=True)
            self._today = None
        if self.rows:
            self._list_rows()
        else:
            self._list_shelf()
        self._show_caution()

    def _show_caution(self) -> None:
        """What is to be thought of on a day on which much is played, or is to be."""
        long = day_is_long(self._today.played if self._today else 0.0, self.coach.settings.minutes)
        line = self.query_one("#caution", Static)
        line.set_class(bool(long), "-on")
        if long:
            # Not before: on the way to the first screen nothing loads the fingering.
            from coach.fingering.hand import CAUTION

            line.update(f"{long} {CAUTION}")

    def planned_anew(self) -> None:
        self._fill()

    def take_kept(self) -> None:
        self._fill()

    def _above(self) -> str:
        """How far the day's practice is, and how the pieces with a date stand."""
        log, plan = self.coach.log_, self._today
        if log is None or plan is None:
            return "The practice log cannot be used: what you play is heard, and not kept. Choose a piece."
        played = f"{days.minutes_told(plan.played)} of {plan.minutes:.0f} minutes played" if plan.played else ""
        above = played or f"{plan.minutes:.0f} minutes today"
        if plan.waiting and self.rows:
            above += f"; {plan.waiting} more due than fit"
        if not self.rows:
            try:
                above = self._nothing(log, above if played else "")
            except CoachError:
                above = "The practice log cannot be read. Choose a piece to play all the same."
        return "\n".join([above, *self._past_dates(log), *(f"{one.title}: {one.sentence}" for one in plan.dates)])

    def _past_dates(self, log: Log) -> list[str]:
        """What is said of pieces whose date was earlier today."""
        try:
            pieces, names = log.pieces(), log.names()
        except CoachError:
            # Said already.
            return []
        daily = [piece for piece in pieces if piece["state"] == "in practice" and piece["source"]]
        said = [(names[piece["mark"]], date_was(piece["ready_by"], days.now())) for piece in daily]
        return [f"{title}: {was}." for title, was in said if was]

    def _nothing(self, log: Log, played: str) -> str:
        """Why nothing is listed.

        Raises:
            CoachError: the log cannot be read.
        """
        assert self._today is not None
        count, _ = log.in_practice()
        if not count:
            from coach.screens.choosing import why_nothing

            return why_nothing(log.pieces(), log.names())
        waiting = self._today.waiting
        if self._today.played >= self._today.minutes - LEAST_LEFT:
            waits = (
                f" {said_of_reviews(waiting)} and {'wait' + 's' * (waiting == 1)} until tomorrow." if waiting else ""
            )
            return f"{played}. That is enough for one day: rest the hands, or choose a piece.{waits}"
        if waiting:
            does, it_waits = ("does", "it waits") if waiting == 1 else ("do", "they wait")
            more = "+ gives more minutes, or " if self._today.minutes < MOST_MINUTES else ""
            return f"{played}. {said_of_reviews(waiting)} and {does} not fit: {more}{it_waits} until tomorrow."
        following = next_day(log, days.now(), minutes=self.coach.settings.minutes)
        again = f" Next practice: {following:%A} {following.day} {following:%B}." if following else ""
        why = f"{played}; nothing more is due today" if played else "Nothing is due today"
        return f"{why}.{again} Choose a piece to play all the same."

    def _list_rows(self) -> None:
        self.query_one("#above", Static).update(self._above())
        self.query_one(Rows).fill(
            [(row.title, place_of(row), f"{max(row.minutes, 1):.0f}′", why_of(row)) for row in self.rows]
        )
        self._tell()
        self.set_timer(PREPARE_AFTER, self._prepare)

    def _list_shelf(self) -> None:
        """Nothing to play today: offer the shelf, by names alone as long as pieces have still to be read."""
        from coach.score.cards import cards_at_hand

        cards, whole = cards_at_hand()
        self._list_pieces(cards)
        if not whole:
            self._read_shelf()

    @work(exclusive=True, group="read")
    async def _read_shelf(self) -> None:
        """Read the pieces that are new or changed; a thread does the work."""
        from coach.score.cards import cards

        read = await asyncio.to_thread(cards)
        if not self.rows:
            self._list_pieces(read)

    def _list_pieces(self, cards: Sequence[Card]) -> None:
        from coach.screens.choosing import choices

        assert self._day is not None
        try:
            found = choices(self.coach.log_, cards, self._day)
        except CoachError:
            # Said already: the day could not be read either.
            found = choices(None, cards, self._day)
        self.query_one("#above", Static).update(self._above())
        self.query_one(Rows).fill([(one.title, "", "", one.note) for one in found], [one.name for one in found])
        self.query_one("#below", Static).update("" if found else "The shelf is empty: coach pieces add FILE")

    @work(exclusive=True, group="prepare")
    async def _prepare(self) -> None:
        """Put the first piece on the stand, so that its first chord can begin the day."""
        items = self._items()
        if not items:
            return
        item = items[0]
        try:
            music = await self.coach.music(item.opened_by)
            passage, step = asked_for(self.coach.log_, music, item)
            self._first_keys, pitches = opening(music, passage, item.step or step, self.coach.settings.compass)
        except CoachError:
            return
        self._first_chord = pretty(" ".join(pitches))
        self._tell()

    def on_option_list_option_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        event.stop()
        self._tell()

    def _tell(self) -> None:
        """The chosen line in full, and how to begin."""
        place = self.query_one(Rows).highlighted
        if not self.rows or place is None or place >= len(self.rows):
            return
        row = self.rows[place]
        said = in_full(row)
        if self._first_chord:
            ways = f"two quick presses of the pedal, or with the first chord: {self._first_chord}."
            said += f"\nBegin with Enter{', with' if place == 0 else '; the first line also with'} {ways}"
        self.query_one("#below", Static).update(said)

    def _items(self) -> list[Item]:
        log = self.coach.log_
        return self.asked(lambda: [Item.of_row(row, log) for row in self.rows], list) if log else []

    # Beginning

    def hear(self, events: Sequence[Event]) -> None:
        for event in events:
            self._foot = self._foot.hear(event)
            if event.kind == "press":
                self._down.add(event.key)
                self._presses[event.key] = event
            elif event.kind == "release":
                self._down.discard(event.key)
                self._presses.pop(event.key, None)
        if self.rows and self._first_keys and self._first_keys <= self._down:
            self._start(0, tuple(self._presses.values()))

    def _tick(self) -> None:
        if self.is_active and days.practice_day(days.now()) != self._day:
            self._fill()
        # Two presses are two only when no third one waits.
        self.coach.hear_waiting()
        wish, self._foot = self._foot.wish(self.coach.clock())
        if wish == "next" and self.rows:
            self._start(0)

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        self.action_begin()

    def action_begin(self) -> None:
        """Start practising at the chosen line."""
        place = self.query_one(Rows).highlighted
        if place is None:
            return
        if self.rows:
            self._start(place)
        else:
            self.action_piece()

    def action_piece(self) -> None:
        """Open the chosen piece."""
        rows = self.query_one(Rows)
        items = self._items()
        if self.rows and not items:
            return
        try:
            name = items[rows.highlighted or 0].opened_by if items else rows.name_chosen
        except CoachError as error:
            self.coach.say(str(error), problem=True)
            return
        if name:
            self.coach.open_piece(name)

    def action_minutes(self, by: int) -> None:
        """Make the day's practice longer or shorter."""
        minutes = min(max(self.coach.settings.minutes + by, LEAST_MINUTES), MOST_MINUTES)
        self.coach.change_settings(minutes=minutes)
        self._fill()
        if not self.rows:
            self.coach.say(f"A day's practice is {minutes} minutes.")

    def action_demonstrate(self) -> None:
        """Let the simulated player show the loop."""
        from coach.screens import doors

        doors.demonstrate(self.coach)

    def _start(self, place: int, struck: Sequence[Event] = ()) -> None:
        from coach.screens.drill import DrillScreen

        # What is played under another page is not meant for this one.
        items = self._items() if self.is_active else []
        if items:
            self._down.clear()
            self.coach.push_screen(DrillScreen(items, place, struck))


def said_of_reviews(count: int) -> str:
    """How many are due."""
    return "1 review is due" if count == 1 else f"{count} reviews are due"


def how_and_why(row: Row) -> tuple[str, str]:
    """How to play it, and why it is there. A failing change, and what was planned anew, says how by itself; of what is
    on its ladder the next step is reason enough."""
    if row.change is not None or row.kind == "anew":
        return "", row.why
    return (row.why.removeprefix("next: "), "") if row.why.startswith("next: ") else (row.step.name, row.why)


def why_of(row: Row) -> str:
    """How to play it, and why it is there, in its column."""
    return ": ".join(filter(None, how_and_why(row)))


def in_full(row: Row) -> str:
    """A line as a sentence: "Wide Water, phrase 2, outer voices: new.\""""
    how, why = how_and_why(row)
    what = ", ".join(filter(None, (row.title, place_of(row), how)))
    return as_sentence(f"{what}: {why}" if why else what)


def place_of(row: Row) -> str:
    """Which passage, in few words."""
    if row.change is not None:
        return bar_words(row.change.bar).removeprefix("the ")
    return row.passage.label.removeprefix("the ")
