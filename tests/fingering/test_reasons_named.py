"""Reasons name what decides: the fingers, keys and places that another way would cost, and no more than is there."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from named_in_reasons import told, untrue
from passages import chorale, in_chords, on_staves, planned
from random_phrases import phrases

from coach.fingering.finger_reasons import ONLY_WAY
from coach.fingering.plan import PhrasePlan, Side
from coach.fingering.planner import plan_phrase
from coach.fingering.weights import WEIGHTS
from coach.paper.reasons_text import reasons_in
from coach.score.library import open_piece
from coach.score.phrases import find_phrases
from coach.score.piece import Piece, chords_of

CHORALES = ("bwv28.6", "bwv86.6", "bwv244.44", "bwv269", "bwv308", "bwv347", "bwv433")

KINDS = {
    "as good as", "connects", "leaves for", "while it holds", "while it joins", "spans", "cramped", "stays",
    "or before", "one chord", "off", "put on", "stretch on", "have to move",
}  # fmt: skip
"""Of claims that seven chorales make; others are rarer."""


def whys(plan: PhrasePlan, place: int) -> dict[str, str]:
    """Why each struck note of a chord has its finger, by pitch."""
    return {note.pitch: note.why for note in plan.chords[place].notes if note.struck}


def leaving(plan: PhrasePlan, place: int, side: Side = "right") -> str:
    part = plan.chords[place].part(side)
    assert part is not None
    return part.why


# What they name is there.


def test_all_that_reasons_name_in_chorales_is_there(
    request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COACH_HOME", str(request.config.cache.mkdir("coach-home")))  # type: ignore[union-attr]
    seen: Counter[str] = Counter()
    wrong = []
    for name in CHORALES:
        piece = open_piece(f"corpus:bach/{name}")
        for phrase in find_phrases(piece):
            for one in told(plan_phrase(phrase, chords_of(piece, phrase)).chords):
                wrong += untrue(one, seen)
    assert not wrong
    assert set(seen) >= KINDS


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(phrases(most_voices=5, most_chords=8), st.sampled_from(["planned", "as-written"]), st.sampled_from([165, 208]))
def test_and_so_it_is_in_any_phrase(piece: Piece, hands: str, span: float) -> None:
    for one in told(planned(piece, span, hands).chords):  # type: ignore[arg-type]
        assert not untrue(one, Counter())


# Fingers.


def test_a_key_struck_again_with_another_finger_does_not_stay() -> None:
    """3-2-1 on repeated notes (common practice, no source)."""
    plan = planned(on_staves(right=["E5 E5"], length="1/4"), hands="as-written")
    first, again = (chord.notes[0] for chord in plan.chords)
    assert (first.finger or 0) > (again.finger or 0)
    assert "stays" not in again.why


def test_the_hands_reason_for_joining_is_told_once() -> None:
    """4-5 on top connects: the hand says it, and of the finger it is not printed again."""
    plan = planned(chorale("C5 B4 C5", "E4 G4 E4", "G3 D3 G3", "C3 G2 C3"))
    assert leaving(plan, 0) == "5-4 on top connects"
    assert [note.why for chord in plan.chords for note in chord.notes if note.why.startswith("connects 5-4")]
    assert not [line for _, line in reasons_in(plan) if "connects 5-4" in line]
    assert "without a lift" not in " ".join(note.why for chord in plan.chords for note in chord.notes)


def test_an_inner_finger_is_free_while_the_outer_one_holds_its_key() -> None:
    """The hand joins: the little finger is on A until the thumb is down (common practice, no source)."""
    plan = planned(in_chords("left", "A2 A3", "B2 G#3", "C3 A3"), hands="as-written", own_weights=WEIGHTS)
    assert whys(plan, 1)["G#3"] == "in reach while 5 holds A"
    assert whys(plan, 2)["A3"] == "in reach while 4 holds B"


def test_a_held_note_is_compared_through_all_its_chords() -> None:
    """The thumb stays on E while the top goes on: another finger there would stretch the hand later on."""
    plan = planned(on_staves(right=["C5 D5 C5 B4", "E4:2 E4:2"]), hands="as-written", own_weights=WEIGHTS)
    assert whys(plan, 0)["E4"] == "spares a wide stretch (beat 2)"


def test_only_where_no_other_finger_will_do_it_is_said_to_be_the_only_one() -> None:
    """Five keys an octave apart have one fingering, and so have thumb and little finger at the ends of a wide chord."""
    plan = planned(in_chords("left", "A2 C3 E3 A3"), hands="as-written", own_weights=WEIGHTS)
    assert whys(plan, 0)["A3"] == f"{ONLY_WAY}: the hand spans an octave"
    assert whys(plan, 0)["E3"] == "spares a wide stretch"


def test_few_fingers_of_a_chorale_are_the_only_ones(
    request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A note that is held on can mostly be played with another finger all the same."""
    monkeypatch.setenv("COACH_HOME", str(request.config.cache.mkdir("coach-home")))  # type: ignore[union-attr]
    piece = open_piece("corpus:bach/bwv269")
    plans = [plan_phrase(phrase, chords_of(piece, phrase)) for phrase in find_phrases(piece)]
    struck = [note for plan in plans for chord in plan.chords for note in chord.notes if note.struck]
    assert 0 < sum(note.why.startswith(ONLY_WAY) for note in struck) < len(struck) / 10


