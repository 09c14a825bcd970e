"""Intervals and pitches in a pianist's words."""

from __future__ import annotations

import re
from functools import lru_cache

_STEPS = {"C": 0, "D": 1, "E": 2, "F": 3, "G": 4, "A": 5, "B": 6}

_NAMES = (
    "unison", "second", "third", "fourth", "fifth", "sixth", "seventh", "octave",
    "ninth", "tenth", "eleventh", "twelfth", "thirteenth", "fourteenth", "double octave",
)  # fmt: skip

_ENDINGS = {1: "st", 2: "nd", 3: "rd"}
"""Of the numbers beyond the twentieth."""

FINGER_WORDS = ("", "thumb", "second finger", "third finger", "fourth finger", "little finger")


def interval_name(pitch: str, other: str) -> str:
    """The interval between two spelled pitches, quality left out: "tenth"."""
    steps = abs(steps_between(pitch, other))
    if steps < len(_NAMES):
        return _NAMES[steps]
    number = steps + 1
    return f"{number}{_ENDINGS.get(number % 10, 'th') if number > 20 else 'th'}"


def steps_between(pitch: str, other: str) -> int:
    """Steps of the scale from the second pitch up to the first."""
    return _place(pitch) - _place(other)


def with_article(name: str) -> str:
    """ "a tenth", "an octave"."""
    return ("an " if name.startswith(("octave", "eleventh", "18")) else "a ") + name


def the_voice(name: str) -> str:
    """ "the tenor", "voice 5"."""
    return name if name.startswith("voice ") else f"the {name}"


def note_name(pitch: str) -> str:
    """A pitch without its octave, accidentals in words: "Bb3" is "B flat"."""
    letter, accidental, _ = _parts(pitch)
    words = {"": "", "#": " sharp", "b": " flat", "##": " double sharp", "bb": " double flat"}
    return letter + words.get(accidental, accidental)


def octave_up(pitch: str) -> str:
    """The same pitch an octave higher."""
    letter, accidental, octave = _parts(pitch)
    return f"{letter}{accidental}{octave + 1}"


@lru_cache(maxsize=1024)
def _parts(pitch: str) -> tuple[str, str, int]:
    found = re.fullmatch(r"([A-G])([#b]*)(-?\d+)", pitch)
    if found is None:
        raise ValueError(f'no pitch: "{pitch}"')
    return found[1], found[2], int(found[3])


def _place(pitch: str) -> int:
    letter, _, octave = _parts(pitch)
    return _STEPS[letter] + 7 * octave
