"""What to play today."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from typing import Any

import pytest
from practising import MONDAY, entry, evening, hymn, learn, make_solid, phrases_of, review

from coach.practice.doses import DOSE
from coach.practice.entry import Fault, Part
from coach.practice.ladder import FEWER, MEMORY, NO_FINGERS, PEDAL, RIGHT, TOGETHER
from coach.practice.log import Log
from coach.practice.passage import Passage, passages_of
from coach.practice.schedule import Row, Today, arrange, day_name, next_day, today


def take_up(log: Log, number: int, phrases: int = 4) -> list[Passage]:
    """A piece in practice."""
    piece = hymn(phrases, seed=number, title=f"Hymn {number}")
    passages = log.know(piece, phrases_of(piece))
    log.set_state(passages[0].piece, "in practice")
    return [passage for passage in passages if passage.kind == "phrase"]


def plan(log: Log, day: int, minutes: float = 25, **more: Any) -> Today:
    return today(log, evening(day), minutes=minutes, zone=UTC, **more)


def kinds(rows: tuple[Row, ...]) -> list[str]:
    return [row.kind for row in rows]


def test_nothing_in_practice_is_nothing_to_play(log: Log) -> None:
    log.know(hymn(), phrases_of(hymn()))
    assert plan(log, 0).rows == ()


def test_a_new_piece_begins_with_its_first_phrases(log: Log) -> None:
    first = take_up(log, 1)
    rows = plan(log, 0).rows
    assert [row.passage for row in rows] == first
    assert {row.step for row in rows} == {RIGHT}
    assert {row.why for row in rows} == {"new"}


def test_reviews_come_first_then_what_is_learned_then_what_is_new(log: Log) -> None:
    one, two, three = take_up(log, 1), take_up(log, 2), take_up(log, 3)
    make_solid(log, one[0])
    for minute in range(3):
        log.record(entry(two[0], RIGHT, "shaky", at=evening(6, minute)))
    due = log.progress(one[0]).memory
    assert due
    rows = plan(log, (due.due - MONDAY.date()).days).rows
    assert kinds(rows) == sorted(kinds(rows), key=["review", "learning", "new"].index)
    assert [rows[0].passage, rows[1].passage] == [one[0], two[0]]
    assert rows[0].step.full
    assert rows[0].why == "due today"
    assert rows[1].why == "next: right hand"
    assert three[0] in [row.passage for row in rows]


def test_what_is_not_due_for_days_is_left_in_peace(log: Log) -> None:
    one = take_up(log, 1)
    make_solid(log, one[0])
    due = log.progress(one[0]).memory
    assert due
    before = (due.due - MONDAY.date()).days - 3
    assert one[0] not in [row.passage for row in plan(log, before).rows]


def test_time_that_is_left_goes_to_what_is_due_in_the_next_days(log: Log) -> None:
    one = take_up(log, 1, 1)
    make_solid(log, one[0])
    due = log.progress(one[0]).memory
    assert due
    before = (due.due - MONDAY.date()).days - 1
    (row,) = plan(log, before).rows
    assert row.why == "early, due tomorrow"
    more = take_up(log, 2, 6)
    assert one[0] not in [row.passage for row in plan(log, before, 24).rows]
    assert [row.passage for row in plan(log, before, 60).rows] == [*more, one[0]]


def test_a_new_piece_waits_until_few_others_are_under_way(log: Log) -> None:
    pieces = [take_up(log, number) for number in range(6)]
    for piece in pieces[2:5]:
        log.record(entry(piece[0], RIGHT, "solid"))
    new = {row.passage.piece for row in plan(log, 1, 200).rows if row.kind == "new"}
    assert new == {piece[0].piece for piece in pieces[2:5]}
    for phrase in pieces[2]:
        learn(log, phrase)
    new = {row.passage.piece for row in plan(log, 1, 300).rows if row.why == "new"}
    assert new == {piece[0].piece for piece in (pieces[0], *pieces[3:5])}


def test_what_waited_longest_for_its_length_comes_first(log: Log) -> None:
    one, two = take_up(log, 1), take_up(log, 2)
    make_solid(log, one[0], (0, 3, 12))
    make_solid(log, two[0], (57,))
    long, short = log.progress(one[0]).memory, log.progress(two[0]).memory
    assert long
    assert short
    assert long.due < short.due
    rows = [row for row in plan(log, 62).rows if row.kind == "review"]
    assert [row.passage for row in rows] == [two[0], one[0]]
    assert rows[0].why.startswith("due since ")


@pytest.mark.parametrize("minutes", [5, 10, 25, 60])
def test_the_minutes_of_the_day_are_kept(log: Log, minutes: float) -> None:
    for number in range(8):
        phrases = take_up(log, number)
        learn(log, phrases[0], number)
        log.record(entry(phrases[1], TOGETHER, "shaky", at=evening(number, 40)))
    planned = plan(log, 30, minutes)
    assert planned.rows
    assert planned.planned <= minutes + 1e-9


def test_what_was_played_today_already_counts(log: Log) -> None:
    phrases = take_up(log, 1, 6)
    for minute in range(20):
        log.record(entry(phrases[0], RIGHT, "shaky", at=evening(0, minute), seconds=50.0))
    rest = today(log, evening(0, 21), zone=UTC)
    assert rest.played == pytest.approx(20 - 1 / 6, abs=0.01)
    assert rest.planned <= 25 - rest.played + 1e-9
    assert phrases[0] not in [row.passage for row in rest.rows]


def test_reviews_that_do_not_fit_are_counted(log: Log) -> None:
    for number in range(12):
        learn(log, take_up(log, number, 1)[0], 0)
    planned = plan(log, 60, 5)
    assert 0 < len(planned.rows) < 12
    assert planned.waiting == 12 - len(planned.rows)


def test_more_reviews_than_a_day_can_hold_are_counted_too(log: Log, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("coach.practice.stand.MOST", 4)
    for number in range(12):
        learn(log, take_up(log, number, 1)[0], 0)
    planned = plan(log, 60, 100)
    assert len(planned.rows) + planned.waiting == 12


def test_pieces_take_turns(log: Log) -> None:
    for number in range(3):
        for phrase in take_up(log, number):
            learn(log, phrase, 0)
    rows = [row for row in plan(log, 60, 200).rows if row.kind == "review"]
    assert len(rows) == 12
    assert all(one.title != other.title for one, other in pairwise(rows))


def test_a_change_that_keeps_failing_comes_just_before_its_phrase(log: Log) -> None:
    phrases, _ = take_up(log, 1), take_up(log, 2)
    fault = Fault(phrases[0].onset + 3, "left", 1)
    for minute in range(3):
        log.record(entry(phrases[0], TOGETHER, "shaky", at=evening(0, minute), faults=(fault,)))
    rows = plan(log, 1).rows
    place = next(i for i, row in enumerate(rows) if row.change)
    assert rows[place].change == fault
    assert rows[place].why == "left hand's change keeps failing"
    assert rows[place + 1].passage == rows[place].passage == phrases[0]
    assert rows[place + 1].change is None


def test_many_failing_changes_leave_time_for_their_phrase(log: Log) -> None:
    """Two changes at most on one day, within the minutes of the phrase."""
    phrases = take_up(log, 1)
    faults = tuple(Fault(phrases[0].onset + n, "right", 1) for n in range(1, 6))
    for minute in range(3):
        log.record(entry(phrases[0], TOGETHER, "weak", at=evening(0, minute), faults=faults))
    rows = [row for row in plan(log, 1).rows if row.passage == phrases[0]]
    assert [row.change is not None for row in rows] == [True, True, False]
    assert sum(row.minutes for row in rows) <= DOSE


def test_a_day_that_is_nearly_over_gets_no_long_row(log: Log) -> None:
    (phrase,) = take_up(log, 1, 1)
    for minute in range(3):
        log.record(entry(phrase, RIGHT, "shaky", at=evening(0, minute)))
    assert plan(log, 1, 1).rows
    other = take_up(log, 2, 1)[0]
    log.record(entry(other, RIGHT, "shaky", at=evening(1), seconds=9.2 * 60))
    assert plan(log, 1, 10).rows == ()


def test_the_whole_piece_comes_after_its_last_join(log: Log) -> None:
    for phrase in take_up(log, 1, 3):
        learn(log, phrase, 0)
    new = [row.passage.kind for row in plan(log, 1, 60).rows if row.kind == "new"]
    assert new == ["join", "join", "piece"]


def test_a_phrase_that_was_never_reviewed_has_not_been_forgotten(log: Log) -> None:
    phrases = take_up(log, 1)
    learn(log, phrases[0], 0)
    other = phrases[1]
    for minute, step in enumerate(log.steps(other)):
        log.record(entry(other, step, "weak" if step == NO_FINGERS else "solid", at=evening(0, 30 + minute)))
        if step == NO_FINGERS:
            break
    row = next(row for row in plan(log, 1).rows if row.passage == other)
    assert (row.step, row.why) == (NO_FINGERS, "next: no fingers")


def test_two_phrases_are_joined_when_both_go_in_tempo_and_the_whole_comes_last(log: Log) -> None:
    phrases = take_up(log, 1, 3)
    learn(log, phrases[0], 0)
    assert not any(row.passage.kind == "join" for row in plan(log, 1).rows)
    learn(log, phrases[1], 0)
    row = next(row for row in plan(log, 1).rows if row.passage.kind == "join")
    assert row.why == "joins phrases 1 and 2"
    assert row.step.seam
    learn(log, phrases[2], 0)
    assert [r.why for r in plan(log, 1, 60).rows if r.passage.kind == "piece"] == ["all phrases together"]


def test_a_join_that_is_due_spares_the_reviews_of_its_phrases(log: Log) -> None:
    phrases = take_up(log, 1, 2)
    for phrase in phrases:
        learn(log, phrase, 0)
    join = next(stand.passage for stand in log.stands() if stand.kind == "join")
    learn(log, join, 0)
    due = log.progress(join).memory
    assert due
    day = (due.due - MONDAY.date()).days
    assert [row.passage for row in plan(log, day).rows if row.kind == "review"] == [join]


def test_a_phrase_that_failed_its_review_says_so(log: Log) -> None:
    phrases = take_up(log, 1)
    make_solid(log, phrases[0])
    log.record(entry(phrases[0], MEMORY, "weak", at=evening(9)))
    row = next(row for row in plan(log, 10).rows if row.passage == phrases[0])
    assert row.kind == "learning"
    assert row.step == NO_FINGERS
    assert row.why == "forgotten at its last review"


def test_phrases_of_the_same_notes_are_met_once(log: Log) -> None:
    from dataclasses import replace

    verse = hymn(1)
    again = tuple(replace(note, onset=note.onset + 8) for note in verse.notes)
    twice = replace(hymn(2), notes=(*verse.notes, *again))
    log.set_state(log.know(twice, phrases_of(twice))[0].piece, "in practice")
    assert len(plan(log, 0).rows) == 1


def test_the_same_log_gives_the_same_day(log: Log) -> None:
    for number in range(4):
        learn(log, take_up(log, number)[0], 0)
    assert plan(log, 9) == plan(log, 9)


def test_a_history_kept_from_other_boundaries_is_said(log: Log) -> None:
    from practising import cut

    whole = log.know(hymn(), cut(16, 32))[0]
    log.record(entry(whole, RIGHT))
    log.know(hymn(), cut(8, 16, 32))
    why = next(row.why for row in plan(log, 1).rows if row.passage.first == 1)
    assert why.endswith("; history of phrase 1 as it was cut before (bars 1-4)")


def test_the_day_goes_by_where_the_player_is(log: Log) -> None:
    phrases = take_up(log, 1)
    make_solid(log, phrases[0])
    due = log.progress(phrases[0]).memory
    assert due
    late = datetime(due.due.year, due.due.month, due.due.day, 2, 0, tzinfo=UTC)
    assert "due today" not in [row.why for row in today(log, late, zone=UTC).rows]
    assert "due today" in [row.why for row in today(log, late + timedelta(hours=3), zone=UTC).rows]


def test_days_are_named_as_a_player_says_them() -> None:
    """Beyond 300 days the year is said: "due since 3 May" could be this year's."""
    monday = MONDAY.date()
    said = [day_name(monday + timedelta(days=away), monday) for away in (-1, 0, 1, -3, 5, -30)]
    assert said == ["yesterday", "today", "tomorrow", "Friday", "Saturday", "31 January"]
    assert [day_name(monday + timedelta(days=away), monday) for away in (-300, -301, 301)] == [
        "6 May", "5 May 2025", "28 December 2026",
    ]  # fmt: skip


