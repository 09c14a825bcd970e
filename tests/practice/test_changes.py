"""Changes of chords that keep failing become drills of their own, until they pass (common practice, no source)."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from practising import entry, evening, hymn, phrases_of

from coach.practice.changes import Trouble, heard_again, span_of, to_drill
from coach.practice.entry import Entry, Fault
from coach.practice.ladder import LEFT, RIGHT, SEAM, TOGETHER
from coach.practice.log import Log
from coach.practice.passage import change_passage, passages_of

PIECE = hymn()
PHRASES = phrases_of(PIECE)
PASSAGE = passages_of(PIECE, PHRASES)[0]
THIRD = Fault(Fraction(3), "left", 1)
FIFTH = Fault(Fraction(5), "right", 2)


def after(*entries: Entry) -> tuple[Trouble, ...]:
    troubles: tuple[Trouble, ...] = ()
    for one in entries:
        troubles = heard_again(troubles, one)
    return troubles


def failed(*faults: Fault, **more: object) -> Entry:
    return entry(PASSAGE, TOGETHER, "shaky", faults=faults, **more)


def drilled(*faults: Fault) -> tuple[Trouble, ...]:
    return after(*[failed(*faults)] * 3)


def test_a_change_that_fails_three_times_in_a_row_becomes_a_drill() -> None:
    assert to_drill(after(*[failed(THIRD)] * 2)) is None
    trouble = to_drill(drilled(THIRD))
    assert trouble is not None
    assert trouble.fault == THIRD


def test_a_take_in_which_it_goes_right_begins_the_count_anew() -> None:
    assert to_drill(after(failed(THIRD), failed(THIRD), failed(FIFTH), failed(THIRD), failed(THIRD))) is None


def test_a_take_by_the_other_hand_does_not_try_it() -> None:
    tried = after(failed(THIRD), failed(THIRD), entry(PASSAGE, RIGHT), failed(THIRD))
    assert to_drill(tried) is not None
    untried = after(failed(THIRD), failed(THIRD), entry(PASSAGE, LEFT), failed(THIRD))
    assert to_drill(untried) is None


def test_a_take_that_was_broken_off_before_it_does_not_try_it() -> None:
    early = entry(PASSAGE, TOGETHER, "weak", reached=Fraction(2))
    late = entry(PASSAGE, TOGETHER, "weak", reached=Fraction(4))
    assert to_drill(after(failed(THIRD), failed(THIRD), early, failed(THIRD))) is not None
    assert to_drill(after(failed(THIRD), failed(THIRD), late, failed(THIRD))) is None


def test_the_first_chord_is_no_change() -> None:
    assert drilled(Fault(PASSAGE.onset, "right", 1)) == ()


def test_a_drill_is_in_the_hand_that_fails() -> None:
    trouble = to_drill(drilled(THIRD))
    assert trouble is not None
    assert {step.hand for step in trouble.steps} == {"left"}


def change(*words: str, trouble: Fault = THIRD, day: int = 1) -> list[Entry]:
    """Takes of the drill of a change, on a later evening."""
    where = change_passage(PIECE, PHRASES, trouble.onset - 1, trouble.onset + 1)
    steps = Trouble(trouble, 3).steps
    return [entry(where, steps[min(n, 1)], word, at=evening(day, n)) for n, word in enumerate(words)]


def test_a_drill_ends_when_its_steps_pass() -> None:
    failing = [failed(THIRD)] * 3
    assert to_drill(after(*failing, *change("solid"))) is not None
    assert after(*failing, *change("solid", "solid")) == ()


def test_a_drill_goes_on_until_it_passes_though_the_phrase_went_well() -> None:
    assert to_drill(after(*[failed(THIRD)] * 3, entry(PASSAGE, TOGETHER))) is not None


def test_a_drill_of_one_change_leaves_the_others() -> None:
    left = after(*[failed(THIRD, FIFTH)] * 3, *change("solid", "solid"))
    assert [trouble.fault for trouble in left] == [FIFTH]


def test_the_change_that_fails_most_is_drilled_first_and_of_equals_the_earlier() -> None:
    more = after(*[failed(THIRD, FIFTH)] * 3, failed(FIFTH))
    assert [to_drill(drilled(THIRD, FIFTH)), to_drill(more)] == [Trouble(THIRD, 3), Trouble(FIFTH, 4)]


def test_a_drill_takes_the_chord_before_and_a_neighbour_that_fails_too() -> None:
    onsets = [Fraction(n) for n in range(8)]
    alone = drilled(THIRD)
    assert span_of(alone[0], alone, onsets) == (2, 3)
    fourth = Fault(Fraction(4), "left", 2)
    both = drilled(THIRD, fourth)
    assert span_of(both[0], both, onsets) == (2, 4)
    assert span_of(both[1], both, onsets) == (3, 4)
    other_hand = drilled(THIRD, replace(fourth, hand="right"))
    assert span_of(other_hand[0], other_hand, onsets) == (2, 3)


def test_the_log_keeps_a_drill_and_drops_it(log: Log) -> None:
    passage = log.know(PIECE, PHRASES)[0]
    for minute in range(3):
        log.record(failed(THIRD, at=evening(0, minute)))
    assert [stand.changes for stand in log.stands() if stand.passage == passage] == [(THIRD,)]
    for one in change("solid", "solid"):
        log.record(one)
    assert log.progress(passage).troubles == ()
    assert log.progress(passage).takes == 5


def test_the_seam_tries_no_change_of_the_phrases(log: Log) -> None:
    seam = [failed(THIRD)] * 2 + [entry(PASSAGE, SEAM)] + [failed(THIRD)]
    assert to_drill(after(*seam)) is not None
