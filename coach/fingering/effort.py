"""What playing costs a hand: the named terms of the one effort function that a plan minimises.

Every term counts something a pianist would recognise and is never negative; the effort of a plan is the sum of
all counts times their weights. A term that belongs to one chord of one hand gives one number for each fingering
(shape `(ways,)`) and is counted here, a term that belongs to a change of chord (`moving.py`) one for each pair of
fingerings (shape `(ways before, ways after)`), so that the planner can weigh all of them at once.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations, pairwise

import numpy as np

from coach.fingering.counts import Array, Counts
from coach.fingering.hand import SEMITONE_MM, Hand, span_limits
from coach.fingering.handful import Fingerings, Grip, Ways
from coach.fingering.keyboard import OCTAVE, Keyboard, is_black
from coach.fingering.outer_line import Place

WHOLE_TONE, FIFTH = 2, 7
"""Semitones."""


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
            near = [high - low <= WHOLE_TONE for low, high in pairwise(grip.keys)]
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
        key, next_key = grip.keys[low], grip.keys[high]
        if (grip.struck[low] or grip.struck[high]) and next_key - key <= FIFTH:
            white_keys = (keyboard.x_mm(next_key) - keyboard.x_mm(key)) / keyboard.white_mm
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