def shaky(log: Log, phrase: Passage, days: tuple[int, ...] = (0, 3, 9)) -> None:
    """A phrase that is learned, and whose last review was shaky."""
    make_solid(log, phrase, days[:-1])
    review(log, phrase, days[-1], "shaky")
    assert log.progress(phrase).standing == "shaky"


def again(planned: Today) -> list[Passage]:
    return [row.passage for row in planned.rows if row.kind == "again"]


def test_what_stands_shaky_comes_once_more_in_minutes_that_are_free(log: Log) -> None:
    (phrase,) = take_up(log, 1, 1)
    shaky(log, phrase)
    (row,) = plan(log, 10).rows
    assert (row.passage, row.kind, row.why, row.step) == (phrase, "again", "stands shaky, once more", PEDAL)
    new = take_up(log, 2, 6)
    assert [row.passage for row in plan(log, 10, 24).rows] == new[:4]
    planned = plan(log, 10, 60).rows
    assert [row.passage for row in planned] == [*new, phrase]


@pytest.mark.parametrize("minutes", [5, 10, 25, 40, 60])
def test_what_stands_shaky_takes_no_minute_from_anything_else(log: Log, minutes: float) -> None:
    """The same day as if all that is learned stood solid, but for what is due in the next days."""
    for number in range(8):
        one, two = take_up(log, number, 2)
        shaky(log, one, (0, 3 + number, 12))
        log.record(entry(two, TOGETHER, "shaky", at=evening(number, 40)))
    stands = log.stands()
    solid = [stand._replace(standing="solid") if stand.learned else stand for stand in stands]
    seen = 0
    for day in range(13, 40, 3):
        rows, others = (arrange(some, evening(day), minutes=minutes, zone=UTC).rows for some in (stands, solid))
        seen += sum(row.kind == "again" for row in rows)
        now_rows, other_rows = (
            [(row.passage, row.minutes) for row in some if row.kind != "again" and not row.why.startswith("early")]
            for some in (rows, others)
        )
        assert now_rows == other_rows
    assert seen or minutes < 60


