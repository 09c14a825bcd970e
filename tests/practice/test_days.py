"""Days of practice: they turn at four in the morning where the player is; clock changes and travel do no harm."""

from __future__ import annotations

import os
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from practising import MONDAY, entry, evening, hymn, make_solid, open_log, phrases_of, review

from coach.practice import days
from coach.practice.entry import new_entry
from coach.practice.ladder import MEMORY, NO_FINGERS
from coach.practice.log import Log
from coach.practice.passage import passages_of
from coach.practice.schedule import today

BERLIN, AUCKLAND, HONOLULU = ZoneInfo("Europe/Berlin"), ZoneInfo("Pacific/Auckland"), ZoneInfo("Pacific/Honolulu")
PASSAGE = passages_of(hymn(), phrases_of(hymn()))[0]


def at(zone: ZoneInfo, *numbers: int) -> datetime:
    return datetime(*numbers, tzinfo=zone)  # type: ignore[arg-type,misc]


def test_playing_past_midnight_belongs_to_the_evening() -> None:
    assert days.practice_day(at(BERLIN, 2026, 3, 3, 1, 30), BERLIN) == date(2026, 3, 2)
    assert days.practice_day(at(BERLIN, 2026, 3, 3, 3, 59), BERLIN) == date(2026, 3, 2)
    assert days.practice_day(at(BERLIN, 2026, 3, 3, 4, 0), BERLIN) == date(2026, 3, 3)


def test_the_day_turns_at_four_on_the_clock_when_clocks_change() -> None:
    """Central European clocks went from 2:00 to 3:00 on 29 March 2026 and back from 3:00 to 2:00 on 25 October.

    Source: Directive 2000/84/EC, the last Sundays of March and October at 1:00 UTC."""
    spring, autumn = date(2026, 3, 29), date(2026, 10, 25)
    assert days.day_begins(spring, BERLIN) == datetime(2026, 3, 29, 2, 0, tzinfo=UTC)
    assert days.day_begins(spring, BERLIN) - days.day_begins(date(2026, 3, 28), BERLIN) == timedelta(hours=23)
    assert days.day_begins(autumn, BERLIN) - days.day_begins(date(2026, 10, 24), BERLIN) == timedelta(hours=25)
    before = days.day_begins(spring, BERLIN) - timedelta(seconds=1)
    assert days.practice_day(before, BERLIN) == date(2026, 3, 28)


zones = st.sampled_from(["UTC", "Europe/Berlin", "Pacific/Auckland", "America/New_York", "Asia/Kathmandu"])


@given(st.datetimes(datetime(2000, 1, 1), datetime(2060, 1, 1)), zones)
def test_every_instant_lies_in_its_day(naive: datetime, name: str) -> None:
    zone, instant = ZoneInfo(name), naive.replace(tzinfo=UTC)
    day = days.practice_day(instant, zone)
    assert days.day_begins(day, zone) <= instant < days.day_begins(day + timedelta(days=1), zone)


@given(st.datetimes(datetime(1, 1, 2), datetime(9999, 12, 30)), zones)
def test_instants_are_written_in_utc_and_sort_as_they_pass(naive: datetime, name: str) -> None:
    instant = naive.replace(tzinfo=ZoneInfo(name)) if naive.year > 1900 else naive.replace(tzinfo=UTC)
    assert days.read(days.written(instant)) == instant.astimezone(UTC)
    assert days.written(instant) < days.written(instant.astimezone(UTC) + timedelta(microseconds=1))


def test_an_instant_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="no time zone"):
        days.read("2026-03-02T18:00:00")


def test_two_evenings_across_a_clock_change_are_two_days(log: Log) -> None:
    """From Saturday 21:00 to Sunday 20:00 only 22 hours pass, but a night's sleep lies between."""
    log.record(new_entry(PASSAGE, "", NO_FINGERS, "solid", began=at(BERLIN, 2026, 3, 28, 21), seconds=9, zone=BERLIN))
    log.record(new_entry(PASSAGE, "", MEMORY, "solid", began=at(BERLIN, 2026, 3, 29, 20), seconds=9, zone=BERLIN))
    assert log.progress(PASSAGE).standing == "solid"


def test_two_takes_of_one_evening_around_midnight_are_one_day(log: Log) -> None:
    log.record(
        new_entry(PASSAGE, "", NO_FINGERS, "solid", began=at(BERLIN, 2026, 3, 2, 23, 50), seconds=9, zone=BERLIN)
    )
    log.record(new_entry(PASSAGE, "", MEMORY, "solid", began=at(BERLIN, 2026, 3, 3, 0, 20), seconds=9, zone=BERLIN))
    assert log.progress(PASSAGE).standing == "shaky"


