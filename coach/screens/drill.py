"""The drill: one passage's chord table, large and calm, driven from the piano.

This is the screen: its keys, what comes in from the keyboard, what is on the stand, and what goes out to the log.
`drill_page` draws it, `practice.drill` hears a take, `practice.following` and `practice.round` know what comes next.
"""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from functools import cached_property, partial
from typing import ClassVar

from textual import work
from textual.app import ComposeResult
from textual.binding import BindingType

from coach.errors import CoachError
from coach.fingering.plan import SIDES
from coach.listening.events import Event
from coach.listening.expected import Hand
from coach.listening.ports import Link
from coach.paper.sound import sounding
from coach.practice import days
from coach.practice.attempt import Done
from coach.practice.drill import Drill, State
from coach.practice.following import Following, after_keeping
from coach.practice.heard import entry_for
from coach.practice.ladder import Step, next_step
from coach.practice.log import Log
from coach.practice.music import Music, planned_anew
from coach.practice.own_way import custom_step, with_hand, with_other_clock, with_other_fingers, with_tempo
from coach.practice.passage import Passage
from coach.practice.round import Round
from coach.practice.work import Item, asked_for
from coach.screens.base import CoachScreen, Head
from coach.screens.drill_keys import ABOUT, BINDINGS, Standing, says, works
from coach.screens.drill_page import DrillPage
from coach.screens.heard import Heard
from coach.screens.hints import Hints
from coach.screens.rest_line import RestLine
from coach.screens.sounding import Sounding
from coach.screens.stand import Stand

TICK = 1 / 30
"""Seconds between two ticks of the drill's clock."""


