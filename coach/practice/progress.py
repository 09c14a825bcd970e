"""How far a passage has come: everything that is kept of its takes, brought up to date take by take."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any

from coach.practice import ladder
from coach.practice.changes import Trouble, heard_again
from coach.practice.entry import Entry
from coach.practice.ladder import Place, Step
from coach.practice.memory import ANYONE, Grade, Memory, Player, grade, reviewed
from coach.practice.standing import NOTHING, Heard, standing, with_take

if TYPE_CHECKING:
    from coach.listening.word import Word

FORM = 6
"""Version of what is derived from a history; the log works everything out anew when it changes."""

REST = 8.0
"""Seconds between two takes: hands back to the first chord, a look at what was heard (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Review:
    """One review as the library was given it.

    Attributes:
        day: Of the review.
        grade: What it was given; on the first day that of the last take so far.
        expected: The chance of remembering that had been forecast, None on the first day.
    """

    day: date
    grade: int
    expected: float | None


@dataclass(frozen=True, slots=True)
class Progress:
    """What a history of takes comes to.

    Attributes:
        place: On the ladder.
        memory: What the `fsrs` library keeps, None before the first take that is graded.
        heard: What decides how the passage stands.
        troubles: Changes of chords that keep failing.
        begun: Day of the first take of any kind.
        first_day: Day of the first take that was graded.
        last_day: Day of the last take of any kind.
        takes: How many there are.
        seconds: How long they lasted together.
        today_minutes: Minutes practised on `last_day`, rests between takes included.
        plan: Mark of the plan that the passage itself was last played from, at its own place; "" where unknown.
        climb_minutes: Minutes, rests between takes included, until only playing from memory was left; None before.
        climb_days: Days of practice on which they were spent, so far.
        stopped_day: The last day on which a take that would have been graded stopped half way.
    """

    place: Place = ladder.START
    memory: Memory | None = None
    heard: Heard = NOTHING
    troubles: tuple[Trouble, ...] = ()
    begun: date | None = None
    first_day: date | None = None
    last_day: date | None = None
    takes: int = 0
    seconds: float = 0.0
    today_minutes: float = 0.0
    plan: str = ""
    climb_minutes: float | None = None
    climb_days: int = 0
    stopped_day: date | None = None

    @property
    def standing(self) -> Word | None:
        return standing(self.heard)

    @property
    def minutes(self) -> float:
        """How long practising it took in all, rests between takes included."""
        return (self.seconds + REST * self.takes) / 60

    def to_json(self) -> dict[str, Any]:
        return {
            "place": self.place.to_json(),
            "memory": self.memory.to_json() if self.memory else None,
            "heard": self.heard.to_json(),
            "troubles": [trouble.to_json() for trouble in self.troubles],
            "begun": _day(self.begun),
            "first_day": _day(self.first_day),
            "last_day": _day(self.last_day),
            "takes": self.takes,
            "seconds": self.seconds,
            "today_minutes": self.today_minutes,
            "plan": self.plan,
            "climb": [self.climb_minutes, self.climb_days],
            "stopped": _day(self.stopped_day),
        }

    @classmethod
    def from_json(cls, form: dict[str, Any]) -> Progress:
        return cls(
            place=Place.from_json(form["place"]),
            memory=Memory.from_json(form["memory"]) if form["memory"] else None,
            heard=Heard.from_json(form["heard"]),
            troubles=tuple(Trouble.from_json(trouble) for trouble in form["troubles"]),
            begun=_date(form["begun"]),
            first_day=_date(form["first_day"]),
            last_day=_date(form["last_day"]),
            takes=form["takes"],
            seconds=form["seconds"],
            today_minutes=form["today_minutes"],
            plan=form["plan"],
            climb_minutes=form["climb"][0],
            climb_days=form["climb"][1],
            stopped_day=_date(form["stopped"]),
        )


UNPLAYED = Progress()
"""Before the first take."""


def after(
    progress: Progress, steps: tuple[Step, ...], entry: Entry, player: Player = ANYONE
) -> tuple[Progress, Review | None]:
    """What a passage's history comes to with one more entry, and the review that the entry was, if it was one.

    Entries come in order of time. A drill of one change only counts for that change: what was not played itself is
    not begun by it.

    Args:
        steps: The passage's ladder.
        player: Whose memory it is.
    """
    troubles = heard_again(progress.troubles, entry)
    if entry.passage.kind == "change" and progress.takes == 0:
        return replace(progress, troubles=troubles), None
    counted = replace(
        progress,
        troubles=troubles,
        begun=progress.begun or entry.day,
        last_day=entry.day,
        takes=progress.takes + 1,
        seconds=progress.seconds + entry.seconds,
        today_minutes=(entry.seconds + REST) / 60 + (progress.today_minutes if progress.last_day == entry.day else 0.0),
        plan=entry.plan or progress.plan,
    )
    if entry.passage.kind == "change":
        return counted, None
    memory, review = _remembered(progress, entry, player)
    place = ladder.after(progress.place, steps, entry)
    climbing = progress.climb_minutes is None
    moved = replace(
        counted,
        place=place,
        climb_minutes=counted.minutes if climbing and ladder.learned(steps, place) else progress.climb_minutes,
        climb_days=progress.climb_days + (climbing and entry.day != progress.last_day),
        memory=memory,
        heard=with_take(progress.heard, entry, first_today=review is not None and review.expected is not None),
        first_day=progress.first_day or (review.day if review else None),
        stopped_day=entry.day if entry.reached is not None and _given(entry) else progress.stopped_day,
    )
    return moved, review


def progress_of(steps: tuple[Step, ...], entries: Iterable[Entry], player: Player = ANYONE) -> Progress:
    """What a whole history, oldest first, comes to."""
    progress = UNPLAYED
    for entry in entries:
        progress, _ = after(progress, steps, entry, player)
    return progress


def _remembered(progress: Progress, entry: Entry, player: Player) -> tuple[Memory | None, Review | None]:
    """The rule of `memory.grade`: one take a day, the last on the first day and the first on later ones.

    A take that stopped half way is none: somebody came to the door. But what is played after it that day was read again
    or tried out meanwhile, and does not show that the passage came back by itself.
    """
    memory, first_day = progress.memory, progress.first_day
    given = _given(entry)
    if given is None or entry.reached is not None:
        return memory, None
    if progress.stopped_day == entry.day and first_day is not None and entry.day > first_day:
        given = min(given, 2)
    if memory is None or first_day is None or max(entry.day, memory.last) <= first_day:
        day = first_day or entry.day
        return reviewed(None, given, day, player), Review(day, given, None)
    if entry.day <= memory.last:
        return memory, None
    return reviewed(memory, given, entry.day, player), Review(entry.day, given, player.chance(memory, entry.day))


def _given(entry: Entry) -> Grade | None:
    """The grade that a take earns where it is played to its end; None where it says nothing of memory."""
    return grade(entry.verdict, entry.tempo_share, entry.step.fingers) if entry.step.together else None


def _day(day: date | None) -> str | None:
    return day.isoformat() if day else None


def _date(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None
