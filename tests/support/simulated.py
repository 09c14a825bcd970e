"""Corpus chorales with plans, and the mistakes that the simulated pianist makes on them."""

from __future__ import annotations

from functools import cache

from coach.fingering.plan import Plan
from coach.listening.player import Manner, Mistakes
from coach.listening.route import Detours

FIVE_PER_CENT = Mistakes(wrong=0.02, octave=0.005, missing=0.015, extra=0.01)
"""Five notes in a hundred go wrong."""

MENDING = Mistakes(detours=Detours(mended=0.05))
"""At five chords in a hundred a key is missed or does not speak, and is struck alone after a stop."""

HANDS = Mistakes(no_lift=0.1, new_lift=0.05, let_go=0.15)
"""Lifts left out and added, held notes let go."""

EVERYTHING = Mistakes(
    wrong=0.02,
    octave=0.005,
    missing=0.015,
    extra=0.01,
    double=0.01,
    late=0.02,
    rolled=0.05,
    no_lift=0.1,
    new_lift=0.05,
    let_go=0.15,
    smeared=0.02,
    detours=Detours(waited=0.02, back=0.02, again=0.005, skipped=0.005),
)
"""All that can go wrong, stumbles and new beginnings among it."""


@cache
def chorale_plan(name: str) -> Plan:
    """The plan of a piece of the corpus, "bach/bwv269"."""
    from coach.fingering.planner import plan_piece
    from coach.score.library import open_piece
    from coach.score.phrases import find_phrases

    piece = open_piece(f"corpus:{name}")
    return plan_piece(piece, find_phrases(piece))


def manner(seed: int) -> Manner:
    """How the pianist of one take plays: slow or quick, steady or free, one hand ahead or none, with pedal or dry."""
    from random import Random

    draw = Random(seed)
    return Manner(
        quarter_bpm=draw.uniform(36, 144),
        rubato=draw.uniform(0.0, 0.12),
        unsteady=draw.uniform(0.0, 0.015),
        apart=draw.uniform(0.003, 0.012),
        ahead=draw.choice([0.0, 0.0, 0.03, -0.03]),
        pedal=draw.random() < 0.3,
    )
