"""What a page says before anyone decides who sings what: the model that the reader of every format fills."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from coach.errors import CoachError
from coach.score.counting import bar_words
from coach.score.piece import Bar, Quarters
from coach.score.repeats import ONCE, Repeat

PIANO = range(21, 109)
"""MIDI numbers of the 88 keys of a piano, A0 to C8 (MIDI 1.0 numbers middle C 60)."""

LONGEST_NOTE = Fraction(64)
"""Longest single note believed, in quarter notes; the longest printed one, a maxima, has 32."""

LONGEST_PAGE = Fraction(40_000)
"""Longest piece believed, in quarter notes: some five hours."""

FINEST = 1_000_000
"""Finest division of a quarter note believed; exact arithmetic on finer ones grows without end."""

MOST_NOTES = 30_000
"""Most notes believed: far beyond the longest piano works."""


class Tally:
    """Counts notes while they are read, so that a file without end is left off early."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.notes = 0

    def note(self) -> None:
        """Count one more note.

        Raises:
            CoachError: there are too many.
        """
        self.notes += 1
        if self.notes > MOST_NOTES:
            raise CoachError(f'cannot read "{self.name}": it has more than {MOST_NOTES} notes')


STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
"""Semitones of the white keys above C."""

SHARPS = "FCGDAEB"
"""The order in which sharps enter a key signature; flats enter from its end."""


@dataclass(frozen=True, slots=True)
class Mark:
    """One printed note; a tied chain is still several.

    Attributes:
        part: Index of its part, from the top of the page.
        staff: Staff within the part, from 1.
        line: The voice within the part as the file numbers it, "" where the file does not say.
        onset: In quarter notes from the start.
        duration: In quarter notes, above zero.
        midi: MIDI number as it sounds.
        pitch: Spelling, "Bb3".
        tied_in: A tie arrives at this note.
        tied_on: A tie leaves this note.
        fermata: Carries a fermata.
        breath: A breath mark or caesura follows.
        finger: Printed finger.
        words: Syllable a stanza.
    """

    part: int
    staff: int
    line: str
    onset: Quarters
    duration: Quarters
    midi: int
    pitch: str
    tied_in: bool = False
    tied_on: bool = False
    fermata: bool = False
    breath: bool = False
    finger: int | None = None
    words: tuple[str, ...] = ()

    @property
    def end(self) -> Quarters:
        return self.onset + self.duration


@dataclass(frozen=True, slots=True)
class Rest:
    """A rest with a fermata: its part and line as in a mark, and where it begins."""

    part: int
    line: str
    onset: Quarters


@dataclass(frozen=True, slots=True)
class Part:
    """One part of the page.

    Attributes:
        name: As printed before the first system: "Soprano", "Violin 1", "".
        staves: How many staves it has.
        fault: Why it cannot be played, as the sentence to say if it has to be; "" where it can.
    """

    name: str = ""
    staves: int = 1
    fault: str = ""


@dataclass(slots=True)
class Page:
    """A score as printed. Readers fill it; `complete` checks it; `voices` turns it into a piece.

    Attributes:
        title: "" where none is printed.
        composer: "" where none is printed.
        parts: From the top.
        marks: All notes in any order.
        bars: All bars in order, without gaps.
        fifths: Sharps or, negative, flats of the signature at the start.
        key_changes: Later signatures than that, as they sound, each with the place from which it counts.
        minor: Whether the key at the start is minor, None where the page does not say.
        quarter_bpm: Tempo at the start.
        remarks: Sentences about what the reader left out or mended.
    """

    title: str = ""
    composer: str = ""
    parts: list[Part] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    bars: list[Bar] = field(default_factory=list)
    fifths: int = 0
    key_changes: list[tuple[Quarters, int]] = field(default_factory=list)
    minor: bool | None = None
    quarter_bpm: float | None = None
    remarks: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Printed:
    """One bar as counted by a format that prints no bar numbers.

    Attributes:
        duration: Its length in quarter notes.
        metre: "4/4", or "" where there is none.
        double: Whether it closes with a double bar line, a repeat or an ending.
        repeat: Its repeat signs and its ending.
    """

    duration: Quarters
    metre: str
    double: bool = False
    repeat: Repeat = ONCE


