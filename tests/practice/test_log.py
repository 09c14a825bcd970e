"""The record: what is written can be read again, and is on the disk when a method returns."""

from __future__ import annotations

import threading
from dataclasses import replace
from datetime import date
from fractions import Fraction
from pathlib import Path

import pytest
from practising import cut, entry, evening, hymn, learn, open_log, phrases_of

from coach.errors import CoachError
from coach.listening.events import Event
from coach.listening.take import Take, read_take
from coach.practice.entry import Entry, Fault, Part
from coach.practice.ladder import NO_FINGERS, RIGHT, TOGETHER, Shape
from coach.practice.log import Log
from coach.practice.passage import Passage

PIECE = hymn()
TAKE = Take((Event(0.0, "press", 60, 64), Event(1.0, "release", 60, 64)))


@pytest.fixture
def passage(log: Log) -> Passage:
    return log.know(PIECE, phrases_of(PIECE))[0]


def rich(passage: Passage) -> Entry:
    """An entry with everything in it."""
    return entry(
        passage,
        replace(NO_FINGERS, pedal=True, plain=True, voices="outer"),
        "shaky",
        title="Hymn „à la“ mode, ♭",
        chosen=True,
        quarter_bpm=68.5,
        faults=(Fault(Fraction(7, 3), "left", 1), Fault(Fraction(5), "both", 2)),
        parts=(Part(Fraction(0), Fraction(8), "weak"),),
        reached=Fraction(13, 2),
        measures={"unevenness": 0.07, "remarks": ["chord 5: the tenor came late"], "late_ms": None},
        midi="2026-03/x.mid",
        plan="f" * 20,
        source="hymns/ä ö.mxl",
    )


def test_an_entry_is_read_as_it_was_written(log: Log, passage: Passage) -> None:
    written = rich(passage)
    log.record(written)
    assert list(log.entries()) == [written]
    assert Entry.from_json(written.to_json()) == written


def test_the_same_entry_twice_is_one_take(log: Log, passage: Passage) -> None:
    one = entry(passage)
    log.record(one)
    log.record(one)
    assert log.count() == 1
    assert log.progress(passage).takes == 1


def test_takes_come_in_order_of_time_however_they_were_written(tmp_path: Path) -> None:
    with open_log(tmp_path) as log:
        passage = log.know(PIECE, phrases_of(PIECE))[0]
        for day in (3, 1, 2, 0):
            log.record(entry(passage, at=evening(day)))
        assert [one.day.day for one in log.entries()] == [2, 3, 4, 5]
        assert [one.day.day for one in log.entries(latest=2)] == [4, 5]
        assert [one.day.day for one in log.entries(since=date(2026, 3, 3), until=date(2026, 3, 4))] == [3, 4]
        assert list(log.entries(piece="nothing")) == []


