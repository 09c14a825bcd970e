"""What tests of several floors share: a private JACK server with real virtual MIDI ports."""

from __future__ import annotations

import os
import shutil
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import settings

from coach.practice import days

# A machine that stands still for a moment says nothing of the code: no example has to be done by a deadline.
settings.register_profile("patient", deadline=None)
settings.load_profile("patient")

EARLY, LATER = (3, 4, 5), timedelta(hours=3)
"""Hours about the turn of the day of practice, and by how much later it is in tests that run then."""


def pytest_configure(config: pytest.Config) -> None:
    """Keep the contributor's own record, cuts and choices out of all tests: a shipped piece that was cut anew at home
    would be cut so in them. What is read of scores stays from one run to the next, which saves minutes."""
    cache = config.cache
    assert cache is not None
    os.environ["COACH_HOME"] = str(cache.mkdir("coach-home"))
    if datetime.now(UTC).astimezone().hour in EARLY:
        # A day of practice begins at four: what was played an hour before a test belongs to yesterday then.
        by_the_clock = days.now
        days.now = lambda: by_the_clock() + LATER


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Let one process play all that is played in real time, where tests run in several."""
    for item in items:
        if "jack_server" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.xdist_group("real time"))


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Let a process beside the one that plays in real time leave it the machine, from its first other test on."""
    beside = "PYTEST_XDIST_WORKER" in os.environ and "jack_server" not in getattr(item, "fixturenames", ())
    if beside and os.nice(0) < BEHIND:
        os.nice(BEHIND)


BEHIND = 10
"""How far such a process stands back, in the system's steps of niceness; what is played in real time comes first."""

PERIOD = 256
"""Frames a period, at 48 kHz: 5.3 ms. Shorter ones lose messages when a busy machine runs the server late."""


class JackServer:
    """A JACK server of the tests' own, with the dummy driver: nothing of the machine's sound is touched."""

    def __init__(self, name: str, period: int = PERIOD) -> None:
        self.name = name
        self.period = period
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        self._process = subprocess.Popen(
            # Synchronous: the server waits for its clients, so that nothing is lost between them.
            ["jackd", "-n", self.name, "-r", "-S", "-d", "dummy", "-r", "48000", "-p", str(self.period)],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        until = time.monotonic() + 10
        while time.monotonic() < until:
            if self._process.poll() is not None:
                raise OSError("jackd ended at once")
            try:
                self.client("output").delete()
                return
            except OSError:
                time.sleep(0.1)
        raise OSError("jackd does not answer")

    def stop(self) -> None:
        if self._process is not None:
            self._process.terminate()
            self._process.wait(10)
            self._process = None

    @staticmethod
    def client(direction: str, name: str = "pianist") -> Any:
        """A bare python-rtmidi client, as a piano or a synthesizer would have one."""
        import rtmidi

        make = rtmidi.MidiIn if direction == "input" else rtmidi.MidiOut
        try:
            return make(rtapi=rtmidi.API_UNIX_JACK, name=name)
        except rtmidi.RtMidiError as error:
            raise OSError(str(error)) from error


@pytest.fixture(scope="session")
def jack_server() -> Iterator[JackServer]:
    """One JACK server for the whole run; where CI is set it must start, elsewhere the tests are skipped without it."""
    server = JackServer(f"coach-test-{os.getpid()}")
    before = os.environ.get("JACK_DEFAULT_SERVER")
    os.environ["JACK_DEFAULT_SERVER"] = server.name
    try:
        if shutil.which("jackd") is None:
            raise OSError("jackd is not installed")
        server.start()
    except OSError as error:
        server.stop()
        if os.environ.get("CI"):
            pytest.fail(f"these tests need a JACK server: {error}")
        pytest.skip(f"no JACK server: {error}")
    yield server
    server.stop()
    if before is None:
        del os.environ["JACK_DEFAULT_SERVER"]
    else:
        os.environ["JACK_DEFAULT_SERVER"] = before


class Piano:
    """A keyboard on a virtual MIDI port, to be plugged in, played and unplugged."""

    def __init__(self, name: str) -> None:
        self.name = name
        self._out: Any = None
        self.plug_in()

    def plug_in(self) -> None:
        self._out = JackServer.client("output", self.name)
        self._out.open_virtual_port("keys")

    def unplug(self) -> None:
        if self._out is not None:
            self._out.close_port()
            self._out.delete()
            self._out = None

    @property
    def label(self) -> str:
        return f"{self.name}:keys"

    def send(self, *message: int) -> None:
        self._out.send_message(list(message))

    def press(self, *keys: int, velocity: int = 64) -> None:
        for key in keys:
            self.send(0x90, key, velocity)

    def release(self, *keys: int) -> None:
        for key in keys:
            self.send(0x80, key, 64)

    def pedal(self, value: int) -> None:
        self.send(0xB0, 64, value)


@pytest.fixture
def plug_in_piano(jack_server: JackServer) -> Iterator[Callable[[str], Piano]]:
    """Plugs a keyboard in by name, at any moment of a test."""
    plugged: list[Piano] = []

    def plug_in(name: str) -> Piano:
        plugged.append(Piano(name))
        return plugged[-1]

    yield plug_in
    for each in plugged:
        each.unplug()


@pytest.fixture
def piano(plug_in_piano: Callable[[str], Piano]) -> Piano:
    return plug_in_piano("Test Piano")


class Synthesizer:
    """Hears what is sent to its virtual MIDI port.

    Messages are read and not called back for, as the coach does and for its reason (`coach.listening.ports.Keyboard`).

    Attributes:
        heard: Seconds of `time.perf_counter()` and bytes of each message.
    """

    def __init__(self, name: str) -> None:
        self.name = name
        self.heard: list[tuple[float, list[int]]] = []
        self._in: Any = None
        self._unplugged = threading.Event()
        self._reader: threading.Thread | None = None
        self.plug_in()

    def plug_in(self) -> None:
        self._in = JackServer.client("input", self.name)
        self._in.open_virtual_port("in")
        self._unplugged.clear()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def unplug(self) -> None:
        if self._reader is not None:
            self._unplugged.set()
            self._reader.join()
            self._reader = None
            self._in.close_port()
            self._in.delete()
            self._in = None

    def _read(self) -> None:
        while not self._unplugged.is_set():
            message = self._in.get_message()
            if message is None:
                self._unplugged.wait(0.001)
            else:
                self.heard.append((time.perf_counter(), message[0]))


@pytest.fixture
def synthesizer(jack_server: JackServer) -> Iterator[Synthesizer]:
    plugged_in = Synthesizer("Synth")
    yield plugged_in
    plugged_in.unplug()
