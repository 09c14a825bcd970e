"""How many minutes a phrase gets: on one day, and on all days until a date."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

DOSE = 5.0
"""Minutes that one phrase being learned gets on one day: little and often (common practice, no source)."""

FIRST_DOSE = 6.0
"""Minutes for the first meeting with a phrase."""

LAST_DAYS = 2
"""Days before a date on which each phrase gets two doses a day, and no new phrase should be begun, so that each is met
on separate days."""

EVE = 1
"""Days left before a date from which all that is learned is played once more."""


def dose(days_left: int | None) -> float:
    """Minutes that a phrase being learned gets on a day.

    Args:
        days_left: Days from this one to the day before its date; None without one.
    """
    return 2 * DOSE if days_left is not None and days_left <= LAST_DAYS else DOSE


def new_on_a_day(new: int, days_left: int) -> int:
    """How many new phrases to begin on a day before a date: as many as on every other day left for beginning."""
    return min(ceil(new / max(days_left - LAST_DAYS, 1)), new)


@dataclass(frozen=True, slots=True)
class Need:
    """What learning one phrase still takes.

    Attributes:
        minutes: Supposed for what is left of its ladder.
        met: Whether it was ever played.
        spent: Minutes that it had today already.
        height: Share of its ladder that is climbed, up to playing from memory.
        steps: On this ladder.
    """

    minutes: float
    met: bool
    spent: float
    height: float
    steps: int


def laid_out(needs: Sequence[Need], days_left: int, minutes: float) -> list[float]:
    """How many minutes each phrase can have until a date, as `schedule` lays the days out.

    On each day the phrases get their doses one after the other, then new ones are begun, while the day lasts. A phrase
    that takes as long as supposed leaves its time to others from then on, but can have more where it takes longer.

    Args:
        needs: Of the phrases that are to be learned, in the order in which they come.
        days_left: Days of practice, today the first.
        minutes: There are each day.
    """
    offered = [0.0] * len(needs)
    used = [0.0] * len(needs)
    met = [need.met for need in needs]
    for left in range(days_left, 0, -1):
        today = left == days_left
        spent = [need.spent if today else 0.0 for need in needs]
        day = max(minutes - sum(spent), 0.0)
        new = [place for place, known in enumerate(met) if not known]
        begun = [place for place, known in enumerate(met) if known]
        begun.sort(key=lambda place: used[place] >= needs[place].minutes)
        for place in (*begun, *new[: new_on_a_day(len(new), left)]):
            wanted = dose(left) if met[place] else FIRST_DOSE
            given = min(max(wanted - spent[place], 0.0), day)
            if given <= 0:
                continue
            met[place] = True
            offered[place] += given
            took = min(given, max(needs[place].minutes - used[place], 0.0))
            used[place] += took
            day -= took
    return offered
