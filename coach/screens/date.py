"""The day by which a piece must be ready."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Input, Static

from coach.errors import CoachError
from coach.practice import days
from coach.practice.music import Music
from coach.screens.base import CoachScreen, Head, Prose
from coach.screens.hints import Hints

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


CLOCK = re.compile(r"(?:(?:\s|\bat\s+|^)(?P<hour>[01]?\d|2[0-3]))(?:[:.](?P<minute>[0-5]\d))?\s*(?P<half>am|pm)?$")
"""A time at the end of what is typed: 10:00, 17.30, 10, 10 am, at 17:30."""


class DateScreen(CoachScreen[None]):
    """One line to type a day in."""

    called = "Ready by"
    about = (
        "The day by which the piece must be ready. Its phrases are then spread over the days that are left, and "
        "Today says when they are too few. An empty line takes the date away."
    )
    DEFAULT_CSS = """
    DateScreen Input, DateScreen Input:focus { margin: 1 2; }
    DateScreen Static { padding: 1 2 0 2; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "keep", "Keep", key_display="Enter", priority=True),
        Binding("escape", "dismiss", "Back", key_display="Esc"),
    ]

    def __init__(self, music: Music) -> None:
        super().__init__()
        self._music = music
        self._kept: datetime | None = None

    def compose(self) -> ComposeResult:
        yield Head(f"{self._music.piece.title} · ready by")
        yield Prose(
            "When must it be ready? Write a weekday, tomorrow, or a date, with a time if there is one: "
            "Sunday 10:00, 24 December 17:30, 2030-04-21. Empty: no date.",
        )
        yield Input(placeholder="for example: Sunday 10:00")
        yield Prose(id="said")
        yield Hints()

    def on_mount(self) -> None:
        self.query_one(Input).focus()
        self._kept = self._date_to_come()
        self._tell("")

    def _date_to_come(self) -> datetime | None:
        """The date that the log has for the piece, on the player's clock."""
        log, mark = self.coach.log_, self._music.passages[0].piece
        found = [stand.ready_by for stand in self.asked(lambda: log.stands(mark), list)] if log is not None else []
        when = days.read(found[0]).astimezone() if found and found[0] else None
        return when if when is not None and when > datetime.now().astimezone() else None

    def on_input_changed(self, event: Input.Changed) -> None:
        self._tell(event.value)

    def _tell(self, typed: str) -> None:
        """Which date is meant; with nothing typed, which one is kept."""
        when = instant_of(typed, datetime.now().astimezone()) if typed else self._kept
        said = f"{when:%A} {when.day} {when:%B %Y, %H:%M}" if when else ""
        if said and not typed:
            said = f"Kept: {said}."
        self.query_one("#said", Static).update(said)

    def action_keep(self) -> None:
        """Keep the date."""
        typed = self.query_one(Input).value.strip()
        when = instant_of(typed, datetime.now().astimezone())
        if typed and when is None:
            self.query_one("#said", Static).update(f"“{typed}” is no day to come. Write it as above.")
            return
        log = self.coach.kept_log()
        if log is None:
            return
        mark = self._music.passages[0].piece
        try:
            if when is not None:
                log.set_state(mark, "in practice")
                log.set_date(mark, when)
            elif self._kept is not None:
                log.set_date(mark, None)
                self.coach.say(f"{self._music.piece.title} has no date any more.")
        except CoachError as error:
            self.coach.say(str(error), problem=True)
            return
        self.dismiss()


def instant_of(text: str, now: datetime) -> datetime | None:
    """The instant to come that a player means, in the time zone of `now`; None for what means none.

    Args:
        text: "Sunday 10:00", "tomorrow", "24 December", "24.12.2030 17:30", "2030-04-21". Noon without a time.
        now: This instant where the player is.
    """
    words = text.strip().lower()
    day, hour, minute = _day_of(words, now.date()), 12, 0
    if day is None and (clock := CLOCK.search(words)):
        hour, minute = int(clock["hour"]), int(clock["minute"] or 0)
        if clock["half"]:
            hour = hour % 12 + 12 * (clock["half"] == "pm")
        day = _day_of(words[: clock.start()].strip(" ,"), now.date())
    if day is None or day < now.date():
        return None
    naive = datetime(day.year, day.month, day.day, hour, minute)
    try:
        when = _there(naive, now)
        if when <= now and words.startswith(tuple(name[:3] for name in WEEKDAYS)):
            when = _there(naive + timedelta(days=7), now)
    except (OverflowError, ValueError):
        # The end of the calendar lies between here and UTC.
        return None
    return when if when > now else None


def _there(naive: datetime, now: datetime) -> datetime:
    """A clock time where the player is, by the zone's own offset on that day, which clock changes may have moved."""
    return naive.astimezone(None) if now.tzinfo is None or _is_local(now) else naive.replace(tzinfo=now.tzinfo)


def _is_local(now: datetime) -> bool:
    """Whether an instant is told by this computer's zone."""
    return now.replace(tzinfo=None).astimezone().utcoffset() == now.utcoffset()


def _day_of(words: str, today: date) -> date | None:
    before, comma, after = words.partition(",")
    if comma and any(before.strip() and name.startswith(before.strip()) for name in WEEKDAYS):
        # "Sunday, 8 March": the date says which.
        words = after.strip()
    if words in ("today", "tomorrow"):
        return today + timedelta(days=words == "tomorrow")
    for number, name in enumerate(WEEKDAYS):
        if words and (words == name or (len(words) >= 3 and name.startswith(words))):
            return today + timedelta(days=(number - today.weekday()) % 7)
    for pattern in ("%Y-%m-%d", "%d.%m.%Y", "%d/%m/%Y", "%d %B %Y", "%d %b %Y", "%B %d %Y", "%b %d %Y"):
        try:
            return datetime.strptime(words.replace(",", ""), pattern).date()
        except ValueError:
            continue
    for pattern in ("%d %B", "%d %b", "%B %d", "%b %d", "%d.%m.", "%d.%m", "%d/%m"):
        try:
            # The year is written beside it, so that 29 February is read in a leap year.
            found = datetime.strptime(f"{words.replace(',', '')} {today.year}", f"{pattern} %Y").date()
        except ValueError:
            continue
        return found if found >= today else _next_year(found)
    return None


def _next_year(day: date) -> date | None:
    try:
        return day.replace(year=day.year + 1)
    except ValueError:
        return None
