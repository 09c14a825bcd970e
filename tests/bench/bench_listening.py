"""What listening costs: a press while playing, longer and longer pieces, and a ten-minute take against `parangonar`.

    python tests/bench/bench_listening.py

All times are of the processor, so that other programs do not disturb them; `parangonar` and its import are optional.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "support"))

from note_matching import parangonar_matchers
from simulated import FIVE_PER_CENT, chorale_plan

from coach.fingering.plan import PhrasePlan
from coach.listening.expected import Expected, expect
from coach.listening.hearing import hear
from coach.listening.matching import Matcher
from coach.listening.player import Manner, Performance, perform
from coach.listening.take import Take


def repeated(phrases: tuple[PhrasePlan, ...], times: int) -> tuple[PhrasePlan, ...]:
    """Phrases over and over, each time later in the piece and two semitones further round the octave."""
    made = []
    length = phrases[-1].end
    for turn in range(times):
        shift, up = turn * length, (turn * 2) % 12 - 6
        for phrase in phrases:
            chords = tuple(
                replace(
                    chord,
                    onset=chord.onset + shift,
                    notes=tuple(
                        replace(n, onset=n.onset + shift, midi=n.midi + up, written_midi=n.written_midi + up)
                        for n in chord.notes
                    ),
                )
                for chord in phrase.chords
            )
            made.append(
                replace(
                    phrase,
                    number=len(made) + 1,
                    onset=phrase.onset + shift,
                    end=phrase.end + shift,
                    chords=chords,
                )
            )
    return tuple(made)


def as_one_phrase(phrases: tuple[PhrasePlan, ...], chords: int) -> PhrasePlan:
    """The first chords of a piece as one long phrase."""
    some = tuple(chord for phrase in phrases for chord in phrase.chords)[:chords]
    return replace(phrases[0], chords=some, end=some[-1].end)


def per_event(expected: Expected, performance: Performance) -> list[float]:
    """Processor seconds of each event, the drawing of the state that a screen reads included."""
    matcher = Matcher(expected)
    times = []
    for event in performance.events:
        start = time.process_time_ns()
        matcher.hear(event)
        matcher.match()
        times.append((time.process_time_ns() - start) / 1e9)
    return sorted(times)


def percentile(times: list[float], share: float) -> float:
    return times[min(int(share * len(times)), len(times) - 1)]


def main() -> None:
    phrases = chorale_plan("bach/bwv269").phrases
    print("online, 5 % note errors, mean and 99th percentile of an event in ms of processor time:")
    base = 0.0
    for count in (80, 160, 320, 640, 1280):
        plan = as_one_phrase(repeated(phrases, count // 60 + 1), count)
        expected = expect([plan])
        times: list[float] = []
        for seed in range(3):
            times += per_event(expected, perform(expected, mistakes=FIVE_PER_CENT, seed=seed))
        times.sort()
        mean, high = sum(times) / len(times), percentile(times, 0.99)
        base = base or mean
        growth = f"{mean / base / (count / 80):.2f} of linear growth"
        print(f"  {count:5} chords: {1000 * mean:.3f}, {1000 * high:.3f}; {growth}")

    long = repeated(phrases, 9)
    expected = expect(long)
    performance = perform(expected, Manner(quarter_bpm=60), FIVE_PER_CENT, seed=1)
    minutes = performance.events[-1].seconds / 60
    take = Take(performance.events)
    start = time.process_time()
    hearing = hear(long, take)
    mine = time.process_time() - start
    print(f"offline, a take of {minutes:.1f} minutes, {take.presses} notes: heard and judged in {mine:.2f} s")
    for name, matcher in parangonar_matchers().items():
        start = time.process_time()
        matcher(expected, hearing.match.strokes)
        theirs = time.process_time() - start
        print(f"  parangonar {name}: matched in {theirs:.2f} s, {theirs / mine:.1f} times as long")


if __name__ == "__main__":
    main()
