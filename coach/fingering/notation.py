"""How a choice is written on one line: `3:2.5 soprano 4`, `3:2.5 2+2`, `3:2.5 right lift`."""

from __future__ import annotations

import re
from collections.abc import Sequence

from coach.errors import CoachError
from coach.fingering.choices import Fix, FixedFinger, FixedLeaving, FixedSharing, What, of_note
from coach.fingering.intervals import the_voice
from coach.fingering.plan import SIDES, Side
from coach.score.bar_beat import onset_at, place_written
from coach.score.counting import place_words
from coach.score.piece import SATB, Note, Piece, Quarters

HOW = (
    'BAR:BEAT, then a note and its finger ("3:2.5 soprano 4", or by pitch: "3:2.5 E5 4"), the notes of the right and '
    'the left hand ("3:2.5 2+2"), or a hand and "lift" or "join" ("3:2.5 right lift"); "free" in place of the choice '
    'takes it back ("3:2.5 soprano free", "3:2.5 hands free", "3:2.5 right free")'
)
"""The notation in words, for help."""

EXAMPLES = 'write bar and beat, then the choice, as in "3:2.5 soprano 4", "3:2.5 2+2" or "3:2.5 right lift"'
"""The notation in short, for errors."""

_FINGERS = ("1", "2", "3", "4", "5")
_SHARING = re.compile(r"(\d{1,2})\+(\d{1,2})")
_PITCH = re.compile(r"([A-Ga-g])(#{0,2}|b{0,2})(-?\d)?")

_AS_PRINTED = str.maketrans(
    {"♯": "#", "♭": "b", "♮": None, "𝄪": "##", "𝄫": "bb", "₋": "-"}
    | {figure: str(number) for number, figure in enumerate("₀₁₂₃₄₅₆₇₈₉")}
)
"""The signs of chord tables, as pitches are spelled here."""

_IN_WORDS = ((" double sharp", "##"), (" double flat", "bb"), (" sharp", "#"), (" flat", "b"))
"""Accidentals of sentences."""


def read_fix(text: str, piece: Piece) -> Fix | What:
    """Read one line.

    Returns:
        The choice, or what is to be free of one.

    Raises:
        CoachError: it says nothing, or nothing that is in the piece.
    """
    words = text.split()
    onset = onset_at(piece, words[0]) if len(words) > 1 else None
    if onset is None:
        raise CoachError(f'"{text}" is no choice: {EXAMPLES}')
    *who, what = (word.lower() for word in words[1:])
    sharing = _SHARING.fullmatch(what)
    if sharing and not who:
        return FixedSharing(onset, int(sharing[1]), int(sharing[2]))
    if who in (["hands"], ["distribution"]) and what == "free":
        return FixedSharing(onset, 0, 0).what
    side = _side(who)
    if side and what == "free":
        return FixedLeaving(onset, side, "lift").what
    if side and what in ("lift", "join"):
        return FixedLeaving(onset, side, "lift" if what == "lift" else "join")
    if who and not side and (what == "free" or what in _FINGERS):
        note = _note(piece, onset, words[1:-1], words[0])
        return of_note(note, 1).what if what == "free" else of_note(note, int(what))
    if who and not side and what.isdecimal():
        raise CoachError(f'"{text}" names no finger: they are counted from 1, the thumb, to 5')
    raise CoachError(f'"{text}" is no choice: {EXAMPLES}')


def write_fix(fix: Fix, piece: Piece) -> str:
    """The line that says a choice."""
    place = place_written(piece, fix.onset)
    if isinstance(fix, FixedSharing):
        return f"{place} {fix.distribution}"
    if isinstance(fix, FixedLeaving):
        return f"{place} {fix.side} {fix.after}"
    return f"{place} {_name(piece, fix)} {fix.finger}"


def _name(piece: Piece, fix: FixedFinger) -> str:
    """The voice; the pitch where the voice strikes several notes at once."""
    struck = [note for note in piece.notes if note.onset == fix.onset and note.voice == fix.voice]
    pitches = [note.pitch for note in struck if note.midi == fix.key]
    return pitches[0] if len(struck) > 1 and pitches else fix.voice


def _side(who: Sequence[str]) -> Side | None:
    return next((side for side in SIDES if list(who) in ([side], [side, "hand"])), None)


def _note(piece: Piece, onset: Quarters, who: Sequence[str], place: str) -> Note:
    """The note that starts at an onset and is named by its voice or its pitch."""
    struck = [note for note in piece.notes if note.onset == onset]
    name = " ".join(who)
    voice = next((each for each in SATB if len(name) == 1 and each[0] == name.lower()), name.lower())
    voice = f"voice {voice}" if voice.isdigit() else voice
    found = [note for note in struck if note.voice == voice]
    several = f"{the_voice(voice)} strikes several notes"
    if not found:
        spelled = _spelled(name)
        found = [note for note in struck if spelled in (note.pitch, note.pitch.rstrip("-0123456789"))]
        several = f"{name} is struck in several octaves"
    if found and len({note.midi for note in found}) == 1:
        return found[0]
    if found:
        raise CoachError(f"{place}: {several} here, name one by its pitch: {_pitches(found)}")
    sounding = next((n for n in piece.notes if n.voice == voice and n.onset < onset < n.end), None)
    if sounding is not None:
        begun = _place_words(piece, sounding.onset)
        raise CoachError(
            f"{_place_words(piece, onset)}: {the_voice(voice)}'s note is held from {begun}: choose its finger there"
        )
    raise CoachError(f'{_place_words(piece, onset)}: "{name}" strikes nothing here, but {_struck(struck)}')


def _place_words(piece: Piece, onset: Quarters) -> str:
    bar = piece.bar_at(onset)
    return place_words(bar.number, bar.beat(onset))


def _spelled(name: str) -> str:
    """A pitch, its octave perhaps left out, as notes are spelled, from what the coach prints of it: "E♭₅" is "Eb5"."""
    text = name.translate(_AS_PRINTED)
    for words, sign in _IN_WORDS:
        text = text.replace(words, sign)
    found = _PITCH.fullmatch(text)
    return f"{found[1].upper()}{found[2]}{found[3] or ''}" if found else name


def _pitches(notes: Sequence[Note]) -> str:
    return ", ".join(note.pitch for note in notes)


def _struck(notes: Sequence[Note]) -> str:
    return ", ".join(f"{note.voice} {note.pitch}" for note in sorted(notes, key=lambda note: -note.midi))
