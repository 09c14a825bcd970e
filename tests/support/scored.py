"""How well takes of the simulated pianist were heard, counted against what it really did."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from coach.listening.expected import Expected
from coach.listening.matching import Matcher
from coach.listening.player import Performance
from coach.listening.touch import holds, lifts
from coach.listening.verdict import Verdict, judge

CLEAR = 0.06
"""Seconds from which a gap must be told from none."""


@dataclass
class Tally:
    """True, false and missed findings."""

    true: int = 0
    false: int = 0
    missed: int = 0

    def count(self, found: bool, real: bool) -> None:
        self.true += found and real
        self.false += found and not real
        self.missed += real and not found

    @property
    def precision(self) -> float:
        return self.true / (self.true + self.false) if self.true + self.false else 1.0

    @property
    def recall(self) -> float:
        return self.true / (self.true + self.missed) if self.true + self.missed else 1.0

    @property
    def f_measure(self) -> float:
        counted = 2 * self.true + self.false + self.missed
        return 2 * self.true / counted if counted else 1.0

    def __str__(self) -> str:
        return (
            f"precision {self.precision:.4f}, recall {self.recall:.4f}, F {self.f_measure:.4f} "
            f"({self.true + self.missed} in all)"
        )


@dataclass
class Score:
    """What was counted over many takes.

    Attributes:
        notes: Pairs of a note and the press that counts for it.
        lifts: Hands that came off the keys for 60 ms or more between two chords.
        holds: Held notes let go 60 ms or more before the last chord under them.
        current: Presses after which the current chord was, or was not, the one that the pianist was playing.
        words: Verdicts.
    """

    notes: Tally = field(default_factory=Tally)
    lifts: Tally = field(default_factory=Tally)
    holds: Tally = field(default_factory=Tally)
    current: Counter[bool] = field(default_factory=Counter)
    words: Counter[str] = field(default_factory=Counter)

    def add(self, expected: Expected, performance: Performance) -> Verdict:
        """Hear one take and count."""
        truth = performance.truth
        matcher = Matcher(expected)
        press = 0
        for event in performance.events:
            matcher.hear(event)
            if event.kind == "press":
                self.current[matcher.chord == truth.chords[press]] += 1
                press += 1
        match = matcher.match()
        found, real = set(match.played.items()), set(truth.played.items())
        self.notes.true += len(found & real)
        self.notes.false += len(found - real)
        self.notes.missed += len(real - found)
        for lift in lifts(match):
            gap = truth.lifts.get((lift.chord, lift.hand))
            if lift.seen is not None and gap is not None and not 0 < gap < CLEAR:
                self.lifts.count(lift.seen, gap >= CLEAR)
        for hold in holds(match):
            short = truth.let_go.get(hold.note, 0.0)
            if not 0 < short < CLEAR:
                self.holds.count(not hold.kept, short >= CLEAR)
        verdict = judge(match)
        self.words[verdict.word] += 1
        return verdict
