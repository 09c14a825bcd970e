"""The shelf and the chorales from easy to hard for the player's hands.

How hard a piece is rests on its plan, so every piece is planned once for a pair of hands; the result is kept by the
content of the piece.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, Literal

from coach import places
from coach.errors import DAMAGED, CoachError
from coach.fingering.difficulty import Difficulty, difficulty
from coach.fingering.hand import Hands
from coach.fingering.weights import WEIGHTS
from coach.score.chorales import catalogue
from coach.score.library import content_key, find_source, open_piece, shelf_entries
from coach.score.phrases import find_phrases
from coach.score.reading import read_bytes
from coach.whole import write_whole

FORM = 3
"""Version of what is kept; raised when difficulty is reckoned otherwise."""

KEPT_EVERY = 10
"""Pieces after which what is done is written down, so that stopping half way loses little."""


@dataclass(frozen=True, slots=True)
class Graded:
    """One piece with its difficulty.

    Attributes:
        name: What opens it.
        title: As printed.
        shelf: Where it stands.
        difficulty: How hard it is; None where it cannot be read.
        problem: Why not, "" where it can.
    """

    name: str
    title: str
    shelf: Literal["yours", "shipped", "chorale"]
    difficulty: Difficulty | None
    problem: str = ""


def by_effort(hands: Hands, progress: Callable[[int, int], None] | None = None) -> list[Graded]:
    """Every piece of the shelf and every chorale, the easiest first; those that cannot be read last.

    Args:
        hands: The player's hands and keyboard.
        progress: Told how many pieces are done, and of how many.
    """
    path = places.difficulties() / f"{_fingerprint(hands)}.json"
    kept = _read(path)
    wanted = list(_wanted())
    found: list[Graded] = []
    fresh = 0
    try:
        for done, (name, title, shelf) in enumerate(wanted):
            if progress:
                progress(done, len(wanted))
            graded, is_new = _graded(name, title, shelf, hands, kept)
            found.append(graded)
            fresh += is_new
            if is_new and fresh % KEPT_EVERY == 0:
                _keep(path, kept)
    finally:
        if fresh:
            _keep(path, kept)
    if progress:
        progress(len(wanted), len(wanted))
    return sorted(found, key=_order)


def _order(graded: Graded) -> tuple[bool, float, str]:
    number = graded.difficulty.number if graded.difficulty else 0.0
    return graded.difficulty is None, number, graded.name


def _wanted() -> Iterator[tuple[str, str, Literal["yours", "shipped", "chorale"]]]:
    for entry in shelf_entries():
        yield entry.name, "", "shipped" if entry.shipped else "yours"
    # Riemenschneider has some chorales under two numbers.
    titles: dict[str, str] = {}
    for chorale in catalogue():
        titles.setdefault(chorale.name, chorale.title)
    for name, title in titles.items():
        yield name, title, "chorale"


def _graded(
    name: str,
    title: str,
    shelf: Literal["yours", "shipped", "chorale"],
    hands: Hands,
    kept: dict[str, Any],
) -> tuple[Graded, bool]:
    """A piece's difficulty, and whether it had to be worked out."""
    try:
        source = find_source(name)
        key = f"{content_key(read_bytes(source.path, name))}{source.choice}"
        if key in kept:
            known = kept[key]
            return Graded(name, title or known["title"], shelf, Difficulty.from_json(known["difficulty"])), False
        found, printed = _difficulty(name, hands)
    except CoachError as error:
        return Graded(name, title, shelf, None, str(error)), False
    kept[key] = {"title": printed, "difficulty": found.to_json()}
    return Graded(name, title or printed, shelf, found), True


def _difficulty(name: str, hands: Hands) -> tuple[Difficulty, str]:
    from coach.fingering.planner import plan_piece

    piece = open_piece(name)
    plan = plan_piece(piece, find_phrases(replace(piece, cuts=None)), hands)
    return difficulty(plan, piece.tempo), piece.title


def _fingerprint(hands: Hands) -> str:
    """A name for a pair of hands and the way effort is reckoned for them."""
    said = json.dumps([FORM, asdict(hands), sorted(WEIGHTS.items())])
    return hashlib.sha256(said.encode()).hexdigest()[:20]


def _read(path: Path) -> dict[str, Any]:
    try:
        form = json.loads(path.read_text("utf-8"))
        for known in form.values():
            Difficulty.from_json(known["difficulty"])
            str(known["title"])
    except (OSError, *DAMAGED):
        # What is kept can always be worked out again.
        return {}
    return dict(form)


def _keep(path: Path, kept: Mapping[str, Any]) -> None:
    # A full or read-only disk costs the same work another time, nothing else.
    with suppress(OSError):
        write_whole(path, json.dumps(kept, ensure_ascii=False, separators=(",", ":")), lasting=False)
