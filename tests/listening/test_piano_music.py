"""Matching holds on music that is not a chorale: running quavers, repeated chords, ornaments.

Scores: public-domain editions on two staves (see tests/data). Takes: an invented pianist of the tests' own, whose
tempo wanders, whose hands drift apart, and who ornaments. One take is a recording, where the bench dependencies are
installed.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from expressive import Freedom, play
from real_take import mozart

from coach.fingering.planner import Options, plan_piece
from coach.listening.expected import Expected, expect
from coach.listening.matching import match_take
from coach.score.library import open_piece
from coach.score.phrases import find_phrases

DATA = Path(__file__).parent.parent / "data" / "fingerings"

PIECES = {
    "running quavers in turn": "burgmuller-op100-1",
    "repeated chords": "burgmuller-op100-11",
    "off-beat chords and slurs": "burgmuller-op100-13",
    "melody over triplets": "schumann-op15-1",
    "four parts at the piano": "tchaikovsky-op39-1",
}


def expected_of(name: str) -> Expected:
    piece = open_piece(str(DATA / f"{name}.musicxml"))
    return expect(plan_piece(piece, find_phrases(piece), options=Options(hands="as-written")).phrases)


def f_measure(expected: Expected, seed: int, freedom: Freedom) -> float:
    events, truth = play(expected, seed, freedom)
    match = match_take(expected, events)

    def key(number: int) -> tuple[int, int]:
        return expected.notes[number].chord, expected.notes[number].midi

    true = {(press, key(number)) for press, number in enumerate(truth) if number is not None}
    found = {(press, key(number)) for number, press in match.played.items()}
    return 2 * len(true & found) / (len(true) + len(found))


@pytest.mark.parametrize("name", PIECES.values(), ids=PIECES.keys())
def test_notes_are_found_in_piano_music(name: str) -> None:
    expected = expected_of(name)
    measured = [f_measure(expected, seed, Freedom()) for seed in range(3)]
    assert min(measured) > 0.985
    assert sum(measured) / len(measured) > 0.99


def test_very_free_playing_is_followed() -> None:
    """Hands a tenth of a second apart and more, and a tempo that changes by half: never lost."""
    expected = expected_of("burgmuller-op100-1")
    for seed in range(3):
        assert f_measure(expected, seed, Freedom(drift=0.08, rubato=0.15)) > 0.97


def test_a_recording_is_matched_as_its_listener_did() -> None:
    """The alignment was made by hand (see `real_take`)."""
    pytest.importorskip("parangonar")
    take = mozart()
    match = match_take(take.expected, take.events)
    notes = match.expected.notes
    found = {(notes[number].onset, notes[number].midi, press) for number, press in match.played.items()}
    assert found == take.true
