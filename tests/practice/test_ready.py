"""Ready by a date: how new phrases are spread, what is said when the date cannot be met, and the forecast."""

from __future__ import annotations

import random
from datetime import UTC, date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from practising import entry, evening, hymn, learn, phrases_of

from coach.practice.doses import DOSE, FIRST_DOSE, Need, laid_out
from coach.practice.entry import Entry
from coach.practice.forecast import chance_on, enough_for, first_try, half_learned, in_time, player_from, ready_in_time
from coach.practice.ladder import MEMORY, RIGHT
from coach.practice.log import Log
from coach.practice.memory import ANYONE, Memory, Player, reviewed
from coach.practice.passage import Passage
from coach.practice.ready import CLIMB, Readiness, climb_rate, said
from coach.practice.schedule import today

DAY = date(2026, 3, 2)


def dated(log: Log, phrases: int, ready_on: int) -> list[Passage]:
    """A piece that must be ready on an evening."""
    piece = hymn(phrases)
    passages = log.know(piece, phrases_of(piece))
    log.set_date(passages[0].piece, evening(ready_on))
    return [passage for passage in passages if passage.kind == "phrase"]


def ready(log: Log, day: int, minutes: float = 25) -> Readiness:
    (one,) = today(log, evening(day), minutes=minutes, zone=UTC).dates
    return one


def test_a_piece_with_a_date_is_in_practice(log: Log) -> None:
    phrases = dated(log, 2, 10)
    assert [row.passage for row in today(log, evening(0), zone=UTC).rows] == phrases[:1]


def test_new_phrases_are_spread_over_the_days_left(log: Log) -> None:
    phrases = dated(log, 6, 8)
    met: list[list[int]] = []
    for day in range(8):
        rows = [row for row in today(log, evening(day), zone=UTC).rows if row.why.startswith("new")]
        met.append([row.passage.first for row in rows])
        for row in rows:
            learn(log, row.passage, day)
    assert met[:6] == [[1], [2], [3], [4], [5], [6]]
    assert all(log.progress(phrase).takes for phrase in phrases)


def test_a_phrase_not_met_yet_comes_before_a_join_when_there_is_a_date(log: Log) -> None:
    """Without a date what is known is joined while the piece goes on; a phrase that is not met cannot be ready."""
    one, two, three = dated(log, 3, 6)
    for phrase in (one, two):
        learn(log, phrase, 0)
    new = [row.passage.label for row in today(log, evening(1), zone=UTC).rows if row.kind == "new"]
    assert new == [three.label, "phrases 1+2"]
    log.set_date(one.piece, None)
    new = [row.passage.label for row in today(log, evening(1), zone=UTC).rows if row.kind == "new"]
    assert new == ["phrases 1+2", three.label]


def test_a_new_phrase_says_for_when(log: Log) -> None:
    dated(log, 2, 6)
    assert today(log, evening(0), zone=UTC).rows[0].why == "new, for Sunday"


def test_a_date_that_can_be_met_is_said_in_a_few_words(log: Log) -> None:
    dated(log, 4, 20)
    one = ready(log, 0)
    assert one.left_out == ()
    assert one.sentence == "On the way to Sunday 22 March 18:00."


def test_a_date_that_cannot_be_met_says_what_could_be_left_out(log: Log) -> None:
    dated(log, 12, 3)
    one = ready(log, 0)
    assert one.left_out
    assert one.left_out == tuple(range(12 - len(one.left_out) + 1, 13))
    ready_ones = 12 - len(one.left_out)
    assert one.sentence.startswith(f"At the present pace {ready_ones} of 12 phrases will be ready by Thursday 18:00.")
    assert f"{one.left_out[-2]} and {one.left_out[-1]} could be left out" in one.sentence
    assert "with the fingers on the page" in one.sentence
    assert "35 minutes a day" in one.sentence


def test_what_is_learned_is_not_left_out(log: Log) -> None:
    phrases = dated(log, 12, 3)
    for phrase in phrases[6:]:
        learn(log, phrase, 0)
    one = ready(log, 0)
    assert all(number <= 6 for number in one.left_out)


def test_on_the_eve_everything_is_played_once_more(log: Log) -> None:
    phrases = dated(log, 3, 9)
    for phrase in phrases:
        learn(log, phrase, 0)
        log.record(_review(phrase, 2))
    assert not any(row.kind == "review" for row in today(log, evening(3), zone=UTC).rows)
    rows = [row for row in today(log, evening(8), zone=UTC).rows if row.kind == "review"]
    assert {row.passage for row in rows} == set(phrases)
    assert {row.why for row in rows} <= {"once more before Wednesday 18:00", "due today"} | {
        row.why for row in rows if row.why.startswith("due since")
    }


