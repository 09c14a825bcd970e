"""Choices as they are kept with a piece."""

from __future__ import annotations

import json
import os
import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from passages import chorale, in_chords, whole

from coach import places
from coach.errors import CoachError
from coach.fingering.choices import (
    Choices,
    Fix,
    FixedFinger,
    FixedLeaving,
    FixedSharing,
    What,
    of_note,
    to_json,
)
from coach.fingering.habits import Lesson
from coach.fingering.hand import Hands
from coach.fingering.planner import plan_piece
from coach.fingering.search import Options
from coach.fingering.weights import WEIGHTS
from coach.practice import chosen
from coach.score.phrases import cut
from coach.score.piece import Piece

HYMN = chorale("E5 D5 C5 D5 E5:2", "C5 B4 G4 B4 C5:2", "G4 G4 E4 G4 G4:2", "C4 G3 C4 G3 C3:2")

SHARING = FixedSharing(Fraction(2), 3, 1)

LIFT = FixedLeaving(Fraction(0), "right", "lift")


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    return tmp_path


def make(piece: Piece, *wishes: object) -> Choices:
    return chosen.make(piece, [whole(piece)], wishes).choices  # type: ignore[arg-type]


def the_file() -> Path:
    (path,) = places.choices().glob("*.json")
    return path


def test_another_edition_may_call_its_voices_otherwise() -> None:
    """The choice is its note's there too: shown as chosen, changed and freed like any other."""
    names = dict(zip(HYMN.voices, ("voice 1", "voice 2", "voice 3", "voice 4"), strict=True))
    notes = tuple(replace(note, voice=names[note.voice]) for note in HYMN.notes)
    other = replace(HYMN, voices=tuple(names.values()), notes=notes)
    alto = next(note for note in HYMN.notes if note.voice == "alto")
    make(HYMN, of_note(alto, 3))
    fixes = chosen.choices_of(other).fixes
    assert fixes == (replace(of_note(alto, 3), voice="voice 2"),)
    plan = plan_piece(other, [whole(other)], Hands(), Options(choices=fixes))
    mine = [note for note in plan.phrases[0].chords[0].notes if note.voice == "voice 2"]
    assert [(note.finger, note.chosen) for note in mine] == [(3, True)]
    make(other, replace(of_note(alto, 2), voice="voice 2"))
    assert chosen.choices_of(HYMN).fixes == (of_note(alto, 2),)
    assert make(other, (*of_note(alto, 2).what[:2], "voice 2", alto.midi)).fixes == ()


def test_choices_are_there_the_next_time() -> None:
    make(HYMN, SHARING)
    make(HYMN, LIFT)
    assert chosen.choices_of(HYMN).fixes == (SHARING, LIFT)


def test_the_piece_is_known_by_its_notes_whatever_its_name() -> None:
    make(HYMN, SHARING)
    renamed = replace(HYMN, title="Another edition", source="elsewhere.mxl")
    assert chosen.choices_of(renamed).fixes == (SHARING,)
    assert chosen.choices_of(chorale("C5", "G4", "E4", "C4")).fixes == ()


def corrected(piece: Piece, voice: str, onset: int, midi: int, pitch: str) -> Piece:
    """The same piece of the same source, one of its notes corrected."""
    here = (voice, onset)
    return replace(
        piece,
        notes=tuple(replace(n, midi=midi, pitch=pitch) if (n.voice, n.onset) == here else n for n in piece.notes),
    )


def test_choices_stay_with_a_piece_whose_notes_were_corrected() -> None:
    """But for those whose own note is gone; all are there again where the correction is taken back."""
    note = next(n for n in HYMN.notes if (n.voice, n.onset) == ("soprano", 1))
    finger = of_note(note, 4)
    make(HYMN, SHARING, LIFT, finger)
    assert chosen.choices_of(corrected(HYMN, "bass", 3, 41, "F2")).fixes == (SHARING, LIFT, finger)
    better = corrected(HYMN, "soprano", 1, 75, "Eb5")
    assert chosen.choices_of(better).fixes == (SHARING, LIFT)
    assert make(better, LIFT.what).fixes == (SHARING,)
    assert chosen.undo(better).fixes == (SHARING, LIFT)
    assert chosen.clear(better).fixes == ()
    assert chosen.choices_of(better).fixes == ()
    assert chosen.choices_of(HYMN).fixes == (SHARING, LIFT, finger)


