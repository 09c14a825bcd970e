"""How much each term of effort weighs. The terms are explained where they are counted, in `effort` and `deals`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping


class Weights(Mapping[str, float]):
    """An unchangeable weight for every term.

    Args:
        values: The weights by name, none below zero: no term rewards strain.
    """

    __slots__ = ("_hash", "_values")

    def __init__(self, values: Mapping[str, float]) -> None:
        low = [name for name, value in values.items() if value < 0]
        if low:
            raise ValueError(f"weights below zero: {', '.join(low)}")
        self._values = dict(values)
        self._hash = hash(tuple(sorted(self._values.items())))

    def __getitem__(self, name: str) -> float:
        return self._values[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)

    def __hash__(self) -> int:
        return self._hash

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Weights) and self._values == other._values


WEIGHTS = Weights(
    {
        # One hand in one chord.
        "stretch": 0.5,
        "strain": 2.0,
        "cramp": 0.35,
        "thumb_on_black": 1.0,
        "little_on_black": 0.6,
        "weak_finger": 0.3,
        "weak_neighbours": 0.4,
        "double_thumb": 1.5,
        "off_frame": 0.5,
        # One hand's change of chord.
        "shift": 0.35,
        "line_stretch": 0.6,
        "line_strain": 2.0,
        "line_cramp": 0.5,
        "crossing": 1.5,
        "crossing_to_black": 2.0,
        "same_finger": 0.4,
        "changed_finger": 0.8,
        "lift_quick": 3.0,
        "lift": 1.5,
        "lift_long": 0.6,
        "broken_line": 1.0,
        "shift_in_lift": 0.15,
        # How the notes are dealt out.
        "open_left": 6.0,
        "close_right": 0.6,
        "left_heavy": 2.0,
        "idle_hand": 4.0,
        "far_side": 0.05,
        "redistribution": 1.5,
        # Ways out; the player's preference puts one of raise, roll and omit first.
        "way_out": 100.0,
        "second_choice": 30.0,
        "third_choice": 60.0,
        "let_go": 120.0,
    }
)
