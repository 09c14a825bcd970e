"""The plain chords of a piece: one note a voice and beat, without passing notes, suspensions and other decorations."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise, product

from coach.score.piece import Bar, Note, Piece, Quarters

TRIADS = ((0, 4, 7), (0, 3, 7), (0, 3, 6))
"""Major, minor and diminished triad, in semitones above the root."""

SEVENTHS = ((0, 4, 7, 10), (0, 3, 7, 10), (0, 4, 7, 11), (0, 3, 6, 10), (0, 3, 6, 9))
"""Dominant, minor, major, half-diminished and diminished seventh chord."""

MOST_CHOICES = 4096
"""Ways to choose the notes of one beat that are compared; beyond, the notes on the beat stay."""


def plain_piece(piece: Piece) -> Piece:
    """The piece in plain chords; an equal piece where nothing decorates it.

    In every beat each voice keeps one of its notes: together those that make the plainest chord, a triad before a
    seventh chord before anything else, and of equals the notes on the beat. Notes that last over several beats stay.
    A voice that rests on the beat stays as it is.
    """
    beats = [beat for bar in piece.bars for beat in _beats(bar)]
    by_voice = {voice: _sounding(piece, voice) for voice in piece.voices}
    kept: dict[str, list[Note]] = {voice: [] for voice in piece.voices}
    for start, end in beats:
        heard = {voice: _in_beat(notes, start, end) for voice, notes in by_voice.items()}
        chosen = _chosen(heard, start)
        for voice, notes in heard.items():
            if voice in chosen:
                _add(kept[voice], chosen[voice], notes, start, end)
            else:
                kept[voice] += [note for note in notes if note.onset >= start]
    notes = [note for voice in piece.voices for note in kept[voice]]
    return replace(piece, notes=tuple(sorted(notes, key=lambda note: (note.onset, -note.midi))))


def decorated(piece: Piece) -> bool:
    """Whether the plain chords differ from the piece."""
    return {_key(note) for note in plain_piece(piece).notes} != {_key(note) for note in piece.notes}


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


def _sounding(piece: Piece, voice: str) -> list[Note]:
    return sorted((note for note in piece.notes if note.voice == voice), key=lambda note: note.onset)


def _in_beat(notes: Sequence[Note], start: Quarters, end: Quarters) -> list[Note]:
    return [note for note in notes if note.onset < end and note.end > start]


def _chosen(heard: dict[str, list[Note]], start: Quarters) -> dict[str, Note]:
    """The note of each voice that sounds on the beat; voices that rest there, or divide, are left out."""
    voices = [voice for voice, notes in heard.items() if notes and notes[0].onset <= start and not _divides(notes)]
    choices = [heard[voice] for voice in voices]
    ways = 1
    for notes in choices:
        ways *= len(notes)
    if ways > MOST_CHOICES:
        choices = [notes[:1] for notes in choices]
    others = {
        note.midi % 12 for voice, notes in heard.items() if voice not in voices for note in notes if note.onset <= start
    }
    best = min(
        product(*(enumerate(notes) for notes in choices)),
        key=lambda way: (_strangeness({note.midi % 12 for _, note in way} | others), sum(place for place, _ in way)),
        default=(),
    )
    return {voice: note for voice, (_, note) in zip(voices, best, strict=True)}


def _divides(notes: Sequence[Note]) -> bool:
    return any(before.end > after.onset for before, after in pairwise(notes))


def _strangeness(classes: set[int]) -> int:
    """0 for notes of one triad, 1 for notes of one seventh chord, 2 for anything else."""
    for rank, shapes in ((0, TRIADS), (1, SEVENTHS)):
        for root in range(12):
            if any(classes <= {(root + step) % 12 for step in shape} for shape in shapes):
                return rank
    return 2


def _add(kept: list[Note], chosen: Note, heard: Sequence[Note], start: Quarters, end: Quarters) -> None:
    """Let the chosen note sound through the beat, as one with the beat before where it is held from there."""
    until = min(end, heard[-1].end)
    if kept and chosen.onset < start and kept[-1].end == start and _same(kept[-1], chosen):
        kept[-1] = replace(kept[-1], duration=until - kept[-1].onset)
    else:
        onset = start if chosen.onset <= start or chosen is not heard[0] else chosen.onset
        first = next((note for note in heard if note.onset >= start), chosen)
        words = chosen.words or first.words
        kept.append(replace(chosen, onset=onset, duration=until - onset, words=words, finger=None))
    last = heard[-1]
    if last.fermata or last.breath:
        kept[-1] = replace(kept[-1], fermata=last.fermata or kept[-1].fermata, breath=last.breath or kept[-1].breath)


def _same(one: Note, other: Note) -> bool:
    return one.midi == other.midi and one.pitch == other.pitch
