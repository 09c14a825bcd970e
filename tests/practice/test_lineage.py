"""A phrase keeps its history when its boundaries or its plan change, and says so."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from practising import cut, entry, evening, hymn, learn, make_solid, open_log, phrases_of, random_history, review

from coach.practice import days, derive
from coach.practice.entry import Part
from coach.practice.ladder import MEMORY, NO_FINGERS, RIGHT, SEAM, STEPS_IN_TEMPO, TOGETHER, Shape
from coach.practice.log import Log
from coach.practice.music import open_music
from coach.practice.passage import Passage, change_passage, plan_mark
from coach.score.piece import Piece

PIECE = hymn()


def known(log: Log, *ends: int) -> list[Passage]:
    return [passage for passage in log.know(PIECE, cut(*ends)) if passage.kind == "phrase"]


def test_halves_of_a_phrase_go_on_from_the_whole(log: Log) -> None:
    whole = known(log, 16, 32)[0]
    make_solid(log, whole)
    first, second, _ = known(log, 8, 16, 32)
    for half in (first, second):
        assert log.progress(half).standing == "solid"
        assert log.progress(half).memory == log.progress(whole).memory
        assert log.kept_from(half) == "history of phrase 1 as it was cut before (bars 1-4)"


def test_a_joined_phrase_goes_on_from_its_weaker_part(log: Log) -> None:
    first, second, *_ = known(log, 8, 16, 32)
    make_solid(log, first)
    learn(log, second)
    review(log, second, 2)
    review(log, second, 5, "weak")
    joined = known(log, 16, 32)[0]
    assert log.progress(joined).standing == "weak"
    assert log.progress(joined).place == log.progress(second).place
    assert log.kept_from(joined) == "history of phrase 2 as it was cut before (bars 3-4)"


def test_a_joined_phrase_whose_other_part_was_never_played_begins_anew(log: Log) -> None:
    first, *_ = known(log, 8, 16, 32)
    make_solid(log, first)
    joined = known(log, 16, 32)[0]
    assert log.progress(joined).standing is None
    assert log.kept_from(joined) == ""


def test_a_boundary_moved_by_a_chord_keeps_the_history(log: Log) -> None:
    first, second, *_ = known(log, 8, 16, 32)
    make_solid(log, first)
    make_solid(log, second)
    longer, shorter, _ = known(log, 9, 16, 32)
    assert log.progress(longer).standing == "solid"
    assert log.progress(shorter).standing == "solid"


def test_a_boundary_moved_by_half_a_phrase_does_not(log: Log) -> None:
    first, *_ = known(log, 8, 16, 32)
    make_solid(log, first)
    assert log.progress(known(log, 12, 16, 32)[0]).standing is None


def test_a_take_with_the_new_boundaries_ends_the_remark(log: Log) -> None:
    whole = known(log, 16, 32)[0]
    make_solid(log, whole)
    half = known(log, 8, 16, 32)[0]
    review(log, half, 9)
    assert log.kept_from(half) == ""
    assert log.progress(half).takes == log.progress(whole).takes + 1


def test_cutting_back_as_it_was_brings_the_old_history_and_what_came_since(log: Log) -> None:
    whole = known(log, 16, 32)[0]
    make_solid(log, whole)
    for half in known(log, 8, 16, 32)[:2]:
        review(log, half, 9)
    before = log.progress(whole)
    assert known(log, 16, 32)[0] == whole
    assert log.progress(whole) == before
    assert log.kept_from(whole) == ""


def test_an_edition_with_one_note_mended_keeps_the_history_of_the_other_phrases(log: Log) -> None:
    first, second, *_ = known(log, 8, 16, 32)
    make_solid(log, first)
    make_solid(log, second)
    mended = replace(PIECE, notes=(replace(PIECE.notes[0], midi=80), *PIECE.notes[1:]), title="Harbour hymn, mended")
    new_first, new_second, *_ = log.know(mended, cut(8, 16, 32))
    assert log.progress(new_first).standing is None
    assert log.progress(new_second).standing == "solid"
    assert log.kept_from(new_second) == 'the same notes were played in "Harbour hymn"'


def mended_score() -> Piece:
    """The same file with its first note corrected."""
    return replace(PIECE, notes=(replace(PIECE.notes[0], midi=80), *PIECE.notes[1:]))


def in_practice(log: Log) -> set[str]:
    return {stand.piece for stand in log.stands_for(evening(9), evening(9).date())[0]}


def test_a_score_that_was_corrected_takes_its_own_place_in_practice(log: Log) -> None:
    """The same file opens other notes: they are in practice with the old date, and the old notes no more."""
    old = known(log, 8, 16, 32)[0]
    learn(log, old)
    log.set_date(old.piece, evening(20))
    new = log.know(mended_score(), cut(8, 16, 32))[0]
    assert in_practice(log) == {new.piece}
    assert (log.source(old.piece), log.source(new.piece)) == ("", PIECE.source)
    assert {piece["mark"]: piece["ready_by"] for piece in log.pieces()}[new.piece] == days.written(evening(20))
    log.record(entry(old, at=evening(8), source=PIECE.source))
    assert log.source(old.piece) == ""
    known(log, 8, 16, 32)
    assert in_practice(log) == {old.piece}


def test_a_piece_that_was_set_aside_is_not_taken_up_by_a_correction(log: Log) -> None:
    old, new = known(log, 8, 16, 32)[0], log.know(mended_score(), cut(8, 16, 32))[0]
    log.set_state(old.piece, "in practice")
    log.set_state(new.piece, "set aside")
    known(log, 8, 16, 32)
    log.know(mended_score(), cut(8, 16, 32))
    assert in_practice(log) == set()


def test_a_drill_of_one_change_does_not_begin_the_join_around_it(log: Log) -> None:
    phrases = log.know(PIECE, cut(8, 16, 32))
    first, join = phrases[0], next(passage for passage in phrases if passage.kind == "join")
    log.record(entry(first))
    log.record(entry(change_passage(PIECE, cut(8, 16, 32), Fraction(2), Fraction(4)), at=evening(0, 1)))
    assert (log.progress(join).takes, log.progress(join).begun) == (0, None)
    assert log.progress(first).takes == 2


def test_a_take_of_the_whole_piece_does_not_plan_its_phrases_anew(log: Log) -> None:
    passages = log.know(PIECE, cut(8, 16, 32), {1: Shape(8, plan="a" * 20)})
    whole = next(passage for passage in passages if passage.kind == "piece")
    log.record(entry(passages[0], NO_FINGERS, plan="a" * 20))
    parts = tuple(Part(p.onset, p.end, "solid") for p in passages if p.kind == "phrase")
    log.record(entry(whole, NO_FINGERS, at=evening(1), plan="c" * 20, parts=parts))
    assert log.progress(passages[0]).takes == 2
    assert log.kept_from(passages[0]) == ""
    with log._store.writing() as connection:
        derive.work_out_all(connection)
    assert log.kept_from(passages[0]) == ""


def test_phrases_of_the_same_notes_are_learned_at_once(log: Log) -> None:
    verse = hymn(1)
    again = tuple(replace(note, onset=note.onset + 8) for note in verse.notes)
    twice = replace(hymn(2), notes=(*verse.notes, *again))
    first, second, *_ = log.know(twice, phrases_of(twice))
    make_solid(log, first)
    assert log.progress(second).standing == "solid"
    assert log.progress(second).troubles == ()


def test_the_same_notes_played_elsewhere_do_not_plan_a_phrase_anew(log: Log) -> None:
    """Phrase 2 has the music of phrase 1, and a plan of its own."""
    verse = hymn(1)
    again = tuple(replace(note, onset=note.onset + 8) for note in verse.notes)
    twice = replace(hymn(2), notes=(*verse.notes, *again))
    shapes = {1: Shape(8, plan="a" * 20), 2: Shape(8, plan="b" * 20)}
    first, second, *_ = log.know(twice, phrases_of(twice), shapes)
    for minute in range(2):
        log.record(entry(first, NO_FINGERS, at=evening(0, minute), plan="a" * 20))
        assert (log.progress(second).takes, log.kept_from(second)) == (minute + 1, "")
    log.record(entry(second, NO_FINGERS, at=evening(1), plan="b" * 20))
    assert (log.kept_from(first), log.kept_from(second)) == ("", "")
    log.know(twice, phrases_of(twice), {**shapes, 2: Shape(8, plan="c" * 20)})
    assert (log.kept_from(first), log.kept_from(second)) == ("", "planned anew since it was last played")
    with log._store.writing() as connection:
        derive.work_out_all(connection)
    assert (log.kept_from(first), log.kept_from(second)) == ("", "planned anew since it was last played")


def test_another_plan_keeps_the_history_and_says_so_until_it_is_played(log: Log) -> None:
    old, new = "a" * 20, "b" * 20
    first = log.know(PIECE, cut(8, 16, 32), {1: Shape(8, plan=old)})[0]
    log.record(entry(first, NO_FINGERS, plan=old))
    assert log.kept_from(first) == ""
    log.know(PIECE, cut(8, 16, 32), {1: Shape(8, plan=new)})
    assert log.kept_from(first) == "planned anew since it was last played"
    assert log.progress(first).takes == 1
    log.record(entry(first, MEMORY, at=evening(2), plan=new))
    assert log.kept_from(first) == ""
    assert log.progress(first).standing == "solid"


def test_a_take_is_logged_with_the_plan_that_the_phrase_is_known_by(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    music = open_music("before-the-tide")
    for phrase in music.phrases:
        planned = music.planned(music.phrase_passage(phrase.number), RIGHT)
        assert plan_mark(planned) == music.shapes[phrase.number].plan


def test_another_ladder_keeps_the_takes(log: Log) -> None:
    """A new plan may bring other steps: passing notes that were simplified, a hand that has nothing to do."""
    first, *_ = known(log, 8, 16, 32)
    make_solid(log, first)
    log.know(PIECE, cut(8, 16, 32), {1: Shape(8, decorated=True)})
    assert log.progress(first).standing == "solid"
    assert log.steps(first)[0].name == "plain chords"


@pytest.mark.parametrize(("word", "standing"), [("solid", "solid"), ("weak", "weak")])
def test_a_take_of_joined_phrases_counts_for_each_by_how_it_went(log: Log, word: str, standing: str) -> None:
    passages = log.know(PIECE, cut(8, 16, 32))
    first, second, _, join, *_ = passages
    make_solid(log, first)
    make_solid(log, second)
    parts = (Part(first.onset, first.end, word), Part(second.onset, second.end, "solid"))  # type: ignore[arg-type]
    log.record(entry(join, MEMORY, word, at=evening(6), parts=parts))
    assert log.progress(first).standing == standing
    assert log.progress(second).standing == "solid"


def test_the_change_between_two_phrases_says_nothing_of_either(log: Log) -> None:
    first, _, _, join, *_ = log.know(PIECE, cut(8, 16, 32))
    log.record(entry(join, SEAM, parts=(Part(first.onset, first.end, "solid"),)))
    assert log.progress(first).takes == 0


def test_a_phrase_that_a_broken_off_take_did_not_reach_keeps_its_history(log: Log) -> None:
    first, second, _, join, *_ = log.know(PIECE, cut(8, 16, 32))
    make_solid(log, second)
    before = log.progress(second)
    parts = (Part(first.onset, first.end, "weak"),)
    log.record(entry(join, STEPS_IN_TEMPO[1], "weak", at=evening(6), reached=first.onset + 3, parts=parts))
    assert log.progress(second) == before
    assert log.progress(first).takes == 1


CUTS = [(8, 16, 32), (16, 32), (4, 8, 16, 24, 32), (9, 16, 32), (12, 32)]


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 10_000), takes=st.integers(1, 40))
@example(seed=122, takes=39)
def test_following_take_by_take_comes_to_the_same_as_working_out_from_the_whole_record(
    seed: int, takes: int, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Whatever is played under whatever boundaries, in whatever order it is written down."""
    draw = random.Random(seed)
    folder: Path = tmp_path_factory.mktemp("log")
    with open_log(folder) as log:
        passages: list[Passage] = []
        for ends in CUTS:
            passages += log.know(PIECE, cut(*ends))
        history = random_history(draw, passages, takes)
        draw.shuffle(history)
        for number, one in enumerate(history):
            if number % 7 == 0:
                log.know(PIECE, cut(*draw.choice(CUTS)))
            log.record(one)
        last = cut(*draw.choice(CUTS))
        current = log.know(PIECE, last)
        followed = {passage: log.progress(passage) for passage in current}
        with log._store.writing() as connection:
            derive.work_out_all(connection)
        assert {passage: log.progress(passage) for passage in current} == followed


def test_takes_by_one_hand_count_for_the_halves_too(log: Log) -> None:
    whole = known(log, 16, 32)[0]
    log.record(entry(whole, replace(TOGETHER, name="right hand", hand="right")))
    half = known(log, 8, 16, 32)[0]
    assert log.progress(half).takes == 1
