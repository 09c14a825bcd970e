"""Weeks of practice played by a simulated learner: guided by the coach, or going round everything in order."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from learner import Learner

from coach.practice import days
from coach.practice.changes import to_drill
from coach.practice.doses import DOSE
from coach.practice.entry import new_entry
from coach.practice.ladder import Step, learned, next_step
from coach.practice.log import Log
from coach.practice.passage import Passage
from coach.practice.progress import REST
from coach.practice.schedule import MINUTES, Today, today
from coach.practice.session import asked_of, is_done

EVENING = 18
"""Hour, UTC, at which the simulated day's practice begins."""


@dataclass(frozen=True, slots=True)
class Practised:
    """One simulated day.

    Attributes:
        day: Which.
        minutes: Spent, rests included.
        takes: Played.
        first: Today's practice as it stood before the first take.
        reviews: Reviews that were played, and whether the passage was remembered.
    """

    day: date
    minutes: float
    takes: int
    first: Today | None
    reviews: tuple[bool, ...]


def round_of(passages: Iterable[Passage]) -> list[Passage]:
    """Passages as they come round in order: piece by piece, each phrase, then its join to the one before, the whole."""
    given = list(passages)
    pieces = list(dict.fromkeys(passage.piece for passage in given))
    return sorted(given, key=lambda one: (pieces.index(one.piece), one.kind == "piece", one.last, one.kind != "phrase"))


class Trial:
    """Plays a learner's days into a log.

    Attributes:
        kept: The true chance of remembering, each time that a phrase which had been learned came back on a later day.
    """

    def __init__(self, log: Log, learner: Learner, titles: Mapping[str, str], bpm: float = 72.0) -> None:
        """A trial that begins with whatever the log holds.

        Args:
            titles: Titles of the pieces, by mark.
        """
        self._log = log
        self._learner = learner
        self._titles = titles
        self._bpm = bpm
        self.kept: list[float] = []
        self._clock = datetime(2026, 1, 5, EVENING, tzinfo=UTC)

    def guided(self, start: datetime, minutes: float = MINUTES) -> Practised:
        """One day as the coach lays it out: each row for its minutes, then today's practice anew."""
        self._clock = start
        day = days.practice_day(start, UTC)
        self._log.know_player(day)
        until = start + timedelta(minutes=minutes)
        first: Today | None = None
        takes, reviews, done = 0, [], set()
        while self._clock < until:
            now = today(self._log, self._clock, minutes=minutes, zone=UTC)
            first = first or now
            row = next((row for row in now.rows if (row.passage, row.kind) not in done), None)
            if row is None:
                break
            done.add((row.passage, row.kind))
            began = self._clock
            self._meet(row.passage, day)
            steps = self._log.steps(row.passage)
            while self._clock < until:
                progress = self._log.progress(row.passage)
                spent = (self._clock - began).total_seconds() / 60
                if is_done(row, steps, progress, spent, day):
                    break
                trouble = to_drill(progress.troubles) if progress.last_day == day else None
                word = self._take(*asked_of(self._learner, row.passage, trouble, steps, progress, row))
                takes += 1
                if row.kind == "review" and progress.last_day != day:
                    reviews.append(word != "weak")
        return Practised(day, (self._clock - start).total_seconds() / 60, takes, first, tuple(reviews))

    def in_order(self, start: datetime, passages: Sequence[Passage], at: int, minutes: float = MINUTES) -> int:
        """One day of going round all passages in order, the same ladder and at most the same minutes on each.

        A join, or a whole piece, whose phrases do not go in tempo yet is passed over.

        Args:
            passages: All that is practised, see `round_of`.
            at: Place of the passage to go on with.

        Returns:
            Where the next day goes on.
        """
        self._clock = start
        until = start + timedelta(minutes=minutes)
        can_be_joined: set[Passage] = set()
        while self._clock < until:
            passage = passages[at % len(passages)]
            at += 1
            if passage.kind != "phrase" and passage not in can_be_joined:
                can_be_joined = {stand.passage for stand in self._log.stands() if stand.open}
                if passage not in can_be_joined:
                    continue
            began = self._clock
            self._meet(passage, days.practice_day(began, UTC))
            steps = self._log.steps(passage)
            while self._clock < min(until, began + timedelta(minutes=DOSE)):
                progress = self._log.progress(passage)
                if learned(steps, progress.place) and self._clock > began:
                    break
                self._take(passage, next_step(steps, progress.place))
        return at

    def _meet(self, passage: Passage, day: date) -> None:
        progress = self._log.progress(passage)
        if learned(self._log.steps(passage), progress.place) and progress.last_day != day:
            numbers = range(passage.first, passage.last + 1)
            self.kept.append(min(self._learner.chance(passage.piece, number, self._clock) for number in numbers))

    def _take(self, passage: Passage, step: Step) -> str:
        heard = self._learner.play(passage, step, self._clock)
        self._log.record(
            new_entry(
                passage,
                self._titles[passage.piece],
                step,
                heard.verdict,
                began=self._clock,
                seconds=heard.seconds,
                zone=UTC,
                target_bpm=self._bpm,
                faults=heard.faults,
                parts=heard.parts,
            )
        )
        self._clock += timedelta(seconds=heard.seconds + REST)
        return heard.verdict
