"""What a piece is called where several are named together: by its title, or by its name where two have one title."""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import PurePath

from coach.practice.stand import Stand


def told_apart(pieces: Iterable[tuple[str, str, str]]) -> dict[str, str]:
    """What to call pieces, each told from every other one that can be opened.

    Args:
        pieces: Of each what it is known by, its title, and what opens it, "" where nothing does.
    """
    given = list(pieces)
    count = Counter(title.casefold() for _, title, _ in given)
    return {
        known: _by_name(title, source) if source and count[title.casefold()] > 1 else title
        for known, title, source in given
    }


def names(connection: sqlite3.Connection) -> dict[str, str]:
    """What to call each piece that a log knows, by its mark."""
    return told_apart(connection.execute("SELECT mark, title, source FROM pieces"))


def called(connection: sqlite3.Connection, stands: Sequence[Stand]) -> list[Stand]:
    """The same stands, with their pieces told apart."""
    by_mark = names(connection)
    return [stand._replace(title=by_mark.get(stand.piece, stand.title)) for stand in stands]


def _by_name(title: str, source: str) -> str:
    """A piece on the shelf by its name there; a chorale or a file, whose names are long, by both."""
    from coach.score.library import CORPUS

    if source.startswith(CORPUS) or PurePath(source).is_absolute():
        return f"{title} ({PurePath(source).name})"
    return source