def test_a_record_longer_than_a_page_comes_whole(log: Log, passage: Passage, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("coach.practice.record.PAGE", 3)
    written = [entry(passage, at=evening(0, minute // 2)) for minute in range(10)]
    for one in written:
        log.record(one)
    assert sorted(one.uid for one in log.entries()) == sorted(one.uid for one in written)


def test_a_take_is_kept_as_a_midi_file_that_tells_what_it_was(log: Log, passage: Passage) -> None:
    kept = log.keep(TAKE, entry(passage))
    path = log.takes / kept.midi
    assert [event.key for event in read_take(path).events] == [60, 60]
    assert next(iter(log.entries())).midi == kept.midi
    assert path.parent.name == "2026-03"


def test_a_disk_that_cannot_hold_the_file_does_not_cost_the_take(tmp_path: Path) -> None:
    (tmp_path / "takes").write_text("a file in the place of the folder")
    with open_log(tmp_path) as log:
        passage = log.know(PIECE, phrases_of(PIECE))[0]
        kept = log.keep(TAKE, entry(passage))
        assert kept.midi == ""
        assert log.count() == 1
        assert "cannot keep the take" in log.notices[-1]


def test_what_is_known_of_a_piece_is_not_written_again(log: Log, passage: Passage) -> None:
    with log._store.reading() as connection:
        before = connection.total_changes
        log.know(PIECE, phrases_of(PIECE))
        assert connection.total_changes == before


def test_a_piece_is_in_practice_once_it_is_played_and_not_when_it_is_only_opened(log: Log, passage: Passage) -> None:
    assert log.stands() == []
    log.record(entry(passage))
    assert len(log.stands()) == 8
    log.set_state(passage.piece, "set aside")
    assert log.stands() == []
    log.record(entry(passage, at=evening(1)))
    assert log.stands() == []


def test_a_piece_that_the_log_does_not_know_cannot_be_taken_up_or_dated(log: Log) -> None:
    with pytest.raises(CoachError, match="does not know this piece"):
        log.set_state("nothing", "in practice")
    with pytest.raises(CoachError, match="does not know this piece"):
        log.set_date("nothing", evening(3))


def test_a_passage_that_was_never_opened_can_be_recorded_all_the_same(log: Log, passage: Passage) -> None:
    stranger = replace(passage, piece="a" * 20, mark="b" * 20)
    log.record(entry(stranger))
    assert log.progress(stranger).takes == 1
    assert [stand.passage for stand in log.stands()] == [stranger]


def test_minutes_of_a_day_count_rests_but_no_pauses(log: Log, passage: Passage) -> None:
    for minute in (0, 1, 2, 50):
        log.record(entry(passage, at=evening(0, minute), seconds=30.0))
    # Four takes of half a minute, two rests of half a minute, and the longest rest that counts.
    assert log.minutes_on(date(2026, 3, 2)) == pytest.approx(4 * 0.5 + 2 * 0.5 + 1.0)


def test_learning_a_phrase_opens_the_join_to_its_neighbour(log: Log, passage: Passage) -> None:
    passages = log.know(PIECE, phrases_of(PIECE))
    assert {stand.passage for stand in log.stands(passage.piece) if stand.open} == set(passages[:4])
    learn(log, passages[0])
    learn(log, passages[1])
    opened = {stand.passage.label for stand in log.stands(passage.piece) if stand.open and stand.kind == "join"}
    assert opened == {"phrases 1+2"}


def test_shapes_of_planned_phrases_change_their_ladders(log: Log, passage: Passage) -> None:
    assert log.steps(passage)[0] == RIGHT
    log.know(PIECE, phrases_of(PIECE), {1: Shape(8, right=False)})
    assert log.steps(passage)[0].hand == "left"


def test_what_is_in_practice_and_when_the_next_review_is_due(log: Log, passage: Passage) -> None:
    assert log.in_practice() == (0, None)
    learn(log, passage)
    count, due = log.in_practice()
    assert count == 1
    assert due == next(stand.memory.due for stand in log.stands() if stand.passage == passage and stand.memory)
    log.forget_source(PIECE.source)
    assert log.in_practice() == (0, None)


def test_several_threads_may_use_one_log(log: Log, passage: Passage) -> None:
    """The screen reads while a worker writes."""
    failed: list[BaseException] = []

    def work(number: int) -> None:
        try:
            for minute in range(8):
                log.record(entry(passage, TOGETHER, at=evening(number, minute)))
                assert log.progress(passage).takes > 0
        except BaseException as error:
            failed.append(error)

    threads = [threading.Thread(target=work, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not failed
    assert log.count() == log.progress(passage).takes == 32


def test_a_closed_log_says_so(tmp_path: Path) -> None:
    log = open_log(tmp_path)
    log.close()
    with pytest.raises(CoachError, match="closed"):
        log.count()


def test_a_folder_in_the_place_of_the_log_is_one_clear_sentence(tmp_path: Path) -> None:
    (tmp_path / "practice.sqlite").mkdir()
    with pytest.raises(CoachError, match="cannot use the practice log"):
        open_log(tmp_path)


def test_two_pieces_keep_apart(log: Log, passage: Passage) -> None:
    other = log.know(hymn(seed=2, title="Other"), cut(8, 16, 32))[0]
    log.record(entry(passage))
    assert log.progress(other).takes == 0
    assert log.standings(passage.piece)[1] == "shaky"
    assert log.standings(other.piece) == {1: None, 2: None, 3: None}
