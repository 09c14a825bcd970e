"""Where a piece is found: files, the shelf, the pieces that ship with the coach, and music21's corpus.

A piece once read is kept as compact JSON, keyed by the content of its source, so that it opens without being read
again.
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
import re
import unicodedata
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import chain
from pathlib import Path

from coach import places
from coach.errors import DAMAGED, CoachError
from coach.score.cuts import kept
from coach.score.formats.content import ENDINGS
from coach.score.piece import FORM, Piece
from coach.score.reading import read_bytes, read_score
from coach.whole import write_whole

CORPUS = "corpus:"
"""What a name begins with that means a path of music21's corpus."""

READING = 15
"""Version of the readers. Raise it when they read the same file differently, so that kept pieces are read again."""

SUFFIXES = tuple(dict.fromkeys(chain.from_iterable(ENDINGS.values())))
"""Endings of files that hold scores, in the order in which a bare name is tried."""

UMLAUTS = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue"})
"""How German umlauts are written on a keyboard without them (common practice, no source)."""

NUMBERED = re.compile(r"(?:chorale|riemenschneider|r)\s*\.?\s*(\d{1,3})", re.I)
"""How one of the 371 chorales is called by its number."""


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


@dataclass(frozen=True, slots=True)
class Source:
    """What a name leads to.

    Attributes:
        path: The file.
        choice: Which of several tunes in it, "" where it holds one piece.
    """

    path: Path
    choice: str = ""


def open_piece(name: str) -> Piece:
    """Open a piece, with the player's own cuts into phrases.

    Args:
        name: A file's path; the name of a piece on the shelf or among the shipped ones, or words that only one of them
            has; "corpus:bach/bwv269"; "chorale 1". A tune of a file or piece that holds several is named as in
            "hymns.abc#3".

    Raises:
        CoachError: unknown, or it cannot be read.
    """
    source = find_source(name)
    piece = open_file(source.path, shown(name), source.choice)
    piece = replace(piece, source=shown(own_name(name)), title=titled(piece.title, source.path))
    return replace(piece, cuts=kept(piece))


def own_name(name: str) -> str:
    """A name that goes on leading to the same piece: words may mean another one later, and so may a file's name when it
    is asked for in another folder.

    Raises:
        CoachError: as `find_source`.
    """
    source = find_source(name)
    path = source.path
    of_its_own = f"{path.stem}#{source.choice}" if source.choice else path.stem
    if path.parent in (places.shelf(), places.shipped_pieces()):
        with suppress(CoachError):
            if find_source(of_its_own) == source:
                return of_its_own
    typed = name.removesuffix(f"#{source.choice}") if source.choice else name
    if not name.startswith(CORPUS) and places.expanded(typed).exists():
        return f"{path.resolve()}#{source.choice}" if source.choice else str(path.resolve())
    return name


def open_file(path: Path, name: str, choice: str = "") -> Piece:
    """Read a file, or what was kept when it was last read.

    Args:
        path: The file.
        name: What the player calls it.
        choice: Which of several tunes in it.

    Raises:
        CoachError: it cannot be read.
    """
    data = read_bytes(path, name)
    at = places.parsed_pieces() / f"{content_key(data, choice)}.json"
    piece = _kept(at)
    if piece is None:
        piece = read_score(data, name, "", choice)
        _keep(piece, at)
    return replace(piece, source=name, title=piece.title or shown(path.stem))


def titled(title: str, path: Path) -> str:
    """The title of a piece. Bach's chorales bear only their number in the corpus: the catalogue knows their titles."""
    found = re.fullmatch(r"bwv\s*([\d.]+)([\w.-]*)", title, re.I)
    if not found or "corpus" not in path.parts:
        return title
    from coach.score.chorales import title_of

    return title_of(f"{CORPUS}bach/{path.stem}") or f"BWV {found[1]}{found[2]}"


def find_source(name: str) -> Source:
    """The file behind a name.

    Raises:
        CoachError: there is none, or several could be meant.
    """
    try:
        if name.startswith(CORPUS):
            bare, _, choice = name.partition("#")
            return Source(corpus_file(bare), choice)
        path = places.expanded(name)
        if path.exists():
            # A folder holds pieces and is none: one of the same name may be on the shelf.
            return (_by_name(name) if path.is_dir() else None) or Source(path)
        before, choice = _tune_of(name)
        if choice and places.expanded(before).is_file():
            return Source(places.expanded(before), choice)
    except (OSError, ValueError) as error:
        raise CoachError(f'cannot find "{shown(name)}"') from error
    found = _by_name(name)
    if found is None:
        raise CoachError(
            f'cannot find "{shown(name)}": no file, no piece on the shelf and no shipped piece has this name'
        )
    return found


def _tune_of(name: str) -> tuple[str, str]:
    """The tune book and the tune of a name like "hymns.abc#3"; without a tune the name itself."""
    before, mark, choice = name.rpartition("#")
    return (before, choice) if mark and before.strip() and choice.strip() else (name, "")


