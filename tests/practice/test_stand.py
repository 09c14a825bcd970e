"""What the log gives for one day's practice, where it holds more than is looked at."""

from __future__ import annotations

from datetime import timedelta

import pytest
from practising import MONDAY, evening, hymn, learn, make_solid, phrases_of

from coach.practice.log import Log
from coach.practice.passage import Passage


def first_phrase(log: Log, number: int) -> Passage:
    """The first phrase of a piece in practice."""
    piece = hymn(1, seed=number, title=f"Hymn {number}")
    passages = log.know(piece, phrases_of(piece))
    log.set_state(passages[0].piece, "in practice")
    return passages[0]


@pytest.mark.parametrize(("most", "more"), [(1, 1), (2, 0)])
def test_of_more_reviews_than_are_looked_at_those_are_kept_that_waited_longest_for_their_length(
    log: Log, monkeypatch: pytest.MonkeyPatch, most: int, more: int
) -> None:
    """One phrase is due for longer, the other came back after a much shorter time and has waited longer than that."""
    monkeypatch.setattr("coach.practice.stand.MOST", most)
    long, short = first_phrase(log, 1), first_phrase(log, 2)
    make_solid(log, long, (0, 3, 12))
    learn(log, short, 57)
    one, other = log.progress(long).memory, log.progress(short).memory
    day = MONDAY.date() + timedelta(days=62)
    assert one
    assert other
    assert one.due < other.due < day
    found, waiting = log.stands_for(evening(62), day)
    assert [stand.passage for stand in found] == [short, long][:most]
    assert waiting == more
