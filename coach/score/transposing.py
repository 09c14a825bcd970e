"""A piece in another key: by name of the key or by interval, and how such a piece is kept on the shelf."""

from __future__ import annotations

import base64
import binascii
import json
import re
from dataclasses import dataclass, replace

from coach.errors import CoachError
from coach.score.page import PIANO, changes_of_key
from coach.score.piece import Piece
from coach.score.spelling import TONICS, carried, key_name, moved, moved_key

MARK = b'{"coach": "transposed"'
"""What a kept transposition begins with."""

INTERVALS = {
    "unison": (0, 0),
    "minor second": (1, 1),
    "major second": (1, 2),
    "minor third": (2, 3),
    "major third": (2, 4),
    "fourth": (3, 5),
    "augmented fourth": (3, 6),
    "diminished fifth": (4, 6),
    "fifth": (4, 7),
    "minor sixth": (5, 8),
    "major sixth": (5, 9),
    "minor seventh": (6, 10),
    "major seventh": (6, 11),
    "octave": (7, 12),
}
"""Steps and semitones of the intervals up to an octave."""

SHORT = {
    "m2": "minor second",
    "M2": "major second",
    "m3": "minor third",
    "M3": "major third",
    "P4": "fourth",
    "A4": "augmented fourth",
    "d5": "diminished fifth",
    "P5": "fifth",
    "m6": "minor sixth",
    "M6": "major sixth",
    "m7": "minor seventh",
    "M7": "major seventh",
    "P8": "octave",
    "semitone": "minor second",
    "half step": "minor second",
    "tone": "major second",
    "whole tone": "major second",
    "whole step": "major second",
}


TONES = frozenset(("semitone", "half step", "tone", "whole tone", "whole step"))
"""Names that count keys of the keyboard and leave the spelling open."""


@dataclass(frozen=True, slots=True)
class Interval:
    """How far to move.

    Attributes:
        steps: Steps of the scale, negative for down.
        semitones: Semitones, negative for down.
        spelled_freely: Whether semitones alone were asked for: then the steps are a suggestion, and the key is the one
            of fewer sharps or flats.
    """

    steps: int
    semitones: int
    spelled_freely: bool = False


@dataclass(frozen=True, slots=True)
class Wrapped:
    """A kept transposition: the source as it was, and what to do with it."""

    data: bytes
    title: str
    interval: Interval


def interval_to(piece: Piece, key: str) -> Interval:
    """The shortest interval from the piece's key to another one of the same mode.

    Args:
        piece: The piece.
        key: "E flat", "Eb", "F sharp minor"; a mode, where one is given, must be the piece's.

    Raises:
        CoachError: no such key, or one of the other mode.
    """
    found = re.fullmatch(
        r"\s*([A-Ga-g])\s*(?:[- ]?(sharp|flat|#|b|♯|♭))?\s*(?:[- ]?(major|minor|maj|min|m))?\s*", key, re.I
    )
    if not found:
        raise CoachError(f'cannot make a key of "{key}": name one as in "E flat" or "F sharp minor"')
    mode = (found[3] or "").lower()
    minor = piece.minor if not mode else mode.startswith("m") and mode not in ("major", "maj")
    if minor != piece.minor:
        raise CoachError(f'"{piece.title}" is in {"minor" if piece.minor else "major"}: transposing keeps the mode')
    sign = {"sharp": 7, "#": 7, "♯": 7, "flat": -7, "b": -7, "♭": -7}.get((found[2] or "").lower(), 0)
    place = TONICS[found[1].upper()] + sign
    fifths = place - (3 if minor else 0)
    if not -7 <= fifths <= 7:
        raise CoachError(f"{key_name(fifths, bool(minor))} would need more than seven sharps or flats")
    moved_by = fifths - piece.fifths
    # A fifth up is four steps and seven semitones; octaves are taken off until the way is short. Of two ways of a
    # tritone the lower one is kinder to singers.
    semitones = (7 * moved_by + 6) % 12 - 6
    octaves = (7 * moved_by - semitones) // 12
    return Interval(4 * moved_by - 7 * octaves, semitones)


