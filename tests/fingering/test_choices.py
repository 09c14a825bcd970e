"""The player's choices: kept as values, honoured exactly or refused with the reason."""

from __future__ import annotations

from fractions import Fraction

import pytest
from passages import chorale, chords, fingers, in_chords, on_staves, planned, whole
from plan_checker import faults

from coach.errors import CoachError
from coach.fingering.choices import (
    Choices,
    Fix,
    FixedFinger,
    FixedLeaving,
    FixedSharing,
    from_json,
    of_note,
    printed,
    that_apply,
    to_json,
    together,
)
from coach.fingering.fixing import fix
from coach.fingering.hand import Hand, Hands
from coach.fingering.plan import PhrasePlan, Plan
from coach.fingering.planner import Options, plan_phrase, plan_piece
from coach.score.piece import Piece

HYMN = chorale("E5 D5 C5 D5 E5:2", "C5 B4 G4 B4 C5:2", "G4 G4 E4 G4 G4:2", "C4 G3 C4 G3 C3:2")


def note(piece: Piece, voice: str, onset: int | Fraction, finger: int) -> FixedFinger:
    found = next(one for one in piece.notes if one.voice == voice and one.onset == onset)
    return of_note(found, finger)


def around(piece: Piece, *fixes: Fix, player: Hands | None = None, **options: object) -> PhrasePlan:
    return plan_phrase(whole(piece), chords(piece), player, Options(choices=fixes, **options))  # type: ignore[arg-type]


def refused(piece: Piece, *fixes: Fix, player: Hands | None = None, **options: object) -> str:
    """The sentence that refuses the last of some choices, the others being made before it."""
    made = Choices(fixes[:-1])
    with pytest.raises(CoachError) as caught:
        fix(piece, [whole(piece)], made, fixes[-1], player, Options(**options))  # type: ignore[arg-type]
    return str(caught.value)


def finger_of(plan: PhrasePlan, voice: str, onset: float) -> int | None:
    return next(n.finger for chord in plan.chords for n in chord.notes if n.voice == voice and n.onset == onset)


# What is chosen is done.


def test_two_voices_on_one_key_have_the_choice_made_for_either_as_their_reason() -> None:
    """A key has one finger, and so one reason (from what a choice is)."""
    piece = chorale("E5 D5 C5", "C5 D5 E5", "G4 G4 G4", "C4 G3 C4")
    plan = around(piece, note(piece, "soprano", 1, 2))
    assert [n.why for n in plan.chords[1].notes if n.midi == 74] == ["your choice", "your choice"]
    assert [n.chosen for n in plan.chords[1].notes if n.midi == 74] == [True, False]


@pytest.mark.parametrize("finger", [2, 3, 4, 5])
def test_a_finger_is_the_players(finger: int) -> None:
    plan = around(HYMN, note(HYMN, "soprano", 1, finger))
    assert finger_of(plan, "soprano", 1) == finger
    marked = [(n.voice, n.onset) for chord in plan.chords for n in chord.notes if n.chosen]
    assert marked == [("soprano", 1.0)]
    assert next(n.why for n in plan.chords[1].notes if n.chosen) == "your choice"


@pytest.mark.parametrize(("right", "left"), [(2, 2), (3, 1), (1, 3)])
def test_a_distribution_is_the_players(right: int, left: int) -> None:
    plan = around(HYMN, FixedSharing(Fraction(2), right, left))
    assert plan.chords[2].distribution == f"{right}+{left}"
    assert [chord.chosen for chord in plan.chords] == [False, False, True, False, False]
    assert plan.chords[2].why == "your choice"


@pytest.mark.parametrize("side", ["right", "left"])
@pytest.mark.parametrize("place", range(4))
def test_a_lift_is_the_players(side: str, place: int) -> None:
    plan = around(HYMN, FixedLeaving(Fraction(place), side, "lift"))  # type: ignore[arg-type]
    part = plan.chords[place].part(side)  # type: ignore[arg-type]
    assert part is not None
    assert (part.after, part.chosen, part.why) == ("lift", True, "lift: your choice")


def test_a_join_is_the_players() -> None:
    melody = on_staves(right=["C4 D4 E4 F5"])
    assert [chord.right and chord.right.after for chord in planned(melody, hands="as-written").chords][2] == "lift"
    plan = around(melody, FixedLeaving(Fraction(2), "right", "join"), hands="as-written")
    assert plan.chords[2].right is not None
    assert plan.chords[2].right.after == "join"


