"""The MIDI keyboard: an input that is found by name, time-stamped where it arrives, and survives unplugging."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

from coach.paper.systems import NO_SYSTEM, Port, chosen, client, names_of, ports

LOOK_EVERY = 0.25
"""Seconds between two looks at what is plugged in: less than a keyboard takes to be off and on again, which only its
being gone tells."""

SILENCE_TO_ASK_AGAIN = 10.0
"""Seconds without any message after which the MIDI system itself is asked whether it is alive: a client of a JACK
server that died is told nothing."""

READ_EVERY = 0.002
"""Seconds between two looks for messages: two of those that a MIDI cable carries in a row (MIDI 1.0: 31,250 baud)."""

CATCH_UP = 0.05
"""Seconds by which a message may be thought older than it was read, and more only where nobody looked for so long.
Beyond, the system's own clock is not believed."""

Linked = Literal["listening", "unplugged", "nothing", "no system", "taken"]


@dataclass(frozen=True, slots=True)
class Link:
    """How things stand between the coach and the keyboard.

    Attributes:
        state: "listening"; "unplugged" (it was there and comes back by itself); "nothing" (no instrument yet);
            "no system" (no MIDI on this machine); "taken" (another program holds it).
        name: The instrument, "" where there is none.
        sentence: For the player.
    """

    state: Linked
    name: str
    sentence: str


class Stamp:
    """Seconds of `time.perf_counter()` at which a message reached this machine.

    A message may be read late, while Python is busy; the time since the message before, which the MIDI system measures
    itself, is right all the same. A message is taken to be as old as the earlier of its neighbours allows.
    """

    def __init__(self) -> None:
        self._last: float | None = None

    def __call__(self, since_last: float, arrived: float, looked: float) -> float:
        """The moment of a message.

        Args:
            since_last: Seconds since the message before by the MIDI system's clock; 0 for the first.
            arrived: When it was read.
            looked: When there was nothing to read, last.
        """
        moment = arrived
        if self._last is not None:
            thought = self._last + since_last
            if min(looked, arrived - CATCH_UP) <= thought <= arrived:
                moment = thought
        self._last = moment
        return moment


class Keyboard:
    """A MIDI input that is looked for until it is there and again when it was unplugged.

    One thread of the keyboard's own calls `arrived` with the moment and the bytes of each message, another calls
    `changed` whenever the link changes. Both must only hand over.

    Messages are read and not called back for. A callback would make the MIDI system's thread wait for Python, and
    Python, opening another client, for a JACK server that waits for that thread: both stood still for ten seconds.
    """

    def __init__(
        self, arrived: Callable[[float, bytes], None], changed: Callable[[Link], None], wanted: str = ""
    ) -> None:
        """Start with `start`.

        Args:
            arrived: Takes the moment (seconds of `time.perf_counter()`) and the bytes of a message.
            changed: Takes the new state of the link.
            wanted: Label of the instrument used last, "" for any.
        """
        self._arrived = arrived
        self._changed = changed
        self._wanted = wanted
        self._insist = False
        self._port: Port | None = None
        self._input: Any = None
        self._reader: threading.Thread | None = None
        self._closing = threading.Event()
        self._last_message = 0.0
        self._link: Link | None = None
        self._wake = threading.Event()
        self._stopping = False
        self._thread: threading.Thread | None = None

    @property
    def link(self) -> Link | None:
        """How things stand; None before the first look."""
        return self._link

    def start(self) -> None:
        """Look for the keyboard from now on."""
        self._thread = threading.Thread(target=self._watch, name="keyboard", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Let go of the keyboard; no message and no change comes after this."""
        self._stopping = True
        self._wake.set()
        if self._thread is not None:
            self._thread.join()
            self._thread = None

    def choose(self, label: str) -> None:
        """Listen to another instrument, and only to that one."""
        self._wanted, self._insist = label, True
        self._wake.set()

    def _watch(self) -> None:
        while not self._stopping:
            self._look()
            self._wake.wait(LOOK_EVERY)
            self._wake.clear()
        self._close()

    def _look(self) -> None:
        port = self._port
        if port is not None and self._insist and self._wanted not in (port.label, port.name):
            self._close()
            port = self._port = None
        if self._input is not None and port is not None:
            if self._still_there(port):
                return
            self._close()
            self._say("unplugged", port.label, f"{port.label} is gone: plug it in again and play on.")
        self._connect()

    def _still_there(self, port: Port) -> bool:
        if port.name not in names_of(self._input):
            return False
        if time.perf_counter() - self._last_message < SILENCE_TO_ASK_AGAIN:
            return True
        self._last_message = time.perf_counter()
        offered = ports("input")
        return offered is not None and any(port.name == other.name for other in offered)

    def _connect(self) -> None:
        offered = ports("input")
        if offered is None:
            self._say("no system", "", f"{NO_SYSTEM[0].upper()}{NO_SYSTEM[1:]}.")
            return
        label = self._port.label if self._port else self._wanted
        found = chosen(offered, label) if label else None
        if found is None and self._port is None and not self._insist:
            found = chosen(offered)
        if found is None:
            if self._port is None:
                missing = f"{self._wanted} is not there" if self._wanted and self._insist else "No MIDI keyboard found"
                self._say("nothing", "", f"{missing}: plug one in and it is heard at once.")
            return
        try:
            self._open(found)
        except OSError:
            self._say("taken", found.label, f"{found.label} is used by another program: close it there.")

    def _open(self, port: Port) -> None:
        opened = client(port.system, "input")
        names = names_of(opened)
        if port.name not in names:
            opened.delete()
            return
        # Nothing is ignored here: rtmidi measures from the last message, ignored ones included.
        opened.ignore_types(sysex=False, timing=False, active_sense=False)
        try:
            opened.open_port(names.index(port.name), "input")
        except Exception as error:  # rtmidi raises errors of several families here, by system
            opened.delete()
            raise OSError(str(error)) from error
        back = self._port is not None and self._link is not None and self._link.state == "unplugged"
        self._input, self._port = opened, port
        self._last_message = time.perf_counter()
        self._closing = threading.Event()
        self._reader = threading.Thread(
            target=self._read, args=(opened, self._closing), name="keyboard's messages", daemon=True
        )
        self._reader.start()
        self._say("listening", port.label, f"{port.label} is back." if back else f"Listening to {port.label}.")

    def _read(self, opened: Any, closing: threading.Event) -> None:
        stamp, looked = Stamp(), time.perf_counter()
        while not closing.is_set():
            began = time.perf_counter()
            message = opened.get_message()
            if message is None:
                looked = began
                closing.wait(READ_EVERY)
                continue
            moment = stamp(message[1], time.perf_counter(), looked)
            self._last_message = moment
            self._arrived(moment, bytes(message[0]))

    def _close(self) -> None:
        self._closing.set()
        if self._reader is not None:
            self._reader.join()
            self._reader = None
        if self._input is not None:
            self._input.close_port()
            self._input.delete()
            self._input = None

    def _say(self, state: Linked, name: str, sentence: str) -> None:
        link = Link(state, name, sentence)
        if link != self._link:
            self._link = link
            if not self._stopping:
                self._changed(link)
