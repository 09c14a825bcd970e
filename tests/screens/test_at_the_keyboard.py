"""End to end over real virtual MIDI ports: a pianist on a JACK port plays, the app runs as it is, in real time."""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager
from dataclasses import replace
from datetime import timedelta
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot

from coach import settings as kept
from coach.listening.events import Event
from coach.listening.player import Manner, Mistakes, perform
from coach.practice import days
from coach.practice.ending import SILENCE
from coach.practice.entry import Fault, new_entry
from coach.practice.ladder import (
    FEWER,
    LEFT,
    MEMORY,
    NO_FINGERS,
    RIGHT,
    STEPS_IN_TEMPO,
    TOGETHER,
    Step,
)
from coach.practice.log import Log
from coach.practice.music import open_music
from coach.screens.app import CoachApp
from coach.screens.drill import DrillScreen
from coach.screens.today import TodayScreen

Drilling = Callable[..., Any]

QUICK = Manner(quarter_bpm=200.0, rubato=0.0, unsteady=0.004, apart=0.004, lead=0.01)
"""A brisk pianist, for tests that do not like to wait."""

LONG = 30.0
"""Seconds after which what is waited for will not come; a machine that stands still for a while must not decide."""

READY = 0.1
"""Seconds before the first chord is due in which a pianist is no longer ready for it."""

TRIES = 3
"""How often a pianist tries before giving up: to come in after the count-in, to play in time, to press the pedal."""

LATE = 0.03
"""Seconds by which an event may come too late before the take is no longer what was meant: a lift is 0.06 or more."""


class AtThePiano:
    """The app with a piano plugged in."""

    def __init__(self, app: CoachApp, pilot: Pilot[None], piano: Any) -> None:
        self.app, self.pilot, self.piano = app, pilot, piano

    @property
    def screen(self) -> DrillScreen:
        assert isinstance(self.app.screen, DrillScreen)
        return self.app.screen

    @property
    def text(self) -> str:
        strips = self.app.screen._compositor.render_strips()
        return "\n".join("".join(segment.text for segment in strip) for strip in strips)

    @property
    def said(self) -> list[str]:
        """What was said in passing."""
        return [saying.sentence for saying in self.app.notices.sayings]

    @property
    def missed(self) -> bool:
        """Whether the drill has given up waiting for a take that was counted in."""
        return self.screen.state.phase == "ready" and self.screen.state.said == "Nothing was heard."

    async def until(self, fact: Callable[[], object], seconds: float = LONG) -> None:
        limit = time.monotonic() + seconds
        while not fact():
            assert time.monotonic() < limit, self.text
            await asyncio.sleep(0.02)
        await self.pilot.pause()

    async def shows(self, *words: str) -> None:
        await self.until(lambda: all(word in self.text for word in words))

    async def perform(self, mistakes: Mistakes | None = None, seed: int = 1, manner: Manner = QUICK) -> float:
        """Play into the piano's port in time: chord by chord at once, in tempo when the count-in says so.

        Returns:
            By how many seconds the latest event came too late, where the machine stood still.
        """
        task = self.screen.drill.task  # type: ignore[union-attr]
        start = time.perf_counter() + 0.05
        if task.step.clock == "tempo":
            manner = replace(manner, quarter_bpm=task.quarter_bpm)
            start = await self.counted_in()
        played = perform(task.expected, manner, mistakes, seed, start)
        return await asyncio.to_thread(self.play, played.events)

    async def counted_in(self) -> float:
        """Ask to be counted in, and again where a machine that stalled left no time to come in; when to come in."""
        for _ in range(TRIES):
            first = sorted(self.screen.drill.task.first_keys)  # type: ignore[union-attr]
            self.piano.press(*first)
            await asyncio.sleep(0.1)
            self.piano.release(*first)
            await self.until(lambda: self.screen.state.first_chord is not None)
            due = self.screen.state.first_chord
            if due is not None and time.perf_counter() < due - READY:
                return due
            await self.until(lambda: self.screen.state.phase == "ready")
        raise AssertionError("never in time for the count-in")

    def play(self, events: Sequence[Event]) -> float:
        """Play in time, whatever the app is doing; by how many seconds the latest event came too late."""
        late = 0.0
        for event in events:
            time.sleep(max(0.0, event.seconds - time.perf_counter()))
            if event.kind == "pedal":
                self.piano.pedal(event.value)
            elif event.kind == "press":
                self.piano.press(event.key, velocity=event.value)
            else:
                self.piano.release(event.key)
            late = max(late, time.perf_counter() - event.seconds)
        return late

    async def passes(self, *words: str, manner: Manner = QUICK) -> None:
        """Play until these words are shown; again only where the machine stood still in the middle of a take."""
        for _ in range(TRIES):
            late = await self.heard_playing(manner)
            if late <= LATE or all(word in self.text for word in words):
                break
        await self.shows(*words)

    async def heard_playing(self, manner: Manner = QUICK) -> float:
        """Play until a take is kept, or missed by a drill that had given up waiting; how late the pianist was."""
        before = self.kept
        late = await self.perform(manner=manner)
        # Only a pianist who came in when the drill had given up may have to play again.
        await self.until(lambda: self.kept > before or (late > SILENCE and self.missed))
        await self.until(lambda: not any(worker.is_running for worker in self.app.workers))
        return late

    @property
    def kept(self) -> int:
        """Takes in the log."""
        assert self.app.log_ is not None
        return self.app.log_.count()

    async def foot(self, times: int, fact: Callable[[], object]) -> None:
        """Press the sustain pedal quickly until something has come of it; a machine that stalls makes presses slow."""
        for _ in range(TRIES):
            for _ in range(times):
                self.piano.pedal(127)
                await asyncio.sleep(0.08)
                self.piano.pedal(0)
                await asyncio.sleep(0.12)
            limit = time.monotonic() + LONG / TRIES
            while not fact() and time.monotonic() < limit:
                await asyncio.sleep(0.02)
            if fact():
                break
        await self.until(fact)


