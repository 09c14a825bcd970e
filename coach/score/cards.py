"""What the shelf shows of each piece: its card, kept so that only pieces that are new or changed are opened."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace

from coach import places
from coach.errors import DAMAGED, CoachError
from coach.score.cuts import phrases_of
from coach.score.library import READING, Entry, has_words, open_file, shelf_entries
from coach.score.marks import mark_of
from coach.score.phrases import CUTTING
from coach.score.piece import Piece
from coach.score.spelling import key_name
from coach.whole import write_whole

FORM = 1
"""Version of the shelf's list of cards."""


@dataclass(frozen=True, slots=True)
class Card:
    """What the shelf shows of a piece.

    Attributes:
        name: What `open_piece` takes.
        title: As printed.
        composer: "" where unknown.
        key: "E flat major".
        phrases: How many.
        bars: How many, a pickup not counted.
        voices: How many.
        mark: What the music is known by, see `marks`.
        shipped: Whether it ships with the coach.
        problem: Why it cannot be read, "" where it can.
    """

    name: str
    title: str
    composer: str = ""
    key: str = ""
    phrases: int = 0
    bars: int = 0
    voices: int = 0
    mark: str = ""
    shipped: bool = False
    problem: str = ""


def cards(progress: Callable[[int, int], None] | None = None) -> tuple[Card, ...]:
    """A card for every piece on the shelf and every shipped one. Only pieces that are new or changed are opened."""
    known = _kept_cards()
    found: list[Card] = []
    kept: dict[str, tuple[str, Card]] = {}
    entries = shelf_entries()
    for done, entry in enumerate(entries):
        if progress:
            progress(done, len(entries))
        before = known.get(str(entry.path))
        card = before[1] if before and before[0] == _state(entry, before[1].mark) else _card(entry)
        if not card.problem:
            # A problem may pass without a trace on the file, as a lack of rights does.
            kept[str(entry.path)] = (_state(entry, card.mark), card)
        found.append(card)
    if kept != known:
        _keep_cards(kept)
    return tuple(found)


def cards_at_hand() -> tuple[tuple[Card, ...], bool]:
    """The same without opening any piece: of one that is new or changed only its name.

    Returns:
        The cards, and whether every piece is there as it was read.
    """
    known = _kept_cards()
    found, whole = [], True
    for entry in shelf_entries():
        before = known.get(str(entry.path))
        card = before[1] if before and before[0] == _state(entry, before[1].mark) else None
        whole = whole and card is not None
        found.append(card or Card(entry.name, "", shipped=entry.shipped))
    return tuple(found), whole


def search(words: str) -> tuple[Card, ...]:
    """Cards whose title, name or composer has all of the words, or words that begin with them."""
    return tuple(card for card in cards() if has_words(f"{card.name} {card.title} {card.composer}", words))


def _card(entry: Entry) -> Card:
    try:
        piece = open_file(entry.path, entry.name)
    except CoachError as error:
        return Card(entry.name, entry.name, shipped=entry.shipped, problem=str(error))
    return _of_piece(piece, entry)


def _of_piece(piece: Piece, entry: Entry) -> Card:
    return Card(
        name=entry.name,
        title=piece.title,
        composer=piece.composer,
        key=key_name(piece.fifths, piece.minor),
        phrases=len(phrases_of(replace(piece, source=entry.name))),
        bars=len([bar for bar in piece.bars if bar.number and not bar.before]),
        voices=len(piece.voices),
        mark=mark_of(piece.notes),
        shipped=entry.shipped,
    )


def _state(entry: Entry, mark: str) -> str:
    """What changes when a card may have to be written anew: the file, the readers, the search for phrases, the
    player's cuts of this music."""
    try:
        file = entry.path.stat()
    except OSError:
        return ""
    cuts = places.phrasings() / f"{mark}.json"
    changed = cuts.stat().st_mtime_ns if mark and cuts.exists() else 0
    return f"{READING}.{CUTTING}.{file.st_mtime_ns}.{file.st_size}.{changed}"


def _kept_cards() -> dict[str, tuple[str, Card]]:
    try:
        form = json.loads((places.home() / "shelf.json").read_text("utf-8"))
        if form["form"] != FORM:
            return {}
        return {path: (state, Card(**card)) for path, (state, card) in form["cards"].items()}
    except (OSError, *DAMAGED):
        return {}


def _keep_cards(kept: dict[str, tuple[str, Card]]) -> None:
    form = {"form": FORM, "cards": {at: [state, asdict(card)] for at, (state, card) in kept.items()}}
    # The list is only a short cut: it is made anew next time.
    with contextlib.suppress(OSError):
        write_whole(places.home() / "shelf.json", json.dumps(form, ensure_ascii=False, indent=1), lasting=False)
