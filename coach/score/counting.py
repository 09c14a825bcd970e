"""How musicians name a place in a piece: "bar 3, beat 2&", "the pickup, beat 4", "bars 1–4", "pickup to bar 2"."""

from __future__ import annotations

from collections.abc import Sequence

from coach.listing import listed, numbered

PICKUP = 0
"""Number of the bar before the first full one."""

PARTS = {0.25: "e", 0.5: "&", 0.75: "a"}
"""What is said after a beat for its quarters: "1 e & a" (common practice in English)."""

THIRDS = {0.333: "a third", 0.667: "two thirds"}
"""The other parts that a beat of three falls into, as in 6/8."""

NEAR = 0.005
"""Beats by which a place that was rounded may miss the part of the beat that it is."""


def split(beat: float) -> tuple[int, float]:
    """A beat, from 1, as the whole one before it and the part of a beat after that, to a thousandth."""
    whole = int(beat + NEAR)
    return whole, max(round(beat - whole, 3), 0.0)


def part_of(fraction: float) -> str:
    """The sign of a part of a beat: "&" for a half, "e" and "a" for quarters; "" for others, and for none."""
    return next((sign for part, sign in PARTS.items() if abs(part - fraction) < NEAR), "")


def beat_words(beat: float) -> str:
    """A beat as it is counted: "beat 2", "beat 2&", "beat 1 and a third"; of odd ones its number, "beat 1.2"."""
    whole, fraction = split(beat)
    if fraction < NEAR:
        return f"beat {whole}"
    if sign := part_of(fraction):
        return f"beat {whole}{sign}"
    third = next((words for part, words in THIRDS.items() if abs(part - fraction) < NEAR), "")
    return f"beat {whole} and {third}" if third else f"beat {beat:.4g}"


def bar_words(bar: int) -> str:
    """A bar by its printed number: "bar 3", "the pickup"."""
    return "the pickup" if bar == PICKUP else f"bar {bar}"


def bars_listed(bars: Sequence[int]) -> str:
    """Bars in a row by their printed numbers, in order: "bar 3", "bars 3, 5 and 7", "the pickup and bar 2"."""
    later = [bar for bar in bars if bar != PICKUP]
    return listed([*([bar_words(PICKUP)] if PICKUP in bars else []), *([numbered("bar", later)] if later else [])])


def extent_words(first: int, last: int) -> str:
    """All bars that there are: "bars 1 to 8", "bar 1", "the pickup and bars 1 to 8"."""
    if first == PICKUP and last:
        return f"{bar_words(PICKUP)} and {extent_words(PICKUP + 1, last)}"
    return bar_words(first) if first == last else f"bars {first} to {last}"


def place_words(bar: int, beat: float) -> str:
    """A place: "bar 3, beat 2&", "the pickup, beat 4"."""
    return f"{bar_words(bar)}, {beat_words(beat)}"


def bars_words(first: int, last: int, dash: str = "-") -> str:
    """Several bars, as a heading has them: "bars 1-4", "bar 3", "pickup to bar 2", "pickup".

    Args:
        first, last: Printed numbers.
        dash: What stands between them.
    """
    if first == PICKUP:
        return f"pickup to bar {last}" if last else "pickup"
    return f"bar {first}" if first == last else f"bars {first}{dash}{last}"
