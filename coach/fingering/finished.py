"""A finished search: what was chosen, chord by chord, as all that is said of a plan is read off it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from coach.fingering.deals import Deal, Fate, Sounding
from coach.fingering.handful import hand_key
from coach.fingering.intervals import octave_up
from coach.fingering.plan import Side
from coach.fingering.search import FREE, Choice, Limits, Search
from coach.fingering.weighing import Change
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
        self.weights = search.weights
        self._chosen: dict[tuple[int, Side], Mapping[str, float]] = {}
        self._spelled: dict[tuple[int, Side], dict[int, str]] = {}

    def change(self, place: int, side: Side) -> Change:
        """A hand's change from a chord to the next."""
        change = self.search.move(side, self.choices[place], self.choices[place + 1])
        return self.limits.change(place, side, change)

    def chosen(self, place: int, side: Side) -> Mapping[str, float]:
        """The terms of the change that was chosen; what it costs and why both chords' fingers are so asks for them."""
        found = self._chosen.get((place, side))
        if found is None:
            before, after = self.choices[place].row[side], self.choices[place + 1].row[side]
            found = self._chosen[place, side] = self.change(place, side).at(before, after)
        return found

    def pitches(self, place: int, side: Side) -> dict[int, str]:
        """Spelled pitches of a hand's keys in a chord, by key in hand coordinates."""
        found = self._spelled.get((place, side))
        if found is None:
            found = self._spelled[place, side] = pitches_of(self.chords[place], self.choices[place].deal, side)
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
