"""Where a pianist breathes: a piece cut into phrases, each of which says what its end rests on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from fractions import Fraction
from itertools import pairwise

from coach.score.lines import Line, clean_breaks, find_lines
from coach.score.piece import Phrase, Piece, Quarters, chords_of, music_ends, partings
from coach.score.words import singing_voice

CUTTING = 1
"""Version of the search for phrases. Raise it when the same piece is cut differently, so that what is kept of its
phrases is counted again."""

FOUR_BARS = 4
"""Bars to a phrase where the page gives no sign (common practice, no source)."""

NEAREST = Fraction(2)
"""How far a boundary between four-bar phrases may move to a clean break, in quarter notes."""

PLAIN = 1.0
"""From this on, as a logarithm of odds, the signs at a boundary are plain; below it the boundary is a guess."""

HARMONISED = 0.75
"""Share of a melody's notes that come with a chord in music for singers; in chorales it is 0.8 and more."""

COMFORTABLE = 12
"""Chords that a pianist likes to drill at once; a longer phrase can be halved (common practice, no source)."""

LEAST = 3
"""Fewest chords of each half of a phrase."""

DOUBLE_BAR = "double bar"

FINE = "Fine"

SAID = {
    "fermata": "fermata",
    "breath": "breath mark",
    "double bar": DOUBLE_BAR,
    "Fine or D.C.": FINE,
    "punctuation": "end of a line of text",
    "capital letter": "end of a line of text",
    "rest in all voices": "rest",
    "rest in the melody": "rest in the melody",
    "long note": "long note",
    "longer than the next": "long note",
    "rhythm of the beginning": "the rhythm begins again",
    "place in the bar": "grouping of the bars",
}
"""What a boundary rests on, in the player's words."""


def find_phrases(piece: Piece, metre: Sequence[int] | None = None) -> tuple[Phrase, ...]:
    """Cut a piece into phrases; no note sounds across a boundary.

    The player's own cuts come first. Else all signs are weighed together: fermatas, breath marks, words, rests, long
    notes, double bars, rhythm and bars. A piece that gives none falls into four-bar phrases, its pickup respected,
    which is said to be a guess. No phrase goes on from one ending into another, or after a D.C. or D.S.

    Args:
        piece: The piece.
        metre: Syllables of each line, where the player gives a poetic metre.

    Raises:
        CoachError: the given metre does not fit the piece.
    """
    if not piece.notes:
        return ()
    if metre is None and piece.cuts is not None:
        return cut(piece, dict(piece.cuts))
    lines = find_lines(piece, metre)
    worded = singing_voice(piece) is not None
    if metre is not None:
        return cut(piece, {line.onset: _line(line, worded) for line in lines})
    marked = worded or any(note.fermata or note.breath for note in piece.notes)
    certain = [line for line in lines if line.place.score >= PLAIN]
    clean = set(clean_breaks(piece.notes))
    apart = {onset: why for onset, why in partings(piece.bars).items() if onset in clean}
    if not lines or not (marked or sings(piece) or 2 * len(certain) >= len(lines)):
        # Where there are words a Fine has been weighed against them.
        ends = {} if worded else {onset: why for onset, why in music_ends(piece.bars).items() if onset in clean}
        guessed = dict.fromkeys(_four_bar_ends(piece, ends), "four bars (a guess)")
        return cut(piece, {**guessed, **ends, **apart})
    return cut(piece, {**{line.onset: _reason(line, piece) for line in lines}, **apart})


def sings(piece: Piece) -> bool:
    """Whether a piece without words is written as if for singers: a melody alone, or one that is mostly in chords.

    In other keyboard music the highest voice is often figuration, and says little of phrases.
    """
    struck = Counter(note.onset for note in piece.notes)
    upper = {note.onset for note in piece.notes if note.voice == piece.voices[0]}
    chords = sum(struck[onset] >= min(3, len(piece.voices)) for onset in upper)
    return chords >= HARMONISED * len(upper)


def cut(piece: Piece, ends: Mapping[Quarters, str]) -> tuple[Phrase, ...]:
    """Phrases between boundaries.

    Args:
        piece: The piece.
        ends: For every boundary inside the piece the onset of the phrase after it, and what it rests on.
    """
    first, last = min(note.onset for note in piece.notes), piece.end
    places = sorted(place for place in ends if first < place < last)
    starts = [Fraction(0), *places]
    until = [*places, last]
    reasons = [*(ends[place] for place in places), "end of the piece"]
    phrases = []
    found: dict[frozenset[tuple[str, Quarters, Quarters, int]], int] = {}
    for number, (start, end, why) in enumerate(zip(starts, until, reasons, strict=True), 1):
        earlier = found.setdefault(_sung(piece, start, end), number)
        phrases.append(Phrase(number, start, end, why, earlier if earlier != number else None))
    return tuple(phrases)


