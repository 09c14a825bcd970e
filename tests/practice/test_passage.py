"""Pieces and phrases are known by their notes."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st
from practising import cut, hymn, phrases_of

from coach.practice.passage import Passage, change_passage, passages_of, piece_mark
from coach.score.piece import Piece

PIECE = hymn()


def edition(piece: Piece) -> Piece:
    """The same music as another edition prints it: other names, words, spelling, fingers, order of notes."""
    notes = tuple(
        replace(note, voice=f"voice {5 + i % 4}", pitch="B#4", words=("Ho-",), finger=3, fermata=True)
        for i, note in enumerate(reversed(piece.notes))
    )
    return replace(piece, title="Other title", source="other.abc", notes=notes, voices=("voice 5",))


def test_another_edition_of_the_same_notes_is_the_same_piece() -> None:
    assert piece_mark(edition(PIECE)) == piece_mark(PIECE)


def test_a_transposed_piece_is_another_piece() -> None:
    up = replace(PIECE, notes=tuple(replace(note, midi=note.midi + 2) for note in PIECE.notes))
    assert piece_mark(up) != piece_mark(PIECE)


@given(st.integers(0, 127), st.sampled_from(["midi", "onset", "duration"]))
def test_one_note_changed_is_another_piece_but_the_other_phrases_stay_the_same(at: int, what: str) -> None:
    at %= len(PIECE.notes)
    note = PIECE.notes[at]
    changed = {
        "midi": replace(note, midi=note.midi + 12),
        "onset": replace(note, onset=note.onset + Fraction(1, 8)),
        "duration": replace(note, duration=note.duration / 2),
    }[what]
    other = replace(PIECE, notes=(*PIECE.notes[:at], changed, *PIECE.notes[at + 1 :]))
    before = [p.mark for p in passages_of(PIECE, phrases_of(PIECE)) if p.kind == "phrase"]
    after = [p.mark for p in passages_of(other, phrases_of(PIECE)) if p.kind == "phrase"]
    assert piece_mark(other) != piece_mark(PIECE)
    assert [a == b for a, b in zip(before, after, strict=True)].count(False) == 1


def test_the_same_phrase_at_another_place_has_the_same_mark() -> None:
    verse = hymn(1)
    again = tuple(replace(note, onset=note.onset + 8) for note in verse.notes)
    twice = replace(hymn(2), notes=(*verse.notes, *again))
    first, second, *_ = passages_of(twice, phrases_of(twice))
    assert first.mark == second.mark
    assert first.onset != second.onset


def test_what_is_practised_of_a_piece() -> None:
    labels = [passage.label for passage in passages_of(PIECE, phrases_of(PIECE))]
    assert labels == [
        *("phrase 1", "phrase 2", "phrase 3", "phrase 4"),
        *("phrases 1+2", "phrases 2+3", "phrases 3+4"),
        "the whole piece",
    ]


def test_a_piece_of_two_phrases_is_whole_when_they_are_joined_and_one_phrase_has_nothing_to_join() -> None:
    two = passages_of(hymn(2), cut(8, 16))
    assert [passage.kind for passage in two] == ["phrase", "phrase", "join"]
    assert [passage.kind for passage in passages_of(hymn(1), cut(8))] == ["phrase"]


def test_bars_are_those_of_the_first_and_the_last_note() -> None:
    passages = passages_of(PIECE, phrases_of(PIECE))
    assert [passage.bars for passage in passages[:2]] == [(1, 2), (3, 4)]
    assert passages[-1].bars == (1, 8)


def test_a_passage_survives_its_json_form() -> None:
    for passage in (
        *passages_of(PIECE, phrases_of(PIECE)),
        change_passage(PIECE, cut(8), Fraction(7, 3), Fraction(5)),
    ):
        assert Passage.from_json(passage.to_json()) == passage
