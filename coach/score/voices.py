"""Who sings what: from the printed page to the voices of a piece."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from fractions import Fraction

from coach.errors import CoachError
from coach.score.page import Mark, Page, Part, bar_number, tied
from coach.score.piece import Note, Piece, Quarters

MOST_AT_ONCE = 10
"""Two hands have ten fingers."""

SINGERS = {
    "soprano": re.compile(r"\b(sopran\w*|s|treble|cantus|canto|discant\w*|diskant|melody|tune)\b", re.I),
    "alto": re.compile(r"\b(alt[ou]?s?|a|contralto|mezzo\w*)\b", re.I),
    "tenor": re.compile(r"\b(tenor\w*|t)\b", re.I),
    "bass": re.compile(r"\b(bass\w*|basso|b|baryton\w*|bariton\w*)\b", re.I),
}
"""How parts of singers are named in scores, in English, German, Italian, Latin and by letter."""

INSTRUMENTS = re.compile(
    r"viol|viola|cello|kontra|contrabass|double bass|oboe|flut|flöt|recorder|blockfl|horn|corn|tromp|trump|tromb|"
    r"posaun|timp|pauk|fagot|basso?on|continuo|organ|orgel|piano|klavier|cembalo|harps|guitar|gitar|drum|clarin|"
    r"klarin|sax|tuba|lute|string|streich|bells|glock",
    re.I,
)
"""How parts of instruments are named."""


def voice_names(count: int) -> tuple[str, ...]:
    """Names of so many voices from the top: the outer ones are soprano and bass, further ones are numbered.

    `voice_names(5)` is ("soprano", "alto", "tenor", "voice 5", "bass").
    """
    if count <= 4:
        return {0: (), 1: ("soprano",), 2: ("soprano", "bass"), 3: ("soprano", "alto", "bass")}.get(
            count, ("soprano", "alto", "tenor", "bass")
        )
    return ("soprano", "alto", "tenor", *(f"voice {number}" for number in range(5, count + 1)), "bass")


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
    chosen = singing_parts(page, marks)
    sounding = {mark.part for mark in marks}
    left_out = [part for place, part in enumerate(page.parts) if place in sounding and place not in chosen]
    if left_out:
        remarks.append("left out " + _list([part.name or "a part without a name" for part in left_out]))
    marks = [mark for mark in marks if mark.part in chosen]
    streams = _streams(page, marks, chosen)
    names = _names(page, streams, chosen)
    notes = [_note(mark, name, staff) for name, (staff, stream) in zip(names, streams, strict=True) for mark in stream]
    notes.sort(key=lambda note: (note.onset, -note.midi, names.index(note.voice)))
    _playable(notes, page, source)
    minor = page.minor if page.minor is not None else _sounds_minor(page.fifths, notes)
    return Piece(
        title=page.title or title,
        source=source,
        composer=page.composer,
        voices=names,
        notes=tuple(notes),
        bars=tuple(page.bars),
        fifths=page.fifths,
        minor=minor,
        quarter_bpm=page.quarter_bpm,
        remarks=tuple(remarks),
    )


def singing_parts(page: Page, marks: Sequence[Mark]) -> tuple[int, ...]:
    """Which parts to play: the singers where there are also instruments, else all parts that have notes."""
    sounding = {mark.part for mark in marks}
    full = [place for place in range(len(page.parts)) if place in sounding]
    singers = [place for place in full if _sings(page.parts[place])]
    others = [place for place in full if place not in singers]
    if len(singers) >= 4 and others:
        return tuple(singers)
    return tuple(full)


def _sings(part: Part) -> bool:
    name = part.name.strip()
    first = next((word for word in re.split(r"[\s,./(]+", name) if word), "")
    return any(pattern.fullmatch(first) for pattern in SINGERS.values())


def _streams(page: Page, marks: Sequence[Mark], chosen: Sequence[int]) -> list[tuple[int, list[Mark]]]:
    """The notes of each voice from the top, with the staff (0, 1, 2) its page gives it to."""
    staves = sorted({(mark.part, mark.staff) for mark in marks})
    two = len(staves) == 2
    streams: list[tuple[int, list[Mark]]] = []
    for number, place in enumerate(staves, 1):
        inside = [mark for mark in marks if (mark.part, mark.staff) == place]
        streams += [(number if two else 0, stream) for stream in _divided(inside)]
    return streams


def _divided(marks: Sequence[Mark]) -> list[list[Mark]]:
    """Divide the notes of one staff into voices, each with one note at a time."""
    lines = sorted({mark.line for mark in marks})
    divided: list[list[Mark]] = []
    for line in lines:
        rows: list[list[Mark]] = []
        starts: dict[Quarters, list[Mark]] = {}
        for mark in marks:
            if mark.line == line:
                starts.setdefault(mark.onset, []).append(mark)
        for onset in sorted(starts):
            free = 0
            for mark in sorted(starts[onset], key=lambda mark: -mark.midi):
                while free < len(rows) and rows[free][-1].end > onset:
                    free += 1
                if free == len(rows):
                    rows.append([])
                rows[free].append(mark)
                free += 1
        divided += rows
    return divided


def _names(page: Page, streams: Sequence[tuple[int, list[Mark]]], chosen: Sequence[int]) -> tuple[str, ...]:
    """A name for every voice: as its part is named where that settles it, else by its place from the top."""
    return voice_names(len(streams))


def _note(mark: Mark, voice: str, staff: int) -> Note:
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
        words=mark.words,
    )


def _playable(notes: Sequence[Note], page: Page, source: str) -> None:
    struck: Counter[Quarters] = Counter(onset for onset, _ in {(note.onset, note.midi) for note in notes})
    onset, most = max(struck.items(), key=lambda entry: entry[1], default=(Fraction(0), 0))
    if most > MOST_AT_ONCE:
        bar = bar_number(page.bars, onset)
        raise CoachError(f'cannot use "{source}": bar {bar} strikes {most} keys at once, more than ten fingers can')


def _sounds_minor(fifths: int, notes: Sequence[Note]) -> bool:
    """Whether the last bass note is the minor tonic of the signature: what a player looks at first."""
    last = max(note.end for note in notes)
    bass = min(note.midi for note in notes if note.end == last)
    return bass % 12 == (9 + 7 * fifths) % 12


def _list(names: Sequence[str]) -> str:
    """ "Horn 1, Horn 2 and Timpani"."""
    if len(names) == 1:
        return names[0]
    return ", ".join(names[:-1]) + " and " + names[-1]
