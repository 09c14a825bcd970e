"""What a given fingering costs, term by term: the planner's own account of a fingering that it did not choose."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from passages import chords

from coach.fingering.hand import Hands
from coach.fingering.plan import Side
from coach.fingering.search import Options, Search
from coach.score.piece import Piece


def sheet(piece: Piece, side: Side, fingers: Sequence[tuple[int, ...]], span_mm: float = 208) -> dict[str, float]:
    """The weighed terms of one hand's fingers in a passage written on staves.

    Args:
        piece: The passage.
        side: The hand.
        fingers: Its fingers in each chord, from the lowest key to the highest.
        span_mm: Its span.

    Raises:
        ValueError: the hand cannot do it, with where.
    """
    search = Search(chords(piece), Hands.of_span(span_mm), Options(hands="as-written"))
    _, choices = search.best()
    weights = search.options.weights
    total: dict[str, float] = {}

    def add(counts: dict[str, float]) -> None:
        for name, count in counts.items():
            total[name] = total.get(name, 0.0) + weights[name] * count

    rows = []
    for place, (choice, wanted) in enumerate(zip(choices, fingers, strict=True)):
        ways = choice.ways[side].fingers
        row = np.flatnonzero((ways == (wanted if side == "right" else wanted[::-1])).all(axis=1))
        if not len(row):
            raise ValueError(f"chord {place + 1}: {wanted} cannot be played")
        rows.append(int(row[0]))
        handful = choice.deal.handful(side)
        add(search.posture(place, side, handful).counts.at(rows[-1]))
    for place, (before, after) in enumerate(pairwise(range(len(choices)))):
        change = search.move(side, choices[before], choices[after])
        at = rows[before], rows[after]
        if not np.isfinite(change.least[at]):
            raise ValueError(f"from chord {place + 1}: {fingers[before]} cannot go on to {fingers[after]}")
        add(change.at(*at))
    return total


def words(terms: dict[str, float]) -> str:
    """ "8.10: shift 4.20, lift 1.50" """
    parts = ", ".join(f"{name} {value:.2f}" for name, value in sorted(terms.items(), key=lambda item: -item[1]))
    return f"{sum(terms.values()):.2f}: {parts or 'nothing'}"
