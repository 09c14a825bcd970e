"""How hard a piece is."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from passages import chorale, on_staves, planned, whole

from coach.fingering.difficulty import Difficulty, difficulty
from coach.fingering.hand import Hands
from coach.fingering.plan import Plan
from coach.fingering.planner import Options, plan_piece
from coach.fingering.terms import DEALING, LIFTS, MOVES, RANKING, STRETCHES, WORDS
from coach.fingering.weights import WEIGHTS
from coach.score.library import open_piece
from coach.score.phrases import find_phrases
from coach.score.piece import Piece

EASY = chorale("C5 C5 C5 C5", "E4 E4 E4 E4", "G3 G3 G3 G3", "C3 C3 C3 C3")
HARD = chorale("C5 D#5 B4 F#5", "E4 F#4 D#4 C#5", "C4 B3 A3 A#3", "C3 B2 F#2 F#3")


def of(piece: Piece, span: float = 208, bpm: float | None = None) -> Difficulty:
    return difficulty(plan_piece(piece, [whole(piece)], Hands.of_span(span)), bpm)


def test_the_parts_add_up() -> None:
    found = of(HARD, bpm=100)
    assert found.number == pytest.approx(sum(found.parts.values()))
    assert set(found.parts) == {"stretches", "lifts", "distribution", "moves", "density", "tempo"}


def test_leaps_over_black_keys_are_harder_than_repeated_white_chords() -> None:
    easy, hard = of(EASY), of(HARD)
    assert hard.number > easy.number
    assert all(hard.parts[name] >= easy.parts[name] for name in ("stretches", "lifts", "moves", "density"))


@pytest.mark.parametrize("span", [180, 208, 240])
def test_the_same_piece_is_no_easier_for_a_smaller_hand(span: float) -> None:
    assert of(HARD, span - 15).number >= of(HARD, span).number - 1e-9


def test_length_alone_makes_nothing_harder() -> None:
    """Twice the same music is as hard as once: the number is a rate."""
    phrase = planned(HARD)
    twice = Plan("", "", 4, 208, "ninth", 203.5, "", (phrase, replace(phrase, number=2)))
    once = replace(twice, phrases=(phrase,))
    assert difficulty(twice).number == pytest.approx(difficulty(once).number)


def test_twice_as_fast_is_twice_as_hard() -> None:
    slow, fast = of(HARD, bpm=60), of(HARD, bpm=120)
    assert fast.number == pytest.approx(2 * slow.number)
    assert fast.stretches == slow.stretches
    assert fast.tempo > 0 > slow.tempo


def test_more_notes_at_the_same_tempo_are_denser() -> None:
    crotchets = on_staves(right=["C4 D4 E4 F4"])
    quavers = on_staves(right=["C4 D4 E4 F4 C4 D4 E4 F4"], length="1/2")
    assert of(quavers).density == pytest.approx(2 * of(crotchets).density)


def test_a_raised_tenor_counts_as_a_way_out_not_as_its_rank() -> None:
    """The planner weighs ways out heavily to avoid them; played, one is no hundred times a stretch."""
    raised = chorale("G5", "E5", "E4", "A2")
    found = of(raised, span=190)
    assert of(raised, span=260).sharing < found.sharing < 15


def test_every_term_of_effort_has_words_and_a_part() -> None:
    assert set(WORDS) == set(WEIGHTS)
    parts = (STRETCHES, LIFTS, DEALING, RANKING)
    assert sum(map(len, parts)) == len(frozenset().union(*parts))
    assert set(WEIGHTS) - MOVES == frozenset().union(*parts)
    moves = {
        "shift", "far_shift", "shift_quick", "far_shift_quick", "shift_in_lift", "crossing", "crossing_to_black",
        "off_step", "off_step_quick", "same_finger", "hop",
        "changed_finger", "new_grip", "quick_repeat", "quick_repeat_of_two", "repeat_upward", "repeats_ahead",
        "roll_moves",
        "thumb_on_black", "little_on_black", "fourth_alone", "fifth_alone", "weak_neighbours", "thumb_unused",
        "little_unused", "off_frame", "off_grip", "far_from_top", "far_from_bottom",
    }  # fmt: skip
    assert moves == MOVES


def test_json_gives_back_an_equal_difficulty() -> None:
    found = of(HARD, bpm=80)
    assert Difficulty.from_json(found.to_json()).number == pytest.approx(found.number, abs=1e-5)


def test_progressive_studies_grow_harder() -> None:
    """Burgmüller's op. 100, "25 études faciles et progressives" on its title page (Collection Litolff, 19th century):
    the later of two studies is the harder one more often than not, at one tempo for all."""
    folder = Path(__file__).parents[1] / "data" / "fingerings"
    studies = sorted(folder.glob("burgmuller-op100-*.musicxml"), key=lambda path: int(path.stem.rsplit("-", 1)[1]))
    efforts = []
    for path in studies:
        piece = open_piece(str(path))
        plan = plan_piece(piece, find_phrases(piece), None, Options(hands="as-written"))
        efforts.append(difficulty(plan).number)
    ranks = np.argsort(np.argsort(efforts))
    assert np.corrcoef(ranks, np.arange(len(ranks)))[0, 1] >= 0.5
