"""Everything that was heard in one phrase of a take, gathered for judging and for showing."""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from coach.listening.events import PEDAL_DOWN, Metronome
from coach.listening.expected import Expected, ExpectedNote
from coach.listening.fingers import RuledOut, ruled_out
from coach.listening.ledger import Visit
from coach.listening.matching import Match
from coach.listening.meant import meanings, mended, silent
from coach.listening.pace import Pace, pace
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
        absent: Notes that should have been struck and were not, in chords that were reached; of voices that meet on a
            key, the one listed first.
        meant: For absent notes, the wrong key that was pressed instead: note number, index of the press.
        mended: For notes that were played, the wrong key struck just before in their place: note number, index of the
            press.
        not_reached: Chords after the last one played, rightly or with wrong keys.
        extra: Presses that belong to nothing: the chord that was current, and the index.
        jumps: Where the player went back or skipped: the chord left and the chord arrived at.
        lifts, holds, smears, together, fingers, pace, pedal: What was measured.
        left_ahead: Seconds that the left hand was ahead of the right one as a rule; None for one hand.
    """

    match: Match
    chords: range
    absent: tuple[ExpectedNote, ...]
    meant: dict[int, int]
    mended: dict[int, int]
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

    @property
    def left_out(self) -> tuple[range, ...]:
        """Chords passed over as a whole, those in a row together; a single note is missing rather than passed over."""
        silent_in = Counter(note.chord for note in self.absent if note.number not in self.meant)
        runs: list[range] = []
        for chord in sorted(silent_in):
            if chord in self.match.last_visits or silent_in[chord] < len(self.expected.asked(chord)):
                continue
            if runs and runs[-1].stop == chord:
                runs[-1] = range(runs[-1].start, chord + 1)
            else:
                runs.append(range(chord, chord + 1))
        return tuple(run for run in runs if len(run) > 1 or silent_in[run.start] > 1)

    @property
    def asked(self) -> tuple[ExpectedNote, ...]:
        """The phrase's notes that must be struck, one for each key."""
        return tuple(note for chord in self.chords for note in self.expected.asked(chord))


def find(match: Match, metronome: Metronome | None = None, chords: range | None = None) -> Findings:
    """Gather what was heard in some chords, by default in all of them."""
    within = range(len(match.expected.chords)) if chords is None else chords
    extra = _extra(match, within)
    went = pace(match, metronome, within)
    quarter = 60 / went.quarter_bpm if went.quarter_bpm else None
    meant = meanings(match, within, extra, quarter)
    others = [(chord, press) for chord, press in extra if press not in meant.notes.values()]
    last = max((chord for chord in within if chord in match.last_visits or chord in meant.begun), default=-1)
    absent = tuple(note for chord in within if chord <= last for note in silent(match, chord))
    return Findings(
        match=match,
        chords=within,
        absent=absent,
        meant=meant.notes,
        mended=mended(match, within, others, quarter),
        not_reached=tuple(chord for chord in within if chord > last),
        extra=tuple((_current(match, meant.begun, chord, press), press) for chord, press in extra),
        jumps=_jumps(match, within),
        lifts=lifts(match, within),
        holds=holds(match, within),
        smears=smears(match, within),
        together=together(match, within),
        fingers=ruled_out(match, within),
        pace=went,
        pedal=pedal(match, within),
        left_ahead=hands_apart(match, within),
    )


def _current(match: Match, begun: Mapping[int, float], chord: int, press: int) -> int:
    """The chord that was current at a wrong key, where the last ones were struck with wrong keys alone."""
    if not begun or chord != min(begun) - 1:
        return chord
    return max((later for later, since in begun.items() if since <= match.strokes[press].press), default=chord)


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
