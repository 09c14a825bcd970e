"""The bars of a sheet: which of the piece's, which metres are printed, and what becomes of bars that no metre fits."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from math import ceil

from coach.score import waymarks
from coach.score.piece import Bar, Piece, Quarters
from coach.score.repeats import kept
from coach.score.waymarks import beginnings

UNSETTLED = 3
"""From so many metres, of which one bar in so many has another than the bar before, on none is printed: hymnals print
none for a tune that is sung freely."""

LONGEST_BAR = Fraction(12)
"""Quarter notes of the longest bar that stands on a page as it is; music without bar lines is cut where it breathes."""


@dataclass(frozen=True, slots=True)
class BarLines:
    """The bars of a sheet.

    Attributes:
        bars: In order; the first and the last may be cut where only some phrases are written, and none is longer than
            its metre.
        metres: The metre that is printed before each bar, "" for none.
        open_bars: Places of the bars that no bar line closes: a very long one is cut for the page.
    """

    bars: tuple[Bar, ...]
    metres: tuple[str, ...]
    open_bars: frozenset[int]


def bar_lines(piece: Piece, breaths: Sequence[Quarters], end: Quarters) -> BarLines:
    """The bars that some phrases stand in; all of the piece's where the phrases are all of it.

    Args:
        piece: The piece.
        breaths: Where each of the phrases begins.
        end: Where the last of them ends.
    """
    printed = _printed(piece, breaths[0], end)
    signs = dict(zip((bar.onset for bar in printed), _signs(printed), strict=True))
    measured = list(_measured(printed, breaths, piece))
    return BarLines(
        bars=tuple(bar for bar, _ in measured),
        metres=tuple(signs.get(bar.onset, "") for bar, _ in measured),
        open_bars=frozenset(place for place, (_, closed) in enumerate(measured) if not closed),
    )


def metre_of(length: Quarters) -> str:
    """A metre as long as a bar: "5/8" for two and a half quarters; a little longer where no metre is so long."""
    unit = max((length / 4).denominator, 4)
    if unit > 64 or unit & (unit - 1):
        return f"{ceil(length)}/4"
    return f"{int(length / 4 * unit)}/{unit}"


def _printed(piece: Piece, start: Quarters, end: Quarters) -> list[Bar]:
    """The piece's bars between two places, the first and the last cut there."""
    if all(note.onset >= start for note in piece.notes):
        start = piece.bars[0].onset
    if all(note.onset < end for note in piece.notes):
        end = piece.end
    whole = [place for place, bar in enumerate(piece.bars) if start <= bar.onset and bar.end <= end]
    ways = [bar.waymarks for bar in piece.bars]
    repeats = kept([bar.repeat for bar in piece.bars], whole, beginnings(ways))
    cut = []
    for bar, repeat, marks in zip(piece.bars, repeats, waymarks.kept(ways, whole), strict=True):
        opens, closes = max(bar.onset, start), min(bar.end, end)
        if opens < closes:
            before = bar.skipped + opens - bar.onset
            bar = replace(bar, repeat=repeat, waymarks=marks)
            cut.append(replace(_part(bar, opens, closes), before=before))
    if end > cut[-1].end:
        # Notes that sound beyond the last bar: the page is longer than its bars say.
        cut[-1] = replace(cut[-1], duration=end - cut[-1].onset)
    return cut


def _part(bar: Bar, onset: Quarters, end: Quarters) -> Bar:
    """A part of a bar, with the marks that stand there: what begins music at its start, what ends it at its end."""
    here = [
        replace(mark, at=mark.at - (onset - bar.onset))
        for mark in bar.waymarks
        if (onset <= bar.onset + mark.at < end if mark.begins else onset < bar.onset + mark.at <= end)
    ]
    return replace(bar, onset=onset, duration=end - onset, waymarks=tuple(here))


def _signs(bars: Sequence[Bar]) -> list[str]:
    """The metre to print before each bar, "" for none: only changes are printed, and none where they never settle.

    Music without metre has none to print.
    """
    metres = [bar.metre if bar.metred else "" for bar in bars]
    changes = [place == 0 or metres[place - 1] != metre for place, metre in enumerate(metres)]
    free = len(set(metres) - {""}) >= UNSETTLED and sum(changes) > len(metres) / UNSETTLED
    return [metre if changed and not free else "" for metre, changed in zip(metres, changes, strict=True)]


def _measured(bars: Sequence[Bar], breaths: Sequence[Quarters], piece: Piece) -> Iterator[tuple[Bar, bool]]:
    """Bars whose metres are as long as they are, the very long ones cut, and whether a bar line closes each."""
    for bar in bars:
        if bar.duration <= bar.full and bar.duration <= LONGEST_BAR:
            yield bar, True
            continue
        begins = [bar.onset, *(_cuts(bar, breaths, piece) if bar.duration > LONGEST_BAR else ())]
        for onset, end in pairwise([*begins, bar.end]):
            last = end == bar.end
            part = replace(_part(bar, onset, end), metre=metre_of(end - onset), before=Fraction(0))
            opens, closes = bar.repeat.opens and onset == bar.onset, bar.repeat.closes and last
            repeat = replace(bar.repeat, opens=opens, closes=closes)
            yield replace(part, double=bar.double and last, repeat=repeat), last


def _cuts(bar: Bar, breaths: Sequence[Quarters], piece: Piece) -> Iterator[Quarters]:
    """Where a very long bar is cut: where phrases begin, and between them before it would be too long, at a note.

    A rest of all voices stands on the line of the note after it: alone between two cuts it would look like a bar.
    """
    since = bar.onset
    inside = [note for note in piece.notes if bar.onset < note.end and note.onset < bar.end]
    stops = sorted({note.onset for note in inside if bar.onset < note.onset})
    for stop, later in pairwise([*stops, bar.end]):
        if stop in breaths or later - since > LONGEST_BAR:
            silent_from = max((min(note.end, stop) for note in inside if note.onset < stop), default=bar.onset)
            if silent_from > since:
                yield silent_from
                since = silent_from
