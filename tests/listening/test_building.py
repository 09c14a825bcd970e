"""Chords that are found key by key."""

from __future__ import annotations

from pathlib import Path

import pytest
from building import build

from coach.fingering.planner import plan_piece
from coach.listening.expected import expect
from coach.score.cuts import phrases_of
from coach.score.library import open_piece

PIECES = sorted((Path(__file__).parents[2] / "pieces").glob("*.musicxml"))


@pytest.mark.parametrize("path", PIECES, ids=lambda path: path.stem)
def test_who_builds_a_chord_key_by_key_is_waited_for(path: Path) -> None:
    """A key that the next chord has too belongs to the chord that still lacks it."""
    piece = open_piece(str(path))
    plan = plan_piece(piece, phrases_of(piece))
    takes = [build(expect([phrase]), seed) for phrase in plan.phrases for seed in range(4)]
    assert sum(take.astray for take in takes) < 0.01 * sum(take.presses for take in takes)
    assert sum(take.wrong for take in takes) == 0
