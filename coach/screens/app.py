"""The app: what all screens share, and which of them is up."""

from __future__ import annotations

import asyncio
import sys
import time
from collections import deque
from collections.abc import Callable, Iterable
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING, Any, ClassVar, TypeVar

from textual import events, work
from textual.app import App, SystemCommand
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.message import Message
from textual.notifications import SeverityLevel
from textual.screen import Screen
from textual.timer import Timer

from coach import settings as kept
from coach.errors import CoachError
from coach.listening.events import Event
from coach.listening.ports import CATCH_UP, Keyboard, Link
from coach.listening.wire import ONLY_PERCUSSION, Decoder
from coach.paper.sound import Output
from coach.practice import days
from coach.practice.log import Log
from coach.practice.rest import LOOK_BACK, Stint, stint_of
from coach.screens.base import CoachScreen
from coach.screens.notice import READ_IN, Notice, Notices, Saying
from coach.screens.themes import DARK, LIGHT, START
from coach.screens.words import as_sentence
from coach.settings import Settings

if TYPE_CHECKING:
    from coach.fingering.hand import Hands
    from coach.practice.music import Music
    from coach.practice.passage import Passage

Kept = TypeVar("Kept")

Opening = Callable[["CoachApp"], Screen[None]]
"""Makes the screen that opens above Today."""


