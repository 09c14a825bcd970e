"""The planner's minimum against every plan there is, on hundreds of short random phrases."""

from __future__ import annotations

import pytest
from all_plans import AllPlans
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from passages import chords, line, on_staves, passage
from random_phrases import phrases

from coach.fingering.hand import Hand, Hands
from coach.fingering.search import Options, Search
from coach.score.piece import Piece

SPANS = st.sampled_from([165.0, 190.0, 208.0, 226.0])
"""From hands that reach a sixth to hands that reach a tenth."""

PATIENT = settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])


RELEASED_UNASKED = passage(
    line("soprano", "G4:1/2 r:1/2 C#6:1/4"),
    line("alto", "F#5 Eb5:1/4"),
    line("tenor", "D4:5/4"),
    line("bass", "A3 C#4:1/4"),
    line("voice 5", "C3 F#3:1/4"),
)
"""The tenor sounds on where the hand that rolled it needs its fingers: it must be let go, which costs, or left out."""

ROLLED_AND_HELD = on_staves(right=["E6:3/4", "C4:3/4"], left=["Bb2:1/4 Eb3:1/2"])
"""A chord that the right hand rolls lasts longer than the left hand's first note."""


def agree(piece: Piece, hands: Hands, options: Options) -> None:
    """The planner's effort is the least there is, and its plan is one of those that cost it."""
    phrase = chords(piece)
    everything = AllPlans(phrase, hands, options)
    lines = everything.lines()
    assert lines, "no plan at all"
    effort, choices = Search(phrase, hands, options).best()
    assert effort == pytest.approx(min(line.least for line in lines), abs=1e-6)
    assert everything.price(lines, choices) == pytest.approx(effort, abs=1e-6)


@PATIENT
@given(phrases(), SPANS, SPANS, st.sampled_from(["raise", "roll", "omit"]))
@example(RELEASED_UNASKED, 226.0, 190.0, "roll")
def test_no_plan_of_two_hands_takes_less_effort(piece: Piece, right: float, left: float, way_out: str) -> None:
    agree(piece, Hands(Hand(right), Hand(left)), Options(way_out=way_out))  # type: ignore[arg-type]


@PATIENT
@given(phrases(staves=True), SPANS, SPANS)
@example(ROLLED_AND_HELD, 226.0, 208.0)
def test_no_plan_of_hands_as_written_takes_less_effort(piece: Piece, right: float, left: float) -> None:
    agree(piece, Hands(Hand(right), Hand(left)), Options(hands="as-written"))
