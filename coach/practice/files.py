"""Where a take's MIDI file lies and how it carries its entry, so that the files alone can rebuild the log."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from coach.errors import DAMAGED, CoachError
from coach.practice.entry import Entry

if TYPE_CHECKING:
    from coach.listening.take import Take


def file_name(entry: Entry) -> str:
    """A take's file within the folder of takes: a folder a month, names that sort as time does (UTC)."""
    return f"{entry.at:%Y-%m}/{entry.at:%Y%m%dT%H%M%SZ}-{entry.uid[:8]}.mid"


def write_with_entry(take: Take, entry: Entry, folder: Path) -> None:
    """Write a take's MIDI file with its entry as text inside.

    Raises:
        CoachError: it cannot be written.
    """
    from coach.listening.take import write_take

    path = folder / entry.midi
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise CoachError(f'cannot keep the take "{path.name}": {error.strerror}') from error
    write_take(replace(take, about=json.dumps(entry.to_json(), separators=(",", ":"))), path)


def read_entry(path: Path) -> Entry | None:
    """The entry that a take's file carries; None for a file that carries none, or cannot be read."""
    from coach.listening.take import read_take

    try:
        return Entry.from_json(json.loads(read_take(path).about))
    except (CoachError, *DAMAGED):
        return None


def newest_months(folder: Path, months: int | None = None) -> list[str]:
    """Names of the folders of takes, oldest first.

    Args:
        months: Only so many of the newest.
    """
    if not folder.is_dir():
        return []
    found = sorted(path.name for path in folder.iterdir() if path.is_dir())
    return found if months is None else found[-months:]


def take_files(folder: Path, months: int | None = None) -> Iterator[Path]:
    """Files of takes, oldest month first.

    Args:
        months: Only those of so many of the newest months.
    """
    for month in newest_months(folder, months):
        yield from sorted((folder / month).glob("*.mid"))
