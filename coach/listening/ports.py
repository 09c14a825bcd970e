"""The MIDI keyboard: an input that is found by name, time-stamped where it arrives, and survives unplugging."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from coach.paper.systems import NO_SYSTEM, Port, called, chosen, client, instruments, names_of, ports

LOOK_EVERY = 0.25
"""Seconds between two looks at what is plugged in: less than a keyboard takes to be off and on again, which only its
being gone tells."""

LOOK_FOR_WANTED = 1.0
"""Seconds between two looks for the instrument that is wanted while another one stands in for it: that asks every MIDI
system, not only the one that is listened to."""

PATIENCE = 4.0
"""Seconds for which an instrument that was unplugged is waited for before another one stands in for it: longer than it
takes to put a cable back (common practice, no source)."""

SILENCE_TO_ASK_AGAIN = 10.0
"""Seconds without any message after which the MIDI system itself is asked whether it is alive: a client of a JACK
server that died is told nothing."""

READ_EVERY = 0.002
"""Seconds between two looks for messages: two of those that a MIDI cable carries in a row (MIDI 1.0: 31,250 baud)."""

CATCH_UP = 0.05
"""Seconds by which a message may be thought older than it was read, and more only where nobody looked for so long.
Beyond, the system's own clock is not believed."""

NOTE_ON = 0x90
"""Status of a key press, channel aside (MIDI 1.0)."""

Linked = Literal["listening", "unplugged", "nothing", "no system", "taken"]


