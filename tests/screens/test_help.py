"""Help begins with the screen one is on: what one does there, and its keys."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from coach.fingering.hand import CAUTION
from coach.practice.ladder import TOGETHER
from coach.screens.hints import hints_of

Desk = Callable[..., Any]
Drilling = Callable[..., Any]
SIZES = [(80, 24), (120, 40)]

FROM_TODAY = {
    "h": ("Hands", "hold the widest interval"),
    "s": ("Shelf", "Type words of a title"),
    "w": ("Week", "Which phrases are weak"),
    "i": ("Instrument", "MIDI inputs"),
}
FROM_A_PIECE = {
    "f": ("Your choices", "a finger for a voice or a pitch"),
    "a": ("Alternatives", "what it costs in effort"),
    "w": ("Away from the piano", "from the highest note down"),
    "d": ("Ready by", "An empty line takes the date away"),
}


def flowing(text: str) -> str:
    return " ".join(text.split())


def page(at: Any) -> tuple[str, str]:
    """The part about the screen, and all of it, however far the window reaches."""
    part, general = (str(one.content) for one in at.app.screen.query("VerticalScroll > Static"))
    return part, f"{part}\n{general}"


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("key", [*FROM_TODAY, *(f"piece {key}" for key in FROM_A_PIECE)])
async def test_the_screen_one_is_on_comes_first(desk: Desk, size: tuple[int, int], key: str) -> None:
    async with desk(size=size) as at:
        called, words = FROM_TODAY.get(key) or FROM_A_PIECE[key.split()[-1]]
        if key.startswith("piece"):
            at.app.open_piece("wide-water")
            await at.settle()
        await at.press(key.split()[-1])
        below = at.app.screen
        keys = {hint.shown: hint.more for hint in hints_of(below) if hint.key not in ("f1", "question_mark")}
        assert keys
        await at.press("f1")
        assert at.screen == "HelpScreen"
        assert called in at.text.splitlines()[2]
        assert words in flowing(at.text)
        part, whole = page(at)
        for shown, more in keys.items():
            assert any(line.split() == f"{shown} {more}".split() for line in part.splitlines()), shown
        assert "From the piano" in whole
        assert CAUTION in flowing(whole)
        await at.press("escape")
        assert at.app.screen is below


async def test_the_drills_part_tells_of_falling_back_clicks_and_other_ways(desk: Desk, drilling: Drilling) -> None:
    """Three weak takes or six shaky ones fall back a step (`ladder.FALL_BACK_AT`)."""
    async with desk(drilling(step=TOGETHER), size=(120, 40)) as at:
        await at.press("question_mark")
        part, _ = page(at)
        said = flowing(part)
        assert "Three weak takes in a row, or six that are shaky, fall back a step" in said
        assert "“Back to: right hand”" in said
        assert "the beat clicks" in said
        for line in ("r the right hand alone", "b both hands", "+ - faster or slower by 4 quarter notes a minute"):
            assert line in said
        assert "Peek" not in part


async def test_every_screen_has_something_to_say() -> None:
    """But for help itself."""
    from coach.screens import (  # noqa: F401
        alternatives,
        choice,
        date,
        demonstration,
        drill,
        hands,
        help,
        instrument,
        piece,
        set_up,
        shelf,
        spell,
        steps,
        today,
        week,
    )  # fmt: skip
    from coach.screens.base import CoachScreen

    def below(kind: type) -> set[type]:
        return {kind}.union(*(below(one) for one in kind.__subclasses__()))

    kinds = {one for one in below(CoachScreen) if one.__module__.startswith("coach.screens.")} - {CoachScreen}
    assert len(kinds) >= 15
    assert {one.__name__ for one in kinds if not (one.called and one.about.endswith("."))} == {"HelpScreen"}
