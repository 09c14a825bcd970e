"""A recording of a pianist that the bench dependency `parangonar` brings along, with the alignment made by hand.

Mozart, variation 1 of K. 265: running semiquavers over crotchets, 218 notes, one of them struck twice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from coach.fingering.plan import HandPart, PhrasePlan, PlannedChord, PlannedNote
from coach.listening.events import Event
from coach.listening.expected import Expected, expect


@dataclass(frozen=True)
class RealTake:
    """What is expected, what was played, and which press is which note (onset, key)."""

    expected: Expected
    events: list[Event]
    true: set[tuple[float, int, int]]
    score: Any
    performance: Any
    alignment: Any


def mozart() -> RealTake:
    """Read it.

    Raises:
        ImportError: `parangonar` or `partitura` is not installed.
    """
    import parangonar
    import partitura

    performance, alignment, score = partitura.load_match(parangonar.EXAMPLE, create_score=True)
    written = score.note_array(include_staff=True)
    notes = [
        PlannedNote(
            f"voice {row['staff']}{row['voice']}",
            float(row["onset_quarter"]),
            float(row["duration_quarter"]),
            "",
            int(row["pitch"]),
            int(row["pitch"]),
            True,
            "right" if row["staff"] == 1 else "left",
            None,
        )
        for row in written
    ]
    names = {str(row["id"]): (float(row["onset_quarter"]), int(row["pitch"])) for row in written}
    heard = sorted(performance.note_array(), key=lambda row: float(row["onset_sec"]))
    index = {str(row["id"]): place for place, row in enumerate(heard)}
    events = []
    for row in heard:
        start, length = float(row["onset_sec"]), float(row["duration_sec"])
        events.append(Event(start, "press", int(row["pitch"]), int(row["velocity"])))
        events.append(Event(start + length, "release", int(row["pitch"]), 0))
    events.sort(key=lambda event: event.seconds)
    true = {
        (*names[str(one["score_id"])], index[str(one["performance_id"])])
        for one in alignment
        if one["label"] == "match"
    }
    return RealTake(expect([_plan(notes)]), events, true, score, performance, alignment)


def _plan(notes: list[PlannedNote]) -> PhrasePlan:
    """Chords as they come, all joined; fingers do not matter here."""
    onsets = sorted({note.onset for note in notes})
    end = max(note.end for note in notes)
    part = HandPart("join", 1)
    chords = [
        PlannedChord(
            onset,
            (onsets[place + 1] if place + 1 < len(onsets) else end) - onset,
            1,
            1.0,
            "",
            tuple(sorted((note for note in notes if note.onset == onset), key=lambda note: -note.midi)),
            part,
            part,
        )
        for place, onset in enumerate(onsets)
    ]
    return PhrasePlan(1, (1, 1), onsets[0], end, "end of the piece", 0.0, tuple(chords))
