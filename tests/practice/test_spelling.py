"""Fingers typed chord by chord, away from the piano."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from datetime import UTC

import pytest
from hypothesis import given
from hypothesis import strategies as st
from practising import evening, hymn, phrases_of

from coach.errors import CoachError
from coach.fingering.plan import PhrasePlan, PlannedChord, PlannedNote, Side
from coach.practice.log import Log
from coach.practice.passage import passages_of
from coach.practice.spelling import Spelled, Spelling, spelled, spelling_of

Struck = tuple[str, int, Side | None, int | None, bool]


def chord(onset: float, notes: Iterable[Struck]) -> PlannedChord:
    planned = tuple(
        PlannedNote(f"voice {i}", onset, 1.0, pitch, midi, midi, struck, hand, finger)
        for i, (pitch, midi, hand, finger, struck) in enumerate(notes)
    )
    return PlannedChord(onset, 1.0, 1, onset + 1, "3+1", planned, None, None)


PLAN = PhrasePlan(
    1,
    (1, 1),
    0.0,
    3.0,
    "fermata",
    0.0,
    (
        chord(
            0,
            [
                ("E5", 76, "right", 5, True),
                ("C5", 72, "right", 3, True),
                ("G4", 67, "right", 1, True),
                ("C3", 48, "left", 5, True),
            ],
        ),
        # The tenor is held, alto and soprano meet on one key.
        chord(
            1,
            [
                ("D5", 74, "right", 4, True),
                ("D5", 74, "right", 4, True),
                ("G4", 67, "right", 1, False),
                ("G3", 55, "left", 1, True),
                ("B2", 47, "left", 4, True),
            ],
        ),
        # Nothing is struck by the left hand; an omitted note belongs to nobody.
        chord(2, [("C5", 72, "right", 3, True), ("G4", 67, None, None, True), ("B2", 47, "left", 4, False)]),
    ),
)


def test_a_phrase_asks_for_what_is_struck_from_the_top_down_the_right_hand_first() -> None:
    assert [asked.answer for asked in spelling_of(PLAN).chords] == ["531 5", "4 14", "3"]


def test_one_hand_alone_is_asked_only_where_it_strikes() -> None:
    left = spelling_of(PLAN, "left")
    assert [(asked.place, asked.answer) for asked in left.chords] == [(1, "5"), (2, "14")]


@pytest.mark.parametrize("typed", ["531 5", "5315", "135 5", " 5-3-1 | 5", "5 3 1 5"])
def test_fingers_may_be_typed_in_either_direction_and_with_or_without_blanks(typed: str) -> None:
    state = spelling_of(PLAN).typed(typed)
    assert state.answers[0].right


def test_a_wrong_finger_is_wrong_and_the_next_chord_comes_all_the_same() -> None:
    state = spelling_of(PLAN).typed("521 5")
    assert not state.answers[0].right
    assert (state.answers[0].asked, state.answers[0].typed) == ("531 5", "521 5")
    assert state.current == state.chords[1]


def test_the_hands_are_not_mixed_up() -> None:
    assert not spelling_of(PLAN).typed("531 1").answers[0].right
    assert not spelling_of(PLAN).typed("5315").typed("1 44").answers[1].right


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("53", "takes 4 fingers: 3 of the right hand and 1 of the left hand"),
        ("53155", "takes 4 fingers"),
        ("", "takes 4 fingers"),
        ("5316", "is no row of fingers"),
        ("GCE", "is no row of fingers"),
    ],
)
def test_what_is_no_row_of_fingers_is_said_and_nothing_is_counted(typed: str, sentence: str) -> None:
    state = spelling_of(PLAN)
    with pytest.raises(CoachError, match=sentence):
        state.typed(typed)
    assert state.answers == ()


def spell_all(*words: str) -> Spelling:
    state = spelling_of(PLAN)
    for word in words:
        state = state.typed(word)
    return state


def test_after_the_last_chord_there_is_nothing_to_type() -> None:
    state = spell_all("531 5", "4 41", "2")
    assert state.current is None
    assert state.right == 2
    with pytest.raises(CoachError, match="all chords"):
        state.typed("3")


def test_a_hand_with_nothing_to_strike_cannot_be_spelled() -> None:
    lone = PhrasePlan(1, (1, 1), 2.0, 3.0, "", 0.0, PLAN.chords[2:])
    with pytest.raises(CoachError, match="the left hand has nothing to strike"):
        spelling_of(lone, "left")


@given(st.text(max_size=8))
def test_any_text_is_an_answer_or_a_sentence(text: str) -> None:
    state = spelling_of(PLAN)
    with suppress(CoachError):
        state = state.typed(text)
        assert len(state.answers) == 1
    digits = [sign for sign in text if sign in "12345"]
    assert len(state.answers) == 0 or len(digits) == 4


def test_spelling_is_logged_apart_from_playing(log: Log) -> None:
    piece = hymn()
    passage = passages_of(piece, phrases_of(piece))[0]
    log.know(piece, phrases_of(piece))
    done = spelled(spell_all("531 5", "4 14", "2"), passage, piece.title, PLAN, at=evening(0), zone=UTC)
    log.keep_spelling(done)
    log.keep_spelling(done)
    assert log.spellings() == [done]
    assert done.right == 2
    assert log.count() == 0
    assert log.progress(passage).standing is None
    assert Spelled.from_json(done.to_json()) == done
