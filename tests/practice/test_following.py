"""What follows a take: the same again, the next step, a change by itself, rest until another day."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from fractions import Fraction
from pathlib import Path

import pytest

from coach.listening.player import perform
from coach.practice import days
from coach.practice.attempt import Attempt
from coach.practice.entry import Entry, Fault, new_entry
from coach.practice.following import Following, after_keeping, after_take, decide
from coach.practice.heard import entry_for
from coach.practice.ladder import (
    FEWER,
    JOIN_STEPS,
    LEFT,
    MEMORY,
    NO_FINGERS,
    PEDAL,
    RIGHT,
    SEAM,
    STEPS_IN_TEMPO,
    TOGETHER,
    Step,
    phrase_steps,
    shape_of,
)
from coach.practice.log import Log
from coach.practice.music import Music
from coach.practice.passage import Passage
from coach.practice.progress import Progress, progress_of
from coach.practice.schedule import Row, today

BEGAN = days.read("2026-11-25T12:00:00Z")


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))


def steps_of(music: Music, passage: Passage | None = None) -> tuple[Step, ...]:
    return JOIN_STEPS if passage and passage.kind == "join" else phrase_steps(shape_of(music.plan.phrases[0]))


class Learner:
    """Plays takes of phrase 1, or of another passage, one after the other."""

    def __init__(self, music: Music, home: Passage | None = None) -> None:
        self.music = music
        self.home = home or music.phrase_passage(1)
        self.entries: list[Entry] = []

    @property
    def progress(self) -> Progress:
        return progress_of(steps_of(self.music, self.home), self.entries)

    def plays(
        self, step: Step, word: str = "solid", *, day: int = 0, chosen: bool = False,
        faults: tuple[Fault, ...] = (), passage: Passage | None = None,
    ):  # type: ignore[no-untyped-def]  # fmt: skip
        began = BEGAN + timedelta(days=day, minutes=len(self.entries))
        entry = new_entry(
            passage or self.home, "Wide Water", step, word, began=began, seconds=30.0, chosen=chosen, faults=faults  # type: ignore[arg-type]
        )  # fmt: skip
        self.entries.append(entry)
        return decide(self.music, entry, self.home, self.progress, steps_of(self.music, self.home))


@pytest.fixture
def learner(music: Music) -> Learner:
    return Learner(music)


class Evenings:
    """Phrase 1 in a log, row by row as the days lay it out."""

    def __init__(self, music: Music, log: Log) -> None:
        self.music, self.log = music, log
        self.home = log.know(music.piece, music.phrases, music.shapes)[0]
        log.set_state(self.home.piece, "in practice")
        for step in steps_of(music):
            if step == MEMORY:
                break
            self.plays(step)

    def row(self, day: int) -> Row:
        rows = today(self.log, BEGAN + timedelta(days=day)).rows
        return next(row for row in rows if row.passage == self.home)

    def plays(self, step: Step, word: str = "solid", *, day: int = 0, row: Row | None = None, spent: float = 0.0):  # type: ignore[no-untyped-def]
        began = BEGAN + timedelta(days=day, minutes=self.log.count())
        entry = new_entry(self.home, "Wide Water", step, word, began=began, seconds=30.0)  # type: ignore[arg-type]
        self.log.record(entry)
        return after_take(self.music, entry, self.home, self.log, row, spent)


@pytest.fixture
def evenings(music: Music, log: Log) -> Evenings:
    return Evenings(music, log)


def test_a_shaky_review_is_played_once_more_and_then_rests(evenings: Evenings) -> None:
    row = evenings.row(3)
    assert (row.kind, row.step) == ("review", MEMORY)
    following = evenings.plays(MEMORY, "shaky", day=3, row=row, spent=0.4)
    assert (following.step, following.said, following.moved, following.finished) == (
        MEMORY, "Once more.", False, False,
    )  # fmt: skip
    following = evenings.plays(MEMORY, day=3, row=row, spent=0.8)
    assert (following.said, following.finished) == ("Phrase 1 is reviewed.", True)


def test_what_stood_shaky_is_said_to_stand_solid(evenings: Evenings) -> None:
    evenings.plays(MEMORY, "shaky", day=3)
    row = evenings.row(4)
    assert row.kind == "again"
    following = evenings.plays(row.step, day=4, row=row, spent=0.4)
    assert (following.said, following.finished) == ("Phrase 1 stands solid.", True)


def test_a_review_with_fingers_comes_again_until_it_goes_well(evenings: Evenings) -> None:
    row = evenings.row(1500)
    assert (row.kind, row.step) == ("review", FEWER)
    following = evenings.plays(FEWER, "weak", day=1500, row=row, spent=0.4)
    assert (following.step, following.moved, following.finished) == (FEWER, False, False)
    following = evenings.plays(FEWER, "shaky", day=1500, row=row, spent=0.8)
    assert (following.step, following.said, following.finished) == (FEWER, "Once more.", False)
    following = evenings.plays(FEWER, day=1500, row=row, spent=1.2)
    assert (following.said, following.finished) == ("Phrase 1 rests until another day.", True)


def test_a_passed_step_leads_to_the_next(learner: Learner) -> None:
    following = learner.plays(RIGHT)
    assert (following.step, following.said, following.moved) == (LEFT, "Next: left hand.", True)


def test_a_step_that_is_not_passed_comes_again(learner: Learner) -> None:
    following = learner.plays(RIGHT, "shaky")
    assert (following.step, following.said, following.moved) == (RIGHT, "", False)


ONCE_MORE = "Once more like this and it is passed."


def test_a_solid_take_that_does_not_pass_says_that_another_one_will(learner: Learner) -> None:
    learner.plays(RIGHT, "shaky")
    following = learner.plays(RIGHT)
    assert (following.step, following.said, following.moved) == (RIGHT, ONCE_MORE, False)
    assert learner.plays(RIGHT, "shaky").said == ""
    assert learner.plays(RIGHT).said == ONCE_MORE
    assert learner.plays(RIGHT).said == "Next: left hand."


def test_a_solid_take_that_passes_no_step_however_often_promises_nothing(learner: Learner) -> None:
    """Hidden fingers were looked at."""
    for step in steps_of(learner.music):
        if step == NO_FINGERS:
            break
        learner.plays(step)
    assert learner.plays(replace(NO_FINGERS, fingers="all")).said == ""
    assert learner.plays(NO_FINGERS, chosen=True).said == ONCE_MORE


def test_a_change_on_its_own_says_so_too(learner: Learner) -> None:
    chord = learner.music.plan.phrases[0].chords[4]
    fault = Fault(Fraction(chord.onset), "right", chord.bar)
    for _ in range(3):
        following = learner.plays(RIGHT, "weak", faults=(fault,))
    change = following.passage
    assert change.kind == "change"
    assert learner.plays(RIGHT, "weak", passage=change).said == ""
    following = learner.plays(RIGHT, passage=change)
    assert (following.said, following.moved) == (ONCE_MORE, False)
    assert learner.plays(RIGHT, passage=change).said == "Next: right hand in tempo."


def test_failing_on_and_on_leads_a_step_back(learner: Learner) -> None:
    for step in (RIGHT, LEFT, TOGETHER):
        learner.plays(step)
    for _ in range(2):
        learner.plays(STEPS_IN_TEMPO[0], "weak")
    following = learner.plays(STEPS_IN_TEMPO[0], "weak")
    assert (following.step, following.said) == (TOGETHER, "Back to: together.")


def test_a_step_the_player_chose_is_not_left_unasked_and_the_way_to_the_ladder_is_said(learner: Learner) -> None:
    following = learner.plays(LEFT, "shaky", chosen=True)
    assert (following.said, following.moved) == ("", False)
    following = learner.plays(LEFT, chosen=True)
    assert (following.said, following.moved) == ("Next on the ladder: right hand (key s).", False)
    following = learner.plays(TOGETHER, chosen=True)
    assert (following.said, following.moved) == ("Next on the ladder: in tempo 60 % (key s).", False)


def test_a_change_played_in_a_way_that_the_player_chose_is_not_called_mended(learner: Learner) -> None:
    chord = learner.music.plan.phrases[0].chords[4]
    fault = Fault(Fraction(chord.onset), "right", chord.bar)
    for _ in range(3):
        change = learner.plays(RIGHT, "weak", faults=(fault,)).passage
    assert change.kind == "change"
    assert learner.plays(TOGETHER, "weak", chosen=True, passage=change).said == ""
    following = learner.plays(TOGETHER, chosen=True, passage=change)
    assert (following.said, following.moved) == ("Next on the ladder: right hand (key s).", False)


def test_a_line_for_a_change_that_was_mended_says_so_though_others_were_drilled_after_it(evenings: Evenings) -> None:
    """The earlier change passes its steps, the later one is drilled until the minutes are over."""
    chords = evenings.music.plan.phrases[0].chords
    first, second = (Fault(Fraction(chords[at].onset), "right", chords[at].bar) for at in (2, 4))

    def plays(step: Step, word: str, passage: Passage, spent: float) -> Following:
        began = BEGAN + timedelta(days=1, minutes=evenings.log.count())
        faults = () if passage.kind == "change" else (first, second)
        entry = new_entry(passage, "Wide Water", step, word, began=began, seconds=30.0, faults=faults)  # type: ignore[arg-type]
        evenings.log.record(entry)
        return after_take(evenings.music, entry, evenings.home, evenings.log, row, spent)

    row: Row | None = None
    for _ in range(3):
        following = plays(TOGETHER, "shaky", evenings.home, 0.0)
    row = Row("learning", evenings.home, "Wide Water", following.step, 1.0, "", "shaky", first)
    for spent in (0.2, 0.4):
        following = plays(following.step, "solid", following.passage, spent)
    assert following.said == f"The change in bar {second.bar} keeps failing: play it on its own."
    following = plays(following.step, "shaky", following.passage, 9.0)
    assert (following.said, following.finished) == (f"The change in bar {first.bar} is mended.", True)


def test_what_is_learned_rests_until_another_day(learner: Learner) -> None:
    for step in steps_of(learner.music):
        if step == NO_FINGERS:
            break
        learner.plays(step)
    following = learner.plays(NO_FINGERS)
    assert following.finished
    assert following.said == "Phrase 1 rests until another day."
    following = learner.plays(MEMORY, day=3)
    assert (following.step, following.finished) == (PEDAL, False)
    assert learner.plays(PEDAL, day=3).finished


def test_a_change_that_keeps_failing_is_played_on_its_own_and_comes_back_mended(learner: Learner) -> None:
    chord = learner.music.plan.phrases[0].chords[2]
    fault = Fault(Fraction(chord.onset), "right", chord.bar)
    for _ in range(2):
        learner.plays(TOGETHER, "shaky", faults=(fault,))
    following = learner.plays(TOGETHER, "shaky", faults=(fault,))
    assert following.passage.kind == "change"
    assert following.said == f"The change in bar {chord.bar} keeps failing: play it on its own."
    change = following.passage
    following = learner.plays(following.step, passage=change)
    assert following.passage == change
    assert following.moved
    following = learner.plays(following.step, passage=change)
    assert following.passage == learner.home
    assert following.said.startswith("The change is mended. Back to phrase 1:")


def test_a_change_over_the_seam_that_keeps_failing_is_mended_too(music: Music) -> None:
    join = next(passage for passage in music.passages if passage.kind == "join")
    learner = Learner(music, join)
    chord = music.plan.phrases[1].chords[0]
    fault = Fault(Fraction(chord.onset), "left", chord.bar)
    for _ in range(3):
        following = learner.plays(SEAM, "shaky", faults=(fault,))
    assert following.passage.label == "a change from phrase 1 to 2"
    for _ in range(2):
        following = learner.plays(following.step, passage=following.passage)
    assert following.passage == join
    assert following.said == "The change is mended. Back to phrases 1+2: over the seam."


def test_what_follows_is_decided_with_the_take_in_the_log(music: Music, log: Log) -> None:
    passage = log.know(music.piece, music.phrases, music.shapes)[0]
    attempt = Attempt(music.task(passage, RIGHT))
    for event in perform(attempt.task.expected, start=1.0).events:
        attempt.feed(event)
    done = attempt.judged()
    entry = entry_for(done, music, passage, BEGAN, chosen=False)
    assert after_keeping(log, done, music, entry, passage, None, 0.5).step == LEFT
    (kept,) = log.entries()
    assert (kept.step, kept.verdict) == (RIGHT, "solid")
    assert (log.takes / kept.midi).is_file()
