"""The keys of a drill say what they do as things stand, and those that do nothing are not offered."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from coach.practice import days
from coach.practice.entry import new_entry
from coach.practice.ladder import TOGETHER
from coach.practice.log import Log
from coach.practice.music import open_music
from coach.screens.hints import hints_of

Desk = Callable[..., Any]
Drilling = Callable[..., Any]
SIZES = [(80, 24), (120, 40)]

IN_TEMPO = replace(TOGETHER, clock="tempo")
HIDDEN = replace(TOGETHER, fingers="none")


def offered(at: Any) -> dict[str, str]:
    """What each key at the foot says."""
    return {hint.shown: hint.says for hint in hints_of(at.app.screen)}


@pytest.mark.parametrize("size", SIZES)
async def test_space_ends_a_take_chord_by_chord_and_cannot_begin_one(
    desk: Desk, drilling: Drilling, size: tuple[int, int]
) -> None:
    async with desk(drilling(step=TOGETHER), size=size) as at:
        assert "Space" not in offered(at)
        await at.press("space")
        assert at.app.screen.state.phase == "ready"
        await at.strike(*sorted(at.drill.task.first_keys))
        assert offered(at)["Space"] == "End take"
        assert "Space End take" in at.text
        await at.press("space")
        assert not at.app.screen.state.going_on


async def test_space_counts_in_and_ends(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling(step=IN_TEMPO)) as at:
        assert offered(at)["Space"] == "Count in"
        assert offered(at)["t"] == "Chord by chord"
        await at.press("space")
        assert at.app.screen.state.phase == "counting"
        assert offered(at)["Space"] == "End take"
        await at.press("t")
        assert "Space" not in offered(at)
        assert offered(at)["t"] == "Tempo"


async def test_space_puts_away_the_words_that_ask_for_rest(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling(step=TOGETHER)) as at:
        at.app.stint = at.app.stint.ask()
        await at.wait(0.1)
        assert offered(at)["Space"] == "Go on"
        await at.press("space")
        assert not at.app.stint.asking
        assert "Space" not in offered(at)


async def test_fingers_in_sight_are_not_peeked_at(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling(step=TOGETHER)) as at:
        assert "p" not in offered(at)
    async with desk(drilling(step=HIDDEN)) as at:
        assert offered(at)["p"] == "Peek"
        await at.press("up")
        assert "p" not in offered(at)
        await at.press("down", "p")
        assert at.app.screen._page.fingers.shown == "all"


async def test_while_a_take_goes_on_nobody_looks_through_the_plan(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling(step=TOGETHER)) as at:
        assert "← →" in offered(at)
        await at.strike(*sorted(at.drill.task.first_keys))
        assert "← →" not in offered(at)


async def test_clicks_say_what_the_key_does(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling(step=TOGETHER), clicks=False) as at:
        assert offered(at)["c"] == "Clicks"
        await at.press("c")
        assert offered(at)["c"] == "No clicks"


async def test_there_is_none_before_the_first_and_the_last_one_is_the_end(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling(step=TOGETHER)) as at:
        assert "v" not in offered(at)
        assert offered(at)["n"] == "Next"
        await at.press("n", "n", "n")
        assert offered(at)["v"] == "Before"
        assert offered(at)["n"] == "End"


@pytest.mark.parametrize("size", SIZES)
async def test_after_the_last_one_it_is_said_why_the_drill_is_over(desk: Desk, size: tuple[int, int]) -> None:
    music = open_music("wide-water")
    with Log.open() as log:
        log.know(music.piece, music.phrases, music.shapes)
        began = days.now() - timedelta(seconds=60)
        passage = music.phrase_passage(1)
        entry = new_entry(passage, "Wide Water", TOGETHER, "shaky", began=began, seconds=40.0, source="wide-water")
        log.record(entry)
    async with desk(size=size) as at:
        await at.press("enter")
        for _ in range(20):
            if at.screen == "DrillScreen":
                await at.press("n")
        assert at.screen == "TodayScreen"
        assert "That was the last one: the drill is over." in at.text
        await at.pedal(2)
        assert at.screen == "DrillScreen"
        assert "That was the last one" not in at.text, "another one has begun"
