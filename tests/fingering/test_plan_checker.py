"""The checker itself: it finds every kind of damage done to a good plan."""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Callable
from typing import Any

import pytest
from passages import chorale, in_chords, whole
from plan_checker import faults
from ruler import Player, midi_of

from coach.fingering.hand import Hands
from coach.fingering.plan import Plan
from coach.fingering.planner import Options, plan_piece
from coach.score.piece import Piece

PIECE = chorale("G4 A4 B4 C5 C5 B4", "E4 F4 D4 E4 E4 D4", "C4:2 G3 G3 A3 G3", "C3 F2 G2 C3 F2 G2")

Form = dict[str, Any]


def form_of(piece: Piece, **options: Any) -> Form:
    return written(plan_piece(piece, [whole(piece)], Hands.of_span(208), Options(**options)))


def written(plan: Plan) -> Form:
    """The form as it stands in a file."""
    return json.loads(json.dumps(plan.to_json()))  # type: ignore[no-any-return]


@pytest.fixture
def good() -> Form:
    return copy.deepcopy(form_of(PIECE))


def chords(form: Form) -> list[Form]:
    return form["phrases"][0]["chords"]  # type: ignore[no-any-return]


def note(form: Form, place: int, voice: str) -> Form:
    return next(one for one in chords(form)[place]["notes"] if one["voice"] == voice)


def test_a_good_plan_has_no_faults(good: Form) -> None:
    assert faults(good, PIECE.notes) == []


def drop_note(form: Form) -> None:
    chords(form)[2]["notes"].pop(0)


def strike_twice(form: Form) -> None:
    held = note(form, 1, "tenor")
    held["struck"] = True


def add_note(form: Form) -> None:
    chords(form)[2]["notes"].append({**note(form, 2, "alto"), "voice": "voice 5"})


def other_key(form: Form) -> None:
    note(form, 2, "alto")["midi"] += 1


def other_finger_on_a_held_note(form: Form) -> None:
    held = note(form, 1, "tenor")
    held["finger"] = held["finger"] % 5 + 1


def other_hand_on_a_held_note(form: Form) -> None:
    held = note(form, 1, "tenor")
    held["hand"] = "left" if held["hand"] == "right" else "right"


def let_go_without_a_word(form: Form) -> None:
    note(form, 1, "tenor").update(hand=None, finger=None, why="")


def take_up_again(form: Form) -> None:
    note(form, 0, "tenor").update(hand=None, finger=None, why="left out")


def two_keys_for_a_finger(form: Form) -> None:
    note(form, 0, "soprano")["finger"] = note(form, 0, "alto")["finger"]


def fingers_out_of_order(form: Form) -> None:
    soprano, alto = note(form, 0, "soprano"), note(form, 0, "alto")
    soprano["finger"], alto["finger"] = alto["finger"], soprano["finger"]


def sixth_finger(form: Form) -> None:
    note(form, 0, "soprano")["finger"] = 6


def hand_without_finger(form: Form) -> None:
    note(form, 0, "soprano")["finger"] = None


def wrong_distribution(form: Form) -> None:
    chords(form)[0]["distribution"] = "4+0"


def no_end(form: Form) -> None:
    chords(form)[-1]["right"]["after"] = "join"


def early_end(form: Form) -> None:
    chords(form)[1]["right"]["after"] = "end"


def group_does_not_count(form: Form) -> None:
    chords(form)[-1]["left"]["group"] += 1


def restrike_of_another_key(form: Form) -> None:
    chords(form)[0]["right"]["after"] = "restrike"


def raise_the_top(form: Form) -> None:
    soprano = note(form, 2, "soprano")
    soprano.update(midi=soprano["midi"] + 12, pitch="B5", why="raised")


def raise_by_a_fifth(form: Form) -> None:
    alto = note(form, 2, "alto")
    alto.update(midi=alto["midi"] + 7, pitch="A4", why="raised")


def leave_out_the_bass(form: Form) -> None:
    note(form, 2, "bass").update(hand=None, finger=None, why="left out")


def shorter_chord(form: Form) -> None:
    chords(form)[1]["duration"] = 0.5


def effort_of_another_plan(form: Form) -> None:
    form["effort"] += 1


def reach_of_another_hand(form: Form) -> None:
    form["hand"]["reach_mm"] = 230.0


def hand_without_a_part(form: Form) -> None:
    chords(form)[1]["left"] = None


def no_reason_for_the_end(form: Form) -> None:
    form["phrases"][0]["why_it_ends"] = ""


