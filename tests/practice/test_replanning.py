"""What becomes of phrases that were practised when they are planned for other hands."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from practising import entry, evening

from coach.fingering.hand import Hand, Hands
from coach.practice.entry import Entry
from coach.practice.following import after_take
from coach.practice.ladder import RIGHT, TOGETHER, Step, next_step
from coach.practice.log import Log
from coach.practice.music import Music, open_music
from coach.practice.passage import plan_mark
from coach.practice.replanning import Changed, changed, is_played, plans, told, with_anew
from coach.practice.schedule import Today, today

SMALL = Hands(Hand(165.0), Hand(165.0))
WATER = "wide-water"


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("COACH_HOME", str(tmp_path / "home"))
    return tmp_path


def take(music: Music, phrase: int, step: Step, at: datetime) -> Entry:
    """A solid take, as the drill keeps it."""
    passage = music.phrase_passage(phrase)
    return entry(
        passage, step, at=at, title=music.piece.title, source=music.name, plan=plan_mark(music.planned(passage, step))
    )


def learned(log: Log, phrases: tuple[int, ...] = (1, 2)) -> Music:
    """Some phrases of a piece climbed on one evening, with hands that reach a ninth."""
    music = open_music(WATER)
    log.know(music.piece, music.phrases, music.shapes)
    for number in phrases:
        passage = music.phrase_passage(number)
        for minute in range(20):
            step = next_step(log.steps(passage), log.progress(passage).place)
            if step.days_apart:
                break
            log.record(take(music, number, step, evening(0, 20 * number + minute)))
    return music


def planned_for(log: Log, hands: Hands) -> Music:
    music = open_music(WATER, hands)
    log.know(music.piece, music.phrases, music.shapes)
    return music


def day(log: Log, number: int, minutes: float = 25) -> Today:
    return with_anew(today(log, evening(number), minutes=minutes, zone=UTC), log)


def test_phrases_that_were_played_and_have_another_plan_are_told_of(log: Log) -> None:
    learned(log)
    before = plans(log)
    small = planned_for(log, SMALL)
    others = tuple(phrase.number for phrase in small.plan.phrases if plan_mark(phrase) not in before.values())
    assert 1 in others
    assert changed(log, before) == (Changed("Wide Water", tuple(one for one in others if one < 3), 4),)
    assert changed(log, plans(log)) == ()


def test_a_phrase_whose_plan_was_not_known_is_held_against_what_it_was_played_from(log: Log) -> None:
    music = open_music(WATER)
    log.know(music.piece, music.phrases)
    log.record(take(music, 1, TOGETHER, evening(0)))
    before = plans(log)
    assert before == {}
    planned_for(log, SMALL)
    assert changed(log, before) == (Changed("Wide Water", (1,), 4),)


def test_what_is_set_aside_is_not_told_of(log: Log) -> None:
    music = learned(log)
    before = plans(log)
    log.set_state(music.passages[0].piece, "set aside")
    planned_for(log, SMALL)
    assert changed(log, before) == ()
    assert log.planned_anew() == []


@pytest.mark.parametrize(
    ("pieces", "said"),
    [
        ([], "The plans of what you practise did not change: the same fingers go on."),
        ([Changed("Wide Water", (2,), 4)], "Other fingers now in phrase 2 of Wide Water."),
        ([Changed("Wide Water", (1, 3), 4)], "Other fingers now in phrases 1 and 3 of Wide Water."),
        ([Changed("Wide Water", (1, 2, 3, 5, 6), 8)], "Other fingers now in 5 phrases of Wide Water."),
        (
            [Changed("Wide Water", (1, 2, 3, 4), 4), Changed("Oars at Dusk", (1,), 1)],
            "Other fingers now in all 4 phrases of Wide Water and phrase 1 of Oars at Dusk.",
        ),
        (
            [Changed(title, (1,), 4) for title in "ABCDE"],
            "Other fingers now in phrase 1 of A, phrase 1 of B, phrase 1 of C and 2 more pieces.",
        ),
    ],
)
def test_where_the_fingers_are_others_is_one_sentence(pieces: list[Changed], said: str) -> None:
    assert told(pieces) == said


def test_the_day_asks_once_for_what_was_planned_anew_with_the_fingers(log: Log) -> None:
    """Though nothing of it is due; and once it was played so, by both hands or one, no longer."""
    learned(log)
    log.set_state(open_music(WATER).passages[0].piece, "in practice")
    small = planned_for(log, SMALL)
    others = [stand.first for stand in log.planned_anew()]
    assert others == [1, 2]
    rows = [row for row in day(log, 0, minutes=120).rows if row.kind == "anew"]
    assert [(row.passage.first, row.step, row.why) for row in rows] == [
        (number, TOGETHER, "planned anew: once with the fingers") for number in others
    ]
    place = log.progress(rows[0].passage).place
    played = take(small, 1, TOGETHER, evening(0, 90))
    assert not is_played(log, rows[0].passage)
    log.record(played)
    assert is_played(log, rows[0].passage)
    assert [row.passage.first for row in day(log, 0, minutes=120).rows if row.kind == "anew"] == [2]
    after = after_take(small, played, rows[0].passage, log, rows[0])
    assert (after.finished, after.said) == (True, "Phrase 1 was played with its other fingers.")
    assert log.progress(rows[0].passage).place.index == place.index


def test_a_take_for_the_old_hands_is_not_what_was_asked_for(log: Log) -> None:
    old = learned(log)
    planned_for(log, SMALL)
    log.record(take(old, 1, RIGHT, evening(1)))
    assert [stand.first for stand in log.planned_anew()] == [1, 2]


def test_what_the_day_asks_for_anyway_is_not_asked_for_twice_and_the_minutes_are_kept(log: Log) -> None:
    learned(log)
    planned_for(log, SMALL)
    for number in range(1, 30):
        laid_out = day(log, number)
        passages = [row.passage for row in laid_out.rows if row.change is None]
        assert len(set(passages)) == len(passages)
        assert laid_out.played + laid_out.planned <= laid_out.minutes
    assert [row.kind for row in day(log, 0, minutes=5).rows if row.kind == "anew"] == []
