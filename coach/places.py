"""Where things are kept: the data folder and every file in it."""

import os
import re
from pathlib import Path

from platformdirs import user_data_path

from coach.errors import CoachError

LONGEST_NAME = 80
"""Characters of a title that a file is called by."""

LONGEST_BYTES = 200
"""Bytes of the same: disks take names of 255, with an ending and a number after it (POSIX `NAME_MAX` of common file
systems)."""


def home() -> Path:
    """The data folder, made on first use: `COACH_HOME`, or the platform's user data folder.

    Raises:
        CoachError: the folder cannot be made.
    """
    named = os.environ.get("COACH_HOME")
    folder = expanded(named) if named else user_data_path("chorale-coach", appauthor=False)
    return _made(folder)


def expanded(name: str) -> Path:
    """The path that a player names, "~" for a home folder.

    Raises:
        CoachError: there is no such home folder.
    """
    try:
        return Path(name).expanduser()
    except RuntimeError as error:
        raise CoachError(f'cannot find "{name}": it begins with a home folder that is not there') from error


def parsed_pieces() -> Path:
    """Parsed pieces as compact JSON, one file a source, named by the content of the source."""
    return _made(home() / "parsed")


def shelf() -> Path:
    """The player's own library: copies of the files taken in."""
    return _made(home() / "shelf")


def takes() -> Path:
    """Every take as a standard MIDI file."""
    return _made(home() / "takes")


def phrasings() -> Path:
    """The player's own cuts into phrases, one small JSON file a piece, named by its notes."""
    return _made(home() / "phrases")


def choices() -> Path:
    """The player's own fingers, distributions and lifts, one small JSON file a piece, named by its notes."""
    return _made(home() / "choices")


def habits_file() -> Path:
    """Whether the coach plans by the player's habits."""
    return home() / "habits.json"


def difficulties() -> Path:
    """How hard pieces are for the player's hands, kept so that the shelf is ordered without planning it again."""
    return _made(home() / "difficulty")


def sheets() -> Path:
    """Pages to print, one a piece."""
    return _made(home() / "sheets")


def log_file() -> Path:
    """The practice log, one SQLite file."""
    return home() / "practice.sqlite"


def settings_file() -> Path:
    """The player's settings: hands, keyboard, ports."""
    return home() / "settings.json"


def shipped_pieces() -> Path:
    """The pieces that ship with the coach, in a checkout or inside the installed package."""
    installed = Path(__file__).parent / "pieces"
    return installed if installed.is_dir() else Path(__file__).parent.parent / "pieces"


def file_name(title: str, apart: str = "") -> str:
    """A title as the name of a file, its ending apart, as every system takes it.

    Args:
        title: Cut where it is too long.
        apart: What tells it from others of the same title, and so stays; of a long one the end, where names differ.
    """
    tail = ""
    if apart:
        end = _plain(apart)[::-1]
        tail = f" ({_cut(end, LONGEST_NAME // 2, LONGEST_BYTES // 2)[::-1]})"
    room, space = LONGEST_NAME - len(tail), LONGEST_BYTES - len(_encoded(tail))
    return (_cut(_plain(title), room, space).strip() or "Untitled") + tail


def _plain(text: str) -> str:
    """A text without signs that mean something to a system."""
    name = re.sub(r'[\x00-\x1f\x7f/\\:*?"<>|#]+', " ", text.replace(": ", " - "))
    return " ".join(name.split()).strip(". ")


def _cut(text: str, characters: int, size: int) -> str:
    """The beginning of a text that is no longer than so many characters and bytes."""
    text = text[:characters]
    while len(_encoded(text)) > size:
        text = text[:-1]
    return text


def _encoded(text: str) -> bytes:
    return text.encode("utf-8", "surrogatepass")


def _made(folder: Path) -> Path:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise CoachError(f'cannot make the data folder "{folder}": {error.strerror}') from error
    return folder
