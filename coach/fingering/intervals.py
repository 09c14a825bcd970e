"""Intervals and pitches in a pianist's words."""

from __future__ import annotations

from functools import lru_cache

from coach.score.spelling import moved, parsed, staff_place

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
    return staff_place(pitch) - staff_place(other)


def with_article(name: str) -> str:
    """ "a tenth", "an octave"."""
    return ("an " if name.startswith(("octave", "eleventh", "18")) else "a ") + name


def the_voice(name: str) -> str:
    """ "the tenor", "voice 5"."""
    return name if name.startswith("voice ") else f"the {name}"


@lru_cache(maxsize=256)
def note_name(pitch: str) -> str:
    """A pitch without its octave, accidentals in words: "Bb3" is "B flat"."""
    step, alter, _ = parsed(pitch)
    words = {0: "", 1: " sharp", -1: " flat", 2: " double sharp", -2: " double flat"}
    return step + words.get(alter, ("#" if alter > 0 else "b") * abs(alter))


def octave_up(pitch: str) -> str:
    """The same pitch an octave higher."""
    return moved(pitch, 7, 12)
