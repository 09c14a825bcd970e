"""What is played of one line of today's practice, and when the next line comes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC

from practising import entry, evening, hymn, learn, make_solid, phrases_of

from coach.practice.changes import Trouble, to_drill
from coach.practice.doses import DOSE, FIRST_DOSE
from coach.practice.entry import Fault
from coach.practice.ladder import FEWER, LEFT, MEMORY, NO_FINGERS, RIGHT, TOGETHER, Step
from coach.practice.log import Log
from coach.practice.passage import Passage
from coach.practice.schedule import Row, today
from coach.practice.session import asked_of, in_turn, is_done
from coach.practice.wishes import REVIEW_TAKES


def start(log: Log) -> Passage:
    piece = hymn(1)
    passage = log.know(piece, phrases_of(piece))[0]
    log.set_state(passage.piece, "in practice")
    return passage


def line(log: Log, day: int) -> Row:
    return today(log, evening(day), zone=UTC).rows[0]


class Crotchets:
    """A hymn in which both hands strike a chord on every beat."""

    def change(self, home: Passage, trouble: Trouble, troubles: Sequence[Trouble]) -> Passage | None:
        onset = trouble.fault.onset
        inside = home.onset < onset < home.end
        return replace(home, kind="change", onset=onset - 1, end=onset + 1) if inside else None


def played(log: Log, row: Row, day: int, spent: float = 0.0, trouble: Trouble | None = None) -> Step | None:
    """The step that is played next of a line; None where the next line comes."""
    steps, progress = log.steps(row.passage), log.progress(row.passage)
    if is_done(row, steps, progress, spent, evening(day).date()):
        return None
    return asked_of(Crotchets(), row.passage, trouble, steps, progress, row)[1]


def test_a_new_phrase_climbs_until_its_minutes_are_spent(log: Log) -> None:
    passage = start(log)
    row = line(log, 0)
    assert played(log, row, 0) == RIGHT
    log.record(entry(passage, RIGHT))
    assert played(log, row, 0, 1.0) == LEFT
    assert played(log, row, 0, FIRST_DOSE) is None


def test_a_phrase_that_climbed_as_far_as_it_goes_today_is_done_before_its_minutes(log: Log) -> None:
    passage = start(log)
    row = line(log, 0)
    learn(log, passage)
    assert played(log, row, 0, 2.0) is None


def test_a_review_is_done_with_its_first_take(log: Log) -> None:
    passage = start(log)
    learn(log, passage)
    row = line(log, 4)
    assert row.kind == "review"
    assert played(log, row, 4) == MEMORY
    log.record(entry(passage, MEMORY, at=evening(4)))
    assert played(log, row, 4, 0.5) is None


def test_weak_phrases_in_turn_get_a_dose_each(log: Log) -> None:
    passage = start(log)
    log.record(entry(passage, TOGETHER, "weak", at=evening(0)))
    (row,) = in_turn([stand for stand in log.stands() if stand.standing == "weak"])
    assert (row.passage, row.minutes) == (passage, DOSE)
    assert played(log, row, 1, DOSE - 1) == log.steps(passage)[log.progress(passage).place.index]
    assert played(log, row, 1, DOSE) is None


def test_what_failed_its_review_is_learned_again_for_one_dose(log: Log) -> None:
    passage = start(log)
    learn(log, passage)
    row = line(log, 4)
    log.record(entry(passage, MEMORY, "weak", at=evening(4)))
    assert played(log, row, 4, 0.5) == NO_FINGERS
    assert played(log, row, 4, DOSE) is None


def test_a_change_that_keeps_failing_is_drilled_at_once_and_then_the_phrase_goes_on(log: Log) -> None:
    passage = start(log)
    row = line(log, 0)
    fault = Fault(passage.onset + 3, "left", 1)
    for minute in range(3):
        log.record(entry(passage, TOGETHER, "shaky", at=evening(0, minute), faults=(fault,)))
    assert not is_done(row, log.steps(passage), log.progress(passage), 1.0, evening(0).date())
    progress = log.progress(passage)
    trouble = to_drill(progress.troubles)
    change, step = asked_of(Crotchets(), passage, trouble, log.steps(passage), progress, row)
    assert (change.kind, change.onset, change.end) == ("change", fault.onset - 1, fault.onset + 1)
    assert step == LEFT


def test_a_change_that_the_plan_knows_nothing_of_is_left_aside(log: Log) -> None:
    passage = start(log)
    gone = Trouble(Fault(passage.end, "left", 2), fails=3)
    assert played(log, line(log, 0), 0, trouble=gone) == RIGHT


def test_a_shaky_review_is_taken_again_and_mended_the_same_evening(log: Log) -> None:
    """What the first take showed of memory stays; how the passage stands is mended."""
    passage = start(log)
    make_solid(log, passage, (0, 4))
    day = due_on(log, passage)
    row = line(log, day)
    step = row.step
    log.record(entry(passage, step, "shaky", at=evening(day)))
    memory = log.progress(passage).memory
    assert log.progress(passage).standing == "shaky"
    assert played(log, row, day, 0.5) == step
    log.record(entry(passage, step, at=evening(day, 1)))
    assert log.progress(passage).standing == "solid"
    assert played(log, row, day, 1.0) is None
    assert log.progress(passage).memory == memory
    assert memory is not None
    assert memory.last == evening(day).date()


def test_a_review_that_stays_shaky_is_left_after_some_three_takes(log: Log) -> None:
    """Common practice, no source."""
    passage = start(log)
    make_solid(log, passage, (0, 4))
    day = due_on(log, passage)
    row = line(log, day)
    takes = 0
    while played(log, row, day, takes * row.minutes / REVIEW_TAKES) is not None:
        log.record(entry(passage, row.step, "shaky", at=evening(day, takes)))
        takes += 1
    assert takes == 3


def test_what_stands_shaky_gets_a_take_though_it_was_reviewed_on_the_eve(log: Log) -> None:
    """Forgotten and learned again on the eve of a date, it stands shaky: it is played once more that evening."""
    passage = start(log)
    make_solid(log, passage, (0, 4))
    log.set_date(passage.piece, evening(31))
    log.record(entry(passage, MEMORY, "weak", at=evening(30)))
    learn(log, passage, 30)
    assert log.progress(passage).standing == "shaky"
    row = next(row for row in today(log, evening(30, 20), zone=UTC).rows if row.passage == passage)
    assert row.kind == "again"
    step = played(log, row, 30)
    assert step is not None
    log.record(entry(passage, step, at=evening(30, 21)))
    assert played(log, row, 30, 0.5) is None


def test_a_review_with_fingers_is_played_until_it_goes_well_and_costs_no_step(log: Log) -> None:
    passage = start(log)
    learn(log, passage)
    row = line(log, 1500)
    assert (row.kind, row.step) == ("review", FEWER)
    place = log.progress(passage).place.index
    assert played(log, row, 1500) == FEWER
    log.record(entry(passage, FEWER, "weak", at=evening(1500)))
    assert played(log, row, 1500, 0.5) == FEWER
    log.record(entry(passage, FEWER, at=evening(1500, 1)))
    assert played(log, row, 1500, 1.0) is None
    assert log.progress(passage).place.index == place
    (row,) = (row for row in today(log, evening(1501), zone=UTC).rows if row.passage == passage)
    assert row.step == MEMORY


def due_on(log: Log, passage: Passage) -> int:
    """The evening on which a passage is due."""
    memory = log.progress(passage).memory
    assert memory is not None
    return (memory.due - evening(0).date()).days