@pytest.mark.parametrize("latest", ["as it was", "corrected"])
def test_a_piece_corrected_twice_has_the_choices_that_were_made_last(latest: str) -> None:
    make(HYMN, SHARING)
    before = the_file()
    make(corrected(HYMN, "bass", 3, 41, "F2"), LIFT)
    (after,) = set(places.choices().glob("*.json")) - {before}
    newest = before if latest == "as it was" else after
    for path in (before, after):
        os.utime(path, (1e9, 1e9 + (path == newest)))
    found = chosen.choices_of(corrected(HYMN, "tenor", 1, 69, "A4")).fixes
    assert found == ((SHARING,) if latest == "as it was" else (SHARING, LIFT))


def test_a_corrected_piece_shows_its_habits_once() -> None:
    for piece in SIXTHS:
        teach(piece)
    before = chosen.habits_now()
    again = replace(SIXTHS[0], notes=(*SIXTHS[0].notes, replace(SIXTHS[0].notes[0], onset=Fraction(1))))
    assert chosen.choices_of(again).fixes
    make(again, FixedLeaving(Fraction(0), "right", "lift"))
    assert chosen.habits_now() == before


def test_several_wishes_are_one_change() -> None:
    make(HYMN, SHARING, LIFT)
    assert chosen.undo(HYMN).fixes == ()
    assert chosen.redo(HYMN).fixes == (SHARING, LIFT)


def test_one_impossible_wish_leaves_all_unmade() -> None:
    make(HYMN, LIFT)
    before = the_file().read_bytes()
    with pytest.raises(CoachError, match=r"is not possible.*; none of the 2 was chosen"):
        make(HYMN, SHARING, FixedSharing(Fraction(1), 0, 4))
    assert the_file().read_bytes() == before
    assert chosen.choices_of(HYMN).fixes == (LIFT,)


def test_a_choice_is_freed_and_cleared_and_all_of_it_taken_back() -> None:
    make(HYMN, SHARING, LIFT)
    assert make(HYMN, SHARING.what).fixes == (LIFT,)
    assert chosen.clear(HYMN).fixes == ()
    assert chosen.undo(HYMN).fixes == (LIFT,)
    assert chosen.undo(HYMN).fixes == (SHARING, LIFT)


def test_nothing_to_take_back_is_said() -> None:
    for change, said in ((chosen.undo, "no choice"), (chosen.redo, "taken back"), (chosen.clear, "nothing is chosen")):
        with pytest.raises(CoachError, match=said):
            change(HYMN)
    with pytest.raises(CoachError, match="nothing is chosen there"):
        make(HYMN, SHARING.what)


@pytest.mark.parametrize("text", ["", "{", "[]", '{"form": 1}', '{"form": 1, "fixes": [["roll"]]}'])
def test_a_damaged_file_is_set_aside_not_written_over(text: str) -> None:
    make(HYMN, SHARING)
    path = the_file()
    path.write_text(text)
    assert chosen.choices_of(HYMN).fixes == ()
    assert path.with_suffix(".damaged").read_text() == text
    assert make(HYMN, LIFT).fixes == (LIFT,)


def test_a_file_of_a_later_version_stays_as_it_is() -> None:
    make(HYMN, SHARING)
    path = the_file()
    text = json.dumps({**json.loads(path.read_text()), "form": 99})
    path.write_text(text)
    with pytest.raises(CoachError, match="later version"):
        chosen.choices_of(HYMN)
    assert path.read_text() == text


def test_options_bring_choices_then_printed_fingers() -> None:
    make(HYMN, SHARING)
    notes = tuple(replace(n, finger=4 if n.voice == "soprano" and n.onset == 1 else None) for n in HYMN.notes)
    page = replace(HYMN, notes=notes)
    assert [type(fix).__name__ for fix in chosen.options_for(page).choices] == ["FixedSharing", "FixedFinger"]
    assert chosen.options_for(page, own="ignore", printed_fingers="ignore").choices == ()
    assert chosen.options_for(page, printed_fingers="ignore").choices == (SHARING,)


# Phrases that come again.

TUNE = chorale(
    "E5 D5 C5:2 G5 A5 G5:2 E5 D5 C5:2",
    "C5 B4 G4:2 C5 C5 C5:2 C5 B4 G4:2",
    "G4 G4 E4:2 E4 F4 E4:2 G4 G4 E4:2",
    "C4 G3 C4:2 C4 F3 C4:2 C4 G3 C4:2",
)
"""The third phrase has the notes of the first."""

PHRASES = cut(TUNE, dict.fromkeys(map(Fraction, (4, 8)), "fermata"))

FIRST, AGAIN = FixedFinger(Fraction(1), "soprano", 74, 5), FixedFinger(Fraction(9), "soprano", 74, 5)


def made(*wishes: Fix | What) -> chosen.Made:
    return chosen.make(TUNE, PHRASES, wishes)