def test_cramped_fingers_are_named_with_their_keys() -> None:
    plan = planned(in_chords("right", "G4 B4", "A4 C5", "F4 A4", "A4 C5"), hands="as-written", own_weights=WEIGHTS)
    assert whys(plan, 0)["G4"] == "gives room: 1-4 on G and B would be cramped"


def test_a_key_that_keeps_its_finger_is_named_with_it() -> None:
    plan = planned(in_chords("right", "G4 B4", "A4 C5", "F4 A4", "A4 C5"), hands="as-written", own_weights=WEIGHTS)
    assert whys(plan, 1)["C5"] == "so that A keeps its 3"


# Lifts.


def test_a_stretch_that_joining_would_mean_is_named() -> None:
    plan = planned(in_chords("right", "B3 E4 G4 B4", "A3 D4 F#4 A4"), hands="as-written", own_weights=WEIGHTS)
    assert leaving(plan, 0) == "lift: joining would stretch 2-4 on D and A"


def test_lifts_elsewhere_are_named_with_their_places() -> None:
    """Triads going down: joined in twos, whichever."""
    plan = planned(
        in_chords("right", "E4 G4 C5", "D4 F4 B4", "C4 E4 A4", "B3 D4 G4"), hands="as-written", own_weights=WEIGHTS
    )
    assert leaving(plan, 1) == "lift: joining would mean lifts before B (beat 2) and G"


@pytest.mark.parametrize(
    ("side", "chords", "at", "said"),
    [
        ("left", "G3 D4, E3 A3, D3 B3", 1, "here or one chord earlier is alike"),
        ("left", "F3 C#4, E3 G3 G#3, C#4", 0, "here or one chord later is alike"),
        ("left", "A3 C#4 E4, G#3 B3 D4", 0, "joining would be about as easy"),
        ("right", "E4 E4, D4 G#4 B4, E4 A4 C5", 1, "one lift is needed, here or one chord earlier"),
        ("left", "A3 F#4, G#3 B3, E3 C#4", 0, "one lift is needed, here or one chord later"),
        ("left", "A3 D4, G#3, E3 A3, D3 F#3", 0, "one lift is needed, here or before D (beat 4)"),
        ("left", "G3 C4, F#3, E3, F#3, A2", 0, "one lift is needed, here or before A (bar 2, beat 1)"),
        ("left", "G3 A3, F#3 A3, E3 A3, D3 D4, C#3 D4, B2", 2, "the hand follows A to D above"),
        ("left", "C3, C4, A3 E4, E3 B3", 0, "the hand moves from C to the C an octave up"),
        ("right", "D4 G4, C4 A4, D4 B4, E4 C5, F4 D5, G4 E5", 2, "the hand makes ready for E"),
        ("left", "G#3 D4, B3 F#4", 0, "joining would put the thumb on F sharp"),
        ("left", "E3 G#3, D3 F#3, C#3 E3", 1, "joining would put the thumb on G sharp (beat 1)"),
    ],
)
def test_a_lift_says_what_stands_against_joining(side: Side, chords: str, at: int, said: str) -> None:
    """Where little does, or another lift would do as well, that is what is said."""
    plan = planned(in_chords(side, *chords.split(", ")), hands="as-written", own_weights=WEIGHTS)
    assert leaving(plan, at, side) == f"lift: {said}"


# Hands.


@pytest.mark.parametrize(
    ("tenor", "said"),
    [
        ("G3 D4 G3 G3", "for one chord"),
        ("G3 D4 D4 G3", "for two chords"),
        ("G3 D4 D4 D4", ""),
    ],
)
def test_a_voice_that_goes_back_soon_is_taken_for_so_many_chords(tenor: str, said: str) -> None:
    plan = planned(chorale("C5 C5 C5 C5", "E4 E4 E4 E4", tenor, "C3 C3 C3 C3"))
    assert plan.chords[1].why == f"tenor a ninth above the bass: the right hand takes it {said}".rstrip()
