"""What sounds during a drill: one thing at a time, and clicks only for the take that they belong to."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest

from coach.paper.sound import Message, clicks
from coach.practice.ladder import STEPS_IN_TEMPO
from coach.practice.music import open_music
from coach.practice.task import Task
from coach.screens.sounding import NO_OUTPUT, Sounding

NOTE: Sequence[Message] = ((0.0, bytes((0x90, 60, 64))),)


class Output:
    """A MIDI output that notes down what it is given."""

    def __init__(self) -> None:
        self.ready = True
        self.playing = False
        self.given: list[tuple[Sequence[Message], float | None]] = []

    def play(self, messages: Sequence[Message], start: float | None = None) -> None:
        self.playing = True
        self.given.append((messages, start))

    def stop(self) -> None:
        self.playing = False


@pytest.fixture
def task() -> Task:
    music = open_music("wide-water")
    return music.task(music.phrase_passage(1), STEPS_IN_TEMPO[2])


@pytest.fixture
def output() -> Any:
    return Output()


def test_the_same_key_sounds_a_passage_and_stops_it(output: Any) -> None:
    sounding = Sounding(output)
    assert sounding.hear(NOTE) == ""
    assert output.given == [(NOTE, None)]
    assert sounding.hear(NOTE) == ""
    assert not output.playing
    assert len(output.given) == 1


def test_without_an_output_it_is_said(output: Any) -> None:
    output.ready = False
    assert Sounding(output).hear(NOTE) == NO_OUTPUT
    assert not output.given


def test_a_take_is_clicked_once_in_time_with_its_first_chord(output: Any, task: Task) -> None:
    sounding = Sounding(output)
    for _ in range(2):
        sounding.click(task, 12.5, wanted=True)
    assert output.given == [(clicks(task.clicks()), 12.5)]
    sounding.click(task, None, wanted=True)
    assert not output.playing


def test_clicks_that_nobody_wants_are_silent(output: Any, task: Task) -> None:
    sounding = Sounding(output)
    sounding.click(task, 12.5, wanted=False)
    assert not output.given
    sounding.click(task, 12.5, wanted=True)
    sounding.click(task, 12.5, wanted=False)
    assert not output.playing


def test_a_passage_that_is_heard_goes_on_when_no_take_does(output: Any, task: Task) -> None:
    sounding = Sounding(output)
    sounding.hear(NOTE)
    sounding.click(task, None, wanted=True)
    assert output.playing
