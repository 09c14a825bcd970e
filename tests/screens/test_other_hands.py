"""Hands that are changed after weeks of practice: what is practised is planned anew, said, and asked for once."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from coach.errors import CoachError
from coach.practice import days
from coach.practice.entry import new_entry
from coach.practice.ladder import next_step
from coach.practice.log import Log
from coach.practice.music import Music, open_music
from coach.practice.passage import plan_mark

Desk = Callable[..., Any]
SIZES = [(80, 24), (120, 40)]
WATER = "wide-water"


def flowing(text: str) -> str:
    return " ".join(text.split())


def learned(*names: str) -> None:
    """Every passage of some pieces climbed and remembered within the last days, from plans for hands of 208 mm."""
    with Log.open() as log:
        for name in names:
            music = open_music(name)
            log.know(music.piece, music.phrases, music.shapes)
            for passage in music.passages:
                began = days.now() - timedelta(days=2, hours=1)
                while (step := next_step(log.steps(passage), log.progress(passage).place)).days_apart == 0:
                    began += timedelta(seconds=30)
                    plan = plan_mark(music.planned(passage, step))
                    more: dict[str, Any] = {"seconds": 20.0, "source": name, "plan": plan}
                    log.record(new_entry(passage, music.piece.title, step, "solid", began=began, **more))


async def change(at: Any, span: str) -> None:
    await at.press("h")
    await at.press(*span, "enter", *span, "enter", "escape")


@pytest.mark.usefixtures("evening")
@pytest.mark.parametrize("size", SIZES)
async def test_other_hands_are_planned_for_said_and_asked_for_once_with_the_fingers(
    desk: Desk, size: tuple[int, int]
) -> None:
    """The day that had nothing to play has it now; phrase by phrase, and then it is done."""
    learned(WATER)
    async with desk(size=size, minutes=60) as at:
        before = [row for row in at.app.screen.rows if row.kind == "anew"]
        assert before == []
        await change(at, "165")
        assert at.screen == "TodayScreen"
        assert at.notes[-1] == "Other fingers now in all 4 phrases of Wide Water."
        anew = [row for row in at.app.screen.rows if row.kind == "anew"]
        assert anew
        assert "planned anew: once with the fingers" in at.text
        first = at.app.screen.rows.index(anew[0])
        for _ in range(first):
            await at.press("down")
        await at.press("enter")
        assert "both hands · chord by chord" in at.text
        assert at.app.screen.step.fingers == "all"
        for number, row in enumerate(anew):
            assert f"phrase {row.passage.first} of 4" in at.text.splitlines()[0]
            await at.perform()
            assert f"Phrase {row.passage.first} was played with its other fingers." in flowing(at.text)
            last = number == len(anew) - 1
            assert ("That was the last one; the pedal twice goes back." in flowing(at.text)) == last
        await at.press("escape")
        assert [row for row in at.app.screen.rows if row.kind == "anew"] == []
    with Log.open() as log:
        assert [entry.chosen for entry in log.entries(latest=len(anew))] == [False] * len(anew)


async def test_hands_that_were_changed_back_are_the_old_fingers_again(desk: Desk) -> None:
    learned(WATER)
    async with desk(minutes=60) as at:
        await change(at, "165")
        assert any(row.kind == "anew" for row in at.app.screen.rows)
        await change(at, "208")
        assert at.notes[-1] == "Other fingers now in all 4 phrases of Wide Water."
        assert not any(row.kind == "anew" for row in at.app.screen.rows)


async def test_hands_that_change_no_finger_are_said_to_change_none(desk: Desk) -> None:
    learned(WATER)
    async with desk() as at:
        await at.press("h")
        at.app.screen.query_one("#way").value = "roll"
        await at.settle()
        await at.press("escape")
        assert at.notes[-1] == "The plans of what you practise did not change: the same fingers go on."
        count = len(at.notes)
        await at.press("h", "escape")
        assert len(at.notes) == count


async def test_with_nothing_in_practice_there_is_nothing_to_say_of_other_hands(desk: Desk) -> None:
    async with desk() as at:
        await change(at, "165")
        assert at.notes == []


async def test_a_piece_that_cannot_be_planned_holds_up_no_other(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    learned("oars-at-dusk", WATER)

    def opened(name: str, *more: Any) -> Music:
        if name == "oars-at-dusk":
            raise CoachError("cannot find it")
        return open_music(name, *more)

    async with desk() as at:
        monkeypatch.setattr("coach.practice.music.open_music", opened)
        await change(at, "165")
        assert at.notes[-1] == "Other fingers now in all 4 phrases of Wide Water."
