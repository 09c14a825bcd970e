"""The schedule tried on a simulated learner with a known memory (the long trials are in tests/bench)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, timedelta
from statistics import mean

import pytest
from learner import Learner
from practising import MONDAY, hymn, open_log, phrases_of
from trial import Practised, Trial, round_of

from coach.practice.ladder import MEMORY, NO_FINGERS, RIGHT, TOGETHER
from coach.practice.log import Log
from coach.practice.passage import Passage, passages_of
from coach.score.piece import Piece, chords_of

PIECES = [hymn(4, seed=seed, title=f"Hymn {seed}") for seed in range(12)]
WEEKS = 3
MINUTES = 15.0
"""Less than going round everything in order would need: with time in plenty, order hardly matters."""


@dataclass
class Trialled:
    """Three weeks of a learner's practice."""

    who: Learner
    phrases: list[Passage]
    days: list[Practised]
    standings: list[str | None]
    kept: list[float]


def learner(seed: int = 1, pieces: Sequence[Piece] = PIECES) -> Learner:
    onsets = {}
    for piece in pieces:
        mark = passages_of(piece, phrases_of(piece))[0].piece
        for phrase in phrases_of(piece):
            onsets[mark, phrase.number] = [chord.onset for chord in chords_of(piece, phrase)]
    return Learner(seed, onsets)


def set_up(log: Log) -> tuple[list[Passage], dict[str, str]]:
    phrases, titles = [], {}
    for piece in PIECES:
        known = log.know(piece, phrases_of(piece))
        log.set_state(known[0].piece, "in practice")
        titles[known[0].piece] = piece.title
        phrases += [passage for passage in known if passage.kind == "phrase"]
    return phrases, titles


def remembered(who: Learner, phrases: list[Passage], day: int) -> float:
    """Share of phrases that go as they are meant to on an evening, before any practice."""
    at = MONDAY + timedelta(days=day)
    return mean(who.test(phrase.piece, phrase.first, at) != "weak" for phrase in phrases for _ in range(20))


@pytest.fixture(scope="module")
def guided(tmp_path_factory: pytest.TempPathFactory) -> Trialled:
    """Three weeks of a quarter of an hour a day as the coach lays them out."""
    with open_log(tmp_path_factory.mktemp("guided")) as log:
        phrases, titles = set_up(log)
        who = learner()
        trial = Trial(log, who, titles)
        days = [trial.guided(MONDAY + timedelta(days=day), MINUTES) for day in range(7 * WEEKS)]
        return Trialled(who, phrases, days, [log.progress(phrase).standing for phrase in phrases], trial.kept)


@pytest.fixture(scope="module")
def in_order(tmp_path_factory: pytest.TempPathFactory) -> Trialled:
    """The same learner, passages, ladder and minutes; but everything comes round in order."""
    with open_log(tmp_path_factory.mktemp("in_order")) as log:
        phrases, titles = set_up(log)
        who = learner()
        passages = round_of(stand.passage for stand in log.stands())
        trial, at = Trial(log, who, titles), 0
        for day in range(7 * WEEKS):
            at = trial.in_order(MONDAY + timedelta(days=day), passages, at, MINUTES)
        return Trialled(who, phrases, [], [log.progress(phrase).standing for phrase in phrases], trial.kept)


def test_phrases_get_solid(guided: Trialled, in_order: Trialled) -> None:
    assert guided.standings.count("solid") >= len(guided.phrases) // 4
    assert guided.standings.count("solid") > in_order.standings.count("solid")


def test_the_days_minutes_are_kept(guided: Trialled) -> None:
    """A last take may run over; no day is planned longer than it should be."""
    assert all(day.minutes <= MINUTES + 1.5 for day in guided.days)
    assert all(day.first is not None and day.first.planned <= MINUTES + 1e-9 for day in guided.days)


def test_reviews_come_before_the_phrase_is_forgotten(guided: Trialled, in_order: Trialled) -> None:
    assert len(guided.kept) > 20
    assert mean(guided.kept) > 0.75
    assert mean(guided.kept) > mean(in_order.kept)


def test_guided_practice_is_remembered_better_than_going_round_in_order(guided: Trialled, in_order: Trialled) -> None:
    for day in (7 * WEEKS, 7 * WEEKS + 14):
        assert remembered(guided.who, guided.phrases, day) > remembered(in_order.who, in_order.phrases, day)


PHRASE = passages_of(PIECES[0], phrases_of(PIECES[0]))[0]


def taught(who: Learner, takes: int = 15) -> None:
    for minute in range(takes):
        who.play(PHRASE, NO_FINGERS, MONDAY + timedelta(minutes=minute))


def chance(who: Learner, day: float) -> float:
    return who.chance(PHRASE.piece, PHRASE.first, MONDAY + timedelta(days=day))


def test_the_same_seed_plays_the_same() -> None:
    one, other = learner(5), learner(5)
    for minute in range(20):
        at = MONDAY + timedelta(minutes=minute)
        assert one.play(PHRASE, TOGETHER, at) == other.play(PHRASE, TOGETHER, at)


def test_what_was_never_played_is_not_remembered_and_what_was_is_forgotten_in_time() -> None:
    who = learner()
    assert chance(who, 1) == 0
    taught(who)
    assert 1 > chance(who, 1) > chance(who, 5) > chance(who, 30)


def test_a_recall_after_some_days_strengthens_more_than_one_at_once() -> None:
    """The spacing effect (Cepeda et al. 2006)."""
    spaced, massed = [], []
    for seed in range(25):
        one, other = learner(seed, PIECES[:1]), learner(seed, PIECES[:1])
        taught(one)
        taught(other)
        one.play(PHRASE, MEMORY, MONDAY + timedelta(days=1))
        other.play(PHRASE, MEMORY, MONDAY + timedelta(minutes=16))
        spaced.append(one.chance(PHRASE.piece, 1, MONDAY + timedelta(days=1 + 4)))
        massed.append(other.chance(PHRASE.piece, 1, MONDAY + timedelta(minutes=16, days=4)))
    assert mean(spaced) > mean(massed)


def test_errors_grow_rarer_with_practice() -> None:
    """The power law of practice (Newell and Rosenbloom 1981)."""
    early, late = [], []
    for seed in range(30):
        who = learner(seed, PIECES[:1])
        words = [who.play(PHRASE, RIGHT, MONDAY.astimezone(UTC)).faults for _ in range(30)]
        early += [len(faults) for faults in words[:5]]
        late += [len(faults) for faults in words[-5:]]
    assert mean(late) < mean(early) / 2
