"""The parts that the lines of a chord table are made of, and how a line is drawn place by place."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from coach.fingering.plan import Side
from coach.paper.signs import places

Kind = Literal[
    "space",
    "label",
    "bar",
    "beat",
    "pointer",
    "name",
    "finger",
    "sign",
    "mark",
    "hold",
    "bracket",
    "slur",
    "lift",
    "pedal",
    "word",
    "bar line",
]
"""What a part of a line is; see `Part`."""


@dataclass(frozen=True, slots=True)
class Part:
    """A run of characters that belong together, for a screen to style.

    Attributes:
        text: The characters.
        kind: What they are. A "mark" is the one place in a cell, and in the slur line after a chord, where a screen
            may write how a note, a hold or a lift was played; a "pointer" the place where it points at a chord.
        chord: Place of the chord in the phrase, from 0; None for what belongs to none.
        note: Place of the note in the chord's `notes`, for the parts of a cell.
        voice: Voice of the row, "" outside the voices.
        hand: The hand concerned, None where there is none.
    """

    text: str
    kind: Kind = "space"
    chord: int | None = None
    note: int | None = None
    voice: str = ""
    hand: Side | None = None


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the page."""

    parts: tuple[Part, ...]

    @property
    def text(self) -> str:
        return "".join(part.text for part in self.parts).rstrip()


@dataclass(frozen=True, slots=True)
class System:
    """One line of music: its chords, and the lines of text that show it.

    Attributes:
        chords: Places of its chords in the phrase.
        lines: From the bar numbers down to the words.
    """

    chords: tuple[int, ...]
    lines: tuple[Line, ...]


class Canvas:
    """One line being drawn, place by place; what is put later covers what was there."""

    def __init__(self, width: int) -> None:
        self._characters = [" "] * width
        self._parts = [_NOTHING] * width

    def put(self, at: int, part: Part) -> None:
        """Write the text of a part from a place on; what does not fit on the line is cut."""
        for character in part.text:
            wide = places(character)
            if wide == 0 and 0 < at <= len(self._characters):
                self._characters[at - 1] += character
            if at + wide > len(self._characters):
                return
            for offset in range(wide):
                self._characters[at + offset] = "" if offset else character
                self._parts[at + offset] = part
            at += wide

    def line(self) -> Line:
        """What was drawn, in runs that were put together."""
        runs: list[Part] = []
        start = 0
        for at in range(1, len(self._parts) + 1):
            part = self._parts[start]
            if at == len(self._parts) or self._parts[at] is not part:
                text = "".join(self._characters[start:at])
                runs.append(part if text == part.text else replace(part, text=text))
                start = at
        return Line(tuple(runs))


_NOTHING = Part(" ")
