"""What becomes of a character that a terminal or a file cannot take: a likeness."""

from __future__ import annotations

import codecs
from collections.abc import Callable


def error_handler(name: str, likeness: Callable[[str], str]) -> str:
    """Make a handler of encoding errors known (Python's `codecs.register_error`).

    Args:
        name: What it is called from here on.
        likeness: Gives, for the characters that cannot be taken, some that can.

    Returns:
        Its name.
    """

    def replaced(error: UnicodeError) -> tuple[str, int]:
        if not isinstance(error, UnicodeEncodeError):
            raise error
        return likeness(error.object[error.start : error.end]), error.end

    codecs.register_error(name, replaced)
    return name
