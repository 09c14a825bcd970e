"""Plans of random phrases, looked over by a checker that shares no code with the planner."""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from passages import whole
from plan_checker import faults
from random_phrases import phrases
from ruler import Player

from coach.fingering.hand import Hand, Hands
from coach.fingering.keyboard import OCTAVES_MM, Keyboard
from coach.fingering.planner import Options, plan_piece
from coach.score.piece import Piece

SPANS = st.sampled_from([150.0, 165.0, 190.0, 208.0, 226.0, 260.0])

OCTAVES = st.sampled_from(sorted(OCTAVES_MM.values()))

PATIENT = settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def look_over(piece: Piece, right: float, left: float, octave: float, options: Options) -> None:
    hands = Hands(Hand(right), Hand(left), Keyboard(octave))
    plan = plan_piece(piece, [whole(piece)], hands, options)
    player = Player(right, left, octave)
    assert faults(plan.to_json(), piece.notes, as_written=options.as_written, player=player) == []


@PATIENT
@given(phrases(most_voices=7, most_chords=6), SPANS, SPANS, OCTAVES, st.sampled_from(["raise", "roll", "omit"]))
def test_two_hands_can_play_what_is_planned(
    piece: Piece, right: float, left: float, octave: float, way_out: str
) -> None:
    look_over(piece, right, left, octave, Options(way_out=way_out))  # type: ignore[arg-type]


@PATIENT
@given(phrases(staves=True, most_voices=7, most_chords=6), SPANS, SPANS, OCTAVES)
def test_hands_as_written_can_play_what_is_planned(piece: Piece, right: float, left: float, octave: float) -> None:
    look_over(piece, right, left, octave, Options(hands="as-written"))
