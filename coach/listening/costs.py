"""What each way of explaining a press costs: penalties in one arbitrary unit, roughly a negative log-likelihood.

They were set by hand from what a teacher would rather assume: a finger that slipped rather than a player who jumped,
a late note rather than one left out and another one added.
"""

from __future__ import annotations

from math import log

EXTRA = 3.0
"""A key that belongs to nothing."""

NEIGHBOUR = 2.2
"""A key beside a note of the chord or of the next one, struck with the chord or in its place."""

INSTEAD = 1.9
"""A wrong key beside a note of the next chord, or an octave from it, when that chord is due."""

DUE = (0.6, 2.5)
"""Shares of the expected step between which the next chord is due."""

BOUNCED = 1.5
"""A key of the chord that is struck again at once."""

RESTRUCK = 2.6
"""A key of the chord, or one held into it, that is struck again later."""

ORNAMENT = 1.0
"""A quick neighbour of a note of the chord: a trill, a mordent, a turn, a slip of the finger."""

AT_ONCE = 0.03
"""Seconds within which presses are one chord rather than an ornament (melody leads: 20 to 30 ms, Goebl 2001)."""

QUICK = 0.16
"""Seconds since the press before within which a neighbour counts as an ornament (common practice)."""

BOUNCE = 0.25
"""Seconds since the chord began within which a key struck again has bounced (common practice)."""

MISSING = (0.0, 2.5, 4.0, 5.0, 5.8, 6.4, 6.9, 7.3, 7.6)
"""Notes of one chord left out: none, one, two ... The more are missing, the less each one says."""

MISSING_MORE = 0.3
"""Each further note left out."""

WAITED_FOR = 1.75
"""A note that came when the next chord was due, and nothing else did: that chord may have begun with it."""

MENDED = 1.2
"""A note that came later still, or after a wrong key at its chord: it had been forgotten or missed, and is mended. A
little less than going on without it, so that a note which the next chord has too is believed to mend until more of
that chord comes."""

BUILDING = 0.7
"""Seconds between the first and the latest note of a chord from which it is being built key by key: no pianist's
chord is spread so far (common practice, no source)."""

LATE = 3.0
"""A note that came a whole step after its chord, when the next one had begun."""

LATEST = 6.0
"""At most, for such a note."""

TIMING = 2.5
"""At most, a chord that came sooner than the tempo led to expect; while no tempo is known, one struck as one with the
chord before it."""

WAITING = 1.2
"""At most, a chord that came later than expected: players wait for all kinds of reasons."""

UNEVEN = 0.1
"""Unevenness (see `going.Going`) at which coming soon says half as much: a third sooner or later at every step."""

SKIP = 6.0
"""At most, going on without whole chords, however many."""

BACK = 4.0
"""Going back a chord or a few."""

ONCE_MORE = 3.0
"""Striking the current chord once more."""

AGAIN = 5.0
"""Beginning a phrase again, or beginning another phrase."""

ELSEWHERE = 7.0
"""Going anywhere else."""

UNPREPARED = 5.0
"""At most, added to these when there was no pause before: who plays on evenly has hardly gone anywhere."""

STARTLED = 1.0
"""At most, for going back without a pause from a chord with a wrong key or without one of its own: who hears that may
mend it at once."""

PAUSE = 0.35
"""Seconds; a silence below half of this is never a pause, however quick the notes (common practice)."""

AT_FIRST = 0.5
"""Share of the cost of a missing note that is charged when the player goes on; the rest follows once the note cannot
be late any more. A hand that is ahead of the other leaves many notes behind for a moment."""

PATIENCE = 0.3
"""Seconds; however quick the notes, a note may come a good part of this after its chord: the hands of a pianist drift
apart, and chords are spread (Goebl 2001 finds spreads to a tenth of a second and more)."""

BEGIN = (0.0, 1.0, 4.0)
"""Where a take begins: at the first chord, at the start of another phrase, anywhere else."""

BEHIND = 6
"""Chords behind the front that a note may still belong to."""

AHEAD = 5
"""Chords ahead of the front that a press may reach."""

STUMBLE = 4
"""Chords that a stumble goes back without being looked for everywhere."""

WIDTH = 14
"""Accounts kept."""

MARGIN = 11.0
"""Accounts dearer than the best one by more than this are given up."""

TOGETHER = 0.08
"""Seconds within which the notes of one chord come without being late (twice the melody lead of Goebl 2001)."""

_MISSING = tuple(
    MISSING[count] if count < len(MISSING) else MISSING[-1] + MISSING_MORE * (count + 1 - len(MISSING))
    for count in range(129)
)


def missing(count: int) -> float:
    """Cost of leaving out some notes of one chord, at most as many as there are keys."""
    return _MISSING[count]


def waited_for(after: float, step: float) -> float:
    """Cost of a further note of the current chord: the more, the nearer the next one is due.

    Args:
        after: Seconds since the chord began.
        step: Seconds from it to the next one, as the player goes.
    """
    if after <= TOGETHER:
        return 0.0
    share = after / max(step, PATIENCE)
    if share < 1.0:
        return WAITED_FOR * max(share - 0.3, 0.0) / 0.7
    return max(WAITED_FOR - (WAITED_FOR - MENDED) * (share - 1.0) / 0.5, MENDED)


def timing(ratio: float, uneven: float) -> float:
    """Cost of a chord that came after `ratio` times the expected step.

    That a key came soon says the less the more unevenly the player goes: who finds each chord before striking it may
    find the next one at once. That it came late says little of anybody.
    """
    if 0.8 < ratio < 1.25:
        return 0.0
    away = log(ratio) if ratio > 1e-3 else -7.0
    if away > 0:
        return min(WAITING, 0.5 * away * away)
    return min(TIMING, 0.7 * away * away) / (1 + uneven / UNEVEN)


def unprepared(pause: float, expected: float) -> float:
    """Cost of going elsewhere without a pause: players stop for a moment before they go back.

    Args:
        pause: Seconds of silence before.
        expected: Seconds from chord to chord, as the player goes.
    """
    share = (pause / max(expected, PAUSE) - 0.4) / 0.8
    if share >= 1.0:
        return 0.0
    return UNPREPARED * (1.0 - share) if share > 0 else UNPREPARED
