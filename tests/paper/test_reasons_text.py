"""Reasons as they are printed under a chord table."""

from __future__ import annotations

import re
from collections.abc import Sequence

import pytest

from coach.fingering.plan import HandPart, PlannedChord, PlannedNote
from coach.paper.cells import grid_of
from coach.paper.reasons_text import reasons_in, reasons_of
from coach.practice.music import open_music


def chord(whys: Sequence[str]) -> PlannedChord:
    """Notes of the right hand, each with why it has its finger."""
    notes = tuple(
        PlannedNote(voice, 0.0, 1.0, pitch, midi, midi, True, "right", finger, why)
        for (voice, pitch, midi, finger), why in zip(
            [("soprano", "E5", 76, 4), ("alto", "C5", 72, 2), ("tenor", "G4", 67, 1)], whys, strict=True
        )
    )
    return PlannedChord(0.0, 1.0, 1, 1.0, "3+0", notes, HandPart("end", 1, ""), None)


@pytest.mark.parametrize(
    ("whys", "said"),
    [
        (["saves a crossing of the thumb"] * 3, "E 4 C 2 G 1 save a crossing of the thumb"),
        (["stays on its key", "", "stays on its key"], "E 4 G 1 stay on their keys"),
        (["", "leaves 4 for E, which connects", ""], "C 2 leaves 4 for E, which connects"),
        (["", *["leaves 4 for E, which connects"] * 2], "C 2 G 1 leave 4 for E, which connects"),
        (
            ["", *["gives room: 1-2 on G and C would be cramped"] * 2],
            "C 2 G 1 give room: 1-2 on G and C would be cramped",
        ),
        (["", "", "the only finger that fits: the hand spans an octave"], None),
        (["can stay on its key"] * 2 + [""], "E 4 C 2 can stay on their keys"),
        (["nearest: the hand stays where it is"] * 2 + [""], "E 4 C 2 nearest: the hand stays where it is"),
        (["as good as 3"] * 2 + [""], "E 4 as good as 3, C 2 as good as 3"),
    ],
)
def test_several_fingers_with_one_reason_are_spoken_of_together(whys: Sequence[str], said: str | None) -> None:
    """A finger with no alternative goes without saying."""
    assert list(reasons_of(chord(whys))) == ([] if said is None else [f"right hand: {said}"])


def test_each_reason_stands_at_a_place_that_the_table_counts() -> None:
    """A pickup is no bar 0, and half a beat no 2.5 (common practice, no source)."""
    places = set()
    for piece in ("before-the-tide", "wide-water", "oars-at-dusk"):
        for phrase in open_music(piece).plan.phrases:
            for where, _ in reasons_in(phrase):
                assert re.fullmatch(r"(the pickup|bar [1-9]\d*), beat \d+([&ea]| and a third| and two thirds)?", where)
                places.add(where.rstrip("0123456789"))
            counted = [column.counted for column in grid_of(phrase).columns]
            halves = any("&" in sign for sign in counted)
            assert halves == any(chord.beat % 1 == 0.5 for chord in phrase.chords)
    assert any(where.startswith("the pickup") for where in places)
    assert any(where.endswith("&") for where in places)
