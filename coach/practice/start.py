"""Listening for a take to begin: the first chord in what is heard while none goes on, or what else it was."""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from dataclasses import dataclass

from coach.listening.events import Event
from coach.listening.wording import spelled
from coach.practice.astray import GOING_ON, Astray
from coach.practice.attempt import AT_ONCE
from coach.practice.octave import found_shift, offered, shifted
from coach.practice.other_hands import only_heard
from coach.practice.task import Task

BEFORE = 0.35
"""Seconds before its first right key that a take reaches back, for a wrong key struck with the first chord."""

NEVER = float("-inf")


@dataclass(frozen=True, slots=True)
class Begun:
    """A take begins.

    Attributes:
        events: Its first events, moved already.
        shift: Semitones to add to each key from now on, beyond those that are added already.
        goes_on: It begins in the middle of other music, which may have the same chord in it.
    """

    events: tuple[Event, ...]
    shift: int
    goes_on: bool


@dataclass(frozen=True, slots=True)
class Strayed:
    """Keys that begin no take.

    Attributes:
        said: A sentence for the player.
    """

    said: str


class Start:
    """Listens for the first chord of a task.

    Attributes:
        task: What is drilled.
    """

    def __init__(self, task: Task) -> None:
        self.task = task
        self._recent: list[Event] = []
        self._stray = Astray()
        self._offer = 0
        self._told = NEVER

    def hear(self, event: Event, down: AbstractSet[int], shift: int, *, read: bool) -> Begun | Strayed | None:
        """Take one event.

        Args:
            event: What is heard, moved by `shift`.
            down: The keys that are down after it.
            shift: Semitones that are added to each key.
            read: The player has something to read about what was played before.

        Returns:
            What comes of it; None where that is nothing yet.
        """
        # A chord may be built up key by key: those that are down belong to it. Two chords one after the other are none.
        self._recent = [
            each
            for each in self._recent
            if event.seconds - each.seconds <= BEFORE or (each.kind == "press" and each.key in down)
        ]
        self._recent.append(event)
        if event.kind != "press":
            return None
        at_once = (each for each in self._recent if event.seconds - each.seconds <= AT_ONCE)
        struck = down | {each.key for each in at_once if each.kind == "press"}
        enough = self._enough(event.seconds, read=read)
        found = found_shift(self.task.first_keys, struck, event.key, shift, enough)
        self.pass_by(event)
        if found is None:
            elsewhere = self._stray.elsewhere(self.task)
            if elsewhere is None or elsewhere != self._offer:
                return self._strayed(event, elsewhere)
            # The same chord in the same wrong place once more: the player wants it heard there.
            found = -elsewhere
        return self._begun(event, found)

    def pass_by(self, event: Event) -> None:
        """Take a press that begins nothing."""
        self._stray = self._stray.hear(event)

    def forget_keys(self) -> None:
        """What was heard so far belongs to no first chord."""
        self._recent = []

    def _begun(self, event: Event, shift: int) -> Begun:
        recent = [shifted(each, shift) for each in self._recent]
        first = self.task.first_keys
        began = min(each.seconds for each in recent if each.kind == "press" and each.key in first)
        events = tuple(each for each in recent if each.seconds >= began - BEFORE)
        return Begun(events, shift, self._stray.goes_on(self.task, event.seconds))

    def _enough(self, now: float, *, read: bool) -> int:
        """How many keys of the first chord begin a take: half of them. While there is something to read about what was
        played, more than half, so that the last chord once more does not wipe it away, and all where music goes on."""
        keys = len(self.task.first_keys)
        if not read and now - self._told > GOING_ON:
            return (keys + 1) // 2
        return keys if self._stray.goes_on(self.task, now) else keys // 2 + 1

    def _strayed(self, event: Event, elsewhere: int | None) -> Strayed | None:
        """What a key is that begins no take.

        Args:
            elsewhere: Semitones by which the first chord was just struck too high.
        """
        now, alone = event.seconds, self._stray.alone(self.task)
        if elsewhere is not None:
            self._offer, self._told = elsewhere, now
            return Strayed(offered(elsewhere))
        if alone is not None:
            self._told = now
            return Strayed(only_heard(alone, self.task.step.hand))
        if event.key not in self.task.first_keys and now - self._told > GOING_ON:
            # A first chord that is being built is none yet, and no reason to be told so.
            self._told = NEVER
            name = spelled(event.key, self.task.expected)
            return Strayed(f"{name}: the take begins with the first chord.")
        if now - self._told <= GOING_ON:
            # It stays while the player plays on in the same way.
            self._told = now
        return None
