"""Lifts, joins, holds, smears and chords together: decided by the keys, not by the sound. Passages are our own."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st
from takes import Key, events, findings, phrase, played

from coach.listening.expected import expect
from coach.listening.matching import match_take
from coach.listening.touch import Lift, hands_apart, holds, lifts, smears, together

PLAN = phrase("C4.1+E4.3+G4.5 D4.1+F4.2+A4.5, E4.1+G4.2+C5.5", "C3.5 D3.4, E3.3")
STEP = 0.6


def take(gap: float, of: Sequence[str] = ("D4", "F4", "A4")) -> list[Key]:
    """The plan played with keys of the right hand's second chord released `gap` seconds before the third."""
    keys = played("C4+E4+G4+C3 D4+F4+A4+D3 E4+G4+C5+E3", STEP)
    return [Key(k.pitch, k.press, 2 * STEP - gap) if k.pitch in of and k.press == STEP else k for k in keys]


def right_lift(keys: list[Key], pedal: Sequence[tuple[float, int]] = ()) -> Lift:
    match = match_take(expect([PLAN]), events(keys, pedal))
    return next(lift for lift in lifts(match) if lift.hand == "right" and lift.chord == 1)


@pytest.mark.parametrize("gap", [0.06, 0.1, 0.25, 0.5])
def test_a_planned_lift_is_seen_and_measured(gap: float) -> None:
    lift = right_lift(take(gap))
    assert lift.planned
    assert lift.seen
    assert lift.gap == pytest.approx(gap)


@given(st.floats(-0.2, 0.5))
def test_a_lift_is_what_leaves_all_keys_up(gap: float) -> None:
    """The measured gap is the time between the last key's release and the next press, to the microsecond."""
    lift = right_lift(take(gap))
    assert lift.gap == pytest.approx(gap, abs=1e-6)
    if abs(gap - 0.03) > 1e-6:
        assert lift.seen == (gap >= 0.03)


def test_one_key_left_down_is_no_lift() -> None:
    assert right_lift(take(0.2, of=("D4", "A4"))).seen is False


def test_the_other_hand_does_not_matter() -> None:
    """The left hand stays on its keys; the right hand has lifted all the same."""
    assert right_lift(take(0.2)).seen is True


def test_the_pedal_hides_nothing_and_is_reported() -> None:
    """With the sustain pedal down through the gap the ear hears no lift, the keys say there was one."""
    lift = right_lift(take(0.2), pedal=[(0.9, 127), (1.5, 0)])
    assert lift.seen
    assert lift.pedal
    assert not right_lift(take(0.2), pedal=[(0.9, 63)]).pedal
    assert not right_lift(take(0.2), pedal=[(0.9, 127), (1.05, 0)]).pedal
    assert not right_lift(take(0.2), pedal=[(1.1, 127)]).pedal


def join(release: float) -> Lift:
    """The first chord's top note released at a time; the second chord is struck at 0.6."""
    keys = [
        Key(k.pitch, k.press, release) if k.pitch == "G4" and k.press == 0.0 else k
        for k in played("C4+E4+G4+C3 D4+F4+A4+D3 E4+G4+C5+E3", STEP)
    ]
    match = match_take(expect([PLAN]), events(keys))
    return next(lift for lift in lifts(match) if lift.hand == "right" and lift.chord == 0)


def test_a_join_is_the_outer_voice_connecting() -> None:
    assert join(0.65).joined
    assert join(0.65).gap == pytest.approx(-0.05)
    broken = join(0.45)
    assert broken.joined is False
    assert broken.gap == pytest.approx(0.15)
    assert broken.seen is False


def test_the_outer_voice_of_the_left_hand_is_its_lowest() -> None:
    plan = phrase("", "C3.5+G3.1 D3.4+A3.1 E3.3+B3.1")
    keys = [Key(k.pitch, k.press, 0.4) if k.pitch == "G3" else k for k in played("C3+G3 D3+A3 E3+B3", STEP)]
    first = lifts(match_take(expect([plan]), events(keys)))[0]
    assert first.joined


def test_a_lift_where_none_was_planned_is_seen() -> None:
    keys = [
        Key(k.pitch, k.press, 0.45) if k.press == 0.0 else k
        for k in played("C4+E4+G4+C3 D4+F4+A4+D3 E4+G4+C5+E3", STEP)
    ]
    first = next(
        lift for lift in lifts(match_take(expect([PLAN]), events(keys))) if lift.hand == "right" and not lift.chord
    )
    assert not first.planned
    assert first.seen


HELD = phrase("C4.1+E4.3 C4~+F4.4 C4~+G4.5, D4.1+F4.3", "C3.5 A2.5 G2.5 D3.2")


def held(release: float) -> tuple[bool, float]:
    """C4 is to sound through three chords of 0.6 s; it is released at a time."""
    keys = [*played("E4+C3 F4+A2 G4+G2 D4+F4+D3", STEP), Key("C4", 0.0, release)]
    (hold,) = holds(match_take(expect([HELD]), events(keys)))
    return hold.kept, hold.short


def test_a_note_let_go_while_others_move_is_noticed() -> None:
    kept, short = held(0.9)
    assert not kept
    assert short == pytest.approx(0.9, abs=0.01)


@pytest.mark.parametrize("release", [1.5, 1.7, 1.85])
def test_a_note_held_into_its_last_chord_is_kept(release: float) -> None:
    """A lift after the last chord takes its time from that chord."""
    assert held(release)[0]


