"""A keyboard whose octave switch or transpose button is set: everything sounds too high or too low by as much."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from coach.listening.events import Event
from coach.listening.matching import Match, match_take

SETTINGS = (12, -12, 24, -24, *(way * step for step in range(1, 12) for way in (1, -1)))
"""Semitones that such switches make, the octaves first: transpose buttons go up to an octave either way."""

MISFIT = 1.0
"""Cost a press (see `costs`) from which a take hardly fits the piece: takes full of mistakes stay below 0.65, and takes
played elsewhere on the keyboard cost 1.5 and more (measured on corpus chorales)."""

FIT = 0.7
"""Cost a press up to which a take fits (measured on the same takes)."""

LEAST = 8
"""Presses below which a take fits anywhere: two chords of four voices."""

ENOUGH = 60
"""Presses by which each setting is tried: some fifteen chords."""

NAMES = {
    1: "a semitone",
    2: "a whole tone",
    3: "a minor third",
    4: "a major third",
    5: "a fourth",
    6: "a tritone",
    7: "a fifth",
    8: "a minor sixth",
    9: "a major sixth",
    10: "a minor seventh",
    11: "a major seventh",
    12: "an octave",
    24: "two octaves",
}


def setting(match: Match, events: Sequence[Event]) -> int:
    """Semitones by which all of a take sounds too high, negative for too low; 0 where it is no matter of a setting.

    Only a take that hardly fits where it is, and fits well elsewhere, is believed to be played there.

    Args:
        match: The take as matched where it is.
        events: The take.
    """
    if len(match.strokes) < LEAST or _cost(match) <= MISFIT:
        return 0
    opening = _opening(events)
    best = min(SETTINGS, key=lambda semitones: match_take(match.expected, moved(opening, -semitones)).cost)
    return best if _cost(match_take(match.expected, moved(events, -best))) <= FIT else 0


def _cost(match: Match) -> float:
    """What a press of a take costs."""
    return match.cost / max(len(match.strokes), 1)


def moved(events: Sequence[Event], semitones: int) -> tuple[Event, ...]:
    """The same take elsewhere on the keyboard."""
    return tuple(event if event.kind == "pedal" else replace(event, key=event.key + semitones) for event in events)


def sentence(semitones: int) -> str:
    """What to say first about such a take."""
    way = "high" if semitones > 0 else "low"
    return (
        f"Everything sounded {NAMES[abs(semitones)]} too {way}: look at the keyboard's octave and transpose buttons. "
        "It is judged as if it had sounded where it is written."
    )


def _opening(events: Sequence[Event]) -> Sequence[Event]:
    presses = [place for place, event in enumerate(events) if event.kind == "press"]
    return events[: presses[ENOUGH]] if len(presses) > ENOUGH else events