@asynccontextmanager
async def bench(opening: Any, piano: Any, size: tuple[int, int] = (100, 30)) -> AsyncIterator[AtThePiano]:
    app = CoachApp(opening)
    async with app.run_test(size=size) as pilot:
        at = AtThePiano(app, pilot, piano)
        await at.until(lambda: app.link is not None and app.link.state == "listening")
        if opening is not None:
            await at.until(lambda: isinstance(app.screen, DrillScreen) and app.screen.drill is not None)
        yield at


async def test_hands_alone_then_together_each_passed_by_playing(piano: Any, drilling: Drilling, home: Path) -> None:
    async with bench(drilling(), piano) as at:
        assert "Test Piano:keys" in at.text
        await at.shows("right hand · chord by chord")
        await at.passes("Solid. Next: left hand.", "left hand · chord by chord")
        await at.passes("Solid. Next: together.", "both hands · chord by chord")
        await at.passes("Solid. Next: in tempo 60 %.", "both hands · in tempo, ♩ = 55")
    with Log.open() as log:
        assert [(e.step.name, e.verdict) for e in log.entries() if e.verdict == "solid"] == [
            ("right hand", "solid"),
            ("left hand", "solid"),
            ("together", "solid"),
        ]


async def test_a_wrong_key_and_its_mending_are_seen(piano: Any, drilling: Drilling) -> None:
    async with bench(drilling(step=TOGETHER), piano) as at:
        keys = sorted(at.screen.drill.task.first_keys)
        piano.press(*keys[:3], keys[3] + 2)
        await at.shows("×", "A₄ was struck; the soprano has G₄.")
        piano.release(keys[3] + 2)
        piano.press(keys[3])
        await at.until(lambda: "was struck" not in at.text)
        assert at.screen.state.here == 1


