"""What playing costs a hand: the named terms of the one effort function that a plan minimises.

Every term counts something a pianist would recognise and is never negative; the effort of a plan is the sum of
all counts times their weights. A term that belongs to one chord of one hand gives one number for each fingering
(shape `(ways,)`), a term that belongs to a change of chord one for each pair of fingerings (shape
`(ways before, ways after)`), so that the planner can weigh all of them at once.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from coach.fingering.hand import SEMITONE_MM, Hand
from coach.fingering.handful import Handful, Ways
from coach.fingering.keyboard import Keyboard, is_black
from coach.fingering.weights import WEIGHTS

Counts = dict[str, NDArray[np.float64]]
"""Counts by the name of their term."""

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

    join: Counts
    can_join: NDArray[np.bool_]
    lift: Counts
    can_lift: NDArray[np.bool_]
    repeats: bool


def total(counts: Counts, weights: Mapping[str, float] = WEIGHTS) -> NDArray[np.float64]:
    """The effort of counts: each times its term's weight, summed."""
    arrays = [weights[name] * count for name, count in counts.items()]
    return np.asarray(sum(arrays[1:], arrays[0])) if arrays else np.zeros(())


def posture(handful: Handful, them: Ways, hand: Hand, keyboard: Keyboard, frame: Frame | None) -> Counts:
    """Terms of one hand in one chord.

    stretch, strain: Semitones beyond the relaxed and beyond the comfortable span, summed over finger pairs.
    cramp: Semitones that a pair is narrower than its relaxed span.
        (These three after the rules of the same names in Parncutt et al. 1997.)
    thumb_on_black, little_on_black: Struck black keys under the thumb and the little finger (Parncutt et al. 1997).
    weak_finger: A fourth or fifth finger alone on a key (after the weak-finger rule of Parncutt et al. 1997).
    weak_neighbours: 3-4 or 4-5 together on neighbouring struck keys (common practice, no source).
    double_thumb: Two keys under one thumb (common practice, no source).
    off_frame: How many fingers a lone key's finger is from the one that the line's frame gives it (common
        practice, no source).
    """
    n = len(them)
    if not handful.keys:
        return {}
    fingers = them.fingers
    counts: Counts = {}
    if len(handful.keys) > 1 and not handful.rolled:
        stretch, strain, cramp = (np.zeros(n) for _ in range(3))
        limits = _limits(hand)
        for low, high in combinations(range(len(handful.keys)), 2):
            distance = keyboard.distance_mm(handful.keys[low], handful.keys[high])
            least, most_relaxed, most_comfortable = limits[:, fingers[:, low], fingers[:, high]][[2, 3, 4]]
            stretch += np.clip(np.minimum(distance, most_comfortable) - most_relaxed, 0, None)
            strain += np.clip(distance - most_comfortable, 0, None)
            cramp += np.clip(least - distance, 0, None)
        counts |= {"stretch": stretch / SEMITONE_MM, "strain": strain / SEMITONE_MM, "cramp": cramp / SEMITONE_MM}
        if any(handful.struck):
            pairs = zip(fingers[:, :-1].T, fingers[:, 1:].T, strict=True)
            counts["weak_neighbours"] = np.sum([(a >= 3) & (b - a == 1) for a, b in pairs], axis=0, dtype=float)
        counts["double_thumb"] = (fingers[:, 0] == fingers[:, 1]).astype(float)
    black = np.array([is_black(key) and struck for key, struck in zip(handful.keys, handful.struck, strict=True)])
    if black.any():
        counts["thumb_on_black"] = ((fingers == 1) & black).sum(axis=1, dtype=float)
        counts["little_on_black"] = ((fingers == 5) & black).sum(axis=1, dtype=float)
    if len(handful.keys) == 1 and handful.struck[0]:
        counts["weak_finger"] = (fingers[:, 0] >= 4).astype(float)
        if frame is not None and frame.fits_a_hand:
            counts["off_frame"] = np.abs(fingers[:, 0] - frame.finger(handful.keys[0], keyboard))
    return counts


