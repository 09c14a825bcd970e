"""The JSON form of a plan: whole, stable and readable back."""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from passages import chorale, line, on_staves, passage, planned, whole
from random_phrases import phrases

from coach.errors import CoachError
from coach.fingering.hand import Hand, Hands
from coach.fingering.plan import Plan
from coach.fingering.planner import Options, plan_piece
from coach.score.piece import Phrase, Piece


def plan_of(piece: Piece, options: Options | None = None, hands: Hands | None = None) -> Plan:
    return plan_piece(piece, [whole(piece)], hands, options)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(phrases(most_voices=5, most_chords=5), st.booleans(), st.booleans())
def test_a_plan_comes_back_from_json_as_it_was(piece: Piece, as_written: bool, pedal: bool) -> None:
    plan = plan_of(piece, Options(hands="as-written" if as_written else "planned", pedal=pedal))
    form = json.loads(json.dumps(plan.to_json()))
    back = Plan.from_json(form)
    assert back == plan
    assert back.to_json() == plan.to_json()


def test_the_json_holds_the_fields_of_the_contract() -> None:
    """Fields may be added; these keep their names and their kinds."""
    form = json.loads(json.dumps(plan_of(chorale("E5 D5 C5", "C5 B4 G4:1", "G4:2 E4", "C3 G3 C3")).to_json()))
    assert form["piece"] == {"title": "a passage", "source": "a test", "voices": 4}
    assert form["hand"] == {"span_mm": 208, "reach": "ninth", "reach_mm": 203.5}
    has(form, effort=float, phrases=list)
    phrase = form["phrases"][0]
    has(phrase, number=int, bars=list, onset=float, end=float, why_it_ends=str, chords=list)
    assert phrase["bars"] == [1, 1]
    for chord in phrase["chords"]:
        has(
            chord, onset=float, duration=float, bar=int, beat=float, distribution=str, notes=list, right=dict, left=dict
        )
        for side in ("right", "left"):
            has(chord[side], after=str, group=int, why=str)
            assert chord[side]["after"] in ("join", "restrike", "lift", "end")
        for note in chord["notes"]:
            has(note, voice=str, onset=float, duration=float, pitch=str, midi=int, written_midi=int, struck=bool)
            has(note, hand=str, finger=int, why=str)


def has(form: dict[str, Any], **kinds: type) -> None:
    for name, kind in kinds.items():
        assert type(form[name]) is kind, f"{name} is {form[name]!r}"


def test_a_held_note_stands_in_each_chord_it_sounds_through() -> None:
    plan = plan_of(passage(line("soprano", "C5 D5 E5"), line("bass", "C3:3")))
    bass = [next(note for note in chord.notes if note.voice == "bass") for chord in plan.chords()]
    assert [note.struck for note in bass] == [True, False, False]
    assert {(note.onset, note.duration) for note in bass} == {(0.0, 3.0)}


def test_a_hand_with_nothing_to_play_is_null() -> None:
    form = plan_of(on_staves(right=["C5 D5"], left=["C3:1"]), Options(hands="as-written")).to_json()
    first, second = form["phrases"][0]["chords"]
    assert first["left"]["after"] == "lift"
    assert second["left"] is None
    assert second["right"]["after"] == "end"
    assert second["distribution"] == "1+0"


def test_the_effort_is_the_sum_of_its_terms() -> None:
    """Every term that costs something is told, and nothing else costs."""
    plan = plan_of(chorale("E5 D5 C5 B4", "C5 B4 G4 G4", "G4:2 E4 D4", "C3 G3 C3 G2"))
    for phrase in plan.phrases:
        assert phrase.effort == pytest.approx(sum(phrase.terms.values()), abs=1e-4)
        assert all(part >= 0 for part in phrase.terms.values())
    assert plan.effort == pytest.approx(sum(phrase.effort for phrase in plan.phrases))


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(phrases(most_voices=5, most_chords=5), st.booleans())
def test_no_effort_is_left_without_a_name(piece: Piece, as_written: bool) -> None:
    plan = planned(piece, 208, "as-written" if as_written else "planned")
    assert plan.effort == pytest.approx(sum(plan.terms.values()), abs=1e-4)


def test_hands_that_differ_are_told_by_the_smaller_one() -> None:
    plan = plan_of(chorale("E5", "C5", "G4", "C3"), hands=Hands(Hand(220), Hand(190)))
    assert (plan.span_mm, plan.reach, plan.reach_mm) == (190, "octave", 185.5)


def test_a_piece_without_notes_is_refused_in_one_sentence() -> None:
    piece = Piece("Silence", "a test", (), (), ())
    with pytest.raises(CoachError, match="no notes"):
        plan_piece(piece, [Phrase(1, Fraction(0), Fraction(4), "end of the piece")])