async def test_in_tempo_with_lifts_and_pedal(piano: Any, drilling: Drilling, synthesizer: Any) -> None:
    """With a synthesizer on the output, which must hear the clicks of the count-in."""
    kept.save(replace(kept.load(), midi_output="Synth:in"))
    async with bench(drilling("wide-water", 2, STEPS_IN_TEMPO[2]), piano) as at:
        await at.shows("in tempo, ♩ = 92")
        await at.passes("Solid.", manner=replace(QUICK, pedal=True))
        take = at.screen.heard.done
        assert take is not None
        assert take.metronome is not None
        due = take.metronome.start
        assert take.verdict.findings.pedal.presses > 0
    clicked = [at for at, message in synthesizer.heard if message[0] == 0x99]
    before = [due - at for at in clicked if at < due - 0.1]
    assert len(before) == 3
    assert before == pytest.approx([3 * 60 / 92, 2 * 60 / 92, 60 / 92], abs=0.05)


async def test_a_screen_that_stalls_hears_the_whole_take(piano: Any, drilling: Drilling) -> None:
    """The pianist plays on while the app stands still, and its timer is the first to move again."""
    async with bench(drilling("wide-water", 2, STEPS_IN_TEMPO[2]), piano) as at:
        task = at.screen.drill.task
        played = perform(task.expected, replace(QUICK, quarter_bpm=task.quarter_bpm), start=await at.counted_in())
        at.play(played.events)  # in the app's own thread, which does nothing else meanwhile
        assert at.screen.state.phase == "counting"
        at.screen._tick()
        await at.until(lambda: at.screen.heard.done)
        take = at.screen.heard.done
        assert take is not None
        assert [(e.kind, e.key) for e in take.events] == [(e.kind, e.key) for e in played.events]


async def test_lifts_are_seen_and_lifts_left_out_too(piano: Any, drilling: Drilling) -> None:
    async with bench(drilling("wide-water", 2, TOGETHER), piano) as at:
        manner = replace(QUICK, quarter_bpm=180.0)
        await at.perform(manner=manner)
        await at.until(lambda: at.screen.state.phase == "heard")
        assert "lifted" in at.screen.state.marks.values()
        await at.perform(Mistakes(no_lift=1.0), manner=manner)
        await at.until(lambda: "not lifted" in at.screen.state.marks.values())
        await at.until(lambda: at.screen.state.phase == "heard")


async def test_wrong_notes_are_named_in_the_verdict(piano: Any, drilling: Drilling) -> None:
    async with bench(drilling(step=TOGETHER), piano) as at:
        await at.perform(Mistakes(wrong=0.15), seed=4)
        await at.until(lambda: at.screen.state.phase == "heard")
        await at.until(lambda: any(word in at.text for word in ("Shaky.", "Weak.")))
        assert "sounded for" in at.text


async def test_the_pedal_turns_the_page(piano: Any, drilling: Drilling) -> None:
    async with bench(drilling(), piano) as at:
        await at.foot(2, lambda: "phrase 2 of 4" in at.text)
        await at.foot(3, lambda: "phrase 1 of 4" in at.text)


async def test_unplugging_in_a_take_is_survived(piano: Any, drilling: Drilling) -> None:
    async with bench(drilling(step=LEFT), piano) as at:
        task = at.screen.drill.task

        async def play(number: int) -> None:
            """One chord. They come evenly: a key much sooner than the pace is taken for a slip of the finger."""
            keys = [task.expected.notes[n].midi for n in task.expected.chords[number].struck]
            piano.press(*keys)
            await asyncio.sleep(0.5)
            piano.release(*keys)
            await asyncio.sleep(0.2)

        for number in range(3):
            await play(number)
        await at.until(lambda: at.screen.state.here == 3)
        piano.press(*(task.expected.notes[n].midi for n in task.expected.chords[3].struck))
        await at.until(lambda: at.screen.state.here == 4)
        piano.unplug()
        await at.until(lambda: not at.screen.state.down)
        await at.shows("unplugged: Test Piano:keys")
        assert "Test Piano:keys is gone: plug it in again and play on." in at.said
        piano.plug_in()
        await at.until(lambda: "Test Piano:keys is back." in at.said)
        assert at.screen.state.phase == "playing"
        for number in (4, 5):
            await play(number)
        for _ in range(TRIES):
            # Where the machine stood still a key may have come too soon after the one before: it is struck again.
            if at.screen.state.phase == "playing" and at.screen.state.here is not None:
                await play(at.screen.state.here)
        await at.until(lambda: at.screen.state.phase == "heard")


