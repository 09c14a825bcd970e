"""The drill: one passage's chord table, large and calm, driven from the piano."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from concurrent.futures import Future
from dataclasses import replace
from datetime import timedelta
from typing import ClassVar

from textual import work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from coach.errors import CoachError
from coach.fingering.hand import CAUTION
from coach.listening.events import Event
from coach.listening.expected import Hand
from coach.listening.ports import Link
from coach.listening.take import Take
from coach.paper.cells import first_stanza
from coach.paper.sound import clicks, sounding
from coach.practice import days
from coach.practice.attempt import Done
from coach.practice.drill import Drill, State
from coach.practice.entry import Entry, rested
from coach.practice.following import Following, after_take
from coach.practice.heard import entry_for
from coach.practice.ladder import Fingers, Step, next_step
from coach.practice.log import Log
from coach.practice.music import Music, planned_anew
from coach.practice.own_way import custom_step, with_hand, with_other_clock, with_other_fingers, with_tempo
from coach.practice.passage import Passage
from coach.practice.schedule import Row
from coach.screens.base import CoachScreen, Head, Prose
from coach.screens.beat_line import BeatLine
from coach.screens.chord_table import ChordTableView
from coach.screens.heard import Heard
from coach.screens.hints import Hints
from coach.screens.stand import Stand, asked_for
from coach.screens.words import pretty
from coach.screens.work import Item, next_open

PEEK = 2.0
"""Seconds that a peek at hidden fingers lasts; a key held down repeats and keeps them in sight."""

TICK = 1 / 30
"""Seconds between two ticks of the drill's clock."""

TEMPO_STEP = 4
"""Quarter notes a minute by which a key changes the tempo."""


