"""Which hand the page gives each voice to. All common practice, no source."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from passages import chorale, chords, line, on_staves, passage, planned
from random_phrases import phrases

from coach.fingering.as_written import as_written
from coach.fingering.plan import PhrasePlan
from coach.score.piece import SATB, Piece


def choir(**voices: str) -> Piece:
    """Voices on staves of their own, from the top of the page: choir(soprano="G5 A5", voice_5="E5 F5")."""
    return passage(*(line(name.replace("_", " "), text) for name, text in voices.items()))


def right_hand(piece: Piece) -> list[str]:
    """The voices that the right hand takes."""
    return [voice for voice, side in as_written(chords(piece)).voices.items() if side == "right"]


TTBB = choir(tenor="G4 A4 G4", voice_5="E4 F4 E4", bass="C4 C4 C4", voice_6="C3 F3 C3")
SSAA = choir(soprano="G5 A5 G5", voice_5="E5 F5 E5", alto="C5 C5 C5", voice_6="C4 F4 C4")
SSA = choir(soprano="G5 A5 G5", voice_5="E5 F5 E5", alto="C5 C5 B4")
SSATB = choir(soprano="C5 C5", voice_5="G4 A4", alto="E4 F4", tenor="C4 C4", bass="C3 F3")
SATBB = choir(soprano="G4 A4", alto="E4 F4", tenor="C4 C4", bass="A3 A3", voice_5="C3 F2")
SIX = choir(soprano="G5 F5", voice_5="E5 D5", alto="C5 A4", tenor="G4 F4", bass="E4 D4", voice_6="C3 D3")


@pytest.mark.parametrize(
    ("piece", "right"),
    [
        (chorale("G4", "E4", "C4", "C3"), ["soprano", "alto"]),
        (chorale("G4", "C4", "E4", "C3"), ["soprano", "alto"]),
        (TTBB, ["tenor", "voice 5"]),
        (SSAA, ["soprano", "voice 5"]),
        (SSA, ["soprano", "voice 5"]),
        (SSATB, ["soprano", "voice 5", "alto"]),
        (SATBB, ["soprano", "alto"]),
        (SIX, ["soprano", "voice 5", "alto"]),
        (choir(voice_5="C5"), ["voice 5"]),
        (choir(voice_5="C3"), []),
        (choir(tenor="C4", bass="C3"), []),
    ],
)
def test_the_upper_voices_are_the_right_hands(piece: Piece, right: list[str]) -> None:
    """A middle voice goes with the nearer one; soprano and alto of a choir of four stay in the right hand even where
    they cross the tenor or rest."""
    assert sorted(right_hand(piece)) == sorted(right)


def test_staves_for_two_hands_decide() -> None:
    plan = planned(on_staves(right=["C3"], left=["C5", "E4", "C4"]), hands="as-written")
    assert [(note.pitch, note.hand) for note in plan.chords[0].notes] == [
        ("C5", "left"),
        ("E4", "left"),
        ("C4", "left"),
        ("C3", "right"),
    ]


@pytest.mark.parametrize("piece", [TTBB, SSAA, SSA, SSATB])
def test_no_hand_rolls_or_crosses_the_other(piece: Piece) -> None:
    plan = planned(piece, hands="as-written")
    assert not any(note.rolled for chord in plan.chords for note in chord.notes)
    assert not crossed(plan)


@settings(max_examples=100, deadline=None)
@given(phrases(most_voices=7))
def test_choirs_of_any_voices_are_shared_in_half_by_where_they_lie(piece: Piece) -> None:
    heights = {}
    for voice in piece.voices:
        own = [note for note in piece.notes if note.voice == voice]
        heights[voice] = sum(note.midi * note.duration for note in own) / sum(note.duration for note in own)
    order = sorted(heights, key=lambda voice: -heights[voice])
    hands = as_written(chords(piece)).voices
    if set(order) <= set(SATB):
        assert all(hands[voice] == ("right" if voice in SATB[:2] else "left") for voice in order)
        return
    count = list(hands.values()).count("right")
    assert count in (len(order) // 2, (len(order) + 1) // 2)
    for upper, lower in pairwise(order):
        assert hands[upper] == "right" or hands[lower] == "left" or heights[upper] == heights[lower]


def crossed(plan: PhrasePlan) -> bool:
    return any(
        max(note.midi for note in left) > min(note.midi for note in right)
        for chord in plan.chords
        for left, right in [(chord.played_by("left"), chord.played_by("right"))]
        if left and right
    )
