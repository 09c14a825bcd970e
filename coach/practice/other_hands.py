"""Takes that were played with other hands than were asked: what to say of them in place of a verdict."""

from __future__ import annotations

from coach.fingering.plan import Side
from coach.listening.expected import Hand
from coach.listening.hands import alone, shares
from coach.listening.matching import match_take
from coach.listening.thresholds import HAND_PLAYED
from coach.practice.attempt import Done

LEAST = 3
"""Notes of a hand in the chords that were reached, below which its silence says nothing of the hand."""


def only_heard(hand: Side, asked: Hand) -> str:
    """What is said of one hand that played where both, or the other one, are asked."""
    if asked == "both":
        return f"Only the {hand} hand was heard: both are asked."
    return f"The {hand} hand was heard: the {asked} hand is asked."


def played_otherwise(done: Done) -> str:
    """A sentence about the hands, where a take was not played with those that were asked; else "".

    One hand's notes against both hands' are no measure of either, so such a take is not judged.
    """
    asked = done.task.step.hand
    match = done.match if asked == "both" else match_take(done.task.both_hands, done.events)
    reached = max(match.last_visits, default=-1)
    notes = [note for note in match.expected.notes if note.chord <= reached]
    heard = shares(match, notes)
    if len(heard) < 2 or min(sum(note.hand == hand for note in notes) for hand in heard) < LEAST:
        return ""
    single = alone(heard)
    if single is not None and single != asked:
        return only_heard(single, asked)
    if single is None and asked != "both" and all(share > HAND_PLAYED for share in heard.values()):
        return f"Both hands were heard: the {asked} hand is asked alone."
    return ""