class DrillScreen(CoachScreen[None]):
    """Practises passages, one after the other."""

    DEFAULT_CSS = """
    DrillScreen #asked { padding: 0 2; height: auto; min-height: 1; color: $secondary; }
    DrillScreen #page { height: 1fr; padding: 1 1 0 1; scrollbar-size-vertical: 1; }
    DrillScreen #said { padding: 0 2; height: auto; min-height: 1; }
    DrillScreen #rest { padding: 0 2; height: auto; color: $warning; display: none; }
    DrillScreen #rest.-on { display: block; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "start", "Start", key_display="Space"),
        Binding("n", "move(1)", "Next"),
        Binding("v", "move(-1)", "Before"),
        Binding("r", "hand('right')", "Right"),
        Binding("l", "hand('left')", "Left"),
        Binding("b", "hand('both')", "Both"),
        Binding("t", "clock", "Tempo"),
        Binding("plus,equals_sign", f"tempo({TEMPO_STEP})", "Faster, slower", key_display="+ -"),
        Binding("minus", f"tempo(-{TEMPO_STEP})", "Slower", show=False),
        Binding("f", "fingers", "Fingers"),
        Binding("p", "peek", "Peek"),
        Binding("s", "steps", "Step"),
        Binding("h", "hear_it", "Hear it"),
        Binding("c", "clicks", "Clicks"),
        Binding("right", "look(1)", "Look through", key_display="← →"),
        Binding("left", "look(-1)", "Look back", show=False),
        Binding("up", "show_fingers(True)", "Show, hide fingers", key_display="↑ ↓"),
        Binding("down", "show_fingers(False)", "Hide fingers", show=False),
        Binding("escape", "leave", "End", key_display="Esc"),
    ]

    def __init__(self, items: Sequence[Item], place: int = 0) -> None:
        """Practise.

        Args:
            items: What to go through.
            place: Where to begin.
        """
        super().__init__()
        self._items = list(items)
        self._place = self._on_stand = place
        self._stand: Stand | None = None
        self._shift = 0
        self._fingers: Fingers = "all"
        self._peek_until = 0.0
        self._looking: int | None = None
        self._last = State()
        self._clicking_for: float | None = None
        self._spent, self._until = 0.0, 0.0
        self._shown_text = ""

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
    def step(self) -> Step | None:
        """What is asked for."""
        return self._stand.step if self._stand else None

    @property
    def passage(self) -> Passage | None:
        """What is practised."""
        return self._stand.passage if self._stand else None

    @property
    def heard(self) -> Heard:
        """What was heard last."""
        return self.query_one(Heard)

    @property
    def log_(self) -> Log | None:
        """Where takes are kept."""
        return self.coach.log_

    # Setting up

    def compose(self) -> ComposeResult:
        yield Head("Drill")
        yield Prose(id="asked")
        yield BeatLine()
        with VerticalScroll(id="page", can_focus=False):
            yield ChordTableView(live=True, id="table")
        yield Prose(id="said")
        yield Heard()
        yield Prose(id="rest")
        yield Hints()

    async def on_mount(self) -> None:
        self.set_interval(TICK, self._tick)
        self._show_rest()
        await self.prepare()

    async def prepare(self) -> None:
        """Put the first passage on the stand."""
        self._take_up(self._place)

    @work(exclusive=True, group="take up")
    async def _take_up(self, place: int) -> None:
        """Put the passage of one item on the stand, or of the next whose piece can be opened."""
        music: Music | None = None
        missing: set[str] = set()
        while music is None:
            item = self._items[place]
            try:
                music = None if item.name in missing else await self.coach.music(item.name, item.letters)
            except CoachError as error:
                missing.add(item.name)
                self.coach.say(str(error), problem=True)
            if music is None:
                other = self._next_open(place)
                if other is None:
                    self.dismiss()
                    return
                place = other
        if item.passage.kind != "change" and item.passage not in music.passages:
            self.coach.say(f"{music.piece.title} has changed since it was listed: choose again.")
            self.dismiss()
            return
        opened, log = music, self.log_
        passage, step = self.asked(lambda: asked_for(log, opened, item), asked_for(None, music, item))
        if self._set(music, item.passage, passage, item.step or step, chosen=item.chosen):
            self._on_stand, self._spent, self._until = place, 0.0, self.coach.clock()
        elif self._stand is None:
            self.dismiss()
        self._place = self._on_stand

    def _next_open(self, after: int) -> int | None:
        """The place of the next item that is not done."""
        return self.asked(lambda: next_open(self._items, after, self.log_), next_open(self._items, after, None))

    def _set(
        self, music: Music, home: Passage, passage: Passage, step: Step, *, chosen: bool, bpm: float | None = None
    ) -> bool:
        """Drill this passage in this way from now on; False, with the reason said, where that cannot be."""
        keys = self.coach.settings.compass
        try:
            stand = Stand.of(music, home, passage, step, keys, chosen=chosen, bpm=bpm, shift=self._shift)
        except CoachError as error:
            self.coach.say(str(error), problem=True)
            return False
        self._silence()
        self._stand = stand
        self._fingers, self._peek_until = stand.step.fingers, 0.0
        self._looking = None
        task = stand.drill.task
        side = None if stand.step.hand == "both" else stand.step.hand
        self.query_one(ChordTableView).show(task.playable, side, first_stanza(music.piece, task.plan))
        self._show_fingers()
        line = self.query_one(BeatLine)
        line.set_class(stand.step.clock == "tempo", "-on")
        line.quarter_bpm = task.quarter_bpm
        line.beats = task.beats[0].of if task.beats else 4
        self._head()
        self._show(stand.drill.state)
        self.query_one("#page").scroll_home(animate=False)
        return True

    def _head(self) -> None:
        stand, log = self._stand, self.log_
        if stand is None:
            return
        self.query_one(Head).title = stand.where
        kept_from = self.asked(lambda: log.kept_from(stand.home), "") if log is not None else ""
        self.query_one("#asked", Static).update(" · ".join(part for part in (stand.asked, kept_from) if part))

    # Hearing

    def hear(self, events: Sequence[Event]) -> None:
        for event in events:
            if self.drill is None:
                return
            if event.kind == "press":
                self._looking = None
            self._show(self.drill.hear(event))

    def unplugged(self, releases: Sequence[Event]) -> None:
        if self.drill is not None:
            self._show(self.drill.unplugged(releases))

    def on_screen_resume(self) -> None:
        super().on_screen_resume()
        if self._stand is None:
            return
        self._listen_again(self._stand)
        settings = self.coach.settings
        same_hands = self._stand.music.planned_for(settings.hands, settings.options)
        if not same_hands or self._stand.drill.task.keys != settings.compass:
            self._plan_anew(self._stand)

    def _listen_again(self, stand: Stand) -> None:
        """The screen is up again: what came up meanwhile is up."""
        self._show(stand.drill.listen_again(self.coach.keys_down, self.coach.clock()))

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
        self._clear()
        self._set(music, stand.home, stand.passage, stand.step, chosen=stand.chosen, bpm=stand.bpm)

    def linked(self, link: Link) -> None:
        super().linked(link)
        if link.state in ("unplugged", "taken") or (link.state == "listening" and link.sentence.endswith("back.")):
            self.coach.say(link.sentence)

    def _tick(self) -> None:
        if self.drill is None or not self.is_current:
            return
        # A timer may run before the message that tells of new notes, by seconds where the machine had stalled.
        self.coach.hear_waiting()
        now = self.coach.clock()
        self._show(self.drill.tick(now))
        if self.query_one("#rest").has_class("-on") and self.coach.stint.rested(now):
            self._show_rest()
        if self._peek_until and now >= self._peek_until:
            self._peek_until = 0.0
            self._show_fingers()

    def _show(self, state: State) -> None:
        """Draw a state, and do what it asks for."""
        before, self._last = self._last, state
        self._shift = state.shift
        table = self.query_one(ChordTableView)
        here = state.here if self._looking is None else self._looking
        moved = table.here != here
        table.mark(state.marks, here)
        if moved and here is not None:
            self.query_one("#page", VerticalScroll).scroll_to_region(table.system_of(here), animate=False)
        self.query_one(BeatLine).beat = state.beat
        if state.first_chord != before.first_chord:
            self._click(state)
        if state.phase != before.phase and state.going_on:
            self.heard.clear()
        if state.going_on and (not before.going_on or state.done is not None):
            self._ask_as_before()
        self._say(state)
        if state.done is not None:
            self._finish(state.done)
        if state.wish:
            self.action_move(1 if state.wish == "next" else -1)

    def _say(self, state: State) -> None:
        text = pretty(state.said)
        if self._looking is not None and self._stand is not None:
            text = self._stand.about(self._looking)
        elif not text and state.waiting:
            text = pretty(f"Still to come: {' '.join(state.waiting)}")
        elif not text and state.phase == "ready" and self.heard.done is None:
            start = "to be counted in" if self.step and self.step.clock == "tempo" else "to begin"
            text = f"Play the first chord {start}."
        if text != self._shown_text:
            line = self.query_one("#said", Static)
            width = max(line.content_size.width, 1)
            # Laying the screen out again takes longer than drawing it; one line in place of another needs none.
            line.update(Content(text), layout=max(len(text), len(self._shown_text)) > width)
            self._shown_text = text

    def _click(self, state: State) -> None:
        """Click the count-in and the beats while a take in tempo goes on."""
        if state.first_chord is None or not self.coach.settings.clicks or self.drill is None:
            if self._clicking_for is not None:
                self._silence()
        elif state.first_chord != self._clicking_for:
            self._clicking_for = state.first_chord
            self.coach.sound.play(clicks(self.drill.task.clicks()), state.first_chord)

    def _silence(self) -> None:
        self._clicking_for = None
        self.coach.sound.stop()

    # After a take

    def _finish(self, done: Done) -> None:
        """A take has ended: show what was heard, keep it, and go on."""
        self.heard.after = ""
        self.heard.done = done
        # Hands need their rest whatever becomes of the log.
        if self.coach.stint.long:
            self.coach.stint = self.coach.stint.ask()
        self._show_rest()
        stand, log = self._stand, self.log_
        if stand is None or log is None:
            return
        now = self.coach.clock()
        began = done.events[0].seconds if done.events else now
        at = days.now() - timedelta(seconds=now - began)
        entry = entry_for(done, stand.music, stand.passage, at, chosen=stand.chosen)
        self._spent += rested(began - self._until) + done.seconds
        self._until = now
        row, minutes = self._items[self._place].row, self._spent / 60
        # Handed over at once: whatever becomes of this screen, the take is kept.
        self._keep(done, self.coach.keeper.submit(kept, log, done, entry, stand.music, stand.home, row, minutes))

    @work(group="keep")
    async def _keep(self, done: Done, keeping: Future[Following]) -> None:
        """Wait until a take is kept, and take up what follows."""
        try:
            following = await asyncio.shield(asyncio.wrap_future(keeping))
        except CoachError as error:
            self.coach.say(str(error), problem=True)
            return
        self.coach.tell_notices()
        self._go_on(following, done)

    def _go_on(self, following: Following, done: Done) -> None:
        """Take up what follows a take, unless the player has gone on alone."""
        stand = self._stand
        if stand is None or done.task is not stand.drill.task or not self.query(Heard) or self._place != self._on_stand:
            # The player has gone on, or is about to, or the screen is being taken down.
            return
        self.heard.after = following.said
        self._head()
        if stand.drill.state.phase not in ("ready", "heard"):
            # The same again has begun already: what follows is decided after it.
            return
        if following.finished and not stand.chosen:
            place = self._next_open(self._place)
            if place is not None:
                self.heard.after = f"{following.said} Next: {self._items[place].called(stand.home)}."
                self._take_up(place)
                return
            if self._items[self._place].row is not None:
                self.heard.after = f"{following.said} That was the last one; the pedal twice goes back."
        if following.moved:
            self._set(stand.music, stand.home, following.passage, following.step, chosen=False)

    def _show_rest(self) -> None:
        """Ask the player to rest, with how long it has been by now, or no longer once the hands have rested."""
        stint = self.coach.stint
        asking = stint.asking and not stint.rested(self.coach.clock())
        line = self.query_one("#rest", Static)
        if asking:
            line.update(f"{stint.sentence} {CAUTION}")
        line.set_class(asking, "-on")

    # Keys

    def action_start(self) -> None:
        """Begin, begin again, or end a take."""
        self.coach.stint = self.coach.stint.put_away()
        self._show_rest()
        if self.drill is None:
            return
        now = self.coach.clock()
        self._looking = None
        self._show(self.drill.stop(now) if self._last.going_on else self.drill.start(now))

    def action_move(self, by: int) -> None:
        """Go to the next passage, or to the one before."""
        place = self._place + by
        if not 0 <= place < len(self._items):
            self.heard.after = "That was the last one." if by > 0 else "This is the first one."
            if by > 0:
                self.action_leave()
            return
        self._clear()
        # At once, for who goes on and back again before the next one is up.
        self._place = place
        self._take_up(place)

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
        steps = self.asked(lambda: log.steps(stand.home), ()) if log is not None else ()
        self._clear()
        keep = bpm or (stand.bpm if step.clock == "tempo" else None)
        self._set(stand.music, stand.home, stand.passage, custom_step(step, steps), chosen=True, bpm=keep)

    def action_peek(self) -> None:
        """Show hidden fingers while the key is held, two seconds at least."""
        if self.drill is None or self._fingers == "all":
            return
        self.drill.peek()
        self._peek_until = self.coach.clock() + PEEK
        self._show_fingers()

    def action_look(self, by: int) -> None:
        """Step through the plan, away from the piano."""
        if self._stand is None or self._last.going_on:
            return
        self._looking = self._stand.beside(self._looking, by)
        # Nothing new was played: what a take asked for is not asked again.
        self._show(replace(self._stand.drill.state, done=None))

    def action_show_fingers(self, show: bool) -> None:
        """Show or hide the fingers for reading; the take that follows is asked for as before."""
        self._fingers = "all" if show else "none"
        if self.drill is not None and self._fingers == "all":
            self.drill.peek()
        self._show_fingers()

    def action_hear_it(self) -> None:
        """Hear the passage as planned, or stop hearing it."""
        if self.drill is None:
            return
        sound = self.coach.sound
        if sound.playing:
            self._silence()
            return
        if not sound.ready:
            self.coach.say("There is no MIDI output to hear it on.")
            return
        task = self.drill.task
        sound.play(sounding(task.plan.chords, task.quarter_bpm, task.expected.hands))

    def action_clicks(self) -> None:
        """Clicks on the MIDI output, or none."""
        self.coach.change_settings(clicks=not self.coach.settings.clicks)
        self.coach.say("The beat clicks." if self.coach.settings.clicks else "The beat is silent.")
        self._click(self._last)

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
        found = self.asked(lambda: (log.steps(home), log.progress(home).place), None)
        if found is None:
            return
        steps, place = found

        def chosen(step: Step | None) -> None:
            if step is not None:
                self._clear()
                now = self.asked(lambda: log.progress(home).place, place)
                self._set(music, home, home, step, chosen=step != next_step(steps, now))

        self.coach.push_screen(StepsScreen(steps, place.index), chosen)

    def closing(self) -> None:
        self._stop()

    def action_leave(self) -> None:
        """Leave the drill; a take that is going on is kept."""
        self._stop()
        self._silence()
        self.dismiss()

    def _stop(self) -> None:
        """End the take that is going on."""
        if self.drill is not None and self._last.going_on:
            self._show(self.drill.stop(self.coach.clock()))

    def _clear(self) -> None:
        """End the take that is going on, and take what was heard off the screen: something else is played next."""
        self._stop()
        self.heard.clear()

    def _ask_as_before(self) -> None:
        """A take begins: fingers that were shown to be read are hidden again."""
        if self._stand is not None and (self._fingers == "all" or self._peek_until):
            self._fingers, self._peek_until = self._stand.step.fingers, 0.0
            self._show_fingers()

    def _show_fingers(self) -> None:
        table = self.query_one(ChordTableView)
        table.fingers = "all" if self._peek_until else self._fingers


def kept(log: Log, done: Done, entry: Entry, music: Music, home: Passage, row: Row | None, spent: float) -> Following:
    """Keep a take and find out what follows; the disk takes its time, so a thread does this."""
    log.keep(Take(done.events, done.metronome), entry)
    return after_take(music, entry, home, log, row, spent)
