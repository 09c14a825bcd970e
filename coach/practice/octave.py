"""A keyboard whose octave button is off: by how much, found from the first chord, and what is said of it."""

from __future__ import annotations

from collections.abc import Set
from dataclasses import replace

from coach.listening.events import Event

OCTAVES = (12, -12, 24, -24)
"""Shifts that a keyboard's octave button makes, in semitones."""


def shifted(event: Event, by: int) -> Event:
    """An event as it is heard with so many semitones added to its key."""
    return event if event.kind == "pedal" or not by else replace(event, key=event.key + by)


def found_shift(first: Set[int], struck: Set[int], key: int, shift: int, *, judged: bool) -> int | None:
    """By how much more to shift for the first chord to be there; None where it is not.

    Half of it will do where it is, all of it elsewhere; more than half while a verdict is shown, which the last chord
    once more should not wipe away.

    Args:
        first: The keys of the first chord.
        struck: Keys that were struck together, or are still down, as they are heard.
        key: The last of them.
        shift: Semitones that are added already.
        judged: A verdict is shown.
    """
    enough = len(first) // 2 + 1 if judged else (len(first) + 1) // 2
    if key in first and len(struck & first) >= enough:
        return 0
    for more in (-shift, *OCTAVES):
        if more and key + more in first and len(first) > 1 and first <= {each + more for each in struck}:
            return more
    return None


def said_of(shift: int) -> str:
    """What the player is told of it; "" where the button is where it belongs."""
    if not shift:
        return ""
    many = abs(shift) // 12
    octaves = {1: "an octave", 2: "two octaves"}.get(many, f"{many} octaves")
    return f"The keyboard is set {octaves} too {'high' if shift < 0 else 'low'}: it is heard where it belongs."
