"""Everything that was heard in one phrase of a take, gathered for judging and for showing."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass

from coach.listening.events import PEDAL_DOWN, Metronome
from coach.listening.expected import Expected, ExpectedNote
from coach.listening.fingers import RuledOut, ruled_out
from coach.listening.ledger import Visit
from coach.listening.matching import Match
from coach.listening.pace import Pace, pace
from coach.listening.thresholds import WAIT_FOR_WRONG
from coach.listening.touch import Hold, Lift, Smear, Together, hands_apart, holds, lifts, smears, together


@dataclass(frozen=True, slots=True)
class Pedal:
    """What the sustain pedal did.

    Attributes:
        presses: How often it went down.
        share: Share of the playing time that it was down.
    """

    presses: int
    share: float


@dataclass(frozen=True, slots=True)
class Findings:
    """One phrase as heard; numbers of chords and notes are those of `match.expected`.

    Attributes:
        match: The take as matched, all of it.
        chords: The phrase's chords.
        absent: Notes that should have been struck and were not, in chords that were reached.
        meant: For absent notes, the wrong key that was pressed instead: note number, index of the press.
        not_reached: Chords after the last one played.
        extra: Presses that belong to nothing: the chord that was current, and the index.
        jumps: Where the player went back or skipped: the chord left and the chord arrived at.
        lifts, holds, smears, together, fingers, pace, pedal: What was measured.
        left_ahead: Seconds that the left hand was ahead of the right one as a rule; None for one hand.
    """

    match: Match
    chords: range
    absent: tuple[ExpectedNote, ...]
    meant: dict[int, int]
    not_reached: tuple[int, ...]
    extra: tuple[tuple[int, int], ...]
    jumps: tuple[tuple[int, int], ...]
    lifts: tuple[Lift, ...]
    holds: tuple[Hold, ...]
    smears: tuple[Smear, ...]
    together: tuple[Together, ...]
    fingers: tuple[RuledOut, ...]
    pace: Pace
    pedal: Pedal
    left_ahead: float | None

    @property
    def expected(self) -> Expected:
        return self.match.expected

    @property
    def notes(self) -> tuple[ExpectedNote, ...]:
        """The phrase's notes."""
        return tuple(note for chord in self.chords for note in self.expected.struck(chord))


def find(match: Match, metronome: Metronome | None = None, chords: range | None = None) -> Findings:
    """Gather what was heard in some chords, by default in all of them."""
    within = range(len(match.expected.chords)) if chords is None else chords
    reached = [chord for chord in within if chord in match.last_visits]
    last = reached[-1] if reached else within.start - 1
    absent = tuple(
        note
        for chord in within
        if chord <= last
        for note in match.expected.struck(chord)
        if note.number not in match.played and not note.optional and not _unison(match, note)
    )
    extra = _extra(match, within)
    return Findings(
        match=match,
        chords=within,
        absent=absent,
        meant=_meant(match, absent, [press for _, press in extra]),
        not_reached=tuple(chord for chord in within if chord > last),
        extra=extra,
        jumps=_jumps(match, within),
        lifts=lifts(match, within),
        holds=holds(match, within),
        smears=smears(match, within),
        together=together(match, within),
        fingers=ruled_out(match, within),
        pace=pace(match, metronome, within),
        pedal=pedal(match, within),
        left_ahead=hands_apart(match, within),
    )


def _unison(match: Match, note: ExpectedNote) -> bool:
    """Whether another voice has struck the key that this note shares."""
    return any(other.midi == note.midi and other.number in match.played for other in match.expected.struck(note.chord))


def _extra(match: Match, within: range) -> tuple[tuple[int, int], ...]:
    """Extra presses of the visits that count, each with the chord that was current; a key's bounce is no press."""
    if not match.visits:
        return tuple((within.start, press) for press in match.extra) if within.start == 0 and len(within) else ()
    starts = [visit.seconds for visit in match.visits]
    bounced = frozenset(match.bounces.values())
    found = []
    for press in match.extra:
        place = bisect_right(starts, match.strokes[press].press) - 1
        visit = match.visits[max(place, 0)]
        if visit.chord in within and match.last_visits[visit.chord] is visit and press not in bounced:
            found.append((visit.chord, press))
    return tuple(found)


def _jumps(match: Match, within: range) -> tuple[tuple[int, int], ...]:
    """Jumps that were no fresh start: a phrase played to its end may be followed by anything."""
    jumps = []
    before: Visit | None = None
    furthest = -1
    for visit in match.visits:
        if before is not None and visit.run != before.run:
            ended = furthest + 1 in match.expected.starts or furthest + 1 == len(match.expected.chords)
            if not ended and furthest in within:
                jumps.append((furthest, visit.chord))
            furthest = visit.chord
        furthest = max(furthest, visit.chord)
        before = visit
    return tuple(jumps)


def _meant(match: Match, absent: tuple[ExpectedNote, ...], extra: list[int]) -> dict[int, int]:
    """For absent notes, the extra press that was probably meant: near in time, a neighbour or an octave off."""
    pairs = []
    for note in absent:
        visit = match.last_visits.get(note.chord) or match.last_visits.get(note.chord - 1)
        if visit is None:
            continue
        for press in extra:
            stroke = match.strokes[press]
            away = abs(stroke.press - visit.seconds)
            unlike = _unlike(stroke.key - note.midi)
            if away <= WAIT_FOR_WRONG and unlike < 3:
                pairs.append((unlike + 2 * away, note.number, press))
    meant: dict[int, int] = {}
    for _, note_number, press in sorted(pairs):
        if note_number not in meant and press not in meant.values():
            meant[note_number] = press
    return meant


def _unlike(distance: int) -> int:
    """0 for a semitone, 1 for a whole tone, 2 for octaves, 3 for anything else."""
    if abs(distance) <= 2:
        return max(abs(distance) - 1, 0)
    return 2 if distance % 12 == 0 else 3


def pedal(match: Match, within: range) -> Pedal:
    """What the pedal did from the first of some chords until the player went on from the last of them."""
    times = [visit.seconds for chord in within if (visit := match.last_visits.get(chord)) is not None]
    if not times:
        return Pedal(0, 0.0)
    start, last = min(times), max(times)
    end = min((visit.seconds for visit in match.visits if visit.seconds > last), default=match.end)
    presses, down_for, down_since, down = 0, 0.0, start, False
    for seconds, value in match.pedal:
        now = min(max(seconds, start), end)
        if down:
            down_for += now - down_since
        pressed = value >= PEDAL_DOWN
        if pressed and not down and start <= seconds <= end:
            presses += 1
        down, down_since = pressed, now
    if down:
        down_for += max(end - down_since, 0.0)
    return Pedal(presses, down_for / (end - start) if end > start else 0.0)
