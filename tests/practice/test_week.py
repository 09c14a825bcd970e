"""Seven days back and seven ahead."""

from __future__ import annotations

from datetime import UTC, date, timedelta

from practising import MONDAY, entry, evening, hymn, learn, make_solid, phrases_of, review

from coach.practice import schedule
from coach.practice.ladder import MEMORY, RIGHT, TOGETHER
from coach.practice.log import Log
from coach.practice.passage import Passage
from coach.practice.week import Week, week


def phrases(log: Log, number: int = 1, count: int = 4) -> list[Passage]:
    piece = hymn(count, seed=number, title=f"Hymn {number}")
    passages = log.know(piece, phrases_of(piece))
    log.set_state(passages[0].piece, "in practice")
    return [passage for passage in passages if passage.kind == "phrase"]


def at(log: Log, day: int) -> Week:
    return week(log, evening(day), zone=UTC)


def test_a_week_is_seven_days_back_and_seven_ahead_with_today_in_both(log: Log) -> None:
    found = at(log, 10)
    assert [day.day for day in found.past] == [date(2026, 3, 6) + timedelta(days=n) for n in range(7)]
    assert [day.day for day in found.ahead] == [date(2026, 3, 12) + timedelta(days=n) for n in range(7)]
    assert found.today == date(2026, 3, 12)


def test_what_was_played(log: Log) -> None:
    one, two = phrases(log, 1), phrases(log, 2)
    log.record(entry(two[0], RIGHT, at=evening(3), seconds=60.0, title="Hymn 2"))
    log.record(entry(one[0], RIGHT, at=evening(3, 1), seconds=60.0, title="Hymn 1"))
    log.record(entry(one[0], RIGHT, at=evening(-9), seconds=60.0, title="Hymn 1"))
    past = at(log, 5).past
    assert [day.takes for day in past] == [0, 0, 0, 0, 2, 0, 0]
    assert past[4].pieces == ("Hymn 2", "Hymn 1")
    assert past[4].minutes == 2.0


def test_what_became_solid_and_what_fell_back(log: Log) -> None:
    one, two, *_ = phrases(log)
    make_solid(log, one, (0, 3))
    make_solid(log, two, (0, 3))
    review(log, two, 5, "weak")
    past = at(log, 6).past
    by_day = {day.day: day for day in past}
    solid = by_day[MONDAY.date() + timedelta(days=3)].solid
    assert [(turn.passage, turn.was, turn.became) for turn in solid] == [
        (one, "shaky", "solid"),
        (two, "shaky", "solid"),
    ]
    fell = by_day[MONDAY.date() + timedelta(days=5)].fell
    assert [(turn.passage, turn.was, turn.became) for turn in fell] == [(two, "solid", "weak")]


def test_what_fell_and_was_mended_on_the_same_day_did_not_fall(log: Log) -> None:
    one, *_ = phrases(log)
    make_solid(log, one, (0, 3))
    review(log, one, 5, "shaky")
    log.record(entry(one, MEMORY, at=evening(5, 1)))
    today = at(log, 5).past[-1]
    assert today.takes == 2
    assert today.fell == ()


def test_what_is_due_comes_on_its_day_and_what_is_overdue_today(log: Log) -> None:
    one, two, *_ = phrases(log)
    make_solid(log, one)
    learn(log, two, 1)
    due = [log.progress(phrase).memory for phrase in (one, two)]
    assert due[0]
    assert due[1]
    ahead = at(log, 3).ahead
    for phrase, memory in ((one, due[0]), (two, due[1])):
        days = [day.day for day in ahead if phrase in [stand.passage for stand in day.due]]
        assert days == ([max(memory.due, date(2026, 3, 5))] if memory.due <= ahead[-1].day else [])
    assert [stand.passage for stand in at(log, 400).ahead[0].due] == [one, two]


def test_a_longer_review_stands_for_the_phrases_in_it(log: Log) -> None:
    """As it will on the day itself."""
    for phrase in phrases(log, 1, 2):
        learn(log, phrase, 0)
    join = next(stand.passage for stand in log.stands() if stand.kind == "join")
    learn(log, join, 0)
    due = [stand.passage for day in at(log, 0).ahead for stand in day.due]
    assert due == [join]


