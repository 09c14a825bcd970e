"""A keyboard whose octave switch or transpose button is set: everything sounds too high or too low by as much, or all
that one half of a split keyboard sends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import median

from coach.listening.events import Event
from coach.listening.matching import Match, match_take

SETTINGS = (12, -12, 24, -24, *(way * step for step in range(1, 12) for way in (1, -1)))
"""Semitones that such switches make, the octaves first: transpose buttons go up to an octave either way."""

OCTAVES = SETTINGS[:4]
"""Semitones by which the halves of a split keyboard are set."""

MISFIT = 1.0
"""Cost a press (see `costs`) from which a take hardly fits the piece: takes full of mistakes stay below 0.65, and takes
played elsewhere on the keyboard cost 1.5 and more, with one hand of two elsewhere 1.07 and more (measured on corpus
chorales)."""

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


@dataclass(frozen=True, slots=True)
class Half:
    """One half of a split keyboard, which sounds too high or too low.

    Attributes:
        channel: The channel that it sends on, from 0.
        semitones: By how much it sounds too high, negative for too low.
        upper: Whether it is the half of the higher keys.
    """

    channel: int
    semitones: int
    upper: bool


def half_off(match: Match, events: Sequence[Event]) -> Half | None:
    """The half of a split keyboard that sounds octaves off; None where none does for certain.

    The halves send on channels of their own, and as with all of a keyboard the take must hardly fit as it is, and fit
    well once that channel is moved. A keyboard that sends both halves on one channel does not tell.

    Args:
        match: The take as matched where it is.
        events: The take.
    """
    if _cost(match) <= MISFIT:
        return None
    channels = [event.channel for event in events if event.kind == "press"]
    halves = [channel for channel in sorted(set(channels)) if LEAST <= channels.count(channel) < len(channels)]
    opening = _opening(events)
    tried = [(channel, semitones) for channel in halves for semitones in OCTAVES]
    if not tried:
        return None
    channel, semitones = min(tried, key=lambda one: match_take(match.expected, moved(opening, -one[1], one[0])).cost)
    there = match_take(match.expected, moved(events, -semitones, channel))
    return Half(channel, semitones, _upper(there, channels, channel)) if _cost(there) <= FIT else None


def _upper(match: Match, channels: Sequence[int], channel: int) -> bool:
    keys = [(stroke.key, one == channel) for stroke, one in zip(match.strokes, channels, strict=True)]
    return median(key for key, mine in keys if mine) > median(key for key, mine in keys if not mine)


def moved(events: Sequence[Event], semitones: int, channel: int | None = None) -> tuple[Event, ...]:
    """The same take elsewhere on the keyboard; only the keys of one channel, where one is given."""
    return tuple(
        event
        if event.kind == "pedal" or channel not in (None, event.channel)
        else replace(event, key=event.key + semitones)
        for event in events
    )


def sentence(semitones: int) -> str:
    """What to say first about such a take."""
    way = "high" if semitones > 0 else "low"
    return (
        f"Everything sounded {NAMES[abs(semitones)]} too {way}: look at the keyboard's octave and transpose buttons. "
        "It is judged as if it had sounded where it is written."
    )


def half_sentence(half: Half) -> str:
    """What to say first about a take with such a half."""
    which = "upper" if half.upper else "lower"
    way = "high" if half.semitones > 0 else "low"
    return (
        f"The {which} half of the split keyboard (channel {half.channel + 1}) sounded {NAMES[abs(half.semitones)]} too "
        f"{way}: look at that half's octave setting. It is judged as if it had sounded where it is written."
    )


def _opening(events: Sequence[Event]) -> Sequence[Event]:
    presses = [place for place, event in enumerate(events) if event.kind == "press"]
    return events[: presses[ENOUGH]] if len(presses) > ENOUGH else events
