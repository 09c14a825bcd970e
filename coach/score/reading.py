"""Which reader a file needs: decided by what is in it, not by what it is called."""

from __future__ import annotations

from pathlib import Path

from coach.errors import CoachError
from coach.score.formats.abc import read_abc
from coach.score.formats.abc_file import chosen_tune, decoded, tunes_of
from coach.score.formats.container import LARGEST_SCORE, unpack_mxl
from coach.score.formats.content import content_of
from coach.score.formats.kern import read_kern
from coach.score.formats.mei import read_mei
from coach.score.formats.midi import read_midi
from coach.score.formats.musicxml import read_musicxml
from coach.score.formats.utf16 import in_utf_8
from coach.score.formats.xml import parse_xml
from coach.score.page import Page, complete
from coach.score.piece import Piece
from coach.score.transposing import looks_transposed, transposed, unwrapped
from coach.score.voices import piece_of

KNOWN = "MusicXML, MEI, ABC, Humdrum kern, MIDI"
"""What the coach reads, for sentences to the player."""

LARGEST_TEXT = 4 * 1024 * 1024
"""Largest file read of formats that are written by hand, in bytes: the largest tune books have 2 MB."""


def read_bytes(path: Path, name: str) -> bytes:
    """The content of a file of bearable size.

    Args:
        path: The file.
        name: What the player calls it.

    Raises:
        CoachError: missing, a folder, not readable, empty, too large.
    """
    try:
        if path.is_dir():
            raise CoachError(f'cannot read "{name}": it is a folder, not a file')
        if not path.is_file():
            raise CoachError(f'cannot find "{name}"')
        if path.stat().st_size > LARGEST_SCORE:
            raise CoachError(f'cannot read "{name}": it is larger than {LARGEST_SCORE // 2**20} MB')
        data = path.read_bytes()
    except PermissionError as error:
        raise CoachError(f'cannot read "{name}": you are not allowed to open it') from error
    except (OSError, ValueError) as error:
        raise CoachError(f'cannot read "{name}": {getattr(error, "strerror", None) or error}') from error
    if not data.strip(b" \t\r\n\0"):
        raise CoachError(f'cannot read "{name}": it is empty')
    return data


def read_score(data: bytes, name: str, title: str, choice: str = "") -> Piece:
    """Read a score from its content.

    Args:
        data: The file's content.
        name: Where it came from, as the player would name it.
        title: What to call the piece if the score does not say.
        choice: Which of several tunes in one file: a number or words of a title.

    Raises:
        CoachError: no reader takes it, or what it says cannot be played.
    """
    try:
        if looks_transposed(data):
            inner = unwrapped(data, name)
            return transposed(read_score(inner.data, name, inner.title, choice), inner.interval, inner.title)
        page = read_page(data, name, choice)
        complete(page, name)
        return piece_of(page, title, name)
    except RecursionError as error:
        raise CoachError(f'cannot read "{name}": it is nested too deeply to be a score') from error
    except CoachError:
        raise
    except Exception as error:
        # Files come from anywhere. The fuzz test goes around this last net, so that it stays without work.
        raise CoachError(f'cannot read "{name}": it is damaged in a way that the coach does not understand') from error


def read_page(data: bytes, name: str, choice: str = "") -> Page:
    """Read what is printed, before anyone decides who sings what.

    Raises:
        CoachError: no reader takes it.
    """
    content = content_of(data)
    if content == "mxl":
        data = unpack_mxl(data, name)
        content = content_of(data)
    if content in ("midi", "rmi"):
        return read_midi(data[20:] if content == "rmi" else data, name)
    if content in ("mei", "musicxml"):
        root = parse_xml(data, name)
        return read_mei(root, name) if content == "mei" else read_musicxml(root, name)
    if content in ("kern", "abc"):
        data = in_utf_8(data)
        if len(data) > LARGEST_TEXT:
            raise CoachError(f'cannot read "{name}": it is larger than {LARGEST_TEXT // 2**20} MB')
        text = decoded(data)
        if content == "kern":
            return read_kern(text, name)
        return read_abc(chosen_tune(tunes_of(text, name), choice, name), name)
    raise CoachError(f'cannot read "{name}": it is no score that the coach knows ({KNOWN})')


def tunes_in(data: bytes, name: str) -> tuple[tuple[str, str], ...]:
    """The tunes of a file that holds several: for each what to choose it by, and its title; empty for one piece.

    Raises:
        CoachError: it looks like a tune book and holds no tune.
    """
    if content_of(data) != "abc":
        return ()
    tunes = tunes_of(decoded(in_utf_8(data)), name)
    numbers = [tune.number for tune in tunes]
    if len(tunes) < 2:
        return ()
    return tuple((str(tune.number) if numbers.count(tune.number) == 1 else tune.title, tune.title) for tune in tunes)
