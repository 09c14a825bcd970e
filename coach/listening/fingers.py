"""Which planned fingers cannot have been used: one finger cannot hold a key and strike another."""

from __future__ import annotations

from dataclasses import dataclass

from coach.listening.expected import ExpectedNote
from coach.listening.matching import Match
from coach.listening.thresholds import CERTAIN

WHITE = frozenset({0, 2, 4, 5, 7, 9, 11})
"""Pitch classes of the white keys."""


@dataclass(frozen=True, slots=True)
class RuledOut:
    """Two notes that the plan gives to one finger and that sounded together.

    Attributes:
        note: Number of the later note.
        before: Number of the note whose key was still down.
        overlap: Seconds that both keys were down.
    """

    note: int
    before: int
    overlap: float


def ruled_out(match: Match, within: range | None = None) -> tuple[RuledOut, ...]:
    """Every planned finger that the overlaps contradict, by chord.

    Args:
        match: The take as matched.
        within: Only notes struck in the chords of these numbers.
    """
    numbers = range(len(match.expected.chords)) if within is None else within
    holding: dict[tuple[str, int], list[tuple[ExpectedNote, float]]] = {}
    found = []
    notes = (note.number for chord in numbers for note in match.expected.struck(chord))
    order = sorted((match.strokes[match.played[note]].press, note) for note in notes if note in match.played)
    for seconds, number in order:
        note = match.expected.notes[number]
        if note.hand is None or note.finger is None:
            continue
        down = holding.setdefault((note.hand, note.finger), [])
        down[:] = [(other, end) for other, end in down if end - seconds >= CERTAIN]
        mine = match.release(number)
        for other, end in down:
            overlap = min(end, mine if mine is not None else end) - seconds
            if overlap >= CERTAIN and not _one_thumb(note, other) and end < float("inf"):
                found.append(RuledOut(number, other.number, overlap))
        if mine is not None:
            down.append((note, mine))
    found.sort(key=lambda one: match.expected.notes[one.note].chord)
    return tuple(found)


def _one_thumb(note: ExpectedNote, other: ExpectedNote) -> bool:
    """Whether a finger may well play both: the same key, or a thumb lying on two neighbouring white keys."""
    if note.midi == other.midi:
        return True
    neighbours = abs(note.midi - other.midi) <= 2 and {note.midi % 12, other.midi % 12} <= WHITE
    return note.finger == 1 and neighbours and note.chord == other.chord