def numbered(printed: Sequence[Printed]) -> list[Bar]:
    """Number bars as printed music does.

    A short first bar is a pickup and has the number 0. Two bars that only together are a full one (a bar divided by a
    repeat or a double line) share a number.
    """
    bars: list[Bar] = []
    onset = Fraction(0)
    for bar in printed:
        found = measured(Bar(0, onset, bar.duration, bar.metre, bar.double, repeat=bar.repeat))
        before = bars[-1] if bars else None
        if before is None:
            number = 0 if incomplete(found) and len(printed) > 1 else 1
        elif divided(before, found) and before.number:
            number, found = before.number, replace(found, before=before.duration)
        else:
            number = before.number + 1
        bars.append(replace(found, number=number))
        onset += bar.duration
    return bars


def numbered_from_pickup(bars: Sequence[Bar]) -> list[Bar]:
    """Bars as a file numbers them, an incomplete first one with the number 0.

    Where the file counts such a pickup as bar 1, the first full bar becomes 1. What follows a pickup is a bar of its
    own, also where the two together are as long as one; but two halves of one number are one full bar.
    """
    halves = len(bars) > 1 and bars[1].before and bars[1].number == bars[0].number
    if not bars or halves or not incomplete(bars[0]):
        return list(bars)
    shift = 1 if bars[0].number == 1 and len(bars) > 1 and bars[1].number == 2 else 0
    later = [replace(bar, number=bar.number - shift) for bar in bars[1:]]
    return [replace(bars[0], number=0), *(replace(bar, before=Fraction(0)) for bar in later[:1]), *later[1:]]


def incomplete(bar: Bar) -> bool:
    """Whether a bar is shorter than the metre it is in."""
    return bar.metred and bar.duration < bar.full


def divided(first: Bar, second: Bar) -> bool:
    """Whether two bars in a row are one full bar divided in two."""
    return not first.before and first.full == second.full == first.duration + second.duration


def measured(bar: Bar) -> Bar:
    """The bar; where it has no metre, with one to count in that is as long as it is and that nobody has printed."""
    return bar if bar.metre else replace(bar, metre=shortest_metre(bar.duration), metred=False)


def shortest_metre(length: Quarters) -> str:
    """A time signature that fits a bar of this length, for music without one."""
    for unit in (4, 8, 16, 32):
        count = length * unit / 4
        if count.denominator == 1 and count > 0:
            return f"{count}/{unit}"
    return "4/4"


def spelled(step: str, alter: int, octave: int) -> str:
    """Spelling of a pitch: `spelled("B", -1, 3)` is "Bb3"."""
    return f"{step}{'#' * alter if alter > 0 else 'b' * -alter}{octave}"


def midi_of(step: str, alter: int, octave: int) -> int:
    """MIDI number of a pitch; C4 is 60."""
    return 12 * (octave + 1) + STEPS[step] + alter


def changes_of_key(first: int, keys: Iterable[tuple[Quarters, int]]) -> list[tuple[Quarters, int]]:
    """The signatures that differ from the one before.

    Args:
        first: The signature at the start.
        keys: All that are printed later, in order; of several at one place the last counts.
    """
    at = {onset: fifths for onset, fifths in keys if onset > 0}
    found: list[tuple[Quarters, int]] = []
    for onset in sorted(at):
        if at[onset] != (found[-1][1] if found else first):
            found.append((onset, at[onset]))
    return found


def signature(fifths: int) -> dict[str, int]:
    """Alteration of every step that a key signature changes: `signature(-2)` is {"B": -1, "E": -1}.

    Beyond seven the first ones are doubled: that of G sharp major has F double sharp.
    """
    order, sign = (SHARPS, 1) if fifths >= 0 else (SHARPS[::-1], -1)
    alters: dict[str, int] = {}
    for place in range(abs(fifths)):
        step = order[place % 7]
        alters[step] = alters.get(step, 0) + sign
    return alters


