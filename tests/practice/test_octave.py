"""A keyboard whose octave button is off is heard where it belongs."""

from __future__ import annotations

import pytest

from coach.listening.events import Event
from coach.practice.octave import found_shift, said_of, shifted

FIRST = frozenset({48, 64, 67, 72})
"""C major over four voices."""


@pytest.mark.parametrize("off", [12, -12, 24, -24])
def test_the_whole_first_chord_octaves_away_says_by_how_much(off: int) -> None:
    struck = {key - off for key in FIRST}
    assert found_shift(FIRST, struck, 72 - off, 0, 2) == off


def test_part_of_it_octaves_away_says_nothing() -> None:
    assert found_shift(FIRST, {60, 76, 79}, 79, 0, 2) is None


def test_a_single_key_octaves_away_says_nothing() -> None:
    assert found_shift(frozenset({60}), {72}, 72, 0, 2) is None


def test_a_part_of_it_will_do_where_it_belongs() -> None:
    assert found_shift(FIRST, {48, 72}, 72, 0, 2) == 0
    assert found_shift(FIRST, {48, 72}, 72, 0, 3) is None
    assert found_shift(FIRST, {48, 67, 72}, 72, 0, 3) == 0


def test_a_button_that_is_put_right_again_is_heard() -> None:
    """While 12 is added, the chord where it belongs is heard an octave too high."""
    assert found_shift(FIRST, {key + 12 for key in FIRST}, 84, 12, 2) == -12


def test_keys_are_shifted_and_the_pedal_is_not() -> None:
    assert shifted(Event(1.0, "press", 60, 64), -12).key == 48
    pedal = Event(1.0, "pedal", 64, 127)
    assert shifted(pedal, -12) == pedal


def test_it_is_said_how_the_keyboard_is_set() -> None:
    assert said_of(0) == ""
    assert said_of(-12) == "The keyboard is set an octave too high: it is heard where it belongs."
    assert said_of(-1) == "The keyboard is set a semitone too high: it is heard where it belongs."
    assert said_of(13) == "The keyboard is set 13 semitones too low: it is heard where it belongs."
    assert said_of(24) == "The keyboard is set two octaves too low: it is heard where it belongs."
