"""Plans for the player's own hands: small and large, each apart, relaxed and wide, on narrow keyboards."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from passages import chorale, chords, on_staves, whole
from plan_checker import Player, faults
from random_phrases import phrases

from coach.fingering.hand import Hand, Hands
from coach.fingering.keyboard import OCTAVES_MM, Keyboard
from coach.fingering.plan import SIDES, Plan
from coach.fingering.planner import Options, plan_phrase, plan_piece
from coach.fingering.search import Search
from coach.score.library import open_piece
from coach.score.phrases import find_phrases
from coach.score.piece import Piece

PIECES = ("before-the-tide", "between-two-banks", "the-bell-above-the-reeds", "wide-water")


@pytest.fixture(autouse=True)
def _a_home_of_its_own(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path_factory.getbasetemp() / "hands"))


def plans(span: float) -> list[tuple[Piece, Plan]]:
    pieces = [open_piece(name) for name in PIECES]
    return [(piece, plan_piece(piece, find_phrases(piece), Hands.of_span(span))) for piece in pieces]


def lifts(plan: Plan) -> int:
    """Lifts inside phrases."""
    parts = [chord.part(side) for chord in plan.chords() for side in SIDES]
    return sum(part is not None and part.after == "lift" for part in parts)


def ways_out(plan: Plan) -> int:
    notes = [note for chord in plan.chords() for note in chord.notes if note.struck]
    return sum(note.hand is None or note.rolled or note.midi != note.written_midi for note in notes)


def test_a_small_hand_lifts_and_raises_more_and_is_never_asked_to_overreach() -> None:
    found = {span: plans(span) for span in (165, 230)}
    small, large = (sum(lifts(plan) for _, plan in found[span]) for span in (165, 230))
    assert small > large
    raised, none = (sum(ways_out(plan) for _, plan in found[span]) for span in (165, 230))
    assert raised > none
    for span, planned in found.items():
        for piece, plan in planned:
            assert faults(plan.to_json(), piece.notes, player=Player(span, span)) == []


def test_each_hand_has_its_own_reach() -> None:
    """A tenor a tenth from the bass and a tenth from the soprano: the hand that reaches it takes it."""
    tenth = chorale("G5", "E5", "E4", "C3")
    distributions = {
        (right, left): plan_phrase(whole(tenth), chords(tenth), Hands(Hand(right), Hand(left))).chords[0].distribution
        for right, left in ((150, 290), (290, 150))
    }
    assert distributions[290, 150] == "3+1"
    assert distributions[150, 290] == "2+2"


def test_a_narrow_keyboard_lets_the_same_hand_reach_further() -> None:
    tenth = on_staves(right=["C4", "E5"])
    rolled = {
        name: any(
            note.rolled
            for note in plan_phrase(
                whole(tenth), chords(tenth), Hands(Hand(205), Hand(205), Keyboard(octave)), Options(hands="as-written")
            )
            .chords[0]
            .notes
        )
        for name, octave in OCTAVES_MM.items()
    }
    assert rolled == {"6.5 in": True, "6.0 in": False, "5.5 in": False}


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(phrases(most_voices=4, most_chords=4), st.sampled_from([170.0, 190.0, 208.0, 226.0]), st.booleans())
def test_who_likes_to_stretch_never_takes_more_effort(piece: Piece, span: float, as_written: bool) -> None:
    phrase = chords(piece)
    options = Options(hands="as-written" if as_written else "planned")
    relaxed, normal, wide = (
        Search(phrase, Hands(Hand(span, comfort), Hand(span, comfort)), options).best()[0]
        for comfort in (0.9, 1.0, 1.1)
    )
    assert wide <= normal + 1e-9
    assert normal <= relaxed + 1e-9


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(phrases(most_voices=4, most_chords=3), st.floats(160, 230), st.floats(1, 40))
def test_one_larger_hand_is_enough_to_take_no_more_effort(piece: Piece, span: float, more: float) -> None:
    """Where no way out is needed, as for both hands together."""
    phrase = chords(piece)
    small, choices = Search(phrase, Hands.of_span(span), Options()).best()
    assume(not any(choice.deal.ways_out for choice in choices))
    for hands in (Hands(Hand(span + more), Hand(span)), Hands(Hand(span), Hand(span + more))):
        assert Search(phrase, hands, Options()).best()[0] <= small + 1e-9