def _sung(piece: Piece, start: Quarters, end: Quarters) -> frozenset[tuple[str, Quarters, Quarters, int]]:
    """What each voice has from one place to another, counted from the first."""
    return frozenset(
        (note.voice, note.onset - start, note.duration, note.midi) for note in piece.notes if start <= note.onset < end
    )


def halfway(piece: Piece, phrase: Phrase) -> Quarters | None:
    """Where a long phrase can be halved: the clean break nearest to its middle, at a beat if there is one.

    None for a phrase that is short enough, or that no clean break divides.
    """
    chords = chords_of(piece, phrase)
    if len(chords) <= COMFORTABLE:
        return None
    clean = set(clean_breaks(piece.notes))
    middle = (phrase.onset + phrase.end) / 2
    found = [chord.onset for chord in chords[LEAST : 1 - LEAST] if chord.onset in clean]

    def awkward(onset: Quarters) -> tuple[float, Quarters]:
        off_beat = 0.0 if piece.bar_at(onset).beat(onset).is_integer() else 1.0
        return abs(float(onset - middle)) + off_beat, onset

    return min(found, key=awkward, default=None)


def _line(line: Line, worded: bool) -> str:
    """What a boundary rests on that a given metre makes, and where the line is another length than the metre's."""
    if line.wanted in (None, line.syllables):
        return f"line of {line.syllables} {'syllables' if worded else 'notes'}"
    if worded:
        return f"line of {line.syllables} syllables, not {line.wanted}"
    return f"line of {line.syllables} notes for {line.wanted} syllables"


def _reason(line: Line, piece: Piece) -> str:
    """What a boundary rests on: its weightiest signs, at most two; a boundary that rests on little is a guess."""
    weighed = {name: value for name, value in line.place.weighed.items() if name in SAID and value > 0}
    said: dict[str, float] = {}
    for name, value in weighed.items():
        said[SAID[name]] = said.get(SAID[name], 0.0) + value
    best = sorted(said, key=lambda text: -said[text])
    told = [text for text in best if said[text] >= max(1.0, said[best[0]] / 4)][:2] or best[:1]
    if DOUBLE_BAR in told and _repeats(piece, line.onset):
        told[told.index(DOUBLE_BAR)] = "repeat sign"
    if FINE in told:
        ends = music_ends(piece.bars)
        told[told.index(FINE)] = ends[max(end for end in ends if end <= line.onset)]
    reason = ", ".join(told) or "even lengths"
    return reason if line.place.score >= PLAIN else f"{reason} (a guess)"


def _repeats(piece: Piece, onset: Quarters) -> bool:
    """Whether the last double bar up to a place is a repeat sign."""
    lines = [place for place, bar in enumerate(piece.bars) if bar.double and bar.end <= onset]
    return bool(lines) and (
        piece.bars[lines[-1]].repeat.closes or any(bar.repeat.opens for bar in piece.bars[lines[-1] + 1 :][:1])
    )


def _four_bar_ends(piece: Piece, ends: Collection[Quarters]) -> list[Quarters]:
    """Every fourth bar line, moved back by the length of the pickup, to the clean break nearest to it.

    Args:
        piece: The piece.
        ends: Where players stop or go back: from there on bars are counted anew.
    """
    clean = clean_breaks(piece.notes)
    bars = [bar for bar in piece.bars if bar.number != 0 and not bar.before]
    pickup = sum((bar.duration for bar in piece.bars if bar.number == 0), Fraction(0))
    last = max((note.end for note in piece.notes), default=Fraction(0))
    found: list[Quarters] = []
    for begins, stop in pairwise([Fraction(0), *sorted(end for end in ends if 0 < end < last), last]):
        inside = [bar for bar in bars if begins <= bar.onset and (bar.onset < stop or stop == last)]
        # What begins anew with a bar has no pickup.
        before = Fraction(0) if begins and any(bar.onset == begins for bar in inside) else pickup
        for bar in inside[FOUR_BARS::FOUR_BARS]:
            wanted = bar.onset - before
            near = min(clean, key=lambda place: (abs(place - wanted), -place), default=None)
            # A last phrase of less than half a bar is the end of the one before it.
            if near is None or abs(near - wanted) > NEAREST or stop - near < bar.full / 2:
                continue
            if near > begins and near not in found:
                found.append(near)
    return found
