"""What one hand has to do in one chord, and every way its fingers can do it.

The left hand is planned as a right hand on the keyboard mirrored about D: keys and distances here are *hand
coordinates*, growing from the thumb's side to the little finger's. One set of rules serves both hands, and the mirror
image of a passage gets the mirror image of its fingering.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, combinations_with_replacement
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from coach.fingering.hand import Hand, span_limits
from coach.fingering.keyboard import OCTAVE, Keyboard, are_white_neighbours, in_white_keys, mirrored
from coach.fingering.plan import Side

Fingerings = NDArray[np.int8]
"""Shape (ways, keys): in each row a finger, 1 to 5, for every key of a grip."""


_FINGERS = np.arange(1, 6, dtype=np.int8)


class Grip(NamedTuple):
    """The keys of one hand in one chord, in hand coordinates, time left out.

    Attributes:
        keys: Keys from the thumb's side outward, each once (a unison is one key).
        struck: Whether the key is struck in this chord.
        kept: Whether a note on the key started earlier and sounds on: its finger stays.
        rolled: Whether the struck keys are played in turn, so that the hand need not span them at once.
    """

    keys: tuple[int, ...]
    struck: tuple[bool, ...]
    kept: tuple[bool, ...]
    rolled: bool = False


class Handful(NamedTuple):
    """What one hand has to do in one chord.

    Attributes:
        grip: The keys.
        since: Latest stroke of each key up to this chord, in quarter notes.
        until: End of each key's longest note, in quarter notes.
        memory: For a hand with nothing to play: the handful it played last, whose fingers it remembers.
    """

    grip: Grip
    since: tuple[float, ...] = ()
    until: tuple[float, ...] = ()
    memory: Handful | None = None

    @property
    def keys(self) -> tuple[int, ...]:
        return self.grip.keys

    @property
    def struck(self) -> tuple[bool, ...]:
        return self.grip.struck


RESTING = Handful(Grip((), (), ()))
"""A hand that has not played yet."""


def hand_key(side: Side, midi: int) -> int:
    """A key in hand coordinates; the same function leads back."""
    return midi if side == "right" else mirrored(midi)


@dataclass(frozen=True, slots=True, eq=False)
class Ways:
    """All fingerings of a grip with what the effort terms need to know of them.

    Attributes:
        fingers: One row a fingering.
        place: For each fingering where the hand stands, in white keys from the C at or below the innermost key: the
            mean of its keys' centres less the natural offset of their fingers, which is the centre of the key under the
            third finger at rest.
        outer: For each fingering the finger on the outermost key, less one.
        chosen: One row a fingering, five columns a key: 1.0 for its finger, 0.0 for the others.
        rows: The fingerings as plain numbers.
    """

    fingers: Fingerings
    place: NDArray[np.float64]
    outer: NDArray[np.intp]
    chosen: NDArray[np.float64]
    rows: tuple[tuple[int, ...], ...]

    @classmethod
    def of(cls, fingers: Fingerings, place: NDArray[np.float64]) -> Ways:
        """Fingerings and where the hand stands with them."""
        outer = fingers[:, -1].astype(np.intp) - 1 if fingers.shape[1] else np.zeros(len(fingers), np.intp)
        chosen = (fingers[:, :, None] == _FINGERS).reshape(len(fingers), 5 * fingers.shape[1]).astype(float)
        return cls(fingers, place, outer, chosen, tuple(map(tuple, fingers.tolist())))

    def __len__(self) -> int:
        return len(self.rows)


def in_octave(keys: tuple[int, ...]) -> tuple[int, tuple[int, ...]]:
    """The octave of the innermost key, and keys as they lie in the lowest one."""
    octave = keys[0] // OCTAVE if keys else 0
    return octave, tuple([key - OCTAVE * octave for key in keys]) if octave else keys


def ways(grip: Grip, hand: Hand, keyboard: Keyboard) -> Ways:
    """Every fingering that the hand can do.

    Fingers lie in the order of their keys, one key a finger, except that the thumb may cover two neighbouring white
    keys; every pair stays within its practical span. Keys that are rolled need not be spanned together, but each of
    them with the keys that are kept.
    """
    return _ways(in_octave(grip.keys)[1], grip.kept if grip.rolled else None, hand, keyboard)


@lru_cache(maxsize=8192)
def _ways(keys: tuple[int, ...], kept: tuple[bool, ...] | None, hand: Hand, keyboard: Keyboard) -> Ways:
    """The fingerings of keys struck together, or of rolled ones some of which are kept."""
    if not keys:
        return Ways.of(np.zeros((1, 0), np.int8), np.zeros(1))
    rows = _orders(len(keys), len(keys) > 1 and are_white_neighbours(keys[0], keys[1]), kept is not None)
    fits = np.ones(len(rows), np.bool_)
    for low, high in combinations(range(len(keys)), 2):
        if kept is None or kept[low] or kept[high]:
            spanned = _spanned(hand, keyboard, keys[low] % OCTAVE, keys[high] - keys[low])
            fits &= spanned[rows[:, low], rows[:, high]]
    fingers = rows[fits]
    centres = np.array([in_white_keys(key) for key in keys])
    return Ways.of(fingers, (centres - (fingers - 3.0)).mean(axis=1))


@lru_cache(maxsize=2048)
def _spanned(hand: Hand, keyboard: Keyboard, key: int, interval: int) -> NDArray[np.bool_]:
    """Which fingers can span a key, counted within its octave, and the one so many semitones outward: an array
    `[finger, outer finger]`; one finger alone is the thumb's business that covers two."""
    limits = span_limits(hand)
    fits = (interval >= limits[0]) & (keyboard.distance_mm(key, key + interval) <= limits[5] + 1e-6)
    return np.asarray(fits | np.eye(6, dtype=bool))


@lru_cache(maxsize=64)
def _orders(keys: int, thumb_covers_two: bool, rolled: bool) -> Fingerings:
    """Fingers in the order of so many keys, whatever they span."""
    orders = list(combinations(range(1, 6), keys))
    if thumb_covers_two:
        orders += [(1, *rest) for rest in combinations(range(1, 6), keys - 1) if rest[0] == 1]
    if not orders and rolled:
        # More keys than fingers in a roll: a finger that has played may play again further up.
        orders = [
            order
            for order in combinations_with_replacement(range(1, 6), keys)
            if len(set(order)) == 5 and order[0] == 1
        ]
    return np.array(orders, np.int8).reshape(len(orders), keys)
