"""Words and numbers as a sentence has them: in a row, or at its head."""

from __future__ import annotations

from collections.abc import Iterable, Sequence


def listed(words: Iterable[str]) -> str:
    """ "A, C and E"; nothing for none."""
    *first, last = list(words) or [""]
    return f"{', '.join(first)} and {last}" if first else last


def numbered(word: str, numbers: Sequence[int]) -> str:
    """ "bar 3", "bars 3, 5 and 7"."""
    return f"{word}{'s' * (len(numbers) > 1)} {listed(map(str, numbers))}"


def capital(text: str) -> str:
    """Words with a capital at their head."""
    return text[:1].upper() + text[1:]
