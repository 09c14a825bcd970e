"""What goes on meanwhile: hands changed while a piece is planned, a full disk, a log that goes away, other folders."""

from __future__ import annotations

import asyncio
import sqlite3
import threading
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from coach import cli
from coach import settings as kept
from coach.errors import CoachError
from coach.listening.player import perform
from coach.practice import days
from coach.practice.entry import new_entry
from coach.practice.ladder import STEPS_IN_TEMPO, TOGETHER
from coach.practice.log import Log
from coach.practice.music import Music, open_music
from coach.practice.rest import LONG, Stint
from coach.practice.schema import APPLICATION
from coach.practice.work import phrases_from
from coach.score import cuts
from coach.score.shelf import take_in
from coach.screens.app import CoachApp
from coach.screens.drill import DrillScreen

Desk = Callable[..., Any]
Drilling = Callable[..., Any]


async def test_a_piece_is_kept_for_the_hands_it_was_planned_for(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """The hands are changed while it is being planned."""
    began, go = threading.Event(), threading.Event()

    def slow(*asked: Any) -> Music:
        made = open_music(*asked)
        began.set()
        go.wait(10)
        return made

    monkeypatch.setattr("coach.practice.music.open_music", slow)
    async with desk() as at:
        waiting = asyncio.create_task(at.app.music("wide-water"))
        await asyncio.to_thread(began.wait, 10)
        at.app.change_settings(right_span_mm=165.0, left_span_mm=165.0)
        go.set()
        await waiting
        assert (await at.app.music("wide-water")).hands == at.app.settings.hands


async def test_a_cut_that_cannot_be_kept_changes_nothing(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> None:
        raise CoachError("cannot keep the phrases: No space left on device")

    monkeypatch.setattr(cuts, "keep", full)
    async with desk() as at:
        at.app.open_piece("wide-water")
        await at.settle()
        await at.press("j")
        assert "Cannot keep the phrases: No space left on device." in at.notes
        await at.press("down", "down", "down", "down", "enter")
        assert at.screen == "DrillScreen"


async def test_a_log_that_cannot_be_read_any_more_is_said_in_today(desk: Desk, home: Path) -> None:
    """A newer coach's log in the place of ours, as from a folder shared by two machines; then ours again."""
    async with desk() as at:
        path, ours = home / "practice.sqlite", home / "ours.sqlite"
        newer = sqlite3.connect(home / "newer.sqlite")
        newer.executescript(f"PRAGMA application_id = {APPLICATION}; PRAGMA user_version = 99; CREATE TABLE later (x);")
        newer.close()
        path.rename(ours)
        (home / "newer.sqlite").rename(path)
        await at.press("plus")
        assert at.screen == "TodayScreen"
        assert any("newer" in note for note in at.notes)
        ours.rename(path)
        await at.press("minus")
        assert "Nothing is in practice yet" in at.text


async def test_some_voices_alone_are_no_ladder_of_the_piece(desk: Desk) -> None:
    """Drilled by `--voices S`; Today then practises all voices, on the ladder that was there before."""
    music = open_music("wide-water")
    with Log.open() as log:
        passage = log.know(music.piece, music.phrases, music.shapes)[0]
        began = days.now() - timedelta(days=1)
        log.record(
            new_entry(passage, music.piece.title, TOGETHER, "shaky", began=began, seconds=40.0, source="wide-water")
        )
        before = log.steps(passage)
    part = open_music("wide-water", letters="S")

    def opening(app: CoachApp) -> DrillScreen:
        app.keep_music(part)
        return DrillScreen(*phrases_from(part, 1))

    async with desk(opening) as at:
        assert at.app.screen._stand.music.letters == "S"
        await at.press("escape")
        await at.press("enter")
        assert at.app.screen._stand.music.letters == ""
    with Log.open() as log:
        assert log.steps(passage) == before


@pytest.mark.parametrize(("letters", "asked"), [("B", "left hand, voices B"), ("SA", "right hand, voices S A")])
async def test_some_voices_alone_are_on_the_stand_though_the_other_hand_has_none_of_them(
    desk: Desk, letters: str, asked: str
) -> None:
    part = open_music("wide-water", letters=letters)

    def opening(app: CoachApp) -> DrillScreen:
        app.keep_music(part)
        return DrillScreen(*phrases_from(part, 1))

    async with desk(opening) as at:
        assert at.screen == "DrillScreen"
        assert asked in at.text


async def test_a_file_named_in_its_own_folder_is_found_from_any_other(
    desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two hymns of one name in two folders are two pieces, and neither takes the other's place."""
    for folder, tune in (("a", "C D E F|G4|"), ("b", "C E D F|E4|")):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "hymn.abc").write_text(f"X:1\nT:Hymn\nM:4/4\nL:1/4\nK:C\n{tune}\n")
        monkeypatch.chdir(tmp_path / folder)
        music = open_music("hymn.abc")
        with Log.open() as log:
            log.know(music.piece, music.phrases, music.shapes)
            log.set_state(music.passages[0].piece, "in practice")
    monkeypatch.chdir(tmp_path)
    with Log.open() as log:
        sources = [str(piece["source"]) for piece in log.pieces()]
    assert sorted(sources) == [str(tmp_path / "a" / "hymn.abc"), str(tmp_path / "b" / "hymn.abc")]
    async with desk() as at:
        assert len({row.passage.piece for row in at.app.screen.rows}) == 2


async def test_rest_is_asked_for_without_a_log_too(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling(step=TOGETHER)) as at:
        at.app.log_.close()
        at.app.log_ = None
        at.app.stint = Stint(LONG + 60, at.now)
        await at.perform()
        assert "rest your hands for five" in at.text


async def test_faster_and_slower_again_is_the_step_of_before(desk: Desk, drilling: Drilling) -> None:
    async with desk(drilling(step=STEPS_IN_TEMPO[0])) as at:
        assert at.app.screen.step == STEPS_IN_TEMPO[0]
        await at.press("plus")
        assert at.app.screen.step != STEPS_IN_TEMPO[0]
        await at.press("minus")
        assert at.app.screen.step == STEPS_IN_TEMPO[0]


async def test_a_log_made_anew_from_its_takes_asks_for_what_was_never_played_too(
    desk: Desk, drilling: Drilling, home: Path
) -> None:
    async with desk(drilling(step=TOGETHER)) as at:
        await at.perform()
    for path in home.glob("practice.sqlite*"):
        path.unlink()
    async with desk(minutes=60) as at:
        assert any("put back into the practice log" in note for note in at.notes)
        new = [row.passage.first for row in at.app.screen.rows if row.kind == "new"]
        assert new == [2, 3, 4]


async def test_what_another_coach_has_set_meanwhile_is_kept(desk: Desk) -> None:
    async with desk() as at:
        kept.changed(kept.load(), right_span_mm=170.0, left_span_mm=168.0)
        at.app.change_settings(clicks=False)
        assert (kept.load().right_span_mm, kept.load().clicks) == (170.0, False)
        assert at.app.settings == kept.load()


@pytest.mark.parametrize("key", ["p", "enter"])
async def test_a_piece_that_was_taken_off_the_shelf_meanwhile_is_said_to_be_gone(
    desk: Desk, tmp_path: Path, key: str
) -> None:
    """In another terminal, with Today on the screen."""
    tune = tmp_path / "tune.abc"
    tune.write_text("X:1\nT:Borrowed Tune\nM:4/4\nL:1/4\nK:C\nC D E F|!fermata!G4|\n")
    list(take_in([str(tune)], None))
    music = open_music("Borrowed Tune")
    with Log.open() as log:
        log.know(music.piece, music.phrases, music.shapes)
        log.set_state(music.passages[0].piece, "in practice")
    async with desk() as at:
        assert "Borrowed Tune" in at.text
        assert cli.main(["pieces", "remove", "Borrowed Tune"]) == 0
        await at.press(key)
        assert '"Borrowed Tune" is no longer on your shelf.' in at.notes
        assert at.screen == "TodayScreen"


async def test_a_take_that_ends_as_its_drill_is_left_is_seen_where_one_is_then(
    desk: Desk, drilling: Drilling, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Today comes up at once, and the disk takes its time."""
    go = when_the_disk_is_free(monkeypatch, Log.keep)
    async with desk(drilling(step=TOGETHER)) as at:
        await play_on(at)
        await at.pilot.press("escape")
        await at.pilot.pause()
        assert at.screen == "TodayScreen"
        assert "Nothing is in practice yet" in at.text
        go.set()
        await at.settle()
        assert "Wide Water" in at.text
        assert "of 25 minutes played" in at.text


async def test_a_take_that_cannot_be_kept_is_told_of_when_its_drill_was_left(
    desk: Desk, drilling: Drilling, monkeypatch: pytest.MonkeyPatch
) -> None:
    go = when_the_disk_is_free(monkeypatch, no_room)
    async with desk(drilling(step=TOGETHER)) as at:
        await play_on(at)
        await at.pilot.press("escape")
        await at.pilot.pause()
        assert at.screen == "TodayScreen"
        go.set()
        await at.settle()
        assert "The practice log cannot be written: No space left on device." in at.notes


async def test_a_take_that_cannot_be_kept_is_told_of_when_the_app_was_left(
    desk: Desk, drilling: Drilling, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Log, "keep", no_room)
    async with desk(drilling(step=TOGETHER)) as at:
        await play_on(at)
        await at.pilot.press("ctrl+q")
    said = [*at.app.unsaid, *at.notes]
    assert [sentence for sentence in said if "No space left on device" in sentence]


def no_room(log: Log, take: Any, entry: Any) -> Any:
    raise CoachError("the practice log cannot be written: No space left on device")


def when_the_disk_is_free(monkeypatch: pytest.MonkeyPatch, keep: Callable[..., Any]) -> threading.Event:
    """Let takes be kept, in the way given, only once the event is set."""
    go = threading.Event()

    def slow(log: Log, take: Any, entry: Any) -> Any:
        go.wait(10)
        return keep(log, take, entry)

    monkeypatch.setattr(Log, "keep", slow)
    return go


async def play_on(at: Any) -> None:
    """Play two thirds of what is on the stand."""
    events = perform(at.drill.task.expected, start=at.now + 0.1).events
    await at.hear(*events[: len(events) * 2 // 3])
