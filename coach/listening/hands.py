"""Which hands played: a hand alone where both were asked, or both where one was."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from coach.fingering.plan import SIDES, Side
from coach.listening.expected import ExpectedNote
from coach.listening.matching import Match
from coach.listening.thresholds import HAND_PLAYED, ONE_HAND


def shares(match: Match, notes: Iterable[ExpectedNote]) -> dict[Side, float]:
    """What share of each hand's notes sounded; a hand that has none is not there."""
    found: dict[Side, float] = {}
    every = list(notes)
    for hand in SIDES:
        own = [note for note in every if note.hand == hand]
        if own:
            found[hand] = sum(note.number in match.played for note in own) / len(own)
    return found


def alone(shares: Mapping[Side, float]) -> Side | None:
    """The hand that played while the other one was silent, or None."""
    playing = [hand for hand, share in shares.items() if share > HAND_PLAYED]
    silent = [hand for hand, share in shares.items() if share <= ONE_HAND]
    return playing[0] if len(playing) == len(silent) == 1 else None
