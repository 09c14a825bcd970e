"""Places in the music are named one way: as musicians count them (common practice in English, no source)."""

from __future__ import annotations

from fractions import Fraction

import pytest

from coach.errors import CoachError
from coach.fingering.choices import Choices
from coach.fingering.fixing import fix
from coach.fingering.notation import read_fix
from coach.paper.cells import count
from coach.score.counting import bar_words, bars_listed, bars_words, beat_words, extent_words, place_words
from coach.score.order import how_it_runs
from coach.score.phrases import find_phrases
from coach.score.piece import Bar
from coach.score.reading import read_score


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


@pytest.mark.parametrize(
    ("bars", "words"),
    [
        ([3], "bar 3"),
        ([3, 5, 7], "bars 3, 5 and 7"),
        ([0], "the pickup"),
        ([0, 2], "the pickup and bar 2"),
        ([0, 2, 3], "the pickup and bars 2 and 3"),
    ],
)
def test_bars_in_a_row(bars: list[int], words: str) -> None:
    assert bars_listed(bars) == words


@pytest.mark.parametrize(
    ("first", "last", "words"),
    [
        (1, 8, "bars 1 to 8"),
        (1, 1, "bar 1"),
        (0, 8, "the pickup and bars 1 to 8"),
        (0, 1, "the pickup and bar 1"),
        (0, 0, "the pickup"),
    ],
)
def test_all_bars_that_there_are(first: int, last: int, words: str) -> None:
    assert extent_words(first, last) == words


def four(pickup: str) -> bytes:
    """Four voices in two bars after a pickup of a quarter note, which is given for the bass."""
    sung = zip("SATB", ("G", "E", "C", "C,"), strict=True)
    voices = (f"V:{name}\n{pickup if name == 'B' else note} | {note}4 | {note}3 |]\n" for name, note in sung)
    return f"X:1\nM:4/4\nL:1/4\n%%score S A T B\nK:C\n{''.join(voices)}".encode()


@pytest.mark.parametrize(
    ("pickup", "said"),
    [
        ("[C,DEFGABcdefg]", 'cannot use "t": the pickup has 13 keys down at once, more than ten fingers'),
        ("c''''", 'cannot read "t": the pickup asks for C9, which no piano has'),
    ],
)
def test_what_is_wrong_in_a_pickup_is_told_of_the_pickup(pickup: str, said: str) -> None:
    with pytest.raises(CoachError) as refused:
        read_score(four(pickup), "t", "t")
    assert str(refused.value) == said


def test_a_voice_that_divides_in_the_pickup() -> None:
    assert read_score(four("[C,,C,]"), "t", "t").remarks == ("the bass divides in the pickup",)


def test_a_mark_in_the_pickup_that_leads_nowhere() -> None:
    bars = read_score(b'X:1\nM:4/4\nL:1/4\nK:C\nG "D.S."|G4|G3|]\n', "t", "t").bars
    assert how_it_runs(bars) == 'the pickup says "D.S.", but no bar has a segno'


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("1:1.67 alto 5", "bar 1, beat 1 and two thirds: 5 on the alto's B is not possible: "),
        ("1:1.67 tenor 3", "bar 1, beat 1 and two thirds: the tenor's note is held from bar 1, beat 1: choose"),
        ("1:1.3 tenor 3", "bar 1, beat 1.3: no chord begins here; chords begin on 1, 1.67, 2"),
        ("0:1 alto 2", "the pickup, beat 1: no chord begins here; chords begin on 2.67"),
        ("9:1 alto 2", "there is no bar 9: the piece has the pickup and bars 1 to 2"),
    ],
)  # fmt: skip
def test_a_choice_is_refused_at_its_place_in_words(text: str, said: str) -> None:
    """In 6/8 the third quaver of a beat is two thirds of it later."""
    code = b"X:1\nM:6/8\nL:1/8\n%%score (S A) (T B)\nK:C\nV:S\nc|e3 d3|c6|]\nV:A\nG|c2B c2B|G6|]\n"
    piece = read_score(code + b"V:T\nE|G3 G3|E6|]\nV:B\nC|C3 G,3|C6|]\n", "t", "t")
    with pytest.raises(CoachError) as refused:
        fix(piece, find_phrases(piece), Choices(), read_fix(text, piece))
    assert str(refused.value).startswith(said)
