"""What a plan costs, term by term."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from coach.fingering.deals import changes_hands, dealing_terms
from coach.fingering.plan import SIDES
from coach.fingering.search import FREE, Choice, Limits, Search


def counts_of(search: Search, choices: Sequence[Choice], limits: Limits = FREE) -> dict[str, float]:
    """How often, or how much, each term of effort occurs in a plan; terms that do not occur are left out.

    Args:
        search: The search of the phrase.
        choices: What the plan does in each chord.
        limits: What the player's choices left of the search.
    """
    total: dict[str, float] = {}

    def add(counts: Mapping[str, float]) -> None:
        for name, count in counts.items():
            total[name] = total.get(name, 0.0) + count

    as_written = search.options.as_written
    for place, choice in enumerate(choices):
        dealing = dealing_terms(choice.deal, as_written, search.options.preference)
        add({name: count for name, count in dealing.items() if count})
        for side in SIDES:
            handful = choice.deal.handful(side)
            if handful.keys:
                add(search.posture(place, side, handful).counts.at(choice.row[side]))
        if not place:
            continue
        before = choices[place - 1]
        if not as_written and changes_hands(before.deal, search.chords[place], choice.deal):
            add({"redistribution": 1.0})
        for side in SIDES:
            change = limits.change(place - 1, side, search.move(side, before, choice))
            add(change.at(before.row[side], choice.row[side]))
    return total


def weighed(counts: Mapping[str, float], weights: Mapping[str, float]) -> dict[str, float]:
    """Effort by term."""
    return {name: weights[name] * count for name, count in counts.items()}
