"""The forms in which a plan leaves the coach, by the ending of a file's name."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from coach.errors import CoachError
from coach.fingering.plan import Plan
from coach.paper.cells import Fingers, first_stanza
from coach.paper.sheet import sheet_of
from coach.score.piece import Piece


@dataclass(frozen=True)
class Order:
    """What is to be written.

    Attributes:
        piece: What was planned.
        plan: Its plan, of all phrases or some.
        fingers: Which fingers to write.
    """

    piece: Piece
    plan: Plan
    fingers: Fingers


def writer_of(name: str) -> Callable[[Order], bytes]:
    """What writes a file of this name.

    Raises:
        CoachError: its ending is none of `WRITERS`.
    """
    writer = WRITERS.get(Path(name).suffix.lower())
    if writer is None:
        raise CoachError(f'"{name}" does not say what to write: let it end in .html, .svg, .musicxml or .mid')
    return writer


def _musicxml(order: Order) -> bytes:
    from coach.paper.musicxml import musicxml_of

    return musicxml_of(sheet_of(order.plan, order.piece, order.fingers))


def _svg(order: Order) -> bytes:
    from coach.paper.engraving import BY_ITSELF, engraved

    page, *more = engraved(_musicxml(order), BY_ITSELF)
    if more:
        raise CoachError("the piece is too long for one page: name a phrase with --phrase N, or write an .html file")
    return page.encode("utf-8")


def _html(order: Order) -> bytes:
    from coach.paper.engraving import WITHIN_A_PAGE, engraved
    from coach.paper.page import page_of

    words = {phrase.number: first_stanza(order.piece, phrase) for phrase in order.plan.phrases}
    music = engraved(_musicxml(order), WITHIN_A_PAGE)
    sheet = sheet_of(order.plan, order.piece, order.fingers)
    return page_of(order.plan, sheet, music, order.fingers, words).encode("utf-8")


def _midi(order: Order) -> bytes:
    from coach.paper.sound_file import midi_of

    return midi_of(order.plan, sheet_of(order.plan, order.piece), order.piece.tempo)


WRITERS: Mapping[str, Callable[[Order], bytes]] = {
    ".html": _html,
    ".htm": _html,
    ".svg": _svg,
    ".musicxml": _musicxml,
    ".xml": _musicxml,
    ".mid": _midi,
    ".midi": _midi,
}
"""What the ending of a name asks for."""
