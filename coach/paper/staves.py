"""Which notes of a hand share a stem: a bar of one staff in lines, each of which is written by itself.

What a hand strikes together is one chord on one stem: its shape is what the hand prepares. Only where voices of a hand
move apart does the outer one get a line of its own for that bar, as in hymnals.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from coach.fingering.plan import Side
from coach.paper.sheet import Sheet
from coach.score.piece import Bar, Quarters


@dataclass(frozen=True, slots=True)
class Portion:
    """As much of a note as stands in one bar.

    Attributes:
        place: Of its stroke in the sheet.
        onset, end: In quarter notes from the start of the piece.
        tied_in, tied_on: Whether it goes on from the bar before, and into the next one.
    """

    place: int
    onset: Quarters
    end: Quarters
    tied_in: bool
    tied_on: bool


Stem = tuple[Portion, ...]
"""Notes that start together and end together, from high to low."""

Stretch = tuple[Quarters, Quarters]
"""Onset and end of a part of a bar."""


@dataclass(frozen=True, slots=True)
class Staff:
    """One hand's bar.

    Attributes:
        lines: Each has its stems in order of time, none sounding into the next. Of several lines the first is that
            of the hand's outer voice.
        rests: The silences of the whole hand.
    """

    lines: tuple[tuple[Stem, ...], ...]
    rests: tuple[Stretch, ...]


def staves_of(sheet: Sheet, side: Side) -> tuple[Staff, ...]:
    """What stands on a hand's staff, bar by bar."""
    portions: list[list[Portion]] = [[] for _ in sheet.bars]
    onsets = [bar.onset for bar in sheet.bars]
    for place, one in enumerate(sheet.strokes):
        first = max(bisect_right(onsets, one.onset) - 1, 0)
        for number in range(first, len(sheet.bars)) if one.hand == side else ():
            bar = sheet.bars[number]
            if bar.onset >= one.end:
                break
            portions[number].append(
                Portion(
                    place, max(one.onset, bar.onset), min(one.end, bar.end), one.onset < bar.onset, one.end > bar.end
                )
            )
    return tuple(_staff(sheet, bar, side, inside) for bar, inside in zip(sheet.bars, portions, strict=True))


def _staff(sheet: Sheet, bar: Bar, side: Side, portions: list[Portion]) -> Staff:
    """One bar of a hand's staff."""
    portions.sort(key=lambda one: (one.onset, one.place))
    lines = _lines(sheet, sorted(portions, key=lambda one: (one.onset, one.place if side == "right" else -one.place)))
    if len(lines) > 1:
        singing = {sheet.strokes[one.place].voice for one in portions}
        outer = next(voice for voice in (sheet.voices if side == "right" else sheet.voices[::-1]) if voice in singing)
        apart = [one for one in portions if sheet.strokes[one.place].voice == outer]
        first, *more = _lines(sheet, apart)
        voiced = [first, *_lines(sheet, [one for one in portions if one not in apart], more)]
        # Inner voices that meet on a key want a stem each: where the outer voice shares one, two lines will do.
        lines = voiced if len(voiced) <= len(lines) else lines
    return Staff(tuple(tuple(line) for line in lines), tuple(gaps(bar, [(one.onset, one.end) for one in portions])))


def _lines(sheet: Sheet, portions: Iterable[Portion], lines: Iterable[list[Stem]] = ()) -> list[list[Stem]]:
    """Notes in as few lines as it takes, each going into the first that has room.

    Args:
        sheet: The sheet.
        portions: In order of time; the first of those that start together goes into the first line.
        lines: Lines begun already.
    """
    found = list(lines)
    for portion in portions:
        if not any(_takes(sheet, line, portion) for line in found):
            found.append([(portion,)])
    return [sorted(line, key=lambda stem: stem[0].onset) for line in found]


def _takes(sheet: Sheet, line: list[Stem], portion: Portion) -> bool:
    """Put a note into a line, on a stem of others or of its own; False where the line has no room for it."""
    for at, stem in enumerate(line):
        if stem[0].onset >= portion.end or stem[0].end <= portion.onset:
            continue
        if any(
            _apart(one, portion) or sheet.strokes[one.place].midi == sheet.strokes[portion.place].midi for one in stem
        ):
            return False
        line[at] = tuple(sorted((*stem, portion), key=lambda one: one.place))
        return True
    line.append((portion,))
    return True


def _apart(one: Portion, other: Portion) -> bool:
    """Whether two notes cannot share a stem."""
    return (one.onset, one.end, one.tied_in, one.tied_on) != (other.onset, other.end, other.tied_in, other.tied_on)


def gaps(bar: Bar, sounding: Iterable[Stretch]) -> Iterator[Stretch]:
    """What is left of a bar beside some stretches of it."""
    now = bar.onset
    for onset, end in sorted(sounding):
        if onset > now:
            yield now, onset
        now = max(now, end)
    if now < bar.end:
        yield now, bar.end


def by_beat(bar: Bar, onset: Quarters, end: Quarters) -> Iterator[Stretch]:
    """A stretch of a bar cut at its beats, so that what is left of a triplet is as long as the rest of it."""
    beat = bar.beat_length
    while onset < end:
        until = min(bar.onset + beat * ((onset - bar.onset) // beat + 1), end)
        yield onset, until
        onset = until
