"""Where a pianist breathes: a piece cut into phrases, each of which says what its end rests on."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from fractions import Fraction

from coach.score.piece import Note, Phrase, Piece, Quarters

FOUR_BARS = 4
"""Bars to a phrase where the page gives no sign (common practice, no source)."""

NEAREST = Fraction(2)
"""How far a boundary may move to a place where no note sounds on, in quarter notes."""

SUPPORT = Fraction(1)
"""How far apart fermatas of different voices may end and still mean one place, in quarter notes."""


def find_phrases(piece: Piece) -> tuple[Phrase, ...]:
    """Cut a piece into phrases; no note sounds across a boundary.

    Phrases end at fermatas. A piece without fermatas falls into four-bar phrases, its pickup respected, which is said
    to be a guess.
    """
    clean = clean_breaks(piece.notes)
    ends = _fermata_ends(piece, clean)
    if ends:
        return cut(piece, dict.fromkeys(ends, "fermata"))
    return cut(piece, dict.fromkeys(_four_bar_ends(piece, clean), "four bars (a guess)"))


def clean_breaks(notes: Iterable[Note]) -> tuple[Quarters, ...]:
    """Onsets at which no earlier note sounds on: the only places where one phrase can follow another."""
    breaks: list[Quarters] = []
    latest: Quarters | None = None
    for note in sorted(notes, key=lambda note: note.onset):
        if latest is not None and note.onset >= latest and (not breaks or breaks[-1] != note.onset):
            breaks.append(note.onset)
        latest = note.end if latest is None else max(latest, note.end)
    return tuple(breaks)


def cut(piece: Piece, ends: dict[Quarters, str]) -> tuple[Phrase, ...]:
    """Phrases between boundaries.

    Args:
        piece: The piece.
        ends: For every boundary inside the piece the onset of the phrase after it, and what it rests on.
    """
    places = sorted(ends)
    starts = [Fraction(0), *places]
    until = [*places, piece.end]
    reasons = [*(ends[place] for place in places), "end of the piece"]
    return tuple(
        Phrase(number, start, end, why)
        for number, (start, end, why) in enumerate(zip(starts, until, reasons, strict=True), 1)
    )


def nearest_break(place: Quarters, clean: Sequence[Quarters], within: Quarters = NEAREST) -> Quarters | None:
    """The clean break nearest to a place, the later one of two; None where none is near enough."""
    after = bisect_left(clean, place)
    near = [found for found in clean[max(after - 1, 0) : after + 1] if abs(found - place) <= within]
    return min(near, key=lambda found: (abs(found - place), -found), default=None)


def _fermata_ends(piece: Piece, clean: Sequence[Quarters]) -> list[Quarters]:
    """Clean breaks that fermatas ask for, the end of the piece left out.

    A fermata counts when the other voices support it: at least half of the voices that sound have a fermata there, or
    come to rest with it.
    """
    marked = {note.end: note.onset for note in piece.notes if note.fermata}
    ends: list[Quarters] = []
    for place, struck in sorted(marked.items()):
        found = nearest_break(place, [*clean, piece.end])
        if (
            found is not None
            and struck < found < piece.end
            and _supported(piece.notes, place, found)
            and found not in ends
        ):
            ends.append(found)
    return ends


def _supported(notes: Sequence[Note], place: Quarters, found: Quarters) -> bool:
    around = [note for note in notes if note.onset < place and note.end > place - SUPPORT]
    if not around:
        return False
    voices = {note.voice for note in around}
    agreeing = {note.voice for note in around if note.fermata or note.end == found or note.end == place}
    return 2 * len(agreeing) >= len(voices)


def _four_bar_ends(piece: Piece, clean: Sequence[Quarters]) -> list[Quarters]:
    """Every fourth bar line, moved back by the length of the pickup, to the clean break nearest to it."""
    bars = [bar for bar in piece.bars if bar.number != 0]
    pickup = sum((bar.duration for bar in piece.bars if bar.number == 0), Fraction(0))
    last = max((note.onset for note in piece.notes), default=Fraction(0))
    ends: list[Quarters] = []
    for bar in bars[FOUR_BARS::FOUR_BARS]:
        found = nearest_break(bar.onset - pickup, clean)
        # A last phrase of less than a bar is the end of the one before it.
        if found is not None and found not in ends and last - found >= bar.full / 2:
            ends.append(found)
    return ends
