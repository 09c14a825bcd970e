"""What the player wants of a plan."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from coach.fingering.deals import WayOut
from coach.fingering.weights import WEIGHTS, WEIGHTS_AS_WRITTEN, Weights

if TYPE_CHECKING:
    from coach.fingering.choices import Fix


@dataclass(frozen=True)
class Options:
    """What the player wants of a plan.

    Attributes:
        hands: "planned", or "as-written": the staves are the hands', or the voices where there are none.
        way_out: The first choice for a note out of reach.
        own_weights: Weight of each term of effort, where it is another than usual; None for the usual ones.
        choices: What the player, or the source, has chosen already, the most important first.
        pedal: Whether to say where the sustain pedal covers the gaps that lifts leave. Hands and fingers are the same
            with it: they are learned dry, and the pedal comes last.
    """

    hands: Literal["planned", "as-written"] = "planned"
    way_out: Literal["raise", "roll", "omit"] = "raise"
    own_weights: Weights | None = None
    choices: tuple[Fix, ...] = ()
    pedal: bool = False

    @property
    def usual(self) -> Options:
        """The same by the usual weights, whatever the player's habits."""
        return replace(self, own_weights=None)

    @property
    def weights(self) -> Weights:
        """Weight of each term of effort."""
        if self.own_weights is not None:
            return self.own_weights
        return WEIGHTS_AS_WRITTEN if self.as_written else WEIGHTS

    @property
    def as_written(self) -> bool:
        return self.hands == "as-written"

    @property
    def preference(self) -> tuple[WayOut, ...]:
        others: tuple[WayOut, ...] = ("raise", "roll", "omit")
        return (self.way_out, *(way for way in others if way != self.way_out))
