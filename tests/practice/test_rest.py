"""When the hands should rest."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

import pytest
from practising import MONDAY

from coach.practice.rest import LONG, REST, Stint, day_is_long, stint_of


def played(stint: Stint, start: float, seconds: float, each: float = 2.0) -> Stint:
    now = start
    while now <= start + seconds:
        stint = stint.played(now)
        now += each
    return stint


def test_after_25_minutes_of_playing_it_is_time_to_rest() -> None:
    assert not played(Stint(), 0, LONG - 60).long
    assert played(Stint(), 0, LONG + 2).long


def test_short_pauses_belong_to_playing_but_count_for_little() -> None:
    """A key a minute: each minute counts as twenty seconds."""
    stint = played(Stint(), 0, LONG + 60, each=60)
    assert not stint.long
    assert stint.seconds == 26 * 20


def test_a_rest_of_five_minutes_rests_the_hands() -> None:
    stint = played(Stint(), 0, LONG - 60)
    assert not stint.rested(LONG - 60 + REST - 1)
    assert stint.rested(LONG - 60 + REST)
    stint = played(stint, LONG + REST, 120)
    assert not stint.long
    assert stint.seconds <= 120


def test_it_is_asked_again_after_every_25_minutes_with_how_long_it_has_been() -> None:
    """Until the next rest, after which it begins anew."""
    stint, asked = Stint(), []
    for now in range(0, 80 * 60, 2):
        stint = stint.played(float(now))
        if stint.long:
            stint = stint.ask()
            asked.append(stint.sentence)
    assert asked == [f"You have played for {minutes} minutes: rest your hands for five." for minutes in (25, 50, 75)]
    assert stint.asking
    assert not stint.put_away().asking
    rested = stint.played(80 * 60 + REST + 1)
    assert not rested.asking
    assert not played(rested, 80 * 60 + REST + 3, LONG - 60).long
    assert played(rested, 80 * 60 + REST + 3, LONG).long


def test_what_was_put_away_is_asked_again_all_the_same() -> None:
    stint = played(Stint(), 0, LONG + 2).ask().put_away()
    assert not stint.long
    assert played(stint, LONG + 4, LONG + 2).long


def evening(takes: int, each: float = 24.0, every: float = 32.0, after: float = 0.0) -> list[tuple[datetime, float]]:
    return [(MONDAY + timedelta(seconds=after + every * number), each) for number in range(takes)]


@pytest.mark.parametrize(
    ("takes", "later", "minutes"),
    [
        (evening(170), 10.0, 90.5),
        (evening(170), REST - 1, 90.5),
        (evening(170), REST, 0.0),
        ([*evening(60), *evening(30, after=60 * 32.0 + REST)], 5.0, 15.9),
        ([], 0.0, 0.0),
    ],
)
def test_a_stint_goes_on_where_the_takes_leave_off(
    takes: Sequence[tuple[datetime, float]], later: float, minutes: float
) -> None:
    """Ninety minutes in the log are ninety minutes to a coach that was begun again, unless the hands rested."""
    end = max((began + timedelta(seconds=seconds) for began, seconds in takes), default=MONDAY)
    stint = stint_of(takes, end + timedelta(seconds=later), 5000.0)
    assert stint.seconds / 60 == pytest.approx(minutes, abs=0.1)
    if minutes:
        assert stint.last == pytest.approx(5000.0 - later)
        assert stint.long == (minutes >= 25)


def test_an_hour_on_one_day_is_long_and_so_are_more_minutes_set() -> None:
    assert day_is_long(59.0, 60.0) == ""
    assert day_is_long(60.2, 25.0) == "You have played for 60 minutes today."
    assert day_is_long(91.0, 120.0) == "You have played for 91 minutes today."
    assert day_is_long(0.0, 65.0) == "65 minutes are long for the hands: divide them."
