"""Where a phrase comes again, as the lines of many hymn tunes do: what is chosen for it once is meant for both."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from coach.score.piece import Phrase, Quarters


class Again(NamedTuple):
    """A phrase with the notes of another one.

    Attributes:
        phrase: The phrase.
        by: How much later it begins, in quarter notes; below zero where it comes first.
    """

    phrase: Phrase
    by: Quarters


def where_again(phrases: Sequence[Phrase], onset: Quarters) -> tuple[Again, ...]:
    """The other phrases with the notes of the one that has a place.

    Args:
        phrases: How the piece is cut.
        onset: The place; where no phrase has it, nothing comes again.
    """
    here = next((phrase for phrase in phrases if phrase.onset <= onset < phrase.end), None)
    if here is None:
        return ()
    others = (phrase for phrase in phrases if phrase is not here and _first(phrase) == _first(here))
    return tuple(Again(phrase, phrase.onset - here.onset) for phrase in others)


def _first(phrase: Phrase) -> int:
    """Number of the first phrase with its notes."""
    return phrase.again or phrase.number
