"""What playing costs a hand: the named terms of the one effort function that a plan minimises.

Every term counts something a pianist would recognise and is never negative; the effort of a plan is the sum of
all counts times their weights. A term that belongs to one chord of one hand gives one number for each fingering
(shape `(ways,)`), a term that belongs to a change of chord one for each pair of fingerings (shape
`(ways before, ways after)`), so that the planner can weigh all of them at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from coach.fingering.counts import Counts, Line, MoveCounts
from coach.fingering.hand import SEMITONE_MM, Hand, span_limits
from coach.fingering.handful import Grip, Handful, Ways
from coach.fingering.keyboard import OCTAVE, Keyboard, is_black

QUICK, LONG = 0.5, 2.0
"""A chord of up to a quaver is quick to lift from, one of a minim or more leaves all the time one needs (in quarter
notes; common practice, no source)."""

SILENCE = 1e-6
"""Less than this many quarter notes between a note's end and the next onset is no rest."""


@dataclass(frozen=True, slots=True)
class Frame:
    """The lowest and the highest key of a hand's line in a phrase, in hand coordinates; they frame the hand."""

    thumb_side: int
    outside: int

    def finger(self, key: int, keyboard: Keyboard) -> float:
        """The finger that falls on a key when the thumb and the little finger stand on the frame's ends."""
        low, high = keyboard.x_mm(self.thumb_side), keyboard.x_mm(self.outside)
        return 1 + 4 * (keyboard.x_mm(key) - low) / (high - low)

    @property
    def fits_a_hand(self) -> bool:
        """From a fifth to an octave: narrower lines need no frame, wider ones break it (common practice)."""
        return 7 <= self.outside - self.thumb_side <= 12


@dataclass(frozen=True, slots=True)
class Moves:
    """The costs of one hand's change from one chord to the next, shape `(ways before, ways after)` each.

    Attributes:
        join: Counts when the hand stays on the keys.
        can_join: Where it can stay.
        lift: Counts when it leaves them.
        can_lift: Where it can leave: never while a note is kept.
        repeats: Whether the outer voice strikes the same key again, so that staying is a restrike.
    """

    join: MoveCounts
    can_join: NDArray[np.bool_]
    lift: MoveCounts
    can_lift: NDArray[np.bool_]
    repeats: bool


class Leaving(NamedTuple):
    """When a hand leaves a chord for the next.

    Attributes:
        rest: Whether all its notes ended before, so that it waits on no key.
        outer_rest: Whether its outer voice did.
        time: How long the chord leaves: "quick", "" or "long".
        at_once: A key in common follows within a semiquaver (1.0) or a quaver (0.5); else 0.0.
    """

    rest: bool
    outer_rest: bool
    time: str
    at_once: float


def leaving(before: Handful, after: Handful) -> Leaving:
    """The time that a hand has between two chords that it plays."""
    onset = max(after.since)
    time = onset - max(before.since)
    name = "quick" if time <= QUICK else "long" if time >= LONG else ""
    at_once = 0.0
    if time <= QUICK and not set(before.keys).isdisjoint(after.keys):
        at_once = 1.0 if time <= QUICK / 2 else 0.5
    return Leaving(onset - max(before.until) > SILENCE, onset - before.until[-1] > SILENCE, name, at_once)


