"""Who sings what: from the printed page to the voices of a piece."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import chain

from coach.errors import CoachError
from coach.listing import listed
from coach.score.counting import bar_words, bars_listed
from coach.score.dividing import divides, rows_of
from coach.score.own_lines import RUNS_THROUGH, SINGS_THROUGH, own_lines
from coach.score.page import Mark, Page, bar_number, tied
from coach.score.piece import SATB, Note, Piece, Quarters, partings
from coach.score.separation import separate, usual_count
from coach.score.singers import (
    are_singers,
    chosen_parts,
    is_doubled,
    named_from_below,
    names_by_place,
    names_of,
    singer,
)

MOST_AT_ONCE = 10
"""Two hands have ten fingers."""

FEWEST = 3
"""From so many of the file's own voices on one that divides is still one of them."""

NEARLY_ALWAYS = Fraction(9, 10)
"""Share of the sounding time in which the voices of a hymn sound all together (common practice, no source)."""

FEW_BARS = 3
"""In so many bars a division is worth a word."""


@dataclass(slots=True)
class Voice:
    """A voice in the making: its name and its notes."""

    name: str
    marks: list[Mark]


def piece_of(page: Page, title: str, source: str) -> Piece:
    """Decide who sings what.

    Args:
        page: A complete page.
        title: What to call the piece if the page does not say.
        source: Where it came from, as the player would name it.

    Raises:
        CoachError: a part to play that cannot be, or more notes at once than ten fingers can take.
    """
    remarks = list(page.remarks)
    marks = tied(page.marks, partings(page.bars))
    chosen = chosen_parts(page, marks)
    sounding = sorted({mark.part for mark in marks})
    left_out = [place for place in sounding if place not in chosen]
    if left_out:
        doubled = [place for place in left_out if not page.parts[place].name and is_doubled(place, sounding, marks)]
        told = [_called(page, place) for place in sorted(left_out, key=lambda place: place in doubled)]
        remarks.append(f"left out {listed(told)}{', which others double' if doubled else ''}")
    fault = next((page.parts[place].fault for place in chosen if page.parts[place].fault), "")
    if fault:
        raise CoachError(fault)
    marks = [mark for mark in marks if mark.part in chosen]
    _playable(marks, page, source)
    staves = sorted({(mark.part, mark.staff) for mark in marks})
    voices = [voice for voice in _voices(page, marks, staves) if voice.marks]
    names = tuple(voice.name for voice in voices)
    notes = _notes(voices, staves)
    remarks += _divisions(voices, page)
    return Piece(
        title=_legible(page.title) or title,
        source=source,
        composer=_legible(page.composer),
        voices=names,
        notes=tuple(sorted(notes, key=lambda note: (note.onset, -note.midi, names.index(note.voice)))),
        bars=tuple(page.bars),
        fifths=page.fifths,
        key_changes=tuple(page.key_changes),
        minor=page.minor if page.minor is not None else _sounds_minor(page.fifths, notes),
        quarter_bpm=page.quarter_bpm,
        remarks=tuple(remarks),
    )


def _called(page: Page, place: int) -> str:
    """A part by its name, else by its place on the page."""
    return page.parts[place].name or ("the top part" if place == 0 else f"part {place + 1} from the top")


def _legible(text: str) -> str:
    """A line of text without the characters that a terminal would obey instead of showing them."""
    if text.isprintable():
        return text
    return " ".join("".join(each if each.isprintable() else " " for each in text).split())


def _voices(page: Page, marks: Sequence[Mark], staves: Sequence[tuple[int, int]]) -> list[Voice]:
    """The voices from the top: as the page divides them where it does, else separated.

    Two staves are one instrument's, whose voices go from hand to hand; of more staves each has voices of its own.
    """
    parts = [page.parts[part] for part, _ in staves]
    if len(staves) <= 2:
        voices = _own_voices(marks) or _separated(marks)
        by_part = [[voice] for voice in voices] if len(voices) == len(staves) else []
    else:
        inside = [[mark for mark in marks if (mark.part, mark.staff) == staff] for staff in staves]
        by_part = [
            _on_staff(own, singer(part) is not None, lowest)
            for part, own, lowest in zip(parts, inside, named_from_below(parts), strict=True)
        ]
        voices = list(chain.from_iterable(by_part))
    if by_part and are_singers(parts):
        names = names_of(parts, [[len(rows) for rows in divided] for divided in by_part])
    else:
        names = names_by_place([len(rows) for rows in voices])
    return [Voice(name, row) for name, row in zip(names, chain.from_iterable(voices), strict=True)]


Divided = list[list[Mark]]
"""A voice as rows from the top: one, or several where it divides."""


