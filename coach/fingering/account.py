"""What a plan costs, term by term."""

from __future__ import annotations

from collections.abc import Mapping

from coach.fingering.deals import dealing_terms, redealing_terms
from coach.fingering.finished import Finished
from coach.fingering.plan import SIDES


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
                add(finished.counts(place, side, choice.row[side]))
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
