"""How the player goes: the tempo, and how unevenly it is kept."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.listening.costs import UNEVEN, timing
from coach.listening.going import LATELY, UNKNOWN_STEP, Going

STEPS = st.lists(st.tuples(st.floats(0.001, 20.0), st.sampled_from([0.25, 0.5, 1.0, 1.5, 2.0])), max_size=20)


def after(steps: list[tuple[float, float]]) -> Going:
    going = Going()
    for seconds, quarters in steps:
        going = going.after(seconds, quarters)
    return going


def test_the_first_step_is_the_tempo() -> None:
    assert Going().step(2.0) == UNKNOWN_STEP
    assert Going().ratio(3.0, 1.0) == 1.0
    going = after([(1.2, 2.0)])
    assert going == Going(0.6, 0.0)
    assert going.step(0.5) == pytest.approx(0.3)
    assert going.ratio(1.2, 1.0) == pytest.approx(2.0)


def test_an_even_player_stays_even() -> None:
    assert after([(0.8, 1.0), (1.6, 2.0), (0.4, 0.5)]) == Going(0.8, 0.0)


def test_the_tempo_follows_but_not_a_stop_or_a_slip() -> None:
    assert after([(1.0, 1.0)] + [(0.8, 1.0)] * 12).quarter == pytest.approx(0.8, rel=0.01)
    assert after([(1.0, 1.0), (5.0, 1.0), (0.1, 1.0)]).quarter == 1.0


def test_a_single_wait_is_one_step_of_the_unevenness_and_is_forgotten() -> None:
    waited = after([(1.0, 1.0), (9.0, 1.0)])
    assert waited.uneven == LATELY
    for _ in range(20):
        waited = waited.after(1.0, 1.0)
    assert waited.uneven < 0.01


def test_chords_struck_as_one_say_nothing() -> None:
    assert Going(0.8, 0.1).after(0.03, 1.0) == Going(0.8, 0.1)


def test_coming_soon_says_less_of_a_player_who_goes_unevenly() -> None:
    costs = [timing(0.3, uneven) for uneven in (0.0, UNEVEN, 0.5, 1.0)]
    assert costs == sorted(costs, reverse=True)
    assert costs[1] == pytest.approx(costs[0] / 2)
    assert timing(1.0, 1.0) == 0.0
    assert timing(3.0, 1.0) == timing(3.0, 0.0) > 0


@given(STEPS)
def test_whatever_is_played_the_going_has_its_bounds(steps: list[tuple[float, float]]) -> None:
    going = after(steps)
    heard = [seconds / quarters for seconds, quarters in steps if seconds > 0.04]
    assert 0.0 <= going.uneven <= 1.0
    if heard:
        assert min(heard) * 0.999 <= going.quarter <= max(heard) * 1.001
    else:
        assert going.quarter == 0.0
