"""Where a piece is found: files, the shelf, the pieces that ship with the coach, and music21's corpus.

A piece once read is kept as compact JSON, keyed by the content of its source, so that it opens without being read
again.
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from coach import places
from coach.errors import CoachError
from coach.score.piece import FORM, Piece
from coach.score.reading import read_bytes, read_score

CORPUS = "corpus:"
"""What a name begins with that means a path of music21's corpus."""

READING = 2
"""Version of the readers. Raise it when they read the same file differently, so that kept pieces are read again."""

SUFFIXES = (".mxl", ".musicxml", ".xml", ".abc", ".krn", ".mid", ".midi")
"""Endings of files that hold scores, in the order in which a bare name is tried."""


@dataclass(frozen=True, slots=True)
class Entry:
    """A piece that can be opened by name.

    Attributes:
        name: What `open_piece` takes.
        path: Its file.
        shipped: Whether it ships with the coach, rather than being the player's.
    """

    name: str
    path: Path
    shipped: bool


def open_piece(name: str) -> Piece:
    """Open a piece.

    Args:
        name: A file's path, the name of a piece on the shelf or among the shipped ones, or "corpus:bach/bwv269".

    Raises:
        CoachError: unknown, or it cannot be read.
    """
    path = find_source(name)
    data = read_bytes(path, name)
    kept = places.parsed_pieces() / f"{content_key(data)}.json"
    piece = _kept(kept)
    if piece is None:
        piece = read_score(data, name, path.stem)
        _keep(piece, kept)
    return replace(piece, source=name)


def find_source(name: str) -> Path:
    """The file behind a name.

    Raises:
        CoachError: there is none.
    """
    if name.startswith(CORPUS):
        return corpus_file(name)
    try:
        path = Path(name).expanduser()
        if path.exists():
            return path
    except (OSError, ValueError, RuntimeError) as error:
        raise CoachError(f'cannot find "{name}"') from error
    for entry in shelf_entries():
        if entry.name == name:
            return entry.path
    raise CoachError(f'cannot find "{name}": no file, no piece on the shelf and no shipped piece has this name')


def shelf_entries() -> tuple[Entry, ...]:
    """Pieces on the player's shelf, then the shipped ones, each by name, without opening any."""
    return (*_entries(places.shelf(), False), *_entries(places.shipped_pieces(), True))


def _entries(folder: Path, shipped: bool) -> Iterator[Entry]:
    if folder.is_dir():
        for path in sorted(folder.iterdir()):
            if path.suffix.lower() in SUFFIXES and path.is_file():
                yield Entry(path.stem, path, shipped)


def corpus_folder() -> Path:
    """music21's corpus, found without loading music21.

    Raises:
        CoachError: music21 is not installed.
    """
    found = importlib.util.find_spec("music21")
    folders = list(found.submodule_search_locations or []) if found else []
    if not folders:
        raise CoachError("cannot find music21's corpus: music21 is not installed")
    return Path(folders[0]) / "corpus"


def corpus_file(name: str) -> Path:
    """The file behind "corpus:bach/bwv269"; the start of a name will do where only one file has it.

    Raises:
        CoachError: there is none, or the path leads out of the corpus.
    """
    folder = corpus_folder()
    parts = [part for part in name.removeprefix(CORPUS).split("/") if part]
    if not parts or any(part in (".", "..") or "\\" in part or "\0" in part for part in parts):
        raise CoachError(f'cannot find "{name}" in music21\'s corpus')
    inside, stem = folder.joinpath(*parts[:-1]), parts[-1]
    if inside.is_dir():
        if (inside / stem).is_file() and Path(stem).suffix.lower() in SUFFIXES:
            return inside / stem
        for suffix in SUFFIXES:
            if (inside / f"{stem}{suffix}").is_file():
                return inside / f"{stem}{suffix}"
        begun = sorted(
            path for path in inside.iterdir() if path.name.startswith(stem) and path.suffix.lower() in SUFFIXES
        )
        if len(begun) == 1:
            return begun[0]
        if begun:
            names = ", ".join(path.stem for path in begun[:5])
            raise CoachError(f'"{name}" fits several pieces of music21\'s corpus: {names}')
    raise CoachError(f'cannot find "{name}" in music21\'s corpus')


def content_key(data: bytes) -> str:
    """Name under which the piece read from this content is kept."""
    return hashlib.sha256(f"{FORM}.{READING}.".encode() + data).hexdigest()[:40]


def _kept(path: Path) -> Piece | None:
    """A kept piece, or None where there is none that can be trusted."""
    try:
        return Piece.from_json(json.loads(path.read_text("utf-8")))
    except (OSError, ValueError, KeyError, TypeError, IndexError, AttributeError):
        return None


def _keep(piece: Piece, path: Path) -> None:
    """Keep a piece. Written beside its place and moved there, so that nobody ever opens half a file."""
    text = json.dumps(piece.to_json(), ensure_ascii=False, separators=(",", ":"))
    beside = path.with_suffix(f".{os.getpid()}")
    try:
        beside.write_text(text, "utf-8")
        beside.replace(path)
    except OSError:
        # A full or read-only disk costs a second reading, nothing else.
        beside.unlink(missing_ok=True)
