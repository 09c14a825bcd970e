"""Files that are there whole or not at all."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path


def write_whole(path: Path, content: str | bytes, *, lasting: bool = True) -> None:
    """Write a file whole or not at all.

    Args:
        path: Where it goes; its folder is there.
        content: Text is written as UTF-8.
        lasting: See `written_beside`.

    Raises:
        OSError: it cannot be written; nothing is left behind.
    """
    with written_beside(path, lasting=lasting) as beside:
        beside.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)


@contextmanager
def written_beside(path: Path, *, lasting: bool = True) -> Iterator[Path]:
    """Where to write a file that is moved to its place in the end: nobody ever opens half of it, and what was there
    before stays where the disk is full.

    Args:
        path: Where it goes; its folder is there.
        lasting: Whether it is on the disk before anything else is done, so that a power cut costs neither it nor what
            was there before. What can be worked out again need not wait for that.

    Raises:
        OSError: it cannot be written; nothing is left behind.
    """
    # A short name of its own for every writer: the file's may be as long as the disk allows.
    beside = path.with_name(f".writing-{os.getpid()}-{threading.get_ident()}")
    try:
        yield beside
        if lasting:
            _settle(beside)
        os.replace(beside, path)
        if lasting and os.name == "posix":
            # The folder's new entry too; not every system can open a folder.
            _settle(path.parent)
    except BaseException:
        with suppress(OSError):
            beside.unlink()
        raise


def _settle(path: Path) -> None:
    """Have the disk hold what was written.

    Raises:
        OSError: it does not.
    """
    handle = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
