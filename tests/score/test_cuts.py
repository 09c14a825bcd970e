"""Splitting, joining and moving phrases, and what is kept of it."""

from __future__ import annotations

import json
import os
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from coach import places
from coach.errors import CoachError
from coach.score.cuts import OWN, join, keep, kept, move, phrases_of, split
from coach.score.library import open_piece
from coach.score.marks import mark_of
from coach.score.phrases import find_phrases
from coach.score.piece import Piece
from coach.score.reading import read_score

CODE = "X:1\nT:Line\nM:4/4\nL:1/4\nK:C\nC D E F | G G !fermata!G2 | A A G F | E D !fermata!C2 |]\n"


@pytest.fixture
def piece() -> Piece:
    return read_score(CODE.encode(), "line.abc", "line")


def starts(phrases: object) -> list[tuple[Fraction, str]]:
    return [(phrase.onset, phrase.why_it_ends) for phrase in phrases]  # type: ignore[attr-defined]


def test_a_phrase_is_split_before_a_chord(piece: Piece) -> None:
    phrases = split(piece, phrases_of(piece), Fraction(4))
    assert [p.onset for p in phrases] == [0, 4, 8]
    assert phrases[0].why_it_ends == OWN
    assert phrases[1].why_it_ends == find_phrases(piece)[0].why_it_ends
    assert [p.number for p in phrases] == [1, 2, 3]


def test_two_phrases_are_joined(piece: Piece) -> None:
    assert [(p.onset, p.end) for p in join(piece, phrases_of(piece), 1)] == [(0, 16)]


def test_splitting_and_joining_undo_each_other(piece: Piece) -> None:
    phrases = phrases_of(piece)
    assert join(piece, split(piece, phrases, Fraction(4)), 1) == phrases


def test_the_end_of_a_phrase_moves(piece: Piece) -> None:
    assert starts(move(piece, phrases_of(piece), 1, Fraction(9)))[0] == (0, OWN)
    assert [p.onset for p in move(piece, phrases_of(piece), 1, Fraction(9))] == [0, 9]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda piece, phrases: split(piece, phrases, Fraction(8)), "a phrase begins at this chord already"),
        (lambda piece, phrases: split(piece, phrases, Fraction(0)), "a phrase begins at this chord already"),
        (lambda piece, phrases: split(piece, phrases, Fraction(7)), "no chord begins at bar 2, beat 4"),
        (lambda piece, phrases: join(piece, phrases, 2), "phrase 2 is the last: there is none to join it with"),
        (lambda piece, phrases: join(piece, phrases, 7), "there is no phrase 7: the piece has 2 phrases"),
        (lambda piece, phrases: move(piece, phrases, 2, Fraction(9)), "phrase 2 is the last"),
        (lambda piece, phrases: move(piece, phrases, 1, Fraction(16)), "can move only within phrases 1 and 2"),
    ],
)
def test_what_cannot_be_cut_is_said(change: object, said: str, piece: Piece) -> None:
    with pytest.raises(CoachError, match=said):
        change(piece, phrases_of(piece))  # type: ignore[operator]


def test_a_cut_through_a_sounding_note_is_refused() -> None:
    held = read_score(b"X:1\nM:4/4\nL:1/4\nK:C\nV:1\nc d e f |\nV:2\nC4 |\n", "held.abc", "held")
    with pytest.raises(CoachError, match="a note sounds on into bar 1, beat 2: the cut would go through it"):
        split(held, phrases_of(held), Fraction(1))


def test_a_cut_is_kept_with_the_piece_and_found_by_every_reader_of_it(tmp_path: Path) -> None:
    path = tmp_path / "line.abc"
    path.write_text(CODE)
    piece = open_piece(str(path))
    keep(piece, split(piece, phrases_of(piece), Fraction(4)))
    assert [p.onset for p in find_phrases(open_piece(str(path)))] == [0, 4, 8]
    renamed = path.rename(tmp_path / "other.abc")
    assert [p.onset for p in find_phrases(open_piece(str(renamed)))] == [0, 4, 8]


def test_a_cut_survives_a_correction_of_the_source(tmp_path: Path) -> None:
    """The same title at the same place, one note mended; a cut that a note now sounds across is dropped."""
    path = tmp_path / "line.abc"
    path.write_text(CODE)
    piece = open_piece(str(path))
    phrases = split(piece, phrases_of(piece), Fraction(4))
    keep(piece, split(piece, phrases, Fraction(12)))
    path.write_text(CODE.replace("A A G F | E D", "A A G F- | F D"))
    assert [p.onset for p in find_phrases(open_piece(str(path)))] == [0, 4, 8]


def test_the_latest_cut_of_a_source_is_found_after_a_correction(tmp_path: Path) -> None:
    """Whatever the files are called, which is a hash of the notes."""
    path = tmp_path / "line.abc"
    for number, letter in enumerate("ABCDEF"):
        path.write_text(CODE.replace("C D E F", f"{letter} D E F"))
        piece = open_piece(str(path))
        keep(piece, split(piece, find_phrases(replace(piece, cuts=None)), Fraction(number + 1)))
        os.utime(places.phrasings() / f"{mark_of(piece.notes)}.json", ns=(number * 10**9, number * 10**9))
    path.write_text(CODE.replace("C D E F", "G D E F"))
    assert [phrase.onset for phrase in phrases_of(open_piece(str(path)))] == [0, 6, 8]


def test_another_piece_of_the_same_title_is_not_cut(piece: Piece) -> None:
    keep(piece, split(piece, phrases_of(piece), Fraction(4)))
    assert kept(replace(piece, source="elsewhere.abc", notes=piece.notes[:-1])) is None


def test_the_pages_own_phrases_need_no_keeping(piece: Piece) -> None:
    keep(piece, split(piece, phrases_of(piece), Fraction(4)))
    assert list(places.phrasings().iterdir())
    keep(piece, find_phrases(replace(piece, cuts=None)))
    assert not list(places.phrasings().iterdir())


@pytest.mark.parametrize(
    "damage", ["", "{", "[" * 200_000, "[]", '{"ends": 3}', '{"ends": {"x": "y"}}', '{"ends": {"1/0": "y"}}']
)
def test_a_damaged_file_of_cuts_is_as_good_as_none(damage: str, piece: Piece) -> None:
    keep(piece, split(piece, phrases_of(piece), Fraction(4)))
    for path in places.phrasings().iterdir():
        path.write_text(damage)
    assert phrases_of(piece) == find_phrases(piece)


def test_what_is_kept_is_plain_json(piece: Piece) -> None:
    keep(piece, split(piece, phrases_of(piece), Fraction(4)))
    (path,) = places.phrasings().iterdir()
    form = json.loads(path.read_text("utf-8"))
    assert form["title"] == "Line"
    assert form["ends"]["4"] == OWN
