"""The next-best plans of a phrase."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from passages import chorale, chords, on_staves, whole
from random_phrases import phrases

from coach.fingering.alternatives import alternatives, options_of
from coach.fingering.choices import FixedFinger, FixedLeaving, FixedSharing, of_note
from coach.fingering.hand import Hands
from coach.fingering.planner import Options, plan_phrase
from coach.fingering.search import search_of
from coach.score.piece import Piece

HYMN = chorale("E5 D5 C5 D5 E5:2", "C5 B4 G4 B4 C5:2", "G4 G4 E4 G4 G4:2", "C4 G3 C4 G3 C3:2")


def test_alternatives_differ_from_the_plan_and_from_each_other_where_it_matters() -> None:
    phrase = chords(HYMN)
    usual = plan_phrase(whole(HYMN), phrase)
    found = alternatives(whole(HYMN), phrase, most=6)
    outlines = [
        [
            (
                chord.distribution,
                *(part.after if part else "" for part in (chord.right, chord.left)),
                max((n.midi, n.finger) for n in chord.played_by("right")),
                min((n.midi, n.finger) for n in chord.played_by("left")),
            )
            for chord in plan.chords
        ]
        for plan in [usual, *(one.plan for one in found)]
    ]
    assert len(found) == 6
    for place, outline in enumerate(outlines):
        assert outline not in outlines[:place]


def test_the_best_of_each_kind_is_among_three() -> None:
    kinds = {type(one.fix) for one in alternatives(whole(HYMN), chords(HYMN))}
    assert kinds == {FixedFinger, FixedSharing, FixedLeaving}


def test_no_hand_is_sent_away_for_a_chord() -> None:
    """Four notes that lie in one hand could all be its own: no pianist weighs that."""
    close = chorale("E5 F5", "C5 D5", "A4 A4", "F4 D4")
    found = options_of(search_of(chords(close), Hands(), Options()))
    shared = {one.fix.distribution for one in found if isinstance(one.fix, FixedSharing)}
    assert shared
    assert not shared & {"4+0", "0+4"}


def test_costs_and_gains_account_for_the_difference() -> None:
    phrase = chords(HYMN)
    usual = plan_phrase(whole(HYMN), phrase)
    found = alternatives(whole(HYMN), phrase, most=8)
    assert len(found) == 8
    assert any(one.costs for one in found)
    assert any(one.gains for one in found)
    for one in found:
        assert all(effort > 0 for effort in (*one.costs.values(), *one.gains.values()))
        difference = sum(one.costs.values()) - sum(one.gains.values())
        # Differences too small for a word are left out of the account.
        assert difference == pytest.approx(one.plan.effort - usual.effort, abs=0.1)
        assert one.plan.effort >= usual.effort - 1e-9


def test_they_come_in_order_of_effort() -> None:
    efforts = [one.plan.effort for one in alternatives(whole(HYMN), chords(HYMN), most=8)]
    assert len(efforts) == 8
    assert efforts == sorted(efforts)


def test_making_its_choice_gives_the_alternative() -> None:
    phrase = chords(HYMN)
    found = alternatives(whole(HYMN), phrase, most=5)
    assert len(found) == 5
    for one in found:
        assert plan_phrase(whole(HYMN), phrase, None, Options(choices=(one.fix,))) == one.plan


def test_alternatives_keep_to_what_is_chosen() -> None:
    chosen = (FixedSharing(Fraction(2), 2, 2), of_note(HYMN.notes[0], 5))
    found = alternatives(whole(HYMN), chords(HYMN), None, Options(choices=chosen), most=6)
    assert len(found) == 6
    for one in found:
        assert one.plan.chords[2].distribution == "2+2"
        assert next(n.finger for n in one.plan.chords[0].notes if n.voice == "soprano") == 5
        assert one.fix.what not in {fix.what for fix in chosen}


def test_a_single_note_has_its_next_best_finger_and_nothing_else() -> None:
    single = on_staves(right=["E4"])
    phrase, as_written = chords(single), Options(hands="as-written")
    (only,) = alternatives(whole(single), phrase, None, as_written, most=10)
    efforts = {
        finger: plan_phrase(
            whole(single), phrase, None, replace(as_written, choices=(of_note(single.notes[0], finger),))
        ).effort
        for finger in range(1, 6)
    }
    assert only.plan.effort == sorted(efforts.values())[1]
    assert isinstance(only.fix, FixedFinger)
    assert efforts[only.fix.finger] == only.plan.effort


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(phrases(most_voices=4, most_chords=4))
def test_what_a_choice_would_cost_is_known_before_it_is_made(piece: Piece) -> None:
    """The effort of every option is that of the plan which then honours it: forwards and backwards agree."""
    phrase = chords(piece)
    for option in options_of(search_of(phrase, Hands(), Options()))[:25]:
        plan = plan_phrase(whole(piece), phrase, None, Options(choices=(option.fix,)))
        assert not plan.remarks
        assert plan.effort == pytest.approx(option.effort, abs=1e-5)
