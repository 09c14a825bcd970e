"""What the messages of a MIDI keyboard mean: bytes in, key presses, releases and pedal out.

MIDI 1.0 Detailed Specification (MIDI Association, 1996): note-on with velocity 0 is a release; channel mode messages
120 and 123 to 127 end all notes of their channel; 0xFF resets; clock, active sensing and all else say nothing of keys.
"""

from __future__ import annotations

from coach.listening.events import ENDS_ALL_NOTES, LAYER, SUSTAIN, Event


class Decoder:
    """Follows the keys of an instrument, whatever it sends, so that every key is up or down once.

    Layered channels count once; a key struck while it is thought down (its release was lost, or it was stuck) comes up
    first; a key whose instrument is gone comes up.
    """

    def __init__(self) -> None:
        self._down: dict[int, set[int]] = {}
        self._struck_at: dict[int, float] = {}
        self._pedal: dict[int, int] = {}

    @property
    def down(self) -> frozenset[int]:
        """Keys that are down."""
        return frozenset(self._down)

    def read(self, seconds: float, message: bytes) -> tuple[Event, ...]:
        """What one message says.

        Args:
            seconds: When it arrived.
            message: One whole MIDI message, status byte first; anything else is passed over.
        """
        if not message:
            return ()
        status = message[0]
        if status == 0xFF:
            return self.silence(seconds)
        if len(message) != 3 or not 0x80 <= status < 0xF0 or any(data > 127 for data in message[1:]):
            return ()
        kind, channel, key, value = status & 0xF0, status & 0x0F, message[1], message[2]
        if kind == 0x90 and value > 0:
            return self._press(seconds, channel, key, value)
        if kind in (0x80, 0x90):
            return self._release(seconds, channel, key, value if kind == 0x80 else 64)
        if kind == 0xB0 and key == SUSTAIN:
            return self._sustain(seconds, channel, value)
        if kind == 0xB0 and key in ENDS_ALL_NOTES:
            return tuple(
                event
                for sounding in sorted(self._down)
                if channel in self._down[sounding]
                for event in self._release(seconds, channel, sounding, 64)
            )
        return ()

    def silence(self, seconds: float) -> tuple[Event, ...]:
        """Everything comes up: the instrument was unplugged, or reset."""
        released = tuple(Event(seconds, "release", key, 64) for key in sorted(self._down))
        pedal = (Event(seconds, "pedal", SUSTAIN, 0),) if max(self._pedal.values(), default=0) else ()
        self._down.clear()
        self._pedal.clear()
        return released + pedal

    def _press(self, seconds: float, channel: int, key: int, velocity: int) -> tuple[Event, ...]:
        if key in self._down and seconds - self._struck_at[key] <= LAYER:
            self._down[key].add(channel)
            return ()
        again = (Event(seconds, "release", key, 64),) if key in self._down else ()
        self._down[key] = {channel}
        self._struck_at[key] = seconds
        return (*again, Event(seconds, "press", key, velocity))

    def _release(self, seconds: float, channel: int, key: int, velocity: int) -> tuple[Event, ...]:
        channels = self._down.get(key)
        if channels is None or channel not in channels:
            return ()
        channels.discard(channel)
        if channels:
            return ()
        del self._down[key]
        return (Event(seconds, "release", key, velocity),)

    def _sustain(self, seconds: float, channel: int, value: int) -> tuple[Event, ...]:
        before = max(self._pedal.values(), default=0)
        self._pedal[channel] = value
        after = max(self._pedal.values())
        return (Event(seconds, "pedal", SUSTAIN, after),) if after != before else ()
