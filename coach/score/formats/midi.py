"""How a standard MIDI file becomes a page: what was ticks becomes notes on a sensible grid."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterable, Sequence
from fractions import Fraction

from coach.errors import CoachError
from coach.score.formats.smf import MidiFile, Struck, parse_midi
from coach.score.page import LONGEST_PAGE, Mark, Page, Part, Printed, Tally, changes_of_key, numbered
from coach.score.piece import Quarters, fifths_at
from coach.score.singers import singer
from coach.score.spelling import likely_fifths, spelling_of

DRUMS = 9
"""Channel 10, counted from 0: percussion (General MIDI 1)."""

GRIDS = (1, 2, 4, 3, 8, 6, 12)
"""Parts of a quarter note that a beat may be divided in, the simplest first."""

NEAR = Fraction(1, 25)
"""How far from the grid a note may start and still be meant to be on it, in quarter notes; on fine grids less."""

EARLY = Fraction(1, 5)
"""Share of its length that a note may end early and still be meant to last until the next one."""

PLAYED = Fraction(1, 10)
"""Share of notes off every grid from which a file counts as played rather than written."""


def read_midi(data: bytes, name: str) -> Page:
    """Read a standard MIDI file as a score.

    Args:
        data: The file.
        name: What the player calls it.

    Raises:
        CoachError: damaged, or without notes.
    """
    file = parse_midi(data, name)
    drums = sum(note.channel == DRUMS for note in file.struck)
    notes = sorted((note for note in file.struck if note.channel != DRUMS), key=lambda note: (note.start, -note.key))
    tally = Tally(name)
    for note in notes:
        tally.note()
        if note.end > LONGEST_PAGE * file.quarter:
            raise CoachError(f'cannot read "{name}": its notes stand too far apart to be a piece')
    if not notes:
        raise CoachError(f'cannot read "{name}": the MIDI file has no notes with a pitch')
    page = Page(title=_title(file), quarter_bpm=_tempo(file, notes[0].start))
    if drums:
        page.remarks.append(f"left out {drums} percussion note{'s' if drums > 1 else ''}")
    starts, off = _onsets(notes, file.quarter)
    if off > PLAYED * len(starts):
        page.remarks.append("the file was played rather than written: its rhythm is a guess")
    lengths = _lengths(notes, starts, file.quarter)
    bars, silence = _bars(file, starts, lengths)
    page.bars = numbered(bars)
    if file.keys:
        # Tracks that disagree at one place are taken by the first: the conductor's comes before the instruments'.
        keys = {tick: (fifths, minor) for tick, fifths, minor in sorted(file.keys, key=lambda key: key[0])[::-1]}
        page.fifths, page.minor = keys[min(keys)]
        later = [(_snapped(Fraction(tick, file.quarter), 12) - silence, keys[tick][0]) for tick in sorted(keys)[1:]]
        page.key_changes = changes_of_key(page.fifths, later)
    else:
        last = max(notes, key=lambda note: (note.end, -note.key))
        page.fifths = likely_fifths((note.key for note in notes), last.key)
    rows = _rows(notes)
    page.parts = [Part(_name(file, row, rows)) for row in rows]
    words = _words(file, silence)
    for note, start, length in zip(notes, starts, lengths, strict=True):
        part = rows.index((note.track, note.channel))
        onset = start - silence
        page.marks.append(
            Mark(
                part=part,
                staff=1,
                line="",
                onset=onset,
                duration=length,
                midi=note.key,
                pitch=spelling_of(note.key, fifths_at(page.fifths, page.key_changes, onset)),
                words=(words.pop(onset),) if part == 0 and onset in words else (),
            )
        )
    return page


def _tempo(file: MidiFile, first: int) -> float | None:
    """The tempo that counts at the first note, None where the file gives none until then: what comes later is a change,
    a ritardando at the end say.

    Of several at one tick the first one in the file counts, as of keys: the conductor's track comes first.
    """
    until = [(tick, tempo) for tick, tempo in file.tempos if tick <= first]
    latest = max((tick for tick, _ in until), default=0)
    found = next((tempo for tick, tempo in until if tick == latest), None)
    return found if found is not None and 10 <= found <= 500 else None


def _title(file: MidiFile) -> str:
    title = " ".join(file.title.split())
    # Sequencers leave their own names for tracks; a title has letters and is no voice's name.
    named = re.search(r"[a-z]{3}", title, re.I) and not re.match(
        r"(control|tempo|track|untitled|sequence)\b", title, re.I
    )
    return title if named and not singer(Part(title)) else ""


def _rows(notes: Iterable[Struck]) -> list[tuple[int, int]]:
    """Tracks and channels with notes, from the highest to the lowest on average."""
    keys: dict[tuple[int, int], list[int]] = {}
    for note in notes:
        keys.setdefault((note.track, note.channel), []).append(note.key)
    return sorted(keys, key=lambda row: (-sum(keys[row]) / len(keys[row]), row))


def _name(file: MidiFile, row: tuple[int, int], rows: Sequence[tuple[int, int]]) -> str:
    alone = sum(other[0] == row[0] for other in rows) == 1
    return " ".join(file.names.get(row[0], "").split()) if alone else ""


def _onsets(notes: Sequence[Struck], quarter: int) -> tuple[list[Quarters], int]:
    """Onsets on the grid, and how many notes fit none.

    Each beat is divided in the simplest way that all of its notes fit.
    """
    exact = [Fraction(note.start, quarter) for note in notes]
    beats: dict[int, list[Quarters]] = {}
    for place in set(exact):
        # A note just before a beat belongs to it.
        beats.setdefault((place + NEAR).__floor__(), []).append(place)
    grids = {}
    off = 0
    for beat, places in beats.items():
        fitting = [grid for grid in GRIDS if all(_fits(place, grid) for place in places)]
        if fitting:
            grids[beat] = fitting[0]
        else:
            grids[beat] = 4
            off += sum(not _fits(place, 4) for place in places)
    return [_snapped(place, grids[(place + NEAR).__floor__()]) for place in exact], off


def _fits(place: Quarters, grid: int) -> bool:
    """Whether a place is near a grid, and so much nearer than chance that the grid is meant."""
    return abs(place - _snapped(place, grid)) <= min(NEAR, Fraction(1, 6 * grid))


def _snapped(place: Quarters, grid: int) -> Quarters:
    return Fraction(round(place * grid), grid)


def _lengths(notes: Sequence[Struck], starts: Sequence[Quarters], quarter: int) -> list[Quarters]:
    """Lengths on the grid: until the note that follows where the player or program let go just before it."""
    places = sorted(set(starts))
    lengths = []
    for note, start in zip(notes, starts, strict=True):
        sounded = Fraction(note.end - note.start, quarter)
        end = start + sounded
        slack = max(NEAR, min(sounded * EARLY, Fraction(1, 2)))
        after = bisect_left(places, end)
        near = [place for place in places[max(after - 1, 0) : after + 1] if place > start]
        fitting = [place for place in near if -NEAR <= place - end <= slack or 0 <= end - place <= NEAR]
        if fitting:
            until = min(fitting, key=lambda place: abs(place - end))
        else:
            grid = next((grid for grid in GRIDS if -NEAR <= _snapped(end, grid) - end <= slack), 4)
            until = _snapped(end, grid)
        if until <= start:
            until = next((place for place in places[bisect_left(places, start) :] if place > start), start)
            until = min(until, start + Fraction(1, 4)) if until > start else start + Fraction(1, 4)
        lengths.append(until - start)
    return lengths


def _bars(file: MidiFile, starts: Sequence[Quarters], lengths: Sequence[Quarters]) -> tuple[list[Printed], Quarters]:
    """Bars from the time signatures, and how much silence before the first note was cut off.

    A first bar that begins with silence is a pickup: it keeps what sounds.
    """
    end = max(start + length for start, length in zip(starts, lengths, strict=True))
    first = min(starts)
    changes = sorted({Fraction(tick, file.quarter): (count, unit) for tick, count, unit in file.metres}.items())
    if not changes or changes[0][0] > 0:
        changes.insert(0, (Fraction(0), (4, 4)))
    bars: list[Printed] = []
    silence = place = Fraction(0)
    while place < end:
        count, unit = next(metre for start, metre in reversed(changes) if start <= place)
        length = Fraction(4 * count, unit)
        until = min([place + length, *(start for start, _ in changes if place < start < place + length)])
        if until <= first:
            silence = until
        else:
            cut = max(first - place, Fraction(0)) if not bars else Fraction(0)
            silence += cut
            bars.append(Printed(until - place - cut, f"{count}/{unit}"))
        place = until
    if bars and place > end:
        shortened = bars[-1].duration - (place - end)
        if len(bars) > 1 and shortened > 0 and bars[0].duration + shortened == bars[-1].duration:
            # The last bar lacks what the pickup has.
            bars[-1] = Printed(shortened, bars[-1].metre)
    return bars, silence


def _words(file: MidiFile, silence: Quarters) -> dict[Quarters, str]:
    words: dict[Quarters, str] = {}
    for tick, text in file.words:
        syllable = text.strip().strip("/\\")
        if syllable:
            words.setdefault(_snapped(Fraction(tick, file.quarter), 12) - silence, syllable)
    return words
