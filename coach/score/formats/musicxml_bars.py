"""Where the bars of a MusicXML page begin and end, how they are numbered, and what the lines between them say."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from coach.score.page import divided, incomplete, measured
from coach.score.piece import Bar, Quarters
from coach.score.repeats import Repeat


@dataclass(frozen=True, slots=True)
class BarLine:
    """What one bar line says, whatever bar the file writes it in.

    Attributes:
        at: Where it stands in its bar, in quarter notes from the start of the bar; None for the end of it.
        double: Whether a section ends here: a double or final bar line, a repeat, an ending.
        closes: A repeat ends here.
        opens: A repeat begins here.
        stops: The bracket of an ending ends here.
        begins: The times of the ending whose bracket begins here, () for none.
    """

    at: Quarters | None
    double: bool = False
    closes: bool = False
    opens: bool = False
    stops: bool = False
    begins: tuple[int, ...] = ()

    @property
    def says_something(self) -> bool:
        return self.double or self.closes or self.opens or self.stops


class PageBars:
    """Puts the bars of a page in a row.

    A line belongs to the place where it stands: what it closes lies before it and what it opens after it, even where
    that is another bar, or a bar goes on after a repeat in its middle.
    """

    def __init__(self) -> None:
        self.bars: list[Bar] = []
        self._opens = False
        self._ending: tuple[int, ...] = ()

    def add(self, number: int | None, start: Quarters, length: Quarters, metre: str, lines: Iterable[BarLine]) -> None:
        """Append a bar; one without length is none, and its lines belong to the bars beside it.

        Args:
            number: As the file prints it; None where it numbers no bars.
            start: In quarter notes from the start of the piece.
            length: In quarter notes.
            metre: "4/4", or "" where there is none.
            lines: What all parts say of it.
        """
        places: dict[Quarters, list[BarLine]] = {Fraction(0): [], length: []}
        for line in lines:
            if line.says_something:
                at = length if line.at is None else min(line.at, length)
                places.setdefault(at, []).append(line)
        full = measured(Bar(0, start, length, metre))
        since = Fraction(0)
        for at in sorted(places):
            if at > since:
                repeat = Repeat(self._opens, ending=self._ending)
                bar = replace(full, onset=start + since, duration=at - since, repeat=repeat)
                self._append(bar, number, since, whole=bar.duration == length)
                since = at
            self._lines(places[at])

    def _append(self, bar: Bar, number: int | None, since: Quarters, whole: bool) -> None:
        self._opens = False
        if not self.bars:
            counted = 0 if whole and incomplete(bar) else 1
            self.bars.append(replace(bar, number=counted if number is None else number))
            return
        last = self.bars[-1]
        if since:
            self.bars.append(replace(bar, number=last.number, before=since))
            return
        goes_on = whole and last.number > 0 and divided(last, bar)
        if number is None:
            number = last.number if goes_on else last.number + 1
        self.bars.append(replace(bar, number=number, before=last.duration if goes_on else Fraction(0)))

    def _lines(self, lines: Sequence[BarLine]) -> None:
        if self.bars:
            last = self.bars[-1]
            closes = Repeat(closes=any(line.closes for line in lines))
            double = last.double or any(line.double for line in lines)
            self.bars[-1] = replace(last, double=double, repeat=last.repeat | closes)
        if any(line.closes or line.stops for line in lines):
            self._ending = ()
        self._ending = next((line.begins for line in lines if line.begins), self._ending)
        self._opens = self._opens or any(line.opens for line in lines)