async def test_a_pad_that_was_there_first_does_not_take_the_pianos_place(
    jack_server: Any, plug_in_piano: Callable[[str], Any], drilling: Drilling, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The piano is remembered, and is switched on when the coach has already found another input."""
    monkeypatch.setattr("coach.screens.app.READ_IN", 10 * LONG)  # a machine that stands still reads slowly
    kept.save(replace(kept.load(), midi_input="Test Piano:keys"))
    pads = jack_server.client("output", "Pad Controller")
    pads.open_virtual_port("pads")
    try:
        async with bench(drilling(step=LEFT), None) as at:
            await at.shows("Pad Controller:pads")
            assert "Test Piano:keys is not there: listening to Pad Controller:pads instead." in at.said
            pads.send_message([0x90, 40, 64])
            await at.until(lambda: "the take begins with the first chord" in at.text)
            assert kept.load().midi_input == "Test Piano:keys"
            at.piano = plug_in_piano("Test Piano")
            await at.until(lambda: "Listening to Test Piano:keys." in at.said)
            await at.passes("Solid.")
    finally:
        pads.delete()
    assert kept.load().midi_input == "Test Piano:keys"


async def test_the_rhythm_of_a_piano_and_its_octave_layer_are_no_playing(
    piano: Any, drilling: Drilling, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Drums on channel 10 (General MIDI System Level 1); every key once more on channel 2, an octave up."""
    press, release = piano.press, piano.release

    def press_layered(*keys: int, velocity: int = 64) -> None:
        for key in keys:
            piano.send(0x99, 36, 90)
            press(key, velocity=velocity)
            piano.send(0x91, key + 12, velocity)
            piano.send(0x89, 36, 0)

    def release_layered(*keys: int) -> None:
        for key in keys:
            release(key)
            piano.send(0x81, key + 12, 64)

    monkeypatch.setattr(piano, "press", press_layered)
    monkeypatch.setattr(piano, "release", release_layered)
    async with bench(drilling(step=TOGETHER), piano) as at:
        await at.passes("Solid.")
        take = at.screen.heard.done
        assert take is not None
        assert {event.channel for event in take.events} == {0}


async def test_a_bass_on_another_channel_is_heard_though_it_comes_with_its_octave(
    piano: Any, drilling: Drilling
) -> None:
    """A split keyboard: the left hand sends on channel 2. Time alone shows that its keys are no layer of the others."""
    async with bench(drilling(step=TOGETHER), piano) as at:
        *upper, bass = sorted(at.screen.drill.task.first_keys, reverse=True)
        piano.press(bass + 12, *upper)
        piano.send(0x91, bass, 64)
        await at.until(lambda: bass in at.screen.state.down)


async def test_playing_on_the_channel_of_percussion_is_told(piano: Any, drilling: Drilling) -> None:
    async with bench(drilling(), piano) as at:
        for key in range(60, 68):
            piano.send(0x99, key, 64)
            piano.send(0x89, key, 64)
        await at.until(lambda: any("Only channel 10 is heard" in said for said in at.said))
        assert not at.screen.state.said


async def test_the_first_instrument_that_is_played_is_remembered(piano: Any) -> None:
    """One that is merely there is not: nobody has said that it is the player's."""
    async with bench(None, piano) as at:
        assert kept.load().midi_input == ""
        piano.press(60)
        await at.until(lambda: kept.load().midi_input == "Test Piano:keys")


async def test_hearing_it_sends_the_phrase_to_the_output(piano: Any, drilling: Drilling, synthesizer: Any) -> None:
    def keys(status: int) -> list[int]:
        return [message[1] for _, message in synthesizer.heard if message[0] == status]

    async with bench(drilling(step=LEFT), piano) as at:
        bass = [n.midi for c in at.screen.drill.task.plan.chords for n in c.notes if n.hand == "left" and n.struck]
        for _ in range(TRIES):  # a server that stands still may lose a message
            synthesizer.heard.clear()
            await at.pilot.press("h")
            await at.until(lambda: len(keys(0x90)) >= 3)
            heard = keys(0x90)[:3]
            await at.pilot.press("h")
            await at.until(lambda: not at.app.sound.playing)
            if heard == bass[:3]:
                break
        assert heard == bass[:3]
        await at.until(lambda: len(keys(0x80)) == len(keys(0x90)))


async def test_two_coaches_practise_side_by_side(piano: Any, drilling: Drilling) -> None:
    """One piano, two coaches, one log: both hear, both keep."""
    async with bench(drilling(step=LEFT), piano) as one, bench(drilling(step=LEFT), piano) as other:
        await one.perform()
        for at in (one, other):
            await at.until(lambda at=at: at.screen.state.phase == "heard")
            await at.until(lambda at=at: any(f"{word}." in at.text for word in ("Solid", "Shaky", "Weak")))
    with Log.open() as log:
        first, second = log.entries()
    assert (first.verdict, first.faults) == (second.verdict, second.faults)


def learned_days_ago(name: str, number: int, days_ago: int, until: Step = MEMORY) -> None:
    """Put a phrase into the log as learned some days ago, up to a step that is still to come."""
    music = open_music(name)
    with Log.open() as log:
        log.know(music.piece, music.phrases, music.shapes)
        passage = music.phrase_passage(number)
        began = days.now() - timedelta(days=days_ago, hours=1)
        for step in log.steps(passage):
            if step == until:
                break
            began += timedelta(minutes=2)
            log.record(
                new_entry(passage, music.piece.title, step, "solid", began=began, seconds=40.0, source=music.name)
            )


async def test_a_days_practice_is_done_from_the_piano_alone(piano: Any) -> None:
    """Today, a review, a new phrase on its ladder, and back to Today: no key of the computer is touched."""
    learned_days_ago("wide-water", 1, 9)
    async with bench(None, piano) as at:
        await at.shows("Today", "Wide Water", "phrase 1", "from memory")
        await at.foot(2, lambda: isinstance(at.app.screen, DrillScreen) and at.app.screen.drill is not None)
        await at.shows("phrase 1 of 4", "in tempo, ♩ = 92", "no fingers")
        await at.passes("Solid. Phrase 1", "phrase 2 of 4", "right hand · chord by chord")
        await at.passes("Solid. Next: left hand.")
        await at.passes("Solid. Next: together.")
        for _ in range(8):
            if not isinstance(at.app.screen, DrillScreen):
                break
            shown = at.text
            await at.foot(2, lambda shown=shown: at.text != shown)
            await asyncio.sleep(0.8)
        await at.shows("Today")
    with Log.open() as log:
        played = [entry for entry in log.entries() if entry.day == days.practice_day(days.now())]
    # A take that a busy machine made shaky is asked for again; what comes after what stays the same.
    assert [(e.passage.first, e.step.name, e.verdict) for e in played if e.verdict == "solid"] == [
        (1, "from memory", "solid"),
        (2, "right hand", "solid"),
        (2, "left hand", "solid"),
    ]


AMEN = """X:1
T:{title}
M:4/4
L:1/4
Q:1/4=208
%%score (S A) (T B)
K:C
V:S clef=treble
V:A clef=treble
V:T clef=bass
V:B clef=bass
{music}
"""

EVENING = """[V:S] c d e !fermata!c | e d c !fermata!c |]
[V:A] G G G G | G F E E |]
[V:T] E, F, G, E, | G, A, G, G, |]
[V:B] C, B,, C, C, | C, F,, C, C, |]"""

MORNING = """[V:S] e f d !fermata!e |]
[V:A] c A B c |]
[V:T] G, F, G, G, |]
[V:B] C, D, G,, C, |]"""

LADDER = (RIGHT, LEFT, TOGETHER, *STEPS_IN_TEMPO, FEWER, NO_FINGERS)
"""What a new phrase of a few chords climbs on its first day."""

LONGEST_DAY = 60
"""Takes after which a day of these few chords would have gone wrong."""


def amen(folder: Path, title: str, music: str) -> str:
    """A few chords of the test's own on disk: a whole day must fit into a test."""
    path = folder / f"{title}.abc"
    path.write_text(AMEN.format(title=title, music=music))
    return str(path)


def a_change_failed_yesterday(name: str) -> None:
    """Put a phrase into the log that was climbed but for one change, which went wrong again and again."""
    learned_days_ago(name, 1, 1, until=NO_FINGERS)
    music = open_music(name)
    chord = music.plan.phrases[0].chords[2]
    fault = Fault(Fraction(chord.onset), "right", chord.bar)
    with Log.open() as log:
        passage = music.phrase_passage(1)
        for minute in (4, 3, 2):
            began = days.now() - timedelta(days=1, minutes=minute)
            log.record(
                new_entry(passage, music.piece.title, NO_FINGERS, "shaky", began=began, seconds=20.0, faults=(fault,))
            )


async def test_a_whole_day_from_the_first_row_to_the_last_is_played_without_touching_the_computer(
    piano: Any, tmp_path: Path
) -> None:
    """A review, a change that kept failing, its phrase, a new phrase up its whole ladder, then the join of the two.

    The pianist knows four things: the first chord or the pedal begins the day, the screen says what to play, the next
    row comes by itself, and the pedal leads back.
    """
    evening, morning = amen(tmp_path, "Evening Amen", EVENING), amen(tmp_path, "Morning Amen", MORNING)
    learned_days_ago(evening, 1, 9)
    a_change_failed_yesterday(morning)
    async with bench(None, piano) as at:
        await at.shows("Today", "Evening Amen", "Morning Amen", "keeps failing")
        for _ in range(LONGEST_DAY):
            screen = at.app.screen
            if isinstance(screen, TodayScreen):
                if not screen.rows:
                    break
                await at.foot(2, lambda: isinstance(at.app.screen, DrillScreen) and at.app.screen.drill is not None)
            elif "That was the last one" in at.text:
                await at.foot(2, lambda: isinstance(at.app.screen, TodayScreen))
            else:
                await at.heard_playing()
        await at.shows("minutes played")
    with Log.open() as log:
        played = [entry for entry in log.entries() if entry.day == days.practice_day(days.now())]
        standings = {piece["title"]: log.standings(piece["mark"]) for piece in log.pieces()}
    asked = [f"{entry.title}, {entry.passage.label}: {entry.step.name}" for entry in played]
    # A take that a busy machine made shaky is asked for again; what comes after what stays the same.
    assert list(dict.fromkeys(asked)) == [
        "Evening Amen, phrase 1: from memory",
        "Morning Amen, a change in phrase 1: right hand",
        "Morning Amen, a change in phrase 1: right hand in tempo",
        "Morning Amen, phrase 1: no fingers",
        *(f"Evening Amen, phrase 2: {step.name}" for step in LADDER),
        "Evening Amen, phrases 1+2: over the seam",
        "Evening Amen, phrases 1+2: in tempo 80 %",
        "Evening Amen, phrases 1+2: in tempo",
        "Evening Amen, phrases 1+2: no fingers",
    ]
    assert not any(entry.chosen for entry in played)
    assert all(entry.midi for entry in played)
    assert standings["Evening Amen"] == {1: "solid", 2: "shaky"}