def test_a_day_on_which_a_piece_must_be_ready(log: Log) -> None:
    one, *_ = phrases(log)
    log.set_date(one.piece, evening(4))
    assert [day.ready for day in at(log, 0).ahead] == [(), (), (), (), ("Hymn 1",), (), ()]


def test_a_date_is_to_come_until_its_hour_and_past_from_then_on(log: Log) -> None:
    """Two pieces on one day: what is said of each hangs on the instant and not on the day."""
    one, two = phrases(log, 1), phrases(log, 2)
    log.set_date(one[0].piece, evening(4, -8 * 60))
    log.set_date(two[0].piece, evening(4, 60))
    today = at(log, 4).ahead[0]
    assert today.past == ("Hymn 1: its date was today 10:00",)
    assert today.ready == ("Hymn 2",)
    assert [day.past for day in at(log, 5).ahead] == [()] * 7
    assert [day.ready for day in at(log, 5).ahead] == [()] * 7


def test_today_s_reviews_are_those_that_the_day_is_made_of(log: Log) -> None:
    """Before a date and on any other day, on the morning of the date and after it."""
    one, two = phrases(log, 1, 3), phrases(log, 2, 2)
    for number, phrase in enumerate((*one, *two)):
        make_solid(log, phrase, (0, 3 + number))
    log.set_date(one[0].piece, evening(9, -8 * 60))
    for day, minute in [(day, minute) for day in range(6, 14) for minute in (-10 * 60, 0)]:
        now = evening(day, minute)
        laid_out = schedule.today(log, now, minutes=500, zone=UTC)
        reviews = {row.passage for row in laid_out.rows if row.kind == "review" and not row.why.startswith("early")}
        assert {stand.passage for stand in week(log, now, zone=UTC).ahead[0].due} == reviews


def test_a_review_stays_in_the_week_s_today_until_it_was_played(log: Log) -> None:
    """One hand alone is none."""
    one, *_ = phrases(log)
    make_solid(log, one)
    memory = log.progress(one).memory
    assert memory
    day = (memory.due - MONDAY.date()).days
    for played in (lambda: None, lambda: log.record(entry(one, RIGHT, at=evening(day, -60)))):
        played()
        assert [len(ahead.due) for ahead in at(log, day).ahead[:2]] == [1, 0]
    review(log, one, day)
    assert [len(ahead.due) for ahead in at(log, day).ahead[:2]] == [0, 0]


def test_what_is_due_and_not_asked_for_today_comes_tomorrow(log: Log) -> None:
    """After a long absence Today asks for the phrases first, and for what they make together when they were played."""
    for phrase in phrases(log, 1, 2):
        learn(log, phrase, 0)
    join = next(stand.passage for stand in log.stands() if stand.kind == "join")
    learn(log, join, 0)
    today, tomorrow, *_ = at(log, 300).ahead
    assert [stand.passage.label for stand in today.due] == ["phrase 1", "phrase 2"]
    assert [stand.passage for stand in tomorrow.due] == [join]


def test_weak_phrases_that_waited_longest_come_first(log: Log) -> None:
    one, two, three, _ = phrases(log)
    for day, phrase in enumerate((two, one, three)):
        log.record(entry(phrase, TOGETHER, "weak", at=evening(day)))
    log.record(entry(three, TOGETHER, "solid", at=evening(3)))
    found = at(log, 4)
    assert [stand.passage for stand in found.weak] == [two, one]
    assert [stand.passage for stand in found.shaky] == [three]
    assert found.standing == {"solid": 0, "shaky": 1, "weak": 2, None: 1}


def test_what_is_forecast_for_a_date_is_there_phrase_by_phrase(log: Log) -> None:
    one, two, *_ = phrases(log)
    log.set_date(one.piece, evening(6))
    make_solid(log, one, (0, 3))
    learn(log, two, 3)
    (ready,) = at(log, 4).dates
    assert [phrase.number for phrase in ready.forecast] == [1, 2, 3, 4]
    assert ready.forecast[0].chance > 0.8
    assert ready.chances[0] == f"1 {100 * ready.forecast[0].chance:.0f} %"
