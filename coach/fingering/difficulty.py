"""How hard a piece is for a pair of hands: one number and its parts, comparable between pieces.

The number is the effort a second at the piece's tempo. It rests on the plan, so that the same piece is harder for a
smaller hand, and on an average over the piece, so that a long piece is no harder than a short one of its kind.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from coach.fingering.keyboard import is_black
from coach.fingering.plan import Name, PhrasePlan, Plan
from coach.fingering.terms import DEALING, LIFTS, MOVES, STRETCHES
from coach.score.piece import USUAL_BPM

WAY_OUT = 10.0
"""Effort of a note raised, rolled, left out or let go: more than sharing the notes as they stand ever costs, and than
the stretch it spares (common practice, no source)."""

STROKE = 0.25
"""Effort of finding and striking one key among others (common practice, no source)."""

BLACK = 0.25
"""Effort of a black key beyond that: one more thing to read and to place (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Difficulty:
    """How hard something is, in effort a second; the parts add up to the number.

    Attributes:
        stretches: Opening and cramping the hand.
        lifts: Leaving the keys, and lines that break by it.
        sharing: How the hands share the notes, voices that change hands, and ways out.
        moves: Moving over the keys, crossings, and awkward fingers.
        density: Keys to strike, black ones counting more.
        tempo: What the piece's tempo adds to all of these, or takes off.
    """

    stretches: float
    lifts: float
    sharing: float
    moves: float
    density: float
    tempo: float

    @property
    def number(self) -> float:
        return sum(self.parts.values())

    @property
    def parts(self) -> dict[str, float]:
        """The parts by name, in words."""
        return {
            "stretches": self.stretches,
            "lifts": self.lifts,
            "distribution": self.sharing,
            "moves": self.moves,
            "density": self.density,
            "tempo": self.tempo,
        }

    def to_json(self) -> dict[str, Any]:
        return {name: round(getattr(self, name), 6) for name in self.__slots__}

    @classmethod
    def from_json(cls, form: Mapping[str, Any]) -> Difficulty:
        """Read what `to_json` writes.

        Raises:
            KeyError, TypeError, ValueError: damaged.
        """
        return cls(**{name: float(form[name]) for name in cls.__slots__})


def difficulty(plan: Plan, quarter_bpm: float | None = None) -> Difficulty:
    """How hard a planned piece is at its tempo.

    Args:
        plan: The plan, for the player's hands.
        quarter_bpm: Tempo in quarter notes a minute; where None the usual one, at which the parts are stated.
    """
    return of_phrases(plan.phrases, quarter_bpm)


def of_phrases(phrases: Iterable[PhrasePlan], quarter_bpm: float | None = None) -> Difficulty:
    """How hard some phrases are together."""
    phrases = tuple(phrases)
    quarters = sum(phrase.end - phrase.onset for phrase in phrases)
    if quarters <= 0:
        return Difficulty(0, 0, 0, 0, 0, 0)
    terms: dict[str, float] = {}
    for phrase in phrases:
        for name, effort in phrase.terms.items():
            terms[name] = terms.get(name, 0.0) + effort
    a_second = USUAL_BPM / 60 / quarters

    def part(names: frozenset[str]) -> float:
        return sum(effort for name, effort in terms.items() if name in names) * a_second

    ways_out = WAY_OUT * sum(_ways_out(phrase) for phrase in phrases) * a_second
    keys = [key for phrase in phrases for key in _struck(phrase)]
    density = sum(STROKE + BLACK * is_black(key) for key in keys) * a_second
    parts = (part(STRETCHES), part(LIFTS), part(DEALING) + ways_out, part(MOVES), density)
    return Difficulty(*parts, tempo=sum(parts) * ((quarter_bpm or USUAL_BPM) / USUAL_BPM - 1))


def _struck(phrase: PhrasePlan) -> Iterable[int]:
    """Every key that is struck, voices in unison once."""
    for chord in phrase.chords:
        yield from {note.midi for note in chord.notes if note.struck and note.hand is not None}


def _ways_out(phrase: PhrasePlan) -> int:
    """Notes that a way out was taken for, each once, and chords that are rolled in a hand."""
    count = 0
    playing: set[Name] = set()
    for chord in phrase.chords:
        count += len({note.hand for note in chord.notes if note.rolled})
        for note in chord.notes:
            name = note.known_by
            if note.struck:
                count += note.hand is None or note.midi != note.written_midi
            elif note.hand is None and name in playing:
                count += 1
            if note.hand is None:
                playing.discard(name)
            else:
                playing.add(name)
    return count
