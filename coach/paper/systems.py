"""Which MIDI systems this machine has, and a client on one of them."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Literal

CLIENT = "chorale coach"
"""The name under which the coach shows itself to a MIDI system."""

NO_SYSTEM = "this machine has no MIDI system that answers: the coach works, but it hears no keyboard and makes no sound"

Direction = Literal["input", "output"]

CLIENT_NUMBER = re.compile(r" \[\d+\]| \d+:\d+$")
"""ALSA's numbers of client and port, "Stage Piano MIDI 1 20:0", and those of a bridge from ALSA to JACK, "a2j:Stage
Piano [20] (capture): MIDI 1": they change with the order in which instruments are plugged in."""

WINDOWS_NUMBER = re.compile(r"^\d+- | \d+$")
"""What Windows puts before the name of an instrument that was plugged into another socket, "2- Stage Piano", and the
place in the list of ports that python-rtmidi puts behind it, "Stage Piano 3"."""


@dataclass(frozen=True, slots=True)
class System:
    """A MIDI system that answers.

    Attributes:
        name: "ALSA", "JACK", "Core MIDI", "Windows MIDI".
        number: python-rtmidi's number of its API.
    """

    name: str
    number: int

    def without_numbers(self, name: str) -> str:
        """A port's name without the numbers that tell when or where it was plugged in."""
        plain = CLIENT_NUMBER.sub("", name)
        if self.name == "Windows MIDI":
            plain = WINDOWS_NUMBER.sub("", plain)
        return plain or name


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
        """The name without the numbers in it that change from day to day."""
        return self.system.without_numbers(self.name)

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


def instruments(offered: Sequence[Port]) -> tuple[Port, ...]:
    """The ports that an instrument may stand behind: none that passes on what others send, and no other coach's."""
    return tuple(port for port in offered if not port.through and not port.own)


def chosen(offered: Sequence[Port], wanted: str = "") -> Port | None:
    """The port to use: the wanted one by name, else the first that an instrument may stand behind.

    Ports that pass on what others send, and other coaches' ports, are taken only when asked for by name.

    Args:
        offered: What `ports` found.
        wanted: A port's label or full name, or "" for any; where it is named and absent, none is chosen. A full name
            whose numbers have changed since is still its instrument's.
    """
    if not wanted:
        return next(iter(instruments(offered)), None)
    by_name = [port for port in offered if port.name == wanted]
    by_label = [port for port in offered if port.label == wanted]
    renumbered = [port for port in offered if port.label == port.system.without_numbers(wanted)]
    return next(iter(by_name + by_label + renumbered), None)


def called(port: Port, offered: Sequence[Port]) -> str:
    """What to call a port: its label, or its full name where another one of the same label is there."""
    alike = any(other.label == port.label and other != port for other in offered)
    return port.name if alike else port.label


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
