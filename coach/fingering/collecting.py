"""The collector of garbage stands aside while a plan is made."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def collector_aside() -> Iterator[None]:
    """Planning makes many small values and no circle of them: looking them over again and again would take a tenth of
    its time.

    Nothing is lost by it: what is there afterwards counts as old, and is looked over with the old.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            # Set aside and taken back at once, all is in the oldest generation, and no collection is due.
            gc.freeze()
            gc.unfreeze()
            gc.enable()
