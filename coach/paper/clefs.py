"""Which clef each bar of a hand's staff is read in: its own, and the other one where that spares many ledger lines."""

from __future__ import annotations

from math import inf
from typing import Literal

from coach.fingering.keyboard import MIDDLE_C
from coach.fingering.plan import Side
from coach.paper.sheet import Sheet
from coach.paper.signs import letter_step
from coach.score.piece import Bar, Quarters

Clef = Literal["treble", "bass"]

STAFF: dict[Clef, tuple[int, int]] = {
    "treble": (letter_step("E4"), letter_step("F5")),
    "bass": (letter_step("G2"), letter_step("A3")),
}
"""The lowest and the highest line, as places on the staff (see `letter_step`)."""

AWAY = 10
"""So many ledger lines are read as easily as another clef and the way back (common practice, no source): crotchets that
stay above the staff for a bar are worth it, a few notes or a low closing chord are not."""

FARTHEST = 2
"""So many ledger lines at most lie between the other clef's staff and the notes on the side of the hand's own staff: a
bar with others is read in its own clef (common practice, no source)."""


def clefs_of(sheet: Sheet, side: Side) -> tuple[Clef, ...]:
    """The clef of each bar of a sheet, one for all its notes of that hand.

    The fewest ledger lines beside changes of clef, by dynamic programming from the last bar; of equals the clef stays.

    A hand's own clef is the treble for the right hand, the bass for the left one; a left hand that never goes below
    middle C has the treble clef, a right hand that never goes above it the bass clef.
    """
    keys = [one.midi for one in sheet.strokes if one.hand == side]
    high = max(keys, default=MIDDLE_C + 1) > MIDDLE_C if side == "right" else min(keys, default=0) >= MIDDLE_C
    own: Clef = "treble" if high else "bass"
    lines = {clef: [_reading(sheet, bar, side, clef, own) for bar in sheet.bars] for clef in STAFF}

    def dear(before: Clef, clef: Clef) -> int:
        return AWAY if own == before != clef else 0

    best: dict[Clef, tuple[float, tuple[Clef, ...]]] = dict.fromkeys(STAFF, (0.0, ()))
    for place in reversed(range(len(sheet.bars))):
        onward: dict[Clef, tuple[float, tuple[Clef, ...]]] = {
            clef: (lines[clef][place] + effort, (clef, *rest)) for clef, (effort, rest) in best.items()
        }
        best = {
            before: min(
                ((dear(before, clef) + effort, rest) for clef, (effort, rest) in onward.items()),
                key=lambda way: (way[0], way[1][0] != before),
            )
            for before in STAFF
        }
    return best[own][1]


def _reading(sheet: Sheet, bar: Bar, side: Side, clef: Clef, own: Clef) -> float:
    """How many ledger lines a hand's notes need in a bar, infinite where it cannot be read in a clef.

    Notes that are struck together share their lines.
    """
    lowest, highest = STAFF[clef]
    needed: dict[tuple[Quarters, bool], int] = {}
    for one in sheet.strokes:
        if one.hand == side and one.onset < bar.end and one.end > bar.onset:
            below, above = lowest - letter_step(one.pitch), letter_step(one.pitch) - highest
            if clef != own and (below if own == "bass" else above) // 2 > FARTHEST:
                return inf
            key = (one.onset, above > 0)
            needed[key] = max(needed.get(key, 0), max(below, above, 0) // 2)
    return sum(needed.values())
