"""What keys are that begin no take (common practice, no source)."""

from __future__ import annotations

import pytest
from passages import chorale, planned

from coach.listening.events import Event
from coach.practice.astray import GOING_ON, PAUSE, Astray
from coach.practice.ladder import RIGHT, TOGETHER
from coach.practice.task import Task

LINE = planned(chorale("C5 D5 E5 F5", "G4 G4 G4 A4", "E4 D4 C4 C4", "C3 B2 C3 F2"))
BOTH = Task(LINE, TOGETHER)
ALONE = Task(LINE, RIGHT)


def struck(*chords: tuple[float, set[int]]) -> Astray:
    stray = Astray()
    for at, keys in chords:
        for place, key in enumerate(sorted(keys)):
            stray = stray.hear(Event(at + 0.01 * place, "press", key, 64))
    return stray


def moved(task: Task, chord: int, semitones: int) -> set[int]:
    return {key + semitones for key in task.keys_of(chord)}


@pytest.mark.parametrize("semitones", [1, -1, 2, -5, 11])
def test_the_first_chord_elsewhere_says_how_far(semitones: int) -> None:
    assert struck((1.0, moved(BOTH, 0, semitones))).elsewhere(BOTH) == semitones


def test_an_octave_is_another_buttons_and_another_chord_none() -> None:
    assert struck((1.0, moved(BOTH, 0, 12))).elsewhere(BOTH) is None
    assert struck((1.0, {*moved(BOTH, 0, 1), 30})).elsewhere(BOTH) is None
    assert struck((1.0, set(BOTH.keys_of(1)))).elsewhere(BOTH) is None


def test_a_chord_of_the_same_shape_in_the_middle_of_music_is_not_the_first_one() -> None:
    other = {41, 57, 60, 65}
    assert struck((1.0, other), (1.0 + PAUSE / 2, moved(BOTH, 0, 2))).elsewhere(BOTH) is None
    assert struck((1.0, other), (1.2 + PAUSE, moved(BOTH, 0, 2))).elsewhere(BOTH) == 2


def test_a_third_may_be_any_until_the_second_chord_is_as_far_away() -> None:
    few = Task(planned(chorale("C5 D5 E5", "G4 G4 G4", "E3 D3 C3", "C3 B2 C3")), RIGHT)
    assert len(few.first_keys) == 2
    once = (1.0, moved(few, 0, 1))
    assert struck(once).elsewhere(few) is None
    assert struck(once, (1.8, moved(few, 1, 1))).elsewhere(few) == 1
    assert struck(once, (1.8, moved(few, 1, 2))).elsewhere(few) is None


@pytest.mark.parametrize("hand", ["right", "left"])
def test_two_chords_of_one_hand_are_that_hand_alone(hand: str) -> None:
    expected = BOTH.expected
    keys = [{note.midi for note in expected.struck(chord) if note.hand == hand} for chord in range(2)]
    assert struck((1.0, keys[0])).alone(BOTH) is None
    assert struck((1.0, keys[0]), (1.8, keys[1])).alone(BOTH) == hand
    assert struck((1.0, keys[0]), (1.8, keys[1])).alone(ALONE) == (None if hand == "right" else "left")


def test_music_goes_on_from_chord_to_chord() -> None:
    stray = struck((1.0, {41, 57}))
    assert stray.goes_on(BOTH, 1.0 + GOING_ON)
    assert not stray.goes_on(BOTH, 1.1 + GOING_ON)
    assert not stray.goes_on(BOTH, 1.1), "struck with it, as a wrong key is"
    assert not struck((1.0, set(BOTH.first_keys))).goes_on(BOTH, 1.5), "the first chord is being built"
