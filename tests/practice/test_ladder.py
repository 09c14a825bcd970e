"""The ladder: how steps are passed, skipped, chosen and fallen back from (all common practice, no source)."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.listening.word import Word
from coach.practice import ladder
from coach.practice.ladder import (
    FEWER,
    LEFT,
    MEMORY,
    NO_FINGERS,
    OUTER,
    PEDAL,
    PLAIN,
    RIGHT,
    STEPS_IN_TEMPO,
    TOGETHER,
    Place,
    Shape,
    Step,
    next_step,
    phrase_steps,
    place_of,
)

DAY = date(2026, 3, 2)
STEPS = phrase_steps(Shape(8))


@dataclass(frozen=True)
class Take:
    step: Step
    verdict: Word
    day: date = DAY
    tempo_share: float = field(default=1.0)
    reached: Fraction | None = None


def takes(*words: tuple[Step, str]) -> list[Take]:
    return [Take(step, word) for step, word in words]  # type: ignore[arg-type]


def where(*words: tuple[Step, str]) -> Step:
    return next_step(STEPS, place_of(STEPS, takes(*words)))


def test_a_phrase_climbs_from_the_right_hand_to_memory_and_the_pedal_comes_last() -> None:
    names = [step.name for step in STEPS]
    assert names == [
        "right hand",
        "left hand",
        "together",
        "in tempo 60 %",
        "in tempo 80 %",
        "in tempo",
        "fewer fingers",
        "no fingers",
        "from memory",
        "with pedal",
    ]
    assert not any(step.pedal for step in STEPS[:-1])


def test_a_phrase_with_passing_notes_begins_with_its_plain_chords() -> None:
    assert phrase_steps(Shape(8, decorated=True))[0] == PLAIN


def test_a_long_phrase_begins_with_its_outer_voices() -> None:
    assert phrase_steps(Shape(12))[0] == OUTER
    assert phrase_steps(Shape(12, voices=2))[0] == RIGHT


def test_a_line_for_one_hand_is_never_asked_of_the_other() -> None:
    steps = phrase_steps(Shape(8, right=False))
    assert LEFT in steps
    assert RIGHT not in steps
    assert TOGETHER not in steps


def test_a_phrase_without_lifts_leaves_no_gap_for_the_pedal_to_cover() -> None:
    assert PEDAL not in phrase_steps(Shape(8, lifts=False))


def test_a_step_is_skipped_when_its_very_first_try_passes() -> None:
    assert where((RIGHT, "solid")) == LEFT


def test_after_a_failed_first_try_a_step_wants_two_passes_in_a_row() -> None:
    assert where((RIGHT, "shaky"), (RIGHT, "solid")) == RIGHT
    assert where((RIGHT, "shaky"), (RIGHT, "solid"), (RIGHT, "weak"), (RIGHT, "solid")) == RIGHT
    assert where((RIGHT, "shaky"), (RIGHT, "solid"), (RIGHT, "solid")) == LEFT


def test_another_step_between_two_passes_does_not_break_them() -> None:
    up = [(RIGHT, "solid"), (LEFT, "solid"), (TOGETHER, "shaky"), (TOGETHER, "solid")]
    assert where(*up, (RIGHT, "solid"), (TOGETHER, "solid")) == STEPS_IN_TEMPO[0]


def test_three_weak_takes_in_a_row_fall_back_a_step() -> None:
    assert where((RIGHT, "solid"), (LEFT, "weak"), (LEFT, "weak")) == LEFT
    assert where((RIGHT, "solid"), (LEFT, "weak"), (LEFT, "weak"), (LEFT, "weak")) == RIGHT


def test_six_shaky_takes_in_a_row_fall_back_a_step_and_a_solid_one_among_them_does_not() -> None:
    shaky = [(LEFT, "shaky")] * 5
    assert where((RIGHT, "solid"), *shaky) == LEFT
    assert where((RIGHT, "solid"), *shaky, (LEFT, "shaky")) == RIGHT
    assert where((RIGHT, "solid"), *shaky, (LEFT, "solid"), (LEFT, "shaky")) == LEFT


def test_after_falling_back_the_first_try_is_over() -> None:
    fallen = [(RIGHT, "solid"), *[(LEFT, "weak")] * 3]
    assert where(*fallen, (RIGHT, "solid")) == RIGHT
    assert where(*fallen, (RIGHT, "solid"), (RIGHT, "solid")) == LEFT


def test_the_lowest_step_has_nothing_to_fall_back_to() -> None:
    assert where(*[(RIGHT, "weak")] * 9) == RIGHT


def test_a_higher_step_that_was_chosen_and_passed_passes_all_below() -> None:
    assert where((STEPS_IN_TEMPO[0], "solid")) == STEPS_IN_TEMPO[1]


def test_failing_a_higher_step_that_was_chosen_costs_nothing() -> None:
    assert where((RIGHT, "solid"), *[(NO_FINGERS, "weak")] * 5) == LEFT


def test_playing_a_lower_step_that_was_chosen_costs_nothing() -> None:
    up = [(RIGHT, "solid"), (LEFT, "solid"), (TOGETHER, "solid")]
    assert where(*up, *[(RIGHT, "weak")] * 5) == STEPS_IN_TEMPO[0]


def climbed(day: date = DAY) -> list[Take]:
    """The whole ladder up to memory, every first try solid."""
    return [Take(step, "solid", day) for step in STEPS[: STEPS.index(MEMORY)]]


def test_memory_is_not_passed_on_the_day_on_which_fingers_were_still_shown() -> None:
    same_day = place_of(STEPS, [*climbed(), Take(MEMORY, "solid")])
    next_day = place_of(STEPS, [*climbed(), Take(MEMORY, "solid", DAY + timedelta(days=1))])
    assert next_step(STEPS, same_day) == MEMORY
    assert next_step(STEPS, next_day) == PEDAL


def test_one_weak_take_from_memory_falls_back_to_no_fingers() -> None:
    later = DAY + timedelta(days=3)
    assert next_step(STEPS, place_of(STEPS, [*climbed(), Take(MEMORY, "weak", later)])) == NO_FINGERS
    up = [*climbed(), Take(MEMORY, "solid", later), Take(PEDAL, "solid", later)]
    assert next_step(STEPS, place_of(STEPS, up)) == MEMORY
    much_later = DAY + timedelta(days=9)
    assert next_step(STEPS, place_of(STEPS, [*up, Take(MEMORY, "weak", much_later)])) == NO_FINGERS


def test_a_review_with_pedal_that_fails_falls_back_too_but_not_on_the_day_on_which_the_pedal_came_in() -> None:
    later, much_later = DAY + timedelta(days=3), DAY + timedelta(days=9)
    up = [*climbed(), Take(MEMORY, "solid", later)]
    assert next_step(STEPS, place_of(STEPS, [*up, Take(PEDAL, "weak", later)])) == PEDAL
    assert next_step(STEPS, place_of(STEPS, [*up, Take(PEDAL, "weak", much_later)])) == NO_FINGERS


@pytest.mark.parametrize("step", [MEMORY, PEDAL])
def test_the_doorbell_costs_no_step(step: Step) -> None:
    """A review that was broken off, however often, says nothing of what was remembered; played to its end it does."""
    later, much_later = DAY + timedelta(days=3), DAY + timedelta(days=9)
    up = climbed() if step == MEMORY else [*climbed(), Take(MEMORY, "solid", later)]
    broken = [Take(step, "weak", much_later, reached=Fraction(2))] * 4
    assert next_step(STEPS, place_of(STEPS, [*up, *broken])) == step
    assert next_step(STEPS, place_of(STEPS, [*up, *broken, Take(step, "weak", much_later)])) == NO_FINGERS


def test_the_doorbell_costs_no_step_of_a_ladder_that_is_climbed() -> None:
    later, much_later = DAY + timedelta(days=3), DAY + timedelta(days=9)
    up = [*climbed(), Take(MEMORY, "solid", later), Take(PEDAL, "solid", later)]
    assert next_step(STEPS, place_of(STEPS, [*up, Take(MEMORY, "weak", much_later, reached=Fraction(2))])) == MEMORY
    assert place_of(STEPS, [*up, Take(MEMORY, "weak", much_later, reached=Fraction(2))]).index == len(STEPS)


def test_a_look_at_hidden_fingers_passes_no_step() -> None:
    up = climbed()[: STEPS.index(NO_FINGERS)]
    peeked = Take(replace(NO_FINGERS, fingers="all"), "solid")
    place = place_of(STEPS, [*up, peeked, peeked])
    assert next_step(STEPS, place) == NO_FINGERS
    assert place.misses == 0


def test_a_step_of_another_ladder_is_left_aside() -> None:
    assert where((Step("trills"), "weak")) == RIGHT


def test_full_is_together_in_tempo_and_without_fingers() -> None:
    assert [step.name for step in STEPS if step.full] == ["no fingers", "from memory", "with pedal"]
    assert not FEWER.full
    assert not replace(MEMORY, hand="right").full


words = st.sampled_from(["solid", "shaky", "weak"])
histories = st.lists(st.tuples(st.sampled_from(STEPS), words, st.integers(0, 3)), max_size=60)


@given(histories)
def test_any_history_leads_somewhere_on_the_ladder(history: list[tuple[Step, str, int]]) -> None:
    place, day = ladder.START, DAY
    for step, word, later in history:
        day += timedelta(days=later)
        before = place
        place = ladder.after(place, STEPS, Take(step, word, day))  # type: ignore[arg-type]
        assert 0 <= place.index <= len(STEPS)
        assert place.index >= before.index - 1 or step == MEMORY
        if word == "solid":
            assert place.index >= before.index
    assert Place.from_json(place.to_json()) == place


@given(histories, st.integers(0, 59))
def test_a_solid_take_in_place_of_a_worse_one_never_leads_lower_at_once(
    history: list[tuple[Step, str, int]], at: int
) -> None:
    place = ladder.START
    for step, word, _ in history:
        worse = ladder.after(place, STEPS, Take(step, word))  # type: ignore[arg-type]
        assert ladder.after(place, STEPS, Take(step, "solid")).index >= worse.index
        place = worse


@pytest.mark.parametrize("share", [0.6, 0.8, 1.0])
def test_the_steps_in_tempo_ask_for_the_shares_of_the_target(share: float) -> None:
    assert any(step.clock == "tempo" and step.tempo_fraction == share for step in STEPS)
