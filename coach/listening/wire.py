"""What the messages of a MIDI keyboard mean: bytes in, key presses, releases and pedal out.

MIDI 1.0 Detailed Specification (MIDI Association, 1996): note-on with velocity 0 is a release; channel mode messages
120 and 123 to 127 end all notes of their channel; 0xFF resets; clock, active sensing and all else say nothing of keys.
General MIDI System Level 1 (MIDI Association, 1991): channel 10 carries percussion, where a number is no key.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass

from coach.listening.events import ENDS_ALL_NOTES, LAYER, SUSTAIN, Event
from coach.listening.layers import Layers
from coach.paper.sound import PERCUSSION

ENOUGH = 8
"""Notes of percussion, and not one key, after which somebody may be playing on the wrong channel: two chords."""

ONLY_PERCUSSION = (
    "Only channel 10 is heard, and it carries percussion: if you are playing keys, let the keyboard send on another "
    "channel."
)
"""What to say then."""

Holder = tuple[int, int]
"""What keeps a key down: a track of a recorded take, 0 at the keyboard itself, and a channel."""


@dataclass(slots=True)
class _Held:
    """A press that may only double another one.

    Attributes:
        press: Seconds, holder, key, velocity.
        release: Seconds and velocity of its release; None while the key is down.
    """

    press: tuple[float, Holder, int, int]
    release: tuple[float, int] | None = None


class Decoder:
    """Follows the keys of an instrument, whatever it sends, so that every key is up or down once.

    Layered channels count once, a layer an octave off not at all, nor does percussion; a key struck while it is thought
    down (its release was lost, or it was stuck) comes up first; a key whose instrument is gone comes up.
    """

    def __init__(self, layers: Collection[int] | None = None) -> None:
        """Begin with all keys up.

        Args:
            layers: The channels that only double another one, where that is known beforehand; else it is found out.
        """
        self._down: dict[int, set[Holder]] = {}
        self._struck: dict[int, tuple[float, int]] = {}
        self._pedal: dict[int, int] = {}
        self._known = layers
        self._layers = Layers(layers)
        self._held: list[_Held] = []
        self._percussion = 0
        self._played = False

    @property
    def down(self) -> frozenset[int]:
        """Keys that are down."""
        return frozenset(self._down)

    @property
    def only_percussion(self) -> bool:
        """Whether there was plenty of percussion and not one key."""
        return self._percussion >= ENOUGH and not self._played

    def read(self, seconds: float, message: bytes, track: int = 0) -> tuple[Event, ...]:
        """What one message says. An event may be older than the message: one that had to be waited for.

        Args:
            seconds: When it arrived.
            message: One whole MIDI message, status byte first; anything else is passed over.
            track: The track of a recorded take that it stands in.
        """
        return (*self.settle(seconds), *self._read(seconds, message, track))

    def settle(self, seconds: float) -> tuple[Event, ...]:
        """What turns out to have been played by this time, when nothing that is older can arrive any more."""
        channels = self._layers.settle(seconds)
        return self._let_in(lambda channel: channel in channels) if channels else ()

    def silence(self, seconds: float) -> tuple[Event, ...]:
        """Everything comes up: the instrument was unplugged, or reset. What comes next may be another instrument."""
        released = tuple(self._up(seconds, key, 64) for key in sorted(self._down))
        pedal = (Event(seconds, "pedal", SUSTAIN, 0),) if max(self._pedal.values(), default=0) else ()
        self._down.clear()
        self._pedal.clear()
        self._layers = Layers(self._known)
        self._held.clear()
        self._percussion, self._played = 0, False
        return released + pedal

    def _read(self, seconds: float, message: bytes, track: int) -> tuple[Event, ...]:
        if not message:
            return ()
        status = message[0]
        if status == 0xFF:
            return self.silence(seconds)
        if len(message) != 3 or not 0x80 <= status < 0xF0 or any(data > 127 for data in message[1:]):
            return ()
        kind, channel, key, value = status & 0xF0, status & 0x0F, message[1], message[2]
        if channel == PERCUSSION:
            self._percussion += kind == 0x90 and value > 0
            return ()
        if kind == 0x90 and value > 0:
            return self._press(seconds, (track, channel), key, value)
        if kind in (0x80, 0x90):
            return self._release(seconds, (track, channel), key, value if kind == 0x80 else 64)
        if kind == 0xB0 and key == SUSTAIN:
            return self._sustain(seconds, channel, value)
        if kind == 0xB0 and key in ENDS_ALL_NOTES:
            return self._let_go(seconds, channel)
        return ()

    def _press(self, seconds: float, holder: Holder, key: int, velocity: int) -> tuple[Event, ...]:
        self._played = True
        channel = holder[1]
        fate = self._layers.press(seconds, channel, key)
        if fate == "held":
            self._held.append(_Held((seconds, holder, key, velocity)))
            return ()
        if fate == "passed":
            self._held = [held for held in self._held if held.press[1][1] != channel]
            return ()
        return (*self._let_in(lambda one: one == channel), *self._strike(seconds, holder, key, velocity))

    def _let_in(self, which: Callable[[int], bool]) -> tuple[Event, ...]:
        """What was held back of some channels was played."""
        played = [held for held in self._held if which(held.press[1][1])]
        self._held = [held for held in self._held if held not in played]
        events: list[Event] = []
        for held in played:
            _, holder, key, _ = held.press
            if held.release is not None and key in self._down:
                # It came and went while nobody knew; the key is down for another reason.
                continue
            events += self._strike(*held.press)
            if held.release is not None:
                events += self._release(held.release[0], holder, key, held.release[1])
        return tuple(events)

    def _strike(self, seconds: float, holder: Holder, key: int, velocity: int) -> tuple[Event, ...]:
        if key in self._down and abs(seconds - self._struck[key][0]) <= LAYER:
            self._down[key].add(holder)
            return ()
        again = (self._up(seconds, key, 64),) if key in self._down else ()
        # A part of its own may hold the key on; at the keyboard itself, a release was lost.
        self._down[key] = {holder} | {one for one in self._down.get(key, ()) if one[0] != holder[0]}
        self._struck[key] = seconds, holder[1]
        return (*again, Event(seconds, "press", key, velocity, holder[1]))

    def _release(self, seconds: float, holder: Holder, key: int, velocity: int) -> tuple[Event, ...]:
        for held in self._held:
            if held.press[1:3] == (holder, key) and held.release is None:
                held.release = seconds, velocity
                return ()
        holders = self._down.get(key)
        if holders is None or holder not in holders:
            return ()
        holders.discard(holder)
        if holders:
            return ()
        del self._down[key]
        return (self._up(seconds, key, velocity),)

    def _up(self, seconds: float, key: int, velocity: int) -> Event:
        return Event(seconds, "release", key, velocity, self._struck[key][1])

    def _let_go(self, seconds: float, channel: int) -> tuple[Event, ...]:
        """All notes of a channel end."""
        down = [(holder, key) for key, holders in self._down.items() for holder in holders if holder[1] == channel]
        down += [held.press[1:3] for held in self._held if held.press[1][1] == channel]
        ended = sorted(down, key=lambda one: (one[1], one[0]))
        return tuple(event for holder, key in ended for event in self._release(seconds, holder, key, 64))

    def _sustain(self, seconds: float, channel: int, value: int) -> tuple[Event, ...]:
        before = max(self._pedal.values(), default=0)
        self._pedal[channel] = value
        after = max(self._pedal.values())
        return (Event(seconds, "pedal", SUSTAIN, after),) if after != before else ()
