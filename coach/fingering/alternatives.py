"""The next-best plans of a phrase that differ where it matters: another distribution, another group, another finger on
an outer voice.

Each alternative is the best plan with one choice more, so the player can take it by making that choice.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from coach.fingering.choices import Fix, FixedLeaving, FixedSharing, inside, of_note
from coach.fingering.hand import Hands
from coach.fingering.handful import hand_key
from coach.fingering.limits import limits_of
from coach.fingering.plan import SIDES, PhrasePlan, Side
from coach.fingering.planner import plan_phrase
from coach.fingering.search import Choice, Limits, Matrix, Options, Search, over, search_of
from coach.fingering.settling import settle
from coach.fingering.terms import differences
from coach.score.piece import Chord, Phrase, Quarters

MOST = 3
"""Alternatives shown where the player does not ask for more: as many as can be kept in mind."""

MOST_TRIED = 8
"""Options tried until one makes a plan that is not there yet."""

FINGERS = range(1, 6)


@dataclass(frozen=True, slots=True)
class Option:
    """A choice that would make another plan.

    Attributes:
        fix: The choice.
        effort: Of the best plan that honours it.
    """

    fix: Fix
    effort: float


@dataclass(frozen=True, slots=True)
class Alternative:
    """Another plan of a phrase.

    Attributes:
        fix: The choice that makes it.
        plan: The plan.
        costs: What it costs more than the plan it is held against, by term, the dearest first.
        gains: What it saves, by term, the greatest saving first; all positive.
    """

    fix: Fix
    plan: PhrasePlan
    costs: dict[str, float]
    gains: dict[str, float]


def alternatives(
    phrase: Phrase,
    chords: Sequence[Chord],
    hands: Hands | None = None,
    options: Options | None = None,
    most: int = MOST,
) -> list[Alternative]:
    """The next-best plans of a phrase, the one of least effort first.

    The best other distribution, the best other group and the best other finger on an outer voice are among them, where
    there are such, before a second of any kind.

    Args:
        phrase: The phrase.
        chords: Its chords.
        hands: The player's hands and keyboard.
        options: The player's wishes; the choices among them hold in every alternative.
        most: How many at most.
    """
    options = options or Options()
    search = search_of(chords, hands or Hands(), options)
    fixes = settle(search, inside(options.choices, chords[0].onset, chords[-1].end)).honoured
    usual = plan_phrase(phrase, chords, hands, options)
    tried: dict[object, Option] = {}
    for option in options_of(search, fixes):
        tried.setdefault(option.fix.what, option)
    found: list[Alternative] = []

    def take_first(among: Iterable[Option]) -> bool:
        """Take the first of some options whose plan is like no other; whether there was one."""
        for option in among:
            plan = plan_phrase(phrase, chords, hands, replace(options, choices=(*fixes, option.fix)))
            del tried[option.fix.what]
            if not any(_alike(plan, other) for other in (usual, *(one.plan for one in found))):
                found.append(_held_against(usual, option.fix, plan))
                return True
        return False

    for kind in dict.fromkeys(option.fix.what[0] for option in tried.values()):
        if len(found) < most:
            take_first([option for option in tried.values() if option.fix.what[0] == kind][:MOST_TRIED])
    while len(found) < most and take_first(list(tried.values())[:MOST_TRIED]):
        pass
    return sorted(found, key=lambda one: one.plan.effort)


def _held_against(usual: PhrasePlan, fix: Fix, plan: PhrasePlan) -> Alternative:
    grown = differences(plan.terms, usual.terms)
    costs = {term: by for term, by in grown.items() if by > 0}
    return Alternative(fix, plan, costs, {term: -by for term, by in grown.items() if by < 0})


def _alike(plan: PhrasePlan, other: PhrasePlan) -> bool:
    """Whether two plans share out, join and finger the outer voices alike."""
    return _outline(plan) == _outline(other)


def _outline(plan: PhrasePlan) -> list[tuple[object, ...]]:
    outline: list[tuple[object, ...]] = []
    for chord in plan.chords:
        parts = [part.after if part else "" for part in (chord.right, chord.left)]
        outer = [max(chord.played_by("right"), key=lambda note: note.midi, default=None),
                 min(chord.played_by("left"), key=lambda note: note.midi, default=None)]  # fmt: skip
        outline.append((chord.distribution, *parts, *(note.finger if note else None for note in outer)))
    return outline


def options_of(search: Search, fixes: Sequence[Fix] = ()) -> list[Option]:
    """Every choice that would change a phrase's plan where it matters, the one of least effort first.

    Args:
        search: The search of the phrase.
        fixes: Choices that the plan honours already.
    """
    limits = limits_of(search, fixes, before_more=True)
    usual = search.limited(limits)
    if usual is None:
        return []
    around = _Around(search, usual[1], limits, search.forward(limits), search.beyond(limits))
    options = [option for place in range(len(search.chords)) for option in around.options(place)]
    decided = {fix.what for fix in fixes}
    return sorted((one for one in options if one.fix.what not in decided), key=lambda one: one.effort)


@dataclass(frozen=True, eq=False)
class _Around:
    """The least efforts up to each state of a phrase and from there on: what lies through any of them follows."""

    search: Search
    usual: Sequence[Choice]
    limits: Limits
    before: Sequence[Sequence[Matrix]]
    beyond: Sequence[Sequence[Matrix]]

    def options(self, place: int) -> Iterator[Option]:
        onset = next(onset for onset, there in self.search.onsets.items() if there == place)
        yield from self._sharings(place, onset)
        for side in SIDES:
            yield from self._fingers(place, side)
            if place + 1 < len(self.usual):
                yield from self._leavings(place, side, onset)

    def _through(self, place: int) -> list[Matrix]:
        """The least effort of a plan through each fingering of each state of a chord."""
        return [value + rest for value, rest in zip(self.before[place], self.beyond[place], strict=True)]

    def _sharings(self, place: int, onset: Quarters) -> Iterator[Option]:
        best: dict[str, float] = {}
        playing = [side for side in SIDES if self.usual[place].deal.handful(side).keys]
        for state, efforts in zip(self.search.columns[place], self._through(place), strict=True):
            if not all(state.deal.handful(side).keys for side in playing):
                # A hand that plays is not sent away for a chord.
                continue
            distribution = state.deal.distribution
            best[distribution] = min(float(efforts.min()), best.get(distribution, np.inf))
        for distribution, effort in best.items():
            if distribution != self.usual[place].deal.distribution and np.isfinite(effort):
                right, left = distribution.split("+")
                yield Option(FixedSharing(onset, int(right), int(left)), effort)

    def _fingers(self, place: int, side: Side) -> Iterator[Option]:
        """Other fingers on the outer voice of a hand, where it is struck."""
        choice, chord = self.usual[place], self.search.chords[place]
        handful = choice.deal.handful(side)
        if not handful.keys or not handful.struck[-1]:
            return
        outer = next(
            at
            for at, (struck, fate) in enumerate(zip(chord.struck, choice.deal.fates, strict=True))
            if struck and fate.hand == side and hand_key(side, fate.key) == handful.keys[-1]
        )
        best = dict.fromkeys(FINGERS, np.inf)
        for state, efforts in zip(self.search.columns[place], self._through(place), strict=True):
            fate = state.deal.fates[outer]
            if fate.hand is None:
                continue
            column = state.deal.handful(fate.hand).keys.index(hand_key(fate.hand, fate.key))
            fingers = state.ways[fate.hand].fingers[:, column]
            least = efforts.min(axis=1 if fate.hand == "right" else 0)
            for finger in FINGERS:
                best[finger] = min(best[finger], float(least[fingers == finger].min(initial=np.inf)))
        del best[choice.fingers(side)[-1]]
        for finger, effort in best.items():
            if np.isfinite(effort):
                yield Option(of_note(chord.notes[outer], finger), effort)

    def _leavings(self, place: int, side: Side, onset: Quarters) -> Iterator[Option]:
        """Lifting where a hand joins, and joining where it lifts."""
        one, two = self.usual[place], self.usual[place + 1]
        if not one.deal.handful(side).keys:
            return
        change = self.limits.change(place, side, self.search.move(side, one, two))
        at = one.row[side], two.row[side]
        fix = FixedLeaving(onset, side, "join" if change.lifts(*at) else "lift")
        limits = replace(self.limits, leaving={**self.limits.leaving, (place, side): fix.after})
        least = min(self._over(place, side, limits), default=np.inf)
        if np.isfinite(least):
            yield Option(fix, least)

    def _over(self, place: int, side: Side, limits: Limits) -> Iterable[float]:
        """The least effort of a plan through each pair of states of a chord and the next."""
        for state, value in zip(self.search.columns[place], self.before[place], strict=True):
            if not state.deal.handful(side).keys:
                continue
            for index, (after, rest) in enumerate(
                zip(self.search.columns[place + 1], self.beyond[place + 1], strict=True)
            ):
                change = self.search.change(place + 1, state, after, limits)
                if change is not None:
                    arriving = over(value, *change) + after.own
                    yield float((limits.left(place + 1, index, arriving) + rest).min())
