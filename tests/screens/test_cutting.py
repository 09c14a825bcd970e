"""Where to cut a phrase is a question: until it is answered or left, no other key does anything."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from coach.screens.hints import hints_of

Desk = Callable[..., Any]
SIZES = [(80, 24), (120, 40)]

OTHER_KEYS = ("j", "u", "o", "s", "m", "h", "y", "f", "a", "w", "p", "t", "d", "up", "down")


def flowing(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(("key", "asked", "does"), [("s", "Split before", "Split here"), ("m", "End the", "End here")])
async def test_no_other_key_does_anything_while_it_is_asked(
    desk: Desk, size: tuple[int, int], key: str, asked: str, does: str
) -> None:
    async with desk(size=size) as at:
        at.app.open_piece("wide-water")
        await at.settle()
        phrases = at.app.screen.music.phrases
        await at.press(key)
        question = flowing(at.text)
        assert asked in question
        assert {hint.shown: hint.says for hint in hints_of(at.app.screen)} == {
            "Enter": does, "← →": "Chord", "Esc": "Leave it", "?": "Help"
        }  # fmt: skip
        for other in OTHER_KEYS:
            await at.press(other)
            assert at.screen == "PieceScreen", other
            assert asked in flowing(at.text), other
        assert at.notes == []
        assert at.app.screen.music.phrases == phrases
        assert not at.app.sound.playing
        await at.press("escape")
        assert asked not in flowing(at.text)
        await at.press("j")
        assert len(at.app.screen.music.phrases) == len(phrases) - 1


async def test_enter_answers_and_the_keys_are_back(desk: Desk) -> None:
    async with desk() as at:
        at.app.open_piece("wide-water")
        await at.settle()
        await at.press("s", "enter")
        assert len(at.app.screen.music.phrases) == 5
        says = {hint.shown: hint.says for hint in hints_of(at.app.screen)}
        assert says["Enter"] == "Drill"
        assert "j" in says


async def test_a_click_on_another_phrase_does_not_turn_the_question_to_it(desk: Desk) -> None:
    async with desk(size=(120, 60)) as at:
        at.app.open_piece("wide-water")
        await at.settle()
        await at.press("s")
        asked = at.app.screen.query_one("#said").content
        lines = at.text.splitlines()
        sopranos = [y for y, text in enumerate(lines) if text.split()[:1] == ["S"] or " S " in text[:12]]
        assert len(sopranos) > 1
        await at.pilot.click(offset=(lines[sopranos[1]].index(" S ") + 6, sopranos[1]))
        await at.settle()
        assert at.app.screen.chosen == 0
        assert at.app.screen.query_one("#said").content == asked
