"""What keyboards send, by the MIDI 1.0 Detailed Specification (MIDI Association, 1996)."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.listening.events import Event
from coach.listening.wire import Decoder

Heard = list[tuple[str, int]]


def hear(*messages: tuple[float, Sequence[int]]) -> Heard:
    decoder = Decoder()
    return [(event.kind, event.key) for at, data in messages for event in decoder.read(at, bytes(data))]


def test_a_key_goes_down_and_up() -> None:
    decoder = Decoder()
    assert decoder.read(1.0, bytes((0x90, 60, 70))) == (Event(1.0, "press", 60, 70),)
    assert decoder.down == {60}
    assert decoder.read(1.5, bytes((0x80, 60, 30))) == (Event(1.5, "release", 60, 30),)
    assert decoder.down == set()


def test_note_on_with_velocity_0_is_a_release() -> None:
    assert hear((0, (0x90, 60, 70)), (1, (0x90, 60, 0))) == [("press", 60), ("release", 60)]


def test_clock_active_sensing_and_all_else_say_nothing() -> None:
    others = [
        (0xF8,), (0xFE,), (0xFA,), (0xFC,), (0xF0, 0x7E, 0x7F, 6, 1, 0xF7), (0xC0, 5), (0xD0, 60), (0xA0, 60, 5),
        (0xE0, 0, 64), (0xB0, 1, 60), (0xB0, 7, 100), (0xF2, 0, 0), (0xF1, 0), (),
    ]  # fmt: skip
    assert hear(*((0.0, each) for each in others)) == []


def test_layered_channels_count_once_and_end_with_the_last() -> None:
    assert hear(
        (0.000, (0x90, 60, 70)), (0.002, (0x91, 60, 70)),
        (0.500, (0x80, 60, 0)), (0.503, (0x81, 60, 0)),
        (0.600, (0x90, 60, 70)), (0.602, (0x91, 60, 70)),
    ) == [("press", 60), ("release", 60), ("press", 60)]  # fmt: skip


def test_a_note_doubled_on_its_own_channel_counts_once() -> None:
    assert hear((0, (0x90, 60, 70)), (0.001, (0x90, 60, 70)), (0.5, (0x80, 60, 0)), (0.501, (0x80, 60, 0))) == [
        ("press", 60),
        ("release", 60),
    ]


def test_a_stuck_key_comes_up_before_it_is_struck_again() -> None:
    assert hear((0, (0x90, 60, 70)), (1, (0x90, 60, 70))) == [("press", 60), ("release", 60), ("press", 60)]


def test_a_key_stuck_on_one_layer_is_heard_on_the_other() -> None:
    struck = hear((0, (0x90, 60, 70)), (0, (0x91, 60, 70)), (0.4, (0x80, 60, 0)), (1, (0x90, 60, 70)))
    assert struck == [("press", 60), ("release", 60), ("press", 60)]


def test_all_notes_off_ends_the_keys_of_its_channel() -> None:
    for controller in (120, 123, 124, 125, 126, 127):
        assert hear(
            (0, (0x90, 60, 70)), (0, (0x90, 64, 70)), (0, (0x93, 67, 70)), (1, (0xB0, controller, 0)),
        )[3:] == [("release", 60), ("release", 64)]  # fmt: skip


def test_a_reset_ends_everything() -> None:
    assert hear((0, (0x90, 60, 70)), (0, (0x93, 67, 70)), (0, (0xB0, 64, 127)), (1, (0xFF,)))[3:] == [
        ("release", 60),
        ("release", 67),
        ("pedal", 64),
    ]


def test_the_pedal_keeps_its_half_values_and_repeats_nothing() -> None:
    decoder = Decoder()
    values = [
        event.value
        for at, value in enumerate((0, 20, 64, 64, 90, 127, 40, 0))
        for event in decoder.read(float(at), bytes((0xB0, 64, value)))
    ]
    assert values == [20, 64, 90, 127, 40, 0]


def test_the_pedal_is_down_until_it_is_up_on_every_channel() -> None:
    """A controller is its channel's own; layered channels each send the one pedal (common practice, no source)."""
    decoder = Decoder()
    sent = [(0xB0, 127), (0xB1, 127), (0xB0, 0), (0xB1, 40), (0xB1, 0), (0xB0, 30)]
    events = [decoder.read(float(at), bytes((status, 64, value))) for at, (status, value) in enumerate(sent)]
    assert [[event.value for event in some] for some in events] == [[127], [], [], [40], [0], [30]]


def test_sostenuto_and_una_corda_are_no_sustain_pedal() -> None:
    """Controllers 66 and 67 (MIDI 1.0 Detailed Specification, Table 3): the left foot's."""
    assert hear((0, (0xB0, 66, 127)), (1, (0xB0, 64, 127)), (2, (0xB0, 67, 127)), (3, (0xB0, 64, 0))) == [
        ("pedal", 64),
        ("pedal", 64),
    ]


def test_percussion_is_no_keys() -> None:
    """Channel 10 (General MIDI System Level 1)."""
    decoder = Decoder()
    for beat in range(20):
        assert decoder.read(beat, bytes((0x99, 36, 90))) == ()
        assert decoder.read(beat + 0.1, bytes((0x89, 36, 0))) == ()
    assert decoder.only_percussion
    assert decoder.read(30.0, bytes((0xB9, 64, 127))) == ()
    decoder.read(31.0, bytes((0x90, 36, 70)))
    assert decoder.down == {36}
    assert not decoder.only_percussion


def test_a_rhythm_beside_the_playing_is_no_playing_on_the_wrong_channel() -> None:
    decoder = Decoder()
    decoder.read(0.0, bytes((0x90, 60, 70)))
    for beat in range(20):
        decoder.read(1.0 + beat, bytes((0x99, 36, 90)))
    assert not decoder.only_percussion
    decoder.silence(30.0)
    assert not decoder.only_percussion


