"""Another hand, clock, tempo, fingers or voices than the ladder asks for, as keys and commands choose them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from coach.practice.ladder import LEFT, OUTER, RIGHT, SEAM, STEPS_IN_TEMPO, TOGETHER, Step
from coach.practice.music import FASTEST, SLOWEST
from coach.practice.own_way import (
    custom_step,
    of_some_voices,
    with_hand,
    with_other_clock,
    with_other_fingers,
    with_tempo,
)


@pytest.mark.parametrize("step", [OUTER, SEAM])
def test_a_hand_alone_plays_all_that_is_written_for_it(step: Step) -> None:
    assert custom_step(with_hand(step, "left"), ()) == LEFT


def test_the_clock_goes_on_and_off() -> None:
    in_tempo = with_other_clock(TOGETHER)
    assert custom_step(in_tempo, ()) == STEPS_IN_TEMPO[2]
    assert with_other_clock(in_tempo) == TOGETHER


def test_a_tempo_that_reads_as_that_of_a_step_is_that_step() -> None:
    """At 92 a minute 60 % are 55.2, which is read as 55."""
    step, bpm = with_tempo(TOGETHER, 55, 92.0)
    assert (custom_step(step, ()), bpm) == (STEPS_IN_TEMPO[0], pytest.approx(55.2))
    step, bpm = with_tempo(TOGETHER, 59, 92.0)
    assert (step.clock, step.tempo_fraction, bpm) == ("tempo", pytest.approx(59 / 92), pytest.approx(59.0))


@pytest.mark.parametrize(("asked", "set_to"), [(SLOWEST - 4, SLOWEST), (FASTEST + 4, FASTEST)])
def test_a_tempo_stays_where_a_drill_can_be_set(asked: float, set_to: float) -> None:
    assert with_tempo(TOGETHER, asked, 92.0)[1] == pytest.approx(set_to)


def test_fingers_are_taken_away_and_come_back() -> None:
    step, seen = TOGETHER, []
    for _ in range(3):
        step = with_other_fingers(step)
        seen.append(step.fingers)
    assert seen == ["changes", "none", "all"]
    assert step == TOGETHER


def test_a_step_put_together_by_the_player_is_the_ladders_own_where_there_is_one_like_it() -> None:
    assert custom_step(replace(TOGETHER, hand="right", name="x"), ()) == RIGHT
    assert custom_step(replace(TOGETHER, clock="tempo"), ()) == STEPS_IN_TEMPO[2]
    own = custom_step(replace(TOGETHER, hand="left", clock="tempo", tempo_fraction=0.7, fingers="none"), ())
    assert own.name == "left hand, in tempo 70 %, no fingers"


def test_some_voices_alone_say_nothing_of_the_whole() -> None:
    step = of_some_voices(TOGETHER, "sb")
    assert step.name == "together, voices S B"
    assert not step.together
    assert of_some_voices(step, "sb") == step
