"""Where notes stand in a MusicXML bar whose file counts too coarsely for its tuplets.

A file counts in whole divisions of a quarter note (MusicXML 4.0, `divisions` and `duration`). Where a tuplet is not
whole in them, the file rounds: a triplet of 256 divisions is written as 85, 85 and 86. What is printed is exact, so the
lengths of tuplets are taken from there, and every place is counted twice: as the file counts, because `backup` and
`forward` are told in divisions, and exactly.
"""

from __future__ import annotations

from fractions import Fraction
from xml.etree.ElementTree import Element

from coach.score.formats.xml import whole
from coach.score.piece import Quarters

LENGTHS = {
    "maxima": Fraction(32),
    "long": Fraction(16),
    "breve": Fraction(8),
    "whole": Fraction(4),
    "half": Fraction(2),
    "quarter": Fraction(1),
    "eighth": Fraction(1, 2),
    "16th": Fraction(1, 4),
} | {f"{2**power}{'nd' if power in (5, 9) else 'th'}": Fraction(4, 2**power) for power in range(5, 11)}
"""Quarter notes of each note type (MusicXML 4.0, note-type-value)."""

LARGEST_TUPLET = 64
"""Most notes believed in a tuplet."""

SAME = Fraction(1, 16)
"""A place of the file's count and an exact one that lie closer than this, in quarter notes, may be the same: a bar full
of tuplets whose notes are all rounded the same way comes to less."""

FINE = 8
"""A file that counts so many divisions or more in a step tells one step from the next beyond doubt."""


def tuplet_length(note: Element, counted: Quarters, division: Quarters) -> Quarters | None:
    """The exact length of a note in a tuplet; None for a note in none.

    Type, dots and time modification tell it (which stands for all tuplets around the note, one in the other). Where
    they contradict the file's count by a division or more, the count holds.

    Args:
        note: The note or rest.
        counted: Its length as the file counts, in quarter notes.
        division: What the file counts in, in quarter notes.
    """
    change = note.find("time-modification")
    if change is None:
        return None
    printed = LENGTHS.get((note.findtext("type") or "").strip())
    actual, normal = whole(change.findtext("actual-notes")), whole(change.findtext("normal-notes"))
    if printed is None or actual is None or normal is None:
        return counted
    if not 0 < actual <= LARGEST_TUPLET or not 0 < normal <= LARGEST_TUPLET:
        return counted
    dots = min(len(note.findall("dot")), 4)
    exact = printed * (2 - Fraction(1, 2**dots)) * normal / actual
    return exact if abs(exact - counted) < division else counted


class Clock:
    """Where a part is in its bar, in quarter notes from the start of the bar.

    Attributes:
        division: What the file counts in.
        counted: The place as the file counts.
        exact: The place where it is.
        longest: How far anything of the bar reaches.
    """

    def __init__(self) -> None:
        self.division: Quarters = Fraction(1)
        self.begin_bar()

    def begin_bar(self) -> None:
        self.counted = self.exact = self.longest = Fraction(0)
        self._places: dict[tuple[int, int], Quarters] = {}
        self._jumped = False

    @property
    def here(self) -> Quarters:
        """The place of what stands between notes: a bar line, a change of key."""
        return self._off_tuplets()

    def sound(self, counted: Quarters, exact: Quarters | None) -> Quarters:
        """Let a note, or a rest in a tuplet, take its time, and return where it begins.

        Args:
            counted: Its length as the file counts.
            exact: Its length in a tuplet, None where it stands in none.
        """
        if self._jumped:
            self._land(exact)
        if exact is None:
            self.exact = self._off_tuplets()
        onset = self.exact
        self._move(counted, counted if exact is None else exact)
        self._places.setdefault(self.counted.as_integer_ratio(), self.exact)
        return onset

    def forward(self, counted: Quarters) -> None:
        """Pass over a gap, or a rest in no tuplet: inside a tuplet it may stand for some of its notes."""
        self._move(counted, counted)
        self._jumped = True

    def back(self, counted: Quarters) -> None:
        """Go back, to the start of the bar at most."""
        self.forward(-counted)
        if self.counted <= 0 or self.exact < 0:
            self.counted = self.exact = Fraction(0)

    def _move(self, counted: Quarters, exact: Quarters) -> None:
        # Most files never round, and reckoning with fractions is slow.
        as_one = exact is counted and self.exact is self.counted
        self.counted += counted
        self.exact = self.counted if as_one else self.exact + exact
        self.longest = max(self.longest, self._off_tuplets())

    def _whole(self, place: Quarters) -> bool:
        return (place / self.division).denominator == 1

    def _land(self, length: Quarters | None) -> None:
        """Find where a note begins that comes after a jump: at a known place, or where its tuplet has one."""
        self._jumped = False
        known = self._places.get(self.counted.as_integer_ratio())
        rounded = length is not None and not self._whole(length)
        if known is not None and abs(known - self.exact) < SAME and (rounded or self._whole(known)):
            self.exact = known
        elif length is not None and rounded:
            # Where the jump did not begin inside the tuplet, the tuplet may as well begin here.
            begins = self._whole(self.exact)
            for step in (length, length / 2, length / 4):
                near = round(self.exact / step) * step
                if begins and step < FINE * self.division:
                    break
                if abs(near - self.exact) < self.division:
                    self.exact = near
                    break

    def _off_tuplets(self) -> Quarters:
        """The place, or the likelier one of the two whole ones beside it where a tuplet was left that is not full."""
        if self.exact is self.counted or self.exact == self.counted or self._whole(self.exact):
            return self.exact
        below = self.exact // self.division * self.division
        return min(below, below + self.division, key=lambda place: place.denominator)