@dataclass(frozen=True, slots=True)
class Link:
    """How things stand between the coach and the keyboard.

    Attributes:
        state: "listening"; "unplugged" (it was there and comes back by itself); "nothing" (no instrument yet);
            "no system" (no MIDI on this machine); "taken" (another program holds it).
        name: The instrument, "" where there is none.
        sentence: For the player.
        instead_of: The instrument that is wanted and not there, where the one that is listened to stands in for it;
            else "".
        port: Full name of the port that is listened to, "" where there is none.
    """

    state: Linked
    name: str
    sentence: str
    instead_of: str = ""
    port: str = ""


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

    One instrument is wanted: the one that was asked for, or the first that was found where none was. Another stands in
    for it while it is not there, and makes room as soon as it is, unless a take goes on that is played on the other.

    One thread of the keyboard's own calls `arrived` with the moment and the bytes of each message, another calls
    `changed` whenever the link changes. Both must only hand over.

    Messages are read and not called back for. A callback would make the MIDI system's thread wait for Python, and
    Python, opening another client, for a JACK server that waits for that thread: both stood still for ten seconds.
    """

    def __init__(
        self,
        arrived: Callable[[float, bytes], None],
        changed: Callable[[Link], None],
        wanted: str = "",
        take_goes_on: Callable[[], bool] = lambda: False,
    ) -> None:
        """Start with `start`.

        Args:
            arrived: Takes the moment (seconds of `time.perf_counter()`) and the bytes of a message.
            changed: Takes the new state of the link.
            wanted: Name of the player's instrument, "" for any.
            take_goes_on: Whether somebody is in the middle of a take; asked in the keyboard's thread.
        """
        self._arrived = arrived
        self._changed = changed
        self._wanted = wanted
        self._take_goes_on = take_goes_on
        self._asked = False
        self._unanswered = 0
        self._waiting_since = float("-inf")
        self._looked_for_wanted = float("-inf")
        self._heard_of: set[str] = set()
        self._beside: frozenset[str] = frozenset()
        self._gone: Port | None = None
        self._port: Port | None = None
        self._stands_in = False
        self._played = False
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

    def choose(self, name: str) -> None:
        """Listen to another instrument, by its label or full name."""
        self._wanted, self._asked = name, True
        self._wake.set()

    def _watch(self) -> None:
        while not self._stopping:
            self._look()
            self._wake.wait(LOOK_EVERY)
            self._wake.clear()
        self._close()

    def _look(self) -> None:
        asked, self._asked = self._asked, False
        if asked:
            self._gone, self._beside = None, frozenset()
            self._heard_of.clear()
        if self._port is not None and not self._still_there(self._port):
            self._lose(self._port)
        if self._port is None or asked or self._may_make_room():
            self._connect(asked)

    def _still_there(self, port: Port) -> bool:
        names = names_of(self._input)
        if port.name not in names:
            return False
        if not self._stands_in:
            self._beside = frozenset(names) - {port.name}
        if time.perf_counter() - self._last_message < SILENCE_TO_ASK_AGAIN:
            return True
        self._last_message = time.perf_counter()
        offered = ports("input")
        return offered is not None and any(port.name == other.name for other in offered)

    def _lose(self, port: Port) -> None:
        """The instrument was unplugged."""
        name = self._link.name if self._link is not None else port.label
        self._close()
        if not self._stands_in:
            self._gone = port
        self._waiting_since = time.perf_counter()
        self._say(Link("unplugged", name, f"{name} is gone: plug it in again and play on."))

    def _may_make_room(self) -> bool:
        """Whether it is time to look for the instrument that another one stands in for."""
        now = time.perf_counter()
        if not self._stands_in or now - self._looked_for_wanted < LOOK_FOR_WANTED:
            return False
        self._looked_for_wanted = now
        return not (self._played and self._take_goes_on())

    def _connect(self, asked: bool) -> None:
        offered = ports("input")
        self._unanswered = self._unanswered + 1 if offered is None else 0
        if offered is None:
            # A system that has answered before may only be busy: it is asked once more.
            if self._port is None and (self._link is None or self._unanswered > 1):
                self._say(Link("no system", "", f"{NO_SYSTEM[0].upper()}{NO_SYSTEM[1:]}."))
            return
        found = self._wanted_of(offered)
        if found is not None:
            self._listen(found, offered, stands_in=False)
            return
        if asked:
            self._close()
            self._waiting_since = time.perf_counter()
        if self._port is not None:
            return
        other = self._stand_in_of(offered)
        if other is not None:
            self._listen(other, offered, stands_in=True)
        elif self._link is None or asked or self._link.state not in ("unplugged", "nothing"):
            there_not = f"{self._wanted} is not there" if asked else "No MIDI keyboard found"
            self._say(Link("nothing", "", f"{there_not}: plug it in and it is heard at once."))

    def _wanted_of(self, offered: Sequence[Port]) -> Port | None:
        """The instrument that is wanted. One of the same name that was there beside it is another one."""
        return chosen([port for port in offered if port.name not in self._beside or not self._gone], self._wanted)

    def _stand_in_of(self, offered: Sequence[Port]) -> Port | None:
        """The instrument to listen to where the wanted one is not there: nobody knows which, where there are several,
        but when the coach begins any is better than none."""
        if time.perf_counter() - self._waiting_since < PATIENCE:
            return None
        others = instruments(offered)
        return others[0] if len(others) == 1 or (others and self._waiting_since == float("-inf")) else None

    def _listen(self, port: Port, offered: Sequence[Port], *, stands_in: bool) -> None:
        name = called(port, offered)
        if stands_in and self._gone is not None and port.label == self._gone.label:
            name = port.name
        if port != self._port:
            self._close()
            try:
                if not self._open(port):
                    return
            except OSError:
                self._say(Link("taken", name, f"{name} is used by another program: close it there."))
                return
        self._stands_in = stands_in
        self._wanted = self._wanted or name
        if stands_in:
            said = f"{self._wanted} is not there: listening to {name} instead."
        else:
            self._gone = None
            said = f"{name} is back." if port.label in self._heard_of else f"Listening to {name}."
            self._heard_of.add(port.label)
        self._say(Link("listening", name, said, self._wanted if stands_in else "", port.name))

    def _open(self, port: Port) -> bool:
        """Open a port; False where it is gone again.

        Raises:
            OSError: another program holds it.
        """
        opened = client(port.system, "input")
        names = names_of(opened)
        if port.name not in names:
            opened.delete()
            return False
        # Nothing is ignored here: rtmidi measures from the last message, ignored ones included.
        opened.ignore_types(sysex=False, timing=False, active_sense=False)
        try:
            opened.open_port(names.index(port.name), "input")
        except Exception as error:  # rtmidi raises errors of several families here, by system
            opened.delete()
            raise OSError(str(error)) from error
        self._input, self._port = opened, port
        self._last_message, self._played = time.perf_counter(), False
        self._closing = threading.Event()
        self._reader = threading.Thread(
            target=self._read, args=(opened, self._closing), name="keyboard's messages", daemon=True
        )
        self._reader.start()
        return True

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
            self._played = self._played or message[0][0] & 0xF0 == NOTE_ON
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
        self._port = None

    def _say(self, link: Link) -> None:
        if link != self._link:
            self._link = link
            if not self._stopping:
                self._changed(link)
