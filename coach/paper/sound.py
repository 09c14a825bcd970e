"""Sound: a planned phrase and the beat as MIDI messages in time, and a MIDI output that plays them."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterable, Iterator, Sequence, Set
from dataclasses import dataclass
from typing import Any

from coach.fingering.plan import SIDES, PlannedChord, PlannedNote, Side
from coach.paper.systems import Port, chosen, client, names_of, ports

Message = tuple[float, bytes]
"""Seconds from the start, and one MIDI message."""

LIFT = 0.25
"""Quarter notes that a hand is off the keys at a lift, never more than a third of the note (common practice)."""

RESTRIKE = 0.1
"""Quarter notes that a key is up before it is struck again (common practice)."""

ROLL = 0.05
"""Seconds between the notes of a rolled chord (common practice)."""

SHORTEST = 0.05
"""Seconds that a key is down at least."""

VELOCITY = {"soprano": 76, "bass": 68}
"""How firmly the outer voices are struck; the inner ones at 60, so that the tune is heard."""

PERCUSSION = 9
"""Channel 10, the percussion channel of General MIDI."""

CLICK = {True: (76, 110), False: (77, 80)}
"""Key and velocity of the first beat of a bar, and of the others: General MIDI's high and low wood block."""

OVERDUE = 0.15
"""Seconds after its time from which a note is better left out than sounded."""

CLICK_LENGTH = 0.03
"""Seconds a click is held."""


def sounding(chords: Sequence[PlannedChord], quarter_bpm: float, sides: Sequence[Side] = SIDES) -> tuple[Message, ...]:
    """The phrase as planned, lifts and all.

    Args:
        chords: Chords in order; time starts with the first.
        quarter_bpm: Quarter notes a minute.
        sides: The hands to hear.
    """
    if not chords:
        return ()
    second = 60.0 / quarter_bpm
    start = chords[0].onset
    struck = {(note.midi, note.onset) for chord in chords for note in chord.notes if note.struck}
    strokes: list[_Stroke] = []
    for note, place in _played(chords, sides):
        until = _release(note, chords, place, struck)
        rolled = [each for each in chords[place].played_by(note.hand or "right") if each.struck and each.rolled]
        delay = ROLL * sorted(rolled, key=lambda each: each.midi).index(note) if note in rolled else 0.0
        pressed = (note.onset - start) * second + delay
        released = max((until - start) * second, pressed + SHORTEST)
        strokes.append(_Stroke(note.midi, VELOCITY.get(note.voice, 60), pressed, released))
    messages: list[Message] = []
    for stroke in _one_at_a_time(strokes, RESTRIKE * second):
        messages.append((stroke.pressed, bytes((0x90, stroke.key, stroke.velocity))))
        messages.append((stroke.released, bytes((0x80, stroke.key, 64))))
    # Of messages at one time, releases go first: a key comes up before it is struck.
    return tuple(sorted(messages, key=lambda each: (each[0], each[1][0])))


@dataclass(slots=True)
class _Stroke:
    """A key from its press to its release, in seconds."""

    key: int
    velocity: int
    pressed: float
    released: float


def _one_at_a_time(strokes: Sequence[_Stroke], up: float) -> Iterator[_Stroke]:
    """Where a second voice comes to a key that is down, the key is struck again and lasts as long as either asks.

    Args:
        strokes: In order of time.
        up: Seconds that a key is up before it is struck again, where there is room for them.
    """
    last: dict[int, _Stroke] = {}
    for stroke in sorted(strokes, key=lambda each: each.pressed):
        before = last.get(stroke.key)
        if before is not None and before.released > stroke.pressed:
            stroke.released = max(stroke.released, before.released)
            before.released = max(stroke.pressed - up, (before.pressed + stroke.pressed) / 2)
        last[stroke.key] = stroke
    yield from strokes


def clicks(beats: Iterable[tuple[float, bool]]) -> tuple[Message, ...]:
    """The beat, as wood blocks.

    Args:
        beats: Seconds, and whether it is the first of its bar.
    """
    channel = PERCUSSION
    messages: list[Message] = []
    for seconds, first in beats:
        key, velocity = CLICK[first]
        messages.append((seconds, bytes((0x90 | channel, key, velocity))))
        messages.append((seconds + CLICK_LENGTH, bytes((0x80 | channel, key, 0))))
    return tuple(sorted(messages, key=lambda each: each[0]))


def _played(chords: Sequence[PlannedChord], sides: Sequence[Side]) -> Iterable[tuple[PlannedNote, int]]:
    """Each struck note once a key, with the place of its chord: two voices on one key are one stroke."""
    for place, chord in enumerate(chords):
        keys: dict[int, PlannedNote] = {}
        for note in chord.notes:
            if note.struck and note.hand in sides:
                other = keys.get(note.midi)
                keys[note.midi] = note if other is None or note.end > other.end else other
        for note in keys.values():
            yield note, place


