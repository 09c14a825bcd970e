"""The drill's own work per event on a phrase of 80 chords, in processor time, the listener's matching left out.

Run: python tests/bench/bench_drill.py
"""

from __future__ import annotations

import statistics
import time

from coach.fingering.plan import HandPart, PhrasePlan, PlannedChord, PlannedNote, Side
from coach.listening.matching import Matcher
from coach.listening.player import Mistakes, perform
from coach.practice.drill import Drill
from coach.practice.ladder import Step
from coach.practice.task import Task

CHORDS = 80
TAKES = 6
LIMIT_MS = 1.0
PERCENTILE = 0.99


def long_phrase() -> PhrasePlan:
    """Eighty chords in four voices, every fourth with a held tenor."""
    chords: list[PlannedChord] = []
    join = HandPart("join", 1)
    tenor: PlannedNote | None = None
    for place in range(CHORDS):
        notes = []
        for voice, base, side in (
            ("soprano", 72, "right"),
            ("alto", 65, "right"),
            ("tenor", 57, "left"),
            ("bass", 45, "left"),
        ):
            key = base + (place * 5 + base) % 7 - 3
            hand: Side = "right" if side == "right" else "left"
            held = voice == "tenor" and place % 4 == 1 and tenor is not None
            length = 2.0 if voice == "tenor" and place % 4 == 0 else 1.0
            note = PlannedNote(voice, float(place), length, "C4", key, key, True, hand, 1)
            if held and tenor is not None:
                note = PlannedNote(voice, tenor.onset, 2.0, "C4", tenor.midi, tenor.midi, False, hand, 1)
            elif voice == "tenor":
                tenor = note
            notes.append(note)
        chords.append(PlannedChord(float(place), 1.0, place // 4 + 1, place % 4 + 1.0, "2+2", tuple(notes), join, join))
    return PhrasePlan(1, (1, CHORDS // 4), 0.0, float(CHORDS), "end of the piece", 0.0, tuple(chords))


def main() -> None:
    matching = [0.0]
    hear, match = Matcher.hear, Matcher.match

    def timed(self: Matcher, event: object) -> None:
        before = time.thread_time()
        hear(self, event)  # type: ignore[arg-type]
        matching[0] += time.thread_time() - before

    Matcher.hear = timed  # type: ignore[method-assign, assignment]
    own, ticks = [], []
    task = Task(long_phrase(), Step("together"))
    for seed in range(TAKES):
        drill = Drill(task)
        mistakes = Mistakes(wrong=0.03, missing=0.02, extra=0.02)
        for event in perform(task.expected, None, mistakes, seed, 1.0).events:
            matching[0] = 0.0
            before = time.thread_time()
            drill.hear(event)
            own.append(1000 * (time.thread_time() - before - matching[0]))
            before = time.thread_time()
            drill.tick(event.seconds)
            ticks.append(1000 * (time.thread_time() - before))
    Matcher.hear, Matcher.match = hear, match  # type: ignore[method-assign]
    own.sort()
    ticks.sort()
    worst = own[int(PERCENTILE * len(own))]
    print(f"{len(own)} events on {CHORDS} chords: median {statistics.median(own):.3f} ms, 99 % within {worst:.3f} ms")
    slow = ticks[int(PERCENTILE * len(ticks))]
    print(f"a tick right after an event: median {statistics.median(ticks):.3f} ms, 99 % within {slow:.3f} ms")
    if worst > LIMIT_MS:
        raise SystemExit("too slow")


if __name__ == "__main__":
    main()
