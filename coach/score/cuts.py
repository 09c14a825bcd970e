"""The player's own cut of a piece into phrases: split, join and move boundaries, and what is kept of it."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

from coach import places
from coach.errors import DAMAGED, CoachError
from coach.score.counting import place_words
from coach.score.lines import clean_breaks
from coach.score.marks import mark_of
from coach.score.phrases import cut, find_phrases
from coach.score.piece import Phrase, Piece, Quarters, phrase_numbered
from coach.whole import write_whole

OWN = "your choice"
"""What a boundary rests on that the player made."""


def phrases_of(piece: Piece) -> tuple[Phrase, ...]:
    """How a piece is cut: as the player left it, else as the page suggests."""
    return find_phrases(replace(piece, cuts=kept(piece)))


def split(piece: Piece, phrases: Sequence[Phrase], onset: Quarters) -> tuple[Phrase, ...]:
    """Cut a phrase in two before a chord.

    Raises:
        CoachError: a phrase begins there already, or a note sounds on across the cut.
    """
    ends = _ends(phrases)
    if onset in ends or not phrases[0].onset < onset < phrases[-1].end:
        raise CoachError("a phrase begins at this chord already: choose a later one")
    _must_be_clean(piece, onset)
    return cut(piece, {**ends, onset: OWN})


def join(piece: Piece, phrases: Sequence[Phrase], number: int) -> tuple[Phrase, ...]:
    """Join a phrase with the one after it.

    Raises:
        CoachError: there is none after it.
    """
    ends = _ends(phrases)
    del ends[_start_after(phrases, number, "there is none to join it with")]
    return cut(piece, ends)


def move(piece: Piece, phrases: Sequence[Phrase], number: int, onset: Quarters) -> tuple[Phrase, ...]:
    """Move the end of a phrase: the phrase after it begins at `onset`.

    Raises:
        CoachError: there is no phrase after it, the place lies outside the two, or a note sounds on across it.
    """
    start = _start_after(phrases, number, "its end is the end of the piece")
    ends = _ends(phrases)
    first = next(phrase.onset for phrase in phrases if phrase.number == number)
    last = next(phrase.end for phrase in phrases if phrase.number == number + 1)
    if not first < onset < last:
        raise CoachError(f"the end of phrase {number} can move only within phrases {number} and {number + 1}")
    _must_be_clean(piece, onset)
    del ends[start]
    return cut(piece, {**ends, onset: OWN})


def keep(piece: Piece, phrases: Sequence[Phrase]) -> None:
    """Keep a cut with the piece, which is known by its notes whatever file they come from.

    A cut that is just what the page suggests is not kept: it may be found better one day.

    Raises:
        CoachError: it cannot be written.
    """
    path = _path(piece)
    try:
        if tuple(phrases) == find_phrases(replace(piece, cuts=None)):
            for known in (path, *_cuts_of_source(piece)):
                known.unlink(missing_ok=True)
            return
        ends = {str(onset): why for onset, why in _ends(phrases).items()}
        form = {"title": piece.title, "source": piece.source, "ends": ends}
        write_whole(path, json.dumps(form, ensure_ascii=False, indent=1))
    except OSError as error:
        raise CoachError(f'cannot keep the phrases of "{piece.title}": {error.strerror}') from error


def kept(piece: Piece) -> tuple[tuple[Quarters, str], ...] | None:
    """The boundaries that the player keeps with a piece, or None.

    A piece whose notes were corrected at the source is still known by its source: boundaries that a note sounds
    across since then are dropped.
    """
    if not piece.notes:
        return None
    ends = _read(_path(piece))
    if ends is None:
        ends = next((found for path in _cuts_of_source(piece) if (found := _read(path)) is not None), None)
    return None if ends is None else clean_cuts(piece, ends)


def clean_cuts(piece: Piece, ends: Mapping[Quarters, str]) -> tuple[tuple[Quarters, str], ...]:
    """Those of some boundaries, each with what it rests on, that no note of the piece sounds across."""
    clean = set(clean_breaks(piece.notes))
    return tuple((onset, why) for onset, why in sorted(ends.items()) if onset in clean)


def _ends(phrases: Sequence[Phrase]) -> dict[Quarters, str]:
    """The boundaries inside the piece, each with what it rests on."""
    return {later.onset: before.why_it_ends for before, later in pairwise(phrases)}


def _start_after(phrases: Sequence[Phrase], number: int, because: str) -> Quarters:
    phrase_numbered(phrases, number)
    following = next((phrase for phrase in phrases if phrase.number == number + 1), None)
    if following is None:
        raise CoachError(f"phrase {number} is the last: {because}")
    return following.onset


def _must_be_clean(piece: Piece, onset: Quarters) -> None:
    if onset not in clean_breaks(piece.notes):
        bar = piece.bar_at(onset)
        where = place_words(bar.number, bar.beat(onset))
        if all(note.onset != onset for note in piece.notes):
            raise CoachError(f"no chord begins at {where}")
        raise CoachError(f"a note sounds on into {where}: the cut would go through it")


def _read(path: Path) -> dict[Quarters, str] | None:
    try:
        form = json.loads(path.read_text("utf-8"))
        return {Fraction(onset): str(why) for onset, why in form["ends"].items()}
    except (OSError, *DAMAGED):
        return None


def _cuts_of_source(piece: Piece) -> list[Path]:
    """What is kept for earlier readings of the same source under the same title, the latest first."""
    found = []
    for path in places.phrasings().glob("*.json"):
        with suppress(OSError, *DAMAGED):
            form = json.loads(path.read_text("utf-8"))
            if (form["source"], form["title"]) == (piece.source, piece.title):
                found.append((path.stat().st_mtime_ns, path))
    return [path for _, path in sorted(found, reverse=True)]


def _path(piece: Piece) -> Path:
    return places.phrasings() / f"{mark_of(piece.notes)}.json"
