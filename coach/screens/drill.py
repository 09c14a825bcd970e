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
from coach.fingering.plan import SIDES
from coach.listening.events import Event
from coach.listening.expected import Hand
from coach.listening.ports import Link
from coach.paper.cells import Fingers, first_stanza
from coach.paper.reasons_text import reasons_of
from coach.paper.sound import clicks, sounding
from coach.practice import days
from coach.practice.attempt import Done
from coach.practice.drill import Drill, State
from coach.practice.entry import Entry
from coach.practice.following import Following, after_take, custom_step, entry_for, of_some_voices
from coach.practice.ladder import Step, next_step, phrase_steps
from coach.practice.log import Log
from coach.practice.music import FASTEST, SLOWEST, Music
from coach.practice.passage import Passage
from coach.practice.schedule import Row
from coach.practice.session import next_up
from coach.screens.base import CoachScreen, Head
from coach.screens.beat_line import BeatLine
from coach.screens.chord_table import ChordTableView
from coach.screens.hints import Hints
from coach.screens.words import asked, pretty
from coach.screens.work import Item

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
    DrillScreen #verdict { padding: 0 2; height: auto; }
    DrillScreen #verdict.-solid { color: $success; }
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
        self._place = place
        self._music: Music | None = None
        self._home: Passage | None = None
        self._passage: Passage | None = None
        self._step: Step | None = None
        self._chosen = False
        self._bpm: float | None = None
        self._drill: Drill | None = None
        self._shift = 0
        self._fingers: Fingers = "all"
        self._peek_until = 0.0
        self._looking: int | None = None
        self._last = State()
        self._verdict: Done | None = None
        self._after = ""
        self._clicking_for: float | None = None
        self._since = 0.0
        self._shown_text = ""

    # What others may ask

    @property
    def drill(self) -> Drill | None:
        """The drill that is going on."""
        return self._drill

    @property
    def state(self) -> State:
        """The drill's state as last shown."""
        return self._last

    @property
    def step(self) -> Step | None:
        """What is asked for."""
        return self._step

    @property
    def passage(self) -> Passage | None:
        """What is practised."""
        return self._passage

    @property
    def log_(self) -> Log | None:
        """Where takes are kept."""
        return self.coach.log_

    # Setting up

    def compose(self) -> ComposeResult:
        yield Head("Drill")
        yield Static(id="asked")
        yield BeatLine()
        with VerticalScroll(id="page", can_focus=False):
            yield ChordTableView(live=True, id="table")
        yield Static(id="said")
        yield Static(id="verdict")
        yield Static(id="rest")
        yield Hints()

    async def on_mount(self) -> None:
        self.set_interval(TICK, self._tick)
        await self.prepare()

    async def prepare(self) -> None:
        """Put the first passage on the stand."""
        self._take_up(self._place)

    @work(exclusive=True, group="take up")
    async def _take_up(self, place: int) -> None:
        """Put the passage of one item on the stand."""
        item = self._items[place]
        try:
            music = await self.coach.music(item.name)
        except CoachError as error:
            self.coach.say(str(error), problem=True)
            self.dismiss()
            return
        self._place, self._music = place, music
        self._home, self._since = item.passage, self.coach.clock()
        passage, step = self._asked_for(music, item)
        self._set(passage, item.step or step, chosen=item.step is not None)

    def _asked_for(self, music: Music, item: Item) -> tuple[Passage, Step]:
        """What the history of an item's passage asks for: a change in it by itself, or a step of its ladder."""
        log, home = self.log_, item.passage
        if log is None:
            return home, phrase_steps(music.shapes[home.first])[0]
        progress = log.progress(home)
        trouble = next((one for one in progress.troubles if one.fault == item.change), None)
        change = music.change(home, trouble, progress.troubles) if trouble else None
        if trouble and change:
            return change, next_step(trouble.steps, trouble.place)
        return home, next_step(log.steps(home), progress.place)

    def _set(self, passage: Passage, step: Step, *, chosen: bool, bpm: float | None = None) -> None:
        """Drill this passage in this way from now on."""
        assert self._music is not None
        music = self._music
        if music.letters:
            step, chosen = of_some_voices(step, music.letters), True
        try:
            task = music.task(passage, step, self.coach.settings.compass, bpm)
        except CoachError as error:
            self.coach.say(str(error), problem=True)
            return
        self._silence()
        self._passage, self._step, self._chosen, self._bpm = passage, step, chosen, bpm
        self._fingers, self._peek_until = step.fingers, 0.0
        self._looking = None
        self._drill = Drill(task, self._shift)
        side = None if step.hand == "both" else step.hand
        table = self.query_one(ChordTableView)
        table.show(task.playable, side, first_stanza(music.piece, task.plan))
        self._show_fingers()
        line = self.query_one(BeatLine)
        line.set_class(step.clock == "tempo", "-on")
        line.quarter_bpm = task.quarter_bpm
        line.beats = task.beats[0].of if task.beats else 4
        self._head()
        self._show(self._drill.state)
        self.query_one("#page").scroll_home(animate=False)

    def _head(self) -> None:
        if self._music is None or self._passage is None or self._step is None or self._drill is None:
            return
        where = f"{self._music.piece.title} · {self._passage.label}"
        if self._passage.kind == "phrase":
            where += f" of {len(self._music.phrases)}"
        self.query_one(Head).title = where
        words = asked(self._step, self._drill.task.quarter_bpm, self._music.letters)
        kept_from = self.log_.kept_from(self._home) if self.log_ is not None and self._home is not None else ""
        self.query_one("#asked", Static).update(" · ".join(part for part in (words, kept_from) if part))

    # Hearing

    def hear(self, events: Sequence[Event]) -> None:
        if self._drill is None:
            return
        for event in events:
            if event.kind == "press" and self._looking is not None:
                self._looking = None
            self._show(self._drill.hear(event))

    def unplugged(self, releases: Sequence[Event]) -> None:
        if self._drill is not None:
            self._show(self._drill.unplugged(releases))

    def linked(self, link: Link) -> None:
        super().linked(link)
        if link.state in ("unplugged", "taken") or (link.state == "listening" and link.sentence.endswith("back.")):
            self.coach.say(link.sentence)

    def _tick(self) -> None:
        if self._drill is None or not self.is_current:
            return
        now = self.coach.clock()
        self._show(self._drill.tick(now))
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
        if state.phase != before.phase and state.phase in ("playing", "counting"):
            self._verdict, self._after = None, ""
            self._show_verdict()
        self._say(state)
        if state.done is not None:
            self._finish(state.done)
        if state.wish:
            self.action_move(1 if state.wish == "next" else -1)

    def _say(self, state: State) -> None:
        text = pretty(state.said)
        if self._looking is not None:
            text = self._about(self._looking)
        elif not text and state.waiting:
            text = pretty(f"Still to come: {' '.join(state.waiting)}")
        elif not text and state.phase == "ready" and self._verdict is None:
            start = "to be counted in" if self._step and self._step.clock == "tempo" else "to begin"
            text = f"Play the first chord {start}."
        if text != self._shown_text:
            line = self.query_one("#said", Static)
            width = max(line.content_size.width, 1)
            # Laying the screen out again takes longer than drawing it; one line in place of another needs none.
            line.update(Content(text), layout=max(len(text), len(self._shown_text)) > width)
            self._shown_text = text

    def _click(self, state: State) -> None:
        """Click the count-in and the beats while a take in tempo goes on."""
        if state.first_chord is None or not self.coach.settings.clicks or self._drill is None:
            if self._clicking_for is not None:
                self._silence()
        elif state.first_chord != self._clicking_for:
            self._clicking_for = state.first_chord
            self.coach.sound.play(clicks(self._drill.task.clicks()), state.first_chord)

    def _silence(self) -> None:
        self._clicking_for = None
        self.coach.sound.stop()

    # After a take

    def _finish(self, done: Done) -> None:
        """A take has ended: show what was heard, keep it, and go on."""
        self._verdict = done
        self._after = ""
        self._show_verdict()
        music, home, passage, log = self._music, self._home, self._passage, self.log_
        if music is None or home is None or passage is None or log is None:
            return
        ago = self.coach.clock() - done.events[0].seconds if done.events else 0.0
        entry = entry_for(done, music, passage, days.now() - timedelta(seconds=ago), chosen=self._chosen)
        spent = (self.coach.clock() - self._since) / 60
        row = self._items[self._place].row
        # Handed over at once: whatever becomes of this screen, the take is kept.
        self._keep(done, self.coach.keeper.submit(kept, log, done, entry, music, home, row, spent))

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
        if self.coach.stint.long:
            self._ask_to_rest()

    def _go_on(self, following: Following, done: Done) -> None:
        """Take up what follows a take, unless the player has gone on alone."""
        if self._drill is None or done.task is not self._drill.task or not self.query("#verdict"):
            # The player has gone on, or the screen is being taken down.
            return
        self._after = following.said
        self._show_verdict()
        self._head()
        if self._drill.state.phase not in ("ready", "heard"):
            # The same again has begun already: what follows is decided after it.
            return
        if following.finished and not self._chosen:
            place = self._next_place()
            if place is not None:
                self._after = f"{following.said} Next: {self._items[place].called(self._home)}."
                self._show_verdict()
                self._take_up(place)
                return
            if self._items[self._place].row is not None:
                self._after = f"{following.said} That was the last one; the pedal twice goes back."
                self._show_verdict()
        if following.moved:
            self._set(following.passage, following.step, chosen=False)

    def _next_place(self) -> int | None:
        """Where to go on: lines of today's practice that were done along with others are passed over."""
        for place in range(self._place + 1, len(self._items)):
            if not self._done(self._items[place]):
                return place
        return None

    def _done(self, item: Item) -> bool:
        if item.row is None or self.log_ is None:
            return False
        today, progress = days.practice_day(days.now()), self.log_.progress(item.passage)
        return next_up(item.row, self.log_.steps(item.passage), progress, 0.0, today) is None

    def _show_verdict(self) -> None:
        panel = self.query_one("#verdict", Static)
        done = self._verdict
        panel.set_class(done is not None and done.verdict.word == "solid", "-solid")
        if done is None:
            panel.update(self._after)
            return
        word = done.verdict.word.capitalize()
        head = f"{word}{', broken off' if done.broken_off else ''}. {self._after}".strip()
        remarks = [pretty(_sentence(remark)) for remark in done.verdict.remarks]
        panel.update(Content("\n").join([Content.styled(head, "bold"), *map(Content, remarks)]))

    def _ask_to_rest(self) -> None:
        self.coach.stint = replace(self.coach.stint, told=True)
        line = self.query_one("#rest", Static)
        line.update(f"You have played for 25 minutes: rest your hands for five. {CAUTION}")
        line.add_class("-on")

    # Keys

    def action_start(self) -> None:
        """Begin, begin again, or end a take."""
        self.query_one("#rest").remove_class("-on")
        if self._drill is None:
            return
        now = self.coach.clock()
        self._looking = None
        if self._last.phase in ("playing", "counting"):
            self._show(self._drill.stop(now))
        else:
            self._show(self._drill.start(now))

    def action_move(self, by: int) -> None:
        """Go to the next passage, or to the one before."""
        place = self._place + by
        if not 0 <= place < len(self._items):
            self._after = "That was the last one." if by > 0 else "This is the first one."
            self._show_verdict()
            if by > 0:
                self.action_leave()
            return
        self._stop()
        self._verdict, self._after = None, ""
        self._show_verdict()
        self._take_up(place)

    def action_hand(self, hand: Hand) -> None:
        """Practise one hand, or both."""
        if self._step is not None:
            self._choose(replace(self._step, hand=hand, voices="all", seam=False))

    def action_clock(self) -> None:
        """Chord by chord, or in tempo."""
        if self._step is not None:
            self._choose(replace(self._step, clock="none" if self._step.clock == "tempo" else "tempo", seam=False))

    def action_tempo(self, by: int) -> None:
        """Faster or slower by so many quarter notes a minute."""
        if self._step is None or self._drill is None or self._music is None or self._passage is None:
            return
        bpm = min(max(round(self._drill.task.quarter_bpm) + by, SLOWEST), FASTEST)
        share = bpm / self._music.target_bpm
        self._choose(replace(self._step, clock="tempo", tempo_fraction=share), bpm)

    def action_fingers(self) -> None:
        """All fingers, only where the hand changes place, none."""
        if self._step is not None:
            order: tuple[Fingers, ...] = ("all", "changes", "none")
            following = order[(order.index(self._step.fingers) + 1) % len(order)]
            self._choose(replace(self._step, fingers=following))

    def _choose(self, step: Step, bpm: float | None = None) -> None:
        """Practise in another way than the ladder asks for."""
        if self._passage is None or self._music is None:
            return
        log, home = self.log_, self._home
        steps = log.steps(home) if log is not None and home is not None else ()
        self._stop()
        named = custom_step(step, steps)
        keep = bpm or (self._bpm if step.clock == "tempo" else None)
        self._set(self._passage, named, chosen=True, bpm=keep)

    def action_peek(self) -> None:
        """Show hidden fingers while the key is held, two seconds at least."""
        if self._drill is None or self._fingers == "all":
            return
        self._drill.peek()
        self._peek_until = self.coach.clock() + PEEK
        self._show_fingers()

    def action_look(self, by: int) -> None:
        """Step through the plan, away from the piano."""
        if self._drill is None or self._last.phase in ("playing", "counting"):
            return
        chords = self._drill.task.places.chords
        if not chords:
            return
        if self._looking is None or self._looking not in chords:
            place = 0
        else:
            place = min(max(chords.index(self._looking) + by, 0), len(chords) - 1)
        self._looking = chords[place]
        self._show(self._drill.state if self._drill.state.done is None else replace(self._drill.state, done=None))

    def action_show_fingers(self, show: bool) -> None:
        """Show or hide the fingers for reading; the take that follows is asked for as before."""
        self._fingers = "all" if show else "none"
        if self._drill is not None and self._fingers == "all":
            self._drill.peek()
        self._show_fingers()

    def action_hear_it(self) -> None:
        """Hear the passage as planned, or stop hearing it."""
        if self._drill is None:
            return
        sound = self.coach.sound
        if sound.playing:
            self._silence()
            return
        if not sound.ready:
            self.coach.say("There is no MIDI output to hear it on.")
            return
        task = self._drill.task
        sides = task.expected.hands
        sound.play(sounding(task.plan.chords, task.quarter_bpm, sides))

    def action_clicks(self) -> None:
        """Clicks on the MIDI output, or none."""
        self.coach.change_settings(clicks=not self.coach.settings.clicks)
        self.coach.say("The beat clicks." if self.coach.settings.clicks else "The beat is silent.")
        self._click(self._last)

    def action_steps(self) -> None:
        """Choose another step of the ladder."""
        from coach.screens.steps import StepsScreen

        log, home = self.log_, self._home
        if log is None or home is None:
            return
        steps, place = log.steps(home), log.progress(home).place.index

        def chosen(step: Step | None) -> None:
            if step is not None:
                self._stop()
                self._set(home, step, chosen=step != next_step(steps, log.progress(home).place))

        self.coach.push_screen(StepsScreen(steps, place), chosen)

    def closing(self) -> None:
        self._stop()

    def action_leave(self) -> None:
        """Leave the drill; a take that is going on is kept."""
        self._stop()
        self._silence()
        self.dismiss()

    def _stop(self) -> None:
        """End the take that is going on."""
        if self._drill is not None and self._last.phase in ("playing", "counting"):
            self._show(self._drill.stop(self.coach.clock()))

    def _show_fingers(self) -> None:
        table = self.query_one(ChordTableView)
        table.fingers = "all" if self._peek_until else self._fingers

    def _about(self, place: int) -> str:
        """What the plan says about a chord."""
        assert self._drill is not None
        chord = self._drill.task.plan.chords[place]
        hands = self._drill.task.expected.hands
        others = tuple(f"{side} hand:" for side in SIDES if side not in hands)
        said = "; ".join(why for why in reasons_of(chord) if not why.startswith(others))
        return pretty(f"Bar {chord.bar}, beat {chord.beat:g}: {said or chord.distribution}.")


def kept(log: Log, done: Done, entry: Entry, music: Music, home: Passage, row: Row | None, spent: float) -> Following:
    """Keep a take and find out what follows; the disk takes its time, so a thread does this."""
    from coach.listening.take import Take

    log.keep(Take(done.events, done.metronome), entry)
    return after_take(music, entry, home, log, row, spent)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")