@pytest.mark.parametrize(("release", "kept"), [(1.30, False), (1.34, True)])
def test_where_the_hand_connects_a_held_note_sounds_into_its_last_chord(release: float, kept: bool) -> None:
    """The last chord under it is struck at 1.2 s and left at 1.8 s; 30 ms are allowed (common practice, no source)."""
    plan = phrase("C4.1+E4.3 C4~+F4.4 C4~+G4.5 D4.1+A4.5", "C3.5 A2.5 G2.5 D3.2")
    keys = [*played("E4+C3 F4+A2 G4+G2 D4+A4+D3", STEP), Key("C4", 0.0, release)]
    (hold,) = holds(match_take(expect([plan]), events(keys)))
    assert hold.kept is kept


def test_a_held_note_struck_again_by_another_voice_need_not_be_kept() -> None:
    """The alto comes to the key that the soprano holds: the key must come up."""
    plan = phrase("E4.3+G4.5 E4.2+G4~ E4.2+G4~", "C3.5 G3.1 C3.5")
    keys = played("E4+C3 E4+G3 E4+C3", STEP)
    keys = [Key(k.pitch, k.press, k.release - 0.1) for k in keys] + [Key("G4", 0.0, 1.8)]
    assert all(hold.kept for hold in holds(match_take(expect([plan]), events(keys))))


def test_a_stroke_that_bounces_is_still_held() -> None:
    keys = [*played("E4+C3 F4+A2 G4+G2 D4+F4+D3", STEP), Key("C4", 0.0, 0.07), Key("C4", 0.1, 1.75)]
    (hold,) = holds(match_take(expect([HELD]), events(keys)))
    assert hold.kept


def test_a_note_left_down_into_the_next_chord_is_a_smear() -> None:
    keys = [
        Key(k.pitch, k.press, 1.05) if k.pitch == "E4" and k.press == 0.0 else k
        for k in played("C4+E4+G4+C3 D4+F4+A4+D3 E4+G4+C5+E3", STEP)
    ]
    (smear,) = smears(match_take(expect([PLAN]), events(keys)))
    assert smear.into == 1
    assert smear.over == pytest.approx(0.45)


@pytest.mark.parametrize(
    ("step", "over", "smeared"),
    [
        (0.6, 0.22, False),
        (0.6, 0.26, True),
        (1.0, 0.38, False),
        (1.0, 0.42, True),
        (0.3, 0.14, False),
        (0.3, 0.16, True),
    ],
)
def test_a_note_may_stay_down_through_two_fifths_of_the_next_chord(step: float, over: float, smeared: bool) -> None:
    """Common practice, no source; in quick chords for 0.15 s all the same, above all legato overlaps (Repp 1995)."""
    keys = [
        Key(k.pitch, k.press, step + over) if k.pitch == "E4" and k.press == 0.0 else k
        for k in played("C4+E4+G4+C3 D4+F4+A4+D3 E4+G4+C5+E3", step)
    ]
    assert [smear.into for smear in smears(match_take(expect([PLAN]), events(keys)))] == [1] * smeared


def test_legato_overlaps_are_no_smears() -> None:
    """Repp (1995) measured overlaps up to about 100 ms in legato playing."""
    keys = [Key(k.pitch, k.press, k.release + 0.08) for k in played("C4+E4+G4+C3 D4+F4+A4+D3 E4+G4+C5+E3", STEP)]
    assert smears(match_take(expect([PLAN]), events(keys))) == ()


def test_a_key_that_never_came_up_is_one_smear() -> None:
    keys = events(played("C4+E4+G4+C3 D4+F4+A4+D3 E4+G4+C5+E3", STEP))
    stuck = [event for event in keys if not (event.kind == "release" and event.key == 48)]
    found = smears(match_take(expect([PLAN]), stuck))
    assert [smear.into for smear in found] == [1]


def test_the_spread_of_a_chord_and_who_led() -> None:
    plan = phrase("C4.1+E4.3+G4.5", "C3.5")
    keys = [Key("G4", 0.0, 0.5), Key("C4", 0.02, 0.5), Key("E4", 0.025, 0.5), Key("C3", 0.09, 0.5)]
    match = match_take(expect([plan]), events(keys))
    (one,) = together(match)
    assert one.spread == pytest.approx(0.09)
    assert one.first is not None
    assert one.last is not None
    assert match.expected.notes[one.first].voice == "soprano"
    assert match.expected.notes[one.last].voice == "bass"


def test_what_was_found_names_the_pedal() -> None:
    found = findings(PLAN, take(0.2), pedal=[(0.3, 127), (0.9, 0), (1.3, 100), (1.5, 20)])
    assert found.pedal.presses == 2
    assert found.pedal.share == pytest.approx(0.8 / 1.82, abs=0.02)


def test_a_hand_that_is_ahead_is_measured() -> None:
    keys = [Key(k.pitch, k.press - 0.05 * (k.pitch[-1] == "3"), k.release) for k in take(0.2)]
    match = match_take(expect([PLAN]), events(keys))
    assert hands_apart(match) == pytest.approx(0.05)
    assert hands_apart(match_take(expect([PLAN], "left"), events(played("C3 D3 E3")))) is None


def test_a_planned_lift_may_hold_a_note_on() -> None:
    """The top breathes over a held note: the other keys of the hand come up (common practice, no source)."""
    plan = phrase("C4.1+G4.4 C4~+A4.5, C4~+C5.5", "C3.5 F3.2 E3.3")
    for release, seen in ((1.05, True), (1.22, False)):
        keys = [*played("G4+C3 - C5+E3", STEP), Key("C4", 0.0, 1.8), Key("A4", 0.6, release), Key("F3", 0.6, 1.22)]
        match = match_take(expect([plan]), events(keys))
        lift = next(lift for lift in lifts(match) if lift.hand == "right" and lift.chord == 1)
        assert lift.planned
        assert lift.seen is seen
