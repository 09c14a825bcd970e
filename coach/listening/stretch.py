"""The stretch of a take in which one phrase was played, among other music."""

from __future__ import annotations

from collections import Counter

from coach.listening.events import Event
from coach.listening.matching import Match
from coach.listening.take import Take

FOREIGN = 2
"""How many notes of the phrase one foreign key outweighs: a take with a wrong key in four is still this phrase, while
of other music in the same key about every second note fits by chance (common practice, no source)."""


IN_A_ROW = 3
"""Chords in a row from which they are the phrase's for certain: before and after it, one or two of other music may be
the same (common practice, no source)."""


def stretch(match: Match) -> range:
    """Indices of the presses, one after the other, that fit a phrase best.

    Args:
        match: The whole take as matched to that phrase alone.
    """
    chords = Counter(visit.run for visit in match.visits)
    best, most = range(0), 0
    start, fitting = 0, 0
    for stroke in match.strokes:
        visit = match.visit_of.get(stroke.index)
        if visit is None:
            fitting -= FOREIGN
        elif chords[visit.run] >= min(IN_A_ROW, len(match.expected.chords)):
            fitting += 1
        if fitting <= 0:
            start, fitting = stroke.index + 1, 0
        elif fitting > most:
            best, most = range(start, stroke.index + 1), fitting
    return best


def excerpt(take: Take, presses: range) -> Take:
    """A take of some of the presses, with the pedal until the last of them and their releases.

    A metronome says nothing of music that begins later than the take: nobody knows on which click.
    """
    kept: list[Event] = []
    down: set[int] = set()
    index = -1
    for event in take.events:
        if event.kind == "press":
            index += 1
            if index in presses:
                kept.append(event)
                down.add(event.key)
            elif event.key in down:
                # The key was up before it went down again, though its release was not heard.
                kept.append(Event(event.seconds, "release", event.key, 64))
                down.discard(event.key)
        elif event.kind == "release":
            if event.key in down:
                kept.append(event)
                down.discard(event.key)
        elif index < presses.stop:
            kept.append(event)
    return Take(tuple(kept), take.metronome if presses.start == 0 else None, take.about)