def _on_staff(marks: Sequence[Mark], singers: bool, lowest: bool) -> list[Divided]:
    """The voices of a staff that has voices of its own, from the top.

    Args:
        marks: Its notes.
        singers: Whether singers sing them, who are one voice however often they divide.
        lowest: Whether the lowest of its notes are the voice that the staff is named for.
    """
    if not divides(marks):
        return [[list(marks)]]
    lines = own_lines(marks, SINGS_THROUGH if singers else RUNS_THROUGH)
    if lines is not None:
        return [rows_of(line, lowest and line is lines[-1]) for line in lines]
    return [rows_of(marks, lowest)] if singers else _separated(marks)


def _separated(marks: Sequence[Mark]) -> list[Divided]:
    """The voices of notes that the page gives to none.

    Where four notes sound nearly always the page is a hymn of which some voice divides for a while; in other music
    voices come and go.
    """
    count = max(usual_count(marks), len({(mark.part, mark.staff) for mark in marks}))
    hymn = count > len(SATB) == usual_count(marks, NEARLY_ALWAYS)
    given = separate(marks, len(SATB) if hymn else count)
    lines = [[mark for mark, voice in zip(marks, given, strict=True) if voice == place] for place in range(count)]
    lines = [line for line in lines if line]
    return [rows_of(line, line is lines[-1]) if hymn else [line] for line in lines]


def _own_voices(marks: Sequence[Mark]) -> list[Divided] | None:
    """The file's own voices from the top, or None where they do not carry the piece.

    They do where each is one note at a time from beginning to end. Of three voices or more some may divide; two with
    more notes between them are keyboard music, whose voices come and go.
    """
    lines = own_lines(marks)
    if lines is None:
        return None
    if len(lines) < FEWEST and any(divides(line) or len({mark.line for mark in line}) > 1 for line in lines):
        return None
    return [rows_of(line, line is lines[-1]) for line in lines]


def _notes(voices: Sequence[Voice], staves: Sequence[tuple[int, int]]) -> list[Note]:
    """Notes of all voices; one voice strikes a key once, however often the page prints it."""
    two = len(staves) == 2
    notes: dict[tuple[str, Quarters, int], Note] = {}
    for voice in voices:
        for mark in voice.marks:
            staff = staves.index((mark.part, mark.staff)) + 1 if two else 0
            key = (voice.name, mark.onset, mark.midi)
            note = _note(mark, voice.name, staff)
            notes[key] = _as_one(notes[key], note) if key in notes else note
    return list(notes.values())


def _as_one(one: Note, other: Note) -> Note:
    """Two notes that a voice is given on one key: the longer, with what is printed at either."""
    longer, shorter = (other, one) if other.duration > one.duration else (one, other)
    return replace(
        longer,
        fermata=longer.fermata or shorter.fermata,
        breath=longer.breath or shorter.breath,
        finger=longer.finger or shorter.finger,
        words=longer.words or shorter.words,
    )


def _note(mark: Mark, voice: str, staff: int) -> Note:
    words = mark.words
    while words and not words[-1]:
        words = words[:-1]
    return Note(
        voice=voice,
        onset=mark.onset,
        duration=mark.duration,
        midi=mark.midi,
        pitch=mark.pitch,
        staff=staff,
        fermata=mark.fermata,
        breath=mark.breath,
        finger=mark.finger,
        words=words,
    )


def _playable(marks: Sequence[Mark], page: Page, source: str) -> None:
    starts: dict[Quarters, list[Mark]] = {}
    for mark in marks:
        starts.setdefault(mark.onset, []).append(mark)
    sounding: list[Mark] = []
    for onset in sorted(starts):
        sounding = [mark for mark in sounding if mark.end > onset] + starts[onset]
        keys = len({mark.midi for mark in sounding})
        if keys > MOST_AT_ONCE:
            bar = bar_words(bar_number(page.bars, onset))
            raise CoachError(f'cannot use "{source}": {bar} has {keys} keys down at once, more than ten fingers')


def _divisions(voices: Sequence[Voice], page: Page) -> list[str]:
    """What to say of the voices of a four-voice score that divide in passing; in keyboard music that is usual."""
    told = []
    for voice in voices if len(voices) == 4 else ():
        bars: list[int] = []
        until = Fraction(-1)
        for mark in sorted(voice.marks, key=lambda mark: mark.onset):
            number = bar_number(page.bars, mark.onset)
            if mark.onset < until and number not in bars:
                bars.append(number)
            until = max(until, mark.end)
        if 0 < len(bars) <= FEW_BARS:
            told.append(f"the {voice.name} divides in {bars_listed(bars)}")
    return told


def _sounds_minor(fifths: int, notes: Sequence[Note]) -> bool:
    """Whether the last bass note is the minor tonic of the signature: what a player looks at first."""
    last = max(note.end for note in notes)
    bass = min(note.midi for note in notes if note.end == last)
    return bass % 12 == (9 + 7 * fifths) % 12
