"""What one account of a take comes to: chords visited and notes played, kept up to date as the best account changes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from coach.listening.accounts import Claim
from coach.listening.events import Stroke
from coach.listening.expected import Expected


@dataclass(frozen=True, slots=True)
class Visit:
    """One striking of one chord; a chord that the player came back to has several.

    Attributes:
        chord: Number of the chord.
        run: How often the player had jumped (back, ahead, to begin again) before: 0, 1, 2 ...
        seconds: When its first note came.
        played: The note numbers and the presses that struck them, in order of time.
    """

    chord: int
    run: int
    seconds: float
    played: tuple[tuple[int, int], ...]


@dataclass(slots=True)
class _Entry:
    """One claim written down, and what stood in its place before."""

    claim: Claim
    run: int
    note: int
    visit: int
    visit_before: Visit | None
    last_before: Visit | None
    played_before: int | None


class Ledger:
    """Writes down the claims of an account; where the next account tells it differently, takes back what differs."""

    def __init__(self, expected: Expected) -> None:
        self._expected = expected
        self._entries: list[_Entry] = []
        self._visits: list[Visit] = []
        self._places: dict[tuple[int, int], int] = {}
        self._last: dict[int, Visit] = {}
        self._played: dict[int, int] = {}

    @property
    def visits(self) -> Sequence[Visit]:
        """All strikings of chords, in order of time."""
        return self._visits

    @property
    def last_visits(self) -> Mapping[int, Visit]:
        """For each chord played, its last visit."""
        return self._last

    @property
    def played(self) -> Mapping[int, int]:
        """For each note played, the press of the last visit that struck it."""
        return self._played

    def write(self, claim: Claim | None, strokes: Sequence[Stroke]) -> None:
        """Bring the ledger to the account that ends with a claim; costs as much as differs from before."""
        entries = self._entries
        new: list[Claim] = []
        while claim is not None and not (claim.depth < len(entries) and entries[claim.depth].claim is claim):
            new.append(claim)
            claim = claim.before
        common = claim.depth + 1 if claim is not None else 0
        while len(entries) > common:
            self._take_back(entries.pop())
        for one in reversed(new):
            self._write_down(one, strokes)

    def _write_down(self, claim: Claim, strokes: Sequence[Stroke]) -> None:
        run = (self._entries[-1].run if self._entries else -1) + claim.jumped
        note = self._expected.chords[claim.chord].struck[claim.bit]
        key = (run, claim.chord)
        place = self._places.get(key)
        before: Visit | None = None
        if place is None:
            place = self._places[key] = len(self._visits)
            visit = Visit(claim.chord, run, strokes[claim.press].press, ((note, claim.press),))
            self._visits.append(visit)
        else:
            before = self._visits[place]
            visit = Visit(claim.chord, run, before.seconds, (*before.played, (note, claim.press)))
            self._visits[place] = visit
        self._entries.append(
            _Entry(claim, run, note, place, before, self._last.get(claim.chord), self._played.get(note))
        )
        self._last[claim.chord] = visit
        self._played[note] = claim.press

    def _take_back(self, entry: _Entry) -> None:
        chord = entry.claim.chord
        if entry.visit_before is None:
            del self._places[entry.run, chord]
            del self._visits[entry.visit]
        else:
            self._visits[entry.visit] = entry.visit_before
        if entry.last_before is None:
            del self._last[chord]
        else:
            self._last[chord] = entry.last_before
        if entry.played_before is None:
            del self._played[entry.note]
        else:
            self._played[entry.note] = entry.played_before
