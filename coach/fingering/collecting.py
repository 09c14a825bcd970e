"""The collector of garbage stands aside while a plan is made."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def collector_aside() -> Iterator[None]:
    """Planning makes many small values and hardly a cycle: looking them over again and again would take a tenth of
    its time.

    Nothing is lost by it: what there is to collect is collected afterwards.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
