"""What the screens do when something is not as they left it: the data folder, hands, keys, the phrases themselves."""

from __future__ import annotations

import asyncio
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from practising import practise

from coach.fingering.choices import FixedFinger
from coach.practice import chosen
from coach.practice.music import cut_anew, planned_anew
from coach.score import cuts

Opened = Callable[..., Any]


@pytest.mark.parametrize("key", ["s", "b", "n"])
async def test_a_drill_says_that_the_log_cannot_be_read_and_goes_on(
    key: str, desk: Opened, drilling: Opened, home: Path
) -> None:
    """A data folder on a stick or a network comes and goes."""
    async with desk(drilling()) as at:
        away = home.with_name(f"{home.name}-away")
        os.rename(home, away)
        await at.press(key)
        os.rename(away, home)
        assert at.screen == "DrillScreen"
        assert at.notes


async def test_a_day_is_not_begun_from_a_log_that_cannot_be_read(desk: Opened, home: Path) -> None:
    practise()
    async with desk() as at:
        away = home.with_name(f"{home.name}-away")
        os.rename(home, away)
        await at.press("enter")
        os.rename(away, home)
        assert at.screen == "TodayScreen"
        assert at.notes
        await at.press("enter")
        assert at.screen == "DrillScreen"


async def test_a_date_is_asked_for_although_the_log_cannot_be_read(desk: Opened, home: Path) -> None:
    async with desk() as at:
        await at.press("enter")
        away = home.with_name(f"{home.name}-away")
        os.rename(home, away)
        await at.press("d")
        os.rename(away, home)
        assert at.screen == "DateScreen"


async def test_a_name_too_long_for_a_file_is_not_found(desk: Opened) -> None:
    async with desk() as at:
        await at.press("s")
        at.app.screen.query_one("Input").value = "corpus:bach/" + "x" * 300
        await at.press("enter")
        assert "cannot find" in at.notes[-1].lower()


async def test_a_choice_holds_for_hands_that_the_piece_was_planned_for_before(desk: Opened) -> None:
    async with desk() as at:
        app = at.app
        note = (await app.music("wide-water")).plan.phrases[0].chords[0].notes[0]
        app.change_settings(right_span_mm=230.0, left_span_mm=230.0)
        other = await app.music("wide-water")
        finger = 4 if note.finger != 4 else 5
        fix = FixedFinger(other.phrases[0].onset, note.voice, note.midi, finger)
        chosen.make(other.piece, other.phrases, [fix], other.hands, other.options)
        app.keep_music(planned_anew(other))
        app.change_settings(right_span_mm=208.0, left_span_mm=208.0)
        assert (await app.music("wide-water")).plan.phrases[0].chords[0].notes[0].finger == finger


async def test_a_cut_holds_for_hands_that_the_piece_was_planned_for_before(desk: Opened) -> None:
    async with desk() as at:
        app = at.app
        before = len((await app.music("wide-water")).phrases)
        app.change_settings(right_span_mm=230.0, left_span_mm=230.0)
        other = await app.music("wide-water")
        phrases = cuts.join(other.piece, other.phrases, 1)
        cuts.keep(other.piece, phrases)
        app.keep_music(cut_anew(other, phrases))
        app.change_settings(right_span_mm=208.0, left_span_mm=208.0)
        assert len((await app.music("wide-water")).phrases) == before - 1


async def test_keys_that_came_up_elsewhere_do_not_begin_the_day(desk: Opened) -> None:
    practise()

    async with desk() as at:
        *held, last = await at.first_keys()
        await at.hear(*(at.at("press", key, 0.01 * place) for place, key in enumerate(held)))
        await at.press("question_mark")
        await at.let_go(*held)
        await at.press("escape")
        assert await at.first_keys() == sorted([*held, last])
        await at.strike(last)
        assert at.screen == "TodayScreen"


async def test_a_look_at_the_hands_leaves_an_octave_of_ones_own(desk: Opened) -> None:
    """Makers build octaves of 164 to 165 mm; the settings take any width."""
    async with desk(octave_mm=165.0) as at:
        await at.press("h")
        assert "yours (165 mm)" in at.text
        await at.press("escape")
        assert at.app.settings.octave_mm == 165.0


@pytest.mark.parametrize("key", ["right", "s", "m", "h", "w", "down"])
async def test_keys_are_pressed_while_a_piece_is_planned_anew(key: str, desk: Opened) -> None:
    async with desk() as at:
        await at.press("enter")
        screen = at.app.screen
        for _ in screen.views:
            await at.press("down")
        cut = cuts.join(screen.music.piece, screen.music.phrases, 1)
        putting_up = asyncio.ensure_future(screen._fill(cut_anew(screen.music, cut)))
        presses = 0
        while not putting_up.done() or not presses:
            await at.pilot.press(key)
            presses += 1
        await putting_up
        await at.settle()
        assert screen.chosen == len(screen.views) - 1 == len(cut) - 1


async def test_the_demonstration_goes_on_after_a_look_at_the_help(desk: Opened) -> None:
    """What nobody watched to its end is played again, and judged as it was played."""
    async with desk(set_up=False) as at:
        await at.press("d")
        screen = at.app.screen

        async def play(until: Callable[[], bool]) -> None:
            for _ in range(2000):
                if until():
                    return
                at.now += 0.02
                screen._play()
                screen._tick()
                await asyncio.sleep(0)

        await play(lambda: screen.state.phase == "playing" and bool(screen.drill._down))
        await at.press("question_mark")
        events = len(screen.drill._attempt.events)
        for _ in range(300):
            at.now += 0.02
            screen._play()
            screen._tick()
        assert len(screen.drill._attempt.events) == events
        await at.press("escape")
        await play(lambda: screen.heard.done is not None)
        assert screen.heard.done.verdict.word == "solid"
