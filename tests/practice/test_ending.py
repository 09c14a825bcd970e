"""When silence ends a take, and whether what was played was one."""

from __future__ import annotations

import pytest
from passages import chorale, planned

from coach.listening.events import Event
from coach.practice.attempt import Attempt
from coach.practice.ending import ALL_UP, LAST_CHORD, SILENCE, has_begun, is_false_start, is_over, was_tried
from coach.practice.ladder import TOGETHER
from coach.practice.task import Task

LINE = Task(planned(chorale("C5 D5 E5 F5", "G4 G4 G4 A4", "E4 D4 C4 C4", "C3 B2 C3 F2")), TOGETHER)
"""Four chords in crotchets, one a second."""


def played(*chords: int, lacking: int = 0) -> Attempt:
    """Chords by their place, a second apart from second 1 on, each held for half a second.

    Args:
        lacking: Keys that are left out of the last chord.
    """
    attempt = Attempt(LINE)
    for at, chord in enumerate(chords, 1):
        keys = sorted(LINE.keys_of(chord))[lacking if at == len(chords) else 0 :]
        for key in keys:
            attempt.feed(Event(float(at), "press", key, 64))
        for key in keys:
            attempt.feed(Event(at + 0.5, "release", key, 64))
    return attempt


def test_the_last_chord_ends_a_take_once_it_is_let_go_or_was_held_long() -> None:
    take = played(0, 1, 2, 3)
    assert not is_over(take, 4.4 + ALL_UP, None, all_up=True)
    assert is_over(take, 4.6 + ALL_UP, None, all_up=True)
    assert not is_over(take, 4.0 + LAST_CHORD, None, all_up=False)
    assert is_over(take, 4.1 + LAST_CHORD, None, all_up=False)


def test_a_last_chord_that_lacks_a_note_is_waited_for_a_while() -> None:
    take = played(0, 1, 2, 3, lacking=1)
    assert not is_over(take, 4.5 + SILENCE, None, all_up=True)
    assert is_over(take, 4.6 + SILENCE, None, all_up=True)


def test_chord_by_chord_silence_in_the_middle_ends_nothing_and_in_tempo_it_does() -> None:
    take = played(0, 1)
    assert not is_over(take, 1000.0, None, all_up=True)
    assert not is_over(take, 2.0 + SILENCE, 1.0, all_up=True)
    assert is_over(take, 2.1 + SILENCE, 1.0, all_up=True)


def test_nobody_who_was_counted_in_and_plays_nothing_is_waited_for() -> None:
    assert not is_over(Attempt(LINE), 1.0 + SILENCE, 1.0, all_up=True)
    assert is_over(Attempt(LINE), 1.1 + SILENCE, 1.0, all_up=True)


def test_less_than_three_chords_are_a_false_start() -> None:
    assert is_false_start(played(0, 1))
    assert not has_begun(played(0, 1))
    assert has_begun(played(0, 1, 2))
    assert not is_false_start(played(0, 1, 2))


@pytest.mark.parametrize(("foreign", "tried"), [(0, True), (9, False)])
def test_who_strikes_mostly_other_keys_has_not_tried_the_passage(foreign: int, tried: bool) -> None:
    take = played(0, 1, 2)
    for place in range(foreign):
        take.feed(Event(4.0 + place, "press", 30 + place, 64))
    assert was_tried(take.judged()) is tried
