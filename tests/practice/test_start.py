"""How a take begins, heard alone (common practice, no source): what begins one, what it takes along, what strays."""

from __future__ import annotations

from passages import chorale, planned

from coach.listening.events import Event
from coach.practice.astray import GOING_ON, PAUSE
from coach.practice.ladder import TOGETHER
from coach.practice.start import BEFORE, Begun, Start, Strayed
from coach.practice.task import Task

TASK = Task(planned(chorale("C5 D5 E5 F5", "G4 G4 G4 A4", "E4 D4 C4 C4", "C3 B2 C3 F2")), TOGETHER)
FIRST = sorted(TASK.first_keys)
OTHER = 66


class Player:
    """Strikes keys for a `Start` and holds them until they are let go."""

    def __init__(self) -> None:
        self.start = Start(TASK)
        self.down: set[int] = set()

    def press(self, at: float, *keys: int, read: bool = False) -> list[Begun | Strayed]:
        """Strike keys one after the other, a hundredth of a second apart; what came of them."""
        found = []
        for place, key in enumerate(keys):
            self.down.add(key)
            heard = self.start.hear(Event(at + place / 100, "press", key, 64), self.down, 0, read=read)
            if heard is not None:
                found.append(heard)
        return found

    def release(self, at: float, *keys: int) -> None:
        for key in keys:
            self.down.discard(key)
            assert self.start.hear(Event(at, "release", key, 0), self.down, 0, read=False) is None


def test_half_of_the_first_chord_begins_a_take_with_what_came_at_once() -> None:
    player = Player()
    assert player.press(1.0, FIRST[0]) == []
    (begun,) = player.press(1.01, FIRST[1])
    assert begun == Begun((Event(1.0, "press", FIRST[0], 64), Event(1.01, "press", FIRST[1], 64)), 0, goes_on=False)


def test_a_chord_that_is_built_key_by_key_is_one_while_its_keys_are_held() -> None:
    held, let_go = Player(), Player()
    for player in (held, let_go):
        assert player.press(1.0, FIRST[0]) == []
    let_go.release(2.0, FIRST[0])
    assert [type(heard) for heard in held.press(4.0, FIRST[1])] == [Begun]
    assert let_go.press(4.0, FIRST[1]) == []


def test_a_wrong_key_just_before_belongs_to_the_take_and_an_earlier_one_does_not() -> None:
    for before, taken in ((BEFORE / 2, True), (BEFORE * 2, False)):
        player = Player()
        (strayed,) = player.press(1.0 - before, OTHER)
        assert isinstance(strayed, Strayed)
        assert strayed.said.startswith(("F#4", "Gb4"))
        player.release(1.0 - before + 0.01, OTHER)
        (begun,) = player.press(1.0, *FIRST[:2])
        assert isinstance(begun, Begun)
        assert (OTHER in {event.key for event in begun.events}) == taken


def test_while_there_is_something_to_read_it_takes_more_than_half() -> None:
    player = Player()
    assert player.press(1.0, *FIRST[:2], read=True) == []
    assert [type(heard) for heard in player.press(1.02, FIRST[2], read=True)] == [Begun]


def test_where_music_goes_on_it_takes_all_of_the_chord_and_says_so() -> None:
    player = Player()
    player.press(1.0, OTHER, read=True)
    player.release(1.5, OTHER)
    assert player.press(1.0 + GOING_ON / 2, *FIRST[:3], read=True) == []
    (begun,) = player.press(1.03 + GOING_ON / 2, FIRST[3], read=True)
    assert isinstance(begun, Begun)
    assert begun.goes_on


def test_the_same_chord_elsewhere_is_offered_once_and_taken_the_second_time() -> None:
    player = Player()
    for at in (1.0, 2.0 + 2 * PAUSE):
        heard = player.press(at, *(key + 3 for key in FIRST))
        player.release(at + 1.0, *(key + 3 for key in FIRST))
    (begun,) = (one for one in heard if isinstance(one, Begun))
    assert begun.shift == -3
    assert [event.key for event in begun.events] == FIRST


def test_keys_of_a_keyboard_that_went_begin_nothing() -> None:
    player = Player()
    player.press(1.0, FIRST[0])
    player.start.forget_keys()
    player.down.clear()
    assert player.press(1.1, FIRST[1]) == []
