"""How time went: tempo, unevenness, hesitations, and how the take lay with the metronome when there was one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import median

from coach.listening.events import Metronome
from coach.listening.matching import Match
from coach.listening.thresholds import HESITATION, HESITATION_LEAST, NEIGHBOURS, OFF_TEMPO, UNHEARD


@dataclass(frozen=True, slots=True)
class Hesitation:
    """A wait.

    Attributes:
        chord: Number of the chord that was waited for.
        waited: Seconds beyond the expected step.
    """

    chord: int
    waited: float


@dataclass(frozen=True, slots=True)
class Clicks:
    """How the chords lay against the metronome.

    Attributes:
        quarter_bpm: The metronome's tempo.
        mean: Seconds that chords came after their click on average, negative when before.
        spread: Standard deviation of that, in seconds.
    """

    quarter_bpm: float
    mean: float
    spread: float


@dataclass(frozen=True, slots=True)
class Pace:
    """Tempo and steadiness.

    Attributes:
        quarter_bpm: Quarter notes a minute, None for fewer than two chords in a row.
        unevenness: How far the steps stray from the local tempo, as a share (root mean square; 0.05 is five per cent),
            hesitations and what nobody hears left out; None for fewer than four steps.
        hesitations: Where the player waited.
        clicks: Against the metronome, None without one.
    """

    quarter_bpm: float | None
    unevenness: float | None
    hesitations: tuple[Hesitation, ...]
    clicks: Clicks | None

    @property
    def at_another_tempo(self) -> bool:
        """Whether it went at another tempo than the metronome, so that how far it lay from the clicks says nothing."""
        if self.clicks is None or self.quarter_bpm is None:
            return False
        return abs(self.quarter_bpm / self.clicks.quarter_bpm - 1) > OFF_TEMPO


def pace(match: Match, metronome: Metronome | None = None, within: range | None = None) -> Pace:
    """Measure a take, or some chords of it.

    A step across the end of a phrase says nothing about tempo: there the player breathes.
    """
    within = range(len(match.expected.chords)) if within is None else within
    steps = _steps(match, within)
    usual = [_around(steps, place) for place in range(len(steps))]
    hesitations = []
    going = []
    for (chord, passed, distance), quarter in zip(steps, usual, strict=True):
        expected = quarter * distance
        if passed > HESITATION * expected and passed - expected > HESITATION_LEAST:
            hesitations.append(Hesitation(chord, passed - expected))
        else:
            going.append((passed, distance))
    strays = [_stray(going, place) for place in range(len(going))]
    return Pace(
        quarter_bpm=round(60 / _weighted_median(steps), 2) if steps else None,
        unevenness=sqrt(sum(stray * stray for stray in strays) / len(strays)) if len(strays) >= 4 else None,
        hesitations=tuple(hesitations),
        clicks=_clicks(match, metronome, within) if metronome else None,
    )


def _steps(match: Match, within: range) -> list[tuple[int, float, float]]:
    """The chord arrived at, seconds and quarter notes of every step between chords played one after the other."""
    chords = match.expected.chords
    steps = []
    for chord in (chords[number] for number in within[1:]):
        before, here = match.last_visits.get(chord.number - 1), match.last_visits.get(chord.number)
        if before is None or here is None or before.run != here.run or chords[chord.number - 1].phrase != chord.phrase:
            continue
        passed = match.middle(here) - match.middle(before)
        if passed > 0:
            steps.append((chord.number, passed, chord.onset - chords[chord.number - 1].onset))
    return steps


def _around(steps: Sequence[tuple[int, float, float]], place: int) -> float:
    """The local tempo at one step, in seconds a quarter note: the middle one of its neighbours', so that no wait in
    between counts."""
    near = steps[max(place - NEIGHBOURS, 0) : place + NEIGHBOURS + 1]
    return median(passed / distance for _, passed, distance in near)


def _stray(going: Sequence[tuple[float, float]], place: int) -> float:
    """How far one step strays from the tempo of the steps around it, as a share."""
    near = going[max(place - NEIGHBOURS, 0) : place + NEIGHBOURS + 1]
    passed, distance = going[place]
    expected = distance * sum(time for time, _ in near) / sum(length for _, length in near)
    return max(abs(passed - expected) - UNHEARD, 0.0) / expected


def _weighted_median(steps: Sequence[tuple[int, float, float]]) -> float:
    """Seconds a quarter note in the middle of the music: long steps weigh more than quick ones."""
    ordered = sorted((passed / distance, distance) for _, passed, distance in steps)
    half = sum(distance for _, distance in ordered) / 2
    for quarter, distance in ordered:
        half -= distance
        if half <= 0:
            return quarter
    return ordered[-1][0]


def _clicks(match: Match, metronome: Metronome, within: range) -> Clicks | None:
    chords = match.expected.chords
    if not any(chord in within for chord in match.last_visits):
        return None
    quarter = 60 / metronome.quarter_bpm
    late = min(
        (
            [
                match.middle(visit) - metronome.start - (chords[chord].onset - first) * quarter
                for chord, visit in match.last_visits.items()
                if chord in within
            ]
            for first in _first_clicks(match)
        ),
        key=lambda each: abs(sum(each)),
    )
    mean = sum(late) / len(late)
    return Clicks(metronome.quarter_bpm, mean, sqrt(sum((one - mean) ** 2 for one in late) / len(late)))


def _first_clicks(match: Match) -> tuple[float, float]:
    """Where in the music, in quarter notes, the metronome's first click may have lain: at the beginning, or, of a take
    that is one of the later phrases of what it is heard against, at the start of that."""
    chords = match.expected.chords
    came_in = chords[match.visits[0].chord]
    return chords[0].onset, next(chord.onset for chord in chords if chord.phrase == came_in.phrase)
