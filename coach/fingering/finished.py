"""A finished search: what was chosen, chord by chord, as all that is said of a plan is read off it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache

import numpy as np

from coach.fingering.counts import Array
from coach.fingering.deals import Deal, Fate, Sounding
from coach.fingering.handful import hand_key
from coach.fingering.intervals import note_name, octave_up
from coach.fingering.plan import SIDES, Side
from coach.fingering.search import FREE, Choice, Limits, Search, least_of
from coach.fingering.weighing import Change, Posture
from coach.score.counting import beat_words, place_words
from coach.score.piece import Note


class Finished:
    """A finished search, of which is said what it costs and why.

    Args:
        search: The search, for its terms and weights.
        choices: What it chose, a choice a chord.
        limits: What the player's choices left of it.
    """

    def __init__(self, search: Search, choices: Sequence[Choice], limits: Limits = FREE) -> None:
        self.search = search
        self.choices = choices
        self.limits = limits
        self.chords = search.chords
        self.weights = search.weights.prices
        self._changes: dict[Side, dict[int, Change]] = {side: {} for side in SIDES}
        self._postures: dict[Side, dict[int, Posture]] = {side: {} for side in SIDES}
        self._lifts: dict[Side, dict[int, bool]] = {side: {} for side in SIDES}
        self._spelled: dict[Side, dict[int, dict[int, str]]] = {side: {} for side in SIDES}
        self._lines: dict[Side, Line] = {}

    def change(self, place: int, side: Side) -> Change:
        """A hand's change from a chord to the next."""
        found = self._changes[side].get(place)
        if found is None:
            change = self.search.move(side, self.choices[place], self.choices[place + 1])
            found = self._changes[side][place] = self.limits.change(place, side, change)
        return found

    def lifts(self, place: int, side: Side) -> bool:
        """Whether a hand lifts out of a chord, or rests after it."""
        found = self._lifts[side].get(place)
        if found is None:
            rows = self.choices[place].row[side], self.choices[place + 1].row[side]
            found = self._lifts[side][place] = self.change(place, side).lifts(*rows)
        return found

    def chosen(self, place: int, side: Side) -> Mapping[str, float]:
        """The terms of the change that was chosen."""
        return self.moved(place, side, self.choices[place].row[side], self.choices[place + 1].row[side])

    def posture(self, place: int, side: Side) -> Posture:
        """A hand's chord."""
        found = self._postures[side].get(place)
        if found is None:
            found = self._postures[side][place] = self.search.posture(
                place, side, self.choices[place].deal.handful(side)
            )
        return found

    def counts(self, place: int, side: Side, row: int) -> Mapping[str, float]:
        """The terms of one fingering of a hand's chord."""
        return _counts(self.posture(place, side), row)

    def moved(self, place: int, side: Side, row: int, next_row: int) -> Mapping[str, float]:
        """The terms of the change from one fingering of a hand's chord to one of the next."""
        return _moved(self.change(place, side), row, next_row)

    def line(self, side: Side) -> Line:
        """What a hand's fingers cost through the phrase, all notes where they are."""
        if side not in self._lines:
            self._lines[side] = Line(self, side)
        return self._lines[side]

    def pitches(self, place: int, side: Side) -> dict[int, str]:
        """Spelled pitches of a hand's keys in a chord, by key in hand coordinates."""
        found = self._spelled[side].get(place)
        if found is None:
            found = self._spelled[side][place] = pitches_of(self.chords[place], self.choices[place].deal, side)
        return found

    def keys(self, place: int, side: Side) -> tuple[int, ...]:
        """A hand's keys in a chord, in hand coordinates."""
        return self.choices[place].deal.handful(side).grip.keys

    def name(self, place: int, side: Side, at: int) -> str:
        """The note on one of a hand's keys in a chord, counted from the thumb's side."""
        return note_name(self.pitches(place, side)[self.keys(place, side)[at]])

    def where(self, place: int, seen_from: int) -> str:
        """Where a chord is in words, its bar only where that is another than the chord's one speaks of."""
        bar, beat = self.search.bars[place]
        return beat_words(beat) if bar == self.search.bars[seen_from][0] else place_words(bar, beat)

    def spelled(self, place: int, side: Side, key: int) -> str:
        """The name of a key (hand coordinates) as the next notes from a chord on spell it; "" where none is on it."""
        midi = hand_key(side, key)
        return next(
            (
                note_name(played(note, fate))
                for chord, choice in zip(self.chords[place:], self.choices[place:], strict=True)
                for note, fate in zip(chord.notes, choice.deal.fates, strict=True)
                if midi in (fate.key, note.midi)
            ),
            "",
        )


MOST_REMEMBERED = 50_000
"""Fingerings, and pairs of them, whose terms are remembered: the same chords come back in every piece."""


@lru_cache(maxsize=MOST_REMEMBERED)
def _counts(posture: Posture, row: int) -> Mapping[str, float]:
    return posture.counts.at(row)


@lru_cache(maxsize=MOST_REMEMBERED)
def _moved(change: Change, row: int, next_row: int) -> Mapping[str, float]:
    return change.at(row, next_row)


class Line:
    """One hand's fingers through a phrase, all notes where they are.

    Attributes:
        before: For each chord the least effort up to each of its fingerings, its own effort among it.
        beyond: The least effort from each fingering of a chord on, its own effort among it.
    """

    def __init__(self, plan: Finished, side: Side) -> None:
        # Its rows, not the plan itself: what refers to each other in a circle stays in memory for a long time.
        self._planned = [choice.row[side] for choice in plan.choices]
        count = len(plan.choices)
        self._own = [plan.posture(place, side).effort for place in range(count)]
        self._changes = [plan.change(place, side).least for place in range(count - 1)]
        self.before, self.beyond = self._own[:1], self._own[-1:]
        for place, change in enumerate(self._changes, 1):
            self.before.append(least_of(self.before[-1][:, None] + change, 0) + self._own[place])
        for place in range(count - 2, -1, -1):
            self.beyond.insert(0, least_of(self._changes[place] + self.beyond[0][None, :], 1) + self._own[place])

    def through(self, place: int) -> Array:
        """The least effort of the whole line through each fingering of a chord."""
        return np.asarray(self.before[place] + self.beyond[place] - self._own[place])

    def around(self, rows: Mapping[int, int]) -> dict[int, int]:
        """The fingerings of the best way through those of neighbouring chords, as far as they are others than
        planned.

        Args:
            rows: A fingering for each of these chords.
        """
        found = dict(rows)
        planned = self._planned
        for at in range(min(rows) - 1, -1, -1):
            best = int((self.before[at] + self._changes[at][:, found[at + 1]]).argmin())
            if best == planned[at]:
                break
            found[at] = best
        for at in range(max(rows) + 1, len(planned)):
            best = int((self._changes[at - 1][found[at - 1]] + self.beyond[at]).argmin())
            if best == planned[at]:
                break
            found[at] = best
        return found


def pitches_of(chord: Sounding, deal: Deal, side: Side) -> dict[int, str]:
    """Spelled pitches of a hand's keys in a deal, by key in hand coordinates."""
    return {
        hand_key(side, fate.key): played(note, fate)
        for note, fate in zip(chord.notes, deal.fates, strict=True)
        if fate.hand == side
    }


def played(note: Note, fate: Fate) -> str:
    """The pitch that is played: the written one, or an octave above it."""
    return note.pitch if fate.key == note.midi else octave_up(note.pitch)
