"""The collector of garbage stands aside while a plan is made, and planning leaves it nothing to collect."""

from __future__ import annotations

import gc
from collections.abc import Iterator

import pytest

from coach.fingering.collecting import collector_aside
from coach.fingering.planner import plan_piece
from coach.score.library import open_piece
from coach.score.phrases import find_phrases


@pytest.fixture
def collections() -> Iterator[list[int]]:
    """The generation of each collection while the test runs."""
    seen: list[int] = []

    def note(phase: str, about: dict[str, int]) -> None:
        if phase == "start":
            seen.append(about["generation"])

    gc.callbacks.append(note)
    yield seen
    gc.callbacks.remove(note)


def test_planning_leaves_no_circles_of_objects() -> None:
    piece = open_piece("corpus:bach/bwv269")
    phrases = find_phrases(piece)
    plan_piece(piece, phrases)
    gc.collect()
    with collector_aside():
        plan_piece(piece, phrases)
        assert gc.collect() == 0


def test_many_values_made_meanwhile_call_for_no_collection(collections: list[int]) -> None:
    gc.collect()
    collections.clear()
    with collector_aside():
        kept = [[number] for number in range(100_000)]
    more = [[number] for number in range(100)]
    assert (len(kept), len(more), collections) == (100_000, 100, [])


def test_circles_made_meanwhile_are_found_with_the_old() -> None:
    gc.collect()
    with collector_aside():
        for _ in range(50):
            circle: list[object] = []
            circle.append(circle)
        del circle
    assert gc.collect() >= 50


@pytest.mark.parametrize("on", [True, False])
def test_the_collector_is_left_as_it_was(on: bool) -> None:
    inside: list[bool] = []

    def broken_off() -> None:
        with collector_aside():
            inside.append(gc.isenabled())
            raise ValueError("broken off")

    was_on = gc.isenabled()
    (gc.enable if on else gc.disable)()
    try:
        with pytest.raises(ValueError, match="broken off"):
            broken_off()
        assert (inside, gc.isenabled()) == ([False], on)
    finally:
        (gc.enable if was_on else gc.disable)()
