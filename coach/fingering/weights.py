"""How much each term of effort weighs. The terms are explained where they are counted, in `effort`, `moving` and
`deals`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from importlib.resources import files
from tomllib import loads


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

    @property
    def prices(self) -> Mapping[str, float]:
        """The same as a plain dictionary, not to be changed: for those who ask by the thousand."""
        return self._values

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


def read_weights() -> dict[str, dict[str, float]]:
    """The sections of `weights.toml`: "trade", "start", "planned" and "as-written", each a weight by the name of its
    term."""
    text = files("coach.fingering").joinpath("weights.toml").read_text("utf8")
    return {section: {name: float(value) for name, value in table.items()} for section, table in loads(text).items()}


def _weights(hands: str) -> Weights:
    sections = read_weights()
    return Weights(sections["trade"] | sections[hands])


WEIGHTS, WEIGHTS_AS_WRITTEN = _weights("planned"), _weights("as-written")
"""The weights that plans are made with: for voices that are dealt out to the hands, as in hymns and chorales, and for
music whose staves say already which hand plays. Hymns ask for repeated notes that keep their finger and for inner
fingers that move on; editions of piano music go by the line (common practice, no source)."""