def _review(phrase: Passage, day: int) -> Entry:
    return entry(phrase, MEMORY, at=evening(day))


def test_on_the_eve_shaky_phrases_come_again(log: Log) -> None:
    """They were reviewed, and mended they are not; what went well rests until the day. Ten minutes each at the most."""
    shaky, solid = dated(log, 2, 9)
    for phrase in (shaky, solid):
        learn(log, phrase, 0)
        log.record(_review(phrase, 2))
    log.record(entry(shaky, MEMORY, "shaky", at=evening(8)))
    log.record(entry(solid, MEMORY, at=evening(8, 1)))
    log.record(entry(solid, MEMORY, "shaky", at=evening(3)))
    (row,) = (row for row in today(log, evening(8, 2), zone=UTC).rows if row.passage.kind == "phrase")
    assert (row.passage, row.kind, row.why) == (shaky, "again", "stands shaky, once more")
    log.record(entry(shaky, MEMORY, "shaky", at=evening(8, 3), seconds=9.5 * 60))
    assert shaky not in [row.passage for row in today(log, evening(8, 20), minutes=60, zone=UTC).rows]
    assert shaky in [row.passage for row in today(log, evening(8 + 1) - timedelta(hours=4), zone=UTC).rows]


def test_a_date_far_away_takes_nothing_from_what_is_due_or_being_learned(log: Log) -> None:
    """Two months ahead a piece comes in its turn; its seven phrases need a minute a day."""
    dated(log, 7, 60)
    others = [undated(log, 2, seed) for seed in (5, 6)]
    for one, two in others:
        learn(log, one, 0)
        log.record(entry(two, RIGHT, "shaky", at=evening(0, 50)))
    alone = [row for row in today(log, evening(4), minutes=16, zone=UTC).rows if row.title != "Harbour hymn"]
    assert [row.passage for row in alone] == [others[0][0], others[1][0], others[0][1], others[1][1]]
    rows = today(log, evening(4), minutes=12, zone=UTC).rows
    assert [row.passage for row in rows] == [row.passage for row in alone]
    assert sum(row.minutes for row in alone) == pytest.approx(11.4, abs=0.6)


def test_a_date_that_is_near_comes_first_for_the_minutes_that_it_needs(log: Log) -> None:
    """Sixteen days ahead its seven phrases, an hour, need one dose a day; what is due elsewhere gets the rest."""
    piece = dated(log, 7, 20)
    others = undated(log, 12, 5)
    for phrase in others:
        learn(log, phrase, 0)
    rows = today(log, evening(4), minutes=8, zone=UTC).rows
    assert [row.passage for row in rows if row.kind == "new"] == piece[:1]
    assert [row.kind for row in rows].count("review") >= 2
    last = today(log, evening(19), minutes=8, zone=UTC).rows
    assert last
    assert {row.passage for row in last} <= set(piece)
    log.set_date(piece[0].piece, evening(90))
    assert {row.kind for row in today(log, evening(4), minutes=8, zone=UTC).rows} == {"review"}


def test_early_rows_of_a_piece_with_a_date_wait_for_what_is_due_elsewhere(log: Log) -> None:
    early, *_ = dated(log, 1, 60)
    due = undated(log, 1, 5)[0]
    learn(log, early, 0)
    learn(log, due, 0)
    log.record(_review(early, 3))
    when = (dues(log)[early] - DAY).days - 2
    assert dues(log)[due] <= DAY + timedelta(days=when)
    both = today(log, evening(when), zone=UTC).rows
    assert [row.passage for row in both] == [due, early]
    assert [row.passage for row in today(log, evening(when), minutes=1, zone=UTC).rows] == [due]


def undated(log: Log, count: int, seed: int) -> list[Passage]:
    """The phrases of a piece in practice without a date."""
    phrases = take_up(log, count, seed)
    log.set_state(phrases[0].piece, "in practice")
    return phrases


def test_a_date_that_is_past_is_no_date(log: Log) -> None:
    dated(log, 3, 2)
    assert today(log, evening(3), zone=UTC).dates == ()
    log.set_date(log.stands()[0].piece, None)
    assert today(log, evening(0), zone=UTC).dates == ()