def posture(grip: Grip, them: Ways, hand: Hand, keyboard: Keyboard) -> Counts:
    """Terms of one hand in one chord.

    stretch, strain: Semitones beyond the relaxed and beyond the comfortable span, summed over finger pairs.
    cramp: Semitones that a pair is narrower than its relaxed span.
        (These three after the rules of the same names in Parncutt et al. 1997.)
    thumb_on_black, little_on_black: Struck black keys under the thumb and the little finger (Parncutt et al. 1997).
    fourth_alone, fifth_alone: The fourth or the fifth finger alone on a key (after the weak-finger rule of Parncutt et
        al. 1997).
    weak_neighbours: 3-4 or 4-5 together on neighbouring struck keys (common practice, no source).
    thumb_unused: A chord whose inside key is not the thumb's (common practice, no source).
    little_unused: How many fingers a chord's outside finger is from the little finger: 1-3-5 before 1-2-4 (common
        practice, no source).
    double_thumb: Two keys under one thumb (common practice, no source).
    """
    n = len(them)
    if not grip.keys:
        return {}
    fingers = them.fingers
    counts: Counts = {}
    if len(grip.keys) > 1 and not grip.rolled:
        stretch, strain, cramp = (np.zeros(n) for _ in range(3))
        limits = span_limits(hand)
        for low, high in combinations(range(len(grip.keys)), 2):
            distance = keyboard.x_mm(grip.keys[high]) - keyboard.x_mm(grip.keys[low])
            least, most_relaxed, most_comfortable = limits[:, fingers[:, low], fingers[:, high]][[2, 3, 4]]
            two = fingers[:, low] != fingers[:, high]
            stretch += two * np.maximum(np.minimum(distance, most_comfortable) - most_relaxed, 0)
            strain += two * np.maximum(distance - most_comfortable, 0)
            cramp += two * np.maximum(least - (grip.keys[high] - grip.keys[low]), 0)
        counts |= {"stretch": stretch / SEMITONE_MM, "strain": strain / SEMITONE_MM, "cramp": cramp}
        if any(grip.struck):
            near = [high - low <= 2 for low, high in pairwise(grip.keys)]
            pairs = zip(fingers[:, :-1].T, fingers[:, 1:].T, near, strict=True)
            weak = [close & (a >= 3) & (b - a == 1) for a, b, close in pairs]
            counts["weak_neighbours"] = np.sum(weak, axis=0, dtype=float)
            counts["thumb_unused"] = (fingers[:, 0] != 1).astype(float)
            counts["little_unused"] = (5 - fingers[:, -1]).astype(float)
        counts["double_thumb"] = (fingers[:, 0] == fingers[:, 1]).astype(float)
    black = np.array([is_black(key) and struck for key, struck in zip(grip.keys, grip.struck, strict=True)])
    if black.any():
        counts["thumb_on_black"] = ((fingers == 1) & black).sum(axis=1, dtype=float)
        counts["little_on_black"] = ((fingers == 5) & black).sum(axis=1, dtype=float)
    if len(grip.keys) == 1 and grip.struck[0]:
        counts["fourth_alone"] = (fingers[:, 0] == 4).astype(float)
        counts["fifth_alone"] = (fingers[:, 0] == 5).astype(float)
    return counts


def framing(grip: Grip, them: Ways, keyboard: Keyboard, frame: Frame | None) -> Counts:
    """Terms of a lone key in its line.

    off_frame: How many fingers a lone key's finger is from the one that the line's frame gives it (common
        practice, no source).
    """
    if frame is None or not frame.fits_a_hand or len(grip.keys) != 1 or not grip.struck[0]:
        return {}
    return {"off_frame": np.abs(them.fingers[:, 0] - frame.finger(grip.keys[0], keyboard))}


def resting(ways_before: Ways) -> Moves:
    """A hand with nothing to play waits where it is, its fingers in mind."""
    shape = (len(ways_before), len(ways_before))
    nothing = MoveCounts(shape)
    return Moves(nothing, np.zeros(shape, np.bool_), nothing, np.eye(shape[0], dtype=np.bool_), False)


def starting(ways_before: Ways, ways_after: Ways, keyboard: Keyboard, remembers: bool) -> Moves:
    """A hand that comes from a rest: free, but for the way from where it played last."""
    shape = (len(ways_before), len(ways_after))
    lift = {"shift_in_lift": np.maximum(_shift(ways_before, ways_after, keyboard) - 1, 0)} if remembers else {}
    return Moves(MoveCounts(shape), np.zeros(shape, np.bool_), MoveCounts(shape, lift), np.ones(shape, np.bool_), False)


