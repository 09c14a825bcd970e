"""The forms in which a plan leaves the coach, by the ending of a file's name."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from coach import places
from coach.errors import CoachError
from coach.fingering.plan import Plan
from coach.paper.cells import Fingers, first_stanza
from coach.paper.sheet import Sheet, sheet_of
from coach.score.library import CORPUS, same_words
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
    fingers: Fingers = "all"

    @cached_property
    def sheet(self) -> Sheet:
        """The plan written down."""
        return sheet_of(self.plan, self.piece, self.fingers)


def page_file(piece: Piece, name: str) -> Path:
    """Where the page to print of a piece lies.

    Args:
        piece: The piece.
        name: What opens it: several pieces may have one title.
    """
    called = Path(name.removeprefix(CORPUS)).stem
    apart = "" if same_words(called, piece.title) else called
    return places.sheets() / f"{places.file_name(piece.title, apart)}.html"


def must_be_a_form(name: str) -> None:
    """Whether a file of this name can be written.

    Raises:
        CoachError: its ending is none of `WRITERS`.
    """
    if Path(name).suffix.lower() not in WRITERS:
        raise CoachError(f'"{name}" does not say what to write: let it end in .html, .svg, .musicxml or .mid')


def written(name: str, order: Order) -> bytes:
    """The content of a file of this name.

    Raises:
        CoachError: its ending is none of `WRITERS`, or the music cannot be written in this form.
    """
    must_be_a_form(name)
    try:
        return WRITERS[Path(name).suffix.lower()](order)
    except CoachError:
        raise
    except Exception as error:
        # Music comes from anywhere. The tests call the writers themselves, so that this last net stays without work.
        raise CoachError(f'"{order.piece.title}" has something in it that cannot be written down') from error


def _musicxml(order: Order) -> bytes:
    from coach.paper.musicxml import musicxml_of

    return musicxml_of(order.sheet)


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
    return page_of(order.plan, order.sheet, music, order.fingers, words).encode("utf-8")


def _midi(order: Order) -> bytes:
    from coach.paper.sound_file import midi_of

    return midi_of(order.plan, order.sheet, order.piece.tempo)


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
