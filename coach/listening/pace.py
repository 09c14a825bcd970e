"""How time went: tempo, unevenness, hesitations, and how the take lay with the metronome when there was one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from math import sqrt
from statistics import median

from coach.listening.events import Metronome
from coach.listening.expected import Expected
from coach.listening.matching import Match
from coach.listening.thresholds import (
    DRIFT,
    HESITATION,
    HESITATION_LEAST,
    MANY_WAITS,
    NEIGHBOURS,
    OFF_TEMPO,
    SWAY,
    UNEVEN,
    UNHEARD,
)


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
class Drift:
    """How the tempo went from the first step to the last, hesitations left out unless they are many.

    Attributes:
        first: Quarter notes a minute at the beginning, as the straight line through all steps has it.
        last: The same at the end.
        average: The same on the whole.
        sway: How far the steps stray from the take's own average, as a share (root mean square), what nobody hears left
            out: a local unevenness may be small where the tempo swells and ebbs.
        beside: The same from the straight line.
        slowest, fastest: Quarter notes a minute of the slowest and the quickest step.
    """

    first: float
    last: float
    average: float
    sway: float
    beside: float
    slowest: float
    fastest: float

    @property
    def is_one(self) -> bool:
        """Whether the take grew quicker or slower all along, rather than to and fro."""
        away = max(self.first, self.last) / min(self.first, self.last) - 1
        return away > DRIFT and 2 * self.beside < self.sway


@dataclass(frozen=True, slots=True)
class Pace:
    """Tempo and steadiness.

    Attributes:
        quarter_bpm: Quarter notes a minute as a rule, on the whole where there is none; None for fewer than two chords
            in a row.
        unevenness: How far the steps stray from the local tempo, as a share (root mean square; 0.05 is five per cent),
            hesitations and what nobody hears left out; None for fewer than four steps.
        hesitations: Where the player waited.
        clicks: Against the metronome, None without one.
        drift: How the tempo went from the first step to the last, None for fewer than four steps.
    """

    quarter_bpm: float | None
    unevenness: float | None
    hesitations: tuple[Hesitation, ...]
    clicks: Clicks | None
    drift: Drift | None = None

    @property
    def is_uneven(self) -> bool:
        """Whether the steps limp."""
        return self.unevenness is not None and self.unevenness > UNEVEN

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
    # Who waits at every other chord does not wait: that is how the take goes.
    whole = going if len(hesitations) <= MANY_WAITS * len(steps) else [step[1:] for step in steps]
    strays = [_stray(going, place) for place in range(len(going))]
    drift = _drift(whole) if len(whole) >= 4 else None
    quarter_bpm = round(60 / _weighted_median(steps), 2) if steps else None
    if drift is not None and drift.sway > SWAY:
        # Where the steps go to and fro, the middle one of them is the tempo of nothing.
        quarter_bpm = round(drift.average, 2)
    return Pace(
        quarter_bpm=quarter_bpm,
        unevenness=sqrt(sum(stray * stray for stray in strays) / len(strays)) if len(strays) >= 4 else None,
        hesitations=tuple(hesitations),
        clicks=_clicks(match, metronome, within) if metronome else None,
        drift=drift,
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


def _drift(going: Sequence[tuple[float, float]]) -> Drift:
    """The straight line through the tempo of all steps, long ones weighing more, and how far they stray from it."""
    quarters = [passed / distance for passed, distance in going]
    middles = [
        after - distance / 2 for after, (_, distance) in zip(accumulate(d for _, d in going), going, strict=True)
    ]
    whole = sum(distance for _, distance in going)
    average = sum(passed for passed, _ in going) / whole
    middle = sum(place * distance for place, (_, distance) in zip(middles, going, strict=True)) / whole
    wide = sum(distance * (place - middle) ** 2 for place, (_, distance) in zip(middles, going, strict=True))
    slope = sum(
        distance * (place - middle) * (quarter - average)
        for place, quarter, (_, distance) in zip(middles, quarters, going, strict=True)
    )
    line = [max(average + slope / wide * (place - middle), 0.2 * average) for place in middles]
    return Drift(
        first=60 / line[0],
        last=60 / line[-1],
        average=60 / average,
        sway=_strayed(going, [average] * len(going)),
        beside=_strayed(going, line),
        slowest=60 / max(quarters),
        fastest=60 / min(quarters),
    )


def _strayed(going: Sequence[tuple[float, float]], quarters: Sequence[float]) -> float:
    """How far steps stray from these lengths of their quarter notes, as a share (root mean square)."""
    strays = [
        max(abs(passed - quarter * distance) - UNHEARD, 0.0) / (quarter * distance)
        for (passed, distance), quarter in zip(going, quarters, strict=True)
    ]
    return sqrt(sum(stray * stray for stray in strays) / len(strays))


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


def quarters_a_beat(expected: Expected) -> float:
    """How many quarter notes a beat has, as the music counts it; one where that cannot be seen."""
    for before, after in pairwise(expected.chords):
        if before.bar == after.bar and after.beat > before.beat:
            return (after.onset - before.onset) / (after.beat - before.beat)
    return 1.0
