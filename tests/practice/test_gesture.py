"""Quick presses of the pedal, and pedalling that is none."""

from __future__ import annotations

import pytest

from coach.listening.events import Event
from coach.practice.gesture import Foot


def asked(*pedal: tuple[float, int], keys: tuple[float, ...] = (), until: float = 5.0) -> list[str]:
    """What a foot asks for: positions of the pedal and presses of a key, with the clock ticking."""
    events = sorted(
        [Event(at, "pedal", 64, value) for at, value in pedal] + [Event(at, "press", 60, 64) for at in keys],
        key=lambda event: event.seconds,
    )
    foot, wishes = Foot(), []
    ticks = [tick / 50 for tick in range(int(until * 50))]
    for now in sorted(ticks + [event.seconds for event in events]):
        for event in [event for event in events if event.seconds == now]:
            foot = foot.hear(event)
        wish, foot = foot.wish(now)
        if wish:
            wishes.append(wish)
    return wishes


def presses(*at: float) -> list[tuple[float, int]]:
    return [move for each in at for move in ((each, 127), (each + 0.1, 0))]


def test_twice_is_next_and_three_times_is_back() -> None:
    assert asked(*presses(1.0, 1.3)) == ["next"]
    assert asked(*presses(1.0, 1.3, 1.6)) == ["back"]


@pytest.mark.parametrize("at", [(1.0,), (1.0, 1.8), (1.0, 1.3, 1.6, 1.9)])
def test_anything_else_is_nothing(at: tuple[float, ...]) -> None:
    assert asked(*presses(*at)) == []


def test_pedalling_under_chords_is_no_wish() -> None:
    """A legato pedal goes down after each chord: a key is struck between any two presses."""
    assert asked(*presses(1.0, 1.4, 1.8), keys=(0.9, 1.3, 1.7)) == []


def test_a_key_right_after_takes_the_wish_back() -> None:
    assert asked(*presses(1.0, 1.3), keys=(1.5,)) == []


def test_a_half_pedal_that_passes_the_middle_is_a_press_and_its_trembling_is_not() -> None:
    assert asked((1.0, 50), (1.05, 80), (1.1, 90), (1.2, 30), (1.35, 70), (1.4, 0)) == ["next"]
    assert asked((1.0, 64), (1.05, 60), (1.1, 66), (1.15, 63), (1.2, 64)) == []
    assert asked((1.0, 40), (1.1, 63), (1.2, 10), (1.3, 60)) == []


def test_two_wishes_can_follow_each_other() -> None:
    assert asked(*presses(1.0, 1.3), *presses(2.2, 2.5, 2.8)) == ["next", "back"]
