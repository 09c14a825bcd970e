"""One take while it is played: what it is heard against, what was struck so far, and how it is judged in the end."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from coach.listening.events import Event, Metronome
from coach.listening.matching import Match, Matcher
from coach.listening.verdict import Verdict, judge
from coach.listening.wording import spelled, voice
from coach.practice.entry import rested
from coach.practice.marks import Marks, complete, meant_for, note_marks, touch_marks
from coach.practice.task import Task

AT_ONCE = 0.25
"""Seconds from key to key within which a chord is struck as one, rolled or not (common practice, no source)."""


@dataclass(frozen=True)
class Done:
    """A take that has ended.

    Attributes:
        task: What was asked.
        events: All that was heard of it, in the seconds of the drill's clock.
        metronome: The clock it was played with.
        verdict: What was heard.
        match: The take matched to the plan.
        broken_off: The player stopped or began again before the last chord.
        peeked: Hidden fingers were looked at during the take.
        shift: Semitones that were added to each key, where the keyboard's octave setting is off.
    """

    task: Task
    events: tuple[Event, ...]
    metronome: Metronome | None
    verdict: Verdict
    match: Match
    broken_off: bool
    peeked: bool
    shift: int = 0

    @property
    def seconds(self) -> float:
        """How long was practised; a long pause in the middle is one, as between two takes."""
        return sum(rested(after.seconds - before.seconds) for before, after in pairwise(self.events))


class Attempt:
    """A take that is going on.

    Attributes:
        task: What was asked.
        metronome: The clock it is played with, None without one.
        shift: Semitones added to each key.
        peeked: Hidden fingers were looked at.
        events: All that was heard of it.
        last_press, last_release: When a key was struck and let go last, in seconds.
        reached_end: When the last key came that belongs to the last chord, while that was not whole; None before more
            than half of that chord.
        whole: Whether the passage was played up to its last chord, and all of that.
    """

    def __init__(self, task: Task, metronome: Metronome | None = None, shift: int = 0) -> None:
        self.task = task
        self.metronome = metronome
        self.shift = shift
        self.peeked = False
        self._loose: tuple[int, ...] = ()
        self.events: list[Event] = []
        self.last_press = float("-inf")
        self.last_release = float("-inf")
        self._matcher = Matcher(task.expected)
        self._match: Match = self._matcher.match()
        self._waited_for: list[int] = []
        self._wrong: dict[int, int] = {}
        self._touch: Marks = {}
        self._touched = False
        self._other_hand = float("-inf")
        self.reached_end: float | None = None
        self.whole = False

    @property
    def match(self) -> Match:
        """The take as explained best by the presses so far."""
        return self._match

    @property
    def loose(self) -> tuple[int, ...]:
        """Keys struck in the current chord that belong to no cell."""
        return tuple(self._match.strokes[stroke].key for stroke in self._loose)

    @property
    def chords(self) -> int:
        """How many different chords were struck."""
        return len(self._match.last_visits)

    @property
    def presses(self) -> int:
        """How many keys were struck."""
        return len(self._match.strokes)

    def notes(self, chords: int) -> int:
        """How many notes the first chords have."""
        return sum(len(required) for required in self.task.places.required[:chords])

    @property
    def step(self) -> float:
        """Quarter notes from the current chord to the next one in which a key is struck, 0 where there is none."""
        chords, front = self.task.expected.chords, self._match.front
        if front is None or front + 1 >= len(chords):
            return 0.0
        return chords[front + 1].onset - chords[front].onset

    @property
    def at_end(self) -> bool:
        """Whether the last chord was reached."""
        return bool(self.task.expected.chords) and self._match.front == len(self.task.expected.chords) - 1

    @property
    def finished(self) -> bool:
        """Whether the last chord was struck whole."""
        return self.at_end and complete(self._match, self.task.places, len(self.task.expected.chords) - 1)

    def lacking(self, chord: int) -> tuple[int, ...]:
        """Numbers of the notes that a chord still lacks."""
        return tuple(number for number in self.task.places.required[chord] if number not in self._match.played)

    def feed(self, event: Event) -> None:
        """Hear one event."""
        self.events.append(event)
        self._matcher.hear(event)
        self._touched = True
        if event.kind == "release":
            self.last_release = event.seconds
        if event.kind != "press":
            return
        self.last_press = event.seconds
        front = self._match.front
        self._waited_for.append(self._following(front))
        self._match = self._matcher.match()
        stroke = len(self._match.strokes) - 1
        self._look_for_the_end(stroke)
        if stroke not in self._match.note_of:
            self._wrong_key(stroke)
        elif self._match.front != front:
            self._loose = ()
        # A key that seemed wrong is right once the keys after it show where the player has gone.
        note_of, played = self._match.note_of, self._match.played
        self._loose = tuple(press for press in self._loose if press not in note_of)
        self._wrong = {note: press for note, press in self._wrong.items() if press not in note_of}
        mended = [press for note, press in self._wrong.items() if note in played]
        self._wrong = {note: press for note, press in self._wrong.items() if note not in played}
        here = self._match.front
        for press in mended if here is not None and not complete(self._match, self.task.places, here) else ():
            if event.seconds - self._match.strokes[press].press <= AT_ONCE:
                # The note it was taken for came with the same chord: it was meant for another one.
                self._wrong_key(press)

    def _look_for_the_end(self, stroke: int) -> None:
        """See whether a key brought the take to its last chord, or made that whole: what was heard is not taken back,
        though keys struck afterwards may look like going back."""
        last = len(self.task.expected.chords) - 1
        played = self._match.played
        if self.whole or not self.at_end or stroke not in self._match.note_of:
            return
        # Who came there from far away has not played the passage to its end.
        if last and (last - 1 not in self._match.last_visits or 2 * self.chords < last + 1):
            return
        required = self.task.places.required[last]
        if 2 * sum(number in played for number in required) > len(required):
            self.reached_end = self._match.strokes[stroke].press
            self.whole = self.finished

    def _wrong_key(self, stroke: int) -> None:
        key = self._match.strokes[stroke].key
        if key in self._sounding() or stroke in self._match.note_of:
            return
        front = self._match.front or 0
        if any(key in self.task.others(chord) for chord in self._places(front, front + 1)):
            self._other_hand = front
            return
        number = meant_for(self._match, self.task.places, stroke)
        if number is not None:
            self._wrong[number] = stroke
        elif not self._wanted(key):
            self._loose = (*self._loose, stroke)

    def _places(self, *chords: int) -> list[int]:
        """Those of some chords that there are."""
        return [chord for chord in chords if chord < len(self.task.expected.chords)]

    def _following(self, front: int | None) -> int:
        """The chord that is waited for at a place: the one there until it was struck whole, then the next."""
        if front is None:
            return 0
        return front + 1 if complete(self._match, self.task.places, front) else front

    def _wanted(self, key: int) -> bool:
        """Whether a key is one that the next chord asks for, though the listener is not sure yet that it was it."""
        front = self._match.front
        return key in self.task.keys_of(0 if front is None else front + 1)

    def _sounding(self) -> frozenset[int]:
        """Keys of the current chord: striking one of them twice is no wrong key."""
        front = self._match.front
        if front is None:
            return frozenset()
        chord = self.task.expected.chords[front]
        return frozenset(self.task.expected.notes[number].midi for number in (*chord.struck, *chord.held))

    @property
    def said(self) -> str:
        """A sentence about the last wrong key, until it is mended or the player has gone on; else ""."""
        front = self._match.front or 0
        for number, stroke in sorted(self._wrong.items(), key=lambda wrong: -wrong[1]):
            note = self.task.expected.notes[number]
            if note.chord >= front:
                key = spelled(self._match.strokes[stroke].key, self.task.expected, note.chord)
                return f"{key} was struck; {voice(note)} has {note.pitch}."
        if front - self._other_hand <= 1:
            hand = self.task.step.hand
            return f"The {hand} hand is asked alone: let the {'left' if hand == 'right' else 'right'} one rest."
        if not self._loose:
            return ""
        return f"{spelled(self.loose[-1], self.task.expected, self._match.front)} belongs to no note here."

    def measure(self) -> None:
        """Look at holds and lifts anew; between two looks of the eye there is no need."""
        if self._touched:
            self._match = self._matcher.match()
            self._touch = touch_marks(self._match, self.task.places)
            self._touched = False

    def marks(self, now: float) -> Marks:
        """How the cells stand, where the clock has come to `now`."""
        notes = note_marks(self._match, self.task.places, self._wrong, self.metronome, now)
        return {**self._touch, **notes}

    def current(self) -> tuple[int | None, tuple[str, ...]]:
        """The chord to play now, and the pitches that it still lacks when it was struck in part."""
        chords = self.task.expected.chords
        number = self._following(self._match.front)
        if number >= len(chords):
            return None, ()
        required = [self.task.expected.notes[note] for note in self.task.places.required[number]]
        # One key may be two voices' note.
        struck = {note.midi for note in required if note.number in self._match.played}
        lacking = tuple(note.pitch for note in required if note.midi not in struck)
        return self.task.places.chords[number], lacking if len(lacking) < len(required) else ()

    def began_again(self) -> bool:
        """Whether the whole first chord was just struck again, and not as a later chord of the same keys."""
        first = self.task.first_keys
        strokes = self._match.strokes
        if not first or strokes[-1].key not in first or len(strokes) <= len(first):
            return False
        waited_for = self._waited_for[-len(first)]
        if waited_for and first <= self.task.keys_of(waited_for):
            # What was waited for has precedence: the same keys as in the beginning, or more.
            return False
        visits = self._match.visits
        earlier = any(visit.chord == 0 for visit in visits[:-1])
        if visits and visits[-1].chord == 0 and earlier:
            return first <= {strokes[press].key for _, press in visits[-1].played}
        before, *last = strokes[-len(first) - 1 :]
        apart = last[0].press - before.press
        within = max((b.press - a.press for a, b in pairwise(last)), default=0.0)
        if {stroke.key for stroke in last} != first or within > min(AT_ONCE, apart):
            return False
        if len(first) == 1 and len(visits) > 1:
            # A single key struck wrongly somewhere else may happen to be the first one.
            return False
        presses = {stroke.index for stroke in last}
        return not any(presses <= {press for _, press in visit.played} for visit in visits)

    def opening(self) -> tuple[Event, ...]:
        """The events from the first chord struck again on."""
        last: dict[int, float] = {}
        for event in self.events:
            if event.kind == "press" and event.key in self.task.first_keys:
                last[event.key] = event.seconds
        began = min(last.values())
        return tuple(event for event in self.events if event.seconds >= began)

    def up_to(self, until: float) -> Attempt:
        """The take as if nothing had been heard from some moment on."""
        return self.with_events(event for event in self.events if event.seconds < until)

    def with_events(self, events: Iterable[Event]) -> Attempt:
        """The same take, had these events been heard of it."""
        other = Attempt(self.task, self.metronome, self.shift)
        other.peeked = self.peeked
        for event in events:
            other.feed(event)
        return other

    def judged(self, until: float = float("inf")) -> Done:
        """The take as it ended, with what came before `until`."""
        events = tuple(event for event in self.events if event.seconds < until)
        match = self._matcher.match() if len(events) == len(self.events) else heard(self.task, events)
        verdict = judge(match, self.metronome, timed=self.task.step.clock == "tempo", pedal=self.task.step.pedal)
        broken_off = match.front != len(self.task.expected.chords) - 1
        return Done(self.task, events, self.metronome, verdict, match, broken_off, self.peeked, self.shift)


def heard(task: Task, events: Sequence[Event]) -> Match:
    """A whole take against what a task expects."""
    matcher = Matcher(task.expected)
    matcher.hear_all(events)
    return matcher.match()
