"""Which sections of a Humdrum file are endings, and of which times.

A label names a section ("*>A"), and an expansion list tells in which order they are played ("*>[A,A1,A,A2]"; David
Huron, The Humdrum Toolkit: Reference Manual, section labels, expansion lists and the command thru). That "A1" is an
ending of "A" is a convention of names (common practice, no source).
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from coach.score.piece import Bar, Quarters
from coach.score.repeats import MOST_TIMES

ORDER = re.compile(r"\*>\[([^\[\]]*)\]")
"""An expansion list; one with a name ("*>norep[A,A2]") is another way to play, and no other than this one counts."""

LABEL = re.compile(r"\*>([^\[\]]+)")


def endings_of(order: Sequence[str]) -> dict[str, tuple[int, ...]]:
    """The times on which each ending is played: {"A1": (1,), "A2": (2,)} for A, A1, A, A2.

    Where the music has moved on after an ending the section's repeats are over: coming back to it is a da capo.
    """
    times: Counter[str] = Counter()
    found: dict[str, dict[str, list[int]]] = {}
    visited: set[str] = set()
    over: set[str] = set()
    for place, (section, ending) in enumerate(pairwise(order)):
        visited.add(section)
        if section in over:
            continue
        times[section] += 1
        if re.fullmatch(re.escape(section) + r"\d+", ending):
            found.setdefault(section, {}).setdefault(ending, []).append(times[section])
            if place + 2 < len(order) and order[place + 2] not in visited:
                over.add(section)
    return {
        ending: tuple(time for time in played if time <= MOST_TIMES)
        for section, endings in found.items()
        if times[section] > 1
        for ending, played in endings.items()
    }


def with_endings(bars: Sequence[Bar], order: Sequence[str], labels: Sequence[tuple[Quarters, str]]) -> list[Bar]:
    """The bars, with the endings that begin with a label and last to the next one.

    Args:
        bars: All bars.
        order: The expansion list.
        labels: Where each section begins, in order.
    """
    endings = endings_of(order)
    marked = []
    for bar in bars:
        after = bisect_right(labels, bar.onset, key=lambda label: label[0])
        times = endings.get(labels[after - 1][1], ()) if after else ()
        marked.append(replace(bar, repeat=replace(bar.repeat, ending=times)))
    return marked