class DrillScreen(CoachScreen[None]):
    """Practises passages, one after the other."""

    hears_behind = True
    called = "The drill"
    about = ABOUT

    BINDINGS: ClassVar[list[BindingType]] = BINDINGS

    def __init__(self, items: Sequence[Item], place: int = 0, struck: Sequence[Event] = ()) -> None:
        """Practise.

        Args:
            items: What to go through.
            place: Where to begin.
            struck: The chord that asked for this, if one did: a take that waits for no beat begins with it.
        """
        super().__init__()
        self._round = Round(tuple(items), place, place)
        self._stand: Stand | None = None
        self._early = list(struck)
        self._last = State()
        self._page = DrillPage()
        self._hinted = Standing()

    def compose(self) -> ComposeResult:
        yield Head("Drill")
        yield self._page
        yield Hints()

    # What others may ask

    @property
    def drill(self) -> Drill | None:
        """The drill that is going on."""
        return self._stand.drill if self._stand else None

    @property
    def state(self) -> State:
        """The drill's state as last shown."""
        return self._last

    @property
    def take_goes_on(self) -> bool:
        return self._last.going_on

    @property
    def step(self) -> Step | None:
        """What is asked for."""
        return self._stand.step if self._stand else None

    @property
    def heard(self) -> Heard:
        """What was heard last."""
        return self.query_one(Heard)

    @property
    def log_(self) -> Log | None:
        """Where takes are kept."""
        return self.coach.log_

    @property
    def link(self) -> Link | None:
        """How things stand with the keyboard that the drill is played on."""
        return self.coach.link

    @cached_property
    def _sounding(self) -> Sounding:
        return Sounding(self.coach.sound)

    # What comes in: the keyboard, and time

    async def on_mount(self) -> None:
        self.coach.unsay("drill")
        self.set_interval(TICK, self._tick)
        self._ask_for_rest()
        await self.prepare()

    async def prepare(self) -> None:
        """Put the first passage on the stand."""
        self._take_up(self._round.place)

    def hear(self, events: Sequence[Event]) -> None:
        if self.drill is None:
            self._early += events
            return
        for event in events:
            if event.kind == "press":
                self._page.looking = None
            self._show(self.drill.hear(event))

    def unplugged(self, releases: Sequence[Event]) -> None:
        if self.drill is not None:
            self._show(self.drill.unplugged(releases))
        else:
            self._early += releases

    def linked(self, link: Link) -> None:
        super().linked(link)
        self._page.link = self.link
        self._page.draw(self._last)
        if link.state in ("unplugged", "taken") or (link.state == "listening" and link.sentence.endswith("back.")):
            self.coach.say(link.sentence, about="keyboard")

    def on_screen_resume(self) -> None:
        super().on_screen_resume()
        if self._stand is None:
            return
        self._page.link = self.link
        self._listen_again(self._stand)
        if not self._stand.is_for(self.coach.settings):
            self._plan_anew(self._stand)

    def _listen_again(self, stand: Stand) -> None:
        """The screen is up again: what came up meanwhile is up."""
        self._show(stand.drill.listen_again(self.coach.keys_down, self.coach.clock()))

    def _tick(self) -> None:
        if self.drill is None or not self.is_active:
            return
        # A timer may run before the message that tells of new notes, by seconds where the machine had stalled.
        self.coach.hear_waiting()
        now = self.coach.clock()
        self._show(self.drill.tick(now))
        self.query_one(RestLine).tick(self.coach.stint, now)
        self._page.see(self._page.fingers.at(now))
        self._hint_anew()

    # What is on the stand

    @work(exclusive=True, group="take up")
    async def _take_up(self, place: int) -> None:
        """Put the passage of one item on the stand, or of the next whose piece can be opened."""
        found = await self._opened(place)
        if found is None:
            self.leave()
            return
        place, music = found
        item, log = self._round.items[place], self.log_
        if not item.is_in(music):
            self.coach.say(f"{music.piece.title} has changed since it was listed: choose again.")
            self.leave()
            return
        passage, step = self.asked(lambda: asked_for(log, music, item), lambda: asked_for(None, music, item))
        if self._set(music, item.passage, passage, item.step or step, chosen=item.chosen):
            self._round = self._round.put_up(place, self.coach.clock())
        elif self._stand is None:
            self.leave()
        self._round = self._round.asking(self._round.up)
        self._hear_early()

    def _hear_early(self) -> None:
        """Hear what was played before there was anything on the stand: who begins the day with its first chord plays
        on. In tempo the beat was not there to play to, and the first chord asks for it."""
        early, self._early = self._early, []
        if self.step is not None and self.step.clock == "none":
            self.hear(early)

    async def _opened(self, place: int | None) -> tuple[int, Music] | None:
        """An item and its piece, or the next one whose piece can be opened; None where there is none."""
        missing: set[str] = set()
        while place is not None:
            item = self._round.items[place]
            try:
                if item.name not in missing:
                    return place, await self.coach.music(item.opened_by, item.letters)
            except CoachError as error:
                missing.add(item.name)
                self.coach.say(str(error), problem=True)
            place = self._next_open(place)
        return None

    def _next_open(self, after: int) -> int | None:
        """The place of the next item that is not done."""
        return self.asked(lambda: self._round.next_open(after, self.log_), lambda: self._round.next_open(after, None))

    @work(exclusive=True, group="take up")
    async def _plan_anew(self, stand: Stand) -> None:
        """Practise the same, planned for hands or a keyboard that were changed meanwhile."""
        settings = self.coach.settings
        try:
            there = replace(stand.music, hands=settings.hands, options=settings.options)
            music = await asyncio.to_thread(planned_anew, there)
        except CoachError as error:
            self.coach.say(str(error), problem=True)
            return
        self.coach.keep_music(music)
        self._set(music, stand.home, stand.passage, stand.step, chosen=stand.chosen, bpm=stand.bpm, ends=True)

    def _set(
        self,
        music: Music,
        home: Passage,
        passage: Passage,
        step: Step,
        *,
        chosen: bool,
        bpm: float | None = None,
        ends: bool = False,
    ) -> bool:
        """Drill this passage in this way from now on; False, with the reason said, where that cannot be.

        Args:
            music, home, passage, step, chosen, bpm: See `Stand`.
            ends: Whether this ends the take that is going on, and takes what was heard off the screen.
        """
        keys, shift = self.coach.settings.compass, self._last.shift
        try:
            stand = Stand.of(music, home, passage, step, keys, chosen=chosen, bpm=bpm, shift=shift)
        except CoachError as error:
            self.coach.say(str(error), problem=True)
            return False
        if ends:
            self._clear()
        self._sounding.stop()
        self._stand, self._last = stand, stand.drill.state
        self._page.link = self.link
        self._page.put_up(stand)
        self._head()
        self._hint_anew()
        return True

    def _head(self) -> None:
        stand, log = self._stand, self.log_
        if stand is None:
            return
        self.query_one(Head).title = stand.where
        kept_from = self.asked(lambda: log.kept_from(stand.home), str) if log is not None else ""
        self._page.ask(" · ".join(part for part in (stand.asked, kept_from) if part))

    def _show(self, state: State) -> None:
        """Draw a state, and do what it asks for."""
        before, self._last = self._last, state
        self._page.draw(state)
        if state.first_chord != before.first_chord:
            self._click()
        if state.done is not None:
            self._finish(state.done)
        if state.wish:
            self.action_move(1 if state.wish == "next" else -1)
        self._hint_anew()

    def _click(self) -> None:
        if self.drill is not None:
            self._sounding.click(self.drill.task, self._last.first_chord, wanted=self.coach.settings.clicks)

    def _ask_for_rest(self) -> None:
        self.query_one(RestLine).show(self.coach.stint, self.coach.clock())

    # What goes out: a take to the log, and what follows it

    def _finish(self, done: Done) -> None:
        """A take has ended: show what was heard, keep it, and go on."""
        self.heard.after = ""
        self.heard.done = done
        # Hands need their rest whatever becomes of the log.
        if self.coach.stint.long:
            self.coach.stint = self.coach.stint.ask()
        self._ask_for_rest()
        stand, log = self._stand, self.log_
        if stand is None or log is None:
            return
        now = self.coach.clock()
        began = done.events[0].seconds if done.events else now
        at = days.now() - timedelta(seconds=now - began)
        entry = entry_for(done, stand.music, stand.passage, at, chosen=stand.chosen)
        self._round = self._round.played(began, done.seconds, now)
        row, minutes = self._round.item.row, self._round.minutes
        self.coach.keep(
            partial(after_keeping, log, done, stand.music, entry, stand.home, row, minutes), partial(self._kept, done)
        )

    def _kept(self, done: Done, following: Following | None) -> None:
        """A take is kept: take up what follows. Who has left the drill meanwhile sees it where they are."""
        if self not in self.coach.screen_stack:
            if isinstance(self.coach.screen, CoachScreen):
                self.coach.screen.take_kept()
        elif following is not None:
            self._go_on(following, done)

    def _go_on(self, following: Following, done: Done) -> None:
        """Take up what follows a take, unless the player has gone on alone."""
        stand = self._stand
        if stand is None or done.task is not stand.drill.task or not self.query(Heard) or self._round.moving:
            # The player has gone on, or is about to, or the screen is being taken down.
            return
        self.heard.after = following.said
        self._head()
        if stand.drill.state.phase not in ("ready", "heard"):
            # The same again has begun already: what follows is decided after it.
            return
        if following.finished and not stand.chosen:
            place = self._next_open(self._round.up)
            self.heard.after = self._round.announced(following, stand.home, place)
            if place is not None:
                self._take_up(place)
                return
        if following.moved:
            self._set(stand.music, stand.home, following.passage, following.step, chosen=False)

    def closing(self) -> None:
        self._stop()

    def _stop(self) -> None:
        """End the take that is going on."""
        if self.drill is not None and self._last.going_on:
            self._show(self.drill.stop(self.coach.clock()))

    def _clear(self) -> None:
        """End the take that is going on, and take what was heard off the screen: something else is played next."""
        self._stop()
        self.heard.clear()

    # Keys: which of them do something, and what

    @property
    def _standing(self) -> Standing:
        return Standing(
            phase=self._last.phase,
            in_tempo=self.step is not None and self.step.clock == "tempo",
            hidden=self._page.fingers.read != "all",
            first=self._round.place == 0,
            last=self._round.place + 1 >= len(self._round.items),
            clicks=self.coach.settings.clicks,
            resting=self.coach.stint.asking,
            hands=self._stand.hands if self._stand else SIDES,
        )

    def _hint_anew(self) -> None:
        """Have the keys say what they do, where that has changed."""
        if self._standing != self._hinted:
            self._hinted = self._standing
            self.refresh_bindings()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        return works(action, parameters, self._standing)

    def hint(self, action: str, words: str) -> str:
        return says(action, words, self._standing)

    # Keys: to begin and to end

    def action_start(self) -> None:
        """Begin, begin again, or end a take."""
        self.coach.stint = self.coach.stint.put_away()
        self._ask_for_rest()
        if self.drill is None:
            return
        now = self.coach.clock()
        self._page.looking = None
        self._show(self.drill.stop(now) if self._last.going_on else self.drill.start(now))

    def action_move(self, by: int) -> None:
        """Go to the next passage, or to the one before."""
        place = self._round.place + by
        if not 0 <= place < len(self._round.items):
            if by > 0:
                self.coach.say("That was the last one: the drill is over.", about="drill")
                self.action_leave()
            else:
                self.heard.after = "This is the first one."
            return
        self._clear()
        # At once, for who goes on and back again before the next one is up.
        self._round = self._round.asking(place)
        self._take_up(place)

    def action_leave(self) -> None:
        """Leave the drill; a take that is going on is kept."""
        self._stop()
        self._sounding.stop()
        self.leave()

    # Keys: another way to practise

    def action_hand(self, hand: Hand) -> None:
        """Practise one hand, or both."""
        if self.step is not None:
            self._choose(with_hand(self.step, hand))

    def action_clock(self) -> None:
        """Chord by chord, or in tempo."""
        if self.step is not None:
            self._choose(with_other_clock(self.step))

    def action_tempo(self, by: int) -> None:
        """Faster or slower by so many quarter notes a minute."""
        stand = self._stand
        if stand is not None:
            bpm = round(stand.drill.task.quarter_bpm) + by
            self._choose(*with_tempo(stand.step, bpm, stand.music.target_bpm))

    def action_fingers(self) -> None:
        """All fingers, only where the hand changes place, none."""
        if self.step is not None:
            self._choose(with_other_fingers(self.step))

    def _choose(self, step: Step, bpm: float | None = None) -> None:
        """Practise in another way than the ladder asks for."""
        stand, log = self._stand, self.log_
        if stand is None:
            return
        steps = self.asked(lambda: log.steps(stand.home), tuple) if log is not None else ()
        keep, own = bpm or (stand.bpm if step.clock == "tempo" else None), custom_step(step, steps)
        self._set(stand.music, stand.home, stand.passage, own, chosen=True, bpm=keep, ends=True)

    def action_steps(self) -> None:
        """Choose another step of the ladder."""
        from coach.screens.steps import StepsScreen

        log, stand = self.log_, self._stand
        if stand is None:
            return
        if log is None:
            self.coach.say("The practice log cannot be used: there is no ladder to choose from.", problem=True)
            return
        music, home = stand.music, stand.home
        found = self.asked(lambda: (log.steps(home), log.progress(home).place), lambda: None)
        if found is None:
            return
        steps, place = found

        def chosen(step: Step | None) -> None:
            if step is not None and self._stand is not None and self._stand.home == home:
                now = self.asked(lambda: log.progress(home).place, lambda: place)
                self._set(music, home, home, step, chosen=step != next_step(steps, now), ends=True)

        self.coach.push_screen(StepsScreen(steps, place.index), chosen)

    # Keys: to look and to listen

    def action_peek(self) -> None:
        """Show hidden fingers while the key is held, two seconds at least."""
        if self.drill is not None and self._page.fingers.read != "all":
            self.drill.peek()
            self._page.see(self._page.fingers.peeked(self.coach.clock()))

    def action_show_fingers(self, show: bool) -> None:
        """Show or hide the fingers for reading; the take that follows is asked for as before."""
        if self.drill is not None and show:
            self.drill.peek()
        self._page.see(self._page.fingers.laid_open(show))

    def action_look(self, by: int) -> None:
        """Step through the plan, away from the piano."""
        if self._stand is None or self._last.going_on:
            return
        self._page.looking = self._stand.beside(self._page.looking, by)
        # Nothing new was played: what a take asked for is not asked again.
        self._show(replace(self._stand.drill.state, done=None))

    def action_hear_it(self) -> None:
        """Hear the passage as planned, or stop hearing it."""
        if self.drill is None:
            return
        task = self.drill.task
        if said := self._sounding.hear(sounding(task.plan.chords, task.quarter_bpm, task.expected.hands)):
            self.coach.say(said)

    def action_clicks(self) -> None:
        """Clicks on the MIDI output, or none."""
        self.coach.change_settings(clicks=not self.coach.settings.clicks)
        self.coach.say(self._sounding.said_of_clicks(wanted=self.coach.settings.clicks))
        self._click()
