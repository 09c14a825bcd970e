"""What hands and feet do at the instrument: events, and the strokes of keys that they make."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

Kind = Literal["press", "release", "pedal"]
"""What a hand or a foot did."""

SUSTAIN = 64
"""Controller number of the sustain pedal (MIDI 1.0 Detailed Specification, Table 3)."""

PEDAL_DOWN = 64
"""Controller value from which the sustain pedal counts as down (MIDI 1.0: 0-63 off, 64-127 on)."""


LAYER = 0.032
"""Seconds within which a second press of a key that is down is the same stroke: two layers or a doubled cable send a
key twice up to 30 ms apart, which a recording rounds to its ticks, while a finger needs over 60 ms to strike it again
(common practice, no source)."""

ENDS_ALL_NOTES = (120, 123, 124, 125, 126, 127)
"""Controllers that let every key of a channel go: all sound off, all notes off, omni off and on, mono, poly (MIDI 1.0
Detailed Specification, channel mode messages)."""


FAR = 1e9
"""Seconds from which a time stamp is none: some thirty years."""


MIDI_KEYS = range(128)
"""The keys that MIDI has numbers for (MIDI 1.0)."""


@dataclass(frozen=True, slots=True)
class Event:
    """One thing done at the instrument.

    Attributes:
        seconds: When, from any fixed start.
        kind: "press", "release" or "pedal". A note-on with velocity 0 is a release before it comes here.
        key: MIDI note number, 0 to 127; 64 for the pedal.
        value: Velocity, or the pedal's position, 0 to 127.
        channel: The MIDI channel that a key was struck on, from 0: the halves of a split keyboard have one each.
    """

    seconds: float
    kind: Kind
    key: int
    value: int
    channel: int = 0


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


class Keys:
    """Keys as they go down and up: turns events into strokes, one event at a time.

    A key that is down and pressed again at once is one stroke heard twice (two layers, two voices that meet): both end
    together. Later, the key must have come up unheard, and the stroke before ends there. A release of a key that is
    up says nothing. Time never runs backwards here: an event stamped before the last one, or with no time at all,
    happens with it.
    """

    def __init__(self) -> None:
        self._strokes: list[Stroke] = []
        self._down: dict[int, list[int]] = {}
        self._pedal: list[tuple[float, int]] = []
        self._time = float("-inf")

    def hear(self, event: Event) -> Stroke | None:
        """Take one event; gives the new stroke when it was a press."""
        seconds = max(event.seconds, self._time) if abs(event.seconds) < FAR else max(self._time, 0.0)
        self._time = seconds
        if event.kind == "pedal":
            self._pedal.append((seconds, event.value))
            return None
        if event.kind == "release":
            self._end(event.key, seconds)
            return None
        down = self._down.get(event.key)
        if down and seconds - self._strokes[down[0]].press > LAYER:
            self._end(event.key, seconds)
        stroke = Stroke(len(self._strokes), event.key, event.value, seconds, None)
        self._down.setdefault(event.key, []).append(stroke.index)
        self._strokes.append(stroke)
        return stroke

    def _end(self, key: int, seconds: float) -> None:
        for index in self._down.pop(key, ()):
            self._strokes[index] = replace(self._strokes[index], release=seconds)

    @property
    def time(self) -> float:
        """When the last event happened; minus infinity before the first."""
        return self._time

    @property
    def strokes(self) -> Sequence[Stroke]:
        """All strokes by index; grows and is filled in with further events."""
        return self._strokes

    @property
    def pedal(self) -> Sequence[tuple[float, int]]:
        """The pedal's positions: when, and 0 to 127; grows with further events."""
        return self._pedal

    @property
    def down(self) -> frozenset[int]:
        """The keys that are down."""
        return frozenset(self._down)
