"""A keyboard whose octave or transpose button is set: by how much, found from the first chord, and what is said."""

from __future__ import annotations

from collections.abc import Set
from dataclasses import replace

from coach.listening.events import Event
from coach.listening.setting import NAMES

OCTAVES = (12, -12, 24, -24)
"""Shifts that a keyboard's octave button makes, in semitones."""


def shifted(event: Event, by: int) -> Event:
    """An event as it is heard with so many semitones added to its key."""
    return event if event.kind == "pedal" or not by else replace(event, key=event.key + by)


def found_shift(first: Set[int], struck: Set[int], key: int, shift: int, enough: int) -> int | None:
    """By how much more to shift for the first chord to be there; None where it is not.

    A part of it will do where it is; elsewhere all of it is needed.

    Args:
        first: The keys of the first chord.
        struck: Keys that were struck together, or are still down, as they are heard.
        key: The last of them.
        shift: Semitones that are added already.
        enough: How many of its keys will do where it is.
    """
    if key in first and len(struck & first) >= enough:
        return 0
    for more in (-shift, *OCTAVES):
        if more and key + more in first and len(first) > 1 and first <= {each + more for each in struck}:
            return more
    return None


def said_of(shift: int) -> str:
    """What the player is told of it; "" where the buttons are where they belong."""
    if not shift:
        return ""
    octaves, more = divmod(abs(shift), 12)
    far = NAMES.get(abs(shift)) or (f"{octaves} octaves" if not more else f"{abs(shift)} semitones")
    return f"The keyboard is set {far} too {'high' if shift < 0 else 'low'}: it is heard where it belongs."


def offered(semitones: int) -> str:
    """What is said of a first chord that was struck elsewhere on the keyboard: it may be a transpose button, or a hand
    in the wrong place, so the player decides."""
    far, way = NAMES[abs(semitones)], "high" if semitones > 0 else "low"
    return f"That is the first chord {far} too {way}. Is the transpose button on? Strike it again to be heard so."