def test_what_is_solid_is_left_in_peace(log: Log) -> None:
    (phrase,) = take_up(log, 1, 1)
    shaky(log, phrase)
    assert again(plan(log, 11)) == [phrase]
    review(log, phrase, 10)
    assert log.progress(phrase).standing == "solid"
    assert plan(log, 11).rows == ()


def test_what_stands_shaky_comes_once_a_day(log: Log) -> None:
    (phrase,) = take_up(log, 1, 1)
    shaky(log, phrase)
    review(log, phrase, 10, "shaky")
    assert plan(log, 10).rows == ()
    assert again(plan(log, 11)) == [phrase]


def test_what_waited_longest_comes_again_first_and_before_what_is_due_soon(log: Log) -> None:
    first, second, third, solid = (take_up(log, number, 1)[0] for number in range(4))
    shaky(log, second, (0, 3, 9))
    shaky(log, first, (0, 3, 10))
    shaky(log, third, (0, 3, 11))
    make_solid(log, solid, (9, 10))
    due = log.progress(solid).memory
    assert due
    day = (due.due - MONDAY.date()).days - 1
    assert [row.passage for row in plan(log, day).rows] == [second, first, third, solid]
    assert again(plan(log, day, 1)) == [second]


def test_a_shaky_piece_is_mended_part_by_part(log: Log) -> None:
    """The phrase that went wrong, then that phrase with its neighbours, then the whole."""
    phrases = take_up(log, 1, 3)
    for phrase in phrases:
        make_solid(log, phrase, (0, 3))
    longer = [stand.passage for stand in log.stands() if stand.kind != "phrase"]
    assert len(longer) == 3
    for passage in longer:
        make_solid(log, passage, (3, 6))
    whole = next(passage for passage in longer if passage.kind == "piece")
    parts = tuple(Part(p.onset, p.end, "shaky" if p == phrases[1] else "solid") for p in phrases)
    log.record(entry(whole, MEMORY, "shaky", at=evening(8), parts=parts))
    assert again(plan(log, 9)) == [phrases[1]]
    log.record(entry(phrases[1], MEMORY, at=evening(9)))
    log.record(entry(phrases[1], MEMORY, at=evening(10)))
    assert log.progress(phrases[1]).standing == "solid"
    joins = [passage for passage in longer if passage.kind == "join"]
    assert again(plan(log, 11)) == joins
    for join in joins:
        log.record(entry(join, MEMORY, at=evening(11)))
    assert again(plan(log, 12)) == [whole]


