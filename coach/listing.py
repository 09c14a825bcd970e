"""Words in a row, as a sentence lists them."""

from __future__ import annotations

from collections.abc import Iterable


def listed(words: Iterable[str]) -> str:
    """ "A, C and E"; nothing for none."""
    *first, last = list(words) or [""]
    return f"{', '.join(first)} and {last}" if first else last
