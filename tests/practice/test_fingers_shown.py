"""Which fingers are in sight, from one take to the next."""

from __future__ import annotations

import pytest

from coach.practice.fingers_shown import PEEK, FingersShown
from coach.practice.ladder import Fingers

HIDDEN = FingersShown("none", "none")


def test_a_peek_lasts_two_seconds_from_the_last_time_the_key_was_heard() -> None:
    fingers = HIDDEN.peeked(10.0).peeked(11.0)
    assert fingers.at(10.0 + PEEK).shown == "all"
    assert fingers.at(11.0 + PEEK).shown == "none"


@pytest.mark.parametrize("asked", ["changes", "none"])
def test_fingers_laid_open_for_reading_are_hidden_again_when_a_take_begins(asked: Fingers) -> None:
    fingers = FingersShown(asked, asked).laid_open(True)
    assert fingers.shown == "all"
    assert fingers.taken_up().shown == asked


def test_a_peek_is_over_when_a_take_begins() -> None:
    assert HIDDEN.peeked(10.0).taken_up() == HIDDEN


def test_fingers_the_player_hid_stay_hidden_in_the_take() -> None:
    fingers = FingersShown("all", "all").laid_open(False)
    assert fingers.taken_up().shown == "none"
