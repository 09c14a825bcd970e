"""What speaks for and against a phrase beginning at a note: the page's signs, its words, its rhythm.

Every sign is a small number with a name; `WEIGHTS` says how much each one counts. None of them decides alone.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import log, log2
from statistics import median

from coach.score.piece import Note, Piece, Quarters, music_ends
from coach.score.words import Syllable, after_word, begins_with_capital, melody, stanzas, stop_after

WITH_WORDS: dict[str, float] = {
    "bias": -4.2,
    "long note": 1.4,
    "longer than the next": 0.5,
    "longer than the one before": -0.3,
    "rest in the melody": 1.3,
    "rest in all voices": 1.7,
    "double bar": 2.0,
    "place in the bar": 2.5,
    "rhythm of the beginning": 1.8,
    "fermata": 9.0,
    "no fermata": -5.0,
    "breath": 5.0,
    "Fine or D.C.": 5.0,
    "words": -0.5,
    "inside a word": -3.3,
    "inside a syllable": -1.6,
    "punctuation": 4.0,
    "capital letter": 0.9,
}
"""What each sign counts where there are words, as a logarithm of odds.

Fitted by logistic regression, and rounded, to the fermatas of half of the chorales in music21's corpus, hidden while
fitting, and to the text lines of twenty hymns written down from memory. Fermatas, breath marks, Fine and D.C. say what
they mean and were not fitted: a player stops at them (common practice, no source).
"""

WORDLESS: dict[str, float] = WITH_WORDS | {
    "bias": -4.1,
    "long note": 1.25,
    "longer than the one before": 0.0,
    "rest in the melody": 1.1,
    "double bar": 3.5,
    "place in the bar": 2.0,
    "rhythm of the beginning": 1.7,
}
"""The same for music without words: fitted to the same chorales without their words, and to a twenty-fifth of the
folk songs of the Essen collection, whose lines are phrases."""

NEARBY = 8
"""How many notes away words may begin or end and still say something of a note."""


RHYTHM = 6
"""How many notes of the beginning's rhythm are looked for elsewhere."""

FERMATAS = 3
"""From so many fermatas on a score marks its phrases with them, and a line without one is no phrase end."""


@dataclass(frozen=True, slots=True)
class Place:
    """A note of the melody at which a phrase may begin.

    Attributes:
        index: Of the note in the melody.
        onset: Where it starts.
        signs: What speaks for or against it, by name.
    """

    index: int
    onset: Quarters
    signs: dict[str, float]

    @property
    def weighed(self) -> dict[str, float]:
        """What every sign counts."""
        weights = WITH_WORDS if "words" in self.signs else WORDLESS
        return {name: weights[name] * value for name, value in self.signs.items()}

    @property
    def score(self) -> float:
        """Logarithm of the odds that a phrase begins here, as far as this place alone can tell."""
        return sum(self.weighed.values())


@dataclass(frozen=True, slots=True)
class Style:
    """How a text is written: what share of its lines, and of its other words, begin with a capital letter."""

    lines: float = 0.85
    others: float = 0.15

    def capital(self, seen: bool) -> float:
        """What a capital letter, or its lack, says for a line beginning here, as a logarithm of odds."""
        if seen:
            return max(log(self.lines / self.others), 0.0)
        return min(log((1 - self.lines) / (1 - self.others)), 0.0)


class Evidence:
    """All signs of a piece. What the page and the rhythm say is gathered once; what the words say follows a style."""

    def __init__(self, piece: Piece) -> None:
        self.melody = melody(piece)
        notes = [syllable.note for syllable in self.melody]
        gaps = [later.onset - note.onset for note, later in pairwise(notes)]
        usual = median(gaps) if gaps else Fraction(1)
        page = _Page(piece)
        self._stanzas = stanzas(self.melody)
        self._signs: list[dict[str, float]] = []
        for index in range(1, len(notes)):
            note, before, gap = notes[index], notes[index - 1], gaps[index - 1]
            signs = {
                "bias": 1.0,
                "long note": _ratio(gap, usual),
                "longer than the next": _ratio(gap, gaps[index]) if index < len(gaps) else 0.0,
                "longer than the one before": _ratio(gap, gaps[index - 2]) if index > 1 else 0.0,
                "rest in the melody": float(before.end < note.onset),
                "rest in all voices": float(page.silent(before, note.onset)),
                "double bar": float(page.double(before, note.onset)),
                "Fine or D.C.": float(page.stop(before, note.onset)),
                "place in the bar": page.phase(note.onset, notes[0].onset),
                "rhythm of the beginning": _likeness(gaps, index),
                "fermata": page.fermata(before, note.onset),
                "breath": page.breath(before, note.onset),
            }
            if page.marks_phrases and not signs["fermata"]:
                signs["no fermata"] = 1.0
            self._signs.append(signs)

    def places(self, style: Style) -> tuple[Place, ...]:
        """The signs at every note of the melody but the first."""
        return tuple(
            Place(index, self.melody[index].note.onset, signs | _word_signs(self.melody, self._stanzas, index, style))
            for index, signs in enumerate(self._signs, 1)
        )


