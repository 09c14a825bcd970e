"""A page above a drill, or above Today, is read in peace: what is played meanwhile turns no page and leaves none."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from typing import Any

import pytest
from practising import practise

from coach.errors import CoachError
from coach.practice.ladder import STEPS_IN_TEMPO
from coach.practice.music import Music, open_music

Desk = Callable[..., Any]
Drilling = Callable[..., Any]

ABOVE_A_DRILL = {"question_mark": "HelpScreen", "s": "StepsScreen"}


@pytest.mark.parametrize(("key", "page"), ABOVE_A_DRILL.items())
async def test_the_pedal_under_a_page_leaves_neither_the_page_nor_the_drill(
    key: str, page: str, desk: Desk, drilling: Drilling
) -> None:
    """After the last phrase the pedal twice ends a drill; nobody means that who reads help meanwhile."""
    async with desk(drilling(phrase=4)) as at:
        await at.press(key)
        await at.pedal(2)
        assert at.screen == page
        await at.press("escape")
        await at.wait(1.0)
        assert at.screen == "DrillScreen"
        assert at.app.screen._stand.passage.label == "phrase 4"
        await at.pedal(3)
        assert at.app.screen._stand.passage.label == "phrase 3"


async def test_a_step_chosen_is_the_step_of_the_phrase_that_it_was_chosen_for(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling()) as at:
        await at.press("s")
        await at.pedal(2)
        await at.press("down", "enter")
        drill = at.app.screen
        assert (drill._stand.passage.label, drill.step.name) == ("phrase 1", "left hand")
        assert drill._round.item.passage == drill._stand.home


async def test_a_take_in_tempo_that_goes_on_under_a_page_is_heard(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling(step=STEPS_IN_TEMPO[0])) as at:
        drill, screen = at.drill, at.app.screen
        await at.strike(*sorted(drill.task.first_keys))
        await at.let_go(*sorted(drill.task.first_keys))
        await at.wait_until(drill.state.first_chord)
        await at.press("question_mark")
        await at.strike(*sorted(drill.task.first_keys))
        assert screen.state.phase == "playing"
        await at.press("escape")
        assert at.screen == "DrillScreen"


async def test_a_drill_whose_piece_does_not_open_is_left_when_help_is_closed(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    practise()
    go = threading.Event()

    def gone(*_: Any) -> Music:
        go.wait(10)
        raise CoachError("cannot read it")

    monkeypatch.setattr("coach.practice.music.open_music", gone)
    async with desk() as at:
        await at.pilot.press("enter", "question_mark")
        go.set()
        await at.settle()
        assert at.screen == "HelpScreen"
        await at.press("escape")
        assert at.screen == "TodayScreen"


async def test_what_is_played_on_another_page_does_not_begin_the_day(desk: Desk) -> None:
    practise()
    async with desk() as at:
        keys = await at.first_keys()
        for key, page in (("s", "ShelfScreen"), ("question_mark", "HelpScreen")):
            await at.press(key)
            await at.strike(*keys)
            await at.let_go(*keys)
            await at.pedal(2)
            assert at.screen == page
            await at.press("escape")
            await at.wait(1.0)
            assert at.screen == "TodayScreen"
        await at.strike(*await at.first_keys())
        assert at.screen == "DrillScreen"


@pytest.fixture
def slow(monkeypatch: pytest.MonkeyPatch) -> tuple[threading.Event, threading.Event]:
    """Pieces begin to open, and are open only when they may be."""
    began, go = threading.Event(), threading.Event()

    def opened(*asked: Any) -> Music:
        began.set()
        go.wait(10)
        return open_music(*asked)

    monkeypatch.setattr("coach.practice.music.open_music", opened)
    return began, go


async def test_a_piece_that_takes_a_moment_does_not_cover_where_the_player_has_gone(
    slow: tuple[threading.Event, threading.Event], desk: Desk
) -> None:
    began, go = slow
    async with desk() as at:
        await at.pilot.press("enter")
        await asyncio.to_thread(began.wait, 10)
        await at.pilot.press("w")
        go.set()
        await at.settle()
        assert at.screen == "WeekScreen"


async def test_a_piece_asked_for_twice_is_opened_once(
    slow: tuple[threading.Event, threading.Event], desk: Desk
) -> None:
    began, go = slow
    async with desk() as at:
        await at.pilot.press("enter", "enter")
        await asyncio.to_thread(began.wait, 10)
        go.set()
        await at.settle()
        assert [type(screen).__name__ for screen in at.app.screen_stack[1:]] == ["TodayScreen", "PieceScreen"]
