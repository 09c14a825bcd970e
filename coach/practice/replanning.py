"""Phrases that were practised and are planned anew, for other hands or another wish: which, and when to play them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from coach.listing import listed, numbered
from coach.practice.ladder import TOGETHER
from coach.practice.lineage import NEW_PLAN
from coach.practice.schedule import Row, Today, take_turns

if TYPE_CHECKING:
    from coach.practice.log import Log
    from coach.practice.passage import Passage
    from coach.practice.stand import Stand

MOST_NAMED = 3
"""So many phrases of a piece, and so many pieces, are named one by one; of more it is said how many."""


@dataclass(frozen=True, slots=True)
class Changed:
    """What has become other in one piece.

    Attributes:
        title: Of the piece.
        phrases: Numbers of the phrases that were played before and have other fingers since.
        of: How many phrases it has.
    """

    title: str
    phrases: tuple[int, ...]
    of: int


def plans(log: Log) -> dict[Passage, str]:
    """The marks of the plans of all phrases, as far as they are known."""
    return {passage: shape.plan for passage, shape in log.cuts() if passage.kind == "phrase" and shape.plan}


def changed(log: Log, before: Mapping[Passage, str]) -> tuple[Changed, ...]:
    """In which of the phrases that are practised the plan is another one than before.

    Args:
        before: What `plans` gave then. A phrase that had none is held against what it was last played from.
    """
    now = plans(log)
    pieces: dict[str, list[Stand]] = {}
    for stand in log.stands(here=True):
        if stand.kind == "phrase":
            pieces.setdefault(stand.piece, []).append(stand)
    found = []
    for phrases in pieces.values():
        others = [one.first for one in phrases if one.takes and _is_other(log, one.passage, before, now)]
        if others:
            found.append(Changed(phrases[0].title, tuple(sorted(others)), len(phrases)))
    return tuple(sorted(found, key=lambda one: one.title))


def _is_other(log: Log, passage: Passage, before: Mapping[Passage, str], now: Mapping[Passage, str]) -> bool:
    was, became = before.get(passage) or log.progress(passage).plan, now.get(passage, "")
    return bool(was and became) and was != became


def told(pieces: Sequence[Changed]) -> str:
    """What is said of them: "Other fingers now in 5 phrases of Wide Water"."""
    if not pieces:
        return "The plans of what you practise did not change: the same fingers go on."
    named = [f"{_phrases(one)} of {one.title}" for one in pieces[:MOST_NAMED]]
    more = len(pieces) - MOST_NAMED
    if more > 0:
        named.append(f"{more} more piece{'s' * (more > 1)}")
    return f"Other fingers now in {listed(named)}."


def _phrases(one: Changed) -> str:
    count = len(one.phrases)
    if count == one.of and count > 1:
        return f"all {count} phrases"
    if count > MOST_NAMED:
        return f"{count} phrases"
    return numbered("phrase", one.phrases)


def with_anew(day: Today, log: Log) -> Today:
    """A day with the phrases that were planned anew, each once with the fingers, as far as there are minutes left.

    What the day asks for anyway says so itself, and is not asked for twice.
    """
    listed_already = {row.passage for row in day.rows}
    left = day.minutes - day.played - day.planned
    rows = []
    for stand in log.planned_anew():
        minutes = stand.seconds_a_take() / 60
        if stand.passage not in listed_already and minutes <= left:
            left -= minutes
            why = "planned anew: once with the fingers"
            rows.append(Row("anew", stand.passage, stand.title, TOGETHER, minutes, why, stand.standing))
    return replace(day, rows=(*day.rows, *take_turns(rows)))


def is_played(log: Log, passage: Passage) -> bool:
    """Whether a phrase that was planned anew has been played as it is planned now."""
    return log.kept_from(passage) != NEW_PLAN
