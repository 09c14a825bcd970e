"""The chord table: a phrase as a pianist reads it from the music stand. Where each sign goes on the setting.

A column is a chord, a row a voice; each cell holds a note and its finger. The right hand's bracket stands to the right
of its notes and its slurs above the table; the left hand's bracket to the left of its notes and its slurs below. A
comma ends what a hand joins, a line holds a note.
"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from coach.fingering.plan import PhrasePlan, Side
from coach.paper.casting_off import Setting, cast_off
from coach.paper.cells import Fingers, Grid, grid_of
from coach.paper.drawing import draw
from coach.paper.lines import Line, Part, System
from coach.paper.signs import SIGNS, Signs, beside, breadth
from coach.score.counting import bars_words

NARROWEST = 24
"""Places a table needs at least; a narrower width is taken for this one."""


@dataclass(frozen=True, slots=True)
class ChordTable:
    """The whole table of a phrase.

    Attributes:
        heading: Number, bars and end of the phrase, in lines that fit.
        systems: From the top.
        legend: The signs used, in lines that fit.
    """

    heading: tuple[str, ...]
    systems: tuple[System, ...]
    legend: tuple[str, ...]

    @property
    def text(self) -> str:
        blocks = [list(self.heading), *([line.text for line in system.lines] for system in self.systems)]
        if self.legend:
            blocks.append(list(self.legend))
        return "\n\n".join("\n".join(block) for block in blocks if block)


def chord_table(
    phrase: PhrasePlan,
    width: int = 80,
    *,
    fingers: Fingers = "all",
    hand: Side | None = None,
    syllables: Mapping[float, str] | None = None,
    voices: Sequence[str] | None = None,
    signs: Signs = SIGNS,
    marks: bool = False,
    airy: bool = False,
) -> ChordTable:
    """Lay out the chord table of a phrase.

    The layout does not depend on which fingers are shown, so that showing and hiding them moves nothing.

    Args:
        phrase: The plan of the phrase.
        width: Places in a line, at least `NARROWEST`.
        fingers: Which fingers to write.
        hand: One hand alone.
        syllables: Onset in quarter notes to the syllable that starts there, see `first_stanza`.
        voices: Voices from the top.
        signs: `SIGNS` or `ASCII`.
        marks: Keep a place in every cell and after every lift for `marked`.
        airy: A blank line between the voices.
    """
    width = max(width, NARROWEST)
    if syllables:
        syllables = {onset: beside(signs, word) for onset, word in syllables.items()}
    grid = grid_of(phrase, fingers=fingers, hand=hand, syllables=syllables, voices=voices, signs=signs)
    setting = Setting(width, signs, marks, airy)
    systems = tuple(draw(grid, part, gap, setting) for part, gap in cast_off(grid, setting))
    return ChordTable(heading(phrase, width, hand, signs), systems, legend(grid, width, signs))


def chord_table_text(
    phrase: PhrasePlan,
    width: int = 80,
    *,
    fingers: Fingers = "all",
    hand: Side | None = None,
    syllables: Mapping[float, str] | None = None,
    voices: Sequence[str] | None = None,
    signs: Signs = SIGNS,
    with_legend: bool = True,
) -> str:
    """The chord table as plain text, no line longer than `width`. Arguments as in `chord_table`."""
    table = chord_table(phrase, width, fingers=fingers, hand=hand, syllables=syllables, voices=voices, signs=signs)
    return (table if with_legend else replace(table, legend=())).text


def marked(
    table: ChordTable,
    marks: Mapping[tuple[int, int | Side], str],
    here: int | None = None,
    signs: Signs = SIGNS,
) -> ChordTable:
    """The same table with marks in the places kept for them; nothing moves.

    Args:
        table: Laid out with `marks=True`.
        marks: A character for (chord, place of the note in the chord), or (chord, hand) for how the hand left it.
        here: The chord to point at.
        signs: The signs the table was laid out with.
    """

    def filled(part: Part) -> Part:
        if part.kind == "pointer":
            return replace(part, text=signs.here if part.chord == here else " ")
        if part.kind != "mark" or part.chord is None:
            return part
        key = part.note if part.note is not None else part.hand
        return part if key is None else replace(part, text=marks.get((part.chord, key), " "))

    return replace(
        table,
        systems=tuple(
            replace(system, lines=tuple(Line(tuple(map(filled, line.parts))) for line in system.lines))
            for system in table.systems
        ),
    )


def heading(phrase: PhrasePlan, width: int = 80, hand: Side | None = None, signs: Signs = SIGNS) -> tuple[str, ...]:
    """Number, bars, and what the end of the phrase rests on."""
    first, last = phrase.bars
    bars = bars_words(first, last, signs.dash)
    again = f"as phrase {phrase.again}" if phrase.again else ""
    parts = [f"Phrase {phrase.number}", bars, again, f"{hand} hand alone" if hand else "", phrase.why_it_ends]
    text = f" {signs.dot} ".join(part for part in parts if part)
    return tuple(textwrap.wrap(beside(signs, text), max(width, NARROWEST)))


def legend(grid: Grid, width: int = 80, signs: Signs = SIGNS) -> tuple[str, ...]:
    """What the signs used in a grid mean."""
    cells = [cell for column in grid.columns for cell in column.cells]
    parts = [part for column in grid.columns for part in (column.right, column.left) if part is not None]
    entries = [
        (_bracket(grid, "left", signs.left), "left hand", "left" in grid.sides),
        (_bracket(grid, "right", signs.right), "right hand", "right" in grid.sides),
        (signs.lift, "lift", any(part.after in ("lift", "end") for part in parts)),
        (signs.again, "same keys again", any(part.after == "restrike" for part in parts)),
        (signs.hold * 2, "hold", any(cell.state == "held" for cell in cells)),
        (signs.hold + signs.let_go, "let go", any(cell.state == "let go" for cell in cells)),
        (signs.raised, "octave higher", any(cell.raised for cell in cells)),
        (signs.rolled, "roll", any(cell.rolled for cell in cells)),
        ("".join(signs.omitted), "leave out", any(cell.state == "omitted" for cell in cells)),
        ("".join((signs.pedal[0], signs.hold, signs.pedal[2])), "pedal", any(column.pedal for column in grid.columns)),
        (signs.own, "chosen finger", any(cell.own and cell.finger for cell in cells)),
    ]
    lines: list[str] = []
    for sign, meaning, used in entries:
        entry = f"{sign} {meaning}"
        if not used:
            continue
        if lines and breadth(lines[-1]) + 3 + len(entry) <= width:
            lines[-1] += f"   {entry}"
        else:
            lines.append(entry)
    return tuple(lines)


def _bracket(grid: Grid, side: Side, signs: tuple[str, str, str, str, str]) -> str:
    """A hand's bracket as the legend shows it: its ends, or the sign of a note alone where it never has two."""
    top, _, bottom, alone, _ = signs
    several = any(sum(cell.hand == side for cell in column.cells) > 1 for column in grid.columns)
    return (top if top == bottom else top + bottom) if several else alone
