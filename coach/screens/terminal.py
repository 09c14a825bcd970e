"""The terminal while a full screen is up: what C libraries print on standard error stays off it."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import cast

from coach.likeness import error_handler
from coach.paper.signs import Signs, in_its_place, signs_for

IN_ITS_PLACE = error_handler("coach.in_its_place", in_its_place)
"""What becomes of a character that the terminal cannot take: a likeness as wide as it, or the picture would shift."""


def signs_here() -> Signs:
    """The signs that the terminal can show."""
    return signs_for(getattr(sys.__stderr__, "encoding", None))


@contextmanager
def kept_clean() -> Iterator[None]:
    """Give the screen a descriptor of its own and send standard error nowhere.

    Textual draws on `sys.__stderr__`; the C libraries of ALSA and JACK write to descriptor 2 whenever a device or a
    server is missing, which would tear holes into the picture.
    """
    if sys.__stderr__ is None:
        yield
        return
    sys.__stderr__.flush()
    screen = os.dup(2)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    before, before_too = sys.__stderr__, sys.stderr
    drawn = io.TextIOWrapper(
        io.FileIO(screen, "w", closefd=False), encoding=before.encoding, errors=IN_ITS_PLACE, write_through=True
    )
    try:
        os.dup2(nowhere, 2)
        # Only the name is frozen, by convention; Textual reads it when its driver is made.
        sys.__stderr__ = cast(io.TextIOWrapper, drawn)  # type: ignore[misc]
        if before_too is before:
            sys.stderr = drawn
        yield
    finally:
        drawn.flush()
        os.dup2(screen, 2)
        sys.__stderr__ = before  # type: ignore[misc]
        sys.stderr = before_too
        os.close(nowhere)
        os.close(screen)
