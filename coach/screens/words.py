"""How the screens spell what the lower floors say."""

from __future__ import annotations

import re

from coach.listing import capital
from coach.paper.signs import note_name, octave_figure
from coach.practice.ladder import Step

_PITCH = re.compile(r"\b[A-G](?:#{1,2}|b{1,2})?-?\d\b(?!\d)")


def pretty(sentence: str) -> str:
    """A sentence with its pitches as they stand in the chord table: "B♭₃" for "Bb3"."""
    return _PITCH.sub(lambda found: note_name(found[0]) + octave_figure(found[0]), sentence)


def asked(step: Step, quarter_bpm: float, letters: str = "") -> str:
    """What a step asks for, in a few words.

    Args:
        step: The step.
        quarter_bpm: Quarter notes a minute.
        letters: The voices that are played, "" for all.
    """
    hands = {"right": "right hand", "left": "left hand", "both": "both hands"}[step.hand]
    if letters:
        hands += f", voices {' '.join(letters.upper())}"
    elif step.voices == "outer":
        hands = "outer voices"
    clock = "chord by chord" if step.clock == "none" else f"in tempo, ♩ = {quarter_bpm:.0f}"
    fingers = {"all": "", "changes": "fingers at changes of place", "none": "no fingers"}[step.fingers]
    extra = [
        "plain chords" if step.plain else "",
        "over the seam" if step.seam else "",
        "with pedal" if step.pedal else "",
    ]
    return " · ".join(part for part in (hands, clock, fingers, *extra) if part)


SMALL = frozenset(
    ["a", "above", "an", "and", "at", "by", "for", "from", "in", "of", "on", "or", "over", "the", "to", "under", "with"]
)
"""Words that a title does not begin with a capital (common practice in English)."""


def title_of(name: str) -> str:
    """A shipped piece's title from its name, without opening it: "the-last-lantern" is "The Last Lantern"."""
    words = name.replace("-", " ").split()
    if name != name.lower():
        return " ".join(words)
    return " ".join(word if place and word in SMALL else word.capitalize() for place, word in enumerate(words))


def as_sentence(text: str) -> str:
    """Words as an error has them, as a sentence: a capital at its head, a full stop at its end; "" for none."""
    text = text.strip()
    return capital(text) + ("" if not text or text[-1] in ".?!…" else ".")