def test_a_flight_across_the_date_line_loses_nothing(log: Log) -> None:
    """From Auckland to Honolulu the calendar goes back a day: the review of the earlier date comes after all."""
    make_solid(log, PASSAGE)
    due = log.progress(PASSAGE).memory
    assert due
    there = at(AUCKLAND, due.due.year, due.due.month, due.due.day, 9)
    log.record(new_entry(PASSAGE, "", MEMORY, "solid", began=there, seconds=9, zone=AUCKLAND))
    reviewed = log.progress(PASSAGE)
    arrived = there + timedelta(hours=9)
    assert days.practice_day(arrived, HONOLULU) < days.practice_day(there, AUCKLAND)
    log.record(new_entry(PASSAGE, "", MEMORY, "weak", began=arrived, seconds=9, zone=HONOLULU))
    assert log.progress(PASSAGE).memory == reviewed.memory


def test_a_take_keeps_its_day_wherever_the_log_is_read(log: Log) -> None:
    log.record(new_entry(PASSAGE, "", NO_FINGERS, "solid", began=at(AUCKLAND, 2026, 3, 3, 7), seconds=9, zone=AUCKLAND))
    (kept,) = log.entries()
    assert kept.day == date(2026, 3, 3)
    assert kept.at == datetime(2026, 3, 2, 18, tzinfo=UTC)


def test_takes_played_while_the_clock_ran_ahead_count_when_their_day_comes(tmp_path: Path) -> None:
    wrong, right = evening(4000), evening(30)
    with open_log(tmp_path, now=wrong) as log:
        log.know(hymn(), phrases_of(hymn()))
        make_solid(log, PASSAGE)
        before = log.progress(PASSAGE)
        log.record(entry(PASSAGE, MEMORY, at=wrong))
    with open_log(tmp_path, now=right) as log:
        assert log.progress(PASSAGE) == before
        assert any(row.passage == PASSAGE and row.kind == "review" for row in today(log, right, zone=UTC).rows)
        review(log, PASSAGE, 30)
        assert log.count() == before.takes + 2
        assert log.progress(PASSAGE).takes == before.takes + 1
        assert not any(row.passage == PASSAGE for row in today(log, right, zone=UTC).rows)


def test_this_computers_zone_is_used_where_none_is_given() -> None:
    script = "from coach.practice import days; from datetime import datetime, UTC;"
    script += (
        "print(days.practice_day(datetime(2026, 3, 2, 18, tzinfo=UTC)), days.day_begins(datetime(2026,3,2).date()))"
    )
    told = {}
    for zone in ("Pacific/Auckland", "Pacific/Honolulu"):
        environment = {**os.environ, "TZ": zone}
        told[zone] = subprocess.run(
            [sys.executable, "-c", script], env=environment, capture_output=True, text=True, check=True
        ).stdout.strip()
    assert told["Pacific/Auckland"] == "2026-03-03 2026-03-01 15:00:00+00:00"
    assert told["Pacific/Honolulu"] == "2026-03-02 2026-03-02 14:00:00+00:00"


def test_a_flight_back_over_the_date_line_takes_no_review_away(log: Log) -> None:
    """Learned on Tuesday and reviewed on Wednesday in Sydney; that evening in Los Angeles it is Tuesday again."""
    passage = log.know(hymn(), phrases_of(hymn()))[0]
    sydney, los_angeles = timezone(timedelta(hours=11)), timezone(timedelta(hours=-8))
    there = [datetime(2026, 3, day, 9, tzinfo=sydney) for day in (3, 4)]
    for at in there:
        log.record(new_entry(passage, "", NO_FINGERS, "solid", began=at, seconds=20.0, zone=sydney))
    memory = log.progress(passage).memory
    back = datetime(2026, 3, 3, 20, tzinfo=los_angeles)
    assert back > there[-1]
    log.record(new_entry(passage, "", NO_FINGERS, "shaky", began=back, seconds=20.0, zone=los_angeles))
    assert log.progress(passage).memory == memory


def test_takes_of_a_day_to_come_count_when_the_log_is_opened_on_it(tmp_path: Path) -> None:
    """The clock was ten days ahead, was set right, a take was played, and the ten days went by."""
    piece = hymn()
    with open_log(tmp_path, MONDAY + timedelta(days=10)) as log:
        passage = log.know(piece, phrases_of(piece))[0]
        log.record(entry(passage, at=MONDAY + timedelta(days=10)))
    with open_log(tmp_path, MONDAY + timedelta(hours=1)) as log:
        log.record(entry(passage, at=MONDAY))
        assert (log.count(), log.progress(passage).takes) == (2, 1)
    with open_log(tmp_path, MONDAY + timedelta(days=11)) as log:
        assert (log.count(), log.progress(passage).takes) == (2, 2)
