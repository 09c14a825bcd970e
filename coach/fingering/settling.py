"""Which of the player's choices a phrase can honour, and why it refuses the others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from coach.fingering.choices import Fix
from coach.fingering.limits import can_be, limits_of
from coach.fingering.refusals import refusal
from coach.fingering.search import FREE, Limits, Search


@dataclass(frozen=True, eq=False)
class Settled:
    """The choices of one phrase, settled.

    Attributes:
        honoured: Those that the plan honours.
        refused: The others, each with the reason.
        limits: What the honoured ones leave of the search.
    """

    honoured: tuple[Fix, ...] = ()
    refused: tuple[tuple[Fix, str], ...] = ()
    limits: Limits = field(default=FREE)


def settle(search: Search, fixes: Sequence[Fix]) -> Settled:
    """Honour as many choices as can be, an earlier one before a later one.

    Args:
        search: The search of the phrase.
        fixes: Choices in it, the most important first.
    """
    kept = list(fixes)
    refused: list[tuple[Fix, str]] = []
    while not can_be(search, kept):
        wrong = _first_that_cannot_be(search, kept)
        refused.append((kept[wrong], refusal(search, kept[wrong], kept[:wrong])))
        del kept[wrong]
    return Settled(tuple(kept), tuple(refused), limits_of(search, kept))


def _first_that_cannot_be(search: Search, fixes: Sequence[Fix]) -> int:
    """The first choice that cannot be honoured together with those before it; all together cannot."""
    possible, impossible = 0, len(fixes)
    while impossible - possible > 1:
        middle = (possible + impossible) // 2
        if can_be(search, fixes[:middle]):
            possible = middle
        else:
            impossible = middle
    return possible
