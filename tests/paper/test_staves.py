"""Which notes of a hand share a stem, and what is silent."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from hypothesis import given, settings
from random_phrases import phrases
from sheets import written

from coach.fingering.plan import SIDES, PhrasePlan, Side
from coach.fingering.planner import plan_piece
from coach.paper.sheet import Sheet, sheet_of
from coach.paper.staves import staves_of
from coach.score.cuts import phrases_of
from coach.score.piece import Piece

Phrases = Callable[..., PhrasePlan]


def stems(sheet: Sheet, side: Side, bar: int = 0) -> list[list[str]]:
    """Each line of a bar, its stems as "G4+E4"."""
    staff = staves_of(sheet, side)[bar]
    return [["+".join(sheet.strokes[one.place].pitch for one in stem) for stem in line] for line in staff.lines]


def test_what_a_hand_strikes_together_is_one_chord(phrase: Phrases) -> None:
    made = phrase(
        {"soprano": "C5:1:r5 D5:1:r5", "alto": "G4:1:r2 G4:1:r2", "tenor": "E4:1:r1 F4:1:r1", "bass": "C3:2:l5"}
    )
    assert stems(written(made), "right") == [["C5+G4+E4", "D5+G4+F4"]]


def test_voices_that_move_apart_have_lines_of_their_own_the_outer_one_first(phrase: Phrases) -> None:
    made = phrase(
        {
            "soprano": "C5:2:r5",
            "alto": "E4:1:r1 F4:1:r2",
            "tenor": "C4:2:l1",
            "bass": "C3:1:l5 D3:1:l4",
        }
    )
    assert stems(written(made), "right") == [["C5"], ["E4", "F4"]]
    assert stems(written(made), "left") == [["C3", "D3"], ["C4"]]


def test_inner_voices_that_meet_on_a_key_need_no_third_line(phrase: Phrases) -> None:
    """One head with two stems, as hymnals print it (common practice, no source)."""
    right = phrase(
        {"soprano": "C5:1:r5 D5:1:r5", "alto": "E4:1:r1 F4:1:r1", "tenor": "E4:1:r1 D4:1:r1", "bass": "C3:2:l5"}
    )
    assert stems(written(right), "right") == [["C5+E4", "D5+F4+D4"], ["E4"]]
    left = phrase(
        {"soprano": "C5:2:r5", "alto": "E4:1:l1 F4:1:l1", "tenor": "E4:1:l1 D4:1:l2", "bass": "C4:1:l3 B3:1:l4"}
    )
    assert stems(written(left), "left") == [["E4+C4", "F4+D4+B3"], ["E4"]]


def test_a_note_over_the_bar_line_is_tied(phrase: Phrases) -> None:
    made = phrase({"soprano": "C5:3:r5 D5:2:r5", "bass": "C3:5:l5"})
    sheet = written(made)
    first, second = (staff.lines[0][-1][0] for staff in staves_of(sheet, "right")[:2])
    assert (first.tied_on, second.tied_in) == (True, True)
    assert (first.end, second.onset, second.end) == (4, 4, 5)


def test_only_a_hand_that_is_wholly_silent_rests(phrase: Phrases) -> None:
    made = phrase({"soprano": "C5:1:r5 r:1 C5:2:r5", "alto": "E4:2:r1 r:1 E4:1:r1", "bass": "r:4 C3:4:l5"})
    sheet = written(made)
    assert staves_of(sheet, "right")[0].rests == ()
    assert staves_of(sheet, "left")[0].rests == ((Fraction(0), Fraction(4)),)
    assert staves_of(sheet, "right")[1].rests == ((Fraction(4), Fraction(8)),)


@settings(max_examples=60)
@given(phrases(most_voices=6, most_chords=6))
def test_every_note_is_written_once_and_no_line_sounds_into_itself(piece: Piece) -> None:
    sheet = sheet_of(plan_piece(piece, phrases_of(piece)), piece)
    lasted = dict.fromkeys(range(len(sheet.strokes)), Fraction(0))
    for side in SIDES:
        for bar, staff in zip(sheet.bars, staves_of(sheet, side), strict=True):
            for line in staff.lines:
                now = bar.onset
                for stem in line:
                    assert stem[0].onset >= now
                    now = stem[0].end
                    assert now <= bar.end
                    assert len({sheet.strokes[one.place].midi for one in stem}) == len(stem)
                    for one in stem:
                        assert sheet.strokes[one.place].hand == side
                        assert (one.onset, one.end) == (stem[0].onset, stem[0].end)
                        lasted[one.place] += one.end - one.onset
    assert [lasted[place] for place in range(len(sheet.strokes))] == [one.duration for one in sheet.strokes]