def test_the_forecast_rises_with_learning_and_falls_with_fewer_minutes(log: Log) -> None:
    phrases = dated(log, 8, 4)
    before = ready(log, 0)
    fewer = ready(log, 0, 10)
    # What is learned later is fresher on the day, by a little.
    assert all(a.chance >= b.chance - 0.02 for a, b in zip(before.forecast, fewer.forecast, strict=True))
    assert sum(a.chance for a in before.forecast) > sum(b.chance for b in fewer.forecast)
    learn(log, phrases[5], 0)
    assert ready(log, 0, 10).forecast[5].chance > fewer.forecast[5].chance
    assert all(0 <= one.chance <= 1 for one in before.forecast)


def test_pieces_with_dates_share_the_minutes(log: Log) -> None:
    dated(log, 6, 6)
    alone = ready(log, 0).available
    other = hymn(6, seed=5, title="Other")
    passages = log.know(other, phrases_of(other))
    log.set_date(passages[0].piece, evening(6))
    assert [one.available for one in today(log, evening(0), zone=UTC).dates] == [alone / 2, alone / 2]


@pytest.mark.parametrize(("minutes", "for_reviews"), [(25, 2.0), (4, 2.0), (3, 1.5)])
def test_reviews_of_what_is_learned_take_their_minutes_from_learning(
    log: Log, minutes: float, for_reviews: float
) -> None:
    """Half a minute a day for each learned phrase, and never more than half of the day (common practice, no source)."""
    phrases = dated(log, 8, 6)
    assert ready(log, 1, minutes).available == pytest.approx(5 * minutes)
    for phrase in phrases[:4]:
        learn(log, phrase, 0)
    one = ready(log, 1, minutes)
    assert one.available == pytest.approx(5 * (minutes - for_reviews))
    assert one.upkeep == for_reviews


def test_instants_are_said_where_the_player_is() -> None:
    assert said(evening(6), DAY, UTC) == "Sunday 18:00"
    assert said(evening(27), DAY, UTC) == "Sunday 29 March 18:00"


def test_a_players_own_phrases_tell_how_long_learning_takes() -> None:
    assert climb_rate([]) == CLIMB
    assert climb_rate([(20.0, 8.0), (30.0, 12.0)] * 50) == pytest.approx(2.5, abs=0.1)


@given(st.floats(0.1, 500), st.floats(0.1, 500))
def test_more_time_makes_it_likelier_to_be_in_time(needed: float, available: float) -> None:
    assert 0 <= in_time(needed, available) <= in_time(needed, available * 1.5) <= 1
    assert 0.5 < in_time(needed, needed) < 0.7, "a little less than supposed, more often than not"


def test_learning_takes_what_it_is_supposed_to_take_on_average() -> None:
    """The mean of a log-normal with this median and spread: exp(mu + sigma^2 / 2), a standard result."""
    weights = [in_time(60.0, (minute + 1) / 10) - in_time(60.0, minute / 10) for minute in range(1, 20_000)]
    mean = sum(weight * (minute + 1.5) / 10 for minute, weight in enumerate(weights))
    assert mean == pytest.approx(60.0, rel=0.02)


@given(st.floats(0.5, 500))
def test_nine_times_in_ten_is_enough(needed: float) -> None:
    assert in_time(needed, enough_for(needed)) == pytest.approx(0.9, abs=1e-4)


def need(minutes: float, height: float = 0.0, *, met: bool = True) -> Need:
    return Need(minutes, met, 0.0, height, 8)


def test_the_days_are_laid_out_in_doses_and_two_a_day_at_last() -> None:
    assert laid_out([need(100.0)], 4, 25.0) == [DOSE * 2 + 2 * DOSE * 2]
    assert laid_out([need(100.0, met=False)], 4, 25.0) == [FIRST_DOSE + DOSE + 2 * DOSE * 2]


def test_what_one_phrase_does_not_need_is_left_to_the_next() -> None:
    assert laid_out([need(4.0), need(20.0)], 1, 12.0) == [10.0, 8.0]
    assert laid_out([need(20.0), need(20.0)], 1, 12.0) == [10.0, 2.0]
    assert laid_out([Need(20.0, True, 7.0, 0.0, 8), need(20.0)], 1, 12.0) == [3.0, 2.0]


