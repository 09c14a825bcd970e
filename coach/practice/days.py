"""When a day of practice begins, and how an instant is written down."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta, tzinfo

TURN = time(4, 0)
"""A day of practice turns at this local time: playing past midnight still belongs to the evening."""

SAME_YEAR = 300
"""Days up to which day and month alone say which day is meant; beyond, the year is said too."""


def now() -> datetime:
    """This instant, in UTC."""
    return datetime.now(UTC)


def practice_day(instant: datetime, zone: tzinfo | None = None) -> date:
    """The day of practice that an instant belongs to where the player is.

    The clock on the wall decides, so that a day of 23 or 25 hours is a day like any other.

    Args:
        instant: With its time zone.
        zone: Where the player is; None for this computer's own zone.
    """
    local = instant.astimezone(zone)
    return local.date() if local.time() >= TURN else local.date() - timedelta(days=1)


def day_begins(day: date, zone: tzinfo | None = None) -> datetime:
    """The instant, in UTC, at which a day of practice begins where the player is."""
    wall = datetime.combine(day, TURN)
    return (wall.astimezone() if zone is None else wall.replace(tzinfo=zone)).astimezone(UTC)


def minutes_told(minutes: float, less: str = "less than 1") -> str:
    """Minutes as they are told everywhere, in whole ones; less than one is not none.

    Args:
        less: How that is said.
    """
    return f"{minutes:.0f}" if minutes >= 1 else less


def day_of_year(day: date, today: date) -> str:
    """A day by its place in the year, "3 March", and with the year where another one could be meant, "3 March 2028"."""
    return f"{day.day} {day:%B}" if abs((day - today).days) <= SAME_YEAR else f"{day.day} {day:%B %Y}"


def written(instant: datetime) -> str:
    """An instant as the log keeps it: UTC, ISO 8601, microseconds, so that text sorts as time does."""
    return instant.astimezone(UTC).replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"


def read(text: str) -> datetime:
    """The instant that `written` wrote (any ISO 8601 instant with its offset).

    Raises:
        ValueError: not an instant, or one without an offset.
    """
    instant = datetime.fromisoformat(text)
    if instant.tzinfo is None:
        raise ValueError(f"{text!r} names no time zone")
    return instant.astimezone(UTC)
