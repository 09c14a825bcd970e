"""The alternatives of a phrase in plain text: what differs, what each costs and gains, and their chord tables."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping, Sequence
from itertools import zip_longest

from coach.fingering.alternatives import Alternative
from coach.fingering.notation import write_fix
from coach.fingering.plan import SIDES, PhrasePlan, PlannedChord
from coach.fingering.terms import in_words
from coach.paper.cells import Grid, grid_of
from coach.paper.chord_table import chord_table_text, legend
from coach.paper.signs import SIGNS, Signs, beside
from coach.score.counting import place_words
from coach.score.piece import Piece

LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"

COLUMN = 8
"""Places of a column of figures."""

LEAVING = {"join": "joins", "restrike": "strikes again", "lift": "lifts", "end": "ends"}


def alternatives_text(
    piece: Piece,
    usual: PhrasePlan,
    found: Sequence[Alternative],
    words: Mapping[float, str] | None = None,
    width: int = 80,
    signs: Signs = SIGNS,
    how: str = 'take it with --fix "{choice}"',
) -> str:
    """The plan's effort and that of each alternative side by side, then the alternatives one by one, and their signs.

    Args:
        piece: The piece, for bars and beats.
        usual: The plan of the phrase.
        found: Its alternatives.
        words: The first stanza's syllables by onset.
        width: Places in a line.
        signs: `SIGNS` or `ASCII`.
        how: How an alternative is taken, `{choice}` being the choice that leads to it.
    """
    if not found:
        return f"Phrase {usual.number}: no other plan differs in distribution, groups or outer fingers."
    blocks = [f"Phrase {usual.number}: {len(found)} other way{'s' if len(found) > 1 else ''}", _table(usual, found)]
    for letter, one in zip(LETTERS, found, strict=False):
        by = one.plan.effort - usual.effort
        taken = how.format(choice=write_fix(one.fix, piece))
        lines = [f"{letter}  effort {one.plan.effort:.1f} ({by:+.1f})   {taken}"]
        lines += textwrap.wrap(
            "; ".join(differing(one.plan, usual)), width, initial_indent="   ", subsequent_indent="   "
        )
        for name, terms in (("costs", one.costs), ("gains", one.gains)):
            if terms:
                said = ", ".join(f"{in_words(term)} {effort:.1f}" for term, effort in terms.items() if effort >= 0.05)
                lines += textwrap.wrap(f"   {name}: {said}", width, subsequent_indent="   ") if said else []
        blocks.append("\n".join(lines))
        blocks.append(chord_table_text(one.plan, width, syllables=words or None, signs=signs, with_legend=False))
    blocks.append("\n".join(legend(_together([grid_of(one.plan, signs=signs) for one in found]), width, signs)))
    return beside(signs, "\n\n".join(blocks))


def _together(grids: Sequence[Grid]) -> Grid:
    """The cells of several plans of a phrase: what one of them shows is shown."""
    sides = {side for grid in grids for side in grid.sides}
    columns = tuple(column for grid in grids for column in grid.columns)
    return Grid(grids[0].voices, columns, tuple(side for side in SIDES if side in sides))


def _table(usual: PhrasePlan, found: Sequence[Alternative]) -> str:
    plans = [usual, *(one.plan for one in found)]
    terms = sorted(
        {term for one in found for term in (*one.costs, *one.gains)},
        key=lambda term: -max(plan.terms.get(term, 0.0) for plan in plans),
    )
    names = [in_words(term) for term in terms]
    room = max(len(name) for name in (*names, "effort"))
    heads = ["plan", *LETTERS[: len(found)]]
    rows = [("", heads), ("effort", [f"{plan.effort:.1f}" for plan in plans])]
    rows += [
        (name, [f"{plan.terms.get(term, 0.0):.1f}" for plan in plans])
        for name, term in zip(names, terms, strict=True)
        if len({f"{plan.terms.get(term, 0.0):.1f}" for plan in plans}) > 1
    ]
    return "\n".join(f"{name:{room}}" + "".join(f"{figure:>{COLUMN}}" for figure in figures) for name, figures in rows)


def differing(plan: PhrasePlan, usual: PhrasePlan) -> Iterator[str]:
    """What a plan does otherwise, chord by chord: "bar 3, beat 2: 3+1 for 2+2, soprano 5 for 4"."""
    for chord, other in zip_longest(plan.chords, usual.chords):
        said = list(_differences(chord, other)) if chord and other else []
        if said:
            yield f"{place_words(chord.bar, chord.beat)}: {', '.join(said)}"


def _differences(chord: PlannedChord, other: PlannedChord) -> Iterator[str]:
    if chord.distribution != other.distribution:
        yield f"{chord.distribution} for {other.distribution}"
    for note, before in zip(chord.notes, other.notes, strict=True):
        if note.struck and note.hand == before.hand and note.finger != before.finger:
            yield f"{note.voice} {note.finger} for {before.finger}"
    for side in SIDES:
        now, then = chord.part(side), other.part(side)
        if now and then and now.after != then.after:
            yield f"the {side} hand {LEAVING[now.after]}"
