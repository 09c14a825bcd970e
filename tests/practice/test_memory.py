"""When a passage comes back: the grade, and due dates held against the `fsrs` library fed by hand."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from fsrs import Card, Rating, Scheduler
from fsrs.scheduler import DEFAULT_PARAMETERS
from hypothesis import given, settings
from hypothesis import strategies as st
from practising import entry, evening, hymn, phrases_of

from coach.practice.ladder import FEWER, MEMORY, NO_FINGERS, STEPS_IN_TEMPO, TOGETHER, Shape, phrase_steps
from coach.practice.memory import ANYONE, LONGEST_REST, Memory, Player, expected, grade, parameters, reviewed
from coach.practice.passage import passages_of
from coach.practice.progress import progress_of

PIECE = hymn()
PASSAGE = passages_of(PIECE, phrases_of(PIECE))[0]
STEPS = phrase_steps(Shape(8))


@pytest.mark.parametrize(
    ("verdict", "share", "fingers", "expected"),
    [
        ("solid", 1.0, "none", 3),
        ("solid", 0.95, "none", 3),
        ("solid", 0.94, "none", 2),
        ("solid", 0.0, "none", 2),
        ("solid", 1.0, "changes", 2),
        ("shaky", 1.0, "none", 2),
        ("weak", 1.0, "none", 1),
        ("weak", 0.5, "changes", 1),
        ("solid", 1.0, "all", None),
        ("weak", 1.0, "all", None),
    ],
)
def test_the_grade_comes_from_verdict_tempo_and_fingers(
    verdict: str, share: float, fingers: str, expected: int | None
) -> None:
    assert grade(verdict, share, fingers) == expected  # type: ignore[arg-type]


words = st.sampled_from(["solid", "shaky", "weak"])
days_between = st.integers(0, 40)


@settings(max_examples=60)
@given(st.lists(st.tuples(st.integers(1, 40), words), min_size=1, max_size=12), words)
def test_the_library_fed_by_hand_gives_the_same_due_days(later: list[tuple[int, str]], first: str) -> None:
    """Source: the `fsrs` library itself, with its default parameters and retention, no learning steps, no fuzz, and its
    own longest interval set to 90 days."""
    by_hand = {"solid": Rating.Good, "shaky": Rating.Hard, "weak": Rating.Again}
    scheduler = Scheduler(learning_steps=(), relearning_steps=(), enable_fuzzing=False, maximum_interval=90)
    entries = [entry(PASSAGE, NO_FINGERS, first, at=evening(0))]
    card, _ = scheduler.review_card(Card(card_id=1), by_hand[first], datetime(2026, 3, 2, 12, tzinfo=UTC))
    day = 0
    for gap, word in later:
        day += gap
        entries.append(entry(PASSAGE, MEMORY, word, at=evening(day)))
        noon = datetime(2026, 3, 2, 12, tzinfo=UTC) + timedelta(days=day)
        card, _ = scheduler.review_card(card, by_hand[word], noon)
        memory = progress_of(STEPS, entries).memory
        assert memory is not None
        assert memory.due == card.due.date()
        assert memory.stability == pytest.approx(card.stability)
        assert memory.difficulty == pytest.approx(card.difficulty)


def test_a_phrase_that_always_goes_well_comes_back_once_a_quarter() -> None:
    """Common practice, no source: a hymn in use is heard at least once a quarter. Its memory grows all the same."""
    memory = reviewed(None, 3, date(2026, 3, 2))
    for _ in range(8):
        before, memory = memory, reviewed(memory, 3, memory.due)
        assert memory.stability > before.stability
    assert memory.stability > 365
    assert memory.due - memory.last == timedelta(days=LONGEST_REST) == timedelta(days=90)


def test_on_the_first_day_the_last_take_counts_and_later_the_first() -> None:
    first_day = [
        entry(PASSAGE, NO_FINGERS, "weak", at=evening(0)),
        entry(PASSAGE, NO_FINGERS, "solid", at=evening(0, 5)),
    ]
    memory = progress_of(STEPS, first_day).memory
    assert memory == reviewed(None, 3, date(2026, 3, 2))
    next_day = [
        *first_day,
        entry(PASSAGE, MEMORY, "solid", at=evening(2)),
        entry(PASSAGE, MEMORY, "weak", at=evening(2, 5)),
    ]
    assert progress_of(STEPS, next_day).memory == reviewed(memory, 3, date(2026, 3, 4))


@pytest.mark.parametrize("step", [TOGETHER, *STEPS_IN_TEMPO])
def test_playing_from_shown_fingers_says_nothing_of_memory(step: object) -> None:
    assert progress_of(STEPS, [entry(PASSAGE, step, "solid")]).memory is None  # type: ignore[arg-type]


def test_a_take_that_was_broken_off_is_no_review() -> None:
    learned = [entry(PASSAGE, NO_FINGERS, at=evening(0))]
    broken = entry(PASSAGE, MEMORY, "weak", at=evening(3), reached=PASSAGE.onset + 2)
    assert progress_of(STEPS, [*learned, broken]).memory == progress_of(STEPS, learned).memory


def test_what_is_played_after_losing_the_thread_shows_no_ease() -> None:
    """Two tries of a review stopped half way, then one went well: that counts as remembered with trouble."""
    learned = [entry(PASSAGE, NO_FINGERS, at=evening(0))]
    memory = progress_of(STEPS, learned).memory
    stops = [entry(PASSAGE, MEMORY, "weak", at=evening(3, m), reached=PASSAGE.onset + 2) for m in range(2)]
    solid = entry(PASSAGE, MEMORY, "solid", at=evening(3, 5))
    assert progress_of(STEPS, [*learned, *stops, solid]).memory == reviewed(memory, 2, date(2026, 3, 5))
    next_day = entry(PASSAGE, MEMORY, "solid", at=evening(4))
    assert progress_of(STEPS, [*learned, *stops, next_day]).memory == reviewed(memory, 3, date(2026, 3, 6))


def test_fewer_fingers_count_less_than_none() -> None:
    none = progress_of(STEPS, [entry(PASSAGE, NO_FINGERS)]).memory
    some = progress_of(STEPS, [entry(PASSAGE, FEWER)]).memory
    assert none
    assert some
    assert some.due < none.due


@given(st.floats(0.13, 8.0), st.floats(0.25, 2.0))
def test_parameters_of_a_player_are_the_librarys_with_two_factors(pace: float, growth: float) -> None:
    own = parameters(Player(pace, growth))
    Scheduler(parameters=own)
    assert own[4:8] == DEFAULT_PARAMETERS[4:8]
    assert own[9:] == DEFAULT_PARAMETERS[9:]
    assert own[2] == pytest.approx(DEFAULT_PARAMETERS[2] * pace)
    assert parameters(ANYONE) == pytest.approx(DEFAULT_PARAMETERS)


@given(st.integers(0, 400), st.integers(0, 400), st.floats(0.1, 300))
def test_the_chance_falls_with_time_and_rises_with_stability(near: int, far: int, stability: float) -> None:
    last = date(2026, 3, 2)
    memory = Memory(stability, 5.0, last, last)
    near, far = sorted((near, far))
    one, other = memory.chance(last + timedelta(days=near)), memory.chance(last + timedelta(days=far))
    assert 0 <= other <= one <= 1
    steadier = Memory(stability * 2, 5.0, last, last)
    assert steadier.chance(last + timedelta(days=far)) >= other


@given(
    st.lists(st.tuples(st.integers(1, 200), st.sampled_from([1, 2, 3])), max_size=10),
    st.floats(0.13, 8.0),
    st.floats(0.25, 2.0),
)
def test_a_whole_course_expects_what_its_reviews_expect_one_by_one(
    later: list[tuple[int, int]], pace: float, growth: float
) -> None:
    player, day = Player(pace, growth), date(2026, 3, 2)
    course, memory, one_by_one = [(day, 3)], reviewed(None, 3, day, player), []
    for gap, word in later:
        day += timedelta(days=gap)
        course.append((day, word))
        one_by_one.append((memory.chance(day), word > 1))
        memory = reviewed(memory, word, day, player)
    assert list(expected(course, player)) == one_by_one


def test_a_day_before_the_last_review_counts_as_that_day() -> None:
    """A clock that was set back must not make the library divide by days that never were."""
    memory = reviewed(None, 3, date(2026, 3, 10))
    assert reviewed(memory, 3, date(2026, 3, 1)) == reviewed(memory, 3, date(2026, 3, 10))
