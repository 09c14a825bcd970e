"""What the player's choices leave of a phrase's search."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from coach.fingering.choices import Fix, FixedFinger, FixedLeaving, FixedSharing
from coach.fingering.deals import Deal
from coach.fingering.handful import hand_key
from coach.fingering.plan import Side
from coach.fingering.search import FREE, Limits, Search, State


def can_be(search: Search, fixes: Sequence[Fix]) -> bool:
    """Whether a plan honours all of some choices."""
    if not all(fix.onset in search.onsets for fix in fixes):
        return False
    return len(search.forward(limits_of(search, fixes))) == len(search.chords)


def limits_of(search: Search, fixes: Sequence[Fix], before_more: bool = False) -> Limits:
    """What some choices leave of a search.

    A state that takes a way out which the plan without choices does not take there is not left either: no choice is
    worth a note.

    Args:
        search: The search of a phrase.
        fixes: Choices in it.
        before_more: Whether another choice is to follow, so that this holds even where there is none yet.
    """
    if not fixes and not before_more:
        return FREE
    left: dict[tuple[int, int], NDArray[np.bool_]] = {}

    def keep(place: int, index: int, state: State, there: NDArray[np.bool_]) -> None:
        if not there.all():
            before = left.get((place, index))
            there = np.broadcast_to(there, state.own.shape)
            left[place, index] = there if before is None else before & there

    for place, choice in enumerate(search.free[1]):
        if choice.deal.ways_out:
            for index, state in enumerate(search.columns[place]):
                keep(place, index, state, np.array(_no_worse(state.deal, choice.deal)))
    leaving = {}
    for fix in fixes:
        place = search.onsets[fix.onset]
        for index, state in enumerate(search.columns[place]):
            keep(place, index, state, fingerings_left(search, place, state, fix))
        if isinstance(fix, FixedLeaving) and place + 1 < len(search.chords):
            leaving[place, fix.side] = fix.after
    return Limits(left, leaving)


def _no_worse(deal: Deal, usual: Deal) -> bool:
    """Whether a deal takes no way out beyond those that are taken anyway."""
    kinds, allowed = (Counter(way for way, _ in one.ways_out) for one in (deal, usual))
    return kinds <= allowed and deal.let_go <= usual.let_go


def fingerings_left(search: Search, place: int, state: State, fix: Fix) -> NDArray[np.bool_]:
    """Which fingerings of a state honour a choice for its chord; can be broadcast to `(right ways, left ways)`."""
    nothing = np.zeros((1, 1), np.bool_)
    if isinstance(fix, FixedSharing):
        return np.array([[state.deal.distribution == fix.distribution]])
    if isinstance(fix, FixedLeaving):
        last = place + 1 == len(search.chords)
        return np.array([[bool(state.deal.handful(fix.side).keys) and not (last and fix.after == "join")]])
    at = note_place(search, place, fix)
    if at is None or state.deal.fates[at].hand is None:
        return nothing
    fate = state.deal.fates[at]
    side: Side = fate.hand or "right"
    column = state.deal.handful(side).keys.index(hand_key(side, fate.key))
    these: NDArray[np.bool_] = state.ways[side].fingers[:, column] == fix.finger
    return these[:, None] if side == "right" else these[None, :]


def note_place(search: Search, place: int, fix: FixedFinger) -> int | None:
    """Where in its chord the note of a choice stands; None where no such note starts there."""
    chord = search.chords[place]
    return next(
        (
            at
            for at, (note, struck) in enumerate(zip(chord.notes, chord.struck, strict=True))
            if struck and (note.voice, note.midi) == (fix.voice, fix.key)
        ),
        None,
    )
