"""Keys that were struck and began no take: the first chord elsewhere on the keyboard, one hand alone, other music."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coach.fingering.plan import Side
from coach.listening.events import Event
from coach.practice.attempt import AT_ONCE
from coach.practice.task import Task

KEPT = 24
"""Presses that are looked back on: two chords of as many voices as two hands can strike."""

PAUSE = 1.0
"""Seconds without a key struck after which something new begins (common practice, no source)."""

GOING_ON = 2.0
"""Seconds from chord to chord within which music goes on (common practice, no source)."""

TELLING = 3
"""Keys of a first chord from which it is known elsewhere by itself; two keys at that distance may be any."""

FARTHEST = 11
"""Semitones at most that a transpose button moves the keyboard, octaves apart."""


@dataclass(frozen=True, slots=True)
class Astray:
    """The latest keys that began no take, oldest first.

    Attributes:
        presses: When and which.
    """

    presses: tuple[Event, ...] = ()

    def hear(self, event: Event) -> Astray:
        """One more press."""
        return Astray((*self.presses, event)[-KEPT:])

    @property
    def chords(self) -> list[list[Event]]:
        """The presses as chords, rolled or not."""
        found: list[list[Event]] = []
        for press in self.presses:
            if found and press.seconds - found[-1][0].seconds <= AT_ONCE:
                found[-1].append(press)
            else:
                found.append([press])
        return found

    def goes_on(self, task: Task, now: float) -> bool:
        """Whether a key that is struck now comes in the middle of other music; keys of a first chord that is being
        built are none."""
        others = (press for press in self.presses if press.key not in task.first_keys)
        return any(AT_ONCE < now - press.seconds <= GOING_ON for press in others)

    def elsewhere(self, task: Task) -> int | None:
        """Semitones by which the first chord was just struck too high, negative for too low; None where it was not.

        It must begin something, each of its keys as far away as the others. Octaves are another button's.
        """
        chords = self.chords
        first, second = task.keys_of(0), task.keys_of(1)
        if len(first) >= TELLING:
            return _apart(first, chords[-1]) if self._begins(-1) else None
        if len(chords) < 2 or not self._begins(-2) or not second:
            return None
        apart = _apart(first, chords[-2])
        return apart if apart == _apart(second, chords[-1]) else None

    def alone(self, task: Task) -> Side | None:
        """The hand whose first two chords were just struck alone, where both hands or the other one are asked; None
        where that was not so."""
        chords = [_keys(chord) for chord in self.chords[-2:]]
        hands = task.both_hands.hands
        if len(hands) < 2 or len(chords) < 2:
            return None
        return next((hand for hand in hands if hand != task.step.hand and chords == _opening(task, hand)), None)

    def _begins(self, place: int) -> bool:
        """Whether nothing was struck for a while before one of the chords."""
        chords = self.chords
        before = place + len(chords) - 1
        return before < 0 or chords[place][0].seconds - chords[before][-1].seconds >= PAUSE


def _opening(task: Task, hand: Side) -> list[set[int]]:
    """The keys of the first two chords in which a hand strikes."""
    expected = task.both_hands
    own = ({note.midi for note in expected.asked(chord.number) if note.hand == hand} for chord in expected.chords)
    return [keys for keys in own if keys][:2]


def _keys(chord: Sequence[Event]) -> set[int]:
    return {press.key for press in chord}


def _apart(keys: frozenset[int], struck: Sequence[Event]) -> int | None:
    """By how many semitones some keys lie higher than others, all alike."""
    moved = _keys(struck)
    apart = min(moved) - min(keys)
    alike = {key + apart for key in keys} == moved
    return apart if alike and 0 < abs(apart) <= FARTHEST else None
