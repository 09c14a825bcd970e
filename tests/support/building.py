"""A learner who builds each chord key by key, over seconds, each key kept down until the next chord is begun."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

from coach.listening.events import Event
from coach.listening.expected import Expected
from coach.listening.matching import Matcher

SECONDS = (0.4, 2.5)
"""From one key to the next: looking at the page, at the hand, finding the key."""


@dataclass(frozen=True)
class Built:
    """How well such a take was heard.

    Attributes:
        presses: How many keys were pressed.
        astray: After how many of them another chord was taken for the one being built.
        wrong: How many of them were put down to another chord at the end.
    """

    presses: int
    astray: int
    wrong: int


def build(expected: Expected, seed: int) -> Built:
    """Build a passage, its keys in any order, and listen."""
    random = Random(seed)
    matcher = Matcher(expected)
    now, astray = 0.0, 0
    down: set[int] = set()
    chords: list[int] = []
    for chord in expected.chords:
        keys = list({note.midi for note in expected.struck(chord.number)})
        random.shuffle(keys)
        kept = {note.midi for note in expected.notes if note.onset < chord.onset < note.end} - set(keys)
        for place, key in enumerate(keys):
            now += random.uniform(*SECONDS)
            if place == 0:
                for other in sorted(down - kept):
                    matcher.hear(Event(now - random.choice([0.05, 0.3]), "release", other, 64))
                down &= kept
            matcher.hear(Event(now, "press", key, 64))
            down.add(key)
            chords.append(chord.number)
            astray += matcher.chord != chord.number
    heard = {press: visit.chord for visit in matcher.match().visits for _, press in visit.played}
    return Built(len(chords), astray, sum(heard.get(press) != chord for press, chord in enumerate(chords)))