CHORDS = [(48, 60, 64, 67), (53, 57, 65, 69), (55, 59, 62, 67), (48, 55, 64, 72)]
"""Four chords of four voices, with an octave between two voices in the first."""


def at_an_octave(later: float, interval: int = 12, *, interleaved: bool) -> list[tuple[float, Sequence[int]]]:
    """Chords on channel 1 and the layer on channel 2: key by key, or chord by chord."""
    messages: list[tuple[float, Sequence[int]]] = []
    for at, chord in enumerate(CHORDS):
        for place, key in enumerate(chord):
            down, up = at + 0.002 * place, at + 0.8 + 0.002 * place
            after = later if interleaved else later + 0.01
            messages += [(down, (0x90, key, 70)), (up, (0x80, key, 0))]
            messages += [(down + after, (0x91, key + interval, 70)), (up + after, (0x81, key + interval, 0))]
    return sorted(messages, key=lambda each: each[0])


@pytest.mark.parametrize("interleaved", [True, False])
@pytest.mark.parametrize("interval", [12, -12])
@pytest.mark.parametrize("later", [0.0, 0.001, 0.008, 0.015])
def test_a_layer_an_octave_off_is_no_playing(later: float, interval: int, interleaved: bool) -> None:
    decoder = Decoder()
    heard = [
        e for at, data in at_an_octave(later, interval, interleaved=interleaved) for e in decoder.read(at, bytes(data))
    ]
    assert [e.key for e in heard if e.kind == "press"] == [key for chord in CHORDS for key in chord]
    assert [e.key for e in heard if e.kind == "release"] == [key for chord in CHORDS for key in chord]
    assert decoder.down == set()


def test_a_layer_loses_a_message_now_and_then() -> None:
    messages = at_an_octave(0.001, interleaved=True)
    lost = [place for place, (_, data) in enumerate(messages) if data[0] == 0x91][13]
    keys = hear(*messages[:lost], *messages[lost + 1 :])
    assert [key for kind, key in keys if kind == "press"] == [key for chord in CHORDS for key in chord]


def test_the_halves_of_a_split_keyboard_are_both_played() -> None:
    """The left hand on channel 2 strikes octaves of the right one's keys, with it and after it; all of them count."""
    messages: list[tuple[float, Sequence[int]]] = []
    for at, (bass, *upper) in enumerate(CHORDS):
        messages += [(at, (0x90, key, 70)) for key in upper] + [(at + 0.01, (0x91, bass, 70))]
        messages += [(at + 0.8, (0x80, key, 0)) for key in upper] + [(at + 0.8, (0x81, bass, 0))]
    heard = hear(*messages)
    assert sorted(key for kind, key in heard if kind == "press") == sorted(key for chord in CHORDS for key in chord)
    assert sorted(key for kind, key in heard if kind == "release") == sorted(key for chord in CHORDS for key in chord)


def test_a_key_that_was_held_back_is_heard_as_soon_as_it_is_known_to_be_no_double() -> None:
    """No further message is needed: time alone tells that the other keys have no double."""
    decoder = Decoder()
    for key in (60, 64, 67):
        decoder.read(1.0, bytes((0x90, key, 70)))
    assert decoder.read(1.01, bytes((0x91, 48, 70))) == ()
    assert decoder.settle(1.02) == ()
    assert decoder.settle(1.04) == (Event(1.01, "press", 48, 70, 1),)
    assert decoder.read(2.0, bytes((0x81, 48, 0))) == (Event(2.0, "release", 48, 0, 1),)


def test_a_split_in_octaves_is_no_layer_once_a_hand_plays_alone() -> None:
    decoder = Decoder()
    decoder.read(1.0, bytes((0x90, 60, 70)))
    assert decoder.read(1.01, bytes((0x91, 48, 70))) == ()
    assert decoder.read(1.50, bytes((0x81, 48, 0))) == ()
    alone = decoder.read(2.0, bytes((0x91, 50, 70)))
    assert [(e.seconds, e.kind, e.key) for e in alone] == [
        (1.01, "press", 48),
        (1.50, "release", 48),
        (2.0, "press", 50),
    ]


def test_an_unplugged_instrument_leaves_no_key_down() -> None:
    decoder = Decoder()
    decoder.read(0, bytes((0x90, 60, 70)))
    decoder.read(0, bytes((0xB0, 64, 100)))
    assert decoder.silence(2.0) == (Event(2.0, "release", 60, 64), Event(2.0, "pedal", 64, 0))
    assert decoder.silence(3.0) == ()


@given(st.lists(st.tuples(st.floats(0, 0.2), st.binary(max_size=4))))
def test_whatever_arrives_every_key_goes_down_and_up_in_turn(messages: list[tuple[float, bytes]]) -> None:
    decoder = Decoder()
    down: set[int] = set()
    now = 0.0
    for wait, message in messages:
        now += wait
        for event in decoder.read(now, message):
            if event.kind == "press":
                assert event.key not in down
                assert event.value > 0
                down.add(event.key)
            elif event.kind == "release":
                down.remove(event.key)
        assert decoder.down == down


@given(st.lists(st.tuples(st.floats(0, 0.2), st.integers(0x80, 0x9F), st.integers(60, 63), st.integers(0, 127))))
def test_any_presses_and_releases_leave_each_key_up_or_down_once(
    messages: list[tuple[float, int, int, int]],
) -> None:
    decoder = Decoder()
    down: set[int] = set()
    now = 0.0
    for wait, *message in messages:
        now += wait
        for event in decoder.read(now, bytes(message)):
            assert (event.key in down) == (event.kind == "release")
            down ^= {event.key}
    assert decoder.down == down
