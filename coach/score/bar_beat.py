"""A chord's place as it is written on one line and read again: "3:2.5"; "3(2):1" is in the second bar numbered 3."""

from __future__ import annotations

import re
from fractions import Fraction

from coach.errors import CoachError
from coach.score.counting import extent_words, place_words
from coach.score.piece import Bar, Piece, Quarters

NEAR = Fraction(1, 50)
"""How near a beat in decimals must come to the beat that is meant, so that 1.67 names the last third of beat 1."""

_PLACE = re.compile(r"(\d{1,6})(?:\((\d{1,3})\))?:(\d{1,6}(?:\.\d{1,6})?)")


def place_written(piece: Piece, onset: Quarters) -> str:
    """The place of a chord, by which `onset_at` finds it again.

    Args:
        piece: The piece.
        onset: Where the chord begins, in quarter notes.
    """
    bar = piece.bar_at(onset)
    beat = bar.beat(onset)
    return _written(piece, bar, beat, twice=len(_chords(piece, _bars(piece, bar.number), Fraction(str(beat)))) > 1)


def onset_at(piece: Piece, text: str) -> Quarters | None:
    """Where the chord begins that a place names, in quarter notes.

    Args:
        piece: The piece.
        text: Bar and beat, "3:2.5". Where the number of a bar comes more than once, as in a file of several movements,
            the bar is counted among those that have it: "3(2):2.5".

    Returns:
        None for what is no place at all.

    Raises:
        CoachError: there is no such bar, no chord begins there, or two do.
    """
    found = _PLACE.fullmatch(text.strip())
    if found is None:
        return None
    number, beat = int(found[1]), Fraction(found[3])
    bars = _bars(piece, number)
    if not bars:
        there = extent_words(piece.bars[0].number, piece.bars[-1].number)
        raise CoachError(f"there is no bar {number}: the piece has {there}")
    if found[2]:
        which = int(found[2])
        if not 1 <= which <= len(bars):
            times = "once" if len(bars) == 1 else f"{len(bars)} times"
            raise CoachError(f"there is no bar {number}({which}): bar {number} comes {times}")
        bars = [bars[which - 1]]
    places = _chords(piece, bars, beat)
    if len(places) > 1:
        ways = " or ".join(f'"{_written(piece, piece.bar_at(each), float(beat), twice=True)}"' for each in places)
        raise CoachError(
            f"{place_words(number, float(beat))} comes {len(places)} times, for bar {number} does: write {ways}"
        )
    if not places:
        # As they are typed: a third of a beat is 1.33.
        beats = dict.fromkeys(f"{round(float(each), 2):g}" for each in _beats(piece, bars).values())
        begin = f"; chords begin on {', '.join(beats)}" if beats else ""
        raise CoachError(f"{place_words(number, float(beat))}: no chord begins here{begin}")
    return places[0]


def _bars(piece: Piece, number: int) -> list[Bar]:
    """The bars of a printed number, in order."""
    return [bar for bar in piece.bars if bar.number == number]


def _beats(piece: Piece, bars: list[Bar]) -> dict[Quarters, Fraction]:
    """The chords that begin in some bars, in order, and the beat of each."""
    onsets = sorted({note.onset for note in piece.notes for bar in bars if bar.onset <= note.onset < bar.end})
    return {onset: Fraction(str(piece.bar_at(onset).beat(onset))) for onset in onsets}


def _chords(piece: Piece, bars: list[Bar], beat: Fraction) -> list[Quarters]:
    """Where chords begin on a beat of some bars: the nearest of each bar."""
    nearest: dict[Quarters, tuple[Fraction, Quarters]] = {}
    for onset, there in _beats(piece, bars).items():
        if (off := abs(there - beat)) <= NEAR:
            bar = piece.bar_at(onset).onset
            nearest[bar] = min(nearest.get(bar, (off, onset)), (off, onset))
    return [onset for _, onset in nearest.values()]


def _written(piece: Piece, bar: Bar, beat: float, *, twice: bool) -> str:
    which = f"({_bars(piece, bar.number).index(bar) + 1})" if twice else ""
    return f"{bar.number}{which}:{beat:g}"
