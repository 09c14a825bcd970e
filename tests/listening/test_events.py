"""Keys go down and up once each, whatever a keyboard sends (MIDI 1.0 allows note-ons without note-offs between)."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st
from takes import strokes_of

from coach.listening.events import LAYER, Event, Keys


def test_a_key_struck_again_without_a_release_ends_its_first_stroke() -> None:
    events = [Event(0.0, "press", 60, 64), Event(1.0, "press", 60, 64), Event(2.0, "release", 60, 0)]
    assert [(stroke.press, stroke.release) for stroke in strokes_of(events)] == [(0.0, 1.0), (1.0, 2.0)]


def test_two_layers_on_one_key_end_together() -> None:
    events = [Event(0.0, "press", 60, 64), Event(0.002, "press", 60, 64), Event(2.0, "release", 60, 0)]
    assert [stroke.release for stroke in strokes_of(events)] == [2.0, 2.0]


def test_a_release_of_a_key_that_is_up_says_nothing() -> None:
    events = [Event(0.0, "release", 60, 0), Event(1.0, "press", 60, 64)]
    assert [(stroke.press, stroke.release) for stroke in strokes_of(events)] == [(1.0, None)]


KINDS = st.sampled_from(["press", "release", "pedal"])
ANY = st.builds(Event, st.floats(-5, 5, allow_nan=False), KINDS, st.integers(58, 62), st.integers(0, 127))


@given(st.lists(ANY, max_size=60))
def test_strokes_of_one_key_never_overlap(events: list[Event]) -> None:
    """Two layers apart, a key is down once at a time; time never runs backwards."""
    keys = Keys()
    for event in events:
        keys.hear(event)
    assert len(keys.strokes) == sum(event.kind == "press" for event in events)
    for key in range(58, 63):
        mine = [stroke for stroke in keys.strokes if stroke.key == key]
        for before, after in pairwise(mine):
            layered = after.press - before.press <= LAYER
            assert layered or (before.release is not None and before.release <= after.press)
    presses = [stroke.press for stroke in keys.strokes]
    assert presses == sorted(presses)
    assert keys.down == {stroke.key for stroke in keys.strokes if stroke.release is None}
