"""Lengths of hands and keyboards: which ones are believed, and how a player writes one, in millimetres or inches."""

from __future__ import annotations

SMALLEST_SPAN_MM, LARGEST_SPAN_MM = 150.0, 300.0
"""Spans that are taken for a hand's; outside, a slip of the pen is likelier."""

NARROWEST_OCTAVE_MM, WIDEST_OCTAVE_MM = 120.0, 180.0
"""Octaves that keyboards are built with lie well within."""

MM_AN_INCH = 25.4
"""International yard and pound agreement, 1959."""

INCHES_BELOW = 15.0
"""A bare number below this is in inches, above in mm: no hand or octave is 15 inches wide, or 15 mm."""

_INCHES = ("inches", "inch", "in", '"', "″", "”")


def mm_of(text: str) -> float | None:
    """A length in mm, to a tenth, from what was typed: "208", "208 mm", "8.2 in", "8,2\\""; None for what is none."""
    words = text.strip().lower().replace(",", ".")
    unit = next((unit for unit in ("mm", *_INCHES) if words.endswith(unit)), "")
    try:
        number = float(words.removesuffix(unit))
    except ValueError:
        return None
    if unit in _INCHES or (not unit and number < INCHES_BELOW):
        number *= MM_AN_INCH
    return round(number, 1)


def span_of(text: str) -> float | None:
    """A span of a hand in mm from what was typed; None for what is none."""
    return _between(mm_of(text), SMALLEST_SPAN_MM, LARGEST_SPAN_MM)


def octave_of(text: str) -> float | None:
    """The width of a keyboard's octave in mm from what was typed; None for what is none."""
    return _between(mm_of(text), NARROWEST_OCTAVE_MM, WIDEST_OCTAVE_MM)


def _between(length: float | None, least: float, most: float) -> float | None:
    return length if length is not None and least <= length <= most else None
