"""A choice is honoured or refused, never bent: random choices in random phrases against every plan there is."""

from __future__ import annotations

import numpy as np
import pytest
from chosen_plans import ChosenPlans
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from passages import chords, whole
from plan_checker import Player, faults
from random_phrases import phrases

from coach.fingering.choices import Fix, FixedFinger, FixedLeaving, FixedSharing, of_note
from coach.fingering.hand import Hands
from coach.fingering.plan import SIDES, PhrasePlan, Plan
from coach.fingering.planner import Options, plan_phrase
from coach.fingering.search import search_of
from coach.fingering.settling import settle
from coach.score.piece import Chord, Piece

PATIENT = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])

SPANS = st.sampled_from([165.0, 190.0, 208.0, 226.0])


@st.composite
def choices_in(draw: st.DrawFn, phrase: tuple[Chord, ...], most: int = 2) -> list[Fix]:
    """Some choices for the chords of a phrase, sensible or not."""
    found: dict[object, Fix] = {}
    for _ in range(draw(st.integers(1, most))):
        chord = draw(st.sampled_from(phrase))
        kind = draw(st.sampled_from(["finger", "finger", "sharing", "leaving"]))
        fix: Fix
        if kind == "finger":
            fix = of_note(draw(st.sampled_from(chord.struck)), draw(st.integers(1, 5)))
        elif kind == "sharing":
            right = draw(st.integers(0, len(chord.notes)))
            fix = FixedSharing(chord.onset, right, len(chord.notes) - right)
        else:
            fix = FixedLeaving(chord.onset, draw(st.sampled_from(SIDES)), draw(st.sampled_from(["lift", "join"])))
        found[fix.what] = fix
    return list(found.values())


def honours(plan: PhrasePlan, fix: Fix) -> bool:
    """Whether a plan does what was chosen, read off the plan alone."""
    chord = next(chord for chord in plan.chords if chord.onset == float(fix.onset))
    if isinstance(fix, FixedSharing):
        return chord.distribution == fix.distribution and chord.chosen
    if isinstance(fix, FixedLeaving):
        part = chord.part(fix.side)
        wanted = ("lift", "end") if fix.after == "lift" else ("join", "restrike")
        return part is not None and part.after in wanted and part.chosen
    assert isinstance(fix, FixedFinger)
    return any(
        (n.voice, n.written_midi, n.finger, n.struck, n.chosen) == (fix.voice, fix.key, fix.finger, True, True)
        for n in chord.notes
    )


def ways_out(plan: PhrasePlan) -> list[int]:
    """For each chord how many notes are raised, left out, let go or rolled in it."""
    counts = []
    gone: set[tuple[str, float, int]] = set()
    for chord in plan.chords:
        count = 0
        for n in chord.notes:
            name = n.voice, n.onset, n.written_midi
            count += n.struck and n.midi != n.written_midi
            count += n.hand is None and name not in gone
            if n.hand is None:
                gone.add(name)
        counts.append(count + len({n.hand for n in chord.notes if n.rolled}))
    return counts


def check(piece: Piece, fixes: list[Fix], hands: Hands, options: Options) -> None:
    phrase = chords(piece)
    search = search_of(phrase, hands, options)
    settled = settle(search, fixes)
    assert {*settled.honoured} | {fix for fix, _ in settled.refused} == {*fixes}
    usual = plan_phrase(whole(piece), phrase, hands, options)
    plan = plan_phrase(whole(piece), phrase, hands, Options(options.hands, options.way_out, choices=tuple(fixes)))
    for fix in settled.honoured:
        assert honours(plan, fix)
    assert plan.effort >= usual.effort - 1e-6
    assert all(now <= before for now, before in zip(ways_out(plan), ways_out(usual), strict=True))
    whole_plan = Plan("", "", 1, hands.right.span_mm, "", hands.right.reach_mm, "", (plan,))
    player = Player(hands.right.span_mm, hands.left.span_mm)
    assert faults(whole_plan.to_json(), piece.notes, as_written=options.as_written, player=player) == []
    # The plan is the lightest that honours them, and what was refused no plan honours.
    everything = ChosenPlans(phrase, hands, options, settled.honoured)
    assert plan.effort == pytest.approx(everything.least(), abs=1e-5)
    before: list[Fix] = []
    for fix in fixes:
        if fix in settled.honoured:
            before.append(fix)
            continue
        assert ChosenPlans(phrase, hands, options, [*before, fix]).least() == np.inf
        why = next(said for refused, said in settled.refused if refused == fix)
        assert "is not possible: " in why
        assert "\n" not in why


@PATIENT
@given(st.data(), phrases(most_voices=4, most_chords=3), SPANS, st.sampled_from(["raise", "roll", "omit"]))
def test_choices_of_two_hands_are_honoured_or_refused(
    st_data: st.DataObject, piece: Piece, span: float, way: str
) -> None:
    fixes = st_data.draw(choices_in(chords(piece)))
    check(piece, fixes, Hands.of_span(span), Options(way_out=way))  # type: ignore[arg-type]


@PATIENT
@given(st.data(), phrases(staves=True, most_voices=4, most_chords=3), SPANS)
def test_choices_of_hands_as_written_are_honoured_or_refused(st_data: st.DataObject, piece: Piece, span: float) -> None:
    fixes = st_data.draw(choices_in(chords(piece)))
    check(piece, fixes, Hands.of_span(span), Options(hands="as-written"))