def tied(marks: Iterable[Mark], apart: Collection[Quarters] = ()) -> list[Mark]:
    """Join tied chains into single notes.

    Args:
        marks: All notes.
        apart: Where no tie leads to, though one is printed: a second ending is not played after the first, and a tie
            into it comes from the bar before them both; nor is anything played after the bar that says D.C.

    A tie leads to the next note of the same pitch in the same part that starts where the first one ends; among
    several such notes one of the same line comes first. A tie that leads nowhere is forgotten: the note stays as long
    as it is printed. A note counts as reached by a tie if either end of the tie says so, because files often mark one
    end only.
    """
    ordered = sorted(marks, key=lambda mark: (mark.onset, mark.part, mark.midi))
    waiting: dict[tuple[int, int, Quarters], list[int]] = {}
    joined: list[Mark] = []
    for mark in ordered:
        held = [] if mark.onset in apart else waiting.get((mark.part, mark.midi, mark.onset), [])
        found = [place for place in held if joined[place].tied_on and mark.tied_in]
        found = found or [
            place
            for place in held
            if (joined[place].tied_on or mark.tied_in)
            and (joined[place].line, joined[place].staff) == (mark.line, mark.staff)
        ]
        if found:
            place = min(found, key=lambda p: (joined[p].line != mark.line, joined[p].staff != mark.staff))
            held.remove(place)
            first = joined[place]
            joined[place] = replace(
                first,
                duration=first.duration + mark.duration,
                tied_on=mark.tied_on,
                fermata=first.fermata or mark.fermata,
                breath=first.breath or mark.breath,
                finger=first.finger or mark.finger,
                words=first.words or mark.words,
            )
        else:
            joined.append(mark)
            place = len(joined) - 1
        waiting.setdefault((mark.part, mark.midi, joined[place].end), []).append(place)
    return [replace(mark, tied_in=False, tied_on=False) for mark in joined]


def with_held_rests(marks: Sequence[Mark], rests: Iterable[Rest], bars: Sequence[Bar]) -> list[Mark]:
    """The notes with the fermatas that are printed over rests.

    A fermata holds a moment, whichever voice it stands over. What sounds on through the rest is held, if it has no
    fermata of its own yet; where all is silent it is the last note of the same line, in the same bar or the one before,
    after which the player waits (common practice, no source).
    """
    found = sorted(marks, key=lambda mark: mark.onset)
    onsets = [mark.onset for mark in found]
    for rest in rests:
        until = bisect_right(onsets, rest.onset)
        around = range(bisect_left(onsets, rest.onset - LONGEST_NOTE), until)
        waiting = [place for place in around if found[place].end > rest.onset]
        if not waiting:
            bar = bisect_right(bars, rest.onset, key=lambda bar: bar.onset) - 1
            around = range(bisect_left(onsets, bars[max(bar - 1, 0)].onset), until)
            line = [place for place in around if (found[place].part, found[place].line) == (rest.part, rest.line)]
            last = max((found[place].end for place in line), default=None)
            waiting = [place for place in line if found[place].end == last]
        if not any(found[place].fermata for place in waiting):
            for place in waiting:
                found[place] = replace(found[place], fermata=True)
    return found


def complete(page: Page, name: str) -> None:
    """Refuse a page that cannot be played.

    Args:
        page: The page as read.
        name: What the player calls the source, for the sentence.

    Raises:
        CoachError: no notes, notes beyond the piano, absurd lengths.
    """
    if not page.marks:
        raise CoachError(f'cannot read "{name}": it has no notes with a pitch')
    for mark in page.marks:
        if mark.midi not in PIANO:
            bar = bar_words(bar_number(page.bars, mark.onset))
            raise CoachError(f'cannot read "{name}": {bar} asks for {mark.pitch}, which no piano has')
        if not 0 < mark.duration <= LONGEST_NOTE:
            bar = bar_words(bar_number(page.bars, mark.onset))
            raise CoachError(
                f'cannot read "{name}": {bar} has a note of {float(mark.duration):g} quarter notes, which cannot be'
            )
        if mark.onset < 0 or mark.end > LONGEST_PAGE:
            raise CoachError(f'cannot read "{name}": its notes stand too far apart to be a piece')


def exact(onset: float) -> Quarters:
    """A place or length of a plan, which has it as a plain number, as the page has it."""
    return Fraction(onset).limit_denominator(FINEST)


def bar_number(bars: Sequence[Bar], onset: Quarters) -> int:
    """Printed number of the bar that holds a place, 0 where there are no bars."""
    after = bisect_right(bars, onset, key=lambda bar: bar.onset)
    return bars[after - 1].number if after else 0
