"""Solid, shaky, weak."""

from __future__ import annotations

from typing import Any

import pytest
from practising import entry, evening, hymn, phrases_of

from coach.practice.ladder import (
    FEWER,
    LEFT,
    MEMORY,
    NO_FINGERS,
    PEDAL,
    RIGHT,
    STEPS_IN_TEMPO,
    TOGETHER,
    Shape,
    Step,
    phrase_steps,
)
from coach.practice.passage import passages_of
from coach.practice.progress import progress_of

PIECE = hymn()
PASSAGE = passages_of(PIECE, phrases_of(PIECE))[0]
STEPS = phrase_steps(Shape(8))


def stands(*takes: tuple[int, Step, str], **more: Any) -> str | None:
    """How the phrase stands after takes: evening, step, verdict."""
    entries = [
        entry(PASSAGE, step, word, at=evening(day, minute), **more) for minute, (day, step, word) in enumerate(takes)
    ]
    return progress_of(STEPS, entries).standing


def test_a_phrase_that_was_never_played_does_not_stand_at_all() -> None:
    assert stands() is None


def test_solid_is_together_in_tempo_without_fingers_on_two_separate_days() -> None:
    assert stands((0, NO_FINGERS, "solid"), (0, NO_FINGERS, "solid")) == "shaky"
    assert stands((0, NO_FINGERS, "solid"), (1, MEMORY, "solid")) == "solid"


@pytest.mark.parametrize("step", [RIGHT, LEFT, TOGETHER, *STEPS_IN_TEMPO, FEWER])
def test_no_other_step_makes_a_phrase_solid(step: Step) -> None:
    assert stands(*[(day, step, "solid") for day in range(5)]) == "shaky"


def test_too_slow_is_not_in_tempo() -> None:
    assert stands((0, NO_FINGERS, "solid"), (1, MEMORY, "solid"), quarter_bpm=60.0) == "shaky"
    assert stands((0, NO_FINGERS, "solid"), (1, MEMORY, "solid"), quarter_bpm=70.0) == "solid"


def test_the_pedal_takes_nothing_away() -> None:
    assert stands((0, NO_FINGERS, "solid"), (1, PEDAL, "solid")) == "solid"


def test_a_failed_review_makes_a_solid_phrase_weak() -> None:
    solid = [(0, NO_FINGERS, "solid"), (1, MEMORY, "solid")]
    assert stands(*solid, (5, MEMORY, "weak")) == "weak"


def test_what_was_weak_is_earned_again_on_two_days() -> None:
    weak = [(0, NO_FINGERS, "solid"), (1, MEMORY, "solid"), (5, MEMORY, "weak")]
    assert stands(*weak, (5, NO_FINGERS, "solid")) == "shaky"
    assert stands(*weak, (5, NO_FINGERS, "solid"), (6, MEMORY, "solid")) == "solid"


def test_a_shaky_review_makes_a_solid_phrase_shaky_until_it_goes_well_again() -> None:
    solid = [(0, NO_FINGERS, "solid"), (1, MEMORY, "solid")]
    assert stands(*solid, (5, MEMORY, "shaky")) == "shaky"
    assert stands(*solid, (5, MEMORY, "shaky"), (6, MEMORY, "solid")) == "solid"


def test_a_weak_take_later_on_the_same_day_is_no_failed_review() -> None:
    solid = [(0, NO_FINGERS, "solid"), (1, MEMORY, "solid")]
    assert stands(*solid, (5, MEMORY, "solid"), (5, MEMORY, "weak")) == "shaky"


def test_hands_alone_do_not_shake_a_solid_phrase() -> None:
    solid = [(0, NO_FINGERS, "solid"), (1, MEMORY, "solid")]
    assert stands(*solid, (5, RIGHT, "weak"), (5, LEFT, "weak")) == "solid"


def test_while_it_is_learned_the_last_take_together_decides_between_shaky_and_weak() -> None:
    assert stands((0, RIGHT, "weak")) == "weak"
    assert stands((0, RIGHT, "weak"), (0, RIGHT, "solid")) == "shaky"
    assert stands((0, TOGETHER, "weak"), (0, RIGHT, "solid")) == "weak"
    assert stands((0, TOGETHER, "weak"), (0, TOGETHER, "shaky")) == "shaky"
