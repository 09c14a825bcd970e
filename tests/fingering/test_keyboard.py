"""Where the keys are. Sources: an octave of a full-size keyboard is 164 to 165 mm (6.5 in)."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.fingering.keyboard import (
    FULL_SIZE_OCTAVE_MM,
    HIGHEST_KEY,
    LOWEST_KEY,
    OCTAVES_MM,
    Keyboard,
    are_white_neighbours,
    is_black,
    mirrored,
)

KEYS = st.integers(LOWEST_KEY, HIGHEST_KEY)

PIANO = Keyboard()

MIDDLE_C, E5 = 60, 76


def test_an_octave_is_164_to_165_mm_wherever_it_starts() -> None:
    for key in range(LOWEST_KEY, HIGHEST_KEY - 11):
        assert 164 <= PIANO.x_mm(key + 12) - PIANO.x_mm(key) <= 165


def test_a_tenth_from_c_to_e_is_211_and_a_half_mm() -> None:
    """Nine white keys of 23.5 mm."""
    assert PIANO.x_mm(E5) - PIANO.x_mm(MIDDLE_C) == pytest.approx(211.5)
    assert PIANO.distance_mm(MIDDLE_C, E5) == pytest.approx(211.5)


def test_an_88_key_instrument_is_about_four_feet_wide() -> None:
    """52 white keys: 1,222 mm from edge to edge, the usual 48 in (common practice, no source)."""
    assert PIANO.x_mm(HIGHEST_KEY) - PIANO.x_mm(LOWEST_KEY) + PIANO.white_mm == pytest.approx(1222, abs=1)


def test_narrower_keyboards_have_octaves_of_six_and_of_five_and_a_half_inches() -> None:
    for name, inches in (("6.0 in", 6.0), ("5.5 in", 5.5)):
        assert OCTAVES_MM[name] == pytest.approx(inches * 25.4)
        narrow = Keyboard(OCTAVES_MM[name])
        assert narrow.x_mm(72) - narrow.x_mm(60) == pytest.approx(inches * 25.4)
    assert OCTAVES_MM["6.5 in"] == FULL_SIZE_OCTAVE_MM == pytest.approx(6.5 * 25.4, abs=0.7)


def test_each_key_lies_right_of_the_one_below_it() -> None:
    places = [PIANO.x_mm(key) for key in range(LOWEST_KEY, HIGHEST_KEY + 1)]
    assert all(6 < higher - lower < 24 for lower, higher in pairwise(places))


def test_white_keys_are_evenly_spaced() -> None:
    whites = [PIANO.x_mm(key) for key in range(LOWEST_KEY, HIGHEST_KEY + 1) if not is_black(key)]
    assert len(whites) == 52
    assert all(higher - lower == pytest.approx(23.5) for lower, higher in pairwise(whites))


def test_black_keys_of_an_octave() -> None:
    assert [key - 60 for key in range(60, 72) if is_black(key)] == [1, 3, 6, 8, 10]


@given(KEYS, KEYS)
def test_the_keyboard_is_symmetric_about_d(key: int, other: int) -> None:
    """So that one set of rules serves both hands."""
    assert is_black(key) == is_black(mirrored(key))
    assert PIANO.x_mm(other) - PIANO.x_mm(key) == pytest.approx(PIANO.x_mm(mirrored(key)) - PIANO.x_mm(mirrored(other)))
    assert mirrored(mirrored(key)) == key
    assert mirrored(62) == 62


@given(KEYS, KEYS)
def test_keys_are_never_nearer_than_they_look_from_the_bench(key: int, other: int) -> None:
    across = abs(PIANO.x_mm(other) - PIANO.x_mm(key))
    assert PIANO.distance_mm(key, other) == PIANO.distance_mm(other, key) >= across - 1e-9
    if is_black(key) == is_black(other):
        assert PIANO.distance_mm(key, other) == pytest.approx(across)


def test_white_neighbours_lie_under_one_thumb() -> None:
    assert are_white_neighbours(60, 62)
    assert are_white_neighbours(64, 65)
    assert not are_white_neighbours(60, 61)
    assert not are_white_neighbours(60, 64)
    assert not are_white_neighbours(60, 60)