class CoachApp(App[None]):
    """The practice coach.

    Attributes:
        settings: The player's.
        log: The practice log; None where it cannot be used, which was said.
        sound: The MIDI output.
        link: How things stand with the keyboard.
        stint: How long the hands have played.
        clock: Seconds; the keyboard's messages are stamped by the same clock.
        notices: What is said in passing.
        keeper: Writes takes to the disk, one after the other, to the last one even when the app is left.
        unsaid: What became of takes that were written when the app had been left, where that is to be told.
    """

    TITLE = "Chorale coach"
    ENABLE_COMMAND_PALETTE = True
    CSS = """
    Screen { background: $background; }
    OptionList { background: $background; border: none; padding: 0 1; }
    OptionList:focus { border: none; background-tint: $foreground 0%; }
    Input, Input:focus { border: none; height: 1; padding: 0 1; background: $surface; }
    Input:focus { background: $panel; }
    VerticalScroll, OptionList { scrollbar-size-vertical: 1; scrollbar-background: $background; }
    .note { padding: 0 2; color: $foreground; }
    .quiet { padding: 0 2; color: $secondary; }
    .caution { padding: 0 2; color: $warning; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("question_mark", "help", "Help", key_display="?"),
        # Where text is typed a question mark is one: this is what is left, and what the foot then shows.
        Binding("f1", "help", "Help", key_display="F1"),
        Binding("ctrl+p", "command_palette", "Commands", key_display="^p", show=False),
        Binding("ctrl+q", "quit", "Quit", show=False),
    ]

    class Arrived(Message):
        """MIDI messages are waiting."""

        bubble = False

    class Linked(Message):
        """The link to the keyboard changed.

        Attributes:
            link: What it is.
        """

        bubble = False

        def __init__(self, link: Link) -> None:
            super().__init__()
            self.link = link

    def __init__(self, opening: Opening | None = None, *, midi: bool = True) -> None:
        """Set up the app; nothing is opened before it runs.

        Args:
            opening: Makes the screen to open above Today, if any.
            midi: Whether to look for a keyboard.
        """
        super().__init__()
        self.settings: Settings = kept.load()
        self.log_: Log | None = None
        self.link: Link | None = None
        self.stint = Stint()
        self.notices = Notices()
        self._reading: Timer | None = None
        self.clock: Callable[[], float] = time.perf_counter
        self.sound = Output(self.settings.midi_output)
        self.keeper = ThreadPoolExecutor(1, "keeper")
        self.unsaid: list[str] = []
        self._keeping: set[Future[Any]] = set()
        self._opening = opening
        self._waiting: deque[tuple[float, bytes]] = deque()
        self._decoder = Decoder()
        self._percussion_told = False
        self._open: dict[tuple[object, ...], Music] = {}
        self._plans_before: dict[Passage, str] | None = None
        self.keyboard: Keyboard | None = None
        if midi:
            self.keyboard = Keyboard(self._message, self._link_changed, self.settings.midi_input, self._take_goes_on)
        self.register_theme(LIGHT)
        self.register_theme(DARK)
        self.theme = self.settings.theme if self.settings.theme in self.available_themes else START

    def on_mount(self) -> None:
        from coach.screens.today import TodayScreen

        self._open_log()
        self.push_screen(TodayScreen())
        if self._opening is not None:
            self.push_screen(self._opening(self))
        elif not self.settings.set_up:
            from coach.screens.set_up import SetUpScreen

            self.push_screen(SetUpScreen())
        if self.keyboard is not None:
            # Not before the first screen is drawn: looking for ports would hold it up.
            self.call_after_refresh(self.keyboard.start)

    def on_unmount(self) -> None:
        if self.keyboard is not None:
            self.keyboard.stop()
        self.sound.close()
        self.keeper.shutdown(wait=True)
        failed = (keeping.exception() for keeping in self._keeping)
        self.unsaid += [str(error) for error in failed if isinstance(error, CoachError)]
        if self.log_ is not None:
            self.unsaid += self.log_.notices
            self.log_.close()

    # Takes on their way to the disk

    def keep(self, keeps: Callable[[], Kept], then: Callable[[Kept | None], None]) -> None:
        """Hand a take to the keeper: whatever becomes of the screen, it is kept, or it is said why not.

        Args:
            keeps: Keeps the take, in the keeper's thread.
            then: Is given what came of that; None, and the reason said, where the take could not be kept.
        """
        keeping = self.keeper.submit(keeps)
        self._keeping.add(keeping)
        self._wait_for(keeping, then)

    @work(group="keep")
    async def _wait_for(self, keeping: Future[Kept], then: Callable[[Kept | None], None]) -> None:
        found: Kept | None = None
        try:
            # Shielded: who leaves the app waits no longer, and the take is written all the same.
            found = await asyncio.shield(asyncio.wrap_future(keeping))
        except CoachError as error:
            self.say(str(error), problem=True)
        self._keeping.discard(keeping)
        self.tell_notices()
        then(found)

    def _open_log(self) -> None:
        try:
            self.log_ = Log.open()
        except CoachError as error:
            self.say(f"{error}. Takes are not kept for now.", problem=True)
            return
        if self.log_.notices:
            # A log that was mended knows what was played, and not what else there is to play.
            from coach.practice.music import know_all

            know_all(self.log_)
        self.tell_notices()
        self._go_on_playing(self.log_)

    def _go_on_playing(self, log: Log) -> None:
        """Hands that have just played are not rested because the coach was left and begun again."""
        now = days.now()
        try:
            self.stint = stint_of(log.spans(now - LOOK_BACK, now), now, self.clock())
        except CoachError as error:
            self.say(str(error), problem=True)

    def kept_log(self) -> Log | None:
        """The log to keep something in; None, and said so, where it cannot be used."""
        if self.log_ is None:
            self.say("The practice log cannot be used: this is not kept.", problem=True)
        return self.log_

    def tell_notices(self) -> None:
        """Say what the log has to say: what was mended, or could not be written."""
        notices = self.log_.notices if self.log_ is not None else []
        if notices:
            said, notices[:] = " ".join(map(as_sentence, notices)), []
            self.say(said)

    def say(self, sentence: str, *, problem: bool = False, about: str = "") -> None:
        """Show a sentence for a while.

        Args:
            sentence: In words as an error has them, or as a sentence already.
            problem: Whether something went wrong.
            about: See `Saying`.
        """
        self._tell(self.notices.said(Saying(as_sentence(sentence), problem, about)))

    def unsay(self, about: str) -> None:
        """What was said of something is true no longer."""
        self._tell(self.notices.without(about))

    def notify(
        self,
        message: str,
        *,
        title: str = "",
        severity: SeverityLevel = "information",
        timeout: float | None = None,
        markup: bool = True,
    ) -> None:
        """Say what the library underneath has to say in the same place: its own notes cover keys and fields."""
        self.say(Content.from_markup(message).plain if markup else message, problem=severity == "error")

    def _tell(self, notices: Notices) -> None:
        before, self.notices = self.notices, notices
        if notices.shown is before.shown:
            return
        if self._reading is not None:
            self._reading.stop()
        self._reading = self.set_timer(READ_IN, self._read) if notices.shown is not None else None
        for screen in self.screen_stack:
            for line in screen.query(Notice):
                line.show(notices.shown)

    def _read(self) -> None:
        self._tell(self.notices.read())

    async def on_event(self, event: events.Event) -> None:
        if isinstance(event, events.Key) and not event.is_forwarded:
            # Who goes on has read it. Before the key does what it does: that may have something to say.
            self._read()
        await super().on_event(event)

    def change_settings(self, **changes: object) -> None:
        """Change settings and keep them, with what another coach has changed meanwhile."""
        self.settings = replace(self.settings, **changes)  # type: ignore[arg-type]
        try:
            self.settings = kept.changed(self.settings, **changes)
        except CoachError as error:
            self.say(str(error), problem=True)

    # Pieces

    async def music(self, name: str, letters: str = "") -> Music:
        """A piece on the stand, or some voices of it, planned for the player's hands; a thread does the work.

        Raises:
            CoachError: it cannot be opened.
        """
        from coach.practice.music import open_music

        settings = self.settings
        found = self._open.get(self._key(name, letters, settings.hands, settings.way_out))
        if found is None:
            found = await asyncio.to_thread(lambda: open_music(name, settings.hands, settings.options, letters))
            if any(shape.decorated for shape in found.shapes.values()):
                await asyncio.to_thread(lambda: found.plain)
            self._put_up(found)
        return found

    def keep_music(self, music: Music) -> None:
        """Put a piece on the stand whose cut or choices have changed. What was planned before, for other hands or by
        other habits, is planned anew when it is asked for."""
        self._open.clear()
        self._put_up(music)

    def _put_up(self, music: Music) -> None:
        """Put a piece on the stand as it is cut and planned now, and let the log know it."""
        self._open[self._key(music.name, music.letters, music.hands, music.options.way_out)] = music
        if self.log_ is not None:
            try:
                # The shapes of some voices alone are not those of the ladders.
                self.log_.know(music.piece, music.phrases, None if music.letters else music.shapes)
            except CoachError as error:
                self.say(str(error), problem=True)

    @work(exclusive=True, group="plan all")
    async def plan_all_anew(self) -> None:
        """Plan all that is in practice for hands that were changed, and say where other fingers are asked for now."""
        from coach.practice.replanning import changed, plans, told

        log = self.log_
        if log is None:
            return
        try:
            if self._plans_before is None:
                self._plans_before = plans(log)
            daily = [piece for piece in log.pieces() if piece["state"] == "in practice" and piece["source"]]
            for source in [str(piece["source"]) for piece in daily]:
                # One that cannot be opened or planned says so when it is to be played.
                with suppress(CoachError):
                    self._put_up(await self.music(source))
            found = changed(log, self._plans_before)
        except CoachError as error:
            self.say(str(error), problem=True)
            return
        self._plans_before = None
        if daily:
            self.say(told(found))
        if isinstance(self.screen, CoachScreen):
            self.screen.planned_anew()

    @staticmethod
    def _key(name: str, letters: str, hands: Hands, way_out: str) -> tuple[object, ...]:
        """What a plan depends on beside the cut, the choices and the habits; see `keep_music`."""
        return name, letters, hands, way_out

    # The keyboard

    def _message(self, seconds: float, data: bytes) -> None:
        """Hand a message over; called in the keyboard's thread."""
        self._waiting.append((seconds, data))
        if len(self._waiting) == 1:
            self.post_message(self.Arrived())

    def _take_goes_on(self) -> bool:
        """Whether a take does; called in the keyboard's thread."""
        return any(isinstance(screen, CoachScreen) and screen.take_goes_on for screen in self.screen_stack)

    def _link_changed(self, link: Link) -> None:
        self.post_message(self.Linked(link))

    def on_coach_app_arrived(self) -> None:
        self.hear_waiting()

    def hear_waiting(self) -> None:
        """Hear what has arrived; whoever lets time pass calls this first, or a screen that stalled hears silence."""
        events: list[Event] = []
        while self._waiting:
            seconds, data = self._waiting.popleft()
            events.extend(self._decoder.read(seconds, data))
        events.extend(self._decoder.settle(self.clock() - CATCH_UP))
        self._heard(events)
        if self._decoder.only_percussion and not self._percussion_told:
            self._percussion_told = True
            self.say(ONLY_PERCUSSION, about="keyboard")

    @property
    def keys_down(self) -> frozenset[int]:
        """The keyboard's keys that are down."""
        return self._decoder.down

    def on_coach_app_linked(self, message: CoachApp.Linked) -> None:
        link = message.link
        before = self.link if self.link is not None and self.link.state == "listening" else None
        gone = before is not None and (link.state != "listening" or link.name != before.name)
        self.link = link
        self.unsay("keyboard")
        if gone:
            self._percussion_told = False
            releases = list(self._decoder.silence(self.clock()))
            if (ear := self._ear()) is not None:
                ear.unplugged(releases)
        if isinstance(self.screen, CoachScreen):
            self.screen.linked(link)
        if link.instead_of or (before is not None and before.instead_of):
            # Who sits at the other one would play unheard.
            self.say(link.sentence, about="keyboard")

    def _remember_instrument(self) -> None:
        """The first instrument that is played is the player's, until another is chosen; one that is merely there, or
        stands in for theirs, is not."""
        link = self.link
        if not self.settings.midi_input and link is not None and link.state == "listening":
            self.change_settings(midi_input=link.name)

    def _heard(self, events: list[Event]) -> None:
        for event in events:
            if event.kind == "press":
                self.stint = self.stint.played(event.seconds)
                self._remember_instrument()
        if events and (ear := self._ear()) is not None:
            ear.hear(events)

    def _ear(self) -> CoachScreen[Any] | None:
        """The screen that hears the keyboard: the one that is up, or one behind it whose take goes on."""
        up, *behind = reversed(self.screen_stack)
        if isinstance(up, CoachScreen) and up.hears:
            return up
        return next((one for one in behind if isinstance(one, CoachScreen) and one.hears_behind), None)

    # Everywhere

    async def action_quit(self) -> None:
        """Leave the coach; a take that is going on is kept."""
        for screen in self.screen_stack:
            if isinstance(screen, CoachScreen):
                screen.closing()
        self.exit()

    def action_help(self) -> None:
        from coach.screens.help import HelpScreen

        if not isinstance(self.screen, HelpScreen):
            self.push_screen(HelpScreen(self.screen))

    def action_change_light(self) -> None:
        """From paper to lamplight and back."""
        self.theme = DARK.name if self.theme == LIGHT.name else LIGHT.name

    def watch_theme(self, theme: str) -> None:
        if self.is_running and theme != self.settings.theme:
            self.change_settings(theme=theme)

    def get_system_commands(self, screen: Screen[Any]) -> Iterable[SystemCommand]:
        yield from super().get_system_commands(screen)
        yield SystemCommand("Paper or lamplight", "The light look and the dark one", self.action_change_light)
        yield SystemCommand("Hands", "Span of your hands and width of the keyboard", lambda: self.action_go("hands"))
        yield SystemCommand("Instrument", "MIDI input and output", lambda: self.action_go("instrument"))
        yield SystemCommand("Week", "Seven days back and ahead", lambda: self.action_go("week"))
        yield SystemCommand("Shelf", "Every piece that can be opened", lambda: self.action_go("shelf"))
        yield SystemCommand("Set-up", "Instrument, hands and a first piece", lambda: self.action_go("set-up"))

    def action_go(self, where: str) -> None:
        """Open one of the screens that need nothing else."""
        from coach.screens import doors

        self.push_screen(doors.open(where))

    def open_piece(self, name: str) -> None:
        """Open the screen of a piece, unless the player has gone elsewhere before it is read and planned."""
        self._open_from(self.screen, name)

    @work(exclusive=True, group="open piece")
    async def _open_from(self, asking: Screen[Any], name: str) -> None:
        from coach.screens.piece import PieceScreen

        try:
            music = await self.music(name)
        except CoachError as error:
            self.say(str(error), problem=True)
            return
        if asking.is_active:
            self.push_screen(PieceScreen(music))


def run_app(opening: Opening | None = None) -> int:
    """Run the app in the terminal."""
    from coach.screens.terminal import kept_clean

    with kept_clean():
        app = CoachApp(opening)
        app.run()
    for sentence in app.unsaid:
        print(f"coach: {sentence}", file=sys.stderr)
    return app.return_code or (2 if app.unsaid else 0)