def moves(
    before: Grip, ways_before: Ways, after: Grip, ways_after: Ways, when: Leaving, hand: Hand, keyboard: Keyboard
) -> Moves:
    """Terms of one hand's change of chord.

    Joined:
        shift, far_shift: White keys that the hand's place moves, and those beyond the first without a crossing (nearest
            keys first: common practice, no source).
        line_stretch, line_strain, line_cramp: As for chords, between the outer voice's two keys (Parncutt et al. 1997).
        crossing: Thumb under or finger over thumb in the outer voice (thumb-passing rule of Parncutt et al. 1997).
        crossing_to_black: The same, the thumb landing on a black key (Parncutt et al. 1997).
        same_finger: An inner finger that goes on to another key (cheap: common practice, no source).
    Lifted:
        lift_quick, lift, lift_long: A lift from a single key, by the time there is (common practice, no source).
        chord_lift_quick, chord_lift, chord_lift_long: The same from a chord: not everything can be legato, and chords
            are joined in twos and threes (common practice, no source).
        half_lift: The outer voice breathes while the hand holds other notes over (common practice, no source).
        broken_line, broken_top: A line, or a chord's outer voice, that might have connected (common practice, no
            source).
        shift_in_lift: White keys beyond the first that the hand's place moves in the air.
        hop: A line that goes on with the same finger (common practice, no source).
    Either way, on a key struck again:
        changed_finger: Another finger, where there is time (common practice, no source).
        quick_repeat: The same finger again at once: 3-2-1 is surer (common practice, no source).
        repeat_upward: A change away from the thumb: fingers change towards it (common practice, no source).
    """
    shape = (len(ways_before), len(ways_after))
    nothing, nowhere = MoveCounts(shape), np.zeros(shape, np.bool_)
    if not any(after.struck):
        # Nothing new: the fingers stay.
        return Moves(nothing, _same_fingers_on_kept(before, ways_before, after, ways_after), nothing, nowhere, False)
    fa, fb = ways_before.fingers, ways_after.fingers
    outer_before, outer_after = before.keys[-1], after.keys[-1]
    keeps, changes = any(after.kept), outer_before != outer_after
    repeats = not changes and after.struck[-1]
    shift = _shift(ways_before, ways_after, keyboard)
    far = np.maximum(shift - 1, 0)
    agree = _same_fingers_on_kept(before, ways_before, after, ways_after) if keeps else np.ones(shape, np.bool_)
    repeated = _repeated(before, ways_before, after, ways_after, when)

    in_the_air: Counts = {"shift_in_lift": far, **repeated}
    if changes and len(before.keys) == len(after.keys) == 1:
        in_the_air["hop"] = (fa == fb.T).astype(float)
    lift = MoveCounts(shape, in_the_air, _leaving_terms(before, when, keeps, changes))
    # A hand that holds a note over cannot leave the keys, but its outer voice can breathe.
    can_lift = agree if not keeps or (changes and after.struck[-1]) else nowhere
    if (when.outer_rest or before.rolled) and not keeps:
        return Moves(nothing, nowhere, lift, can_lift, False)

    can_join, line, outer = agree, None, (fa[:, -1][:, None], fb[:, -1][None, :])
    if changes and not when.outer_rest and after.struck[-1]:
        can_join = can_join & _can_connect(before, ways_before, after, ways_after, hand, keyboard)
        line = _line(hand, keyboard, outer_before % OCTAVE, outer_after - outer_before)
        # A crossing is how a hand moves on without leaving its keys.
        far = far * (1 - line.tables["crossing"])[outer]
    same = _on_other_keys(before, ways_before, after, ways_after)
    join = MoveCounts(shape, {"shift": shift, "far_shift": far, "same_finger": same, **repeated}, {}, line, outer)
    return Moves(join, can_join, lift, can_lift, repeats)


def _leaving_terms(before: Grip, when: Leaving, keeps: bool, changes: bool) -> dict[str, float]:
    """Terms of leaving the keys that no finger changes."""
    if when.rest:
        return {}
    chord = len(before.keys) > 1
    terms = {"_".join(filter(None, ("chord" if chord else "", "lift", when.time))): 1.0}
    if keeps:
        terms["half_lift"] = 1.0
    if changes and not when.outer_rest:
        terms["broken_top" if chord else "broken_line"] = 1.0
    return terms


def _on_other_keys(before: Grip, ways_before: Ways, after: Grip, ways_after: Ways) -> NDArray[np.float64]:
    """How many fingers go from one key to another that is struck, the outer voice's own step left out."""
    elsewhere = np.array(
        [
            [
                there and not kept and key != next_key
                for next_key, there, kept in zip(after.keys, after.struck, after.kept, strict=True)
            ]
            for key in before.keys
        ]
    )
    elsewhere[-1, -1] = False
    same = ways_before.fingers[:, None, :, None] == ways_after.fingers[None, :, None, :]
    return np.asarray((same & elsewhere).sum(axis=(2, 3)), np.float64)


