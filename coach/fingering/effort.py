"""What playing costs a hand: the named terms of the one effort function that a plan minimises.

Every term counts something a pianist would recognise and is never negative; the effort of a plan is the sum of
all counts times their weights. A term that belongs to one chord of one hand gives one number for each fingering
(shape `(ways,)`), a term that belongs to a change of chord one for each pair of fingerings (shape
`(ways before, ways after)`), so that the planner can weigh all of them at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, pairwise
from typing import Any, NamedTuple

import numpy as np

from coach.fingering.counts import Array, Counts, MoveCounts, Pairing, Travel
from coach.fingering.hand import SEMITONE_MM, Hand, span_limits
from coach.fingering.handful import Fingerings, Grip, Handful, Ways
from coach.fingering.keyboard import OCTAVE, Keyboard, is_black
from coach.fingering.outer_line import Place

QUICK, LONG = 0.5, 2.0
"""A chord of up to a quaver is quick to lift from, one of a minim or more leaves all the time one needs (in quarter
notes; common practice, no source)."""

WITHIN_A_FIFTH = 4.2
"""White keys: the widest place of a fifth."""

HALF_A_KEY = 0.5
"""A finger is over a key if it is not nearer to another (in white keys)."""

SILENCE = 1e-6
"""Less than this many quarter notes between a note's end and the next onset is no rest."""