def interval_of(text: str) -> Interval:
    """An interval in words: "minor third up", "major second down", "-m3", "+2" (semitones), "octave down".

    Raises:
        CoachError: it names none.
    """
    words = text.strip()
    down = bool(re.search(r"\bdown\b|\blower\b", words, re.I)) or words.startswith(("-", "−"))
    bare = re.sub(r"\b(?:up|down|higher|lower|a|an|by|perfect)\b|^[-−+]", " ", words, flags=re.I)
    bare = " ".join(bare.split())
    name = SHORT.get(bare) or SHORT.get(bare.lower(), bare.lower())
    sign = -1 if down else 1
    if name in INTERVALS:
        steps, semitones = INTERVALS[name]
        return Interval(sign * steps, sign * semitones, bare.lower() in TONES)
    number = re.fullmatch(r"(\d{1,2})\s*(?:semitones?|half[ -]steps?)?", bare)
    if number and int(number[1]) <= 24:
        octaves, rest = divmod(int(number[1]), 12)
        steps, semitones = next((s, c) for s, c in INTERVALS.values() if c == rest)
        return Interval(sign * (steps + 7 * octaves), sign * (semitones + 12 * octaves), spelled_freely=True)
    raise CoachError(f'cannot make an interval of "{text}": name one as in "minor third up" or "-2" (semitones)')


def between(piece: Piece, moved: Piece, semitones: int) -> Interval:
    """The interval that leads from a piece to itself in another key, spelled as it is there.

    Args:
        piece: The piece.
        moved: The same in the other key.
        semitones: From the one to the other.
    """
    # `transposed` the other way round.
    return Interval((piece.fifths - moved.fifths + 7 * semitones) // 12, semitones)


def transposed(piece: Piece, interval: Interval, title: str = "") -> Piece:
    """The piece moved by an interval, each of its sections spelled in its new key.

    Raises:
        CoachError: a note would leave the piano.
    """
    if interval.spelled_freely:
        interval = _of_fewest_accidentals(piece.fifths, interval)

    def carry(key: int) -> tuple[int, int]:
        return carried(key, interval.steps, interval.semitones)

    notes = []
    for note in piece.notes:
        midi = note.midi + interval.semitones
        if midi not in PIANO:
            raise CoachError(f'"{piece.title}" cannot be moved so far: {note.pitch} would leave the piano')
        _, steps = carry(piece.fifths_at(note.onset))
        # Printed fingers belong to the keys they were printed for.
        notes.append(replace(note, midi=midi, pitch=moved(note.pitch, steps, interval.semitones), finger=None))
    fifths, _ = carry(piece.fifths)
    changes = changes_of_key(fifths, ((at, carry(key)[0]) for at, key in piece.key_changes))
    title = title or piece.title
    return replace(piece, title=title, notes=tuple(notes), fifths=fifths, key_changes=tuple(changes))


def _of_fewest_accidentals(fifths: int, interval: Interval) -> Interval:
    """As many semitones, to whichever name of the key has fewer sharps or flats; as suggested where both have six."""
    steps = min(
        (interval.steps + off for off in (0, -1, 1)), key=lambda some: abs(moved_key(fifths, some, interval.semitones))
    )
    return Interval(steps, interval.semitones)


def wrapped(data: bytes, title: str, interval: Interval) -> bytes:
    """What is kept of a transposition: the source itself, which stays readable whatever becomes of the original."""
    form = {
        "coach": "transposed",
        "title": title,
        "steps": interval.steps,
        "semitones": interval.semitones,
        "spelled_freely": interval.spelled_freely,
        "source": base64.b64encode(data).decode("ascii"),
    }
    return json.dumps(form, ensure_ascii=False).encode("utf-8")


def looks_transposed(data: bytes) -> bool:
    return data.startswith(MARK)


def unwrapped(data: bytes, name: str) -> Wrapped:
    """Read what `wrapped` writes.

    Raises:
        CoachError: it is damaged.
    """
    try:
        form = json.loads(data)
        interval = Interval(int(form["steps"]), int(form["semitones"]), bool(form.get("spelled_freely", False)))
        if max(abs(interval.steps), abs(interval.semitones)) > 60:
            raise ValueError
        inner = base64.b64decode(form["source"], validate=True)
        if looks_transposed(inner):
            raise ValueError
        return Wrapped(inner, str(form["title"]), interval)
    except (ValueError, KeyError, TypeError, binascii.Error) as error:
        raise CoachError(f'cannot read "{name}": the kept transposition is damaged') from error
