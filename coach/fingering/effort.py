"""What playing costs a hand: the named terms of the one effort function that a plan minimises.

Every term counts something a pianist would recognise and is never negative; the effort of a plan is the sum of
all counts times their weights. The terms that belong to one chord of one hand are counted here, those that belong to a
change of chord in `moving.py`, for all fingers at once.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations

import numpy as np

from coach.fingering.black_keys import NOT_BLACK, OnBlack, on_black
from coach.fingering.counts import Array, Paired, Pairing, paired
from coach.fingering.hand import SEMITONE_MM, Hand, span_limits
from coach.fingering.handful import Grip
from coach.fingering.keyboard import FIFTH, OCTAVE, WHOLE_TONE, Keyboard, in_white_keys
from coach.fingering.outer_line import Frame, Place

FINGERS = np.arange(1, 6)

OPEN_TO_AN_OCTAVE = (3, 4)
"""Fingers other than the little one that the table of spans opens to an octave from the thumb."""

NEAR_THE_LIMIT = 7 / 8
"""From which part of its practical span on such a pair is at full stretch (common practice, no source)."""


def posture(grip: Grip, hand: Hand, keyboard: Keyboard, again: tuple[bool, ...] | None = None) -> tuple[Paired, ...]:
    """Terms of one hand in one chord.

    Args:
        grip: Its keys.
        hand, keyboard: Whose, and where.
        again: Which of its keys are black and sounded in the chord before: what a short finger on them costs it cost
            there, and one that comes new to them is counted with the change of chord. None for none.

    stretch, strain: Semitones beyond the relaxed and beyond the comfortable span, summed over finger pairs.
    cramp: Semitones that a pair is narrower than its relaxed span.
        (These three after the rules of the same names in Parncutt et al. 1997. A pair counts where one of its keys is
        struck: the hand opens once, however many notes elsewhere go by while it holds both.)
    full_stretch: Semitones in the last part of the practical span of the thumb with the third or fourth finger: an
        octave near the hand's own reach is thumb and little finger's, and 1-4 is for larger hands (common practice, no
        source).
    thumb_on_black, little_on_black: Struck black keys under the thumb and the little finger (Parncutt et al. 1997), as
        much as `on_black` says.
    fourth_alone, fifth_alone: The fourth or the fifth finger alone on a key (after the weak-finger rule of Parncutt et
        al. 1997).
    weak_neighbours: 3-4 or 4-5 on neighbouring keys, one of them struck (common practice, no source).
    thumb_unused: A chord whose inside key is not the thumb's: for each key beyond it (common practice, no source).
    little_unused: How many fingers a chord's outside finger is from the little finger: 1-3-5 before 1-2-4 (common
        practice, no source).
    double_thumb: Two keys under one thumb, one of them struck (common practice, no source).
    off_grip: How many white keys wider or narrower than their fingers neighbouring keys within a fifth are (common
        practice, no source).
    roll_moves: Semitones that neighbouring keys of a roll lie beyond the comfortable span of their fingers, where the
        hand has to move before the roll goes on: it opens first, thumb and little finger outside (common practice, no
        source). Nobody holds both keys, so that nothing is stretched; a key that is kept is spanned as in any chord.

    Returns:
        What the fingers on its keys mean, two at a time and each by itself.
    """
    keys, struck, kept = grip.keys, grip.struck, grip.kept
    if True not in struck:
        return ()
    last = len(keys) - 1
    found: list[Paired] = []
    for low, high in combinations(range(last + 1), 2):
        if not (struck[low] or struck[high]):
            continue
        neighbours, in_turn = high == low + 1, grip.rolled and not (kept[low] or kept[high])
        if neighbours or not in_turn:
            pair = _pair(hand, keyboard, keys[low] % OCTAVE, keys[high] - keys[low], neighbours, in_turn)
            found.append(paired(low, high, pair))
    for at in range(last + 1):
        inside, outside, alone = last if at == 0 else 0, at == last > 0, last == 0 and struck[at]
        black = on_black(keys, at) if struck[at] and not (again and again[at]) else NOT_BLACK
        if inside or outside or alone or black is not NOT_BLACK:
            found.append(paired(at, at, _finger(inside, outside, black, alone)))
    return tuple(found)


@lru_cache(maxsize=4096)
def _pair(hand: Hand, keyboard: Keyboard, key: int, interval: int, neighbours: bool, in_turn: bool) -> Pairing:
    """Two fingers of a chord, on keys one of which is struck.

    Args:
        hand, keyboard: Whose, and where.
        key: The inner finger's key, counted within its octave.
        interval: Semitones outward to the other's key.
        neighbours: Whether the chord has no key between them.
        in_turn: Whether they are rolled: played one after the other.
    """
    low, high = np.indices((5, 5)) + 1
    _, _, least, most_relaxed, most_comfortable, most_practical = span_limits(hand)[:, low, high]
    distance = keyboard.distance_across_mm(key, key + interval)
    apart = low < high
    beyond = np.maximum(distance - most_comfortable, 0) / SEMITONE_MM
    terms: dict[str, Array] = {"cramp": apart * np.maximum(least - interval, 0)}
    if in_turn:
        # A finger that plays again further up goes all the way.
        terms["roll_moves"] = (low <= high) * beyond
    else:
        terms["stretch"] = apart * np.maximum(np.minimum(distance, most_comfortable) - most_relaxed, 0) / SEMITONE_MM
        terms["strain"] = apart * beyond
        octave = (low == 1) & np.isin(high, OPEN_TO_AN_OCTAVE)
        terms["full_stretch"] = octave * np.maximum(distance - NEAR_THE_LIMIT * most_practical, 0) / SEMITONE_MM
    if neighbours:
        if not in_turn:
            terms["double_thumb"] = (low == high).astype(float)
        if interval <= WHOLE_TONE:
            terms["weak_neighbours"] = ((low >= 3) & (high - low == 1)).astype(float)
        if interval <= FIFTH:
            white_keys = in_white_keys(key + interval) - in_white_keys(key)
            terms["off_grip"] = np.abs(high - low - white_keys)
    return Pairing({name: count for name, count in terms.items() if count.any()})


@lru_cache(maxsize=64)
def _finger(inside: int, outside: bool, black: OnBlack, alone: bool) -> Pairing:
    """One finger of a chord.

    Args:
        inside: How many keys lie beyond, if it is on the innermost one.
        outside: Whether it is on the outermost one.
        black: What a black key costs.
        alone: Whether there is nothing else to play.
    """
    thumb, fourth, fifth = (FINGERS == 1).astype(float), (FINGERS == 4).astype(float), (FINGERS == 5).astype(float)
    terms: dict[str, Array] = {}
    if inside:
        terms["thumb_unused"] = inside * (1 - thumb)
    if outside:
        terms["little_unused"] = (5 - FINGERS).astype(float)
    terms |= black.terms(FINGERS)
    if alone:
        terms |= {"fourth_alone": fourth, "fifth_alone": fifth}
    return Pairing.of_one(terms)


def in_line(grip: Grip, hand: Hand, keyboard: Keyboard, place: Place) -> tuple[Paired, ...]:
    """Terms of a chord by its place in its hand's outer line.

    far_from_top, far_from_bottom: Semitones by which the highest and the lowest of the line's next notes lie beyond the
        relaxed span from the outermost struck finger to the little finger and from the innermost to the thumb: a hand
        looks ahead (common practice, no source).
    Of a lone key:
    off_frame: How many fingers its finger is from the one that the line's frame gives it (common practice, no source).
    repeats_ahead: How many fingers are missing on the thumb's side for the repeats to come: 3-2-1 (common practice, no
        source).

    Returns:
        What the fingers on its keys mean, each by itself.
    """
    if True not in grip.struck:
        return ()
    found: list[Paired] = []
    inner, outer = grip.struck.index(True), len(grip.keys) - 1 - grip.struck[::-1].index(True)
    bottom, top = grip.keys[inner], grip.keys[outer]
    if place.highest > top:
        found.append(paired(outer, outer, _beyond(hand, keyboard, top % OCTAVE, place.highest - top)))
    if place.lowest < bottom:
        found.append(paired(inner, inner, _beyond(hand, keyboard, bottom % OCTAVE, place.lowest - bottom)))
    if len(grip.keys) == 1:
        if place.frame.fits_a_hand:
            found.append(paired(0, 0, _off_frame(place.frame, top)))
        if place.repeats:
            found.append(paired(0, 0, _repeats_ahead(place.repeats)))
    return tuple(found)


@lru_cache(maxsize=2048)
def _beyond(hand: Hand, keyboard: Keyboard, key: int, interval: int) -> Pairing:
    """How far a key lies beyond the relaxed span from a finger on another, counted within its octave, to the little
    finger, or to the thumb where the interval is negative."""
    away = keyboard.distance_across_mm(key, key + interval)
    relaxed = span_limits(hand)[3]
    name, spans = ("far_from_top", relaxed[1:, 5]) if interval > 0 else ("far_from_bottom", relaxed[1, 1:])
    return Pairing.of_one({name: np.maximum(away - spans, 0) / SEMITONE_MM})


@lru_cache(maxsize=2048)
def _off_frame(frame: Frame, key: int) -> Pairing:
    return Pairing.of_one({"off_frame": np.abs(FINGERS - frame.finger(key))})


@lru_cache(maxsize=8)
def _repeats_ahead(repeats: int) -> Pairing:
    return Pairing.of_one({"repeats_ahead": np.maximum(repeats - (FINGERS - 1.0), 0)})
