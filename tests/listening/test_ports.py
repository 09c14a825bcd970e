"""A keyboard over real virtual MIDI ports: found, heard in time, unplugged, plugged in again."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from coach.listening.ports import Keyboard, Link, Stamp
from coach.paper import systems
from coach.paper.systems import Port, System, called, chosen

ALSA, WINDOWS = System("ALSA", 2), System("Windows MIDI", 4)


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
        self.in_a_take = False
        self.keyboard = Keyboard(
            lambda at, data: self.messages.append((at, data)), self.links.append, wanted, lambda: self.in_a_take
        )
        self.keyboard.start()

    def said(self, sentence: str) -> bool:
        return until(lambda: self.links and self.links[-1].sentence == sentence)

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


@pytest.fixture
def plug(jack_server: Any) -> Iterator[Callable[..., Any]]:
    """Plugs another instrument in: `out = plug("Pad", "pads")`; `out.delete()` unplugs it."""
    plugged: list[Any] = []

    def in_(name: str, port: str = "keys") -> Any:
        out = jack_server.client("output", name)
        out.open_virtual_port(port)
        plugged.append(out)
        return out

    yield in_
    for out in plugged:
        if not out.is_deleted:
            out.delete()


def test_another_instrument_only_stands_in_for_the_players_until_that_is_there(
    plug: Callable[..., Any], listen: Callable[..., Listener]
) -> None:
    """A pad controller is always on; the piano is switched on when the coach has begun already."""
    pad = plug("Pad Controller", "pads")
    listener = listen("Digital Piano:keys")
    assert listener.said("Digital Piano:keys is not there: listening to Pad Controller:pads instead.")
    assert listener.links[-1].instead_of == "Digital Piano:keys"
    pad.send_message([0x90, 40, 64])
    assert listener.hears((0x90, 40, 64))
    played = plug("Digital Piano")
    assert listener.said("Listening to Digital Piano:keys.")
    assert listener.links[-1].instead_of == ""
    played.send_message([0x90, 60, 64])
    assert listener.hears((0x90, 40, 64), (0x90, 60, 64))


def test_a_take_on_the_instrument_that_stands_in_is_not_broken_into(
    plug: Callable[..., Any], listen: Callable[..., Listener]
) -> None:
    other = plug("Another")
    listener = listen("Digital Piano:keys")
    assert until(lambda: listener.state == "listening")
    listener.in_a_take = True
    other.send_message([0x90, 60, 64])
    assert listener.hears((0x90, 60, 64))
    plug("Digital Piano")
    time.sleep(2.5)
    assert listener.links[-1].name == "Another:keys"
    listener.in_a_take = False
    assert listener.said("Listening to Digital Piano:keys.")


def test_a_take_that_waits_for_the_players_instrument_gets_it_back(
    plug: Callable[..., Any], listen: Callable[..., Listener], monkeypatch: pytest.MonkeyPatch
) -> None:
    """It was unplugged in the take; what stands in for it meanwhile was not played on."""
    monkeypatch.setattr("coach.listening.ports.PATIENCE", 0.5)
    mine = plug("Digital Piano")
    listener = listen("Digital Piano:keys")
    assert listener.said("Listening to Digital Piano:keys.")
    plug("Another")
    time.sleep(0.6)
    listener.in_a_take = True
    mine.delete()
    assert listener.said("Digital Piano:keys is not there: listening to Another:keys instead.")
    plug("Digital Piano")
    assert listener.said("Digital Piano:keys is back.")


def test_plugged_in_again_under_another_number_it_is_the_same_instrument(
    plug: Callable[..., Any], listen: Callable[..., Listener]
) -> None:
    """A bridge from ALSA to JACK writes ALSA's client number into the name of the port."""
    first = plug("a2j", "Digital Piano [20] (capture): MIDI 1")
    listener = listen()
    assert listener.said("Listening to a2j:Digital Piano (capture): MIDI 1.")
    first.delete()
    assert until(lambda: listener.state == "unplugged")
    again = plug("a2j", "Digital Piano [24] (capture): MIDI 1")
    assert listener.said("a2j:Digital Piano (capture): MIDI 1 is back.")
    again.send_message([0x90, 60, 64])
    assert listener.hears((0x90, 60, 64))


def test_an_instrument_remembered_with_its_number_is_found_under_another(
    plug: Callable[..., Any], listen: Callable[..., Listener]
) -> None:
    plug("Another")
    plug("a2j", "Digital Piano [24] (capture): MIDI 1")
    listener = listen("a2j:Digital Piano [20] (capture): MIDI 1")
    assert listener.said("Listening to a2j:Digital Piano (capture): MIDI 1.")


