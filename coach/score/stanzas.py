"""Which stanza is which, by what a file calls the lines of words under a note."""

from __future__ import annotations

import re
from collections.abc import Iterable
from itertools import islice

MOST_STANZAS = 100
"""Most stanzas believed; more numbers are slips."""


def stanza_places(labels: Iterable[str]) -> dict[str, int]:
    """The place of each stanza, from 0, in the order of the numbers: "2" comes before "10" and "verse 1" before
    "verse 2", and what has no number ("chorus") comes last.

    Args:
        labels: What the file calls the stanza of each line of words, in the order of the notes. Some files begin with
            2: stanzas are only those that have words.
    """
    ordered = sorted(dict.fromkeys(labels), key=_numbers)
    return {label: place for place, label in enumerate(islice(ordered, MOST_STANZAS))}


def _numbers(label: str) -> tuple[bool, list[int]]:
    numbers = [int(digits) for digits in re.findall(r"\d{1,9}", label)]
    return not numbers, numbers
