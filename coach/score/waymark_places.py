"""Which bar a D.C., a Fine or a Segno belongs to, and where in it: what a file writes somewhere over the bar."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from coach.score.page import Mark, Page
from coach.score.piece import Bar, Quarters
from coach.score.waymark_words import not_understood, waymark_in
from coach.score.waymarks import Waymark, in_order


@dataclass(frozen=True, slots=True)
class Posted:
    """A mark as a file has it.

    Attributes:
        mark: What it says.
        onset: Where it stands, in quarter notes from the start of the piece.
        since: Where the bar starts in which it is written: the end of one bar is the start of the next.
    """

    mark: Waymark
    onset: Quarters
    since: Quarters


class Posts:
    """Gathers the marks of a file while it is read, and the words that are as good as one but make no sense."""

    def __init__(self) -> None:
        self.posted: list[Posted] = []
        self._odd: list[str] = []

    def text(self, text: str, onset: Quarters, since: Quarters) -> Waymark | None:
        """Take in a text: the mark that it is, None for other words."""
        mark = waymark_in(text)
        if mark is not None:
            self.add(mark, onset, since)
        elif not_understood(text):
            self._odd.append(" ".join(text.split()))
        return mark

    def add(self, mark: Waymark, onset: Quarters, since: Quarters) -> None:
        self.posted.append(Posted(mark, onset, since))

    def fill(self, page: Page) -> None:
        """Write the marks into the bars of a page that has all its notes."""
        page.bars = with_waymarks(page.bars, page.marks, self.posted)
        odd = dict.fromkeys(self._odd)
        page.remarks += [f'left out "{text}": the coach does not know where it leads' for text in odd]


def with_waymarks(bars: Sequence[Bar], notes: Iterable[Mark], posted: Iterable[Posted]) -> list[Bar]:
    """The bars with their marks.

    A segno and a coda stand where their music begins. Whatever ends music (Fine, D.C., D.S., "To Coda") counts from the
    end of the bar that it is written over, wherever over it: files put it there at the first beat, over the last note
    and behind it alike. Only where the next line begins with a pickup in the same bar it counts from before that: what
    is left of the bar is then as long as the pickup that the piece begins with (common practice, no source).

    A first coda sign where two are and nothing says "To Coda" is where one leaves; a last segno at the end of the piece
    is a D.S. without words (both common practice in old prints, no source).
    """
    found = sorted(posted, key=lambda one: one.onset)
    if not found or not bars:
        return list(bars)
    found = _signs_for_words(found, bars[-1].end)
    onsets = [bar.onset for bar in bars]
    rhythm = _Rhythm(bars, notes)
    marks: list[list[Waymark]] = [[] for _ in bars]
    for one in found:
        if one.mark.begins:
            if one.onset < bars[-1].end:
                place = bisect_right(onsets, one.onset) - 1
                marks[place].append(replace(one.mark, at=one.onset - bars[place].onset))
            continue
        # What stands between two bars ends the first, unless it is written at the head of the second.
        place = (bisect_right if one.onset <= one.since else bisect_left)(onsets, one.onset) - 1
        place = max(place, 0)
        marks[place].append(replace(one.mark, at=rhythm.end_of_music(place, one.onset)))
    return [replace(bar, waymarks=in_order(here)) for bar, here in zip(bars, marks, strict=True)]


def _signs_for_words(posted: Sequence[Posted], end: Quarters) -> list[Posted]:
    """Signs that say by where they stand what others say in words."""
    found = list(posted)
    kinds = {one.mark.kind for one in found}
    codas = sorted({one.onset for one in found if one.mark.kind == "coda"})
    if "to coda" not in kinds and len(codas) > 1 and codas[0] > 0:
        found = [
            # It is the place itself that counts: the end of a bar, though the sign be written over the next.
            Posted(Waymark("to coda"), one.onset, one.onset - 1)
            if one.mark.kind == "coda" and one.onset == codas[0]
            else one
            for one in found
        ]
    segnos = {one.onset for one in found if one.mark.kind == "segno"}
    if not kinds & {"da capo", "dal segno"} and len(segnos) > 1:
        found = [
            replace(one, mark=Waymark("dal segno")) if one.mark.kind == "segno" and one.onset >= end else one
            for one in found
        ]
    return found


class _Rhythm:
    """Looks up which notes begin and end inside a bar."""

    def __init__(self, bars: Sequence[Bar], notes: Iterable[Mark]) -> None:
        self._bars = bars
        self._notes = sorted(notes, key=lambda note: note.onset)
        self._onsets = [note.onset for note in self._notes]
        first = bars[0]
        self._pickup = first.duration if first.number == 0 and len(bars) > 1 else Fraction(0)

    def end_of_music(self, place: int, onset: Quarters) -> Quarters:
        """Where in a bar the music ends that a mark over it closes, in quarter notes from the bar's start."""
        bar = self._bars[place]
        split = bar.end - self._pickup
        if self._pickup and bar.onset < split and onset <= split and bar.before + bar.duration >= bar.full:
            following = bisect_left(self._onsets, split)
            before = self._notes[bisect_left(self._onsets, bar.onset) : following]
            last = [note for note in before if note.end == split]
            begins = self._onsets[following : following + 1] == [split]
            sounding = any(note.end > split for note in before)
            # A line ends with a long note; where the last notes are all as short the bar goes on to its end.
            longest = max((note.duration for note in last), default=Fraction(0))
            over = any(note.onset <= onset for note in last)
            if begins and not sounding and over and longest > self._pickup:
                return split - bar.onset
        return bar.duration