def _ratio(gap: Quarters, other: Quarters) -> float:
    return max(-2.0, min(2.0, log2(gap / other))) if gap > 0 and other > 0 else 0.0


def _word_signs(syllables: Sequence[Syllable], count: int, index: int, style: Style) -> dict[str, float]:
    """What the words say of a line beginning at a note, on average over the stanzas that have words around it."""
    inside = stops = capitals = 0.0
    known = melisma = 0
    for stanza in range(count):
        near = [s.texts[stanza] if stanza < len(s.texts) else "" for s in syllables[index : index + NEARBY]]
        following = next((text for text in near if text), None)
        before = after_word(syllables[max(index - NEARBY, 0) : index], min(index, NEARBY), stanza)
        if following is None or before is None:
            continue
        known += 1
        if not near[0]:
            melisma += 1
        elif before == "":
            inside += 1
        else:
            stops += stop_after(before)
            capitals += style.capital(begins_with_capital(following))
    if not known:
        return {}
    whole = max(known - inside - melisma, 1)
    # Stanzas agree with each other more than chance would have it: each further one counts for less.
    weight = known**0.5
    return {
        "words": 1.0,
        "inside a word": weight * inside / known,
        "inside a syllable": weight * melisma / known,
        "punctuation": weight * stops / whole,
        "capital letter": weight * capitals / whole,
    }


def _likeness(gaps: Sequence[Quarters], index: int) -> float:
    """How like the rhythm from a note on is to that of the beginning of the melody, 0 to 1."""
    here = gaps[index : index + RHYTHM]
    start = gaps[: len(here)]
    if len(here) < 3:
        return 0.0
    # A beginning in even notes is like every other: only a rhythm with character says something.
    if len(set(start)) == 1 and len(set(gaps)) > 1:
        return 0.5 * float(here == start)
    same = 0
    for one, other in zip(here, start, strict=True):
        if one != other:
            break
        same += 1
    return same / RHYTHM


class _Page:
    """Looks up what stands around a place of the page."""

    def __init__(self, piece: Piece) -> None:
        self.piece = piece
        self.fermatas = sorted((note.end, note.onset) for note in piece.notes if note.fermata)
        last = piece.end
        inner = {end for end, _ in self.fermatas if end < last}
        self.marks_phrases = len(inner) >= FERMATAS
        self.breaths = sorted(note.end for note in piece.notes if note.breath)
        self.doubles = sorted(bar.end for bar in piece.bars if bar.double)
        self.stops = sorted(music_ends(piece.bars))
        self.by_onset = sorted(piece.notes, key=lambda note: note.onset)
        self.onsets = [note.onset for note in self.by_onset]

    def _sounding(self, place: Quarters) -> list[Note]:
        """Notes that sound just before a place."""
        until = bisect_right(self.onsets, place)
        return [note for note in self.by_onset[max(0, until - 60) : until] if note.onset < place <= note.end]

    def silent(self, before: Note, place: Quarters) -> bool:
        """Whether all voices rest just before a note."""
        return before.end < place and not self._sounding(place)

    def double(self, before: Note, place: Quarters) -> bool:
        return any(before.onset < end <= place for end in self.doubles)

    def stop(self, before: Note, place: Quarters) -> bool:
        """Whether players stop or go back between two notes."""
        return any(before.onset < end <= place for end in self.stops)

    def fermata(self, before: Note, place: Quarters) -> float:
        """Share of the voices that come to rest with a fermata on the last note before a place, 0 below a half.

        A voice supports the fermata of another when it does not move under it.
        """
        if before.fermata:
            return 1.0
        marked = [onset for end, onset in self.fermatas if before.onset < end <= place]
        if not marked:
            return 0.0
        around = self._sounding(before.end)
        share = sum(note.fermata or note.onset <= max(marked) for note in around) / max(len(around), 1)
        return share if share >= 0.5 else 0.0

    def breath(self, before: Note, place: Quarters) -> float:
        return float(before.breath or sum(before.onset < end <= place for end in self.breaths) >= 2)

    def phase(self, place: Quarters, start: Quarters) -> float:
        """Whether a note stands where in its bar the melody begins."""
        here, there = self.piece.bar_at(place), self.piece.bar_at(start)
        return float(here.beat(place) == there.beat(start))


def style_of(syllables: Sequence[Syllable], starts: Sequence[int]) -> Style:
    """How a text is written, judged from where its lines are thought to begin.

    Args:
        syllables: The melody.
        starts: Indices of the melody's notes at which lines begin.
    """
    counts = {True: [1.5, 0.5], False: [0.5, 1.5]}
    for index, syllable in enumerate(syllables):
        for stanza, text in enumerate(syllable.texts):
            if not text or not any(letter.isalpha() for letter in text):
                continue
            if index and after_word(syllables, index, stanza) == "":
                continue
            counts[index in starts][0 if begins_with_capital(text) else 1] += 1
    lines, others = (seen / (seen + unseen) for seen, unseen in (counts[True], counts[False]))
    return Style(min(lines, 0.98), max(others, 0.02))
