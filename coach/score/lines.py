"""Where lines begin, all weighed together: the best cut of a melody, found by dynamic programming."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import lcm

from coach.errors import CoachError
from coach.score.evidence import Evidence, Place, Style, style_of
from coach.score.piece import Note, Piece, Quarters
from coach.score.words import NAMED_METRES

LENGTHS = {
    1: -7.8,
    2: -5.9,
    3: -3.3,
    4: -1.2,
    5: -0.3,
    6: 0.4,
    7: 0.5,
    8: 0.65,
    11: -0.25,
    12: -0.5,
    13: -1.3,
    14: -1.3,
}
"""What a line of so many syllables counts: hymns' lines have four to twelve, most have six to eight (common practice,
no source). Lengths not named count nothing; longer ones cost more and more."""

EQUAL = 1.2
"""What a line counts that lasts as long as the one before it."""

LONGEST = 26
"""Most notes of the melody in one line."""

MOVED = 1.5
"""Cost of a boundary that has to move because a note sounds on."""

NEAREST = Fraction(2)
"""How far a boundary may move to a place where no note sounds on, in quarter notes."""

AGREES = 1.5
"""What each line counts that ends where one of the metres that hymnals list has it, when the words have as many
syllables as that metre."""

METRES = (
    *NAMED_METRES.values(),
    *(lines * 2 for lines in NAMED_METRES.values()),
    (5, 5, 8, 8, 5, 5),
    (6, 4, 6, 4, 6, 6, 4),
    (6, 4, 6, 4, 6, 6, 6, 4),
    (6, 5, 6, 5),
    (6, 5, 6, 5) * 2,
    (6, 6, 4, 6, 6, 6, 4),
    (6, 6, 5, 6, 6, 5, 7, 8, 6),
    (6, 6, 6, 6),
    (6, 6, 6, 6) * 2,
    (6, 6, 6, 6, 8, 8),
    (6, 6, 7, 7, 7, 7),
    (7, 6, 7, 6),
    (7, 6, 7, 6) * 2,
    (7, 7, 7, 7),
    (7, 7, 7, 7) * 2,
    (7, 7, 7, 7, 7, 7),
    (7, 8, 7, 8, 8, 8),
    (8, 4, 8, 4, 8, 8),
    (8, 5, 8, 5),
    (8, 6, 8, 6, 8, 6),
    (8, 7, 8, 7),
    (8, 7, 8, 7) * 2,
    (8, 7, 8, 7, 4, 7),
    (8, 7, 8, 7, 7, 7),
    (8, 7, 8, 7, 8, 7),
    (8, 7, 8, 7, 8, 8, 7),
    (8, 7, 8, 7, 5, 5, 5, 6, 7),
    (8, 7, 8, 7, 6, 6, 6, 6, 7),
    (8, 8, 7, 8, 8, 7),
    (8, 8, 8, 8, 8, 8),
    (9, 8, 9, 8),
    (9, 8, 9, 8, 8, 8),
    (10, 4, 10, 4, 10, 10),
    (10, 10, 10, 10),
    (10, 10, 11, 11),
    (11, 10, 11, 10),
    (11, 11, 11, 11),
    (11, 12, 12, 10),
    (12, 11, 12, 11),
)
"""Metres of the metrical indexes of hymnals (common practice, from memory)."""


SLACK = 3
"""So many syllables more or fewer than the metre has are the poet's or the engraver's liberty, however short it is."""

SLACK_SHARE = 0.125
"""Share of a metre's syllables that may be there too many or be lacking before it is another metre."""


@dataclass(frozen=True, slots=True)
class Line:
    """Where a line begins, and what says so.

    Attributes:
        place: The note of the melody and the signs at it.
        onset: Where the cut is, in quarter notes; no note sounds across it.
        syllables: Syllables of the line that ends here, notes where there are no words.
        wanted: Syllables that a given metre has in this line, None where none is given.
    """

    place: Place
    onset: Quarters
    syllables: int
    wanted: int | None = None


def clean_breaks(notes: Iterable[Note]) -> tuple[Quarters, ...]:
    """Onsets at which no earlier note sounds on: the only places where one phrase can follow another."""
    breaks: list[Quarters] = []
    latest: Quarters | None = None
    for note in sorted(notes, key=lambda note: note.onset):
        if latest is not None and note.onset >= latest and (not breaks or breaks[-1] != note.onset):
            breaks.append(note.onset)
        latest = note.end if latest is None else max(latest, note.end)
    return tuple(breaks)


