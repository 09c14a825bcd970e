"""Files that are there whole or not at all."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path


def write_whole(path: Path, content: str | bytes) -> None:
    """Write a file whole or not at all.

    Args:
        path: Where it goes; its folder is there.
        content: Text is written as UTF-8.

    Raises:
        OSError: it cannot be written; nothing is left behind.
    """
    with written_beside(path) as beside:
        beside.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)


@contextmanager
def written_beside(path: Path) -> Iterator[Path]:
    """Where to write a file that is moved to its place in the end: nobody ever opens half of it, and what was there
    before stays where the disk is full.

    Args:
        path: Where it goes; its folder is there.

    Raises:
        OSError: it cannot be written; nothing is left behind.
    """
    # A short name of its own for every writer: the file's may be as long as the disk allows.
    beside = path.with_name(f".writing-{os.getpid()}-{threading.get_ident()}")
    try:
        yield beside
        os.replace(beside, path)
    except BaseException:
        with suppress(OSError):
            beside.unlink()
        raise
