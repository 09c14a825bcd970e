"""The plain chords of a piece: one note a voice and beat, without passing notes, suspensions and other decorations.

The rules (common practice, no source):

- What is struck between the beats goes: passing and neighbouring notes, anticipations, changing notes, and the leaps
  of a broken chord.
- What is struck on the beat, or held into it, and is foreign to the chord goes where it resolves by step within the
  beat: accented passing notes, appoggiaturas, suspensions. The note that it resolves to takes its place.
- A suspension that lasts the whole beat goes where it is prepared, resolves down by step with the next beat, and the
  lowest voice stays on its note or its octave meanwhile.
- Nothing resolves where all voices move at once: that is the next chord. And where nothing is struck on a beat, the
  chord before it goes on.
- Whether a note is foreign is seen from all voices together: a triad is plainer than a seventh chord, and that than
  anything else; of equals the notes on the beat stay.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from itertools import pairwise, product

from coach.score.piece import Bar, Note, Phrase, Piece, Quarters

TRIADS = ((0, 4, 7), (0, 3, 7), (0, 3, 6))
"""Major, minor and diminished triad, in semitones above the root."""

SEVENTHS = ((0, 4, 7, 10), (0, 3, 7, 10), (0, 4, 7, 11), (0, 3, 6, 10), (0, 3, 6, 9))
"""Dominant, minor, major, half-diminished and diminished seventh chord."""

STEP = 2
"""Semitones of the widest step."""

MOST_CHOICES = 4096
"""Ways to choose the notes of one beat that are compared; beyond, the notes on the beat stay."""


def plain_piece(piece: Piece, phrases: Sequence[Phrase] = ()) -> Piece:
    """The piece in plain chords; an equal piece where nothing decorates it.

    Notes that last over several beats stay, and a voice that rests on the beat stays as it is.

    Args:
        piece: The piece.
        phrases: Its phrases, where they are known: what comes after the end of one is an upbeat, within a beat or not,
            and no note sounds on over it.
    """
    ends = [phrase.end for phrase in phrases]
    beats = [part for bar in piece.bars for beat in _beats(bar) for part in _cut(beat, ends)]
    lines = [_Line([note for note in piece.notes if note.voice == voice]) for voice in piece.voices]
    for start, end in beats:
        heard = [line.between(start, end) for line in lines]
        chosen = _chosen(lines, heard, start, end)
        for place, (line, notes) in enumerate(zip(lines, heard, strict=True)):
            if place in chosen:
                line.add(chosen[place], notes, start, end)
            else:
                line.kept += [note for note in notes if note.onset >= start]
    notes = [note for line in lines for note in line.kept]
    return replace(piece, notes=tuple(sorted(notes, key=lambda note: (note.onset, -note.midi))))


def decorated(piece: Piece, phrases: Sequence[Phrase] = ()) -> bool:
    """Whether the plain chords differ from the piece; see `plain_piece`."""
    return {_key(note) for note in plain_piece(piece, phrases).notes} != {_key(note) for note in piece.notes}


def _key(note: Note) -> tuple[str, Quarters, Quarters, int]:
    return note.voice, note.onset, note.duration, note.midi


def _beats(bar: Bar) -> list[tuple[Quarters, Quarters]]:
    """The beats of a bar; a pickup's are counted from its end."""
    length = bar.beat_length
    into = bar.duration % length if bar.number == 0 else Quarters(0)
    starts = [bar.onset] if into else []
    place = bar.onset + into
    while place < bar.end:
        starts.append(place)
        place += length
    return list(zip(starts, [*starts[1:], bar.end], strict=True))


def _cut(beat: tuple[Quarters, Quarters], ends: Sequence[Quarters]) -> list[tuple[Quarters, Quarters]]:
    start, end = beat
    places = [start, *sorted(place for place in ends if start < place < end), end]
    return list(pairwise(places))


