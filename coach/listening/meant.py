"""What wrong keys were probably meant for: notes that did not sound, and chords of which none did."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from coach.listening.costs import DUE, TOGETHER
from coach.listening.events import Stroke
from coach.listening.expected import ExpectedNote
from coach.listening.ledger import Visit
from coach.listening.matching import Match
from coach.listening.thresholds import HALF_STRUCK, WAIT_FOR_WRONG

ANYTHING_ELSE = 3
"""How unlike a note a key is that can hardly have been meant for it, see `unlike`."""

Window = tuple[float, float, float]
"""Seconds from which and until which a key may have been meant for a chord, and when the chord was due."""


@dataclass(frozen=True, slots=True)
class Meanings:
    """What the wrong keys of a phrase were probably meant for.

    Attributes:
        notes: For notes that did not sound, the press that was meant for them: note number, index of the press.
        begun: When chords after the last one heard began, of which wrong keys alone were struck.
    """

    notes: dict[int, int]
    begun: dict[int, float]


def meanings(match: Match, within: range, extra: Sequence[tuple[int, int]], quarter: float | None) -> Meanings:
    """Find out.

    Args:
        match: The take as matched.
        within: Numbers of the chords to look at, a phrase's.
        extra: Presses that belong to nothing: the chord that was current, and the index.
        quarter: Seconds a quarter note as the player goes, None where nobody can tell.
    """
    heard = [chord for chord in within if chord in match.last_visits]
    if not heard:
        return Meanings({}, {})
    presses = [match.strokes[press] for _, press in extra]
    windows = {chord: _window(match, chord, within, quarter) for chord in range(within.start, heard[-1] + 1)}
    after = [match.strokes[press] for chord, press in extra if chord == heard[-1]]
    begun: dict[int, float] = {}
    since = match.last_visits[heard[-1]].seconds
    for chord in range(heard[-1] + 1, within.stop):
        window = _next_window(match, chord, since, quarter, after)
        if window is None:
            break
        since = begun[chord] = window[2]
        windows[chord] = window
    absent = [note for chord in windows for note in silent(match, chord)]
    return Meanings(_paired(absent, windows, presses), begun)


def mended(
    match: Match, within: range, extra: Iterable[tuple[int, int]], quarter: float | None = None
) -> dict[int, int]:
    """For notes that were played, the wrong key that was struck first in their place.

    It was struck in their chord, or before all of that chord, when that was due. A key that came together with the
    right one was brushed, and not struck in its place.

    Args:
        match: The take as matched.
        within: Numbers of the chords to look at, a phrase's.
        extra: Wrong keys that stand for no note which did not sound: the chord that was current, and the index.
        quarter: Seconds a quarter note as the player goes, None where nobody can tell.

    Returns:
        Number of the note, index of the press.
    """
    pairs = []
    for current, press in extra:
        slip = match.strokes[press]
        for chord in (current, current + 1):
            visit, before = (match.last_visits.get(one) if one in within else None for one in (chord, current))
            if visit is None or before is None:
                continue
            if chord > current and not _soonest(match, before, visit, quarter) < slip.press <= visit.seconds:
                continue
            if any(note.midi == slip.key for note in match.expected.sounding(chord)):
                # A key of the chord itself was struck twice, for no other.
                break
            for number, right in visit.played:
                far = unlike(slip.key - match.expected.notes[number].midi)
                after = match.strokes[right].press - slip.press
                if far < ANYTHING_ELSE and after > TOGETHER:
                    pairs.append((far + 2 * after, number, press))
    found: dict[int, int] = {}
    for _, number, press in sorted(pairs):
        if number not in found and press not in found.values():
            found[number] = press
    return found


def _soonest(match: Match, before: Visit, visit: Visit, quarter: float | None) -> float:
    """From when on a key may have been struck for a chord before any of its own: half way to it at the latest."""
    half = (visit.seconds - before.seconds) / 2
    chords = match.expected.chords
    step = (chords[visit.chord].onset - chords[before.chord].onset) * (quarter or float("inf"))
    return before.seconds + min(half, DUE[0] * step)


def silent(match: Match, chord: int) -> tuple[ExpectedNote, ...]:
    """The notes of a chord that were asked for and did not sound, one for each key."""
    return tuple(note for note in match.expected.asked(chord) if match.press_of(note) is None)


def unlike(distance: int) -> int:
    """How unlike a note a key so many semitones from it is: 0 for a semitone, 1 for a whole tone, 2 for octaves."""
    if abs(distance) <= 2:
        return max(abs(distance) - 1, 0)
    return 2 if distance % 12 == 0 else ANYTHING_ELSE


def _paired(absent: Iterable[ExpectedNote], windows: dict[int, Window], presses: Sequence[Stroke]) -> dict[int, int]:
    """Each note with the likeliest press, near in time and near on the keyboard; no press stands for two notes."""
    pairs = []
    for note in absent:
        first, last, due = windows[note.chord]
        for stroke in presses:
            far = unlike(stroke.key - note.midi)
            if first <= stroke.press <= last and far < ANYTHING_ELSE:
                pairs.append((far + 2 * abs(stroke.press - due), note.number, stroke.index))
    notes: dict[int, int] = {}
    taken: set[int] = set()
    for _, number, press in sorted(pairs):
        if number not in notes and press not in taken:
            notes[number] = press
            taken.add(press)
    return notes


def _window(match: Match, chord: int, within: range, quarter: float | None) -> Window:
    """When keys may have been meant for a chord up to the last one heard."""
    visit = match.last_visits.get(chord)
    if visit is not None:
        return visit.seconds - WAIT_FOR_WRONG, visit.seconds + WAIT_FOR_WRONG, visit.seconds
    chords = match.expected.chords
    after = next(number for number in range(chord + 1, within.stop) if number in match.last_visits)
    before = next((number for number in range(chord - 1, within.start - 1, -1) if number in match.last_visits), None)
    until = match.last_visits[after].seconds
    since = match.last_visits[before].seconds if before is not None else float("inf")
    if before is not None and since < until:
        pace = (until - since) / (chords[after].onset - chords[before].onset)
    else:
        # Nothing came before it, or the player went back: it is counted back from the chord after it.
        pace = quarter or WAIT_FOR_WRONG
    due = until - pace * (chords[after].onset - chords[chord].onset)
    earliest = due - WAIT_FOR_WRONG
    if before is not None:
        earliest = due - pace * (chords[chord].onset - chords[chord - 1].onset) / 2
    return earliest, due + pace * (chords[chord + 1].onset - chords[chord].onset) / 2, due


def _next_window(
    match: Match, chord: int, since: float, quarter: float | None, presses: Sequence[Stroke]
) -> Window | None:
    """When keys may have been meant for the chord after the last one, or None where it was not struck at all.

    However long the player looked for it: it is struck from the first likely key on, once that key was due. With half
    of its keys struck, if wrongly, a chord has been played.

    Args:
        match: The take as matched.
        chord: Number of the chord.
        since: When the chord before it began, in seconds.
        quarter: Seconds a quarter note as the player goes.
        presses: The wrong keys since then.
    """
    asked = match.expected.asked(chord)
    chords = match.expected.chords
    step = (chords[chord].onset - chords[chord - 1].onset) * (quarter or 0.0)
    soonest = since + max(DUE[0] * step, TOGETHER)
    likely = [
        stroke.press
        for stroke in presses
        if stroke.press >= soonest and any(unlike(stroke.key - note.midi) < ANYTHING_ELSE for note in asked)
    ]
    if not likely:
        return None
    first = min(likely)
    window = (first, first + max(step / 2, TOGETHER), first)
    paired = _paired(asked, {chord: window}, presses)
    return window if len(paired) >= HALF_STRUCK * len(asked) else None
