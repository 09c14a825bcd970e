"""When the hands should rest."""

from __future__ import annotations

from coach.practice.rest import LONG, REST, Stint


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
    stint = played(stint, LONG + REST, 120)
    assert not stint.long
    assert stint.seconds <= 120


def test_it_is_said_once_until_the_next_rest() -> None:
    from dataclasses import replace

    told = replace(played(Stint(), 0, LONG + 10), told=True)
    assert not told.long
    again = played(told, 2 * LONG + REST, LONG + 10)
    assert again.long