def test_a_review_stays_in_the_day_until_it_was_played_from_memory(log: Log) -> None:
    """Hands alone, fingers on the page and a take that was broken off leave it there."""
    phrase, other = take_up(log, 1, 2)
    for one in (phrase, other):
        learn(log, one)
    due = log.progress(phrase).memory
    assert due
    day = (due.due - MONDAY.date()).days
    takes = (
        entry(phrase, RIGHT, at=evening(day)),
        entry(phrase, TOGETHER, at=evening(day, 1)),
        entry(phrase, MEMORY, "shaky", at=evening(day, 2), reached=phrase.onset + 2),
    )
    for take in takes:
        log.record(take)
        assert phrase in [row.passage for row in today(log, evening(day, 3), zone=UTC).rows if row.why == "due today"]
    log.record(entry(phrase, MEMORY, at=evening(day, 4)))
    assert phrase not in [row.passage for row in today(log, evening(day, 5), zone=UTC).rows]


def test_after_a_long_absence_phrases_come_before_the_whole_and_with_fingers(log: Log) -> None:
    """What is more likely to fail than to go well is not asked for from memory, in one go."""
    phrases = take_up(log, 1, 3)
    for phrase in phrases:
        learn(log, phrase)
    longer = [stand.passage for stand in log.stands() if stand.kind != "phrase"]
    for passage in longer:
        learn(log, passage)
    at_once = plan(log, 3)
    assert "piece" in [row.passage.kind for row in at_once.rows if row.kind == "review"]
    later = [row for row in plan(log, 60).rows if row.kind == "review"]
    assert [row.passage for row in later] == phrases
    assert {row.step for row in later} == {MEMORY}
    years = [row for row in plan(log, 1500).rows if row.kind == "review"]
    assert [row.passage for row in years] == phrases
    assert {row.step for row in years} == {FEWER}
    for phrase in phrases:
        log.record(entry(phrase, FEWER, at=evening(1500)))
    whole = next(passage for passage in longer if passage.kind == "piece")
    assert whole in [row.passage for row in today(log, evening(1500, 30), zone=UTC).rows]


