"""What a change of chord costs a hand: the terms of staying on the keys and of leaving them."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from coach.fingering.black_keys import OnBlack, on_black
from coach.fingering.counts import NEVER, Manner, Pairing, Travel
from coach.fingering.hand import SEMITONE_MM, Hand, span_limits
from coach.fingering.handful import Grip, Handful
from coach.fingering.keyboard import OCTAVE, WHOLE_TONE, Keyboard, in_white_keys, is_black

QUICK, LONG = 0.5, 2.0
"""A chord of up to a quaver is quick to lift from, one of a minim or more leaves all the time one needs (in quarter
notes; common practice, no source)."""

AT_ONCE = 0.25
"""A key struck again within a semiquaver is struck again at once (in quarter notes; common practice, no source)."""

SIXTH = 8
"""Semitones from which a hand on two keys has no fingers to spare between them (common practice, no source)."""

HALF_A_KEY = 0.5
"""A finger is over a key if it is not nearer to another (in white keys)."""

SILENCE = 1e-6
"""Less than this many quarter notes between a note's end and the next onset is no rest."""


class Moves(NamedTuple):
    """One hand's change from one chord to the next.

    Attributes:
        join: When the hand stays on the keys.
        lift: When it leaves them; never possible while a note is kept, unless only the outer voice breathes.
    """

    join: Manner
    lift: Manner


class Leaving(NamedTuple):
    """When a hand leaves a chord for the next.

    Attributes:
        rest: Whether all its notes ended before, so that it waits on no key.
        outer_rest: Whether its outer voice did.
        time: How long the chord leaves: "quick", "" or "long".
        at_once: Whether a key, or two near ones, are struck again within a semiquaver. Quavers leave a finger the time
            to rise and fall: in hymns it stays on its key.
    """

    rest: bool
    outer_rest: bool
    time: str
    at_once: bool


def leaving(before: Handful, after: Handful) -> Leaving:
    """The time that a hand has between two chords that it plays."""
    onset = max(after.since)
    time = onset - max(before.since)
    name = "quick" if time <= QUICK else "long" if time >= LONG else ""
    at_once = time <= AT_ONCE and before.grip.keys == after.grip.keys and _to_spare(before.grip.keys)
    return _leaving(onset - max(before.until) > SILENCE, onset - before.until[-1] > SILENCE, name, at_once)


_leaving = lru_cache(maxsize=64)(Leaving)
"""There are few: one object each."""


@lru_cache(maxsize=16)
def resting(keys: int) -> Moves:
    """A hand with nothing to play waits where it is, its fingers on so many keys in mind."""
    same = tuple(KEPT if at == other else None for at in range(keys) for other in range(keys))
    return Moves(NEVER, Manner(same))


def starting(remembers: bool) -> Moves:
    """A hand that comes from a rest: free, but for the way from where it played last."""
    return FROM_A_REST if remembers else AT_THE_START


