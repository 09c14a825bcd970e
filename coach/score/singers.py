"""Which parts of a page the coach plays, and what their voices are called."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import count

from coach.score.page import Mark, Page, Part
from coach.score.piece import SATB
from coach.score.separation import usual_count

NAMES = {
    "soprano": r"sop(?:ran\w*|r?)?|s|treble|cantus|canto|discant\w*|diskant|superius|air|melody|tune",
    "alto": r"alt\w*|a|contralto|counter|mezzo\w*",
    "tenor": r"ten(?:or\w*)?|t",
    "bass": r"bass?(?:us|o|i)?|b|bar(?:yton\w*|iton\w*)?",
}
"""How singers' parts are named in scores: English, German, Italian, Latin, letters."""

INSTRUMENT = re.compile(
    r"horn|corn|trump|bugle|trom|posaun|euphon|tuba|flut|flöt|picc|record|blockfl|whistle|oboe|clarin|klarin|bassoon"
    r"|fagott|sax|viol|cello|[ck]ontrab|double.?bass|string|gamba|lute|laute|guitar|gitarr|ukul|banjo|mandol|harp(?!si)"
    r"|drum|timp|pauk|bell|glock",
    re.I,
)
"""Instruments that play one line beside a hymn or its chords. Some are built in sizes that are named like voices: a
"Tenor Horn" is no tenor."""

AND = {"and", "und", "et", "e", "ed", "y"}
"""What may stand between the names of two singers on one staff."""

DOUBLED = 0.8
"""Share of a part's notes that the others have too, from which it is a doubling."""

ABOVE = re.compile(r"desc?ant|obbligato|solo|ossia|echo", re.I)
"""How parts that are added above a hymn are named."""


def singer(part: Part) -> str | None:
    """Which of the four voices a part is by its name, or None: "Tenor 2" is "tenor", "Tenor Horn" is None."""
    words = _words(part)
    if len(words) == 2 and INSTRUMENT.match(words[1]):
        return None
    return _size(part)


def _size(part: Part) -> str | None:
    """The voice that a part's name begins with, be it a singer's or that of an instrument of this size."""
    words = _words(part)
    if not words or ABOVE.search(words[0]):
        return None
    first = re.sub(r"\d+$", "", words[0])
    return next((voice for voice, pattern in NAMES.items() if re.fullmatch(pattern, first)), None)


def voices_of(part: Part) -> tuple[str, ...]:
    """All voices that a part is named for: two where two singers share a staff, as in "Soprano/Alto", "S. A.", "SA"."""
    words = _words(part)
    if not words or singer(part) is None:
        together = re.fullmatch(r"s?a?t?b?", words[0]) if len(words) == 1 else None
        return tuple(voice for voice in SATB if together and voice[0] in together[0])
    found: list[str] = []
    for word in words:
        voice = singer(Part(word))
        # "Soprano A" is one of two sopranos.
        if voice is None or (len(word) == 1 and len(words[0]) > 1):
            if word in AND:
                continue
            break
        found.append(voice)
    # A mezzo-soprano is one singer.
    return tuple(dict.fromkeys(found[:1] if words[0].startswith("mezzo") else found))


def _words(part: Part) -> list[str]:
    return [word for word in re.split(r"[^\w]+", part.name.lower()) if word and not word.isdecimal()]


def chosen_parts(page: Page, marks: Sequence[Mark]) -> tuple[int, ...]:
    """Indices of the parts to play, from the top.

    Singers where there are four of them and instruments beside; else a keyboard's staves, an organ's pedals among them,
    or a four-voice page where a solo, a descant or a single singer stands above them; else four singers who share
    staves, or four voices that an instrument plays along with; else every part that has notes, a doubled melody left
    out.
    """
    sounding = {mark.part for mark in marks}
    full = [place for place in range(len(page.parts)) if place in sounding]
    # "Tenor Viola" is an instrument, unless it is the only tenor of the page: then it is a singer whom a viola doubles.
    for named in (singer, _size):
        singers = [place for place in full if named(page.parts[place])]
        if {named(page.parts[place]) for place in singers} >= set(SATB) and len(singers) < len(full):
            return tuple(singers)
    extra = [place for place in full if ABOVE.search(page.parts[place].name)]
    rest = [place for place in full if place not in extra]
    if extra and rest:
        return tuple(rest)
    keyboards = [place for place in full if page.parts[place].staves > 1]
    if keyboards and len(keyboards) < len(full):
        pedals = [full[-1]] if _is_pedal(page.parts[full[-1]], full[-1], keyboards, marks) else []
        others = [place for place in full if place not in (*keyboards, *pedals)]
        return tuple(others if len(others) == len(SATB) else keyboards + pedals)
    sharing = [place for place in full if voices_of(page.parts[place])]
    if {voice for place in sharing for voice in voices_of(page.parts[place])} >= set(SATB) and len(sharing) < len(full):
        return tuple(sharing)
    full = _without_instruments(page, full, marks)
    return tuple(place for place in full if not is_doubled(place, full, marks))


