"""Where a command writes what it was asked to write: a file, whole or not at all, or standard output."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from typing import IO, Any

from coach import places
from coach.errors import CoachError
from coach.whole import written_beside


@contextmanager
def output(name: str, *, binary: bool = False) -> Iterator[IO[Any]]:
    """Something to write to; "-" is standard output. What a link points to is written, not the link.

    Args:
        name: The file, as the player named it.
        binary: Whether bytes are written, rather than text in UTF-8.

    Raises:
        CoachError: it cannot be written; then what was there is left as it was.
    """
    if name == "-":
        yield sys.stdout.buffer if binary else sys.stdout
        return
    try:
        path = places.expanded(name).resolve()
    except (OSError, RuntimeError) as error:
        # Links that lead to each other: which error says so depends on the system.
        raise CoachError(f'cannot write "{name}": its links lead round in a circle') from error
    # Into a pipe or a device one writes straight: no file must come in its place.
    whole = path.is_file() or not path.exists()
    try:
        with (
            written_beside(path) if whole else nullcontext(path) as place,
            place.open("wb") if binary else place.open("w", encoding="utf-8", newline="") as file,
        ):
            yield file
    except OSError as error:
        raise CoachError(f'cannot write "{path}": {error.strerror}') from error