@dataclass(frozen=True, slots=True, eq=False)
class Moves:
    """The counts of one hand's change from one chord to the next.

    Attributes:
        join: When the hand stays on the keys.
        lift: When it leaves them; never possible while a note is kept, unless only the outer voice breathes.
    """

    join: MoveCounts
    lift: MoveCounts


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
    off_grip: How many white keys wider or narrower than their fingers neighbouring keys within a fifth are (common
        practice, no source).
    """
    if not grip.keys:
        return {}
    fingers = them.fingers
    counts: Counts = {}
    if len(grip.keys) > 1 and not grip.rolled:
        spread = np.zeros((len(SPREAD), len(them)))
        for low, high in combinations(range(len(grip.keys)), 2):
            key, interval = grip.keys[low] % OCTAVE, grip.keys[high] - grip.keys[low]
            spread += _spread(hand, keyboard, key, interval)[:, fingers[:, low] - 1, fingers[:, high] - 1]
        counts |= dict(zip(SPREAD, spread, strict=True))
        if any(grip.struck):
            near = [high - low <= 2 for low, high in pairwise(grip.keys)]
            pairs = zip(fingers[:, :-1].T, fingers[:, 1:].T, near, strict=True)
            weak = [close & (a >= 3) & (b - a == 1) for a, b, close in pairs]
            counts["off_grip"] = _off_grip(grip, fingers, keyboard)
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


SPREAD = ("stretch", "strain", "cramp")


@lru_cache(maxsize=2048)
def _spread(hand: Hand, keyboard: Keyboard, key: int, interval: int) -> Array:
    """How two fingers spread from a key, counted within its octave, to one so many semitones outward.

    Returns:
        Counts of the terms in `SPREAD`, shape `(terms, 5, 5)`: the inner finger less one, the outer finger less one.
    """
    low, high = np.indices((5, 5)) + 1
    _, _, least, most_relaxed, most_comfortable, _ = span_limits(hand)[:, low, high]
    distance = keyboard.x_mm(key + interval) - keyboard.x_mm(key)
    stretch = np.maximum(np.minimum(distance, most_comfortable) - most_relaxed, 0) / SEMITONE_MM
    strain = np.maximum(distance - most_comfortable, 0) / SEMITONE_MM
    cramp = np.maximum(least - interval, 0)
    return np.where(low < high, np.stack([stretch, strain, cramp]), 0.0)


def _off_grip(grip: Grip, fingers: Fingerings, keyboard: Keyboard) -> Array:
    count = np.zeros(len(fingers))
    for low, high in pairwise(range(len(grip.keys))):
        white_keys = (keyboard.x_mm(grip.keys[high]) - keyboard.x_mm(grip.keys[low])) / keyboard.white_mm
        if (grip.struck[low] or grip.struck[high]) and white_keys <= WITHIN_A_FIFTH:
            count += np.abs(fingers[:, high] - fingers[:, low] - white_keys)
    return count


def in_line(grip: Grip, them: Ways, hand: Hand, keyboard: Keyboard, place: Place) -> Counts:
    """Terms of a chord by its place in its hand's outer line.

    far_from_top, far_from_bottom: Semitones by which the highest and the lowest of the line's next notes lie beyond the
        relaxed span from the outermost struck finger to the little finger and from the innermost to the thumb: a hand
        looks ahead (common practice, no source).
    Of a lone key:
    off_frame: How many fingers its finger is from the one that the line's frame gives it (common practice, no source).
    repeats_ahead: How many fingers are missing on the thumb's side for the repeats to come: 3-2-1 (common practice, no
        source).
    """
    counts: Counts = {}
    struck = [at for at, here in enumerate(grip.struck) if here]
    if not struck:
        return counts
    inner, outer = grip.keys[struck[0]], grip.keys[struck[-1]]
    if place.highest > outer:
        beyond = _beyond(hand, keyboard, outer % OCTAVE, place.highest - outer)
        counts["far_from_top"] = beyond[them.fingers[:, struck[-1]]]
    if place.lowest < inner:
        beyond = _beyond(hand, keyboard, inner % OCTAVE, place.lowest - inner)
        counts["far_from_bottom"] = beyond[them.fingers[:, struck[0]]]
    if len(grip.keys) == 1:
        fingers = them.fingers[:, 0]
        if place.frame.fits_a_hand:
            counts["off_frame"] = np.abs(fingers - place.frame.finger(outer, keyboard))
        if place.repeats:
            counts["repeats_ahead"] = np.maximum(place.repeats - (fingers - 1.0), 0)
    return counts


@lru_cache(maxsize=2048)
def _beyond(hand: Hand, keyboard: Keyboard, key: int, interval: int) -> Array:
    """Semitones by which a key lies beyond the relaxed span from each finger (the index) on another to the little
    finger, or to the thumb where the interval is negative."""
    away = abs(keyboard.x_mm(key + interval) - keyboard.x_mm(key))
    relaxed = span_limits(hand)[3]
    spans = relaxed[:, 5] if interval > 0 else relaxed[1, :]
    return np.asarray(np.maximum(away - spans, 0) / SEMITONE_MM)


def resting(ways_before: Ways, keyboard: Keyboard) -> Moves:
    """A hand with nothing to play waits where it is, its fingers in mind."""
    keys = range(ways_before.fingers.shape[1])
    same = tuple(KEPT if at == other else None for at in keys for other in keys)
    white_mm = keyboard.white_mm
    return Moves(
        MoveCounts(ways_before, ways_before, white_mm, never=True),
        MoveCounts(ways_before, ways_before, white_mm, same),
    )


def starting(ways_before: Ways, ways_after: Ways, keyboard: Keyboard, remembers: bool) -> Moves:
    """A hand that comes from a rest: free, but for the way from where it played last."""
    white_mm = keyboard.white_mm
    return Moves(
        MoveCounts(ways_before, ways_after, white_mm, never=True),
        MoveCounts(ways_before, ways_after, white_mm, travel=IN_THE_AIR if remembers else None),
    )


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
        off_step: How many white keys beyond half of one the next key of a single line is further or nearer than its
            finger, unless the thumb crosses: nearest finger, nearest key (common practice, no source).
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

    def counts(pairings: Sequence[Pairing | None] = (), **more: Any) -> MoveCounts:
        return MoveCounts(ways_before, ways_after, keyboard.white_mm, tuple(pairings), **more)

    never = counts(never=True)
    if any(kept and key not in before.keys for key, kept in zip(after.keys, after.kept, strict=True)):
        # A note that the other hand held cannot be kept.
        return Moves(never, never)
    outer, keeps, changes = before.keys[-1], any(after.kept), before.keys[-1] != after.keys[-1]
    line_moves = changes and after.struck[-1]
    lines = []
    if line_moves and not when.outer_rest:
        single = len(before.keys) == len(after.keys) == 1
        lines = [_line(hand, keyboard, outer % OCTAVE, key - outer, single) for key in after.keys]
    joined, lifted = _pairings(before, after, when, lines)
    if not any(after.struck):
        # Nothing new: the fingers stay.
        return Moves(counts(joined), never)
    lift = counts(
        lifted if any(lifted) else (),
        travel=IN_THE_AIR,
        everywhere=_leaving_terms(before, when, keeps, changes),
        # A hand that holds a note over cannot leave the keys, but its outer voice can breathe.
        never=keeps and not line_moves,
    )
    if (when.outer_rest or before.rolled) and not keeps:
        return Moves(never, lift)
    return Moves(counts(joined, travel=lines[-1].travel if lines else ON_THE_KEYS), lift)


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


Pairings = list[Pairing | None]
"""As in `MoveCounts`."""

SAME = np.eye(5)

KEPT = Pairing({}, SAME.astype(bool))
"""A key that sounds on keeps its finger."""

HOP = Pairing({"hop": SAME})

MOVING_ON = Pairing({"same_finger": SAME})

IN_THE_AIR = Travel("", "shift_in_lift")

ON_THE_KEYS = Travel("shift", "far_shift")


def _pairings(before: Grip, after: Grip, when: Leaving, lines: Sequence[Line]) -> tuple[Pairings, Pairings]:
    """What two fingers mean for a hand that joins, and for one that lifts.

    Args:
        lines: How the outer voice goes on from its key to each of the next, where it is to connect: its finger stays
            down until the whole next chord is, so that it may not be needed for another key and every finger there must
            be within its span.
    """
    joined: Pairings = []
    lifted: Pairings = []
    again, last, next_last = _again(when.at_once), len(before.keys) - 1, len(after.keys) - 1
    for i, key in enumerate(before.keys):
        for j, next_key in enumerate(after.keys):
            join = lift = None
            if key == next_key:
                join = lift = KEPT if after.kept[j] else again
            elif lines and i == last:
                join = lines[j].ways if j == next_last else lines[j].alone
            elif after.struck[j] and not after.kept[j] and (i < last or j < next_last):
                join = MOVING_ON
            if last == next_last == 0 and key != next_key:
                lift = HOP
            joined.append(join)
            lifted.append(lift)
    return joined, lifted


@lru_cache(maxsize=8)
def _again(at_once: float) -> Pairing:
    finger, following = np.indices((5, 5))
    terms = {"repeat_upward": (following > finger).astype(float)}
    if at_once:
        return Pairing(terms | {"quick_repeat": SAME * at_once})
    return Pairing(terms | {"changed_finger": 1 - SAME})


class Line(NamedTuple):
    """How the outer voice goes from a key to another.

    Attributes:
        ways: Its terms, and which fingers can connect the two keys.
        alone: Which fingers can, without the terms: for a finger that only has to let the outer one stay.
        travel: The way of the hand, which a crossing frees: it is how a hand moves on without leaving its keys.
    """

    ways: Pairing
    alone: Pairing
    travel: Travel


@lru_cache(maxsize=8192)
def _line(hand: Hand, keyboard: Keyboard, key: int, interval: int, single: bool) -> Line:
    """The way from a key, counted within its octave, to the one so many semitones outward.

    A finger can go there while the first stays down if the two are not the same and span it.
    """
    finger, following = np.indices((5, 5)) + 1
    limits = span_limits(hand)
    low, high = np.minimum(finger, following), np.maximum(finger, following)
    sign = np.where(following > finger, 1, -1)
    outward = (keyboard.x_mm(key + interval) - keyboard.x_mm(key)) * sign
    least_practical, _, least, most_relaxed, most_comfortable, most_practical = limits[:, low, high]
    crossing = (outward < 0) & (finger != following)
    thumb_on_black = np.where(finger == 1, is_black(key), is_black(key + interval))
    terms = {
        "line_stretch": np.maximum(np.minimum(outward, most_comfortable) - most_relaxed, 0) / SEMITONE_MM,
        "line_strain": np.maximum(outward - most_comfortable, 0) / SEMITONE_MM,
        "line_cramp": np.where(crossing, 0, np.maximum(least - interval * sign, 0)),
        "crossing": crossing.astype(float),
        "crossing_to_black": (crossing & thumb_on_black).astype(float),
    }
    if single:
        away = (keyboard.x_mm(key + interval) - keyboard.x_mm(key)) / keyboard.white_mm
        off = np.abs(away - (following - finger))
        terms["off_step"] = np.where(crossing, 0.0, np.maximum(off - HALF_A_KEY, 0))
    fits = (least_practical <= interval * sign) & (outward <= most_practical + 1e-6) & (finger != following)
    crosses = terms["crossing"] if crossing.any() else None
    return Line(Pairing(terms, fits), Pairing({}, fits), Travel("shift", "far_shift", crosses))
