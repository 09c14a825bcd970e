"""Where a hand changes place."""

from __future__ import annotations

from collections.abc import Callable

from coach.fingering.plan import PhrasePlan
from coach.paper.changes import changes_of_place

Phrases = Callable[..., PhrasePlan]


def test_five_fingers_on_five_white_keys_stay_where_they_are(phrase: Phrases) -> None:
    """The five-finger position of every beginner's book; common practice, no source."""
    five = phrase({"soprano": "C5:1:r1 E5:1:r3 D5:1:r2 G5:1:r5 F5:1:r4 C5:1:r1"})
    assert changes_of_place(five, "right") == (True, False, False, False, False, False)


def test_the_left_hand_is_the_mirror_of_the_right(phrase: Phrases) -> None:
    """White keys mirror about D."""
    five = phrase({"bass": "E3:1:l1 C3:1:l3 D3:1:l2 A2:1:l5 B2:1:l4"})
    assert changes_of_place(five, "left") == (True, False, False, False, False)


def test_the_thumb_passing_under_is_a_change_of_place(phrase: Phrases) -> None:
    """The scale of C major, 1 2 3 1 2 3 4 5 in every method (from memory)."""
    keys = ["C5", "D5", "E5", "F5", "G5", "A5", "B5", "C6"]
    scale = phrase({"soprano": " ".join(f"{k}:1:r{f}" for k, f in zip(keys, "12312345", strict=True))})
    assert [i for i, changed in enumerate(changes_of_place(scale, "right")) if changed] == [0, 3]


def test_another_finger_on_the_same_key_is_a_change_of_place(phrase: Phrases) -> None:
    again = phrase({"soprano": "C5:1:r1 C5:1:r2 D5:1:r3"})
    assert changes_of_place(again, "right") == (True, True, False)


def test_a_finger_between_two_others_needs_no_figure(phrase: Phrases) -> None:
    """An open octave with one finger left between 3 and 5."""
    octave = phrase({"soprano": "C6:1:r5 A5:1:r4", "alto": "G5:1:r3 C5:1:r1", "tenor": "C5:1:r1 r:1"})
    assert changes_of_place(octave, "right") == (True, False)


def test_a_lift_that_comes_back_to_the_same_place_is_no_change(phrase: Phrases) -> None:
    back = phrase({"soprano": "C5:1:r1 E5:1:r3 C5:1:r1"}, right_lifts=[0, 1])
    assert changes_of_place(back, "right") == (True, False, False)


def test_a_hand_without_notes_never_changes(phrase: Phrases) -> None:
    assert changes_of_place(phrase({"soprano": "C5:1:r1 E5:1:r3"}), "left") == (False, False)
