"""Where a chord stands in its hand's outer line."""

from __future__ import annotations

import pytest
from passages import chorale, chords, on_staves
from ruler import midi_of

from coach.fingering.as_written import as_written
from coach.fingering.handful import hand_key
from coach.fingering.outer_line import LOOKS_AHEAD, MOST_REPEATS, Place, places


def of(right: str, length: str = "1") -> list[Place | None]:
    """The places of a single line of the right hand as written."""
    found = chords(on_staves(right=[right], length=length))
    return places(found, "right", as_written(found))


def reach(place: Place | None) -> tuple[int, int]:
    assert place
    return place.lowest, place.highest


def test_a_hand_looks_ahead_in_its_line() -> None:
    first, *_ = of("E4 C4 G4 E4 G4")
    assert reach(first) == (midi_of("C4"), midi_of("G4"))
    assert first
    assert (first.frame.thumb_side, first.frame.outside) == (midi_of("C4"), midi_of("G4"))


def test_it_does_not_look_back() -> None:
    *_, last = of("E4 C4 G4 E4")
    assert reach(last) == (midi_of("E4"), midi_of("E4"))


def test_it_looks_no_further_than_an_octave() -> None:
    first, *_ = of("C4 G4 C5 E5 C4")
    assert reach(first) == (midi_of("C4"), midi_of("C5"))


def test_it_looks_so_many_notes_ahead() -> None:
    wait = " ".join(["C4 E4"] * (LOOKS_AHEAD // 2))
    first, second, *_ = of(f"C4 {wait} G4")
    assert reach(first) == (midi_of("C4"), midi_of("E4"))
    assert reach(second) == (midi_of("C4"), midi_of("G4"))


def test_a_run_is_left_to_the_thumb() -> None:
    """Common practice, no source: the hand need not reach the end of a scale."""
    first, *_ = of("C4 D4 E4 F4 G4 A4 B4 C5")
    assert reach(first) == (midi_of("C4"), midi_of("C4"))
    leap, *_ = of("C4 G4 E4 F4 G4 A4 B4")
    assert reach(leap) == (midi_of("C4"), midi_of("G4"))


def test_repeats_count_when_they_come_at_once() -> None:
    quick, slow = of("G4 G4 G4 A4", length="1/4"), of("G4 G4 G4 A4", length="1")
    assert [place.repeats for place in quick if place] == [2, 1, 0, 0]
    assert [place.repeats for place in slow if place] == [0, 0, 0, 0]
    many, *_ = of("G4 G4 G4 G4 G4 G4", length="1/4")
    assert many
    assert many.repeats == MOST_REPEATS


@pytest.mark.parametrize(("side", "line"), [("right", "C5 D5 B4 C5"), ("left", "C3 G2 G2 C3")])
def test_with_free_hands_the_line_is_the_outer_voice(side: str, line: str) -> None:
    """Whoever takes the inner voices."""
    piece = chorale("C5 D5 B4 C5", "G4 G4 G4 G4", "E4 B3 D4 E4", "C3 G2 G2 C3")
    found = places(chords(piece), "right" if side == "right" else "left", None)
    keys = [hand_key("right" if side == "right" else "left", midi_of(pitch)) for pitch in line.split()]
    assert found[0]
    assert (found[0].frame.thumb_side, found[0].frame.outside) == (min(keys), max(keys))


def test_where_only_an_inner_voice_moves_the_line_has_no_place() -> None:
    piece = chorale("C5:2", "G4 A4", "E4:2", "C3:2")
    found = places(chords(piece), "right", None)
    assert found[0]
    assert found[1] is None
