"""Who sings what: from the printed page to the voices of a piece."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain

from coach.errors import CoachError
from coach.score.page import Mark, Page, Part, bar_number, tied
from coach.score.piece import Note, Piece, Quarters
from coach.score.separation import separate, usual_count
from coach.score.singers import chosen_parts, names_of, voice_names

MOST_AT_ONCE = 10
"""Two hands have ten fingers."""

STEADY = 0.1
"""Share of a voice's notes from which a second note beside it is a voice of its own, not a division in passing."""

IN_PASSING = 2
"""So many divisions are always in passing, however short the piece."""

FEW_BARS = 3
"""In so many bars a division is worth a word."""

RUNS_THROUGH = 0.25
"""Share of the fullest voice's notes from which one of the file's own voices counts as running through the piece."""


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
        CoachError: more notes at once than ten fingers can take.
    """
    remarks = list(page.remarks)
    marks = tied(page.marks)
    chosen = chosen_parts(page, marks)
    sounding = {mark.part for mark in marks}
    left_out = [part for place, part in enumerate(page.parts) if place in sounding and place not in chosen]
    if left_out:
        remarks.append("left out " + listed([_called(page, part) for part in left_out]))
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
        minor=page.minor if page.minor is not None else _sounds_minor(page.fifths, notes),
        quarter_bpm=page.quarter_bpm,
        remarks=tuple(remarks),
    )


def _called(page: Page, part: Part) -> str:
    """A part by its name, else by its place on the page."""
    if part.name:
        return part.name
    place = page.parts.index(part) + 1
    return "the top part, which others double" if place == 1 else f"part {place} from the top"


def _legible(text: str) -> str:
    """A line of text without the characters that a terminal would obey instead of showing them."""
    if text.isprintable():
        return text
    return " ".join("".join(each if each.isprintable() else " " for each in text).split())


def listed(names: Sequence[str]) -> str:
    """ "Horn 1, Horn 2 and Timpani"."""
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]


def _voices(page: Page, marks: Sequence[Mark], staves: Sequence[tuple[int, int]]) -> list[Voice]:
    """The voices from the top: as the page divides them where it does, else separated.

    Two staves are one instrument's, whose voices go from hand to hand; of more staves each has voices of its own.
    """
    if len(staves) <= 2:
        lines = _own_lines(marks) or _separated(marks)
        one_each = len(staves) == len(lines)
        names = names_of([page.parts[part] for part, _ in staves]) if one_each else voice_names(len(lines))
        return [Voice(name, line) for name, line in zip(names, lines, strict=True)]
    by_staff = [[mark for mark in marks if (mark.part, mark.staff) == staff] for staff in staves]
    divided = [_own_lines(inside) or _separated(inside) if _divides(inside) else [inside] for inside in by_staff]
    names = names_of([page.parts[part] for part, _ in staves], [len(lines) for lines in divided])
    return [Voice(name, line) for name, line in zip(names, chain.from_iterable(divided), strict=True)]


def _separated(marks: Sequence[Mark]) -> list[list[Mark]]:
    count = max(usual_count(marks), len({(mark.part, mark.staff) for mark in marks}))
    given = separate(marks, count)
    lines = [[mark for mark, voice in zip(marks, given, strict=True) if voice == place] for place in range(count)]
    return [line for line in lines if line]


def _own_lines(marks: Sequence[Mark]) -> list[list[Mark]] | None:
    """The file's own voices from the top, or None where they are not one note at a time from beginning to end."""
    staves: dict[tuple[int, int], dict[str, list[Mark]]] = {}
    for mark in marks:
        staves.setdefault((mark.part, mark.staff), {}).setdefault(mark.line, []).append(mark)
    found: list[list[Mark]] = []
    for staff in sorted(staves):
        found += sorted(staves[staff].values(), key=lambda line: -sum(mark.midi for mark in line) / len(line))
    fullest = max(len(line) for line in found)
    if any(_divides(line) or len(line) < RUNS_THROUGH * fullest for line in found):
        return None
    return found


def _divides(marks: Sequence[Mark]) -> bool:
    """Whether a voice is really several: many of its notes start while another one of them sounds."""
    ordered = sorted(marks, key=lambda mark: mark.onset)
    divided, until = 0, Fraction(-1)
    for mark in ordered:
        divided += mark.onset < until
        until = max(until, mark.end)
    return divided > max(STEADY * len(ordered), IN_PASSING)


def _notes(voices: Sequence[Voice], staves: Sequence[tuple[int, int]]) -> list[Note]:
    """Notes of all voices; one voice strikes a key once, however often the page prints it."""
    two = len(staves) == 2
    notes: dict[tuple[str, Quarters, int], Note] = {}
    for voice in voices:
        for mark in voice.marks:
            staff = staves.index((mark.part, mark.staff)) + 1 if two else 0
            known = notes.get((voice.name, mark.onset, mark.midi))
            if known is None or known.duration < mark.duration:
                notes[voice.name, mark.onset, mark.midi] = _note(mark, voice.name, staff)
    return list(notes.values())


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
            bar = bar_number(page.bars, onset)
            raise CoachError(f'cannot use "{source}": bar {bar} has {keys} keys down at once, more than ten fingers')


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
            told.append(f"the {voice.name} divides in bar {listed([str(bar) for bar in bars])}")
    return told


def _sounds_minor(fifths: int, notes: Sequence[Note]) -> bool:
    """Whether the last bass note is the minor tonic of the signature: what a player looks at first."""
    last = max(note.end for note in notes)
    bass = min(note.midi for note in notes if note.end == last)
    return bass % 12 == (9 + 7 * fifths) % 12
