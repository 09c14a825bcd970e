"""Whether a piece will be ready by its date: what is left to do, what could be left out, and a forecast."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta, tzinfo
from functools import cached_property
from math import ceil

from coach.practice import days
from coach.practice.doses import LAST_DAYS, Need, new_on_a_day
from coach.practice.forecast import chance_on, enough_for, in_time, ready_in_time
from coach.practice.memory import Memory, Player, reviewed
from coach.practice.stand import Stand

CLIMB = 1.0
"""Minutes that learning takes for a quarter note of a phrase, until the player's own phrases tell: nine for two bars
and a pickup (common practice, no source)."""

CLIMB_WEIGHT = 24.0
"""How many quarter notes of learned phrases that supposition is worth: three phrases."""

COUNTED_ON = 0.5
"""Chance of being learned in time from which a phrase is counted on."""

UPKEEP_MINUTES = 0.5
"""Minutes a day that a learned phrase needs for its reviews, on average (common practice, no source)."""

MOST_MINUTES = 120
"""Minutes a day beyond which no advice is given: hands need rest."""


@dataclass(frozen=True, slots=True)
class Forecast:
    """One phrase on the day.

    Attributes:
        number: Of the phrase.
        chance: That it is remembered: played together, in tempo, without fingers shown, and not weak.
    """

    number: int
    chance: float


@dataclass(frozen=True, slots=True)
class Prospect:
    """What is known today of one phrase on the day.

    Attributes:
        number: Of the phrase.
        learned: Chance that it is learned by then, 1 where it is already.
        learned_on: The day on which it will be, if it is; today where it is already.
        need: Place of what it still takes among the needs; None where it is learned.
        memory: What is kept of it on that day, None where nothing is.
    """

    number: int
    learned: float
    learned_on: date
    need: int | None
    memory: Memory | None


@dataclass(frozen=True)
class Readiness:
    """How a piece stands before its date.

    Attributes:
        piece: Its mark.
        title: Of the piece.
        at: The date, in UTC.
        day: Its day of practice.
        days_left: Days of practice from today to the day before the date; 0 on the day itself.
        needed: Minutes that learning what is left takes.
        available: Minutes that there are for it until then.
        new_today: New phrases to begin today, so that they are spread over the days left.
        left_out: Numbers of the phrases that cannot be counted on.
        upkeep: Minutes a day that reviews of what is learned need.
        first: Minutes of today in which learning what is left comes before all else, so that it will be ready.
        sentence: All this in a sentence or two.
        prospects: What the forecast rests on, phrase by phrase.
        needs: What learning the phrases still takes, in the order in which they come.
        minutes: There are for learning each day.
        player: How the player remembers.
    """

    piece: str
    title: str
    at: datetime
    day: date
    days_left: int
    needed: float
    available: float
    new_today: int
    left_out: tuple[int, ...]
    upkeep: float
    first: float
    sentence: str
    prospects: tuple[Prospect, ...]
    needs: tuple[Need, ...]
    minutes: float
    player: Player

    @cached_property
    def forecast(self) -> tuple[Forecast, ...]:
        """Every phrase on the day, worked out when it is first asked for."""
        ready = ready_in_time(self.needs, max(self.days_left, 1), self.minutes, self.player)
        return tuple(self._forecast(one, 1.0 if one.need is None else ready[one.need]) for one in self.prospects)

    @property
    def chances(self) -> tuple[str, ...]:
        """The forecast in words, a phrase each: "3 85 %"."""
        return tuple(f"{one.number} {100 * one.chance:.0f} %" for one in self.forecast)

    def _forecast(self, prospect: Prospect, ready: float) -> Forecast:
        chance = 1 - self.player.slip
        if prospect.memory is not None:
            chance = chance_on(prospect.memory, self.day, prospect.learned_on, self.player, eve=True)
        return Forecast(prospect.number, ready * chance)


def climb_rate(took: Sequence[tuple[float, float]]) -> float:
    """Minutes that learning takes this player for a quarter note of a phrase.

    Args:
        took: Minutes and quarter notes of each phrase learned so far.
    """
    minutes, quarters = (sum(column) for column in zip(*took, strict=True)) if took else (0.0, 0.0)
    return (minutes + CLIMB_WEIGHT * CLIMB) / (quarters + CLIMB_WEIGHT)


def readiness(
    stands: Sequence[Stand],
    now: datetime,
    *,
    minutes: float,
    player: Player,
    climb: float,
    zone: tzinfo | None = None,
) -> Readiness | None:
    """How a piece stands before its date; None where it has none, or one that is past.

    Args:
        stands: Of the piece's passages.
        minutes: There are for this piece each day.
        player: How the player remembers.
        climb: Minutes that learning takes for a quarter note.
    """
    phrases = sorted((stand for stand in stands if stand.kind == "phrase"), key=lambda stand: stand.first)
    if not phrases or phrases[0].ready_by is None or days.read(phrases[0].ready_by) <= now:
        return None
    at = days.read(phrases[0].ready_by)
    today, day = days.practice_day(now, zone), days.practice_day(at, zone)
    days_left = (day - today).days
    upkeep = min(UPKEEP_MINUTES * sum(phrase.learned for phrase in phrases), minutes / 2)
    a_day = minutes - upkeep
    available = max(days_left, 1) * a_day
    prospects, needs = _prospects(phrases, today, day, a_day, available, player, climb)
    needed = sum(need.minutes for need in needs)
    left_out = tuple(one.number for one in prospects if one.learned < COUNTED_ON)
    wanted = needed / days_left + upkeep if days_left > 0 else None
    return Readiness(
        piece=phrases[0].piece,
        title=phrases[0].title,
        at=at,
        day=day,
        days_left=days_left,
        needed=needed,
        available=available,
        new_today=_new_today(phrases, today, days_left),
        left_out=left_out,
        upkeep=upkeep,
        first=max(enough_for(needed) / max(days_left - LAST_DAYS, 1) - sum(need.spent for need in needs), 0.0),
        sentence=_sentence(said(at, today, zone), len(phrases), left_out, wanted),
        prospects=prospects,
        needs=needs,
        minutes=a_day,
        player=player,
    )


def _prospects(
    phrases: Sequence[Stand], today: date, day: date, a_day: float, available: float, player: Player, climb: float
) -> tuple[tuple[Prospect, ...], tuple[Need, ...]]:
    """Every phrase on the day, and what learning the others still takes.

    Whether phrases can be counted on is asked as if they were learned one after the other, those that are furthest
    first: what is left out leaves its minutes to the others. Phrases of the same notes are learned at once.
    """
    eve = max(today, day - timedelta(days=1))
    in_order = sorted(phrases, key=lambda phrase: (-phrase.learned, -phrase.height, phrase.first))
    found = {
        phrase.mark: Prospect(phrase.first, 1.0, today, None, phrase.memory) for phrase in phrases if phrase.learned
    }
    to_learn: dict[str, Stand] = {}
    for phrase in in_order:
        if phrase.mark not in found:
            to_learn.setdefault(phrase.mark, phrase)
    needs = [
        Need(
            minutes=climb * phrase.quarters * (1 - phrase.height),
            met=phrase.takes > 0,
            spent=phrase.today_minutes if phrase.last_day == today.isoformat() else 0.0,
            height=phrase.height,
            steps=phrase.climbing_steps,
        )
        for phrase in to_learn.values()
    ]
    needed = 0.0
    for place, (phrase, need) in enumerate(zip(to_learn.values(), needs, strict=True)):
        needed += need.minutes
        ends = min(today + timedelta(days=int(needed / max(a_day, 1.0))), eve)
        memory = reviewed(None, 3, ends, player)
        found[phrase.mark] = Prospect(phrase.first, in_time(needed, available), ends, place, memory)
    return tuple(replace(found[phrase.mark], number=phrase.first) for phrase in phrases), tuple(needs)


def _new_today(phrases: Sequence[Stand], today: date, days_left: int) -> int:
    """How many phrases to begin today: as many as on every other day that is left for beginning."""
    new = {phrase.mark for phrase in phrases if phrase.takes == 0}
    begun = {phrase.mark for phrase in phrases if phrase.begun == today.isoformat()}
    return min(max(new_on_a_day(len(new) + len(begun), days_left) - len(begun), 0), len(new))


def _sentence(when: str, phrases: int, left_out: Sequence[int], a_day: float | None) -> str:
    if not left_out:
        return f"On the way to {when}."
    first = f"At the present pace {phrases - len(left_out)} of {phrases} phrases will be ready by {when}."
    names = f"Phrase {left_out[0]}"
    if len(left_out) > 1:
        names = f"Phrases {', '.join(map(str, left_out[:-1]))} and {left_out[-1]}"
    ways = f"{names} could be left out, or be played in plain chords, slower, or with the fingers on the page."
    more = ""
    if a_day is not None and a_day <= MOST_MINUTES:
        all_of_them = "They could all" if len(left_out) > 1 else "It could"
        more = f" {all_of_them} be ready with {ceil(a_day / 5) * 5} minutes a day for this piece."
    return f"{first} {ways}{more}"


def said(at: datetime, today: date, zone: tzinfo | None = None) -> str:
    """An instant as a player says it, where the player is: "Sunday 10:00", "Sunday 29 November 10:00"."""
    local = at.astimezone(zone)
    if abs((local.date() - today).days) < 7:
        return f"{local:%A %H:%M}"
    return f"{local:%A} {days.day_of_year(local.date(), today)} {local:%H:%M}"


def date_was(ready_by: str | None, now: datetime, zone: tzinfo | None = None) -> str:
    """What is said of a date on its day once it has passed: "its date was today 10:00"; "" before, and on later days.

    Args:
        ready_by: The instant that the piece had to be ready by, as the log writes it; None without one.
        now: This instant.
    """
    at = days.read(ready_by) if ready_by else None
    if at is None or at > now or days.practice_day(at, zone) != days.practice_day(now, zone):
        return ""
    return f"its date was today {at.astimezone(zone):%H:%M}"
