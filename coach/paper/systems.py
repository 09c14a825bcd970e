"""Which MIDI systems this machine has, and a client on one of them."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Literal

CLIENT = "chorale coach"
"""The name under which the coach shows itself to a MIDI system."""

NO_SYSTEM = "this machine has no MIDI system that answers: the coach works, but it hears no keyboard and makes no sound"

Direction = Literal["input", "output"]


@dataclass(frozen=True, slots=True)
class System:
    """A MIDI system that answers.

    Attributes:
        name: "ALSA", "JACK", "Core MIDI", "Windows MIDI".
        number: python-rtmidi's number of its API.
    """

    name: str
    number: int


@dataclass(frozen=True, slots=True)
class Port:
    """Another program's or an instrument's port, as the system names it.

    Attributes:
        name: Full name, "Digital Piano:Digital Piano MIDI 1 20:0".
        system: Where it was found.
    """

    name: str
    system: System

    @property
    def label(self) -> str:
        """The name without ALSA's client and port numbers, which change from day to day."""
        stem, _, last = self.name.rpartition(" ")
        client, colon, port = last.partition(":")
        return stem if stem and colon and client.isdigit() and port.isdigit() else self.name

    @property
    def through(self) -> bool:
        """A port that only passes on what other programs send: no instrument stands behind it."""
        return "through" in self.name.lower()

    @property
    def own(self) -> bool:
        """A port of a coach, this one or another."""
        return self.name.startswith(CLIENT)


def client(system: System, direction: Direction) -> Any:
    """A new, unconnected client of a MIDI system: an `rtmidi.MidiIn` or `rtmidi.MidiOut`.

    Raises:
        OSError: the system does not answer.
    """
    import rtmidi

    make = rtmidi.MidiIn if direction == "input" else rtmidi.MidiOut
    try:
        return make(rtapi=system.number, name=CLIENT)
    except (rtmidi.RtMidiError, RuntimeError) as error:
        raise OSError(f"{system.name}: {error}") from error


def systems() -> tuple[System, ...]:
    """The MIDI systems python-rtmidi was built for; whether they answer shows only when a client is made."""
    import rtmidi

    names = {
        rtmidi.API_LINUX_ALSA: "ALSA",
        rtmidi.API_UNIX_JACK: "JACK",
        rtmidi.API_MACOSX_CORE: "Core MIDI",
        rtmidi.API_WINDOWS_MM: "Windows MIDI",
    }
    return tuple(System(names[number], number) for number in rtmidi.get_compiled_api() if number in names)


def names_of(asking: Any) -> list[str]:
    """The full names of the ports that a client can be connected to.

    One may be unplugged between being counted and being named. Then there is nothing to be said of any for now.
    """
    import rtmidi

    try:
        return list(asking.get_ports())
    except (rtmidi.RtMidiError, ValueError):
        return []


def ports(direction: Direction) -> tuple[Port, ...] | None:
    """All ports of one direction on every system that answers; None where no system answers."""
    found: list[Port] = []
    answered = False
    for system in systems():
        try:
            asking = client(system, direction)
        except OSError:
            continue
        answered = True
        found.extend(Port(name, system) for name in names_of(asking))
        asking.delete()
    return tuple(found) if answered else None


def chosen(offered: tuple[Port, ...], wanted: str = "") -> Port | None:
    """The port to use: the wanted one by name, else the first that an instrument may stand behind.

    Ports that pass on what others send, and other coaches' ports, are taken only when asked for by name.

    Args:
        offered: What `ports` found.
        wanted: A port's label or full name, or "" for any; where it is named and absent, none is chosen.
    """
    if wanted:
        return next((port for port in offered if wanted in (port.label, port.name)), None)
    return next((port for port in offered if not port.through and not port.own), None)


@contextmanager
def hushed() -> Iterator[None]:
    """Keep what the MIDI systems' C libraries print about missing devices off standard error.

    For the command line; while a full screen is up, `coach.screens.terminal` sees to it.
    """
    sys.stderr.flush()
    kept = os.dup(2)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(nowhere)
        os.close(kept)
