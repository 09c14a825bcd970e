"""Values of options as they are typed: each is read, or refused in words for a pianist."""

from __future__ import annotations

from argparse import ArgumentTypeError

from coach.lengths import mm_of


def whole_number(text: str) -> int:
    """A number that counts something.

    Raises:
        ArgumentTypeError: it is none.
    """
    try:
        return int(text)
    except ValueError:
        raise ArgumentTypeError(f'"{text}" is no whole number') from None


def span(text: str) -> float:
    """A span of a hand in mm, as it can be typed in the app too.

    Raises:
        ArgumentTypeError: it is no length.
    """
    length = mm_of(text)
    if length is None:
        raise ArgumentTypeError(f'"{text}" is no length: give mm, as in 208, or inches, as in 8.2in')
    return length
