"""Lengths of hands and keyboards, as players write them."""

from __future__ import annotations

import pytest

from coach.lengths import octave_of, span_of


@pytest.mark.parametrize(
    ("typed", "mm"),
    [("208", 208.0), ("208 mm", 208.0), ("8.2 in", 208.3), ('8"', 203.2), ("8,5", 215.9), ("20.8", None), ("x", None)],
)
def test_spans_as_they_are_typed(typed: str, mm: float | None) -> None:
    """An inch is 25.4 mm (international yard and pound agreement, 1959)."""
    assert span_of(typed) == mm


@pytest.mark.parametrize(
    ("typed", "mm"),
    [
        ("6.0in", 152.4),
        ("6 inches", 152.4),
        ("6", 152.4),
        ("5,5″", 139.7),
        ("165mm", 165.0),
        ("60", None),
        ("nan", None),
    ],
)
def test_octaves_are_read_as_spans_are(typed: str, mm: float | None) -> None:
    assert octave_of(typed) == mm
