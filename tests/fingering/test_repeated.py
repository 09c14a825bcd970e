"""Which phrases have another one's notes. The tune is our own."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from passages import chorale

from coach.fingering.choices import FixedFinger, FixedLeaving, FixedSharing, moved
from coach.fingering.repeated import where_again
from coach.score.phrases import cut
from coach.score.piece import Piece

TUNE = chorale(
    "E5 D5 C5:2 G5 A5 G5:2 E5 D5 C5:2 E5 D5 C5:2",
    "C5 B4 G4:2 C5 C5 C5:2 C5 B4 G4:2 C5 B4 G4:2",
    "G4 G4 E4:2 E4 F4 E4:2 G4 G4 E4:2 G4 G4 E4:2",
    "C4 G3 C4:2 C4 F3 C4:2 C4 G3 C4:2 C4 G3 A3:2",
)
"""Its first phrase comes again as the third; the fourth has another last note in the bass."""


def again(piece: Piece, onset: int) -> list[tuple[int, Fraction]]:
    phrases = cut(piece, dict.fromkeys(map(Fraction, (4, 8, 12)), "fermata"))
    return [(phrase.number, by) for phrase, by in where_again(phrases, Fraction(onset))]


def test_a_phrase_comes_again_where_all_voices_have_its_notes() -> None:
    assert again(TUNE, 0) == [(3, 8)]
    assert again(TUNE, 3) == [(3, 8)]
    assert again(TUNE, 9) == [(1, -8)]
    assert again(TUNE, 5) == []
    assert again(TUNE, 12) == []
    assert again(TUNE, 99) == []


def test_other_lengths_or_voices_are_another_phrase() -> None:
    longer = tuple(replace(n, duration=n.duration / 2) if n.onset == 10 else n for n in TUNE.notes)
    assert again(replace(TUNE, notes=longer), 0) == []
    names = {"alto": "tenor", "tenor": "alto"}
    crossed = tuple(replace(n, voice=names.get(n.voice, n.voice)) if 8 <= n.onset < 12 else n for n in TUNE.notes)
    assert again(replace(TUNE, notes=crossed), 0) == []


def test_what_the_page_says_besides_the_notes_does_not_matter() -> None:
    worded = tuple(replace(n, words=("la",), finger=3, fermata=True) if n.onset == 8 else n for n in TUNE.notes)
    assert again(replace(TUNE, notes=worded), 0) == [(3, 8)]


def test_a_choice_is_moved_with_all_that_it_says() -> None:
    by = Fraction(8)
    assert moved(FixedFinger(Fraction(1), "alto", 71, 2), by) == FixedFinger(Fraction(9), "alto", 71, 2)
    assert moved(FixedSharing(Fraction(0), 3, 1), by) == FixedSharing(Fraction(8), 3, 1)
    lift = FixedLeaving(Fraction(2), "left", "lift")
    assert moved(lift, by) == FixedLeaving(Fraction(10), "left", "lift")
    assert moved(lift.what, by) == FixedLeaving(Fraction(10), "left", "join").what
