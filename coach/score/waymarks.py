"""Da capo, dal segno, fine and coda: the marks that send a player to another place of the piece, and back."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

Kind = Literal["segno", "coda", "to coda", "fine", "da capo", "dal segno"]
"""The sign that a D.S. goes back to; where the coda begins; where one leaves for it; where the piece ends after going
back; back to the beginning; back to the segno."""

Until = Literal["", "fine", "coda", "segno"]
"""How far a D.C. or D.S. says to play: "al Fine", "al Coda", "al Segno"; "" where it does not say."""

WORDS: Mapping[Kind, str] = {
    "segno": "Segno",
    "coda": "Coda",
    "to coda": "To Coda",
    "fine": "Fine",
    "da capo": "D.C.",
    "dal segno": "D.S.",
}
"""How each is printed, and said."""

ORDER = tuple(WORDS)
"""The order in which marks at one place stand."""


@dataclass(frozen=True, slots=True)
class Waymark:
    """One mark of a bar.

    Attributes:
        kind: What it says.
        at: Quarter notes from the start of its bar. Of a segno and a coda: to the music that begins with it; of the
            others: to the end of the music that is played before one goes on elsewhere, mostly the end of the bar.
        until: How far to play after going back.
    """

    kind: Kind
    at: Fraction = Fraction(0)
    until: Until = ""

    @property
    def begins(self) -> bool:
        """Whether it stands before music, not after it."""
        return self.kind in ("segno", "coda")

    @property
    def goes_back(self) -> bool:
        return self.kind in ("da capo", "dal segno")

    @property
    def ends_music(self) -> bool:
        """Whether players stop here or go back: what comes after it on the page is a new beginning."""
        return self.goes_back or self.kind == "fine"

    @property
    def words(self) -> str:
        """As printed: "Fine", "D.C. al Fine"."""
        return f"{WORDS[self.kind]} al {WORDS[self.until]}" if self.until else WORDS[self.kind]


Marks = Sequence[Waymark]
"""The marks of one bar, in order."""


def in_order(marks: Collection[Waymark]) -> tuple[Waymark, ...]:
    """The marks of one bar as it carries them: by place, each kind once a place; the one that says more stays."""
    found: dict[tuple[Fraction, Kind], Waymark] = {}
    for mark in marks:
        known = found.get((mark.at, mark.kind))
        if known is None or not known.until:
            found[mark.at, mark.kind] = mark
    return tuple(sorted(found.values(), key=lambda mark: (mark.at, ORDER.index(mark.kind))))


def beginnings(ways: Sequence[Marks]) -> tuple[int, ...]:
    """The places of bars with which something new begins: those after a Fine, a D.C. or a D.S."""
    return tuple(place for place in range(1, len(ways)) if any(mark.ends_music for mark in ways[place - 1]))


def segno_for(ways: Sequence[Marks], place: int) -> int | None:
    """The bar with the segno that a D.S. means: the last one up to its own bar, else the first one of all."""
    segnos = [at for at, marks in enumerate(ways) if any(mark.kind == "segno" for mark in marks)]
    before = [at for at in segnos if at <= place]
    return before[-1] if before else next(iter(segnos), None)


def coda_for(ways: Sequence[Marks], place: int) -> int | None:
    """The bar in which the coda begins that one leaves for after a bar: the next one, else the first one of all."""
    codas = [at for at, marks in enumerate(ways) if any(mark.kind == "coda" for mark in marks)]
    return next((at for at in codas if at > place), next(iter(codas), None))


def kept(ways: Sequence[Marks], bars: Collection[int]) -> tuple[tuple[Waymark, ...], ...]:
    """The marks that stay where only some bars of a piece are written: those of a D.C. or D.S. that is there whole,
    with the place that it goes back to and all that it leads to. Others would send the reader to bars that are not
    there.

    Args:
        ways: The marks of each bar of the piece.
        bars: The places of those that are written, without gaps.
    """
    if len(bars) == len(ways):
        return tuple(map(tuple, ways))
    wanted: set[tuple[int, Kind | None]] = set()
    for place, marks in enumerate(ways):
        for mark in marks:
            needs = set(_needs(ways, place, mark)) if mark.goes_back else set()
            if needs and all(at in bars for at, _ in needs):
                wanted |= needs
    return tuple(
        tuple(mark for mark in marks if (place, mark.kind) in wanted) if place in bars else ()
        for place, marks in enumerate(ways)
    )


def _needs(ways: Sequence[Marks], place: int, back: Waymark) -> Iterator[tuple[int, Kind | None]]:
    """The bars, each with its mark, that a D.C. or D.S. leads through; the beginning of the piece has none. A bar that
    is nowhere has the place -1."""
    yield place, back.kind
    segno = segno_for(ways, place)
    if back.kind == "da capo":
        yield 0, None
    if back.kind == "dal segno" or back.until == "segno":
        yield (-1 if segno is None else segno), "segno"
    for at, marks in enumerate(ways):
        for mark in marks:
            if mark.kind == "fine" and back.until in ("", "fine"):
                yield at, "fine"
            elif mark.kind == "to coda" and back.until in ("", "coda"):
                coda = coda_for(ways, at)
                yield at, "to coda"
                yield (-1 if coda is None else coda), "coda"