def moves(before: Grip, after: Grip, when: Leaving, hand: Hand, keyboard: Keyboard) -> Moves:
    """Terms of one hand's change of chord.

    Joined:
        shift, far_shift: White keys that the hand's place moves, and those beyond the first without a crossing (nearest
            keys first: common practice, no source).
        line_stretch, line_strain, line_cramp: As for chords, between the outer voice's two keys (Parncutt et al. 1997).
        shift_quick, far_shift_quick, line_stretch_quick, off_step_quick: The same on a quick line of single keys, which
            runs evenly from a quiet hand that stays closed; where chords follow each other it opens and moves anyway
            (common practice, no source).
        crossing: Thumb under or finger over thumb in the outer voice (thumb-passing rule of Parncutt et al. 1997).
        crossing_to_black: The same, the thumb landing on a black key (Parncutt et al. 1997).
        off_step: How many white keys beyond half of one the next key of a single line is further or nearer than its
            finger, unless the thumb crosses: nearest finger, nearest key (common practice, no source). To and from the
            thumb all that its relaxed span opens is near.
        same_finger: An inner finger that goes on to another key, half as much by step (cheap: common practice, no
            source).
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
        thumb_on_black, little_on_black: As for chords, of a finger that comes new to the key.
        changed_finger: Another finger, half as much on a line of single keys, but where a quick repeat or `new_grip`
            counts (common practice, no source).
        new_grip: Another finger on a key of a chord that is struck again whole: the hand only falls and rises (common
            practice, no source).
        quick_repeat, quick_repeat_of_two: The same finger again at once, on one key and on two: 3-2-1 is surer (common
            practice, no source). A hand that has no fingers to spare for it takes no new grip.
        repeat_upward: A change away from the thumb: fingers change towards it (common practice, no source).
    """

    if any(kept and key not in before.keys for key, kept in zip(after.keys, after.kept, strict=True)):
        # A note that the other hand held cannot be kept.
        return CANNOT_BE
    outer, keeps, changes = before.keys[-1], True in after.kept, before.keys[-1] != after.keys[-1]
    line_moves = changes and after.struck[-1]
    lines = []
    if line_moves and not when.outer_rest:
        single = len(before.keys) == len(after.keys) == 1
        runs = single and when.time == "quick"
        lines = [_line(hand, keyboard, outer % OCTAVE, key - outer, single, runs) for key in after.keys]
    joined, lifted = _pairings(before, after, when, lines)
    if True not in after.struck:
        # Nothing new: the fingers stay.
        return Moves(Manner(tuple(joined)), NEVER)
    # A hand that holds a note over cannot leave the keys, but its outer voice can breathe.
    lift = _lifting(len(before.keys) > 1, when, keeps, changes) if line_moves or not keeps else NEVER
    if lift is not NEVER and any(lifted):
        lift = lift._replace(pairings=tuple(lifted))
    if line_moves and outer in after.keys and after.struck[after.keys.index(outer)]:
        # An inner voice strikes the outer key again: it has to come up before the outer voice has gone on.
        return Moves(NEVER, lift)
    if (when.outer_rest or before.rolled) and not keeps:
        return Moves(NEVER, lift)
    if not changes and after.struck[-1] and not keeps:
        # The hand rises and falls with its outer key: inner fingers go where they like.
        return Moves(Manner(tuple(lifted), IN_THE_AIR), lift)
    return Moves(Manner(tuple(joined), lines[-1].travel if lines else ON_THE_KEYS), lift)


@lru_cache(maxsize=1024)
def _lifting(chord: bool, when: Leaving, keeps: bool, changes: bool) -> Manner:
    """Leaving the keys of a chord or of a single one, as far as no finger changes it."""
    if when.rest:
        return Manner(travel=IN_THE_AIR)
    terms = {"_".join(filter(None, ("chord" if chord else "", "lift", when.time))): 1.0}
    if keeps:
        terms["half_lift"] = 1.0
    if changes and not when.outer_rest:
        terms["broken_top" if chord else "broken_line"] = 1.0
    return Manner(travel=IN_THE_AIR, everywhere=terms)


Pairings = list[Pairing | None]
"""As in `Manner`."""

SAME = np.eye(5)

KEPT = Pairing({}, SAME.astype(bool))
"""A key that sounds on keeps its finger."""

HOP = Pairing({"hop": SAME})

MOVING_ON, STEPPING_ON = Pairing({"same_finger": SAME}), Pairing({"same_finger": SAME / 2})

IN_THE_AIR = Travel("", "shift_in_lift")

ON_THE_KEYS, IN_A_QUICK_LINE = Travel("shift", "far_shift"), Travel("shift_quick", "far_shift_quick")

CANNOT_BE = Moves(NEVER, NEVER)

AT_THE_START, FROM_A_REST = Moves(NEVER, Manner()), Moves(NEVER, Manner(travel=IN_THE_AIR))


