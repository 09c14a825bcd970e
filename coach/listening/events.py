"""What hands and feet do at the instrument: events, and the strokes of keys that they make."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Kind = Literal["press", "release", "pedal"]
"""What a hand or a foot did."""

SUSTAIN = 64
"""Controller number of the sustain pedal (MIDI 1.0 Detailed Specification, Table 3)."""

PEDAL_DOWN = 64
"""Controller value from which the sustain pedal counts as down (MIDI 1.0: 0-63 off, 64-127 on)."""


@dataclass(frozen=True, slots=True)
class Event:
    """One thing done at the instrument.

    Attributes:
        seconds: When, from any fixed start.
        kind: "press", "release" or "pedal". A note-on with velocity 0 is a release before it comes here.
        key: MIDI note number, 0 to 127; 64 for the pedal.
        value: Velocity, or the pedal's position, 0 to 127.
    """

    seconds: float
    kind: Kind
    key: int
    value: int


@dataclass(frozen=True, slots=True)
class Metronome:
    """The clock that a take was played with.

    Attributes:
        quarter_bpm: Quarter notes a minute.
        start: When, in the take's seconds, the first chord was due.
    """

    quarter_bpm: float
    start: float


@dataclass(frozen=True, slots=True)
class Stroke:
    """One key from its press to its release.

    Attributes:
        index: The how-manieth press of the take it is, from 0.
        key: MIDI note number.
        velocity: 1 to 127.
        press: When it was pressed, in seconds.
        release: When it came up; None while it is down, and for a release that never came.
    """

    index: int
    key: int
    velocity: int
    press: float
    release: float | None


class Keyboard:
    """Keys as they go down and up: turns events into strokes, one event at a time.

    A press of a key that is down ends the stroke before it, because a key must have come up to be pressed again (its
    release was lost, or two layers send the same key). A release of a key that is up says nothing. Time never runs
    backwards here: an event stamped before the last one happens with it.
    """

    def __init__(self) -> None:
        self._strokes: list[Stroke] = []
        self._down: dict[int, int] = {}
        self._pedal: list[tuple[float, int]] = []
        self._time = float("-inf")

    def hear(self, event: Event) -> Stroke | None:
        """Take one event; gives the new stroke when it was a press."""
        seconds = max(event.seconds, self._time)
        self._time = seconds
        if event.kind == "pedal":
            self._pedal.append((seconds, event.value))
            return None
        before = self._down.pop(event.key, None)
        if before is not None:
            stroke = self._strokes[before]
            self._strokes[before] = Stroke(stroke.index, stroke.key, stroke.velocity, stroke.press, seconds)
        if event.kind == "release":
            return None
        stroke = Stroke(len(self._strokes), event.key, event.value, seconds, None)
        self._down[event.key] = stroke.index
        self._strokes.append(stroke)
        return stroke

    @property
    def time(self) -> float:
        """When the last event happened; minus infinity before the first."""
        return self._time

    @property
    def strokes(self) -> tuple[Stroke, ...]:
        return tuple(self._strokes)

    @property
    def down(self) -> frozenset[int]:
        """The keys that are down."""
        return frozenset(self._down)

    @property
    def pedal(self) -> tuple[tuple[float, int], ...]:
        """The pedal's positions: when, and 0 to 127."""
        return tuple(self._pedal)

    def stroke(self, index: int) -> Stroke:
        return self._strokes[index]


def strokes_of(events: Iterable[Event]) -> tuple[Stroke, ...]:
    """All strokes of a take, by index."""
    keyboard = Keyboard()
    for event in events:
        keyboard.hear(event)
    return keyboard.strokes
