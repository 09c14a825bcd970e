"""Chorales of music21's corpus, and piano scores as written, planned and looked over by the checker.

`python tests/bench/all_chorales.py` does the same for all 371 and counts what the plans do.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from plan_checker import faults

from coach.fingering.hand import Hands
from coach.fingering.keyboard import OCTAVE
from coach.fingering.plan import SIDES
from coach.fingering.planner import Options, plan_piece
from coach.score.library import open_piece
from coach.score.phrases import find_phrases

SCORES = Path(__file__).parents[1] / "data" / "fingerings"

WITH_INSTRUMENTS = [
    *("bwv8.6", "bwv19.7", "bwv29.8", "bwv41.6", "bwv69.6", "bwv70.11", "bwv91.6"),
    *("bwv136.6", "bwv161.6", "bwv248.9-1", "bwv248.23-2", "bwv250"),
]
"""Trumpets, horns, timpani, violins, recorders and continuo beside the four singing voices."""

FIVE_VOICES = ["bwv27.6"]

WITH_GRACE_NOTES = ["bwv299", "bwv315"]

WIDE = ["bwv13.6", "bwv26.6", "bwv121.6", "bwv248.53-5", "bwv281", "bwv363"]
"""Wide chords and chains of suspensions that hands of a ninth just manage."""

OTHERS = ["bwv269", "bwv347", "bwv86.6", "bwv17.7"]

OCTAVES = [
    ("bwv269", 208.0, {(1, 4), (1, 5)}),
    ("bwv299", 185.0, {(1, 5)}),
    ("bwv13.6", 185.0, {(1, 5)}),
    ("bwv301", 185.0, {(1, 5)}),
]
"""Chorales, spans and the fingers that may have an octave: where the hand reaches hardly more, no others do."""

SAMPLE = [*WITH_INSTRUMENTS, *FIVE_VOICES, *WITH_GRACE_NOTES, *WIDE, *OTHERS]


@pytest.fixture(scope="module", autouse=True)
def kept_pieces(request: pytest.FixtureRequest) -> Iterator[None]:
    """Pieces are kept in pytest's cache, so that a second run need not read them again."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COACH_HOME", str(request.config.cache.mkdir("coach-home")))  # type: ignore[union-attr]
        yield


@pytest.mark.parametrize("span", [190.0, 208.0, 226.0])
@pytest.mark.parametrize("name", SAMPLE)
def test_hands_can_play_what_is_planned(name: str, span: float) -> None:
    piece = open_piece(f"corpus:bach/{name}")
    plan = plan_piece(piece, find_phrases(piece), Hands.of_span(span))
    assert faults(json.loads(json.dumps(plan.to_json())), piece.notes) == []


@pytest.mark.parametrize("name", ["schumann-op15-5", "schumann-op15-7", "burgmuller-op100-13", "bach-bwv609"])
def test_hands_as_written_can_play_what_is_planned(name: str) -> None:
    """Two staves with several voices each; where a staff holds more than its hand reaches, it is rolled, and every note
    is fingered (public-domain editions from the Mutopia Project)."""
    piece = open_piece(str(SCORES / f"{name}.musicxml"))
    plan = plan_piece(piece, find_phrases(piece), options=Options(hands="as-written"))
    assert faults(json.loads(json.dumps(plan.to_json())), piece.notes, as_written=True) == []
    assert all(note.finger for chord in plan.chords() for note in chord.notes if note.struck)


@pytest.mark.parametrize(("name", "span", "fingers"), OCTAVES)
def test_octaves_near_the_reach_of_a_hand_have_thumb_and_little_finger(
    name: str, span: float, fingers: set[tuple[int, int]]
) -> None:
    """Common practice, no source."""
    piece = open_piece(f"corpus:bach/{name}")
    plan = plan_piece(piece, find_phrases(piece), Hands.of_span(span))
    found = set()
    for chord in plan.chords():
        for side in SIDES:
            mine = sorted((note.midi, note.finger or 0) for note in chord.played_by(side))
            if mine and mine[-1][0] - mine[0][0] == OCTAVE:
                found.add((min(mine[0][1], mine[-1][1]), max(mine[0][1], mine[-1][1])))
    assert found
    assert found <= fingers


def test_the_plan_says_what_was_left_out_of_the_score() -> None:
    piece = open_piece("corpus:bach/bwv69.6")
    plan = plan_piece(piece, find_phrases(piece)[:1])
    assert plan.voices == 4
    assert {note.voice for chord in plan.chords() for note in chord.notes} == {"soprano", "alto", "tenor", "bass"}
    assert any("Timpani" in remark for remark in plan.remarks)
