"""Keys that belong to nothing but adorn a note: mordents, trills, grace notes. They are no slips of a hand."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from coach.listening.costs import QUICK
from coach.listening.events import Stroke
from coach.listening.expected import ExpectedNote
from coach.listening.matching import Match
from coach.listening.thresholds import NEXT_KEY

SEVERAL = 2
"""Quick neighbours before notes of one voice from which they are grace notes rather than one slip (common practice, no
source)."""


def ornaments(match: Match, extra: Iterable[tuple[int, int]]) -> dict[int, ExpectedNote]:
    """The notes that extra keys adorn.

    A neighbour between two strokes of its note is a mordent or a trill, one that leads to its note is a grace note
    where a voice has several; a single one is a slip that was mended at once.

    Args:
        match: The take as matched.
        extra: Presses that belong to nothing: the chord that was current, and the index.

    Returns:
        Index of the press, and the note.
    """
    found: dict[int, ExpectedNote] = {}
    leading: dict[int, ExpectedNote] = {}
    for chord, press in extra:
        stroke = match.strokes[press]
        for note in _neighbours(match, chord, stroke):
            before, after = _struck(match, note, stroke, -QUICK), _struck(match, note, stroke, QUICK)
            if before and after:
                found[press] = note
                break
            if after:
                leading.setdefault(press, note)
    voices = Counter(note.voice for note in leading.values())
    graces = {press: note for press, note in leading.items() if voices[note.voice] >= SEVERAL}
    return {**graces, **found, **_returns(match, extra, found)}


def _neighbours(match: Match, chord: int, stroke: Stroke) -> list[ExpectedNote]:
    """The notes beside a key that are struck in the current chord or in the next one."""
    chords = [one for one in (chord, chord + 1) if one < len(match.expected.chords)]
    notes = [note for one in chords for note in match.expected.struck(one)]
    near = [note for note in notes if 0 < abs(note.midi - stroke.key) <= NEXT_KEY]
    return sorted(near, key=lambda note: abs(note.midi - stroke.key))


def _struck(match: Match, note: ExpectedNote, stroke: Stroke, within: float) -> bool:
    """Whether a note's key was struck so soon after another one, or so shortly before it."""
    low, high = sorted((stroke.press, stroke.press + within))
    return any(one.key == note.midi and low < one.press < high for one in match.strokes)


def _returns(match: Match, extra: Iterable[tuple[int, int]], found: dict[int, ExpectedNote]) -> dict[int, ExpectedNote]:
    """The second strokes of adorned notes, as far as they are extra too."""
    returns: dict[int, ExpectedNote] = {}
    for _, press in extra:
        stroke = match.strokes[press]
        for neighbour, note in found.items():
            if stroke.key == note.midi and 0 < stroke.press - match.strokes[neighbour].press < QUICK:
                returns[press] = note
    return returns
