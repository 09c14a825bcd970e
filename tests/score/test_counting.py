"""Places in the music are named one way: as musicians count them (common practice in English, no source)."""

from __future__ import annotations

from fractions import Fraction

import pytest

from coach.paper.cells import count
from coach.score.counting import bar_words, bars_words, beat_words, place_words
from coach.score.piece import Bar


@pytest.mark.parametrize(
    ("beat", "words"),
    [
        (1.0, "beat 1"),
        (2.5, "beat 2&"),
        (3.25, "beat 3e"),
        (3.75, "beat 3a"),
        (2.9999, "beat 3"),
        (1.3333, "beat 1 and a third"),
        (1.6667, "beat 1 and two thirds"),
        (1.2, "beat 1.2"),
        (12.0, "beat 12"),
    ],
)
def test_beats_as_they_are_counted(beat: float, words: str) -> None:
    assert beat_words(beat) == words


@pytest.mark.parametrize("beat", [1.0, 1.25, 2.5, 3.75, 4.0])
def test_the_words_count_as_the_chord_table_does(beat: float) -> None:
    assert beat_words(beat) == f"beat {count(beat, said=False)}"


def test_three_eighths_of_a_dotted_beat() -> None:
    """6/8 has two beats, each of three eighths."""
    bar = Bar(1, Fraction(0), Fraction(3), "6/8")
    told = [beat_words(bar.beat(Fraction(eighth, 2))) for eighth in range(6)]
    assert told[:4] == ["beat 1", "beat 1 and a third", "beat 1 and two thirds", "beat 2"]


def test_a_pickup_counts_the_beats_that_end_its_bar() -> None:
    bar = Bar(0, Fraction(0), Fraction(1), "4/4")
    assert place_words(bar.number, bar.beat(Fraction(0))) == "the pickup, beat 4"
    assert bar_words(1) == "bar 1"


@pytest.mark.parametrize(
    ("first", "last", "words"),
    [(1, 4, "bars 1-4"), (3, 3, "bar 3"), (0, 2, "pickup to bar 2"), (0, 0, "pickup")],
)
def test_bars_as_a_heading_has_them(first: int, last: int, words: str) -> None:
    assert bars_words(first, last) == words