def test_striking_the_same_key_again_is_joining() -> None:
    plan = around(HYMN, FixedLeaving(Fraction(2), "left", "join"))
    assert plan.chords[2].left is not None
    assert plan.chords[2].left.after in ("join", "restrike")


def test_everything_else_is_planned_around_a_choice() -> None:
    """The plan with a choice is a good plan, not the old one with one finger exchanged."""
    melody = on_staves(right=["C4 D4 E4 F4 G4"])
    usual, plan = planned(melody, hands="as-written"), around(melody, note(melody, "voice 1", 2, 1))
    assert fingers(usual, "right")[2] == (3,)
    assert plan.effort >= usual.effort
    assert finger_of(plan, "voice 1", 2) == 1
    as_json = Plan("", "", 1, 208, "ninth", 203.5, "", (plan,)).to_json()
    assert not faults(as_json, melody.notes)


def test_several_choices_hold_together() -> None:
    fixes = (
        note(HYMN, "soprano", 0, 5),
        FixedSharing(Fraction(2), 2, 2),
        FixedLeaving(Fraction(1), "right", "lift"),
        note(HYMN, "bass", 4, 5),
    )
    plan = around(HYMN, *fixes)
    assert finger_of(plan, "soprano", 0) == 5
    assert plan.chords[2].distribution == "2+2"
    assert plan.chords[1].right is not None
    assert plan.chords[1].right.after == "lift"
    assert finger_of(plan, "bass", 4) == 5
    assert not plan.remarks


def test_a_choice_of_what_the_plan_does_anyway_changes_nothing_but_the_mark() -> None:
    usual = around(HYMN)
    finger = finger_of(usual, "soprano", 2)
    assert finger is not None
    plan = around(HYMN, note(HYMN, "soprano", 2, finger))
    assert plan.effort == usual.effort


# What cannot be done is refused, with the reason.


def test_two_keys_for_one_finger() -> None:
    said = refused(HYMN, note(HYMN, "soprano", 1, 4), note(HYMN, "alto", 1, 4))
    assert said == (
        "bar 1, beat 2: 4 on the alto's B is not possible: two keys for one finger with your 4 on the soprano's D"
    )


def test_a_thumb_of_each_hand_is_no_key_too_many() -> None:
    """The thumb on the bass leaves the left hand nothing else: what is in the way is the inner voices."""
    hymn = chorale("D5 D5", "A4 A4", "F#4 F#4", "D4 D4")
    said = refused(hymn, note(hymn, "bass", 0, 1), note(hymn, "soprano", 0, 1))
    assert said == (
        "bar 1, beat 1: 1 on the soprano's D is not possible: with your 1 on the bass's D, "
        "no fingers of the right hand are left for F sharp and A"
    )


def test_two_fingers_for_one_key() -> None:
    unison = chorale("E5 E5", "E5 C5", "G4 G4", "C4 C4")
    assert "two fingers for one key" in refused(unison, note(unison, "soprano", 0, 4), note(unison, "alto", 0, 5))


def test_out_of_reach_for_fingers() -> None:
    octave = in_chords("right", "C4 C5")
    said = refused(octave, note(octave, "voice 1", 0, 3), hands="as-written")
    assert said == (
        "bar 1, beat 1: 3 on voice 1's C is not possible: out of reach: 3-5 of the right hand cannot span C to C"
    )


def test_out_of_reach_for_a_hand() -> None:
    wide = chorale("E5", "C5", "G4", "C3")
    said = refused(wide, FixedSharing(Fraction(0), 2, 2))
    assert said.startswith("bar 1, beat 1: 2+2 is not possible: out of reach: the left hand would have to span C to G")


def test_no_fingers_are_left() -> None:
    triad = in_chords("right", "C4 E4 G4")
    said = refused(triad, note(triad, "voice 3", 0, 2), hands="as-written")
    assert "no fingers of the right hand are left for C and E" in said


def test_a_held_note_keeps_its_hand() -> None:
    held = chorale("E5 D5", "C5 B4", "G4:2", "C4 G3")
    said = refused(held, FixedSharing(Fraction(0), 3, 1), FixedSharing(Fraction(1), 2, 2))
    assert said == "bar 1, beat 2: 2+2 is not possible: it contradicts your 3+1 at bar 1, beat 1"