@given(
    st.lists(st.tuples(st.floats(0.5, 40), st.booleans()), min_size=1, max_size=8),
    st.integers(1, 20),
    st.floats(1, 60),
)
def test_no_more_is_laid_out_than_there_is(phrases: list[tuple[float, bool]], days_left: int, minutes: float) -> None:
    needs = [need(wanted, met=met) for wanted, met in phrases]
    given_minutes = laid_out(needs, days_left, minutes)
    used = [min(one, need.minutes) for one, need in zip(given_minutes, needs, strict=True)]
    assert sum(used) <= days_left * minutes + 1e-6
    more = laid_out(needs, days_left, minutes * 2)
    assert sum(more) >= sum(given_minutes) - 1e-6
    assert all(0 <= chance <= 1 for chance in ready_in_time(needs, days_left, minutes, ANYONE))


def test_a_date_decades_away_is_forecast_like_one_in_a_year() -> None:
    needs = [Need(60.0, False, 0.0, 0.0, 9)] * 20
    assert ready_in_time(needs, 30_000, 25.0, ANYONE) == ready_in_time(needs, 366, 25.0, ANYONE)


def test_a_half_learned_phrase_would_have_to_take_the_steps_that_are_left_at_once() -> None:
    player = Player(first_try=0.9)
    assert half_learned(1.0, 8, player) == 1.0
    assert half_learned(0.75, 8, player) == pytest.approx(0.9**2)
    assert half_learned(0.25, 8, player) == 0.0, "the hands have not come together yet"


def test_first_tries_tell_how_a_step_goes_that_was_never_tried(log: Log) -> None:
    assert first_try([]) == ANYONE.first_try
    assert first_try(["solid", "shaky"] * 50) > 0.95
    assert first_try(["weak"] * 100) < 0.1
    phrases = dated(log, 6, 30)
    for phrase in phrases:
        learn(log, phrase, 0)
    log.know_player(DAY)
    assert log.player().first_try > ANYONE.first_try


def test_a_phrase_that_is_half_way_up_is_neither_learned_nor_forgotten(log: Log) -> None:
    """On the last day, with no time for more, its chance is near the share of its ladder that is climbed."""
    one, _ = dated(log, 2, 1)
    for minute in range(4):
        steps = log.steps(one)
        log.record(entry(one, steps[log.progress(one).place.index], at=evening(0, minute)))
    half, new = (forecast.chance for forecast in ready(log, 0, minutes=1).forecast)
    assert 0.2 < half < 0.8
    assert new < 0.05


@given(st.floats(0.3, 60), st.integers(1, 60), st.sampled_from([0.3, 1.0, 3.0]))
def test_a_forecast_is_a_chance_and_the_eve_helps(stability: float, ahead: int, pace: float) -> None:
    player = Player(pace=pace)
    memory = Memory(stability, 5.0, DAY, DAY + timedelta(days=max(round(stability), 1)))
    day = DAY + timedelta(days=ahead)
    plain, with_eve = (chance_on(memory, day, DAY, player, eve=eve) for eve in (False, True))
    assert 0 <= plain <= 1
    assert with_eve >= plain - 0.05


def test_a_phrase_that_rests_until_after_the_day_is_fresh_from_the_eve() -> None:
    """Remembered on the eve or learned again then: the two cases of the rule of total probability."""
    memory, day = Memory(20.0, 5.0, DAY - timedelta(days=20), DAY + timedelta(days=9)), DAY + timedelta(days=6)
    eve = day - timedelta(days=1)
    remembered = ANYONE.chance(memory, eve)
    fresh, again = (ANYONE.chance(reviewed(memory, grade, eve), day) for grade in (3, 1))
    assert chance_on(memory, day, DAY, ANYONE) == ANYONE.chance(memory, day)
    with_eve = chance_on(memory, day, DAY, ANYONE, eve=True)
    assert with_eve == pytest.approx(remembered * fresh + (1 - remembered) * again)
    assert with_eve > chance_on(memory, day, DAY, ANYONE) + 0.03


def test_what_was_played_on_the_eve_is_not_played_once_more() -> None:
    """Seen from the evening before, and on the day itself."""
    memory = reviewed(None, 3, DAY)
    for present in (DAY, DAY + timedelta(days=1)):
        chance = chance_on(memory, DAY + timedelta(days=1), present, ANYONE, eve=True)
        assert chance == ANYONE.chance(memory, DAY + timedelta(days=1))


