"""A coach in a window of the test's own: a clock that the test turns, a data folder, and hands that play."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot

from coach import settings as kept
from coach.listening.events import Event
from coach.listening.player import Manner, Mistakes, perform
from coach.practice import days
from coach.practice.drill import Drill
from coach.screens.app import CoachApp, Opening
from coach.screens.drill import DrillScreen
from coach.settings import Settings

TICK = 0.05

START = 1000.0
"""What the test's clock shows when the app begins."""

EXACT = Manner(rubato=0.0, unsteady=0.0, apart=0.0, lead=0.0)
"""A pianist like clockwork."""


@pytest.fixture(scope="session")
def read_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder in which the shipped pieces have been read, once for all tests."""
    home = tmp_path_factory.mktemp("read-once")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COACH_HOME", str(home))
        from coach.score.cards import cards

        cards()
    return home


@pytest.fixture(autouse=True)
def home(tmp_path: Path, read_once: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder of the test's own, in which the set-up is done."""
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    monkeypatch.delenv("NO_COLOR", raising=False)
    shutil.copytree(read_once, tmp_path, dirs_exist_ok=True)
    kept.save(replace(Settings(), set_up=True))
    return tmp_path


@pytest.fixture
def evening(monkeypatch: pytest.MonkeyPatch) -> datetime:
    """It is six in the evening of the present day, so that the hours before belong to the same day of practice."""
    instant = datetime.now().astimezone().replace(hour=18, minute=0)
    monkeypatch.setattr(days, "now", lambda: instant.astimezone(UTC))
    return instant


class ToldCoach(CoachApp):
    """A coach whose every word is remembered.

    Attributes:
        told: What it said in passing, as it was to be read.
    """

    def __init__(self, opening: Opening | None = None) -> None:
        super().__init__(opening, midi=False)
        self.told: list[str] = []

    def say(self, sentence: str, *, problem: bool = False, about: str = "") -> None:
        super().say(sentence, problem=problem, about=about)
        assert self.notices.shown is not None
        self.told.append(self.notices.shown.sentence)


class Desk:
    """The running app, with everything that a test does to it."""

    def __init__(self, app: ToldCoach, pilot: Pilot[None]) -> None:
        self.app = app
        self.pilot = pilot
        self.now = START
        app.clock = lambda: self.now

    @property
    def text(self) -> str:
        """What is to be read in the window."""
        strips = self.app.screen._compositor.render_strips()
        return "\n".join("".join(segment.text for segment in strip) for strip in strips)

    @property
    def screen(self) -> str:
        """Name of the screen that is up."""
        return type(self.app.screen).__name__

    @property
    def notes(self) -> list[str]:
        """What was said in passing."""
        return self.app.told

    async def press(self, *keys: str) -> None:
        await self.pilot.press(*keys)
        await self.settle()

    async def settle(self) -> None:
        """Wait until all that was begun is done."""
        await self.pilot.pause()
        # A screen that shows nothing yet is still being put up, and has begun nothing that could be waited for.
        while any(worker.is_running for worker in self.app.workers) or not self.text:
            await self.app.workers.wait_for_complete()
            await self.pilot.pause()

    # At the piano

    @property
    def drill(self) -> Drill:
        screen = self.app.screen
        assert isinstance(screen, DrillScreen)
        assert screen.drill is not None
        return screen.drill

    async def hear(self, *events: Event) -> None:
        """Let events arrive at their time, the clock ticking between them."""
        for event in sorted(events, key=lambda event: event.seconds):
            await self.wait_until(event.seconds)
            self.app._heard([event])
        await self.pilot.pause()

    async def wait_until(self, moment: float) -> None:
        while self.now + TICK < moment:
            self.now += TICK
            self._tick()
        self.now = max(self.now, moment)

    async def wait(self, seconds: float) -> None:
        await self.wait_until(self.now + seconds)
        self._tick()
        await self.settle()

    def _tick(self) -> None:
        # Time passes under a page as well.
        for screen in self.app.screen_stack:
            tick = getattr(screen, "_tick", None)
            if tick is not None:
                tick()

    def at(self, kind: str, key: int, after: float = 0.0, value: int = 64) -> Event:
        return Event(self.now + after, kind, key, value)  # type: ignore[arg-type]

    async def first_keys(self) -> list[int]:
        """The keys that begin the day, once its first piece is on Today's stand."""
        for _ in range(100):
            if self.app.screen._first_keys:  # type: ignore[attr-defined]
                break
            await self.pilot.pause(0.1)
        return sorted(self.app.screen._first_keys)  # type: ignore[attr-defined]

    async def strike(self, *keys: int) -> None:
        await self.hear(*(self.at("press", key, 0.004 * place) for place, key in enumerate(keys)))

    async def let_go(self, *keys: int) -> None:
        await self.hear(*(self.at("release", key, 0.002 * place) for place, key in enumerate(keys)))

    async def pedal(self, times: int) -> None:
        """Press the sustain pedal quickly, so many times."""
        presses = [self.at("pedal", 64, 0.25 * i + 0.1 * up, 0 if up else 127) for i in range(times) for up in (0, 1)]
        await self.hear(*presses)
        await self.wait(0.8)

    async def perform(self, mistakes: Mistakes | None = None, seed: int = 1, manner: Manner = EXACT) -> None:
        """Play the phrase once, as the drill asks for it."""
        drill = self.drill
        task = drill.task
        bpm = task.quarter_bpm if task.step.clock == "tempo" else 60.0
        start = self.now + 0.1
        if task.step.clock == "tempo":
            await self.strike(*sorted(task.first_keys))
            await self.let_go(*sorted(task.first_keys))
            assert drill.state.first_chord is not None
            start = drill.state.first_chord
        played = perform(task.expected, replace(manner, quarter_bpm=bpm), mistakes or Mistakes(), seed, start)
        await self.hear(*played.events)
        await self.wait(4.0)


@pytest.fixture
def desk() -> Callable[..., Any]:
    """Opens the app: `async with desk(opening, size=(80, 24)) as at:`."""
    from contextlib import asynccontextmanager

    @asynccontextmanager
    async def opened(opening: Opening | None = None, size: tuple[int, int] = (80, 24), **settings: object):  # type: ignore[no-untyped-def]
        if settings:
            kept.save(replace(kept.load(), **settings))  # type: ignore[arg-type]
        app = ToldCoach(opening)
        app.clock = lambda: START
        async with app.run_test(size=size) as pilot:
            at = Desk(app, pilot)
            await at.settle()
            yield at

    return opened


@pytest.fixture
def drilling() -> Callable[..., Opening]:
    """Opens the drill of a shipped piece."""
    from coach.practice.ladder import Step
    from coach.practice.music import open_music
    from coach.practice.work import phrases_from

    def opening(name: str = "wide-water", phrase: int = 1, step: Step | None = None) -> Opening:
        def make(app: CoachApp) -> DrillScreen:
            music = open_music(name, app.settings.hands)
            app.keep_music(music)
            items, place = phrases_from(music, phrase, step)
            return DrillScreen(items, place)

        return make

    return opening