DAMAGE: list[tuple[Callable[[Form], None], str]] = [
    (drop_note, "sounds but is not there"),
    (strike_twice, "struck but not in the score|not struck where it starts"),
    (add_note, "struck but not in the score"),
    (other_key, "is not key"),
    (other_finger_on_a_held_note, "is held by . and then by"),
    (other_hand_on_a_held_note, "and then by"),
    (let_go_without_a_word, "no reason is given"),
    (take_up_again, "is held by None"),
    (two_keys_for_a_finger, "on two keys"),
    (fingers_out_of_order, "cross"),
    (sixth_finger, "is given to right 6"),
    (hand_without_finger, "without a finger"),
    (wrong_distribution, "not the distribution"),
    (no_end, "does not lift at its end"),
    (early_end, "ends before the phrase does"),
    (group_does_not_count, "group is"),
    (restrike_of_another_key, "strike G4 again"),
    (raise_the_top, "outer note"),
    (raise_by_a_fifth, "is moved from"),
    (leave_out_the_bass, "outer note"),
    (shorter_chord, "does not last to the next chord"),
    (effort_of_another_plan, "effort is not the sum"),
    (reach_of_another_hand, "does not reach"),
    (hand_without_a_part, "part does not fit"),
    (no_reason_for_the_end, "why it ends"),
]


@pytest.mark.parametrize(("damage", "text"), DAMAGE, ids=[damage.__name__ for damage, _ in DAMAGE])
def test_damage_is_found(good: Form, damage: Callable[[Form], None], text: str) -> None:
    before = copy.deepcopy(good)
    damage(good)
    assert good != before
    found = faults(good, PIECE.notes)
    assert any(re.search(text, fault) for fault in found), found


def test_a_stretch_beyond_the_hand_is_found() -> None:
    """A plan for a large hand, given to a small one."""
    piece = in_chords("right", "C4 E5")
    form = written(plan_piece(piece, [whole(piece)], Hands.of_span(226), Options(hands="as-written")))
    assert faults(form, piece.notes, as_written=True) == []
    small = faults(form, piece.notes, as_written=True, player=Player(208, 208))
    assert any("must span 211.5 mm" in fault for fault in small)


@pytest.mark.parametrize(
    ("fingers", "possible"), [((1, 2), True), ((2, 3), False), ((2, 5), True), ((3, 4), False), ((4, 5), False)]
)
def test_a_pair_of_fingers_has_its_own_span(fingers: tuple[int, int], possible: bool) -> None:
    """A sixth, nine semitones: 2-5 and 1-2 span ten at most, 2-3 and 4-5 five, 3-4 four (Parncutt et al. 1997)."""
    piece = in_chords("right", "C4 A4")
    form = form_of(piece, hands="as-written")
    for one, finger in zip(sorted(chords(form)[0]["notes"], key=lambda n: n["midi"]), fingers, strict=True):
        one["finger"] = finger
    assert (faults(form, piece.notes, as_written=True) == []) == possible


def test_a_join_that_nobody_can_make_is_found() -> None:
    piece = in_chords("right", "C4", "D4")
    form = form_of(piece, hands="as-written")
    first, second = chords(form)
    first["right"]["after"] = "join"
    second["right"]["group"] = 1
    first["notes"][0]["finger"] = second["notes"][0]["finger"] = 3
    assert any("is to connect C4 and play D4" in fault for fault in faults(form, piece.notes, as_written=True))
    first["notes"][0]["finger"], second["notes"][0]["finger"] = 4, 3
    assert any("cannot connect C4 and D4" in fault for fault in faults(form, piece.notes, as_written=True))


def test_a_join_from_a_key_that_is_struck_again_is_found() -> None:
    piece = in_chords("right", "D4", "D4 F4")
    form = form_of(piece, hands="as-written")
    assert faults(form, piece.notes, as_written=True) == []
    first, second = chords(form)
    first["right"]["after"] = "join"
    second["right"]["group"] = 1
    assert any("D4, which is struck again" in fault for fault in faults(form, piece.notes, as_written=True))


def test_crossed_hands_are_found() -> None:
    form = form_of(PIECE)
    alto, tenor = note(form, 2, "alto"), note(form, 2, "tenor")
    alto["hand"], tenor["hand"] = "left", "right"
    assert any("hands cross" in fault for fault in faults(form, PIECE.notes))


def test_staves_are_hands_as_written() -> None:
    piece = in_chords("right", "C4 E4")
    form = form_of(piece, hands="as-written")
    for one in chords(form)[0]["notes"]:
        one["hand"] = "left"
    assert any("written for the right hand" in fault for fault in faults(form, piece.notes, as_written=True))


@pytest.mark.parametrize(("pitch", "key"), [("C4", 60), ("Bb3", 58), ("F##5", 79), ("Cb4", 59), ("A0", 21), ("C-1", 0)])
def test_keys_of_pitches(pitch: str, key: int) -> None:
    """MIDI 1.0: middle C is key 60."""
    assert midi_of(pitch) == key
