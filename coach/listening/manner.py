"""How a simulated pianist plays, and what goes wrong."""

from __future__ import annotations

from dataclasses import dataclass, field

from coach.listening.route import Detours


@dataclass(frozen=True, slots=True)
class Manner:
    """How the pianist plays when nothing goes wrong.

    Attributes:
        quarter_bpm: Quarter notes a minute.
        rubato: How far the tempo sways, as a share.
        unsteady: Standard deviation of a step from chord to chord, in seconds.
        halting: Standard deviation of the logarithm of a step: at 0.5, who finds each chord before striking it.
        apart: Standard deviation of a note's time within its chord, in seconds.
        lead: Seconds that the top voice comes early; 0.02 to 0.03 with skilled players (Goebl 2001).
        overlap: Seconds that joined notes overlap (Repp 1995).
        gap: Seconds that a hand is off the keys at a lift, where there is time for it.
        roll: Seconds from note to note of a rolled chord.
        ahead: Seconds that the left hand comes before the right, negative when after it.
        pedal: Whether the pedal covers the gaps of lifts.
        velocity: How loud, 1 to 127.
    """

    quarter_bpm: float = 72.0
    rubato: float = 0.05
    unsteady: float = 0.008
    halting: float = 0.0
    apart: float = 0.006
    lead: float = 0.02
    overlap: float = 0.025
    gap: float = 0.16
    roll: float = 0.06
    ahead: float = 0.0
    pedal: bool = False
    velocity: int = 60


@dataclass(frozen=True, slots=True)
class Mistakes:
    """What goes wrong, each as a chance from 0 to 1 at every note, chord, lift or hold.

    Attributes:
        wrong: A note's neighbour, one or two semitones off, instead of it.
        octave: A note an octave off.
        missing: A note left out.
        extra: A further key brushed beside a note.
        double: A note struck twice.
        late: A note that comes a good while after its chord.
        rolled: A chord struck note by note.
        no_lift: A planned lift left out.
        new_lift: A join broken by lifting the hand.
        let_go: A held note let go while others move under it.
        smeared: A note left down well into the next chord.
        detours: Waits, stumbles, new beginnings, skips and stops.
    """

    wrong: float = 0.0
    octave: float = 0.0
    missing: float = 0.0
    extra: float = 0.0
    double: float = 0.0
    late: float = 0.0
    rolled: float = 0.0
    no_lift: float = 0.0
    new_lift: float = 0.0
    let_go: float = 0.0
    smeared: float = 0.0
    detours: Detours = field(default_factory=Detours)
