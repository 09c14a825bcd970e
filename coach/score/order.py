"""In which order the bars of a piece are played: repeats, endings, D.C. and D.S. followed as players follow them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise

from coach.errors import CoachError
from coach.score.counting import bar_words
from coach.score.piece import Bar
from coach.score.repeats import Repeat, sections
from coach.score.waymarks import WORDS, Kind, Waymark, beginnings, coda_for, segno_for

ENDS: dict[str, Kind] = {"fine": "fine", "coda": "to coda"}
"""The mark that a D.C. or D.S. goes up to, by its words."""


@dataclass(frozen=True, slots=True)
class Run:
    """Bars played one after the other as printed.

    Attributes:
        first, last: Places of bars.
        fine: Whether the piece ends after them at a Fine.
    """

    first: int
    last: int
    fine: bool = False


def order_played(bars: Sequence[Bar]) -> tuple[Run, ...]:
    """How a piece runs.

    Everything between repeat signs is played as often as its endings say, else twice. A D.C. or D.S. is followed once,
    when the repeats up to it are done; after it repeats are not made again and the last ending is taken, and the next
    Fine is the end, or the next "To Coda" leads to the coda, whichever the words ask for (common practice; MusicXML
    4.0, sound: a dacapo or dalsegno "should occur the first time through").

    Raises:
        CoachError: the signs lead nowhere; in a sentence, which.
    """
    played, fine = _Walk(bars).bars()
    starts = [0, *(at for at, (one, other) in enumerate(pairwise(played), 1) if other != one + 1)]
    runs = [Run(played[first], played[last - 1]) for first, last in pairwise([*starts, len(played)])]
    return (*runs[:-1], Run(runs[-1].first, runs[-1].last, fine)) if runs else ()


def how_it_runs(bars: Sequence[Bar]) -> str:
    """The order in a line: "bars 1-8, 1-8, 9-16, 1-8 (Fine)". "" for a piece that is played from beginning to end."""
    try:
        runs = order_played(bars)
    except CoachError as error:
        return str(error)
    if len(runs) < 2:
        return ""
    return "bars " + ", ".join(_numbers(bars, run) + (" (Fine)" if run.fine else "") for run in runs)


def _numbers(bars: Sequence[Bar], run: Run) -> str:
    """The printed numbers of a run; a pickup belongs to the bar after it."""
    first = bars[run.first].number or bars[min(run.first + 1, run.last)].number
    last = bars[run.last].number
    return str(last) if first == last else f"{first}-{last}"


class _Walk:
    """Goes through the bars as a player does."""

    def __init__(self, bars: Sequence[Bar]) -> None:
        self._bars = bars
        self._signs = [bar.repeat for bar in bars]
        self._ways = [bar.waymarks for bar in bars]
        self._section = [-1] * len(bars)
        self._firsts: list[int] = []
        self._times: list[int] = []
        for number, (first, last) in enumerate(sections(self._signs, beginnings(self._ways))):
            self._section[first : last + 1] = [number] * (last + 1 - first)
            self._firsts.append(first)
            self._times.append(_times(self._signs[first : last + 1]))
        self._last_endings = _last_endings(self._signs)

    def bars(self) -> tuple[list[int], bool]:
        """The places of the bars in the order in which they are played, and whether a Fine ends them."""
        played: list[int] = []
        followed: set[tuple[int, Waymark]] = set()
        back: Waymark | None = None
        in_coda = False
        done: set[int] = set()
        place, time, section = 0, 1, -1
        while place < len(self._bars):
            if self._section[place] != section:
                done |= {section}
                section, time = self._section[place], 1
            # What was repeated before going back is not repeated again; a coda has its own repeats.
            again = back is not None and (section < 0 or section in done)
            if not self._is_played(place, time, again):
                place += 1
                continue
            played.append(place)
            marks = self._ways[place]
            if back is not None:
                if any(mark.kind == "fine" for mark in marks) and (back.until in ("", "fine") or in_coda):
                    return played, True
                if not in_coda and back.until in ("", "coda") and any(mark.kind == "to coda" for mark in marks):
                    place, in_coda = self._coda(place), True
                    continue
            last_time = section < 0 or again or time == self._times[section]
            jump = next((mark for mark in marks if mark.goes_back and (place, mark) not in followed), None)
            if jump is not None and last_time:
                self._must_lead_on(jump, place)
                followed.add((place, jump))
                done |= {section}
                back, in_coda, section = jump, False, -1
                place = self._target(jump, place)
                continue
            if not last_time and self._signs[place].closes:
                place, time = self._firsts[section], time + 1
                continue
            place += 1
        if back is not None and not in_coda and back.until in ENDS:
            raise CoachError(f'"{back.words}" does not come to a bar that says "{WORDS[ENDS[back.until]]}"')
        return played, False

    def _is_played(self, place: int, time: int, again: bool) -> bool:
        """Whether a bar is played this time; after going back the last of several endings is."""
        ending = self._signs[place].ending
        if not ending:
            return True
        if again:
            return place in self._last_endings
        return time in ending or self._section[place] < 0

    def _must_lead_on(self, jump: Waymark, place: int) -> None:
        """Refuse signs that no player could follow."""
        bar = bar_words(self._bars[place].number)
        if jump.until == "segno":
            raise CoachError(f'the score does not say how it goes on after "{jump.words}" in {bar}')
        wanted = ENDS.get(jump.until)
        if wanted and not any(mark.kind == wanted for marks in self._ways for mark in marks):
            raise CoachError(f'{bar} says "{jump.words}", but no bar says "{WORDS[wanted]}"')

    def _target(self, jump: Waymark, place: int) -> int:
        if jump.kind == "da capo":
            return 0
        segno = segno_for(self._ways, place)
        if segno is None:
            raise CoachError(f'{bar_words(self._bars[place].number)} says "{jump.words}", but no bar has a segno')
        return segno

    def _coda(self, place: int) -> int:
        coda = coda_for(self._ways, place)
        if coda is None:
            raise CoachError(f'{bar_words(self._bars[place].number)} says "To Coda", but no bar has a coda')
        return coda


def _times(signs: Sequence[Repeat]) -> int:
    """How often a repeated section is played: as its endings say; after a single ending that turns back once more."""
    endings = [sign.ending for sign in signs if sign.ending]
    if not endings:
        return 2
    most = max(map(max, endings))
    return max(most + (len(set(endings)) == 1), 2)


def _last_endings(signs: Sequence[Repeat]) -> set[int]:
    """The places of the bars under the last of several endings that follow each other."""
    found: set[int] = set()
    place = 0
    for under, together in groupby(signs, key=lambda sign: bool(sign.ending)):
        group = range(place, place + len(list(together)))
        place = group.stop
        if under:
            most = max(max(signs[at].ending) for at in group)
            found |= {at for at in group if most in signs[at].ending}
    return found
