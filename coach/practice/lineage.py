"""Which takes count for a passage, so that its history survives when phrases are cut anew."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from coach.listening.word import WORST_FIRST
from coach.practice.entry import Entry
from coach.practice.ladder import Step
from coach.practice.passage import Passage
from coach.practice.progress import progress_of
from coach.score.counting import bars_words

if TYPE_CHECKING:
    from coach.listening.word import Word

ENOUGH = Fraction(3, 4)
"""Share of a passage that a take of other boundaries must have covered to count for it (common practice, no source)."""

NEW_PLAN = "planned anew since it was last played"
"""What is said of a phrase whose plan is another one than that of its last take."""


@dataclass(frozen=True, slots=True)
class History:
    """The takes that count for a passage, oldest first, as takes of that passage.

    Attributes:
        entries: With faults of this passage only, at its own onsets.
        kept_from: Where they come from, in a pianist's words, while the passage itself has not been played as it is
            cut today; "" where it has.
    """

    entries: tuple[Entry, ...]
    kept_from: str = ""


def counts_for(passage: Passage, entry: Entry) -> bool:
    """Whether a take says something about a passage.

    It does when it played the same notes, wherever they stand; or most of the passage under other boundaries. A take
    of joined phrases or of the whole piece counts for what lies in it by how that part of it went. A drill of a change
    counts where the change lies inside.
    """
    played = entry.passage
    if played.kind == "change":
        return played.piece == passage.piece and passage.onset <= played.onset and played.end <= passage.end
    if played.mark == passage.mark:
        return True
    if played.piece != passage.piece or _covered(passage, played) < ENOUGH:
        return False
    return played.kind == passage.kind or (not entry.step.seam and _word_in(passage, entry) is not None)


def part_of(passage: Passage, entry: Entry) -> bool:
    """Whether a take was one of a phrase that lies in this one, too little of it to count by itself."""
    played = entry.passage
    if passage.kind != "phrase" or played.kind != "phrase" or played.piece != passage.piece:
        return False
    return _covered(played, passage) >= ENOUGH and not counts_for(passage, entry)


def as_heard_in(passage: Passage, entry: Entry) -> Entry:
    """An entry as one of this passage.

    Faults elsewhere are left out, the same notes at another place are moved here, and what counts of a longer take is
    how this part of it went. The plan that it was played from is another passage's, which the player's choices and
    what comes before may make another one, though the notes are the same: it says nothing of whether this passage was
    planned anew.
    """
    played = entry.passage
    if played.mark != passage.mark or played.onset != passage.onset:
        entry = replace(entry, plan="")
    if played.mark == passage.mark and played.onset != passage.onset:
        by = passage.onset - played.onset
        moved = tuple(replace(fault, onset=fault.onset + by) for fault in entry.faults)
        reached = None if entry.reached is None else entry.reached + by
        place = replace(played, onset=passage.onset, end=passage.end)
        return replace(entry, faults=moved, reached=reached, passage=place)
    inside = tuple(fault for fault in entry.faults if passage.onset < fault.onset < passage.end)
    word = entry.verdict if played.kind in (passage.kind, "change") else _word_in(passage, entry) or entry.verdict
    reached = None if entry.reached is not None and entry.reached >= passage.end else entry.reached
    return replace(entry, faults=inside, verdict=word, reached=reached)


def _word_in(passage: Passage, entry: Entry) -> Word | None:
    """How a passage went in a take of a longer one: as the worst of its parts; None where that was not heard."""
    if entry.passage.kind == "phrase" or (entry.reached is not None and entry.reached < passage.onset):
        return None
    parts = [part for part in entry.parts if min(part.end, passage.end) > max(part.onset, passage.onset)]
    if _union([(part.onset, part.end) for part in parts], passage) < ENOUGH * (passage.end - passage.onset):
        return None
    return min((part.verdict for part in parts), key=WORST_FIRST.index, default=None)


def history_of(passage: Passage, entries: Sequence[Entry], steps: tuple[Step, ...]) -> History:
    """The history of a passage among the takes of its piece and of the same notes elsewhere, oldest first.

    A phrase joined of phrases that were practised apart goes on from the weakest of them.
    """
    own = [entry for entry in entries if counts_for(passage, entry)]
    direct = next((i for i, e in enumerate(own) if e.passage.kind == passage.kind), None)
    parts: tuple[Entry, ...] = ()
    if passage.kind == "phrase":
        before = own[direct].at if direct is not None else None
        earlier = [entry for entry in entries if before is None or entry.at < before]
        parts = _weakest_part(passage, earlier, steps)
    heard = sorted({e.uid: e for e in (*parts, *own)}.values(), key=lambda entry: (entry.at, entry.uid))
    return History(tuple(as_heard_in(passage, entry) for entry in heard), _kept_from(passage, heard))


def new_plan(planned: str, played: str) -> str:
    """What to say of a phrase whose plan is not the one that it was last played from; "" where it is.

    Args:
        planned: Mark of today's plan, "" where there is none.
        played: Mark of the plan of the last take, "" where it is not known.
    """
    return NEW_PLAN if planned and played and planned != played else ""


def _kept_from(passage: Passage, heard: Sequence[Entry]) -> str:
    played = [entry for entry in heard if entry.passage.kind == passage.kind]
    if not played or any(e.passage.mark == passage.mark and e.passage.piece == passage.piece for e in played):
        return ""
    last = played[-1]
    if last.passage.piece != passage.piece:
        return f'the same notes were played in "{last.title}"'
    low, high = last.passage.bars
    return f"history of {last.passage.label} as it was cut before ({bars_words(low, high)})"


def _weakest_part(passage: Passage, entries: Sequence[Entry], steps: tuple[Step, ...]) -> tuple[Entry, ...]:
    """The takes of the weakest among earlier phrases that lie in this one and cover enough of it together."""
    groups: dict[tuple[Fraction, Fraction], list[Entry]] = {}
    for entry in entries:
        if part_of(passage, entry):
            groups.setdefault((entry.passage.onset, entry.passage.end), []).append(entry)
    if _union(groups, passage) < ENOUGH * (passage.end - passage.onset):
        return ()

    def strength(span: tuple[Fraction, Fraction]) -> tuple[int, int]:
        progress = progress_of(steps, groups[span])
        # What was not played by both hands yet stands no way at all.
        rank = WORST_FIRST.index(progress.standing) if progress.standing else -1
        return rank, progress.place.index

    return tuple(groups[min(groups, key=strength)])


def _union(spans: Iterable[tuple[Fraction, Fraction]], passage: Passage) -> Fraction:
    covered, until = Fraction(0), passage.onset
    for onset, end in sorted(spans):
        start, stop = max(onset, until), min(end, passage.end)
        if stop > start:
            covered += stop - start
            until = stop
    return covered


def _covered(passage: Passage, other: Passage) -> Fraction:
    length = passage.end - passage.onset
    inside = min(passage.end, other.end) - max(passage.onset, other.onset)
    return max(inside, Fraction(0)) / length if length > 0 else Fraction(0)