def courses(player: Player, count: int, seed: int) -> list[list[tuple[date, int]]]:
    """Reviews of a player who remembers exactly as supposed, on the days that are due for a player as yet unknown."""
    draw = random.Random(seed)
    made = []
    for _ in range(count):
        day = DAY
        course = [(day, 3)]
        own, said = reviewed(None, 3, day, player), reviewed(None, 3, day)
        for _ in range(6):
            day = said.due + timedelta(days=draw.randrange(4))
            grade = 3 if draw.random() < player.chance(own, day) else 1
            course.append((day, grade))
            own, said = reviewed(own, grade, day, player), reviewed(said, grade, day)
        made.append(course)
    return made


@pytest.mark.parametrize("truth", [Player(0.25, 1.0, 0.05), Player(1.0, 1.0, 0.05), Player(4.0, 1.0, 0.02)])
def test_the_reviews_tell_how_a_player_remembers(truth: Player) -> None:
    """Players of known memory are found again to within a doubling."""
    reviews = courses(truth, 200, 3)
    found = ANYONE
    for _ in range(2):
        found = player_from(reviews, found)
    assert truth.pace / 2.01 <= found.pace <= truth.pace * 2.01
    assert abs(found.slip - truth.slip) <= 0.1


def test_few_reviews_move_little() -> None:
    assert player_from([[(DAY, 3), (DAY + timedelta(days=2), 1)]], ANYONE).pace >= 0.5


@pytest.mark.parametrize("seed", range(3, 7))
def test_chance_alone_does_not_change_what_is_supposed_of_a_player(seed: int) -> None:
    """Some hundred reviews of an ordinary player go a little better or worse than expected, as chance has it."""
    reviews = courses(ANYONE, 60, seed)
    supposed = ANYONE
    for some in range(10, 61, 10):
        supposed = player_from(reviews[:some], supposed)
        assert (supposed.pace, supposed.growth) == (ANYONE.pace, ANYONE.growth)


def take_up(log: Log, count: int, seed: int) -> list[Passage]:
    piece = hymn(count, seed=seed, title=f"Hymn {seed}")
    return [p for p in log.know(piece, phrases_of(piece)) if p.kind == "phrase"]


def known_and_forgotten(log: Log) -> list[Passage]:
    """Three phrases that went well on the evenings 0, 2 and 6; twelve others were forgotten on the third day."""
    for phrase in take_up(log, 12, 8):
        learn(log, phrase, 0)
        log.record(_weak(phrase, 2))
    well = take_up(log, 3, 9)
    for phrase in well:
        learn(log, phrase, 0)
        for day in (2, 6):
            log.record(_review(phrase, day))
    return well


def dues(log: Log) -> dict[Passage, date]:
    return {stand.passage: date.fromisoformat(str(stand.due)) for stand in log.stands() if stand.kind == "phrase"}


def test_a_log_learns_how_its_player_remembers_and_shifts_what_is_due(log: Log) -> None:
    well = known_and_forgotten(log)
    before = dues(log)
    assert log.know_player(evening(6).date())
    assert log.player().pace < 1
    after = dues(log)
    assert all(after[phrase] <= before[phrase] for phrase in before)
    assert all(evening(6).date() < after[phrase] < before[phrase] for phrase in well)
    assert not log.know_player(evening(6).date())


def test_what_becomes_due_by_what_is_known_of_the_player_becomes_due_today(log: Log) -> None:
    """Nobody could have played a phrase on a day on which it was said to rest."""
    well = known_and_forgotten(log)
    before = dues(log)
    present = max(before[phrase] for phrase in well) - timedelta(days=1)
    assert log.know_player(present)
    after = dues(log)
    assert {after[phrase] for phrase in well} == {present}
    assert all(after[phrase] == before[phrase] for phrase in before if before[phrase] < present)


def _weak(phrase: Passage, day: int) -> Entry:
    return entry(phrase, MEMORY, "weak", at=evening(day))


@settings(max_examples=15, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 30), st.sampled_from([1, 2, 3])), min_size=1, max_size=10))
def test_any_course_of_reviews_is_explained_within_bounds(later: list[tuple[int, int]]) -> None:
    day, course = DAY, [(DAY, 3)]
    for gap, grade in later:
        day += timedelta(days=gap)
        course.append((day, grade))
    found = ANYONE
    for _ in range(3):
        found = player_from([course] * 3, found)
    assert 0.1 < found.pace < 8.2
    assert 0.2 < found.growth < 2.1
    assert 0 <= found.slip <= 0.2


def test_the_first_step_of_a_dated_piece_is_the_right_hand(log: Log) -> None:
    dated(log, 2, 6)
    assert today(log, evening(0), zone=UTC).rows[0].step == RIGHT
