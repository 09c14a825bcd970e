"""What the player's choices say about how they like to play, and the weights that follow.

A choice that changes a plan is a lesson: the plan with it costs more by the usual weights than the one without, and the
player prefers it. Where the same kind of choice comes back in several pieces it is a habit, and the weights are moved,
within bounds and as little as will do, to those by which the player's choices would have been the coach's.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from coach.fingering.account import counts_of
from coach.fingering.choices import Fix, FixedLeaving, FixedSharing
from coach.fingering.finished import Finished, pitches_of
from coach.fingering.handful import hand_key
from coach.fingering.intervals import interval_name, with_article
from coach.fingering.limits import limits_of, note_place
from coach.fingering.plan import Side
from coach.fingering.search import Choice, Limits, Search
from coach.fingering.terms import DEALING, LEAVING, RANKING, in_words
from coach.fingering.weights import Weights

OFTEN = 3
"""Choices of a kind that make a habit, when they outnumber the opposite ones by as many (common practice)."""

PIECES = 2
"""Pieces that they must come from: what one piece asks for is no habit (common practice)."""

LEAST, MOST = 0.5, 2.0
"""Bounds of the factor by which a habit moves a weight: a habit colours a plan, it does not make another player."""

MARGIN = 0.25
"""By how much effort a preferred plan should be the lighter one."""

STAYING = 2.0
"""How strongly the weights stay what they are: the price of doubling one, in squared effort of lessons."""

TOLD = 0.05
"""A factor nearer to 1 than this is not worth a word."""

LIFTING, JOINING = "lifting", "joining"
"""What a choice of how to leave a chord prefers."""

STEPS = 400
"""Steps of the descent; it has settled long before."""


@dataclass(frozen=True, slots=True)
class Kind:
    """What a choice preferred to what, and where: "4" to "3", "on top of a sixth"."""

    preferred: str
    instead: str
    where: str

    @property
    def words(self) -> str:
        return f"{self.preferred} to {self.instead} {self.where}".rstrip()

    @property
    def opposite(self) -> Kind:
        return Kind(self.instead, self.preferred, self.where)

    def speaks_of(self, term: str) -> bool:
        """Whether a term of effort belongs to it: how a hand leaves a chord says nothing of what else comes about by
        it, a finger nothing of who plays which note; with who plays what, all else is chosen too."""
        if self.preferred in (LIFTING, JOINING):
            return term in LEAVING
        return term not in DEALING or not self.preferred.isdigit()


@dataclass(frozen=True, slots=True)
class Lesson:
    """What one choice says.

    Attributes:
        kind: What was preferred to what.
        counts: By term, what the plan with the choice has more than the one without.
    """

    kind: Kind
    counts: Mapping[str, float]

    def to_json(self) -> dict[str, Any]:
        kind = self.kind
        return {"kind": [kind.preferred, kind.instead, kind.where], "counts": dict(self.counts)}

    @classmethod
    def from_json(cls, form: Mapping[str, Any]) -> Lesson:
        """Read what `to_json` writes.

        Raises:
            KeyError, TypeError, ValueError: damaged.
        """
        preferred, instead, where = (str(word) for word in form["kind"])
        counts = {str(name): float(count) for name, count in form["counts"].items()}
        return cls(Kind(preferred, instead, where), counts)


@dataclass(frozen=True, slots=True)
class Habit:
    """One habit.

    Attributes:
        kind: What is preferred to what.
        times: How many choices say so.
        pieces: In how many pieces.
        effects: Terms that it moves with the factors of their weights, the greatest change first.
    """

    kind: Kind
    times: int
    pieces: int
    effects: tuple[tuple[str, float], ...]

    @property
    def sentence(self) -> str:
        """ "you prefer 4 to 3 on top of a sixth (3 choices in 2 pieces); the coach counts stretches ×1.3" """
        said = f"you prefer {self.kind.words} ({self.times} choices in {self.pieces} pieces)"
        effects = ", ".join(f"{in_words(term)} ×{factor:.1f}" for term, factor in self.effects[:2])
        return f"{said}; the coach counts {effects}" if effects else said


@dataclass(frozen=True, slots=True)
class Habits:
    """A player's habits.

    Attributes:
        habits: The strongest first.
        factors: By term, what its weight is multiplied with; terms that stay are left out.
    """

    habits: tuple[Habit, ...] = ()
    factors: Mapping[str, float] = field(default_factory=dict)

    def applied(self, weights: Weights) -> Weights:
        """The weights of this player."""
        return Weights({name: value * self.factors.get(name, 1.0) for name, value in weights.items()})

    @property
    def sentences(self) -> tuple[str, ...]:
        return tuple(habit.sentence for habit in self.habits)


def habits_of(pieces: Iterable[Sequence[Lesson]], weights: Weights) -> Habits:
    """The habits that lessons show.

    Args:
        pieces: For each piece the lessons from it.
        weights: The weights that habits move.
    """
    counted: dict[Kind, list[int]] = {}
    all_lessons: list[Lesson] = []
    for number, lessons in enumerate(pieces):
        for lesson in lessons:
            counted.setdefault(lesson.kind, []).append(number)
            all_lessons.append(lesson)
    strong = {
        kind: numbers
        for kind, numbers in counted.items()
        if len(numbers) - len(counted.get(kind.opposite, ())) >= OFTEN and len(set(numbers)) >= PIECES
    }
    lessons = [lesson for lesson in all_lessons if lesson.kind in strong]
    factors = _factors(lessons, weights)
    found = [
        Habit(kind, len(numbers), len(set(numbers)), _effects(kind, lessons, factors, weights))
        for kind, numbers in strong.items()
    ]
    found.sort(key=lambda habit: (-habit.times, habit.kind.words))
    return Habits(tuple(found), factors)


def _factors(lessons: Sequence[Lesson], weights: Weights) -> dict[str, float]:
    """Factors near 1 by which every lesson's plan would be the lighter one.

    The least of the squared shortfalls of the lessons plus the squared changes of the factors, found by projected
    gradient descent; it is convex, so that the order of the lessons does not matter. A lesson moves the terms that it
    speaks of; what else its plan has more and less of weighs as usual.
    """
    weighed = [
        {term: weights[term] * count for term, count in one.counts.items() if term in weights} for one in lessons
    ]
    moved = [
        {term: effort for term, effort in one.items() if term not in RANKING and lesson.kind.speaks_of(term)}
        for lesson, one in zip(lessons, weighed, strict=True)
    ]
    terms = sorted({term for one in moved for term in one})
    if not terms:
        return {}
    table = np.array([[one.get(term, 0.0) for term in terms] for one in moved])
    rest = np.array([sum(all_of.values()) - sum(one.values()) for all_of, one in zip(weighed, moved, strict=True)])
    factors = np.ones(len(terms))
    step = 1 / (2 * (float(np.linalg.norm(table, 2)) ** 2 + STAYING))
    for _ in range(STEPS):
        short = np.maximum(table @ factors + rest + MARGIN, 0)
        gradient = 2 * (table.T @ short) + 2 * STAYING * (factors - 1)
        factors = np.clip(factors - step * gradient, LEAST, MOST)
    return {
        term: round(float(factor), 4) for term, factor in zip(terms, factors, strict=True) if abs(factor - 1) > 1e-3
    }


def _effects(
    kind: Kind, lessons: Sequence[Lesson], factors: Mapping[str, float], weights: Weights
) -> tuple[tuple[str, float], ...]:
    """The factors of terms that a habit speaks of and for: less weight for what it has more of, more for what it has
    less of."""
    mine = [lesson for lesson in lessons if lesson.kind == kind]
    told = []
    for term, factor in factors.items():
        more = sum(lesson.counts.get(term, 0.0) for lesson in mine)
        if kind.speaks_of(term) and abs(factor - 1) >= TOLD and more * (factor - 1) < 0:
            told.append((abs(factor - 1) * weights[term], term, factor))
    return tuple((term, factor) for _, term, factor in sorted(told, reverse=True))


# From a choice to its lesson.


def lesson_of(search: Search, before: Sequence[Fix], fix: Fix) -> Lesson | None:
    """What a choice says; None where the plan honours it without being told.

    Args:
        search: The search of its phrase, by the usual weights.
        before: The choices that hold already, all honoured.
        fix: The new choice, honoured with them.
    """
    limits = limits_of(search, before), limits_of(search, [*before, fix])
    plans = [search.limited(each) for each in limits]
    if plans[0] is None or plans[1] is None:
        return None
    usual, chosen = plans[0][1], plans[1][1]
    kind = _kind(search, fix, usual, chosen, limits[0])
    if kind is None:
        return None
    counts = [counts_of(Finished(search, plan, each)) for plan, each in zip((usual, chosen), limits, strict=True)]
    names = sorted({*counts[0], *counts[1]})
    grown = {name: round(counts[1].get(name, 0.0) - counts[0].get(name, 0.0), 6) for name in names}
    return Lesson(kind, {name: count for name, count in grown.items() if abs(count) > 1e-6})


def _kind(search: Search, fix: Fix, usual: Sequence[Choice], chosen: Sequence[Choice], limits: Limits) -> Kind | None:
    place = search.onsets[fix.onset]
    if isinstance(fix, FixedSharing):
        instead = usual[place].deal.distribution
        keys = sorted(search.chords[place].notes, key=lambda note: note.midi)
        gap = with_article(interval_name(keys[1].pitch, keys[0].pitch)) if len(keys) > 1 else ""
        where = f"with {gap} between the two lowest notes" if gap else ""
        return Kind(fix.distribution, instead, where) if instead != fix.distribution else None
    if isinstance(fix, FixedLeaving):
        return _leaving_kind(search, place, fix, usual, limits)
    at = note_place(search, place, fix)
    if at is None:
        return None
    fates = [plan[place].deal.fates[at] for plan in (usual, chosen)]
    side = fates[1].hand
    if side is None:
        return None
    if fates[0].hand != side:
        return Kind(f"the {side} hand", f"the {fates[0].hand} hand", f"for the {fix.voice}") if fates[0].hand else None
    key = hand_key(side, fates[1].key)
    before = usual[place].fingers(side)[usual[place].deal.handful(side).keys.index(key)]
    if before == fix.finger:
        return None
    return Kind(str(fix.finger), str(before), _where(search, place, chosen[place], side, key))


def _leaving_kind(
    search: Search, place: int, fix: FixedLeaving, usual: Sequence[Choice], limits: Limits
) -> Kind | None:
    if place + 1 == len(usual) or not usual[place].deal.handful(fix.side).keys:
        return None
    one, two = usual[place], usual[place + 1]
    change = limits.change(place, fix.side, search.move(fix.side, one, two))
    at = one.row[fix.side], two.row[fix.side]
    now = "lift" if change.lifts(*at) else "join"
    if now == fix.after:
        return None
    pitches = [pitches_of(search.chords[p], usual[p].deal, fix.side) for p in (place, place + 1)]
    words = {"lift": LIFTING, "join": JOINING}
    where = f"in the {fix.side} hand"
    if pitches[0] and pitches[1]:
        where += f" {_step(*pitches)}"
    return Kind(words[fix.after], words[now], where)


def _step(pitches: Mapping[int, str], next_pitches: Mapping[int, str]) -> str:
    """Where the outer voice goes from one chord to the next, from the spelled pitches of a hand's keys in both: "over a
    second", "on a repeated note"."""
    key, next_key = max(pitches), max(next_pitches)
    if key == next_key:
        return "on a repeated note"
    name = interval_name(pitches[key], next_pitches[next_key])
    # C to C sharp is no unison to a hand.
    return f"over {with_article('semitone' if name == 'unison' else name)}"


def _where(search: Search, place: int, choice: Choice, side: Side, key: int) -> str:
    """Where a key lies in its hand: "on top of a sixth", "at the bottom of a fifth", "in a single line"."""
    keys = choice.deal.handful(side).keys
    hand = f"in the {side} hand"
    if len(keys) == 1:
        return f"in a single line {hand}"
    pitches = pitches_of(search.chords[place], choice.deal, side)
    at = keys.index(key)
    if 0 < at < len(keys) - 1:
        return f"in the middle of a chord {hand}"
    neighbour = keys[at - 1] if at else keys[1]
    on_top = (at > 0) == (side == "right")
    return (
        f"{'on top' if on_top else 'at the bottom'} of {with_article(interval_name(pitches[key], pitches[neighbour]))}"
        + ("" if on_top and side == "right" else f" {hand}")
    )
