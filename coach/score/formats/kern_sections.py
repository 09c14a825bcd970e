"""Which sections of a Humdrum file are endings, and of which times; where it goes back to the beginning.

A label names a section ("*>A"), and an expansion list tells in which order they are played ("*>[A,A1,A,A2]"; David
Huron, The Humdrum Toolkit: Reference Manual, section labels, expansion lists and the command thru). That "A1" is an
ending of "A" is a convention of names (common practice, no source).
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby, pairwise

from coach.score.piece import Bar, Quarters
from coach.score.repeats import MOST_TIMES
from coach.score.waymarks import Waymark

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


def going_back(
    order: Sequence[str], labels: Sequence[tuple[Quarters, str]], end: Quarters
) -> Iterator[tuple[Waymark, Quarters]]:
    """The marks that the order of sections stands for, each with its place: A, A, B, B, A is a D.C. al Fine after B,
    and A, B, A, C a D.C. al Coda (common practice, no source). Of other orders, and of one that goes through all
    sections again, it is not known how they are printed.

    Args:
        order: The expansion list.
        labels: Where each section begins, in order.
        end: Where the last one ends.
    """
    endings = endings_of(order)
    begins = {label: onset for onset, label in labels if label not in endings}
    printed = list(begins)
    played = [section for section, _ in groupby(label for label in order if label not in endings)]
    alike = (one == other for one, other in zip(played, printed, strict=False))
    turn = next((at for at, same in enumerate(alike) if not same), len(printed))
    back = played[turn:]
    if not back or back[0] not in printed[:turn]:
        return
    first = printed.index(back[0])
    rest = printed[turn:]
    again = back[: len(back) - len(rest)]
    if back != [*printed[first : first + len(again)], *rest] or not again or first + len(again) >= turn:
        return
    places = [*begins.values(), end]
    leaves = places[first + len(again)]
    if first:
        yield Waymark("segno"), places[first]
    yield Waymark("dal segno" if first else "da capo", until="coda" if rest else "fine"), places[turn]
    yield Waymark("to coda" if rest else "fine"), leaves
    if rest:
        yield Waymark("coda"), places[turn]
