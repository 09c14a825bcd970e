"""The player's own way of practising: another hand, clock, tempo, fingers or voices than the ladder asks for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from coach.listening.expected import Hand
from coach.practice.ladder import ALL_STEPS, TEMPOS, Fingers, Step
from coach.practice.music import FASTEST, SLOWEST

FEWER_AND_FEWER: dict[Fingers, Fingers] = {"all": "changes", "changes": "none", "none": "all"}
"""Which fingers are shown after these, round and round."""


def with_hand(step: Step, hand: Hand) -> Step:
    """One hand alone, or both, with all that is written for it."""
    return replace(step, hand=hand, voices="all", seam=False)


def with_other_clock(step: Step) -> Step:
    """In tempo instead of chord by chord, or the other way round."""
    return replace(step, clock="none" if step.clock == "tempo" else "tempo", seam=False)


def with_tempo(step: Step, bpm: float, target_bpm: float) -> tuple[Step, float]:
    """In tempo, as fast as asked as far as a drill can be set so.

    Args:
        step: The way that is practised.
        bpm: Quarter notes a minute, a whole number as the player reads them.
        target_bpm: The tempo to reach.

    Returns:
        The way, and its quarter notes a minute: those of a step of the ladder that is read as this tempo.
    """
    bpm = min(max(bpm, SLOWEST), FASTEST)
    share = next((one for one in TEMPOS if round(one * target_bpm) == bpm), bpm / target_bpm)
    return replace(step, clock="tempo", tempo_fraction=share), share * target_bpm


def with_other_fingers(step: Step) -> Step:
    """All fingers, only where the hand changes place, none, and all again."""
    return replace(step, fingers=FEWER_AND_FEWER[step.fingers])


def custom_step(step: Step, steps: Sequence[Step]) -> Step:
    """A step that the player put together: the ladder's own where there is one like it, else one named for itself."""
    for own in (*steps, *ALL_STEPS.values()):
        if replace(own, name="", days_apart=0) == replace(step, name="", days_apart=0):
            return own
    hands = {"right": "right hand", "left": "left hand", "both": "together"}[step.hand]
    parts = [
        "outer voices" if step.voices == "outer" else "plain chords" if step.plain else hands,
        f"in tempo {step.tempo_fraction:.0%}".replace("%", " %") if step.clock == "tempo" else "",
        {"all": "", "changes": "fewer fingers", "none": "no fingers"}[step.fingers],
        "with pedal" if step.pedal else "",
    ]
    return replace(step, name=", ".join(part for part in parts if part), days_apart=0)


def of_some_voices(step: Step, letters: str) -> Step:
    """A step as it is for some voices alone, which says nothing of the whole phrase."""
    name = f"voices {' '.join(letters.upper())}"
    return step if name in step.name else replace(step, name=f"{step.name}, {name}", voices="outer", days_apart=0)
