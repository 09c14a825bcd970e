"""Hands, measured at the keyboard: what was held is within reach."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

import pytest
from passages import passage

from coach.fingering.hand import Hand, Hands
from coach.fingering.keyboard import OCTAVES_MM, Keyboard
from coach.fingering.planner import plan_phrase
from coach.lengths import LARGEST_SPAN_MM, SMALLEST_SPAN_MM
from coach.listening.ports import Link
from coach.score.piece import Note, Phrase, chords_of
from coach.screens.hands import span_that_reaches

Desk = Callable[..., Any]

SIXTH, TWELFTH = 8, 19
"""Semitones of a minor sixth and of a perfect twelfth."""


@pytest.mark.parametrize("octave_mm", [*OCTAVES_MM.values(), 150.0, 164.0, 165.0])
def test_whoever_held_an_interval_reaches_it(octave_mm: float) -> None:
    """From a sixth to a twelfth, from each black and white key, on the keyboards that are built and on others."""
    keyboard = Keyboard(octave_mm)
    held = 0
    for low in range(60, 72):
        for high in range(low + SIXTH, low + TWELFTH + 1):
            width = keyboard.distance_mm(low, high)
            span = span_that_reaches(width)
            if not SMALLEST_SPAN_MM <= span <= LARGEST_SPAN_MM:
                continue
            hand = Hand(float(span))
            assert hand.reach_mm >= width - 1e-6, (low, high)
            assert hand.spans(1, 5).most_practical >= width - 1e-6, (low, high)
            # Not more than the millimetre that a span is told in.
            assert hand.reach_mm < width + 1.0, (low, high)
            held += 1
    assert held >= 12 * 5, "several intervals from each key"


def in_one_hand(low: str, high: str, low_key: int, high_key: int, hands: Hands) -> bool:
    """Whether a plan lets one hand strike two notes together, where both are its own on the page."""

    notes = [
        [Note("soprano", Fraction(0), Fraction(1), high_key, high, 1)],
        [Note("alto", Fraction(0), Fraction(1), low_key, low, 1)],
        [Note("bass", Fraction(0), Fraction(1), 36, "C2", 2)],
    ]
    piece = passage(*notes)
    phrase = Phrase(1, Fraction(0), Fraction(1), "end of the piece")
    plan = plan_phrase(phrase, chords_of(piece, phrase), hands)
    return [note.hand for note in plan.chords[0].notes if note.voice != "bass"] == ["right", "right"]


@pytest.mark.parametrize(("low", "high", "keys"), [("C4", "D5", (60, 74)), ("D4", "E5", (62, 76))])
async def test_the_ninth_just_held_is_planned(desk: Desk, low: str, high: str, keys: tuple[int, int]) -> None:
    """A ninth is 8 times 23.5 mm wide: 188 mm, and half a millimetre more than whole ones of span."""
    async with desk() as at:
        at.app.link = Link("listening", "Piano", "Listening to Piano.")
        await at.press("h", "f2")
        await at.strike(*keys)
        at.now += 1.1
        at.app.screen._watch()
        await at.settle()
        assert at.app.settings.right_span_mm == 193.0
        assert "reaches a ninth" in " ".join(at.text.split())
        assert in_one_hand(low, high, *keys, at.app.settings.hands)
