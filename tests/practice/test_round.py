"""A round of practice: what is on the stand, the minutes spent on it, and what comes next."""

from __future__ import annotations

from datetime import UTC

import pytest
from practising import entry, evening, hymn, learn, phrases_of

from coach.practice import days
from coach.practice.following import Following
from coach.practice.ladder import MEMORY, RIGHT, TOGETHER
from coach.practice.log import Log
from coach.practice.passage import Passage
from coach.practice.progress import REST
from coach.practice.round import Round
from coach.practice.schedule import today
from coach.practice.work import Item


@pytest.fixture
def passages(log: Log) -> tuple[Passage, ...]:
    piece = hymn(3)
    passages = log.know(piece, phrases_of(piece))
    log.set_state(passages[0].piece, "in practice")
    return tuple(passage for passage in passages if passage.kind == "phrase")


def chosen(passages: tuple[Passage, ...]) -> Round:
    """Phrases that the player goes through."""
    return Round(tuple(Item("harbour", passage) for passage in passages))


def following(passage: Passage) -> Following:
    return Following(passage, TOGETHER, "Enough of phrase 1 for today.", True, True)


def test_what_is_asked_for_is_not_on_the_stand_until_it_is_put_up(passages: tuple[Passage, ...]) -> None:
    going = chosen(passages).asking(2)
    assert (going.item.passage, going.moving) == (passages[0], True)
    going = going.put_up(2, 50.0)
    assert (going.item.passage, going.moving) == (passages[2], False)


def test_a_short_rest_between_two_takes_counts_and_another_passage_begins_at_nothing(
    passages: tuple[Passage, ...],
) -> None:
    going = chosen(passages).put_up(0, 100.0).played(100.0 + REST / 2, 30.0, 140.0)
    assert going.minutes == pytest.approx((REST / 2 + 30.0) / 60)
    going = going.played(140.0, 30.0, 170.0)
    assert going.minutes == pytest.approx((REST / 2 + 60.0) / 60)
    assert going.put_up(1, 170.0).minutes == 0


def test_phrases_the_player_chose_are_gone_through_without_exception(log: Log, passages: tuple[Passage, ...]) -> None:
    learn(log, passages[1])
    going = chosen(passages)
    assert [going.next_open(place, log) for place in range(3)] == [1, 2, None]


def test_lines_of_today_that_are_done_are_passed_over(
    log: Log, passages: tuple[Passage, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    for passage in passages:
        learn(log, passage)
    monkeypatch.setattr(days, "now", lambda: evening(4))
    rows = [row for row in today(log, evening(4), zone=UTC).rows if row.passage in passages]
    assert [row.kind for row in rows] == ["review"] * 3
    going = Round(tuple(Item.of_row(row, log) for row in rows))
    assert going.next_open(0, log) == 1
    log.record(entry(rows[1].passage, MEMORY, at=evening(4)))
    assert going.next_open(0, log) == 2
    assert going.next_open(0, None) == 1, "without a log nobody knows"


def test_what_comes_next_is_announced(log: Log, passages: tuple[Passage, ...]) -> None:
    going = chosen(passages)
    enough = following(passages[0])
    assert going.announced(enough, passages[0], 1) == "Enough of phrase 1 for today. Next: phrase 2."
    assert going.announced(enough, passages[0], None) == "Enough of phrase 1 for today."


def test_the_last_line_of_today_says_how_to_go_back(log: Log, passages: tuple[Passage, ...]) -> None:
    (row, *_) = today(log, evening(0), zone=UTC).rows
    going = Round((Item.of_row(row, log),))
    said = going.announced(following(row.passage), row.passage, None)
    assert said == "Enough of phrase 1 for today. That was the last one; the pedal twice goes back."


def test_a_line_of_another_piece_is_announced_with_its_title(log: Log, passages: tuple[Passage, ...]) -> None:
    (row, *_) = today(log, evening(0), zone=UTC).rows
    other = hymn(1, seed=2, title="Evening hymn")
    before = log.know(other, phrases_of(other))[0]
    log.record(entry(before, RIGHT, title="Evening hymn"))
    assert Item.of_row(row, log).called(before) == "Harbour hymn, phrase 1"
