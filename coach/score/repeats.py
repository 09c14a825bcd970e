"""Repeat signs and endings: what the bar lines of a bar say of playing it again."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

MOST_TIMES = 9
"""No ending is printed for a later time; a number beyond it is a slip."""


@dataclass(frozen=True, slots=True)
class Repeat:
    """The signs of one bar.

    Attributes:
        opens: A repeat begins with the bar: "|:".
        closes: A repeat ends with it: ":|".
        ending: The times on which the bar is played, where an ending's bracket stands over it: (1,), (1, 2). Empty for
            a bar that is played each time.
    """

    opens: bool = False
    closes: bool = False
    ending: tuple[int, ...] = ()

    def __or__(self, other: Repeat) -> Repeat:
        """What two parts of a score say of the same bar: some files print the signs in one part only."""
        return Repeat(self.opens or other.opens, self.closes or other.closes, self.ending or other.ending)

    @property
    def bracket(self) -> str:
        """The ending as its bracket prints it: "1", "1, 2"."""
        return ", ".join(map(str, self.ending))


ONCE = Repeat()
"""A bar without signs."""


def ending_of(text: str) -> tuple[int, ...]:
    """The times that an ending's number names: (1, 2, 3) for "1-3", "1,2,3" or "1. 2. 3."; () for none."""
    times: set[int] = set()
    for first, last in re.findall(r"(\d{1,3})(?:\s*-\s*(\d{1,3}))?", text):
        times |= set(range(max(int(first), 1), min(int(last or first), MOST_TIMES) + 1))
    return tuple(sorted(times))


def sections(signs: Sequence[Repeat], anew: Collection[int] = ()) -> Iterator[tuple[int, int]]:
    """The first and the last bar of everything that is repeated, endings and all.

    A repeat that nothing opens begins where the one before it ended, or with the piece (common practice, no source).

    Args:
        signs: Of each bar of the piece.
        anew: Bars with which something new begins, after a Fine or a D.C.: no repeat goes back beyond them.
    """
    first = place = 0
    while place < len(signs):
        if signs[place].opens or place in anew:
            first = place
        if signs[place].closes:
            while place + 1 < len(signs) and signs[place + 1].ending and not signs[place + 1].opens:
                place += 1
            yield first, place
            first = place + 1
        place += 1


def turns(signs: Sequence[Repeat]) -> tuple[int, ...]:
    """The places of bars that stand after another ending than their own: nobody plays the one after the other."""
    return tuple(
        place
        for place in range(1, len(signs))
        if signs[place].ending and signs[place - 1].ending and signs[place].ending != signs[place - 1].ending
    )


def kept(signs: Sequence[Repeat], bars: Collection[int], anew: Collection[int] = ()) -> tuple[Repeat, ...]:
    """The signs that stay where only some bars of a piece are written: those of a repeat that does not stand there
    whole would send the reader to bars that are not there. Brackets stay: they tell what does not follow what.

    Args:
        signs: Of each bar of the piece.
        bars: The places of those that are written, without gaps.
        anew: As in `sections`.
    """
    if len(bars) == len(signs):
        return tuple(signs)
    found = [Repeat(ending=sign.ending) for sign in signs]
    turns_to = min(bars, default=0)
    for begins, ends in sections(signs, anew):
        if begins in bars and ends in bars:
            found[begins : ends + 1] = signs[begins : ends + 1]
            if begins != turns_to:
                # What came before it is there without its own signs: where it begins has to be said.
                found[begins] = replace(signs[begins], opens=True)
            turns_to = ends + 1
    return tuple(found)
