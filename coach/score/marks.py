"""What music is known by, whatever file or edition it comes from."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from fractions import Fraction

from coach.score.piece import Note, Quarters

MARK_LENGTH = 20
"""Characters of a mark: long enough that no two pieces of a player's life share one."""


def mark_of(notes: Iterable[Note], origin: Quarters = Fraction(0)) -> str:
    """A hash of notes: which keys, when after `origin`, how long.

    Names, words, spelling, printed fingers and which voice sings what are left out, so that another edition of the
    same music is the same music.
    """
    lines = sorted(f"{note.onset - origin} {note.duration} {note.midi}" for note in notes)
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()[:MARK_LENGTH]
