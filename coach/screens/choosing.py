"""What there is to choose from when nothing is to be played, and why nothing is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from coach.listing import listed
from coach.practice import days
from coach.practice.naming import told_apart
from coach.screens.words import title_of

if TYPE_CHECKING:
    from coach.practice.log import Log
    from coach.score.cards import Card

MOST_NAMED = 3
"""So many pieces are named one by one in a sentence; of more it is said how many."""

RANKS = {"in practice": 0, "set aside": 1}
"""What is practised daily comes first, then what was set aside, then whatever else was played."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One piece that can be chosen.

    Attributes:
        name: What opens it.
        title: As printed, or its name where another piece has that title.
        note: What is known of it: that it was set aside, when it was last played.
    """

    name: str
    title: str
    note: str


def choices(log: Log | None, cards: Sequence[Card], today: date) -> list[Choice]:
    """The pieces on the shelf and those of other places that the player decided about, the latest played first.

    Args:
        log: Tells what was played; None where it cannot be used.
        cards: Of the shelf.
        today: Day of practice.
    """
    pieces = log.pieces() if log is not None else []
    last = log.last_days() if log is not None else {}
    by_mark = {str(piece["mark"]): piece for piece in pieces}
    by_source = {str(piece["source"]): piece for piece in pieces}
    found = [(card.name, _title(card), by_mark.get(card.mark) or by_source.get(card.name)) for card in cards]
    there = {card.mark for card in cards} | {card.name for card in cards}
    for piece in pieces:
        if piece["state"] in RANKS and piece["source"] and not {piece["mark"], piece["source"]} & there:
            found.append((str(piece["source"]), str(piece["title"]), piece))
    titles = told_apart((name, title, name) for name, title, _ in found)

    def rank(one: tuple[str, str, Mapping[str, Any] | None]) -> tuple[int, int]:
        piece = one[2]
        day = last.get(piece["mark"]) if piece else None
        none = len(RANKS) + (day is None)
        return RANKS.get(piece["state"], none) if piece else none, -day.toordinal() if day else 0

    return [
        Choice(name, titles[name], _note(piece, last.get(piece["mark"]), today) if piece else "")
        for name, _, piece in sorted(found, key=rank)
    ]


def why_nothing(pieces: Sequence[Mapping[str, Any]], names: Mapping[str, str]) -> str:
    """What is said when no piece is in practice: that none ever was, or what has become of those that were.

    Args:
        pieces: What the log knows of them.
        names: What to call them, by their marks.
    """
    there = {str(piece["title"]).casefold() for piece in pieces if piece["source"]}
    aside = [names[piece["mark"]] for piece in pieces if piece["state"] == "set aside" and piece["source"]]
    # Of a score that was corrected, the notes of before open nowhere; the piece does.
    gone = [
        names[piece["mark"]]
        for piece in pieces
        if piece["state"] == "in practice" and not piece["source"] and str(piece["title"]).casefold() not in there
    ]
    told = [f"{_some(aside)} set aside"] if aside else []
    told += [f"{_some(gone)} not on this shelf"] if gone else []
    if not told:
        return "Nothing is in practice yet. Choose a piece to begin with."
    again = "Choose a piece; on its page t takes it up again." if aside else "Choose a piece."
    return f"Nothing is in practice: {'; '.join(told)}. {again}"


def _some(titles: Sequence[str]) -> str:
    """ "Wide Water is", "Wide Water, Oars at Dusk, The Last Lantern and 4 more are"."""
    more = len(titles) - MOST_NAMED
    named = [*titles[:MOST_NAMED], f"{more} more"] if more > 0 else titles
    return f"{listed(named)} {'is' if len(titles) == 1 else 'are'}"


def _title(card: Card) -> str:
    return card.title or title_of(card.name)


def _note(piece: Mapping[str, Any], last: date | None, today: date) -> str:
    words = ["set aside"] if piece["state"] == "set aside" else []
    if last is not None:
        words.append(f"last played {days.day_of_year(last, today)}")
    elif piece["state"] == "in practice":
        words.append("in practice")
    return ", ".join(words)