def _release(note: PlannedNote, chords: Sequence[PlannedChord], place: int, struck: Set[tuple[int, float]]) -> float:
    """Where a note's key comes up, in quarter notes: as written, but let go as planned.

    Args:
        note: The note.
        chords: All chords.
        place: Of the chord that strikes it.
        struck: Each key with the onsets at which it is struck.
    """
    end = note.end
    for here in range(place, len(chords)):
        chord = chords[here]
        if chord.onset >= end:
            break
        if here > place and not _holds(chord, note):
            return chord.onset
        part = chord.part(note.hand) if note.hand else None
        held = here + 1 < len(chords) and _holds(chords[here + 1], note)
        if part and part.after in ("lift", "end") and end >= chord.end and not held:
            return chord.end - min(LIFT, note.duration / 3)
    return end - min(RESTRIKE, note.duration / 3) if (note.midi, end) in struck else end


def _holds(chord: PlannedChord, note: PlannedNote) -> bool:
    return any(each.midi == note.midi and each.onset == note.onset and each.hand for each in chord.notes)


class Output:
    """A MIDI output by name. Where it is missing, nothing sounds and nothing fails."""

    def __init__(self, wanted: str = "") -> None:
        """Open nothing yet.

        Args:
            wanted: Label of the output, "" for the first that an instrument may stand behind.
        """
        self.wanted = wanted
        self._port: Port | None = None
        self._found_for = ""
        self._out: Any = None
        self._sounding: set[tuple[int, int]] = set()
        self._lock = threading.Lock()
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None

    @property
    def ready(self) -> bool:
        """Whether there is something to sound on; looks for it."""
        with self._lock:
            return self._connect()

    @property
    def playing(self) -> bool:
        return self._thread is not None and self._thread.is_alive()

    def play(
        self, messages: Sequence[Message], start: float | None = None, done: Callable[[], None] | None = None
    ) -> None:
        """Play from now on, in a thread of its own, instead of what was playing.

        Args:
            messages: In order of time.
            start: The moment of second 0, by `time.perf_counter()`; None for now.
            done: Called in that thread when all was played, not when it was stopped.
        """
        self.stop()
        self._stop = threading.Event()
        begin = time.perf_counter() if start is None else start
        self._thread = threading.Thread(
            target=self._perform, args=(tuple(messages), begin, self._stop, done), name="sound", daemon=True
        )
        self._thread.start()

    def stop(self) -> None:
        """Silence, at once."""
        self._stop.set()
        if self._thread is not None and self._thread is not threading.current_thread():
            self._thread.join()
        self._thread = None
        self._silence()

    def close(self) -> None:
        """Silence, and let go of the output."""
        self.stop()
        with self._lock:
            self._drop()

    def _perform(
        self, messages: tuple[Message, ...], begin: float, stop: threading.Event, done: Callable[[], None] | None
    ) -> None:
        with self._lock:
            self._connect(anew=True)
        for seconds, message in messages:
            early = begin + seconds - time.perf_counter()
            if stop.wait(max(0.0, early)):
                return
            if early > -OVERDUE or message[0] & 0xF0 != 0x90:
                self._send(message)
        if done is not None:
            done()

    def _send(self, message: bytes) -> None:
        with self._lock:
            if self._out is None:
                return
            key = (message[0] & 0x0F, message[1])
            if message[0] & 0xF0 == 0x90:
                self._sounding.add(key)
            else:
                self._sounding.discard(key)
            try:
                self._out.send_message(list(message))
            except Exception:  # the output was unplugged; rtmidi's errors differ by system
                self._drop()

    def _silence(self) -> None:
        for channel, key in sorted(self._sounding):
            self._send(bytes((0x80 | channel, key, 0)))

    def _connect(self, *, anew: bool = False) -> bool:
        """Find the output, or see that it is still there.

        Args:
            anew: Do not trust a connection: an instrument that was off and on again has the same name and hears
                nothing of what is sent to the port that it had before.
        """
        if self._out is not None and self._port is not None:
            asked_for = ("", self._found_for, self._port.label, self._port.name)
            if self.wanted in asked_for and self._still_there(self._port, anew=anew):
                return True
            self._drop()
        found = chosen(ports("output") or (), self.wanted)
        if found is None:
            return False
        try:
            out = client(found.system, "output")
            out.open_port(out.get_ports().index(found.name), "sound")
        except Exception:  # used by another program, or gone; rtmidi's errors differ by system
            return False
        self._out, self._port, self._found_for = out, found, self.wanted
        return True

    def _still_there(self, port: Port, *, anew: bool) -> bool:
        try:
            names = names_of(self._out)
            if port.name in names and anew:
                self._out.close_port()
                self._out.open_port(names.index(port.name), "sound")
        except Exception:  # gone between the look and the opening; rtmidi's errors differ by system
            return False
        return port.name in names

    def _drop(self) -> None:
        if self._out is not None:
            self._out.close_port()
            self._out.delete()
        self._out = self._port = None
        self._sounding.clear()
