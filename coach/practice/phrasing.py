"""The player's own cut of a piece into phrases: split, join, and what was kept of it."""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

from coach import places
from coach.errors import CoachError
from coach.practice.passage import piece_mark
from coach.score.phrases import clean_breaks, cut, find_phrases
from coach.score.piece import Phrase, Piece, Quarters

OWN = "your choice"
"""What a boundary rests on that the player made."""


def phrases_of(piece: Piece) -> tuple[Phrase, ...]:
    """How a piece is cut: as the player left it, else as the page suggests."""
    ends = _kept(piece)
    return find_phrases(piece) if ends is None else cut(piece, ends)


def split(piece: Piece, phrases: Sequence[Phrase], onset: Quarters) -> tuple[Phrase, ...]:
    """Cut a phrase in two before a chord.

    Raises:
        CoachError: a phrase begins there already, or a note sounds on across the cut.
    """
    if any(phrase.onset == onset for phrase in phrases) or not phrases[0].onset < onset < phrases[-1].end:
        raise CoachError("a phrase begins at this chord already: choose a later one")
    if onset not in clean_breaks(piece.notes):
        bar = piece.bar_at(onset)
        where = f"bar {bar.number}, beat {bar.beat(onset):g}"
        raise CoachError(f"a note sounds on into {where}: the cut would go through it")
    return cut(piece, {**_ends(phrases), onset: OWN})


def join(piece: Piece, phrases: Sequence[Phrase], number: int) -> tuple[Phrase, ...]:
    """Join a phrase with the one after it.

    Raises:
        CoachError: there is none after it.
    """
    following = next((phrase for phrase in phrases if phrase.number == number + 1), None)
    if following is None:
        raise CoachError("this is the last phrase: there is none to join it with")
    ends = _ends(phrases)
    del ends[following.onset]
    return cut(piece, ends)


def keep(piece: Piece, phrases: Sequence[Phrase]) -> None:
    """Keep a cut with the piece, which is known by its notes whatever file they come from.

    Raises:
        CoachError: it cannot be written.
    """
    path = _path(piece)
    if tuple(phrases) == find_phrases(piece):
        path.unlink(missing_ok=True)
        return
    form = {"title": piece.title, "ends": {str(onset): why for onset, why in _ends(phrases).items()}}
    beside = path.with_suffix(f".{os.getpid()}")
    try:
        beside.write_text(json.dumps(form, ensure_ascii=False, indent=1), encoding="utf-8")
        os.replace(beside, path)
    except OSError as error:
        raise CoachError(f'cannot keep the phrases of "{piece.title}": {error.strerror}') from error


def _ends(phrases: Sequence[Phrase]) -> dict[Quarters, str]:
    """The boundaries inside the piece, each with what it rests on."""
    return {later.onset: before.why_it_ends for before, later in pairwise(phrases)}


def _kept(piece: Piece) -> dict[Quarters, str] | None:
    try:
        form = json.loads(_path(piece).read_text("utf-8"))
        ends = {Fraction(onset): str(why) for onset, why in form["ends"].items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError, ZeroDivisionError):
        return None
    clean = set(clean_breaks(piece.notes))
    return ends if all(onset in clean for onset in ends) else None


def _path(piece: Piece) -> Path:
    return places.phrasings() / f"{piece_mark(piece)}.json"
