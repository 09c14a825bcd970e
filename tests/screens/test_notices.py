"""What is said in passing: one sentence at a time, that hides nothing and goes when it is read or no longer true."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from coach.listening.ports import Link
from coach.screens.notice import READ_IN, Notices, Saying
from coach.screens.words import as_sentence

Desk = Callable[..., Any]
SIZES = [(80, 24), (120, 40)]


def flowing(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ("there is no choice to take back", "There is no choice to take back."),
        ("The beat clicks.", "The beat clicks."),
        ('cannot find "nowhere"', 'Cannot find "nowhere".'),
        ("leave it?", "Leave it?"),
        ("", ""),
    ],
)
def test_whatever_is_said_is_a_sentence(words: str, sentence: str) -> None:
    assert as_sentence(words) == sentence


def test_the_latest_is_shown_and_problems_wait_to_be_read() -> None:
    first, second = Saying("The first file is gone.", problem=True), Saying("The second file is gone.", problem=True)
    notices = Notices().said(Saying("The beat clicks.")).said(first).said(second).said(Saying("The beat is silent."))
    shown = []
    while notices.shown is not None:
        shown.append(notices.shown.sentence)
        notices = notices.read()
    assert shown == ["The beat is silent.", "The second file is gone.", "The first file is gone."]


def test_the_same_problem_is_said_once() -> None:
    gone = Saying("The file is gone.", problem=True)
    assert Notices().said(gone).said(gone) == Notices((gone,))


@pytest.mark.parametrize("size", SIZES)
async def test_what_is_said_covers_no_hint_and_no_field(desk: Desk, size: tuple[int, int]) -> None:
    async with desk(size=size) as at:
        await at.press("h")
        before = at.text.splitlines()
        fields = [
            words for words in ("Right hand", "Left hand", "Stretches", "A note out of reach") if words in at.text
        ]
        await at.press("f2")
        after = at.text.splitlines()
        assert "connect one first" in flowing(at.text)
        assert all(words in at.text for words in fields)
        assert after[-1] == before[-1]


async def test_three_things_said_at_once_are_shown_one_at_a_time(desk: Desk) -> None:
    async with desk() as at:
        for name in ("one", "two", "three"):
            at.app.say(f'cannot find "{name}"', problem=True)
        await at.pilot.pause()
        assert at.text.count("Cannot find") == 1
        assert 'Cannot find "three".' in at.text
        await at.press("left")
        assert at.text.count("Cannot find") == 1
        assert 'Cannot find "two".' in at.text


async def test_another_key_takes_it_away(desk: Desk) -> None:
    async with desk() as at:
        await at.press("h", "f2")
        assert "connect one first" in flowing(at.text)
        await at.press("tab")
        assert "connect one first" not in flowing(at.text)


async def test_a_piano_that_is_plugged_in_takes_away_that_there_is_none(desk: Desk) -> None:
    async with desk() as at:
        await at.press("h", "f2")
        assert "connect one first" in flowing(at.text)
        at.app.on_coach_app_linked(at.app.Linked(Link("listening", "Piano", "Listening to Piano.")))
        await at.settle()
        assert "connect one first" not in flowing(at.text)


async def test_it_goes_by_itself(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("coach.screens.app.READ_IN", READ_IN / 10)
    async with desk() as at:
        at.app.say("nothing was heard")
        await at.pilot.pause()
        assert "Nothing was heard." in at.text
        # A machine that stands still is late with it.
        for _ in range(20):
            await at.pilot.pause(READ_IN / 10)
            if "Nothing was heard." not in at.text:
                break
        assert "Nothing was heard." not in at.text


async def test_it_is_read_on_whatever_screen_is_up(desk: Desk) -> None:
    async with desk() as at:
        await at.press("s")
        at.app.say("the shelf is in order [all of it]")
        at.app.action_go("week")
        await at.settle()
        assert at.screen == "WeekScreen"
        assert "The shelf is in order [all of it]." in at.text


async def test_the_librarys_own_notes_are_read_in_the_same_place(desk: Desk) -> None:
    async with desk() as at:
        await at.press("ctrl+c")
        assert "to quit the app" in flowing(at.text)
        assert "Begin" in at.text
        assert "Quit" in at.text.splitlines()[-1]
