"""How a passage stands: solid, shaky or weak."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any

from coach.practice.ladder import IN_TEMPO, Try

if TYPE_CHECKING:
    from coach.listening.word import Word

SEPARATE_DAYS = 2
"""Days of practice on which a passage must have been played as it is meant to be."""


@dataclass(frozen=True, slots=True)
class Heard:
    """What of a passage's takes decides how it stands.

    Attributes:
        full_days: Separate days, since the last failed review, with a solid take as it is meant to be: together, in
            tempo, no fingers shown.
        full_day: The last such day.
        full: Verdict of the last take of that kind, "" where there is none.
        failed: The last review failed and no such take has been solid since.
        latest: Verdict of the last take by both hands, or of the last one at all while the hands are still apart.
        together: Whether `latest` is one by both hands.
    """

    full_days: int = 0
    full_day: date | None = None
    full: Word | None = None
    failed: bool = False
    latest: Word | None = None
    together: bool = False

    def to_json(self) -> list[Any]:
        day = self.full_day.isoformat() if self.full_day else None
        return [self.full_days, day, self.full, int(self.failed), self.latest, int(self.together)]

    @classmethod
    def from_json(cls, form: list[Any]) -> Heard:
        day = date.fromisoformat(form[1]) if form[1] else None
        return cls(form[0], day, form[2], bool(form[3]), form[4], bool(form[5]))


NOTHING = Heard()
"""Before the first take."""


def standing(heard: Heard) -> Word | None:
    """How a passage stands; None before it was first played.

    Solid: played together, in tempo and without fingers shown on two separate days, the last time included.
    Weak: its last review failed (see `memory.grade`), or, while it is still being learned, its last take was weak.
    Shaky: everything between.
    """
    if heard.latest is None:
        return None
    if heard.failed:
        return "weak"
    if heard.full_days >= SEPARATE_DAYS and heard.full == "solid":
        return "solid"
    if heard.full_days == 0 and heard.latest == "weak":
        return "weak"
    return "shaky"


def with_take(heard: Heard, take: Try, *, first_today: bool) -> Heard:
    """What is heard of the passage with one more take.

    Args:
        first_today: Whether it is the first graded take of a later day: what was remembered before any practice,
            and so a review where the passage had been played as it is meant to be before.
    """
    step = take.step
    if step.together or not heard.together:
        heard = replace(heard, latest=take.verdict, together=step.together)
    as_meant = step.full and take.tempo_share >= IN_TEMPO
    learned = heard.full_days > 0 or heard.failed
    if first_today and step.together and learned and take.verdict == "weak":
        return replace(heard, failed=True, full_days=0, full_day=None, full="weak")
    if not as_meant:
        return heard
    if take.verdict != "solid":
        return replace(heard, full=take.verdict)
    new_day = heard.full_day is None or take.day > heard.full_day
    days = min(heard.full_days + new_day, SEPARATE_DAYS)
    return replace(
        heard, full_days=days, full_day=max(take.day, heard.full_day or take.day), full="solid", failed=False
    )


def stand_in_words(standings: Sequence[Word | None]) -> str:
    """How several passages stand: "2 solid, 1 weak"; "" where none was played."""
    counts = [(standings.count(word), word) for word in ("solid", "shaky", "weak")]
    return ", ".join(f"{count} {word}" for count, word in counts if count)