def test_a_choice_holds_where_its_phrase_comes_again() -> None:
    found = made(FIRST)
    assert found.choices.fixes == (FIRST, AGAIN)
    assert found.also == (3,)
    assert found.said == "phrase 3 has the same notes: chosen there too"
    one, _, other = plan_piece(TUNE, PHRASES, options=chosen.options_for(TUNE)).phrases
    fingers = [[note.finger for chord in phrase.chords for note in chord.notes] for phrase in (one, other)]
    assert fingers[0] == fingers[1]
    assert one.chords[1].notes[0].finger == 5


def test_it_is_one_change_and_one_lesson_and_freed_together() -> None:
    made(FIRST)
    assert chosen.undo(TUNE).fixes == ()
    assert chosen.redo(TUNE).fixes == (FIRST, AGAIN)
    assert [pair[0] for pair in json.loads(the_file().read_text())["lessons"]] in ([], [to_json(FIRST)])
    assert made(AGAIN.what).choices.fixes == ()


def test_both_may_be_chosen_apart() -> None:
    found = made(FIRST, replace(AGAIN, finger=4))
    assert found.choices.fixes == (FIRST, replace(AGAIN, finger=4))
    assert found.also == ()
    assert found.said == ""


def test_where_an_earlier_choice_speaks_against_it_that_one_stays() -> None:
    """In the third phrase the alto has the fourth finger already."""
    low, taken = FixedFinger(Fraction(1), "alto", 71, 2), FixedFinger(Fraction(9), "alto", 71, 4)
    made(low, taken)
    found = made(replace(FIRST, finger=4))
    assert found.choices.fixes == (low, taken, replace(FIRST, finger=4))
    assert found.also == ()


# Habits.


def teach(piece: Piece) -> None:
    """Choose the third finger on top of a sixth."""
    top = max(piece.notes, key=lambda n: n.midi)
    chosen.make(piece, [whole(piece)], [of_note(top, 3)], Hands(), Options(hands="as-written"))


SIXTHS = [replace(in_chords("right", chord), title=chord) for chord in ("C4 A4", "D4 B4", "G4 E5")]
"""The plan has the fourth or the little finger on top of each."""


def test_choices_in_several_pieces_become_habits_and_can_be_switched_off_and_forgotten() -> None:
    for piece in SIXTHS:
        teach(piece)
    assert chosen.habits_now().sentences
    (sentence,) = chosen.habits_now().sentences
    assert re.match(r"you prefer 3 to [45] on top of a sixth \(3 choices in 3 pieces\); the coach counts", sentence)
    assert chosen.options_for(HYMN).weights != WEIGHTS
    chosen.switch_habits(False)
    assert chosen.options_for(HYMN).weights == WEIGHTS
    chosen.switch_habits(True)
    assert chosen.options_for(HYMN).weights != WEIGHTS
    assert chosen.options_for(HYMN, habits="ignore").weights == WEIGHTS
    chosen.forget_habits()
    assert chosen.options_for(HYMN).weights == WEIGHTS
    assert chosen.choices_of(SIXTHS[0]).fixes


def test_taking_choices_back_takes_the_habit_back() -> None:
    for piece in SIXTHS:
        teach(piece)
    assert chosen.habits_now().habits
    chosen.clear(SIXTHS[0])
    assert not chosen.habits_now().habits
    chosen.undo(SIXTHS[0])
    assert chosen.habits_now().habits


def test_lessons_are_kept_beside_the_choices_they_are_drawn_from() -> None:
    teach(SIXTHS[0])
    form = json.loads(the_file().read_text())
    (pair,) = form["lessons"]
    assert pair[0] == form["fixes"][0]
    assert Lesson.from_json(pair[1]).kind.where == "on top of a sixth"


def test_an_unwritable_folder_is_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("coach.whole.os.replace", refuse)
    with pytest.raises(CoachError, match='cannot keep the choices for "a passage": No space left on device'):
        make(HYMN, SHARING)
    wishes: tuple[Fix, ...] = chosen.choices_of(HYMN).fixes
    assert wishes == ()


def test_choices_that_cannot_be_read_are_not_written_over(monkeypatch: pytest.MonkeyPatch) -> None:
    make(HYMN, SHARING)
    path = the_file()
    kept = path.read_text("utf8")

    def refuse(self: Path, *_: object) -> str:
        raise PermissionError(13, "Permission denied")

    with monkeypatch.context() as patch:
        patch.setattr(Path, "read_text", refuse)
        with pytest.raises(CoachError, match="cannot be read: Permission denied"):
            make(HYMN, LIFT)
    assert path.read_text("utf8") == kept


def test_a_later_coachs_choices_for_another_piece_stop_no_plan() -> None:
    places.choices().mkdir(parents=True, exist_ok=True)
    (places.choices() / "other.json").write_text('{"form": 99}', "utf8")
    assert chosen.habits_now().applied(WEIGHTS) == WEIGHTS