def moves(
    before: Handful, ways_before: Ways, after: Handful, ways_after: Ways, hand: Hand, keyboard: Keyboard
) -> Moves:
    """Terms of one hand's change of chord.

    Joined:
        shift: White keys that the hand's place moves (nearest keys first: common practice, no source).
        line_stretch, line_strain, line_cramp: As for chords, between the outer voice's two keys (Parncutt et al. 1997).
        crossing: Thumb under or finger over thumb in the outer voice (thumb-passing rule of Parncutt et al. 1997).
        crossing_to_black: The same, the thumb landing on a black key (Parncutt et al. 1997).
        same_finger: An inner finger that goes on to another key (cheap: common practice, no source).
        changed_finger: Another finger on a key struck again (common practice, no source).
    Lifted:
        lift_quick, lift, lift_long: The lift, by the time its chord leaves (common practice, no source).
        broken_line: An outer voice that might have connected (common practice, no source).
        shift_in_lift: White keys that the hand's place moves in the air.
    """
    shape = (len(ways_before), len(ways_after))
    nowhere, everywhere = np.zeros(shape, np.bool_), np.ones(shape, np.bool_)
    if not after.keys:
        # A rest: the hand waits where it is, its fingers in mind.
        return Moves({}, nowhere, {}, np.eye(shape[0], dtype=np.bool_), False)
    shift = np.abs(ways_before.place_mm[:, None] - ways_after.place_mm[None, :]) / keyboard.white_mm
    if not before.keys:
        lift = {"shift_in_lift": shift} if before.memory is not None else {}
        return Moves({}, nowhere, lift, everywhere, False)
    onset = max(after.since)
    outer_before, outer_after = before.keys[-1], after.keys[-1]
    repeats = outer_before == outer_after and after.struck[-1]
    changed = outer_before != outer_after
    if not any(after.struck):
        # Nothing new: the fingers stay.
        return Moves({}, _same_fingers_on_kept(before, ways_before, after, ways_after), {}, nowhere, False)

    counts_lift: Counts = {"shift_in_lift": shift}
    rest = onset - max(before.until) > SILENCE
    outer_rest = onset - before.until[-1] > SILENCE
    if not rest:
        name = _lift_name(onset - max(before.since))
        counts_lift[name] = np.ones(shape)
        if changed and not outer_rest:
            counts_lift["broken_line"] = np.ones(shape)
    keeps = any(after.kept)
    can_lift = nowhere if keeps else everywhere

    can_join = _same_fingers_on_kept(before, ways_before, after, ways_after) if keeps else everywhere.copy()
    if (rest or outer_rest or before.rolled) and not keeps:
        return Moves({}, nowhere, counts_lift, can_lift, False)
    counts: Counts = {"shift": shift}
    fa, fb = ways_before.fingers, ways_after.fingers
    if changed and not outer_rest and not (after.kept[-1] and not after.struck[-1]):
        connects = _can_connect(before, ways_before, after, ways_after, hand, keyboard)
        can_join &= connects
        counts |= _line_terms(fa[:, -1][:, None], fb[:, -1][None, :], outer_before, outer_after, hand, keyboard)
    same, other = np.zeros(shape), np.zeros(shape)
    for i, key in enumerate(before.keys):
        for j, next_key in enumerate(after.keys):
            if not after.struck[j] or after.kept[j]:
                continue
            if key == next_key:
                other += fa[:, i][:, None] != fb[:, j][None, :]
            elif not (i == before.outer and j == after.outer):
                same += fa[:, i][:, None] == fb[:, j][None, :]
    counts |= {"same_finger": same, "changed_finger": other}
    return Moves(counts, can_join, counts_lift, can_lift, repeats)


def _lift_name(time: float) -> str:
    if time <= QUICK:
        return "lift_quick"
    return "lift_long" if time >= LONG else "lift"


def _same_fingers_on_kept(before: Handful, ways_before: Ways, after: Handful, ways_after: Ways) -> NDArray[np.bool_]:
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
    before: Handful, ways_before: Ways, after: Handful, ways_after: Ways, hand: Hand, keyboard: Keyboard
) -> NDArray[np.bool_]:
    """Where the outer finger can stay on its key until the whole next chord is down.

    It may not be needed for another key of that chord, and it must be within the practical span of every finger there.
    """
    held = ways_before.fingers[:, -1][:, None]
    held_key = before.keys[-1]
    limits = _limits(hand)
    can = np.ones((len(ways_before), len(ways_after)), np.bool_)
    for j, key in enumerate(after.keys):
        if key == held_key:
            continue
        new = ways_after.fingers[:, j][None, :]
        distance = keyboard.x_mm(key) - keyboard.x_mm(held_key)
        outward = np.where(new > held, distance, -distance)
        low, high = np.minimum(held, new), np.maximum(held, new)
        can &= (held != new) & (limits[0, low, high] <= outward) & (outward <= limits[5, low, high] + 1e-6)
    return can


def _line_terms(
    finger: NDArray[np.int8], next_finger: NDArray[np.int8], key: int, next_key: int, hand: Hand, keyboard: Keyboard
) -> Counts:
    limits = _limits(hand)
    distance = keyboard.x_mm(next_key) - keyboard.x_mm(key)
    outward = np.where(next_finger > finger, distance, -distance)
    low, high = np.minimum(finger, next_finger), np.maximum(finger, next_finger)
    least, most_relaxed, most_comfortable = limits[2, low, high], limits[3, low, high], limits[4, low, high]
    crossing = (outward < 0) & (finger != next_finger)
    thumb_key_is_black = np.where(finger == 1, is_black(key), is_black(next_key))
    return {
        "line_stretch": np.clip(np.minimum(outward, most_comfortable) - most_relaxed, 0, None) / SEMITONE_MM,
        "line_strain": np.clip(outward - most_comfortable, 0, None) / SEMITONE_MM,
        "line_cramp": np.where(crossing, 0, np.clip(least - outward, 0, None)) / SEMITONE_MM,
        "crossing": crossing.astype(float),
        "crossing_to_black": (crossing & thumb_key_is_black).astype(float),
    }


@lru_cache(maxsize=64)
def _limits(hand: Hand) -> NDArray[np.float64]:
    """The span limits as an array `[limit, low finger, high finger]`, limits in the order of `Spans`, in mm."""
    table = np.zeros((6, 6, 6))
    for low, high in combinations(range(1, 6), 2):
        spans = hand.spans(low, high)
        table[:, low, high] = (
            spans.least_practical,
            spans.least_comfortable,
            spans.least_relaxed,
            spans.most_relaxed,
            spans.most_comfortable,
            spans.most_practical,
        )
    return table
