"""What a plan costs, term by term."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from coach.fingering.deals import dealing_terms, redealing_terms
from coach.fingering.plan import SIDES, Side
from coach.fingering.search import FREE, Choice, Limits, Search
from coach.fingering.weighing import Change


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


def counts_of(finished: Finished) -> dict[str, float]:
    """How often, or how much, each term of effort occurs in a plan; terms that do not occur are left out."""
    search = finished.search
    total: dict[str, float] = {}

    def add(counts: Mapping[str, float]) -> None:
        for name, count in counts.items():
            total[name] = total.get(name, 0.0) + count

    as_written = search.options.as_written
    for place, choice in enumerate(finished.choices):
        dealing = dealing_terms(choice.deal, as_written, search.options.preference)
        add({name: count for name, count in dealing.items() if count})
        for side in SIDES:
            handful = choice.deal.handful(side)
            if handful.keys:
                add(search.posture(place, side, handful).counts.at(choice.row[side]))
        if not place:
            continue
        if not as_written:
            add(redealing_terms(finished.choices[place - 1].deal, search.chords[place], choice.deal))
        for side in SIDES:
            add(finished.chosen(place - 1, side))
    return total


def weighed(counts: Mapping[str, float], weights: Mapping[str, float]) -> dict[str, float]:
    """Effort by term."""
    return {name: weights[name] * count for name, count in counts.items()}