def test_a_held_note_has_its_finger_already() -> None:
    held = chorale("E5 D5", "C5 B4", "G4:2", "C4 G3")
    tenor = of_note(next(n for n in held.notes if n.voice == "tenor"), 1)
    later = FixedFinger(Fraction(1), "tenor", tenor.key, 2)
    assert "the note is held from bar 1, beat 1" in refused(held, later)


def test_a_hand_that_holds_all_its_notes_cannot_lift() -> None:
    held = on_staves(right=["C5 D5"], left=["C3:2", "G3:2"])
    said = refused(held, FixedLeaving(Fraction(0), "left", "lift"), hands="as-written")
    assert "it holds voice 2's C into the next chord" in said or "it holds voice 3's G" in said


def test_no_fingers_connect_two_octaves() -> None:
    leap = on_staves(right=["C4 C6"])
    said = refused(leap, FixedLeaving(Fraction(0), "right", "join"), hands="as-written")
    assert said.endswith("joining in the right hand is not possible: no fingers connect C to the C 2 octaves up")


def test_a_rest_cannot_be_joined() -> None:
    rest = on_staves(right=["C4:1/2 r:1/2 D4"], left=["C3 D3"])
    said = refused(rest, FixedLeaving(Fraction(0), "right", "join"), hands="as-written")
    assert said.endswith("a rest comes before its next note")


def test_the_end_of_a_phrase_is_a_lift() -> None:
    assert "the phrase ends here" in refused(HYMN, FixedLeaving(Fraction(4), "right", "join"))
    assert not around(HYMN, FixedLeaving(Fraction(4), "right", "lift")).remarks


def test_a_hand_without_notes_neither_lifts_nor_joins() -> None:
    alone = on_staves(right=["C4 D4"])
    said = refused(alone, FixedLeaving(Fraction(0), "left", "lift"), hands="as-written")
    assert "the left hand has nothing to play here" in said


def test_hands_as_written_are_the_staves() -> None:
    score = on_staves(right=["C5", "E5"], left=["C3", "G3"])
    said = refused(score, FixedSharing(Fraction(0), 3, 1), hands="as-written")
    assert "the staves say who plays what" in said


def test_a_distribution_of_more_notes_than_there_are() -> None:
    assert "the hands have 4 notes here" in refused(HYMN, FixedSharing(Fraction(0), 3, 2))


def test_a_place_without_a_chord() -> None:
    with pytest.raises(CoachError, match="no phrase of the piece has a chord there"):
        fix(HYMN, [whole(HYMN)], Choices(), FixedSharing(Fraction(99), 2, 2))
    assert "no chord of this phrase begins there" in refused(HYMN, FixedSharing(Fraction(1, 2), 2, 2))


def test_a_choice_never_costs_a_note() -> None:
    """A hand that could keep to a choice only by rolling, raising or letting go is not made to."""
    wide = chorale("E5 E5", "C5 C5", "G4 G4", "C3 C3")
    plan = around(wide)
    assert all(n.midi == n.written_midi for chord in plan.chords for n in chord.notes)
    with pytest.raises(CoachError):
        fix(wide, [whole(wide)], Choices(), FixedSharing(Fraction(0), 2, 2), None, Options(way_out="roll"))


def test_a_choice_at_a_way_out_leaves_the_way_out_as_it_is() -> None:
    """A tenor that is raised anyway is still raised when the soprano's finger is chosen."""
    raised = chorale("G5", "E5", "E4", "A2")
    usual = around(raised, player=Hands.of_span(190))
    tenor = next(n for n in usual.chords[0].notes if n.voice == "tenor")
    assert tenor.midi == tenor.written_midi + 12
    soprano = next(n for n in usual.chords[0].notes if n.voice == "soprano")
    assert soprano.finger is not None
    plan = around(raised, note(raised, "soprano", 0, soprano.finger), player=Hands.of_span(190))
    assert [n.midi for n in plan.chords[0].notes] == [n.midi for n in usual.chords[0].notes]


# Kept choices and printed fingers.


def test_a_kept_choice_that_another_hand_cannot_do_is_left_out_with_a_remark() -> None:
    wide = chorale("E5", "C5", "G4", "E3")
    fixes = (FixedSharing(Fraction(0), 2, 2),)
    large, small = (Hands(Hand(208), Hand(span)) for span in (240, 180))
    assert around(wide, *fixes, player=large).chords[0].distribution == "2+2"
    plan = plan_piece(wide, [whole(wide)], small, Options(choices=fixes))
    assert plan.phrases[0].chords[0].distribution != "2+2"
    assert plan.remarks[-1].startswith(
        "a choice of yours is left out: bar 1, beat 1: 2+2 is not possible: out of reach"
    )


