"""The pedal covers the gaps that lifts leave."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from passages import chorale, chords, on_staves, planned, whole
from random_phrases import phrases

from coach.fingering.hand import Hands
from coach.fingering.plan import PhrasePlan, Plan
from coach.fingering.planner import Options, plan_phrase
from coach.fingering.search import search_of
from coach.score.piece import Piece

LEAPS = chorale("C5 G5 C5 G5 C5", "E4 B4 E4 B4 E4", "G3 D4 G3 D4 G3", "C3 G3 C3 G3 C3")


def feet(plan: PhrasePlan) -> list[str]:
    return [chord.pedal for chord in plan.chords]


def test_without_the_pedal_nothing_is_marked() -> None:
    assert set(feet(planned(LEAPS))) == {""}


def test_the_pedal_is_down_from_each_lift_to_the_next_chord() -> None:
    """The right hand plays on, lifts for the leap, and plays on; nothing else asks for the foot."""
    leap = on_staves(right=["C4 D4 E4 C6 B5 A5"], left=["C3:2 G3:2 C3:2"])
    assert feet(planned(leap, hands="as-written", pedal=True)) == ["", "", "down", "up", "", ""]


def test_where_every_chord_is_lifted_the_foot_changes() -> None:
    assert feet(planned(LEAPS, pedal=True)) == ["down", "change", "change", "change", "up"]


def test_the_pedal_makes_no_second_search() -> None:
    dry, wet = (search_of(chords(LEAPS), Hands(), Options(pedal=pedal)) for pedal in (False, True))
    assert dry is wet


def test_it_is_up_at_the_end_of_a_phrase() -> None:
    assert feet(planned(LEAPS, pedal=True))[-1] in ("", "up")


def test_a_written_rest_is_not_filled() -> None:
    rests = on_staves(right=["C5:1/2 r:1/2 C6:1/2 r:1/2 C5"], left=["C3 C4 C3"])
    plan = planned(rests, hands="as-written", pedal=True)
    assert set(feet(plan)) == {""}


@settings(deadline=None, max_examples=50)
@given(phrases(most_voices=4, most_chords=6))
def test_hands_and_fingers_are_the_same_with_the_pedal(piece: Piece) -> None:
    """It covers the gaps that are there, and makes none: what was learned dry is played with it."""
    dry, wet = planned(piece), planned(piece, pedal=True)
    assert replace(wet, chords=tuple(replace(chord, pedal="") for chord in wet.chords)) == dry


def test_a_plan_with_the_pedal_survives_json() -> None:
    plan = plan_phrase(whole(LEAPS), chords(LEAPS), None, Options(pedal=True))
    whole_plan = Plan("a", "b", 4, 208.0, "ninth", 203.5, "", (plan,))
    assert Plan.from_json(whole_plan.to_json()) == whole_plan