def find_lines(piece: Piece, metre: Sequence[int] | None = None) -> tuple[Line, ...]:
    """The lines of a piece, the first one left out: it begins where the piece does.

    Args:
        piece: The piece.
        metre: Syllables a line, where the player gives them; else lines follow the signs, and a metre that hymnals
            list where the words scan in one.

    Raises:
        CoachError: the given metre does not fit.
    """
    search = _Search(piece)
    if metre:
        search.must_fit(metre)
    if search.count < 2:
        return ()
    cut = search.fit(metre) if metre else search.free()
    if search.worded:
        # How the text uses capital letters is known only when its lines are.
        for _ in range(2):
            search.weigh(style_of(search.evidence.melody, [0, *cut]))
            cut = search.fit(metre) if metre else search.free()
        if not metre:
            cut = search.scanned(cut)
    return search.lines(cut, search.wanted(metre) if metre else ())


class _Search:
    def __init__(self, piece: Piece) -> None:
        self.title = piece.title
        self.evidence = Evidence(piece)
        syllables = self.evidence.melody
        self.onsets = [syllable.note.onset for syllable in syllables] + [piece.end]
        # Lengths are compared often: as whole numbers they compare fast.
        common = lcm(*(onset.denominator for onset in self.onsets))
        self.ticks = [int(onset * common) for onset in self.onsets]
        self.clean = clean_breaks(piece.notes)
        self.count = len(syllables)
        self.worded = any(syllable.sung for syllable in syllables)
        self.sung = [0]
        for syllable in syllables:
            self.sung.append(self.sung[-1] + (syllable.sung or not self.worded))
        self.weigh(Style())

    def weigh(self, style: Style) -> None:
        """For every place the cut that it would make, and what it counts; one place a cut."""
        self.places: dict[int, Place] = {}
        best: dict[Quarters, tuple[float, int]] = {}
        for place in self.evidence.places(style):
            low, high = self.onsets[place.index - 1], self.onsets[place.index + 1]
            found = _nearest(place.onset, self.clean[bisect_right(self.clean, low) : bisect_left(self.clean, high)])
            if found is None:
                continue
            score = place.score - MOVED * (found != place.onset)
            if found not in best or best[found][0] < score:
                best[found] = (score, place.index)
            self.places[place.index] = place
        self.breaks = {index: cut for cut, (_, index) in best.items()}
        self.scores = {index: score for score, index in best.values()}

    def syllables(self, start: int, end: int) -> int:
        """Syllables of a stretch of the melody; its notes where it has no words."""
        return self.sung[end] - self.sung[start] or end - start

    def _line(self, start: int, end: int) -> float:
        syllables = self.syllables(start, end)
        length = LENGTHS.get(syllables, -0.65 - 0.35 * (syllables - 12) if syllables > 12 else 0.0)
        return length + (self.scores[end] if end < self.count else 0.0)

    def free(self) -> list[int]:
        """The best cut, by signs and lengths."""
        bounds = [0, *sorted(self.scores), self.count]
        before: dict[int, list[int]] = {}
        for place, end in enumerate(bounds[1:], 1):
            # Where no boundary is possible for long, the nearest one before must do.
            low = min(bisect_left(bounds, end - LONGEST), place - 1)
            before[end] = bounds[low:place]
        best: dict[tuple[int, int], tuple[float, int | None]] = {}
        for end in bounds[1:]:
            for start in before[end]:
                own = self._line(start, end)
                if start == 0:
                    best[start, end] = (own, None)
                    continue
                length = self.ticks[end] - self.ticks[start]
                best[start, end] = max(
                    (
                        best[earlier, start][0] + own + EQUAL * (self.ticks[start] - self.ticks[earlier] == length),
                        earlier,
                    )
                    for earlier in before[start]
                )
        return self._back(best)

    def _back(self, best: Mapping[tuple[int, int], tuple[float, int | None]]) -> list[int]:
        last = max((pair for pair in best if pair[1] == self.count), key=lambda pair: best[pair][0])
        cut: list[int] = []
        start, end = last
        while start:
            cut.append(start)
            before = best[start, end][1]
            assert before is not None
            start, end = before, start
        return cut[::-1]

    def worth(self, cut: Sequence[int]) -> float:
        """What a cut counts altogether."""
        bounds = [0, *cut, self.count]
        total = sum(self._line(start, end) for start, end in pairwise(bounds))
        lengths = [self.ticks[end] - self.ticks[start] for start, end in pairwise(bounds)]
        return total + EQUAL * sum(one == other for one, other in pairwise(lengths))

    def scanned(self, cut: list[int]) -> list[int]:
        """The cut that a listed metre makes, where the words have as many syllables and the signs do not object."""
        best, most = cut, self.worth(cut)
        for metre in METRES:
            if sum(metre) != self.sung[-1]:
                continue
            wanted = self._at_syllables(metre)
            if wanted is None:
                continue
            worth = self.worth(wanted) + AGREES * len(set(wanted) & set(cut))
            if worth > most:
                best, most = wanted, worth
        return best

    def _at_syllables(self, metre: Sequence[int]) -> list[int] | None:
        cut, total = [], 0
        for syllables in metre[:-1]:
            total += syllables
            index = next((i for i in range(self.count) if self.sung[i] == total and self.sung[i + 1] > total), None)
            if index is None or index not in self.scores:
                return None
            cut.append(index)
        return cut

    def wanted(self, metre: Sequence[int]) -> list[int]:
        """Syllables of every line, the metre repeated as often as the piece has room for it.

        Without words notes may be more than syllables, because one syllable may have several, but not fewer.
        """
        total, once = self.sung[-1], sum(metre)
        times = round(total / once) if self.worded else int(total / once + SLACK_SHARE)
        return list(metre) * max(1, times)

    def must_fit(self, metre: Sequence[int]) -> None:
        """Refuse a metre that is not this piece's: words have a syllable for each of the metre's, or nearly.

        Raises:
            CoachError: it does not fit.
        """
        total, once, wanted = self.sung[-1], sum(metre), sum(self.wanted(metre))
        if total >= wanted - _slack(wanted) and (not self.worded or total <= wanted + _slack(wanted)):
            return
        what = "syllable" if self.worded else "note"
        makes = f"{once}"
        if total > once:
            times = total // once
            makes = f"{times * once} or {(times + 1) * once} (the lines of a refrain belong to the metre too)"
        has = f"its melody has {total} {what}{'' if total == 1 else 's'}"
        raise self._misfit(metre, f"{has}, where the metre makes {makes}")

    def _misfit(self, metre: Sequence[int], why: str) -> CoachError:
        return CoachError(f'"{self.title}" does not fit the metre {".".join(map(str, metre))}: {why}')

    def fit(self, metre: Sequence[int]) -> list[int]:
        """The best cut into lines of given lengths, repeated as often as the piece has room for them.

        Words decide where they scan; where they do not, or there are none, every syllable too many or too few costs.

        Raises:
            CoachError: notes sound on at so many places that there are too few lines.
        """
        wanted = self.wanted(metre)
        ends = sorted(self.scores)
        best: list[dict[int, tuple[float, int]]] = [{0: (0.0, 0)}]
        for number, syllables in enumerate(wanted):
            row: dict[int, tuple[float, int]] = {}
            for end in [self.count] if number == len(wanted) - 1 else ends:
                for start, (value, _) in best[-1].items():
                    if start < end:
                        misfit = self.syllables(start, end) - syllables
                        cost = (1.5 if self.worded or misfit < 0 else 0.6) * abs(misfit)
                        score = value - cost + (self.scores[end] / 2 if end < self.count else 0.0)
                        if end not in row or row[end][0] < score:
                            row[end] = (score, start)
            best.append(row)
        if self.count not in best[-1]:
            raise self._misfit(metre, f"it cannot be cut into {len(wanted)} lines")
        cut, end = [], self.count
        for row in reversed(best[1:]):
            end = row[end][1]
            cut.append(end)
        return [start for start in reversed(cut) if start]

    def lines(self, cut: Sequence[int], wanted: Sequence[int]) -> tuple[Line, ...]:
        bounds = [0, *cut]
        return tuple(
            Line(
                self.places[index],
                self.breaks[index],
                self.syllables(bounds[number], index),
                wanted[number] if wanted else None,
            )
            for number, index in enumerate(cut)
        )


def _slack(syllables: int) -> float:
    """How many syllables a piece may have more or fewer than its metre."""
    return max(SLACK, SLACK_SHARE * syllables)


def _nearest(place: Quarters, clean: Sequence[Quarters]) -> Quarters | None:
    """The clean break nearest to a place, an earlier one before a later one; None where none is near enough."""
    near = [found for found in clean if abs(found - place) <= NEAREST]
    return min(near, key=lambda found: (abs(found - place), found), default=None)