def _by_name(name: str) -> Source | None:
    """What a name means: a piece on the shelf or a shipped one, of a tune book there one tune, or a numbered chorale.

    Some words of a name come last: "chorale 1" is the first of the chorales, whatever other chorale No. 1 there is.

    Raises:
        CoachError: several could be meant.
    """
    entries = shelf_entries()
    ways = list(dict.fromkeys(((name, ""), _tune_of(name))))

    def first(fits: Callable[[str, str], bool]) -> Source | None:
        for words, choice in ways:
            entry = _only((entry for entry in entries if fits(entry.name, words)), words)
            if entry is not None:
                return Source(entry.path, choice)
        return None

    found = first(str.__eq__) or first(_same_but_for_case) or first(same_words)
    numbered = NUMBERED.fullmatch(name.strip())
    if found is None and numbered:
        from coach.score.chorales import name_of_number

        return Source(corpus_file(name_of_number(int(numbered[1]))))
    return found or first(has_words)


def _only(fitting: Iterable[Entry], name: str) -> Entry | None:
    """The piece that a name means of those that fit, None where none does; the player's own before a shipped one."""
    found = list(fitting)
    names = {entry.name for entry in found}
    if len(names) > 1:
        some = ", ".join(f'"{entry}"' for entry in sorted(names)[:5])
        raise CoachError(f'"{shown(name)}" could be any of {some}: use more words')
    return found[0] if found else None


def _same_but_for_case(title: str, name: str) -> bool:
    return title.casefold() == name.strip().casefold()


def has_words(title: str, words: str) -> bool:
    """Whether each of some words begins a word of a title, and each number is one of its numbers; hyphens count as
    spaces, and "schön" is found as "schon" and "schoen" too, for not every keyboard has every letter."""
    written = unicodedata.normalize("NFC", title.casefold())
    have = {word for text in (written, written.translate(UMLAUTS), _without_accents(written)) for word in _words(text)}
    wanted = _words(words)
    return bool(wanted) and all(
        word in have if word.isdecimal() else any(part.startswith(word) for part in have) for word in wanted
    )


def same_words(title: str, other: str) -> bool:
    """Whether two titles are the same but for case, hyphens and other signs between the words."""
    return _words(title) == _words(other)


def _words(text: str) -> list[str]:
    return [word for word in re.split(r"[\W_]+", unicodedata.normalize("NFC", text.casefold())) if word]


def _without_accents(text: str) -> str:
    return "".join(sign for sign in unicodedata.normalize("NFD", text) if not unicodedata.combining(sign))


def shelf_entries() -> tuple[Entry, ...]:
    """Pieces on the player's shelf, then the shipped ones, each by name, without opening any."""
    return (*_entries(places.shelf(), False), *_entries(places.shipped_pieces(), True))


def _entries(folder: Path, shipped: bool) -> Iterator[Entry]:
    if folder.is_dir():
        for path in sorted(folder.iterdir(), key=lambda path: (path.stem.casefold(), path.name)):
            if path.suffix.lower() in SUFFIXES and not path.name.startswith(".") and path.is_file():
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
    missing = CoachError(f'cannot find "{shown(name)}" in music21\'s corpus')
    parts = [part for part in name.removeprefix(CORPUS).split("/") if part]
    if not parts or any(part in (".", "..") or "\\" in part or "\0" in part or ":" in part for part in parts):
        raise missing
    inside, stem = folder.joinpath(*parts[:-1]), parts[-1]
    if not inside.is_dir():
        raise missing
    if (inside / stem).is_file() and Path(stem).suffix.lower() in SUFFIXES:
        return inside / stem
    for suffix in SUFFIXES:
        if (inside / f"{stem}{suffix}").is_file():
            return inside / f"{stem}{suffix}"
    begun = sorted(path for path in inside.iterdir() if path.name.startswith(stem) and path.suffix.lower() in SUFFIXES)
    if len(begun) == 1:
        return begun[0]
    if begun:
        names = ", ".join(path.stem for path in begun[:5])
        raise CoachError(f'"{shown(name)}" fits several pieces of music21\'s corpus: {names}')
    raise missing


def content_key(data: bytes, choice: str = "") -> str:
    """Name under which the piece read from this content is kept."""
    return hashlib.sha256(f"{FORM}.{READING}.{choice}.".encode() + data).hexdigest()[:40]


def shown(name: str) -> str:
    """A name as it can be printed: file names need not be proper text."""
    return name.encode("utf-8", "surrogateescape").decode("utf-8", "replace")


def _kept(path: Path) -> Piece | None:
    """A kept piece, or None where there is none that can be trusted."""
    try:
        return Piece.from_json(json.loads(path.read_text("utf-8")))
    except (OSError, *DAMAGED):
        return None


def _keep(piece: Piece, path: Path) -> None:
    # A full or read-only disk costs a second reading, nothing else.
    with suppress(OSError):
        write_whole(path, json.dumps(piece.to_json(), ensure_ascii=False, separators=(",", ":")), lasting=False)