def _pairings(before: Grip, after: Grip, when: Leaving, lines: Sequence[Line]) -> tuple[Pairings, Pairings]:
    """What two fingers mean for a hand that joins, and for one that lifts.

    Args:
        lines: How the outer voice goes on from its key to each of the next, where it is to connect: its finger stays
            down until the whole next chord is, so that it may not be needed for another key and every finger there must
            be within its span.
    """
    joined: Pairings = []
    lifted: Pairings = []
    last, next_last = len(before.keys) - 1, len(after.keys) - 1
    whole, chords = before.keys == after.keys and last > 0, last > 0 and next_last > 0
    for i, key in enumerate(before.keys):
        for j, next_key in enumerate(after.keys):
            join = lift = None
            if key == next_key:
                join = lift = KEPT if after.kept[j] else _again(when.at_once, whole, chords, on_black(after.keys, j))
            elif lines and i == last:
                join = lines[j].ways if j == next_last else lines[j].alone
            elif after.struck[j] and not after.kept[j] and (i < last or j < next_last):
                join = STEPPING_ON if abs(next_key - key) <= WHOLE_TONE else MOVING_ON
            if last == next_last == 0 and key != next_key:
                lift = HOP
            joined.append(join)
            lifted.append(lift)
    return joined, lifted


def _to_spare(keys: Sequence[int]) -> bool:
    """Whether a hand on these keys changes fingers to strike them again at once: on one key it does, and on two near
    ones; on more there are no fingers to spare."""
    return len(keys) == 1 or (len(keys) == 2 and keys[1] - keys[0] < SIXTH)


@lru_cache(maxsize=64)
def _again(at_once: bool, whole: bool, chords: bool, black: OnBlack) -> Pairing:
    """Two fingers on a key that is struck again.

    Args:
        at_once: As in `Leaving`.
        whole: Whether it belongs to a chord of which every key sounds again.
        chords: Whether the hand goes from a chord to a chord.
        black: What a black key costs a finger that comes to it.
    """
    finger, following = np.indices((5, 5)) + 1
    changed = 1 - SAME
    terms = {"repeat_upward": (following > finger).astype(float)}
    terms |= {name: count * changed for name, count in black.terms(following).items()}
    if at_once:
        return Pairing(terms | {"quick_repeat_of_two" if chords else "quick_repeat": SAME})
    if whole:
        return Pairing(terms | {"new_grip": changed})
    return Pairing(terms | {"changed_finger": changed if chords else changed / 2})


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
def _line(hand: Hand, keyboard: Keyboard, key: int, interval: int, single: bool, runs: bool) -> Line:
    """The way from a key, counted within its octave, to the one so many semitones outward.

    A finger can go there while the first stays down if the two are not the same and span it.

    Args:
        hand, keyboard: Whose, and where.
        key, interval: The way.
        single: Whether the hand has no other keys.
        runs: Whether it is a quick line of single keys.
    """
    finger, following = np.indices((5, 5)) + 1
    limits = span_limits(hand)
    low, high = np.minimum(finger, following), np.maximum(finger, following)
    sign = np.where(following > finger, 1, -1)
    away = in_white_keys(key + interval) - in_white_keys(key)
    outward = away * keyboard.white_mm * sign
    least_practical, _, least, most_relaxed, most_comfortable, most_practical = limits[:, low, high]
    crossing = (outward < 0) & (finger != following)
    thumb_on_black = np.where(finger == 1, is_black(key), is_black(key + interval))
    quick, way = ("_quick", IN_A_QUICK_LINE) if runs else ("", ON_THE_KEYS)
    terms = {
        f"line_stretch{quick}": np.maximum(np.minimum(outward, most_comfortable) - most_relaxed, 0) / SEMITONE_MM,
        "line_strain": np.maximum(outward - most_comfortable, 0) / SEMITONE_MM,
        "line_cramp": np.where(crossing, 0, np.maximum(least - interval * sign, 0)),
        "crossing": crossing.astype(float),
        "crossing_to_black": (crossing & thumb_on_black).astype(float),
    }
    if single:
        reach, natural = away * sign, high - low
        # The thumb opens from the hand by itself: no other finger is nearer within its relaxed span.
        widest = np.where(low == 1, np.maximum(most_relaxed / keyboard.white_mm, natural), natural)
        off = np.maximum(natural - reach, reach - widest)
        terms[f"off_step{quick}"] = np.where(crossing, 0.0, np.maximum(off - HALF_A_KEY, 0))
    fits = (least_practical <= interval * sign) & (outward <= most_practical + 1e-6) & (finger != following)
    crosses = terms["crossing"] if crossing.any() else None
    return Line(Pairing(terms, fits), Pairing({}, fits), way._replace(crossing=crosses))
