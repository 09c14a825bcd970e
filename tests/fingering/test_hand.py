"""What a hand can reach."""

from __future__ import annotations

from math import inf, nan

import pytest
from ruler import PRACTICAL_SEMITONES

from coach.errors import CoachError
from coach.fingering.hand import CAUTION, SPAN_TABLE, Hand, Hands, hands_in_words, reach_in_words
from coach.fingering.keyboard import OCTAVES_MM, Keyboard

TABLE = """
1-2 -5 -3 1 5 8 10
1-3 -4 -2 3 7 10 12
1-4 -3 -1 5 9 12 14
1-5 -1 1 7 11 13 15
2-3 1 1 1 2 3 5
2-4 1 1 3 4 5 7
2-5 2 2 5 6 8 10
3-4 1 1 1 2 2 4
3-5 1 1 3 4 5 7
4-5 1 1 1 2 3 5
"""
"""Parncutt, Sloboda, Clarke, Raekallio and Desain, Music Perception 14(4), 1997, Table 1: least practical, comfortable
and relaxed, greatest relaxed, comfortable and practical span of the right hand in semitones."""


def test_the_table_of_spans_is_the_published_one() -> None:
    published = {}
    for row in TABLE.split("\n"):
        if row:
            pair, *limits = row.split()
            published[int(pair[0]), int(pair[2])] = tuple(int(limit) for limit in limits)
    assert published == SPAN_TABLE
    assert {pair: (limits[0], limits[-1]) for pair, limits in published.items()} == PRACTICAL_SEMITONES


@pytest.mark.parametrize("span", [149.9, 300.1, 0.0, -208.0, 20.8, nan, inf])
def test_a_span_that_is_no_hands_gets_one_sentence(span: float) -> None:
    with pytest.raises(CoachError) as error:
        Hand(span)
    text = str(error.value)
    assert "\n" not in text
    assert "150 to 300 mm" in text
    assert f"{span:g}" in text


@pytest.mark.parametrize("comfort", [0.5, 1.5, nan])
def test_a_comfort_out_of_range_gets_one_sentence(comfort: float) -> None:
    with pytest.raises(CoachError, match=r"0\.8 to 1\.2"):
        Hand(208, comfort=comfort)


@pytest.mark.parametrize("span", [150.0, 300.0, 208.0])
def test_spans_of_hands_are_taken(span: float) -> None:
    assert Hand(span).span_mm == span


def test_a_tenth_needs_a_span_of_about_216_mm() -> None:
    """Boyle, Boyle and Booker, 2015: about 216 mm (8.5 in) for a tenth of 211.5 mm."""
    assert Hand(216).reach_mm >= 211.5 > Hand(215).reach_mm


@pytest.mark.parametrize(
    ("span", "reach"), [(150, "seventh"), (180, "octave"), (201, "ninth"), (208, "ninth"), (226, "tenth")]
)
def test_reach_in_words(span: float, reach: str) -> None:
    """The mean woman's hand of 201 mm reaches a ninth, the mean man's of 226 mm a tenth (Boyle, Boyle and Booker,
    2015)."""
    assert reach_in_words(Hand(span), Keyboard()) == reach


def test_a_narrower_keyboard_gives_a_hand_more_reach() -> None:
    """With octaves of 5.5 in a hand of 190 mm reaches a tenth, on a full-size keyboard an octave."""
    assert reach_in_words(Hand(190), Keyboard()) == "octave"
    assert reach_in_words(Hand(190), Keyboard(OCTAVES_MM["6.0 in"])) == "ninth"
    assert reach_in_words(Hand(190), Keyboard(OCTAVES_MM["5.5 in"])) == "tenth"


def test_a_larger_hand_opens_every_pair_of_fingers_wider_and_none_beyond_its_reach() -> None:
    for pair in SPAN_TABLE:
        small, large = Hand(190).spans(*pair), Hand(220).spans(*pair)
        assert small.most_practical < large.most_practical
        assert small.most_relaxed < large.most_relaxed
        assert small.least_practical == large.least_practical
        for hand in (Hand(190), Hand(220)):
            spans = hand.spans(*pair)
            assert spans.most_relaxed <= spans.most_comfortable <= spans.most_practical <= hand.reach_mm


def test_comfort_moves_what_is_liked_and_not_what_can_be_done() -> None:
    shy, bold = Hand(208, comfort=0.8), Hand(208, comfort=1.2)
    assert shy.reach_mm == bold.reach_mm
    for pair in SPAN_TABLE:
        assert shy.spans(*pair).most_practical == bold.spans(*pair).most_practical
        assert shy.spans(*pair).most_relaxed < bold.spans(*pair).most_relaxed


def test_two_hands_may_differ() -> None:
    hands = Hands(Hand(215), Hand(200))
    assert hands.hand("left").span_mm == 200
    assert hands.smaller.span_mm == 200
    assert Hands.of_span(190).hand("right") == Hands.of_span(190).hand("left") == Hand(190)


def test_both_hands_in_words() -> None:
    """Right at 250 mm, ten white keys of 23.5 mm; a right and a left hand are told apart where they differ."""
    assert hands_in_words(Hands.of_span(208)) == "a hand of 208 mm that reaches a ninth"
    assert hands_in_words(Hands.of_span(250)) == "a hand of 250 mm that reaches an eleventh"
    assert hands_in_words(Hands(Hand(216), Hand(190.5))) == (
        "a right hand of 216 mm that reaches a tenth and a left hand of 190.5 mm that reaches an octave"
    )


def test_the_caution_tells_to_rest_to_stop_at_pain_and_whom_to_ask() -> None:
    text = CAUTION.lower()
    assert all(word in text for word in ("never force", "rest", "stop", "pain", "teacher", "clinician"))