def _repeated(before: Grip, ways_before: Ways, after: Grip, ways_after: Ways, when: Leaving) -> Counts:
    """Terms of keys that are struck again."""
    counts: Counts = {}
    for j, key in enumerate(after.keys):
        if after.struck[j] and not after.kept[j] and key in before.keys:
            finger = ways_before.fingers[:, before.keys.index(key)][:, None]
            next_finger = ways_after.fingers[:, j][None, :]
            terms = {"repeat_upward": (next_finger > finger).astype(float)}
            if when.at_once:
                terms["quick_repeat"] = (next_finger == finger) * when.at_once
            else:
                terms["changed_finger"] = (next_finger != finger).astype(float)
            for name, count in terms.items():
                counts[name] = counts[name] + count if name in counts else count
    return counts


def _shift(ways_before: Ways, ways_after: Ways, keyboard: Keyboard) -> NDArray[np.float64]:
    return np.abs(ways_before.place_mm[:, None] - ways_after.place_mm[None, :]) / keyboard.white_mm


def _same_fingers_on_kept(before: Grip, ways_before: Ways, after: Grip, ways_after: Ways) -> NDArray[np.bool_]:
    """Where every kept key has the finger it had before; nowhere if another hand held it."""
    agree = np.ones((len(ways_before), len(ways_after)), np.bool_)
    for j, key in enumerate(after.keys):
        if after.kept[j]:
            if key not in before.keys:
                return np.zeros_like(agree)
            i = before.keys.index(key)
            agree &= ways_before.fingers[:, i][:, None] == ways_after.fingers[:, j][None, :]
    return agree


def _can_connect(
    before: Grip, ways_before: Ways, after: Grip, ways_after: Ways, hand: Hand, keyboard: Keyboard
) -> NDArray[np.bool_]:
    """Where the outer finger can stay on its key until the whole next chord is down.

    It may not be needed for another key of that chord, and it must be within the practical span of every finger there.
    """
    held, held_key = ways_before.fingers[:, -1][:, None], before.keys[-1]
    can = np.ones((len(ways_before), len(ways_after)), np.bool_)
    for j, key in enumerate(after.keys):
        if key != held_key:
            pairs = _connecting(hand, keyboard, held_key % OCTAVE, key - held_key)
            can &= pairs[held, ways_after.fingers[:, j][None, :]]
    return can


@lru_cache(maxsize=8192)
def _connecting(hand: Hand, keyboard: Keyboard, key: int, interval: int) -> NDArray[np.bool_]:
    """Whether a finger can go from a key to the one so many semitones outward while the first stays down.

    An array `[finger, next finger]`, row and column 0 unused; the key is counted within its octave.
    """
    finger, following = np.indices((6, 6))
    limits = span_limits(hand)
    low, high = np.minimum(finger, following), np.maximum(finger, following)
    outward = np.where(following > finger, 1, -1)
    wide_mm = (keyboard.x_mm(key + interval) - keyboard.x_mm(key)) * outward
    fits = (limits[0, low, high] <= interval * outward) & (wide_mm <= limits[5, low, high] + 1e-6)
    return np.asarray(fits & (finger != following))


@lru_cache(maxsize=8192)
def _line(hand: Hand, keyboard: Keyboard, key: int, interval: int) -> Line:
    """The terms of a line that goes from a key to the one so many semitones outward."""
    finger, following = np.indices((6, 6))
    limits = span_limits(hand)
    low, high = np.minimum(finger, following), np.maximum(finger, following)
    sign = np.where(following > finger, 1, -1)
    outward = (keyboard.x_mm(key + interval) - keyboard.x_mm(key)) * sign
    least, most_relaxed, most_comfortable = limits[2, low, high], limits[3, low, high], limits[4, low, high]
    crossing = (outward < 0) & (finger != following)
    thumb_on_black = np.where(finger == 1, is_black(key), is_black(key + interval))
    tables = {
        "line_stretch": np.maximum(np.minimum(outward, most_comfortable) - most_relaxed, 0) / SEMITONE_MM,
        "line_strain": np.maximum(outward - most_comfortable, 0) / SEMITONE_MM,
        "line_cramp": np.where(crossing, 0, np.maximum(least - interval * sign, 0)),
        "crossing": crossing.astype(float),
        "crossing_to_black": (crossing & thumb_on_black).astype(float),
    }
    return Line(key, interval, tables)