def test_another_piano_plugged_in_for_the_one_that_is_gone_is_heard(
    plug: Callable[..., Any], listen: Callable[..., Listener], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("coach.listening.ports.PATIENCE", 0.5)
    mine = plug("Digital Piano")
    listener = listen()
    assert until(lambda: listener.state == "listening")
    mine.delete()
    assert until(lambda: listener.state == "unplugged")
    other = plug("Stage Piano")
    assert listener.said("Digital Piano:keys is not there: listening to Stage Piano:keys instead.")
    other.send_message([0x90, 60, 64])
    assert listener.hears((0x90, 60, 64))
    other.delete()
    assert listener.said("Stage Piano:keys is gone: plug it in again and play on.")
    plug("Digital Piano")
    assert listener.said("Digital Piano:keys is back.")


def test_which_of_several_others_is_meant_nobody_knows(
    plug: Callable[..., Any], listen: Callable[..., Listener], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("coach.listening.ports.PATIENCE", 0.2)
    mine = plug("Digital Piano")
    listener = listen("Digital Piano:keys")
    assert until(lambda: listener.state == "listening")
    plug("Pad Controller", "pads")
    plug("Stage Piano")
    time.sleep(0.4)
    mine.delete()
    assert until(lambda: listener.state == "unplugged")
    time.sleep(1.2)
    assert listener.state == "unplugged"


def test_of_two_pianos_of_one_name_the_other_is_not_the_one_that_is_back(
    plug: Callable[..., Any], listen: Callable[..., Listener], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Their numbers alone tell them apart while both are there."""
    monkeypatch.setattr("coach.listening.ports.PATIENCE", 1.0)
    mine, _other = plug("Piano [20]"), plug("Piano [24]")
    listener = listen("Piano [20]:keys")
    assert listener.said("Listening to Piano [20]:keys.")
    time.sleep(0.6)
    mine.delete()
    assert until(lambda: listener.state == "unplugged")
    time.sleep(0.5)
    assert listener.state == "unplugged"
    assert listener.said("Piano [20]:keys is not there: listening to Piano [24]:keys instead.")
    plug("Piano [28]")
    assert listener.said("Piano [28]:keys is back.")
    listener.keyboard.choose("Piano [24]:keys")
    assert listener.said("Listening to Piano [24]:keys.")


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
        ("a2j:Digital Piano [20] (capture): MIDI 1", "a2j:Digital Piano (capture): MIDI 1"),
        ("a2j:Digital Piano [20] (capture): [0] MIDI 1", "a2j:Digital Piano (capture): MIDI 1"),
        ("Digital Piano:Digital Piano MIDI 1 20:0", "Digital Piano:Digital Piano MIDI 1"),
        ("Stage:keys", "Stage:keys"),
        ("Opus 12", "Opus 12"),
    ],
)
def test_alsa_numbers_are_no_part_of_a_name(name: str, label: str) -> None:
    assert Port(name, ALSA).label == label


@pytest.mark.parametrize(
    ("name", "label"),
    [("Digital Piano 3", "Digital Piano"), ("2- Digital Piano 0", "Digital Piano"), ("Opus 12 1", "Opus 12")],
)
def test_places_in_the_list_of_windows_are_no_part_of_a_name(name: str, label: str) -> None:
    """python-rtmidi appends them; Windows itself numbers an instrument that was plugged into another socket."""
    assert Port(name, WINDOWS).label == label


def test_an_instrument_is_found_whatever_its_numbers_are_today() -> None:
    on_windows = (Port("Pad Controller 0", WINDOWS), Port("Digital Piano 1", WINDOWS))
    assert chosen(on_windows, "Digital Piano 0") == on_windows[1]
    assert chosen(on_windows, "Digital Piano") == on_windows[1]
    assert chosen((Port("Piano:Piano MIDI 1 24:0", ALSA),), "Piano:Piano MIDI 1 20:0") is not None


def test_two_pianos_of_one_name_are_told_apart_by_their_numbers() -> None:
    first, second = (Port(f"Piano:Piano MIDI 1 {number}:0", ALSA) for number in (20, 24))
    alone = Port("Stage:keys", ALSA)
    offered = (first, second, alone)
    assert [called(port, offered) for port in offered] == [first.name, second.name, "Stage:keys"]
    assert chosen(offered, second.name) == second
    assert called(second, (second, alone)) == "Piano:Piano MIDI 1"


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


def test_a_system_that_is_busy_for_a_moment_is_asked_again_before_it_is_called_gone(
    piano: Any, listen: Callable[..., Listener], monkeypatch: pytest.MonkeyPatch
) -> None:
    listener = listen()
    assert until(lambda: listener.state == "listening")
    asked = []

    def busy_once(direction: systems.Direction) -> tuple[Port, ...] | None:
        asked.append(direction)
        return None if len(asked) == 1 else ()

    monkeypatch.setattr("coach.listening.ports.ports", busy_once)
    piano.unplug()
    assert until(lambda: len(asked) > 2)
    assert [link.state for link in listener.links] == ["listening", "unplugged"]