def _without_instruments(page: Page, full: list[int], marks: Sequence[Mark]) -> list[int]:
    """The parts of a four-voice page beside which instruments play; all parts where the instruments are the page."""
    rest = [place for place in full if not INSTRUMENT.search(page.parts[place].name)]
    quartet = are_singers([page.parts[place] for place in full])
    if quartet or len(rest) < 2 or usual_count([mark for mark in marks if mark.part in rest]) < len(SATB):
        return full
    return rest


def _is_pedal(part: Part, place: int, keyboards: Sequence[int], marks: Sequence[Mark]) -> bool:
    """Whether a part is an organ's pedals: it stands below the manuals, sounds with them, and lies lowest."""
    if place < keyboards[-1] or INSTRUMENT.search(part.name):
        return False
    manuals = sorted((mark for mark in marks if mark.part in keyboards), key=lambda mark: mark.onset)
    own = sorted((mark for mark in marks if mark.part == place), key=lambda mark: mark.onset)
    under = reached = 0
    sounding: list[Mark] = []
    for mark in own:
        while reached < len(manuals) and manuals[reached].onset < mark.end:
            sounding.append(manuals[reached])
            reached += 1
        sounding = [other for other in sounding if other.end > mark.onset]
        under += bool(sounding) and mark.midi <= min(other.midi for other in sounding)
    return 2 * under > len(own)


def is_doubled(place: int, full: Sequence[int], marks: Sequence[Mark]) -> bool:
    """Whether a part above two others or more only sings along with them: the melody over its harmonisation.

    Args:
        place: Index of the part.
        full: Indices of all parts that have notes, from the top.
        marks: The notes of all of them.
    """
    if place != full[0] or len(full) < 3 or len(full) == len(SATB):
        # Four parts are four voices, also where they sing in unison.
        return False
    own = {(mark.onset, mark.midi) for mark in marks if mark.part == place}
    others = {(mark.onset, mark.midi) for mark in marks if mark.part != place}
    return len(own & others) >= DOUBLED * len(own)


def voice_names(voices: int) -> tuple[str, ...]:
    """Names of so many voices from the top: the outer ones are soprano and bass, further ones are numbered.

    `voice_names(5)` is ("soprano", "alto", "tenor", "voice 5", "bass").
    """
    few: dict[int, tuple[str, ...]] = {0: (), 1: ("soprano",), 2: ("soprano", "bass"), 3: ("soprano", "alto", "bass")}
    if voices <= 4:
        return few.get(voices, SATB)
    return (*SATB[:3], *(f"voice {number}" for number in range(5, voices + 1)), "bass")


def names_by_place(rows: Sequence[int]) -> tuple[str, ...]:
    """A name for every row of voices whom only their place names, from the top.

    Of a voice that divides the outer row bears the name, the upper one or, of the lowest voice, the lower; the others
    are numbered: `names_by_place([1, 1, 1, 2])` is ("soprano", "alto", "tenor", "voice 5", "bass").

    Args:
        rows: Into how many each voice divides, one where it does not.
    """
    bearing = iter(voice_names(len(rows)))
    number = count(max(5, len(rows) + 1))
    return tuple(
        next(bearing) if row == (divided - 1 if place == len(rows) - 1 else 0) else f"voice {next(number)}"
        for place, divided in enumerate(rows)
        for row in range(divided)
    )


def are_singers(parts: Sequence[Part]) -> bool:
    """Whether every part is named as a singer's is."""
    return bool(parts) and all(_size(part) for part in parts)


def named_from_below(parts: Sequence[Part]) -> tuple[bool, ...]:
    """For every part whether its lower line bears its name: basses', and where no names tell, the last part's."""
    if are_singers(parts):
        return tuple((voices_of(part) or (_size(part),))[-1] == "bass" for part in parts)
    return tuple(place == len(parts) - 1 for place in range(len(parts)))


def names_of(parts: Sequence[Part], lines: Sequence[Sequence[int]]) -> tuple[str, ...]:
    """A name for every voice of an open score of singers, from the top.

    The parts' own names decide, also of a part that two singers share. Of several parts with one name (Soprano 1,
    Soprano 2; Baritone, Bass), and of a part that is divided, the outer line bears it: the upper one or, of basses, the
    lower. The others are numbered.

    Args:
        parts: The parts from the top.
        lines: Of each its lines from the top: into how many voices each one divides, one where it does not.
    """
    sung: list[str | None] = []
    for part, rows in zip(parts, lines, strict=True):
        named = voices_of(part)
        each = named if len(named) == len(rows) else [_size(part)] * len(rows)
        sung += [voice for voice, several in zip(each, rows, strict=True) for _ in range(several)]
    bearing = {voice: sung.index(voice) for voice in sung}
    if "bass" in bearing:
        bearing["bass"] = len(sung) - 1 - sung[::-1].index("bass")
    number = count(5)
    return tuple(
        voice if voice is not None and bearing[voice] == place else f"voice {next(number)}"
        for place, voice in enumerate(sung)
    )