@dataclass
class _Line:
    """One voice: its notes, and what is kept of them so far.

    Attributes:
        notes: As written, by onset.
        kept: As played plainly.
        last: The note as written that the last kept one stands for.
    """

    notes: list[Note]
    kept: list[Note] = field(default_factory=list)
    last: Note | None = None

    def __post_init__(self) -> None:
        self._onsets = [note.onset for note in self.notes]
        self._longest = max((note.duration for note in self.notes), default=Quarters(0))

    def between(self, start: Quarters, end: Quarters) -> list[Note]:
        """What sounds anywhere in a stretch, or at an instant."""
        first = bisect_left(self._onsets, start - self._longest)
        last = bisect_right(self._onsets, end) if start == end else bisect_left(self._onsets, end)
        return [note for note in self.notes[first:last] if note.end > start]

    def add(self, chosen: Note, heard: Sequence[Note], start: Quarters, end: Quarters) -> None:
        """Let a note sound through a beat, as one with the beat before where it sounds there already.

        Args:
            chosen: The note.
            heard: All that the voice has in the beat.
        """
        until = min(end, heard[-1].end)
        before = self.kept[-1] if self.kept else None
        goes_on = chosen is self.last or (chosen.onset < start and before is not None and _same(before, chosen))
        if before is not None and goes_on and before.end == start:
            self.kept[-1] = replace(before, duration=until - before.onset)
        else:
            onset = start if chosen.onset <= start or chosen is not heard[0] else chosen.onset
            first = next((note for note in heard if note.onset >= start), chosen)
            whole = (onset, until) == (chosen.onset, chosen.end)
            self.kept.append(
                replace(
                    chosen,
                    onset=onset,
                    duration=until - onset,
                    words=chosen.words or first.words,
                    finger=chosen.finger if whole else None,
                )
            )
        self.last = chosen
        last = heard[-1]
        if last.fermata or last.breath:
            kept = self.kept[-1]
            self.kept[-1] = replace(kept, fermata=last.fermata or kept.fermata, breath=last.breath or kept.breath)

    def resolution(self, suspended: Note, start: Quarters, end: Quarters) -> Note | None:
        """The note that a suspension over the whole beat resolves to with the next one; None where it is none."""
        place = self.notes.index(suspended)
        before = self.notes[place - 1] if place else None
        prepared = suspended.onset < start or (before is not None and before.end == start and _same(before, suspended))
        if not prepared or suspended.end != end or suspended.fermata or suspended.breath:
            return None
        following = self.notes[place + 1] if place + 1 < len(self.notes) else None
        if following is None or following.onset != end or not 0 < suspended.midi - following.midi <= STEP:
            return None
        return following


def _chosen(lines: Sequence[_Line], heard: Sequence[list[Note]], start: Quarters, end: Quarters) -> dict[int, Note]:
    """For each voice that sounds on the beat the note it keeps; voices that rest there, or divide, are left out."""
    there = [place for place, notes in enumerate(heard) if notes and notes[0].onset <= start and not _divides(notes)]
    if not any(notes[0].onset == start for notes in heard if notes):
        return {place: heard[place][0] for place in there}
    choices = [_resolving(heard[place], _moves(heard, start)) for place in there]
    if any(len(notes) == 1 for notes in choices) and _lowest_stays(lines, heard, start, end):
        for place, notes in zip(there, choices, strict=True):
            resolved = lines[place].resolution(notes[0], start, end) if len(notes) == 1 else None
            if resolved is not None and not _is_lowest(place, heard):
                notes.append(resolved)
    ways = 1
    for notes in choices:
        ways *= len(notes)
    if ways > MOST_CHOICES:
        choices = [notes[:1] for notes in choices]
    others = frozenset(
        note.midi % 12
        for place, notes in enumerate(heard)
        if place not in there
        for note in notes
        if note.onset <= start
    )
    best = min(
        product(*(enumerate(notes) for notes in choices)),
        key=lambda way: (_strangeness(others.union(note.midi % 12 for _, note in way)), sum(at for at, _ in way)),
        default=(),
    )
    return {place: note for place, (_, note) in zip(there, best, strict=True)}


def _moves(heard: Sequence[list[Note]], start: Quarters) -> set[Quarters]:
    """Where within a beat all voices that sound on it move at once."""
    there = [notes for notes in heard if notes and notes[0].onset <= start]
    instants = [{note.onset for note in notes if note.onset > start} for notes in there]
    return set.intersection(*instants) if len(instants) > 1 else set()


def _resolving(notes: Sequence[Note], moves: Collection[Quarters]) -> list[Note]:
    """The note on the beat, and those that it goes on to by step within the beat, until all voices move."""
    found = [notes[0]]
    for before, after in pairwise(notes):
        if after.onset in moves or not 0 < abs(before.midi - after.midi) <= STEP:
            break
        found.append(after)
    return found


def _lowest_stays(lines: Sequence[_Line], heard: Sequence[list[Note]], start: Quarters, end: Quarters) -> bool:
    """Whether the lowest note on the beat is there on the next one too, or its octave is."""
    on_beat = [note for notes in heard for note in notes[:1] if note.onset <= start]
    following = [note for line in lines for note in line.between(end, end)]
    if not on_beat or not following:
        return False
    lowest, then = min(note.midi for note in on_beat), min(note.midi for note in following)
    return (lowest - then) % 12 == 0


def _is_lowest(place: int, heard: Sequence[list[Note]]) -> bool:
    return heard[place][0].midi == min(notes[0].midi for notes in heard if notes)


def _divides(notes: Sequence[Note]) -> bool:
    return any(before.end > after.onset for before, after in pairwise(notes))


@cache
def _strangeness(classes: frozenset[int]) -> int:
    """0 for notes of one triad, 1 for notes of one seventh chord, 2 for anything else."""
    for rank, shapes in ((0, TRIADS), (1, SEVENTHS)):
        for root in range(12):
            if any(classes <= {(root + step) % 12 for step in shape} for shape in shapes):
                return rank
    return 2


def _same(one: Note, other: Note) -> bool:
    return one.midi == other.midi and one.pitch == other.pitch
