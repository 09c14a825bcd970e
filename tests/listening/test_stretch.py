"""A stretch of a take, cut out of it: whole from its first press to the release of its last key."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from coach.listening.events import SUSTAIN, Event, Metronome
from coach.listening.stretch import excerpt
from coach.listening.take import Take

C4, E4, G4 = 60, 64, 67


def press(seconds: float, key: int) -> Event:
    return Event(seconds, "press", key, 64)


def release(seconds: float, key: int) -> Event:
    return Event(seconds, "release", key, 64)


def cut(events: Sequence[Event], presses: range) -> Sequence[Event]:
    return excerpt(Take(tuple(events)), presses).events


def test_a_key_comes_up_though_its_release_lies_after_the_stretch() -> None:
    played = [press(0.0, C4), press(0.6, E4), press(1.2, G4), release(1.5, E4), release(1.6, C4), release(1.8, G4)]
    assert cut(played, range(2)) == (played[0], played[1], played[3], played[4])


def test_a_key_whose_release_was_lost_came_up_before_it_was_struck_again() -> None:
    """It goes down again after the stretch: there it must not seem to be held on, until the release of that stroke."""
    played = [press(0.0, C4), press(0.6, E4), release(1.1, E4), press(1.8, C4), release(2.4, C4)]
    assert cut(played, range(2)) == (*played[:3], release(1.8, C4))


def test_keys_struck_before_the_stretch_are_not_in_it() -> None:
    played = [press(0.0, C4), press(0.6, E4), release(0.7, C4), press(1.2, G4), release(1.3, E4), release(1.8, G4)]
    assert cut(played, range(1, 3)) == (played[1], *played[3:])


def test_the_pedal_is_kept_until_the_last_press() -> None:
    pedal = [Event(seconds, "pedal", SUSTAIN, value) for seconds, value in ((0.1, 127), (0.7, 0), (1.3, 127))]
    played = [press(0.0, C4), pedal[0], release(0.5, C4), press(0.6, E4), pedal[1], press(1.2, G4), pedal[2]]
    assert [event for event in cut(played, range(2)) if event.kind == "pedal"] == pedal[:2]


@pytest.mark.parametrize(("start", "kept"), [(0, True), (1, False)])
def test_a_metronome_says_nothing_of_music_that_begins_later(start: int, kept: bool) -> None:
    clock = Metronome(100, 0.0)
    take = Take((press(0.0, C4), release(0.5, C4), press(0.6, E4), release(1.1, E4)), clock)
    assert excerpt(take, range(start, 2)).metronome == (clock if kept else None)
