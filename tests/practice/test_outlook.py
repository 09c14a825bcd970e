"""What is said of a piece in practice."""

from __future__ import annotations

from datetime import UTC

from practising import cut, entry, evening, hymn, learn, make_solid, phrases_of

from coach.practice.ladder import TOGETHER
from coach.practice.log import Log
from coach.practice.outlook import Outlook, outlook
from coach.practice.passage import Passage


def start(log: Log) -> tuple[Passage, ...]:
    piece = hymn(3)
    passages = log.know(piece, phrases_of(piece))
    log.set_state(passages[0].piece, "in practice")
    return passages


def said(log: Log, piece: str, day: int) -> Outlook:
    return outlook(log, piece, 20.0, evening(day), zone=UTC)


def test_each_phrase_says_how_it_stands_and_a_new_one_nothing(log: Log) -> None:
    one, other, *_ = start(log)
    make_solid(log, one, (0, 4))
    log.record(entry(other, TOGETHER, "weak", at=evening(4)))
    assert said(log, one.piece, 5) == Outlook((), {1: "stands solid", 2: "stands weak", 3: ""})


def test_with_a_date_each_phrase_says_its_chance_on_the_day(log: Log) -> None:
    one, *_ = start(log)
    make_solid(log, one, (0, 4))
    log.set_date(one.piece, evening(9))
    found = said(log, one.piece, 5)
    (sentence,) = found.sentences
    assert sentence.endswith("Behind each phrase: its chance to be remembered on the day.")
    standing, chance = found.phrases[1].split(" · ")
    assert standing == "stands solid"
    assert chance.endswith(" %")


def test_on_its_day_a_date_that_has_passed_is_named(log: Log) -> None:
    one, *_ = start(log)
    log.set_date(one.piece, evening(9))
    assert said(log, one.piece, 8).sentences != ()
    assert outlook(log, one.piece, 20.0, evening(9, 30), zone=UTC).sentences == ("Its date was today 18:00.",)
    assert said(log, one.piece, 10).sentences == ()


def test_a_phrase_that_was_cut_anew_says_where_its_history_comes_from(log: Log) -> None:
    one, *_ = start(log)
    learn(log, one)
    piece = hymn(3)
    log.know(piece, cut(4, 8, 16, 24))
    assert "phrase 1" in said(log, one.piece, 1).phrases[1]
