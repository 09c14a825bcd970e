"""How well takes of corpus chorales are heard: a seeded sample of what tests/bench/thousand_takes.py counts at length.

The chorales are Bach's, from the corpus of music21; the takes are the simulated pianist's, who knows what it did.
"""

from __future__ import annotations

import pytest
from scored import Score
from simulated import EVERYTHING, FIVE_PER_CENT, HANDS, MENDING, chorale_plan, manner

from coach.listening.expected import expect
from coach.listening.player import Manner, Mistakes, perform

CHORALES = ("bach/bwv269", "bach/bwv40.8", "bach/bwv253", "bach/bwv66.6", "bach/bwv381")

TAKES = 25


def heard(mistakes: Mistakes | None) -> Score:
    score = Score()
    for seed in range(TAKES):
        expected = expect(chorale_plan(CHORALES[seed % len(CHORALES)]).phrases)
        score.add(expected, perform(expected, manner(seed), mistakes, seed))
    return score


def test_takes_without_mistakes_are_heard_whole_and_called_solid() -> None:
    score = heard(None)
    assert score.notes.f_measure == 1.0
    assert score.words == {"solid": TAKES}
    assert score.current[False] == 0


def test_notes_are_found_among_five_per_cent_of_errors() -> None:
    score = heard(FIVE_PER_CENT)
    assert score.notes.f_measure >= 0.995
    assert score.current[True] / score.current.total() > 0.98


def test_lifts_and_holds_are_told_where_the_gap_is_clear() -> None:
    score = heard(HANDS)
    for tally in (score.lifts, score.holds):
        assert tally.true > 100
        assert tally.precision >= 0.98
        assert tally.recall >= 0.98


def test_stumbles_and_new_beginnings_are_followed() -> None:
    score = heard(EVERYTHING)
    assert score.notes.f_measure >= 0.99
    assert score.lifts.precision >= 0.97
    assert score.lifts.recall >= 0.97
    assert score.current[True] / score.current.total() > 0.95


def test_who_finds_each_chord_before_striking_it_is_followed() -> None:
    """Steps often half as long or twice as long as the last: a right key that comes soon is seldom a slip."""
    score = Score()
    for name in CHORALES:
        for phrase in chorale_plan(name).phrases:
            for hand in ("right", "left", "both"):
                expected = expect([phrase], hand)
                for seed in range(3):
                    score.add(expected, perform(expected, Manner(quarter_bpm=50, halting=0.6), None, seed))
    assert score.notes.f_measure > 0.999
    assert score.current[True] / score.current.total() > 0.9975


def test_slips_are_mended_in_their_place() -> None:
    score = heard(MENDING)
    assert score.notes.f_measure > 0.9995
    assert score.current[True] / score.current.total() > 0.997


@pytest.mark.parametrize("name", CHORALES[:3])
def test_each_phrase_without_mistakes_is_solid_by_itself(name: str) -> None:
    """Slow and quick, with pedal and dry, hands alone and together."""
    score = Score()
    for number, phrase in enumerate(chorale_plan(name).phrases):
        for hand in ("right", "left", "both"):
            expected = expect([phrase], hand)
            score.add(expected, perform(expected, manner(number), None, number))
    assert set(score.words) == {"solid"}
