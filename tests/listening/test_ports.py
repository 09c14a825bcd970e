"""A keyboard over real virtual MIDI ports: found, heard in time, unplugged, plugged in again."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from coach.listening.ports import Keyboard, Link, Stamp
from coach.paper import systems
from coach.paper.systems import Port, System, chosen

ALSA = System("ALSA", 2)


def until(fact: Callable[[], object], seconds: float = 5.0) -> bool:
    limit = time.monotonic() + seconds
    while time.monotonic() < limit:
        if fact():
            return True
        time.sleep(0.01)
    return bool(fact())


class Listener:
    """Keeps what a keyboard hands over."""

    def __init__(self, wanted: str = "") -> None:
        self.messages: list[tuple[float, bytes]] = []
        self.links: list[Link] = []
        self.keyboard = Keyboard(lambda at, data: self.messages.append((at, data)), self.links.append, wanted)
        self.keyboard.start()

    @property
    def state(self) -> str:
        return self.links[-1].state if self.links else ""

    def hears(self, *messages: tuple[int, ...]) -> bool:
        return until(lambda: [data for _, data in self.messages] == [bytes(each) for each in messages])


@pytest.fixture
def listen() -> Iterator[Callable[..., Listener]]:
    open_ones: list[Listener] = []

    def start(wanted: str = "") -> Listener:
        open_ones.append(Listener(wanted))
        return open_ones[-1]

    yield start
    for each in open_ones:
        each.keyboard.stop()


def test_the_keyboard_that_is_plugged_in_is_heard(piano: Any, listen: Callable[..., Listener]) -> None:
    listener = listen()
    assert until(lambda: listener.state == "listening")
    assert listener.links[-1].sentence == "Listening to Test Piano:keys."
    piano.press(60)
    piano.release(60)
    piano.pedal(127)
    assert listener.hears((0x90, 60, 64), (0x80, 60, 64), (0xB0, 64, 127))


def test_messages_are_stamped_where_they_arrive(piano: Any, listen: Callable[..., Listener]) -> None:
    """Within 10 ms of leaving the piano, however late they are read."""
    listener = listen()
    assert until(lambda: listener.state == "listening")
    sent = []
    for key in range(60, 70):
        sent.append(time.perf_counter())
        piano.press(key)
        time.sleep(0.03)
    assert until(lambda: len(listener.messages) == 10)
    late = [at - left for (at, _), left in zip(listener.messages, sent, strict=True)]
    assert all(-0.002 < each < 0.010 for each in late), late


def test_a_keyboard_plugged_in_later_is_heard_at_once(jack_server: Any, listen: Callable[..., Listener]) -> None:
    listener = listen()
    assert until(lambda: listener.state == "nothing")
    out = jack_server.client("output", "Late Piano")
    out.open_virtual_port("keys")
    try:
        assert until(lambda: listener.state == "listening")
        assert listener.links[-1].name == "Late Piano:keys"
    finally:
        out.delete()


def test_unplugging_is_said_and_plugging_in_again_is_enough(piano: Any, listen: Callable[..., Listener]) -> None:
    listener = listen()
    assert until(lambda: listener.state == "listening")
    piano.press(60)
    assert until(lambda: len(listener.messages) == 1)
    for _ in range(2):
        piano.unplug()
        assert until(lambda: listener.state == "unplugged")
        assert listener.links[-1].sentence == "Test Piano:keys is gone: plug it in again and play on."
        piano.plug_in()
        assert until(lambda: listener.state == "listening")
        assert listener.links[-1].sentence == "Test Piano:keys is back."
    piano.press(64)
    assert listener.hears((0x90, 60, 64), (0x90, 64, 64))


def test_while_it_is_unplugged_no_other_instrument_takes_its_place(
    piano: Any, jack_server: Any, listen: Callable[..., Listener]
) -> None:
    listener = listen("Test Piano:keys")
    other = jack_server.client("output", "Another")
    other.open_virtual_port("keys")
    try:
        assert until(lambda: listener.state == "listening")
        assert listener.links[-1].name == piano.label
        piano.unplug()
        assert until(lambda: listener.state == "unplugged")
        time.sleep(1.2)
        assert listener.state == "unplugged"
        listener.keyboard.choose("Another:keys")
        assert until(lambda: listener.state == "listening")
        assert listener.links[-1].name == "Another:keys"
    finally:
        other.delete()


def test_the_instrument_used_last_is_chosen_by_name_and_another_one_when_it_is_not_there(
    piano: Any, jack_server: Any, listen: Callable[..., Listener]
) -> None:
    other = jack_server.client("output", "Another")
    other.open_virtual_port("keys")
    try:
        wanted, missing = listen("Another:keys"), listen("Sold Years Ago:keys")
        assert until(lambda: wanted.state == "listening" and missing.state == "listening")
        assert wanted.links[-1].name == "Another:keys"
        assert missing.links[-1].name in ("Another:keys", piano.label)
    finally:
        other.delete()


def test_two_coaches_hear_one_piano_and_neither_minds_the_other(piano: Any, listen: Callable[..., Listener]) -> None:
    first, second = listen(), listen()
    assert until(lambda: first.state == second.state == "listening")
    piano.press(67)
    assert first.hears((0x90, 67, 64))
    assert second.hears((0x90, 67, 64))
    first.keyboard.stop()
    piano.release(67)
    assert second.hears((0x90, 67, 64), (0x80, 67, 64))
    assert len(first.messages) == 1


def test_playing_goes_on_while_the_midi_system_is_asked_for_its_ports(
    piano: Any, listen: Callable[..., Listener]
) -> None:
    """JACK lets a new client in only when its other clients have returned, and the new one keeps Python waiting.

    Were messages called back for, both would stand still until JACK gives up, 10 s later and more.
    """
    listener = listen()
    assert until(lambda: listener.state == "listening")
    sent: list[bytes] = []
    enough = threading.Event()

    def play() -> None:
        while not enough.is_set():
            for status in (0x90, 0x80):
                piano.send(status, 60, 64)
                sent.append(bytes((status, 60, 64)))
            time.sleep(0.004)

    pianist = threading.Thread(target=play)
    pianist.start()
    began = time.monotonic()
    try:
        for _ in range(20):
            systems.ports("output")
            if time.monotonic() - began > 8:
                break
    finally:
        enough.set()
        pianist.join()
    assert time.monotonic() - began < 8, "JACK and Python waited for each other"
    assert sent
    assert until(lambda: len(listener.messages) >= len(sent))
    assert [data for _, data in listener.messages] == sent


def test_a_midi_server_that_dies_and_comes_back_is_found_again(
    jack_server: Any, listen: Callable[..., Listener], monkeypatch: pytest.MonkeyPatch
) -> None:
    """JACK tells its clients nothing; the coach asks after a silence (shortened here)."""
    monkeypatch.setattr("coach.listening.ports.SILENCE_TO_ASK_AGAIN", 0.5)
    monkeypatch.setenv("JACK_DEFAULT_SERVER", f"{jack_server.name}-mortal")
    server = type(jack_server)(f"{jack_server.name}-mortal")
    server.start()
    out = server.client("output", "Piano")
    out.open_virtual_port("keys")
    listener = listen()
    assert until(lambda: listener.state == "listening")
    out.delete()
    server.stop()
    assert until(lambda: listener.state in ("unplugged", "no system"))
    server.start()
    out = server.client("output", "Piano")
    out.open_virtual_port("keys")
    assert until(lambda: listener.state == "listening")
    out.send_message([0x90, 60, 64])
    assert listener.hears((0x90, 60, 64))
    listener.keyboard.stop()
    out.delete()
    server.stop()


def test_a_machine_without_midi_gets_a_plain_sentence(
    monkeypatch: pytest.MonkeyPatch, listen: Callable[..., Listener]
) -> None:
    """No ALSA sequencer and no JACK server, as in a container."""
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "no-such-server")
    monkeypatch.setattr(systems, "systems", lambda: tuple(s for s in _built_for() if s.name == "JACK"))
    listener = listen()
    assert until(lambda: listener.state == "no system")
    assert listener.links[-1].sentence == (
        "This machine has no MIDI system that answers: the coach works, but it hears no keyboard and makes no sound."
    )


_built_for = systems.systems


@pytest.mark.parametrize(
    ("name", "label"),
    [
        ("Digital Piano:Digital Piano MIDI 1 20:0", "Digital Piano:Digital Piano MIDI 1"),
        ("Stage:keys", "Stage:keys"),
        ("Opus 12", "Opus 12"),
    ],
)
def test_alsa_numbers_are_no_part_of_a_name(name: str, label: str) -> None:
    assert Port(name, ALSA).label == label


def test_a_port_that_passes_on_is_chosen_only_by_name() -> None:
    through = Port("Midi Through:Midi Through Port-0 14:0", ALSA)
    piano = Port("Digital Piano:Digital Piano MIDI 1 20:0", ALSA)
    coach = Port("chorale coach:sound", ALSA)
    assert chosen((through, coach, piano)) == piano
    assert chosen((through, coach)) is None
    assert chosen((through, piano), "Midi Through:Midi Through Port-0") == through
    assert chosen((through, piano), "Digital Piano:Digital Piano MIDI 1") == piano
    assert chosen((piano,), "Stage:keys") is None


def test_a_message_read_late_is_dated_by_the_systems_clock() -> None:
    """Three notes 100 ms apart; the second is read 30 ms late."""
    stamp = Stamp()
    assert [stamp(0.0, 5.0, 5.0), stamp(0.1, 5.13, 5.12), stamp(0.1, 5.2, 5.2)] == pytest.approx([5.0, 5.1, 5.2])


def test_the_systems_clock_is_not_believed_far_from_the_arrival() -> None:
    stamp = Stamp()
    assert stamp(0.0, 5.0, 5.0) == 5.0
    assert stamp(0.1, 7.0, 6.99) == 7.0
    assert stamp(3.0, 7.5, 7.4) == 7.5


def test_after_a_stall_messages_keep_their_distances() -> None:
    """Four messages at 0, 500, 560 and 1,060 ms; nobody looks from 498 to 648 ms."""
    stamp = Stamp()
    read = [(0.0, 5.0, 4.999), (0.5, 5.648, 5.498), (0.06, 5.648, 5.498), (0.5, 6.061, 6.06)]
    assert [stamp(*each) for each in read] == pytest.approx([5.0, 5.5, 5.56, 6.06])


class Vanishing:
    """A client whose only port goes between being counted and being named."""

    def get_ports(self) -> list[str]:
        raise ValueError("port number out of range")


def test_a_port_that_goes_while_it_is_looked_at_is_gone() -> None:
    assert systems.names_of(Vanishing()) == []