def test_the_next_day_with_something_to_play_is_the_first_one(log: Log) -> None:
    """Held against every day in turn."""
    assert next_day(log, evening(0), zone=UTC) is None
    one, two = take_up(log, 1, 1)[0], take_up(log, 2, 1)[0]
    make_solid(log, one, (0, 3, 14))
    for day in (14, 15, 20, 40):
        assert next_day(log, evening(day), zone=UTC) == first_in_turn(log, day)
    make_solid(log, two, (14, 16))
    assert next_day(log, evening(16), zone=UTC) == first_in_turn(log, 16)
    review(log, two, 20, "shaky")
    assert next_day(log, evening(20), zone=UTC) == evening(21).date()
    review(log, two, 21)
    assert first_in_turn(log, 21) == next_day(log, evening(21), zone=UTC) != evening(22).date()
    log.set_date(one.piece, evening(28))
    assert next_day(log, evening(21), zone=UTC) == first_in_turn(log, 21) == evening(27).date()


def first_in_turn(log: Log, day: int) -> date | None:
    return next((evening(other).date() for other in range(day + 1, day + 400) if plan(log, other).rows), None)


def test_a_piece_that_cannot_be_opened_here_is_not_asked_for(log: Log) -> None:
    """Its takes came with the log of another machine."""
    piece = hymn()
    passage = passages_of(piece, phrases_of(piece))[0]
    log.merge([entry(passage, source="/elsewhere/hymn.musicxml")], {})
    assert log.stands()
    assert plan(log, 1).rows == ()
    log.know(piece, phrases_of(piece))
    assert plan(log, 1).rows
