"""The live drill of one passage: note events and clock ticks in, states out. It knows no terminal and no clock.

A take begins with the first chord, begins again when that is played again, and ends in silence, or when the player goes
on beyond the last chord. Chord by chord the drill waits for the player without limit; in tempo the first chord asks for
the count-in.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from coach.listening.events import MIDI_KEYS, Event, Metronome
from coach.listening.wording import spelled
from coach.practice.astray import GOING_ON, Astray
from coach.practice.attempt import AT_ONCE, Attempt, Done
from coach.practice.beat import Beat
from coach.practice.ending import (
    FALSE_START,
    LAST_CHORD,
    came_in_early,
    fits,
    has_begun,
    is_false_start,
    is_over,
    was_tried,
    went_on,
)
from coach.practice.gesture import Foot, Wish
from coach.practice.marks import Marks
from coach.practice.octave import found_shift, offered, said_of, shifted
from coach.practice.other_hands import only_heard, played_otherwise
from coach.practice.task import Task

__all__ = ["Done", "Drill", "Phase", "State", "Task"]

Phase = Literal["ready", "counting", "playing", "heard"]
"""Waiting for the first chord; counting in; a take going on; a take judged and still shown."""

BEFORE = 0.35
"""Seconds before its first right key that a take reaches back, for a wrong key struck with the first chord."""

BREATH = 0.6
"""Seconds from asking for a count-in to its first beat."""

ASKED = 1.0
"""Seconds after a count-in was asked for in which further keys are still those of the chord that asked for it."""

EARLY = 0.5
"""Beats before the first chord is due from which on keys belong to the take."""

BEGINNING = 1
"""Chords of a take during which it is said how the keyboard is set."""

RESTED = 3.0
"""Seconds with all keys up after which the pedal asks for something though a take waits for its next chord: who is
stuck can go on from the bench."""

PATIENCE = 1.5
"""Seconds after which a chord that was struck in part is said to lack something."""

CUT_OFF = "The keyboard went in the middle of a take in tempo: it is not kept. Begin again with the first chord."
"""Said of a take that the player could not play on."""


@dataclass(frozen=True)
class State:
    """All that a screen shows of a drill.

    Attributes:
        phase: See `Phase`.
        here: Place of the current chord in the phrase, None when there is none to play.
        marks: How the cells stand.
        said: One sentence for the player, "" for none.
        beat: The beat that is sounding, None without a clock.
        done: The take that has ended with this very event or tick, else None.
        shown: The last take that was judged, while it is shown.
        wish: What the foot asked for with this very event or tick.
        down: Keys that are down.
        struck: Keys that belong to no cell, struck in the current chord.
        waiting: Pitches that the current chord still lacks.
        first_chord: When the first chord is due, None without a clock and before the count-in.
        shift: Semitones added to each key, where the keyboard's octave setting is off.
        astray: Keys were struck that begin no take: what was judged before says nothing of them.
    """

    phase: Phase = "ready"
    here: int | None = None
    marks: Marks = field(default_factory=dict)
    said: str = ""
    beat: Beat | None = None
    done: Done | None = None
    shown: Done | None = None
    wish: Wish = ""
    down: frozenset[int] = frozenset()
    struck: tuple[int, ...] = ()
    waiting: tuple[str, ...] = ()
    first_chord: float | None = None
    shift: int = 0
    astray: bool = False

    @property
    def going_on(self) -> bool:
        """Whether a take is, or is being counted in."""
        return self.phase in ("playing", "counting")


class Drill:
    """Practises one passage, take after take.

    Attributes:
        task: What is drilled.
        state: As after the last event or tick.
    """

    def __init__(self, task: Task, shift: int = 0) -> None:
        """Be ready for the first take.

        Args:
            task: What to drill.
            shift: Semitones to add to each key, as found in an earlier drill.
        """
        self.task = task
        self._shift = shift
        self._foot = Foot()
        self._down: set[int] = set()
        self._pedal: Event | None = None
        self._recent: list[Event] = []
        self._phase: Phase = "ready"
        self._attempt = Attempt(task)
        self._first_chord: float | None = None
        self._counted_since = 0.0
        self._ahead: list[Event] = []
        self._shown: Done | None = None
        self._said = ""
        self._astray = False
        self._stray = Astray()
        self._before: tuple[Attempt, Done] | None = None
        self._offer = 0
        self._told = float("-inf")
        self.state = self._next(0.0, None)

    def hear(self, event: Event) -> State:
        """Take one event of the keyboard."""
        self._foot = self._foot.hear(event, pedalling=self._pedalling(event.seconds))
        if event.kind == "pedal":
            self._pedal = event
        event = shifted(event, self._shift)
        if event.kind != "pedal" and event.key not in MIDI_KEYS:
            # There is no such key where the keyboard is heard.
            return self._next(event.seconds, None)
        if event.kind == "press":
            self._down.add(event.key)
        elif event.kind == "release":
            self._down.discard(event.key)
        done = None
        if self._phase in ("ready", "heard"):
            self._listen_for_start(event)
        elif self._phase == "counting":
            if event.seconds >= self._entry():
                self._enter(event.seconds)
                self._attempt.feed(event)
            elif event.seconds > self._counted_since + ASKED:
                self._ahead.append(event)
                if event.kind == "press":
                    self._said = "Wait for the beat: the take begins with the first chord after the count."
        else:
            self._attempt.feed(event)
            self._said = ""
            if event.kind == "press" and self._attempt.began_again():
                done = self._begin_again(event.seconds)
            elif event.kind == "press" and (since := went_on(self._attempt)) is not None:
                done = self._end_before(since)
            else:
                self._look_back()
        return self._next(event.seconds, done)

    def tick(self, now: float) -> State:
        """Let time pass; some twenty times a second is often enough."""
        done = None
        if self._phase == "counting" and now >= self._entry():
            self._enter(now)
        if self._phase == "playing":
            self._attempt.measure()
            if is_over(self._attempt, now, self._first_chord, all_up=not self._down):
                done = self._end()
            elif (
                self._before is not None
                and not has_begun(self._attempt)
                and now - self._attempt.last_press > LAST_CHORD
            ):
                # The music ended with the first chord, or soon after.
                self._give_back(self._before)
        wish, self._foot = self._foot.wish(now)
        return self._next(now, done, wish)

    def start(self, now: float) -> State:
        """Begin, or begin again, without the first chord: count in, or wait for the chord."""
        done = self._break_off()
        self._begin(now, ())
        return self._next(now, done)

    def stop(self, now: float) -> State:
        """End the take that is going on, or take the last one off the screen."""
        done = self._break_off()
        self._shown = done
        self._phase = "heard" if done else "ready"
        self._first_chord = None
        self._said, self._astray = "", False
        if done is None:
            self._attempt = Attempt(self.task)
        return self._next(now, done)

    def unplugged(self, releases: Sequence[Event]) -> State:
        """The keyboard is gone: its keys come up. Chord by chord the take waits; the beat does not, and so a take in
        tempo is none, unless it had come to its end.

        Args:
            releases: What the decoder made of it.
        """
        self._let_go(releases)
        # What another keyboard played before a take is no part of it.
        self._recent = []
        if self._first_chord is not None and not self._attempt.finished:
            self._first_chord = None
            self._forget(CUT_OFF)
            self._next(0.0, None)
        return self.state

    def _let_go(self, releases: Sequence[Event]) -> State:
        """Keys came up unheard, or without a hand: that asks for nothing and ends nothing."""
        for event in releases:
            self.hear(event)
        self.state = replace(self.state, done=None, wish="")
        return self.state

    def listen_again(self, down: Collection[int], now: float) -> State:
        """Nobody listened for a while: what came up meanwhile is up.

        Args:
            down: The keyboard's keys that are down.
            now: Seconds of the drill's clock.
        """
        # Two presses of the pedal while another page was read ask for nothing.
        self._foot = replace(self._foot, presses=0)
        up = self._down - {key + self._shift for key in down}
        return self._let_go([Event(now, "release", key - self._shift, 0) for key in sorted(up)])

    def peek(self) -> None:
        """Hidden fingers are looked at: a take that is going on is not one without them."""
        if self._phase in ("playing", "counting"):
            self._attempt.peeked = True

    def _pedalling(self, now: float) -> bool:
        """Whether the pedal belongs to what is played, and asks for nothing."""
        if self._down or self._phase == "counting":
            return True
        latest = max(self._attempt.last_press, self._attempt.last_release)
        return self._phase == "playing" and now - latest <= RESTED

    def _listen_for_start(self, event: Event) -> None:
        # A chord may be built up key by key: those that are down belong to it. Two chords one after the other are none.
        self._recent = [each for each in self._recent if event.seconds - each.seconds <= BEFORE or self._holds(each)]
        self._recent.append(event)
        if event.kind != "press":
            return
        at_once = (each for each in self._recent if event.seconds - each.seconds <= AT_ONCE)
        struck = self._down | {each.key for each in at_once if each.kind == "press"}
        first = self.task.first_keys
        shift = found_shift(first, struck, event.key, self._shift, self._enough(event.seconds))
        self._stray = self._stray.hear(event)
        if shift is None:
            shift = self._where_else(event)
        if shift is None:
            return
        if shift:
            self._shift += shift
            self._down = {key + shift for key in self._down}
            self._recent = [shifted(each, shift) for each in self._recent]
        began = min(each.seconds for each in self._recent if each.kind == "press" and each.key in first)
        goes_on = self._stray.goes_on(self.task, event.seconds)
        self._before = (self._attempt, self._shown) if goes_on and self._shown is not None else None
        self._begin(event.seconds, tuple(each for each in self._recent if each.seconds >= began - BEFORE))

    def _enough(self, now: float) -> int:
        """How many keys of the first chord begin a take: half of them. While there is something to read about what was
        played, more than half, so that the last chord once more does not wipe it away, and all where music goes on."""
        keys = len(self.task.first_keys)
        if self._phase != "heard" and now - self._told > GOING_ON:
            return (keys + 1) // 2
        return keys if self._stray.goes_on(self.task, now) else keys // 2 + 1

    def _where_else(self, event: Event) -> int | None:
        """Say what a key is that begins no take.

        Returns:
            Semitones to add from now on, where it is the last of a first chord that the player wants heard elsewhere.
        """
        stray, alone = self._stray, self._stray.alone(self.task)
        elsewhere = stray.elsewhere(self.task)
        if elsewhere is not None and elsewhere == self._offer:
            return -elsewhere
        if elsewhere is not None:
            self._offer = elsewhere
            self._say_astray(offered(elsewhere), event)
        elif alone is not None:
            self._say_astray(only_heard(alone, self.task.step.hand), event)
        elif event.key not in self.task.first_keys and event.seconds - self._told > GOING_ON:
            # A first chord that is being built is none yet, and no reason to be told so.
            name = spelled(event.key, self.task.expected)
            self._say_astray(f"{name}: the take begins with the first chord.", None)
        elif event.seconds - self._told <= GOING_ON:
            # It stays while the player plays on in the same way.
            self._told = event.seconds
        return None

    def _say_astray(self, said: str, event: Event | None) -> None:
        self._said, self._astray = said, True
        self._told = event.seconds if event else float("-inf")

    def _holds(self, event: Event) -> bool:
        return event.kind == "press" and event.key in self._down

    def _begin(self, now: float, events: tuple[Event, ...]) -> None:
        """Begin a take with its first events, or count it in."""
        self._shown = None
        self._recent = []
        self._said, self._astray = "", False
        self._stray, self._offer, self._told = Astray(), 0, float("-inf")
        if self.task.step.clock == "tempo":
            self._phase = "counting"
            self._counted_since, self._ahead = now, []
            self._first_chord = now + BREATH + self.task.lead_in()
            self._attempt = Attempt(self.task, Metronome(self.task.quarter_bpm, self._first_chord), self._shift)
            return
        self._first_chord = None
        self._phase = "playing" if events else "ready"
        self._attempt = Attempt(self.task, shift=self._shift)
        if events and self._pedal is not None and self._pedal not in events:
            # A take begins with the pedal where the foot has it.
            self._attempt.feed(replace(self._pedal, seconds=events[0].seconds - 0.001))
        for event in events:
            self._attempt.feed(event)

    def _begin_again(self, now: float) -> Done | None:
        """The first chord was played again: end the take before it and begin another."""
        opening = self._attempt.opening()
        done = self._break_off(until=opening[0].seconds)
        self._begin(now, opening)
        return done

    def _enter(self, now: float) -> None:
        """The count-in is over: keys belong to the take from now on, and the pedal is where the foot has it."""
        self._phase = "playing"
        if self._pedal is not None and self._pedal.seconds < now:
            self._attempt.feed(replace(self._pedal, seconds=now))

    def _entry(self) -> float:
        """When keys begin to belong to a take that is counted in."""
        return (self._first_chord or 0.0) - EARLY * self.task.quarter

    def _end(self) -> Done | None:
        """Judge the take that silence ended."""
        self._first_chord = None
        self._attempt = came_in_early(self._attempt, self._ahead)
        if not self._attempt.presses:
            self._forget("Nothing was heard.")
            return None
        if is_false_start(self._attempt):
            self._forget("A false start: begin again with the first chord.")
            return None
        done = self._attempt.judged()
        if said := played_otherwise(done):
            self._forget(said)
            return None
        self._phase = "heard"
        self._shown = done
        return done

    def _end_before(self, since: float) -> Done | None:
        """Judge the take that the player went on from: what came later belongs to no note of it, but may begin another.

        Args:
            since: When the first key came that went on.
        """
        later = [event for event in self._attempt.events if event.seconds >= since]
        self._attempt = self._attempt.up_to(since)
        done = self._end()
        for event in later:
            if self._phase in ("ready", "heard"):
                self._listen_for_start(event)
            elif self._phase == "playing":
                self._attempt.feed(event)
        return done

    def _look_back(self) -> None:
        """Music that went on after a verdict had all of the first chord in it: once it shows that it is something else,
        the verdict is given back."""
        if self._before is None or self._attempt.presses <= self._attempt.notes(FALSE_START - 1):
            return
        if not fits(self._attempt.match):
            self._give_back(self._before)
        elif self._attempt.presses > self._attempt.notes(2 * FALSE_START):
            self._before = None

    def _give_back(self, before: tuple[Attempt, Done]) -> None:
        """Have the verdict stand that there was before music went on."""
        for event in self._attempt.events:
            if event.kind == "press":
                self._stray = self._stray.hear(event)
        self._attempt, self._shown = before
        self._phase, self._before = "heard", None
        self._first_chord = None

    def _forget(self, said: str) -> None:
        """Be ready for another take: what there was of this one is none."""
        self._phase = "ready"
        self._attempt = Attempt(self.task)
        self._said = said

    def _break_off(self, until: float = float("inf")) -> Done | None:
        """End the take before its time; there is nothing worth keeping when it had hardly begun.

        Args:
            until: Seconds from which on what was heard belongs to the next take, and says nothing of this one.
        """
        if self._phase != "playing" or not has_begun(self._attempt):
            return None
        done = came_in_early(self._attempt, self._ahead).judged(until)
        return done if was_tried(done) and not played_otherwise(done) else None

    def _found(self) -> Marks:
        """Keys of the first chord that are down already, before there are enough of them to begin."""
        if not self.task.expected.chords:
            return {}
        first = self.task.expected.struck(0)
        return {self.task.places.struck[note.number]: "right" for note in first if note.midi in self._down}

    def _next(self, now: float, done: Done | None, wish: Wish = "") -> State:
        playing = self._phase == "playing"
        marks: Marks = {}
        here = self.task.places.chords[0] if self.task.places.chords else None
        waiting: tuple[str, ...] = ()
        if playing:
            here, waiting = self._attempt.current()
            if now - self._attempt.last_press < PATIENCE:
                waiting = ()
            marks = self._attempt.marks(now)
        elif self._phase == "heard":
            here = None
            marks = self._attempt.marks(float("inf"))
        elif self._phase == "ready" and self._down:
            marks = self._found()
        said = self._said or (self._attempt.said if playing else "")
        if not said and self._phase in ("counting", "playing") and self._attempt.chords <= BEGINNING:
            said = said_of(self._attempt.shift)
        if not said and self._phase == "ready":
            said = self.task.unplayable
        beat = None
        if self._first_chord is not None:
            beat = self.task.beat_at(now - self._first_chord)
        self.state = State(
            phase=self._phase,
            here=here,
            marks=marks,
            said=said,
            beat=beat,
            done=done,
            shown=self._shown,
            wish=wish,
            down=frozenset(self._down),
            struck=self._attempt.loose if playing else (),
            waiting=waiting,
            first_chord=self._first_chord,
            shift=self._shift,
            astray=self._astray,
        )
        return self.state
