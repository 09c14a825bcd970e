"""A planned phrase as MIDI in time, clicks, and an output that comes and goes."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import pytest

from coach.fingering.plan import PhrasePlan
from coach.paper.sound import Message, Output, clicks, sounding

Phrases = Callable[..., PhrasePlan]


def strokes(messages: tuple[Message, ...]) -> list[tuple[int, float, float]]:
    """Keys with the seconds of their press and release, by press."""
    down: dict[int, float] = {}
    found = []
    for seconds, data in messages:
        if data[0] & 0xF0 == 0x90:
            assert data[1] not in down, "a key that is down is struck"
            down[data[1]] = seconds
        else:
            found.append((data[1], down.pop(data[1]), seconds))
    assert down == {}
    return sorted(found, key=lambda stroke: (stroke[1], -stroke[0]))


def test_joined_notes_last_until_the_next_and_lifts_are_heard(phrase: Phrases) -> None:
    made = phrase({"soprano": "E5:1:r5 D5:1:r4 C5:1:r3", "bass": "C3:1:l5 G3:1:l1 C3:1:l5"}, right_lifts=[1])
    found = strokes(sounding(made.chords, 60.0))
    soprano = [stroke for stroke in found if stroke[0] > 60]
    assert soprano == [(76, 0.0, 1.0), (74, 1.0, pytest.approx(1.75)), (72, 2.0, pytest.approx(2.75))]
    bass = [stroke for stroke in found if stroke[0] < 60]
    assert bass[1] == (55, 1.0, 2.0)


def test_a_key_is_up_before_it_is_struck_again(phrase: Phrases) -> None:
    made = phrase({"soprano": "E5:1:r5 E5:1:r5", "bass": "C3:1:l5 D3:1:l4"}, restrikes=[("right", 0)])
    found = [stroke for stroke in strokes(sounding(made.chords, 120.0)) if stroke[0] == 76]
    assert found[0][2] < found[1][1]
    assert found[1][1] == 0.5


def test_a_held_note_sounds_through_and_one_let_go_does_not(phrase: Phrases) -> None:
    voices = {"soprano": "E5:1:r5 D5:1:r4", "tenor": "G4:2:r1", "bass": "C3:2:l5"}
    held = strokes(sounding(phrase(voices).chords, 60.0))
    assert [stroke for stroke in held if stroke[0] == 67] == [(67, 0.0, pytest.approx(1.75))]
    let_go = strokes(sounding(phrase(voices, let_go={("tenor", 0.0): 1.0}).chords, 60.0))
    assert [stroke for stroke in let_go if stroke[0] == 67] == [(67, 0.0, 1.0)]


def test_two_voices_on_one_key_are_one_stroke(phrase: Phrases) -> None:
    made = phrase({"soprano": "C5:1:r3 D5:1:r4", "alto": "C5:2:r3", "bass": "C3:2:l5"})
    assert len([stroke for stroke in strokes(sounding(made.chords, 60.0)) if stroke[0] == 72]) == 1


def test_a_rolled_chord_comes_from_below(phrase: Phrases) -> None:
    made = phrase({"soprano": "E5:1:r5~", "alto": "C5:1:r3~", "tenor": "G4:1:r1~", "bass": "C3:1:l5"})
    found = {key: press for key, press, _ in strokes(sounding(made.chords, 60.0))}
    assert found[48] == 0
    assert found[67] < found[72] < found[76] < 0.2


def test_one_hand_alone(phrase: Phrases) -> None:
    made = phrase({"soprano": "E5:1:r5", "bass": "C3:1:l5"})
    assert [stroke[0] for stroke in strokes(sounding(made.chords, 60.0, ("left",)))] == [48]


def test_clicks_are_wood_blocks_of_general_midi_the_first_of_a_bar_higher() -> None:
    """General MIDI level 1 percussion map: 76 high wood block, 77 low wood block, channel 10."""
    presses = [(at, data) for at, data in clicks([(-0.5, True), (0.0, False)]) if data[0] & 0xF0 == 0x90]
    assert [(at, data[0], data[1]) for at, data in presses] == [(-0.5, 0x99, 76), (0.0, 0x99, 77)]


def wait_for(synthesizer: Any, count: int) -> None:
    """Until that many messages were heard."""
    limit = time.monotonic() + 30
    while len(synthesizer.heard) < count:
        assert time.monotonic() < limit, synthesizer.heard
        time.sleep(0.01)


def test_an_output_plays_in_time(synthesizer: Any) -> None:
    output = Output("Synth:in")
    try:
        assert output.ready
        done: list[bool] = []
        start = time.perf_counter() + 0.1
        notes = tuple((0.15 * i, bytes((0x90 if i % 2 == 0 else 0x80, 60, 64))) for i in range(4))
        output.play(notes, start, lambda: done.append(True))
        wait_for(synthesizer, 4)
        late = [at - start - 0.15 * i for i, (at, _) in enumerate(synthesizer.heard)]
        assert all(-0.005 < each < 0.05 for each in late), late
        time.sleep(0.05)
        assert done == [True]
    finally:
        output.close()


def test_stopping_leaves_no_key_down_and_what_is_overdue_is_left_out(synthesizer: Any) -> None:
    output = Output()
    try:
        output.play(((0.0, bytes((0x90, 60, 64))), (60.0, bytes((0x80, 60, 64)))))
        wait_for(synthesizer, 1)
        output.stop()
        wait_for(synthesizer, 2)
        assert synthesizer.heard[-1][1][:2] == [0x80, 60]
        output.play(((0.0, bytes((0x90, 72, 64))), (2.0, bytes((0x90, 74, 64)))), time.perf_counter() - 1.9)
        wait_for(synthesizer, 3)
        assert synthesizer.heard[-1][1][1] == 74
    finally:
        output.close()


def test_without_an_output_nothing_sounds_and_nothing_fails(jack_server: Any) -> None:
    output = Output("Sold Years Ago")
    assert not output.ready
    output.play(((0.0, bytes((0x90, 60, 64))),))
    output.stop()
    output.close()


def test_an_output_that_comes_back_sounds_again(synthesizer: Any) -> None:
    output = Output("Synth:in")
    try:
        assert output.ready
        synthesizer.unplug()
        assert not output.ready
        synthesizer.plug_in()
        assert output.ready
        output.play(((0.0, bytes((0x90, 60, 64))),))
        wait_for(synthesizer, 1)
    finally:
        output.close()


def test_an_output_that_was_off_and_on_between_two_plays_sounds_again(synthesizer: Any) -> None:
    """It has the same name, but nothing is connected with it any more."""
    output = Output("Synth:in")
    try:
        output.play(((0.0, bytes((0x90, 60, 64))),))
        wait_for(synthesizer, 1)
        synthesizer.unplug()
        synthesizer.plug_in()
        output.play(((0.0, bytes((0x90, 62, 64))),))
        wait_for(synthesizer, 2)
        assert [data[:2] for _, data in synthesizer.heard] == [[0x90, 60], [0x90, 62]]
    finally:
        output.close()
