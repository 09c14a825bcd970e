"""What it costs the short fingers, thumb and little finger, that a key is black."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from coach.fingering.counts import Array
from coach.fingering.keyboard import FIFTH, is_black

CHORD = 3
"""Keys from which a hand has no fingers to spare."""

OVER_THE_BLACK, NEEDED = 0.25, 0.6
"""How much of a black key's cost to a short finger is left where the hand is over the black keys anyway, and where the
chord needs its thumb (common practice, no source)."""


class OnBlack(NamedTuple):
    """How much it costs the thumb and the little finger that a key is black; 1 where nothing makes it easier."""

    thumb: float
    little: float

    def terms(self, fingers: NDArray[np.int_]) -> dict[str, Array]:
        """The terms of fingers on the key, in the shape of the fingers."""
        thumb, little = (fingers == 1) * self.thumb, (fingers == 5) * self.little
        return {"thumb_on_black": thumb, "little_on_black": little} if self != NOT_BLACK else {}


NOT_BLACK = OnBlack(0.0, 0.0)


@lru_cache(maxsize=16384)
def on_black(keys: tuple[int, ...], at: int) -> OnBlack:
    """What a short finger on one of a hand's keys costs: nothing on a white key.

    A chord of three needs its thumb; with another finger on a black key the hand is over the black keys already, and
    opened to a fifth it lays its little finger flat. One key or two have other fingers to spare (common practice, no
    source).
    """
    if not is_black(keys[at]):
        return NOT_BLACK
    if len(keys) < CHORD:
        return OnBlack(1.0, 1.0)
    if sum(map(is_black, keys)) > 1:
        return OnBlack(OVER_THE_BLACK, OVER_THE_BLACK)
    return OnBlack(NEEDED, OVER_THE_BLACK if keys[-1] - keys[0] >= FIFTH else 1.0)
