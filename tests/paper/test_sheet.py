"""A plan written down for two hands: whose staff, which fingers, slurs, commas, and what the signs do not say."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate
from pathlib import Path

import pytest
from passages import chorale
from sheets import piece_of, plan_of, written

from coach.fingering.plan import PhrasePlan, Side
from coach.fingering.planner import plan_piece
from coach.paper.bars import metre_of
from coach.paper.changes import changes_of_place
from coach.paper.sheet import Sheet, Stroke, sheet_of
from coach.score.cuts import phrases_of
from coach.score.library import open_piece
from coach.score.piece import Bar, Piece

Phrases = Callable[..., PhrasePlan]


def stroke(sheet: Sheet, pitch: str, onset: float = 0) -> Stroke:
    (found,) = (one for one in sheet.strokes if (one.pitch, one.onset) == (pitch, onset))
    return found


def ends(sheet: Sheet, hand: Side) -> list[tuple[str, str]]:
    """The slurs of a hand by the notes they begin and end with."""
    strokes = sheet.strokes
    return [(strokes[a].pitch, strokes[b].pitch) for a, b in sheet.slurs if strokes[a].hand == hand]


def commas(sheet: Sheet, hand: Side) -> list[str]:
    return [sheet.strokes[place].pitch for place in sorted(sheet.commas) if sheet.strokes[place].hand == hand]


def test_the_tenor_stands_on_the_staff_of_the_hand_that_takes_it(phrase: Phrases) -> None:
    sheet = written(phrase({"soprano": "G4:1:r5 A4:1:r5", "tenor": "C4:1:r1 D4:1:l1", "bass": "C3:1:l5 F3:1:l3"}))
    assert [(one.voice, one.hand) for one in sheet.strokes if one.voice == "tenor"] == [
        ("tenor", "right"),
        ("tenor", "left"),
    ]


def test_every_finger_of_a_plan_is_written_once() -> None:
    piece = open_piece("before-the-tide")
    plan = plan_piece(piece, phrases_of(piece))
    sheet = sheet_of(plan, piece)
    planned = sorted((n.onset, n.midi, str(n.finger)) for c in plan.chords() for n in c.notes if n.struck)
    assert sorted((float(one.onset), one.midi, one.finger) for one in sheet.strokes) == planned


def test_only_changes_of_place_are_written_when_asked(evening: PhrasePlan) -> None:
    sheet = written(evening, fingers="changes", pickup=1)
    for side in ("right", "left"):
        moves = changes_of_place(evening, side)
        for chord, moved in zip(evening.chords, moves, strict=True):
            fingers = [one.finger for one in sheet.strokes if (one.hand, one.onset) == (side, chord.onset)]
            assert all(bool(finger) == moved for finger in fingers)
    assert not any(one.finger for one in written(evening, fingers="none", pickup=1).strokes)


def test_a_finger_that_takes_over_a_held_key_is_written_with_the_first(phrase: Phrases) -> None:
    """5-4 as printed editions write a silent change of finger (common practice, no source)."""
    made = phrase({"soprano": "G4:2:r5", "bass": "C3:1:l5 D3:1:l4"}, new_fingers={("soprano", 0): (1.0, 4)})
    assert stroke(written(made), "G4").finger == "5-4"
    assert stroke(written(made, fingers="none"), "G4").finger == ""
    # Where only changes are written, this is one.
    again = phrase({"soprano": "G4:1:r5 G4:2:r5", "bass": "C3:2:l5 D3:1:l4"}, new_fingers={("soprano", 1.0): (2.0, 4)})
    assert stroke(written(again, fingers="changes"), "G4", 1).finger == "5-4"


def test_a_note_let_go_early_is_as_short_as_it_is_played(phrase: Phrases) -> None:
    made = phrase({"soprano": "G4:3:r5", "bass": "C3:1:l5 D3:1:l4 E3:1:l3"}, let_go={("soprano", 0): 2.0})
    sheet = written(made)
    assert stroke(sheet, "G4").duration == 2
    assert [(one.onset, one.text) for one in sheet.directions] == [(2, "soprano let go")]


def test_a_raised_tenor_says_so_until_it_is_back(phrase: Phrases) -> None:
    made = phrase({"soprano": "C6:1:r5 " * 4, "tenor": "E5:1:r1^ F5:1:r1^ E4:1:r1 E4:1:r1", "bass": "C3:1:l5 " * 4})
    assert [(one.onset, one.hand, one.text) for one in written(made).directions] == [
        (0, "right", "tenor raised"),
        (2, "right", "tenor in its place"),
    ]


def test_one_raised_note_is_said_in_one_word(phrase: Phrases) -> None:
    made = phrase({"soprano": "C6:1:r5 " * 4, "tenor": "E4:1:r1 F5:1:r1^ E4:1:r1 E5:1:r1^", "bass": "C3:1:l5 " * 4})
    assert [(one.onset, one.text) for one in written(made).directions] == [
        (1, "tenor raised here"),
        (3, "tenor raised"),
    ]


def test_a_note_left_out_stands_on_the_nearer_staff_without_a_finger(phrase: Phrases) -> None:
    sheet = written(phrase({"soprano": "C5:1:r5", "alto": "D4:1:-", "tenor": "A3:1:-", "bass": "C3:1:l5"}))
    alto, tenor = stroke(sheet, "D4"), stroke(sheet, "A3")
    assert (alto.left_out, alto.hand, alto.finger) == (True, "right", "")
    assert (tenor.left_out, tenor.hand) == (True, "left")


def test_slurs_go_from_lift_to_lift_and_commas_stand_where_a_hand_leaves(phrase: Phrases) -> None:
    made = phrase(
        {"soprano": "C5:1:r5 B4:1:r4 A4:1:r3 G4:1:r4", "bass": "C3:1:l5 G3:1:l1 A3:1:l1 B3:1:l1"},
        right_lifts=[1],
        left_lifts=[0],
    )
    sheet = written(made)
    assert ends(sheet, "right") == [("C5", "B4"), ("A4", "G4")]
    assert ends(sheet, "left") == [("G3", "B3")]
    # The end of all needs no comma.
    assert commas(sheet, "right") == ["B4"]
    assert commas(sheet, "left") == ["C3"]


def test_slurs_hold_inner_notes_and_commas_outer_ones(phrase: Phrases) -> None:
    made = phrase(
        {"soprano": "E5:1:r5 D5:1:r4 C5:1:r5", "alto": "G4:1:r2 F4:1:r1 E4:1:r2", "bass": "C3:3:l5"}, right_lifts=[1]
    )
    sheet = written(made)
    assert ends(sheet, "right") == [("G4", "F4")]
    assert commas(sheet, "right") == ["D5"]


def test_striking_the_same_keys_again_is_not_joined(phrase: Phrases) -> None:
    made = phrase({"soprano": "C5:1:r5 C5:1:r5 D5:1:r5", "bass": "C3:3:l5"}, restrikes=[("right", 0)])
    assert ends(written(made), "right") == [("C5", "D5")]
    assert [float(written(made).strokes[a].onset) for a, _ in written(made).slurs] == [1.0]


def test_the_end_of_a_phrase_has_a_comma_or_a_fermata_in_both_hands() -> None:
    piece = open_piece("before-the-tide")
    plan = plan_piece(piece, phrases_of(piece))
    sheet = sheet_of(plan, piece)
    for one in plan.phrases[:-1]:
        last = one.chords[-1]
        left = [p for p, stroke in enumerate(sheet.strokes) if stroke.end >= last.end > stroke.onset]
        signed = [p for p in left if p in sheet.commas or sheet.strokes[p].fermata]
        assert {sheet.strokes[p].hand for p in signed} == {"right", "left"}
        assert not any(p in sheet.commas and sheet.strokes[p].fermata for p in left)
    assert not any(sheet.strokes[place].end == piece.end for place in sheet.commas)


def test_two_voices_on_one_key_have_one_finger(phrase: Phrases) -> None:
    sheet = written(phrase({"soprano": "C5:1:r5", "alto": "G4:1:r1", "tenor": "G4:1:r1", "bass": "C3:1:l5"}))
    assert sorted(one.finger for one in sheet.strokes if one.midi == 67) == ["", "1"]


def test_words_are_those_of_the_highest_voice_that_has_any() -> None:
    piece = open_piece("before-the-tide")
    sheet = sheet_of(plan_piece(piece, phrases_of(piece)), piece)
    assert {one.voice for one in sheet.strokes if one.words} == {"soprano"}
    sung = [one.words[0] for one in sheet.strokes if one.words and one.words[0]]
    assert sung[:4] == ["Be-", "fore", "the", "tide"]


def test_a_word_that_another_voice_has_while_the_tune_is_silent_is_kept() -> None:
    """Did You Think To Pray (Open Hymnal Project): the tune goes into another row for a note, its words with it."""
    name = next((Path(__file__).parents[1] / "score" / "data" / "hymns").glob("did-you-think*.abc"))
    piece = open_piece(str(name))
    sheet = sheet_of(plan_piece(piece, phrases_of(piece)), piece)
    sung = [one.words[0] for one in sheet.strokes if one.words and one.words[0]]
    assert sung[:8] == ["Ere", "you", "left", "your", "room", "this", "morn-", "ing,"]


def bars(*lengths: tuple[str, int]) -> Piece:
    """One note a quarter in each hand, in bars of a metre and a length in quarters."""
    piece = chorale(*(" ".join([pitch] * sum(length for _, length in lengths)) for pitch in ("C5", "G4", "E4", "C3")))
    starts = accumulate((length for _, length in lengths), initial=0)
    made = [
        Bar(n, Fraction(at), Fraction(len_), metre)
        for n, (at, (metre, len_)) in enumerate(zip(starts, lengths, strict=False), 1)
    ]
    return replace(piece, bars=tuple(made))


def sheet_in(*lengths: tuple[str, int]) -> Sheet:
    piece = bars(*lengths)
    return sheet_of(plan_piece(piece, phrases_of(piece)), piece)


def test_a_metre_is_printed_where_it_changes() -> None:
    assert sheet_in(("4/4", 4), ("4/4", 4), ("3/4", 3), ("4/4", 4)).lines.metres == ("4/4", "", "3/4", "4/4")


def test_a_bar_longer_than_its_metre_has_one_of_its_own_that_is_not_printed() -> None:
    sheet = sheet_in(("4/4", 4), ("4/4", 8), ("4/4", 4))
    assert [bar.metre for bar in sheet.bars] == ["4/4", "8/4", "4/4"]
    assert sheet.lines.metres == ("4/4", "", "")


def test_where_the_metre_never_settles_none_is_printed() -> None:
    assert set(sheet_in(("6/4", 6), ("5/4", 5), ("7/4", 7), ("5/4", 5)).lines.metres) == {""}


def test_music_without_metre_has_none_printed() -> None:
    """As hymnals print chants (common practice, no source); where a metre begins it is printed, the same one too."""
    piece = bars(("4/4", 4), ("4/4", 4), ("8/4", 8), ("4/4", 4), ("4/4", 4))
    free = tuple(replace(bar, metred=place in (0, 3, 4)) for place, bar in enumerate(piece.bars))
    for found, metres in (
        (free, ("4/4", "", "", "4/4", "")),
        ([replace(bar, metred=False) for bar in free], ("",) * 5),
    ):
        part = replace(piece, bars=tuple(found))
        assert sheet_of(plan_piece(part, phrases_of(part)), part).lines.metres == metres


def test_music_without_bar_lines_is_cut_where_it_breathes() -> None:
    sheet = sheet_in(("4/4", 40))
    assert sum(bar.duration for bar in sheet.bars) == 40
    assert max(bar.duration for bar in sheet.bars) <= 12
    assert sheet.lines.open_bars == frozenset(range(len(sheet.bars) - 1))
    assert {onset for onset, _ in sheet.phrases} <= {bar.onset for bar in sheet.bars}


@pytest.mark.parametrize(
    ("length", "metre"), [(4, "4/4"), (1, "1/4"), (Fraction(5, 2), "5/8"), (Fraction(10, 3), "4/4")]
)
def test_a_metre_is_as_long_as_its_bar(length: Fraction, metre: str) -> None:
    assert metre_of(Fraction(length)) == metre


def test_a_fermata_stands_once_over_each_hand() -> None:
    piece = open_piece("before-the-tide")
    sheet = sheet_of(plan_piece(piece, phrases_of(piece)), piece)
    over = [(one.end, one.hand) for one in sheet.strokes if one.fermata]
    assert len(over) == len(set(over)) > 0
    assert all(one.voice in ("soprano", "bass") for one in sheet.strokes if one.fermata)


@pytest.mark.parametrize("number", [1, 2, 3])
def test_one_phrase_has_its_own_bars(number: int) -> None:
    """A phrase that begins inside a bar begins with what is left of it, like a pickup."""
    piece = open_piece("before-the-tide")
    phrases = phrases_of(piece)
    phrase = phrases[number - 1]
    sheet = sheet_of(plan_piece(piece, [phrase]), piece)
    assert sheet.bars[0].onset == phrase.onset
    assert sheet.bars[-1].end == phrase.end
    assert sum(bar.duration for bar in sheet.bars) == phrase.end - phrase.onset
    assert all(bar.skipped + bar.duration <= bar.full for bar in sheet.bars)
    assert {one.onset for one in sheet.strokes} <= {note.onset for note in piece.notes}


def test_a_note_that_outlasts_its_phrase_ends_with_the_page() -> None:
    piece = chorale("C5:2 D5:4 C5", "E4:2 F4:4 E4", "G3:2 A3:4 G3", "C3:2 D3:4 C3")
    phrase = phrases_of(piece)[0]
    early = type(phrase)(1, phrase.onset, Fraction(4), "a cut")
    sheet = sheet_of(plan_piece(piece, [early]), piece)
    assert max(one.end for one in sheet.strokes) == 4


def test_the_plan_of_a_phrase_by_hand_is_written_whole(evening: PhrasePlan) -> None:
    sheet = sheet_of(plan_of(evening), piece_of(evening, pickup=1))
    struck = [note for chord in evening.chords for note in chord.notes if note.struck]
    assert len(sheet.strokes) == len(struck)
    assert list(sheet.strokes) == sorted(sheet.strokes, key=lambda one: (one.onset, -one.midi))
