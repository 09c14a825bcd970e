"""What a plan leads the listener to expect."""

from __future__ import annotations

from dataclasses import replace

from takes import note_named, phrase

from coach.listening.expected import expect

PLAN = phrase("C4.1+E4.3 C4~+F4.4, D4.1+G4.5", "C3.5 A2.5 G2.5")


def test_a_held_note_is_struck_once_and_sounds_through() -> None:
    expected = expect([PLAN])
    held = expected.notes[note_named(expected, 0, "C4")]
    assert held.last == 1
    assert [note.pitch for note in expected.struck(1)] == ["F4", "A2"]
    assert [expected.notes[number].pitch for number in expected.chords[1].held] == ["C4"]


def test_a_hand_leaves_each_chord_as_planned() -> None:
    expected = expect([PLAN])
    right = [chord.leaving["right"] for chord in expected.chords]
    assert [leaving.after for leaving in right] == ["join", "lift", "end"]
    assert [leaving.following for leaving in right] == [1, 2, None]


def test_a_hand_that_holds_while_the_other_moves_is_left_at_the_later_chord() -> None:
    """The right hand strikes the first and the third chord and holds through the second; it lifts after that."""
    plan = phrase("C4.1+E4.3 C4~+E4~, D4.1+F4.3", "C3.5 B2.4 A2.3")
    leaving = expect([plan]).chords[0].leaving["right"]
    assert (leaving.after, leaving.onset, leaving.bar, leaving.following) == ("lift", 1.0, 2, 2)


def test_one_hand_is_asked_for_its_own_chords_only() -> None:
    plan = phrase("C4.1+E4.3 C4~+E4~, D4.1+F4.3", "C3.5 B2.4 A2.3")
    expected = expect([plan], "right")
    assert [chord.place for chord in expected.chords] == [1, 3]
    assert {note.hand for note in expected.notes} == {"right"}
    assert expected.notes[note_named(expected, 0, "C4")].last == 0
    leaving = expected.chords[0].leaving["right"]
    assert (leaving.after, leaving.onset, leaving.following) == ("lift", 1.0, 1)


def test_an_omitted_note_is_expected_of_both_hands_but_of_neither_alone() -> None:
    first = PLAN.chords[0]
    without = tuple(replace(n, hand=None, finger=None) if n.pitch == "E4" else n for n in first.notes)
    plan = replace(PLAN, chords=(replace(first, notes=without), *PLAN.chords[1:]))
    both = expect([plan])
    assert both.notes[note_named(both, 0, "E4")].optional
    assert "E4" not in [note.pitch for note in expect([plan], "right").notes]


def test_a_note_let_go_early_is_held_as_far_as_the_plan_says() -> None:
    plan = phrase("C4.1+E4.3 C4~+F4.4 C4~+G4.5", "C3.5 A2.5 G2.5")
    let_go = tuple(replace(n, hand=None, finger=None) if n.pitch == "C4" else n for n in plan.chords[2].notes)
    plan = replace(plan, chords=(*plan.chords[:2], replace(plan.chords[2], notes=let_go)))
    expected = expect([plan])
    assert expected.notes[note_named(expected, 0, "C4")].last == 1


def test_phrases_follow_one_another() -> None:
    second = phrase("E4.1 F4.2", number=2, onset=3.0)
    expected = expect([PLAN, second])
    assert expected.starts == (0, 3)
    assert expected.range_of(2) == range(3, 5)
    assert expected.chords[2].leaving["right"].following == 3
