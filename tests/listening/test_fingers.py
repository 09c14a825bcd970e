"""Which planned fingers the overlaps rule out; only what is certain is said."""

from __future__ import annotations

import pytest
from takes import Key, events, phrase

from coach.listening.expected import expect
from coach.listening.fingers import RuledOut, ruled_out
from coach.listening.matching import match_take

THUMB_TWICE = phrase("C4.1+E4.3 D4.1+F4.4 E4.1+G4.5", "")
"""The lower voice is planned 1-1-1."""


def found(release: float, pitch: str = "C4") -> tuple[RuledOut, ...]:
    """The second chord comes at 0.6 s; one key of the first is released at a time."""
    keys = [Key("C4", 0.0, 0.55), Key("E4", 0.0, 0.62), Key("D4", 0.6, 1.15), Key("F4", 0.6, 1.22)]
    keys += [Key("E4", 1.2, 1.8), Key("G4", 1.2, 1.8)]
    keys = [Key(k.pitch, k.press, release) if k.pitch == pitch and k.press == 0.0 else k for k in keys]
    return ruled_out(match_take(expect([THUMB_TWICE]), events(keys)))


def test_one_finger_cannot_join_two_keys() -> None:
    """The issue in a pianist's words: you joined C to D, the planned 1-1 cannot do that."""
    (one,) = found(0.7)
    notes = expect([THUMB_TWICE]).notes
    assert (notes[one.before].pitch, notes[one.note].pitch) == ("C4", "D4")
    assert one.overlap == pytest.approx(0.1)


def test_a_gap_rules_nothing_out() -> None:
    assert found(0.55) == ()


def test_a_release_that_comes_a_moment_late_is_not_certain() -> None:
    """A key sends its release when it has risen, a little after the finger has left it."""
    assert found(0.62) == ()


def test_other_fingers_may_overlap() -> None:
    """The upper voice is planned 3-4: it may be joined."""
    assert found(0.8, pitch="E4") == ()


def test_a_key_whose_release_never_came_proves_nothing() -> None:
    keys = events([Key("C4", 0.0, 0.5), Key("E4", 0.0, 0.55), Key("D4", 0.6, 1.1), Key("F4", 0.6, 1.1)])
    lost = [event for event in keys if not (event.kind == "release" and event.key == 60)]
    assert ruled_out(match_take(expect([THUMB_TWICE]), lost)) == ()


def test_a_thumb_may_lie_on_two_neighbouring_white_keys() -> None:
    """Common practice, no source."""
    plan = phrase("C4.1+D4.1+G4.5 E4.2+G4.5")
    keys = [Key("C4", 0.0, 0.55), Key("D4", 0.01, 0.55), Key("G4", 0.0, 0.55), Key("E4", 0.6, 1.0), Key("G4", 0.6, 1)]
    assert ruled_out(match_take(expect([plan]), events(keys))) == ()


def test_fingers_of_different_hands_have_nothing_to_do_with_each_other() -> None:
    plan = phrase("C5.1 D5.2", "C3.1 D3.2")
    keys = [Key("C5", 0.0, 0.7), Key("C3", 0.0, 0.7), Key("D5", 0.6, 1.2), Key("D3", 0.6, 1.2)]
    assert ruled_out(match_take(expect([plan]), events(keys))) == ()


def test_a_held_note_keeps_its_finger_busy() -> None:
    plan = phrase("C4.1+E4.3 C4~+F4.4 C4~+D4.1")
    keys = [Key("C4", 0.0, 1.8), Key("E4", 0.0, 0.62), Key("F4", 0.6, 1.22), Key("D4", 1.2, 1.8)]
    assert len(ruled_out(match_take(expect([plan]), events(keys)))) == 1
