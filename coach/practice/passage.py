"""What is practised: a phrase, two phrases joined, the whole piece or one change of chords, known by its notes."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal

from coach.score.marks import MARK_LENGTH, mark_of

if TYPE_CHECKING:
    from coach.fingering.plan import PhrasePlan
    from coach.score.piece import Phrase, Piece, Quarters


Kind = Literal["phrase", "join", "piece", "change"]

LONGEST = 1_000_000
"""Quarter notes: no piece is as long."""


@dataclass(frozen=True, slots=True)
class Passage:
    """A stretch of one piece that is practised as one thing.

    Attributes:
        piece: Mark of the piece, a hash of its notes.
        kind: "phrase", "join" (two neighbouring phrases), "piece", or "change" (two or three chords in a phrase).
        first: Number of its first phrase, as the phrases are cut today.
        last: Number of its last phrase.
        onset: Start in quarter notes from the start of the piece.
        end: Where it ends.
        mark: A hash of its own notes, the same wherever they stand.
        bars: First and last bar, printed numbers.
    """

    piece: str
    kind: Kind
    first: int
    last: int
    onset: Quarters
    end: Quarters
    mark: str
    bars: tuple[int, int]

    @property
    def label(self) -> str:
        """As a pianist would call it."""
        if self.kind == "piece":
            return "the whole piece"
        if self.kind == "join":
            return f"phrases {self.first}+{self.last}"
        if self.kind == "change":
            where = f"in phrase {self.first}" if self.first == self.last else f"from phrase {self.first} to {self.last}"
            return f"a change {where}"
        return f"phrase {self.first}"

    def to_json(self) -> dict[str, Any]:
        """The form that the log and a take's file keep."""
        return {
            "piece": self.piece,
            "kind": self.kind,
            "phrases": [self.first, self.last],
            "onset": str(self.onset),
            "end": str(self.end),
            "mark": self.mark,
            "bars": list(self.bars),
        }

    @classmethod
    def from_json(cls, form: dict[str, Any]) -> Passage:
        """Read what `to_json` writes.

        Raises:
            KeyError, ValueError, TypeError: damaged.
        """
        if form["kind"] not in ("phrase", "join", "piece", "change"):
            raise ValueError(f"no kind of passage: {form['kind']!r}")
        first, last = (int(number) for number in form["phrases"])
        low, high = (int(number) for number in form["bars"])
        onset, end = Fraction(form["onset"]), Fraction(form["end"])
        if not onset < end <= LONGEST:
            raise ValueError(f"no passage from {form['onset']!r} to {form['end']!r}")
        return cls(
            piece=str(form["piece"]),
            kind=form["kind"],
            first=first,
            last=last,
            onset=onset,
            end=end,
            mark=str(form["mark"]),
            bars=(low, high),
        )


def piece_mark(piece: Piece) -> str:
    """What a piece is known by in the log."""
    return mark_of(piece.notes)


def plan_mark(plan: PhrasePlan) -> str:
    """What a phrase's plan is known by: hands, fingers, lifts and keys, not its reasons."""
    lines = [f"{float(plan.onset)}"]
    for chord in plan.chords:
        after = [part.after if part else "-" for part in (chord.right, chord.left)]
        lines.append(f"{chord.onset} {after[0]} {after[1]}")
        lines.extend(f"{note.midi} {note.struck} {note.hand} {note.finger}" for note in chord.notes)
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()[:MARK_LENGTH]


def passages_of(piece: Piece, phrases: Sequence[Phrase]) -> tuple[Passage, ...]:
    """All that is practised of a piece: its phrases, its neighbours joined, the whole (of two phrases: their join)."""
    mark = piece_mark(piece)
    passages = [passage(piece, "phrase", phrase, phrase, mark) for phrase in phrases]
    passages += [passage(piece, "join", one, other, mark) for one, other in pairwise(phrases)]
    if len(phrases) > 2:
        passages.append(passage(piece, "piece", phrases[0], phrases[-1], mark))
    return tuple(passages)


def passage(piece: Piece, kind: Kind, first: Phrase, last: Phrase, mark: str | None = None) -> Passage:
    """One passage, from the start of one phrase to the end of another (or the same).

    Args:
        mark: The piece's mark where it is known already.
    """
    return _between(piece, kind, (first.number, last.number), first.onset, last.end, mark or piece_mark(piece))


def change_passage(piece: Piece, phrases: Sequence[Phrase], onset: Quarters, end: Quarters) -> Passage:
    """The passage of a few chords, from the onset of the first to the end of the last.

    Args:
        phrases: Of the piece; the change lies in one of them, or leads from one to the next.
    """
    numbers = [phrase.number for phrase in phrases if phrase.onset < end and onset < phrase.end]
    return _between(piece, "change", (numbers[0], numbers[-1]), onset, end, piece_mark(piece))


def _between(piece: Piece, kind: Kind, numbers: tuple[int, int], onset: Quarters, end: Quarters, mark: str) -> Passage:
    inside = [note for note in piece.notes if onset <= note.onset < end]
    last = max((note.onset for note in inside), default=onset)
    bars = (piece.bar_at(onset).number, piece.bar_at(last).number) if piece.bars else (0, 0)
    return Passage(mark, kind, *numbers, onset, end, mark_of(inside, onset), bars)