def test_printed_fingers_are_choices_of_the_page() -> None:
    piece = _with_printed(HYMN, {("soprano", 0): 5, ("soprano", 1): 4})
    plan = around(piece, *printed(piece))
    assert (finger_of(plan, "soprano", 0), finger_of(plan, "soprano", 1)) == (5, 4)
    assert {n.why for chord in plan.chords for n in chord.notes if n.chosen and n.struck} == {"printed in the score"}


def test_printed_fingers_that_no_hand_has_are_left_out_in_one_line() -> None:
    piece = _with_printed(HYMN, {("soprano", 0): 4, ("alto", 0): 4, ("soprano", 3): 3, ("alto", 3): 3, ("tenor", 3): 3})
    plan = plan_piece(piece, [whole(piece)], None, Options(choices=printed(piece)))
    remarks = [remark for remark in plan.remarks if "printed" in remark]
    assert len(remarks) == 1
    assert remarks[0].startswith("3 printed fingers are left out, the first of them: bar 1, beat 1: 4 on the alto's C")
    assert finger_of(plan.phrases[0], "soprano", 0) == 4


def test_the_player_overrules_the_page() -> None:
    piece = _with_printed(HYMN, {("soprano", 1): 4})
    mine = note(piece, "soprano", 1, 3)
    fixes = together([mine], printed(piece))
    assert fixes == (mine,)
    against = _with_printed(HYMN, {("alto", 1): 4})
    plan = around(against, *together([note(against, "soprano", 1, 4)], printed(against)))
    assert finger_of(plan, "soprano", 1) == 4
    assert finger_of(plan, "alto", 1) != 4


def test_only_fingers_apply_to_part_of_a_piece() -> None:
    fixes = (note(HYMN, "soprano", 1, 4), note(HYMN, "alto", 1, 2), FixedSharing(Fraction(1), 2, 2))
    soprano = chorale("E5 D5 C5 D5 E5:2", "r", "r", "r")
    assert that_apply(fixes, soprano) == fixes[:1]


def _with_printed(piece: Piece, fingers_printed: dict[tuple[str, int], int]) -> Piece:
    from dataclasses import replace

    notes = tuple(replace(n, finger=fingers_printed.get((n.voice, int(n.onset)))) for n in piece.notes)
    return replace(piece, notes=notes)


# Choices as values.


A, B = FixedSharing(Fraction(1), 2, 2), FixedLeaving(Fraction(1), "right", "lift")


def test_a_new_choice_takes_the_place_of_the_old_one() -> None:
    other = FixedSharing(Fraction(1), 3, 1)
    assert Choices().fixed(A).fixed(B).fixed(other).fixes == (B, other)


def test_changes_are_taken_back_and_made_again_one_by_one() -> None:
    one = Choices().fixed(A)
    two = one.fixed(B)
    assert two.undone().fixes == (A,)
    assert two.undone().undone().fixes == ()
    assert two.undone().undone().undone().fixes == ()
    assert two.undone().undone().redone().redone().fixes == (A, B)
    assert two.redone() == two


def test_clearing_can_be_taken_back() -> None:
    assert Choices().fixed(A).fixed(B).cleared().undone().fixes == (A, B)


def test_a_new_choice_after_taking_back_starts_another_way() -> None:
    assert Choices().fixed(A).undone().fixed(B).redone().fixes == (B,)


def test_freeing_what_is_not_chosen_is_no_change() -> None:
    choices = Choices().fixed(A)
    assert choices.freed(B.what) == choices


@pytest.mark.parametrize("one", [A, B, FixedFinger(Fraction(5, 3), "voice 5", 61, 4, "printed")])
def test_json_gives_back_an_equal_choice(one: Fix) -> None:
    assert from_json(to_json(one)) == one


@pytest.mark.parametrize(
    "form",
    [["finger", "1", "alto", 60, 6, "player"], ["sharing", "1", 2], ["leaving", "1", "right", "jump"], ["roll", "1"]],
)
def test_damaged_json_is_no_choice(form: list[object]) -> None:
    with pytest.raises(ValueError, match="no choice"):
        from_json(form)
