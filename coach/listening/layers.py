"""Which channels of an instrument only double another one an octave off: a layer, and no keys of its own.

An instrument with a second sound laid over the first sends each key twice, on two channels; with the second sound an
octave up, the other key is one that no finger touched. The halves of a split keyboard send on two channels as well,
and hands do strike octaves: only where every key of both channels has its double is it a layer. Until that is known
the keys of a channel that may be one are held back; a recorded take is asked as a whole.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Literal

from coach.listening.events import LAYER, MIDI_KEYS

OCTAVES = (12, -12)
"""Semitones by which a layer is heard off."""

SURE = 4
"""Keys that came with their double, and none without, from which on a channel is a layer: a chord of four voices. That
two hands on a split keyboard strike four octaves running, and no other key, does not happen in four voices."""

AT_FAULT = 10
"""Keys that came with their double for each that may have come without it: a message is lost now and then (common
practice, no source)."""

Fate = Literal["own", "held", "passed"]
"""A key that was played; one that may be a double; one that is a double."""


@dataclass(slots=True)
class _Doubling:
    """The supposition that a channel doubles another one.

    Attributes:
        leader: The channel that is doubled.
        interval: Semitones from a key to its double.
        single: Seconds and keys of the leader that have no double so far.
        doubled: How many have.
        missed: How many keys of either had no partner.
    """

    leader: int
    interval: int
    single: list[tuple[float, int]]
    doubled: int = 0
    missed: int = 0

    @property
    def holds(self) -> bool:
        return self.missed * AT_FAULT <= self.doubled

    def wait_for(self, seconds: float, key: int) -> None:
        """A key of the leader: its double should come, where there is such a key."""
        if key + self.interval in MIDI_KEYS:
            self.single.append((seconds, key))

    def let_go(self, seconds: float) -> None:
        """What has no double at this time will have none."""
        overdue = [one for one in self.single if seconds - one[0] > LAYER]
        self.missed += len(overdue)
        self.single = [one for one in self.single if one not in overdue]

    def hear(self, key: int) -> None:
        """A key of the channel that may double."""
        partner = next((one for one in self.single if one[1] == key - self.interval), None)
        if partner is None:
            self.missed += 1
        else:
            self.single.remove(partner)
            self.doubled += 1


class Layers:
    """Follows the presses of all channels. A channel is played if the first of its keys comes with no octave."""

    def __init__(self, known: Collection[int] | None = None) -> None:
        """Begin.

        Args:
            known: The channels that are layers, where that is known; all others are played.
        """
        self._known = known
        self._own: set[int] = set()
        self._supposed: dict[int, list[_Doubling]] = {}
        self._recent: list[tuple[float, int, int]] = []

    def press(self, seconds: float, channel: int, key: int) -> Fate:
        """What a press is.

        Args:
            seconds: When it came; `settle` has been called for that time.
            channel: Its channel.
            key: Its key.
        """
        fate = self._fate(channel, key)
        if fate == "own":
            self._recent.append((seconds, channel, key))
            for doubling in self._all():
                if doubling.leader == channel:
                    doubling.wait_for(seconds, key)
        return fate

    @property
    def found(self) -> frozenset[int]:
        """The channels that are layers for certain."""
        return frozenset(channel for channel, some in self._supposed.items() if _sure(some))

    def settle(self, seconds: float) -> tuple[int, ...]:
        """The channels that turn out, at this time, to be no layer: what was held back of them was played."""
        self._recent = [one for one in self._recent if seconds - one[0] <= LAYER]
        for doubling in self._all():
            doubling.let_go(seconds)
        return tuple(channel for channel in tuple(self._supposed) if self._is_own(channel))

    def _all(self) -> list[_Doubling]:
        return [doubling for some in self._supposed.values() for doubling in some]

    def _fate(self, channel: int, key: int) -> Fate:
        if self._known is not None:
            return "passed" if channel in self._known else "own"
        if channel in self._own:
            return "own"
        if channel not in self._supposed:
            self._supposed[channel] = self._suppositions(channel, key)
        for doubling in self._supposed[channel]:
            doubling.hear(key)
        if self._is_own(channel):
            return "own"
        return "passed" if _sure(self._supposed[channel]) else "held"

    def _suppositions(self, channel: int, key: int) -> list[_Doubling]:
        """What a channel that is heard for the first time may double."""
        found = {(leader, key - struck) for _, leader, struck in self._recent if key - struck in OCTAVES}
        doublings = []
        for leader, interval in sorted(found):
            doubling = _Doubling(leader, interval, [])
            for seconds, other, struck in self._recent:
                if other == leader:
                    doubling.wait_for(seconds, struck)
            doublings.append(doubling)
        return doublings

    def _is_own(self, channel: int) -> bool:
        self._supposed[channel] = [doubling for doubling in self._supposed[channel] if doubling.holds]
        if self._supposed[channel]:
            return False
        del self._supposed[channel]
        self._own.add(channel)
        return True


def _sure(suppositions: Iterable[_Doubling]) -> bool:
    return any(doubling.doubled >= SURE for doubling in suppositions)


def layers_of(presses: Iterable[tuple[float, int, int]]) -> frozenset[int]:
    """The channels of a whole take that are layers.

    Args:
        presses: Seconds, channel and key of each, in order of time.
    """
    layers = Layers()
    for seconds, channel, key in presses:
        layers.settle(seconds)
        layers.press(seconds, channel, key)
    layers.settle(float("inf"))
    return layers.found
