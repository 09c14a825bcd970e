"""A simulated pianist: plays what a plan expects, with human timing and seeded mistakes, and knows exactly what it did.

It demonstrates the drill, and it is the exact truth that listening is tested against. What it plays is invented and
never logged as anybody's playing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from random import Random

from coach.fingering.plan import Side
from coach.listening.events import SUSTAIN, Event
from coach.listening.expected import Expected, ExpectedNote
from coach.listening.manner import Manner, Mistakes
from coach.listening.route import Stop, Tempo, route

__all__ = ["Manner", "Mistakes", "Performance", "Truth", "perform"]

KEYS = range(21, 109)
"""The keys of a piano, A0 to C8."""

SHORTEST = 0.04
"""Seconds that a key stays down at least."""

RISE = 0.03
"""Seconds that a key stays up at least before it is struck again."""


@dataclass(frozen=True, slots=True)
class Truth:
    """What was really done.

    Attributes:
        notes: For each press, by index: the note it was, None for a key that belongs to nothing.
        chords: For each press, the chord that the pianist was playing.
        lifts: For each chord and hand that went straight on to the hand's next chord: seconds from its last key's
            release to its next press, negative for an overlap; keys that a planned lift holds on left aside.
        let_go: Notes let go while others moved under them, with the seconds from there to the last chord that they
            should have sounded through.
        smeared: Notes left down on purpose.
        jumps: Chords left to go back or ahead, and where to.
        waits: Chords that were waited for.
        mistakes: How many mistakes were made in all.
    """

    notes: tuple[int | None, ...]
    chords: tuple[int, ...]
    lifts: dict[tuple[int, Side], float]
    let_go: dict[int, float]
    smeared: frozenset[int]
    jumps: tuple[tuple[int, int], ...]
    waits: tuple[int, ...]
    mistakes: int

    @property
    def played(self) -> dict[int, int]:
        """For each note played, the press that struck it last."""
        return {note: press for press, note in enumerate(self.notes) if note is not None}


@dataclass(frozen=True, slots=True)
class Performance:
    """A take with its truth."""

    events: tuple[Event, ...]
    truth: Truth


@dataclass(slots=True)
class _Key:
    """One key on its way down and up.

    `note` is the note it was struck for, `sounds` the one it keeps sounding, which a bounced key does too.
    """

    key: int
    press: float
    release: float
    stop: int
    note: int | None
    fault: str = ""
    sounds: int | None = None

    def __post_init__(self) -> None:
        if self.sounds is None:
            self.sounds = self.note


def perform(
    expected: Expected,
    manner: Manner | None = None,
    mistakes: Mistakes | None = None,
    seed: int = 0,
    start: float = 0.0,
) -> Performance:
    """Play.

    Args:
        expected: What a plan asks of one hand or both.
        manner: How the pianist plays.
        mistakes: What goes wrong, and how often; by default nothing does.
        seed: The same seed plays the same take.
        start: When the first chord is due, in seconds.
    """
    return _Pianist(expected, manner or Manner(), mistakes or Mistakes(), Random(seed), start).performance()


class _Pianist:
    def __init__(self, expected: Expected, manner: Manner, mistakes: Mistakes, random: Random, start: float) -> None:
        self._expected, self._manner, self._mistakes, self._random = expected, manner, mistakes, random
        tempo = Tempo(60 / manner.quarter_bpm, manner.rubato, manner.unsteady, manner.halting)
        self._route = route(expected, tempo, mistakes.detours, random, start)
        self._stops = self._route.stops
        self._keys: list[_Key] = []
        self._gaps: dict[tuple[int, Side], float] = {}
        self._count = self._route.mistakes

    def performance(self) -> Performance:
        for place in range(len(self._stops)):
            self._strike(place)
        self._keep_apart()
        self._keys.sort(key=lambda key: key.press)
        return Performance(tuple(self._events()), self._truth())

    def _happens(self, chance: float) -> bool:
        if chance <= 0 or self._random.random() >= chance:
            return False
        self._count += 1
        return True

    # What is struck

    def _strike(self, place: int) -> None:
        """Strike one chord, from the lowest note up; voices that meet on a key strike it once."""
        stop = self._stops[place]
        by_key = {note.midi: note for note in reversed(self._expected.struck(stop.chord)) if not note.optional}
        rolled = self._happens(self._mistakes.rolled)
        step = self._step(place)
        missed = self._random.choice(list(by_key.values())) if stop.mended and by_key else None
        for order, (_, note) in enumerate(sorted(by_key.items())):
            press = stop.seconds + self._random.gauss(0, self._manner.apart)
            if rolled or note.rolled:
                press += order * min(self._manner.roll, 0.5 * step / len(by_key))
            elif note.voice == "soprano":
                press -= self._manner.lead
            if note.hand == "left":
                press -= self._manner.ahead
            if note is missed:
                press = self._slipped(place, note, press)
            self._note(place, note, press)

    def _slipped(self, place: int, note: ExpectedNote, press: float) -> float:
        """Strike another key, or one that does not speak, and find out; when the note is struck after all."""
        mended = press + self._stops[place].mended
        if self._random.random() < 0.5:
            key, number = self._other_key(place, note, (-2, -1, 1, 2))
            if number is not None:
                return press
            self._keys.append(_Key(key, press, mended - RISE, place, None))
        return mended

    def _note(self, place: int, note: ExpectedNote, press: float) -> None:
        mistakes = self._mistakes
        if self._happens(mistakes.missing):
            return
        key = note.midi
        number: int | None = note.number
        if self._happens(mistakes.wrong):
            key, number = self._other_key(place, note, (-2, -1, 1, 2))
        elif self._happens(mistakes.octave):
            key, number = self._other_key(place, note, (-12, 12))
        if self._happens(mistakes.late):
            press += self._random.uniform(0.3, 0.5) * self._step(place)
        release, fault = self._release(place, note)
        release = max(release, press + SHORTEST)
        if number is not None and self._happens(mistakes.double):
            again = press + min(self._random.uniform(0.08, 0.12), 0.4 * (release - press))
            self._keys.append(_Key(key, press, (press + again) / 2, place, number))
            self._keys.append(_Key(key, again, release, place, None, fault, number))
        else:
            self._keys.append(_Key(key, press, release, place, number, fault if number is not None else ""))
        if self._happens(mistakes.extra):
            brushed, _ = self._other_key(place, note, (-2, -1, 1, 2))
            if brushed != note.midi:
                when = press + self._random.uniform(-0.02, 0.05)
                self._keys.append(_Key(brushed, when, when + 0.08, place, None))

    def _other_key(self, place: int, note: ExpectedNote, steps: tuple[int, ...]) -> tuple[int, int | None]:
        """Another key than a note's, and no note; the note itself where every such key belongs to the chord."""
        sounding = {other.midi for other in self._expected.sounding(self._stops[place].chord)}
        others = [note.midi + step for step in steps if note.midi + step in KEYS and note.midi + step not in sounding]
        if others:
            return self._random.choice(others), None
        self._count -= 1
        return note.midi, note.number

    # When keys come up

    def _release(self, place: int, note: ExpectedNote) -> tuple[float, str]:
        """When a note's key comes up, and what is wrong with that."""
        expected, stops = self._expected, self._stops
        until = self._later(place, self._last(note) + 1)
        if until is None:
            # The run ends before the note does: it sounds out by the clock.
            last = self._run_end(place)
            beyond = max(note.end - expected.chords[stops[last].chord].onset, 0.25) * 60 / self._manner.quarter_bpm
            return stops[last].seconds + 0.9 * beyond, ""
        under = self._later(place, note.last)
        if note.last > note.chord and under is not None and stops[under].chord == note.last:
            room = stops[under].seconds - stops[place].seconds
            if self._happens(self._mistakes.let_go):
                return stops[place].seconds + max(0.5 * room, room - self._random.uniform(0.08, 0.3)), "let go"
        if self._happens(self._mistakes.smeared):
            return stops[until].seconds + 0.25 + 0.5 * self._step(until), "smeared"
        release = stops[until].seconds - self._early(place, note, stops[until])
        if under is not None and note.last > note.chord:
            # However quick the lift, the last chord under a held note is struck first.
            release = max(release, stops[under].seconds + max(-self._manner.ahead, 0.0) + 0.01)
        return release, ""

    def _last(self, note: ExpectedNote) -> int:
        """The last chord that a note's key is to sound through; voices that meet on a key share it."""
        shared = [other.last for other in self._expected.sounding(note.chord) if other.midi == note.midi]
        return max(shared)

    def _early(self, place: int, note: ExpectedNote, until: Stop) -> float:
        """Seconds before the next chord that a note's key comes up; negative where it stays on a little."""
        if note.hand is None:
            return RISE
        left = place
        for later in range(place + 1, self._run_end(place) + 1):
            chord = self._stops[later].chord
            if chord > self._last(note):
                break
            if note.hand in self._expected.chords[chord].leaving:
                left = later
        leaving = self._expected.chords[self._stops[left].chord].leaving.get(note.hand)
        if leaving is None or leaving.following != until.chord:
            return RISE
        gap = self._gap(left, note.hand)
        if gap > 0:
            # The hand strikes the next chord early where it leads.
            gap += self._manner.ahead if note.hand == "left" else self._manner.lead
        taken = {other.finger for other in self._expected.struck(until.chord) if other.hand == note.hand}
        if gap < 0 and note.finger in taken and not self._keeps_finger(note, until.chord):
            # The finger is needed on another key, so it leaves this one first.
            return RISE
        return gap

    def _keeps_finger(self, note: ExpectedNote, chord: int) -> bool:
        return any(
            other.midi == note.midi and other.finger == note.finger and other.hand == note.hand
            for other in self._expected.struck(chord)
        )

    def _gap(self, place: int, hand: Side) -> float:
        """Seconds that a hand is off the keys after a chord, negative for an overlap; decided once a chord."""
        if (place, hand) not in self._gaps:
            after = self._expected.chords[self._stops[place].chord].leaving[hand].after
            step = self._step(place)
            gap = max(min(self._manner.gap, 0.35 * step), 0.07) * self._random.uniform(0.9, 1.2)
            if after == "join":
                gap = max(gap, 0.1) if self._happens(self._mistakes.new_lift) else -self._manner.overlap
            elif after == "restrike":
                gap = 2 * RISE
            elif self._happens(self._mistakes.no_lift):
                gap = -self._manner.overlap
            self._gaps[place, hand] = gap
        return self._gaps[place, hand]

    def _later(self, place: int, chord: int) -> int | None:
        """The next stop of the same run at a chord or beyond."""
        for later in range(place + 1, len(self._stops)):
            if self._stops[later].run != self._stops[place].run:
                return None
            if self._stops[later].chord >= chord:
                return later
        return None

    def _run_end(self, place: int) -> int:
        while place + 1 < len(self._stops) and self._stops[place + 1].run == self._stops[place].run:
            place += 1
        return place

    def _step(self, place: int) -> float:
        """Seconds to the next stop of the run, or as long as the chord is written."""
        if place + 1 < len(self._stops) and self._stops[place + 1].run == self._stops[place].run:
            return self._stops[place + 1].seconds - self._stops[place].seconds
        return self._expected.chords[self._stops[place].chord].duration * 60 / self._manner.quarter_bpm

    # What comes of it

    def _keep_apart(self) -> None:
        """A key must come up before it can be struck again."""
        last: dict[int, _Key] = {}
        for key in sorted(self._keys, key=lambda key: key.press):
            before = last.get(key.key)
            if before is not None and before.release > key.press - RISE:
                before.release = max(key.press - RISE, before.press + 0.01)
                if before.release >= key.press:
                    key.press = before.release + RISE
                    key.release = max(key.release, key.press + SHORTEST)
                if before.fault == "smeared":
                    before.fault = ""
            last[key.key] = key

    def _events(self) -> Iterator[Event]:
        happened: list[tuple[float, int, Event]] = []
        for key in self._keys:
            velocity = max(1, min(127, self._manner.velocity + round(self._random.gauss(0, 4))))
            happened.append((key.press, 1, Event(key.press, "press", key.key, velocity)))
            happened.append((key.release, 0, Event(key.release, "release", key.key, 0)))
        if self._manner.pedal:
            for (place, _), gap in self._gaps.items():
                if gap > 0 and place + 1 < len(self._stops):
                    on = self._stops[place + 1].seconds
                    happened.append((on - gap - 0.08, 2, Event(on - gap - 0.08, "pedal", SUSTAIN, 127)))
                    happened.append((on + 0.06, 2, Event(on + 0.06, "pedal", SUSTAIN, 0)))
        # Releases before presses of the same moment, so that a key struck again is up.
        happened.sort(key=lambda one: one[:2])
        return (event for _, _, event in happened)

    def _truth(self) -> Truth:
        let_go: dict[int, float] = {}
        smeared: set[int] = set()
        for key in self._keys:
            if key.sounds is None:
                continue
            let_go.pop(key.sounds, None)
            under = self._later(key.stop, self._expected.notes[key.sounds].last)
            if key.fault == "let go" and under is not None:
                let_go[key.sounds] = self._stops[under].seconds - key.release
            if key.fault == "smeared":
                smeared.add(key.sounds)
        return Truth(
            notes=tuple(key.note for key in self._keys),
            chords=tuple(self._stops[key.stop].chord for key in self._keys),
            lifts=self._lifts(),
            let_go=let_go,
            smeared=frozenset(smeared),
            jumps=self._route.jumps,
            waits=self._route.waits,
            mistakes=self._count,
        )

    def _lifts(self) -> dict[tuple[int, Side], float]:
        """Measured on the keys themselves, each chord as it was played last."""
        expected = self._expected
        pressed: dict[int, dict[int, float]] = {}
        released: dict[int, dict[int, float]] = {}
        for key in self._keys:
            if key.sounds is not None:
                run = self._stops[key.stop].run
                pressed.setdefault(run, {}).setdefault(key.sounds, key.press)
                released.setdefault(run, {})[key.sounds] = key.release
        found: dict[tuple[int, Side], float] = {}
        for stop in self._stops:
            for hand, leaving in expected.chords[stop.chord].leaving.items():
                found.pop((stop.chord, hand), None)
                if leaving.following is None:
                    continue
                ups, downs = released.get(stop.run, {}), pressed.get(stop.run, {})
                left, struck = expected.sounding(stop.chord), expected.struck(leaving.following)
                if leaving.planned_lift:
                    left = tuple(note for note in left if note.last < leaving.following)
                before = [ups[note.number] for note in left if note.hand == hand and note.number in ups]
                after = [downs[note.number] for note in struck if note.hand == hand and note.number in downs]
                if before and after:
                    found[stop.chord, hand] = min(after) - max(before)
        return found
