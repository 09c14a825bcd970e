"""Part of a piece: some of its voices."""

from __future__ import annotations

from dataclasses import replace

from coach.errors import CoachError
from coach.score.piece import SATB, Piece


def some_voices(piece: Piece, letters: str) -> Piece:
    """The piece with some of its voices alone; bars and everything else stay.

    Args:
        piece: The piece.
        letters: S, A, T, B for the four voices, a number for a further one ("voice 5"): "SB", "SAT5".

    Raises:
        CoachError: a letter names no voice of the piece, or none is named.
    """
    wanted = []
    for letter in letters.replace(",", "").replace(" ", "").lower():
        named = [voice for voice in SATB if voice[0] == letter]
        voice = named[0] if named else f"voice {letter}"
        if voice not in piece.voices:
            has = ", ".join(piece.voices)
            raise CoachError(f'"{letter.upper()}" names no voice of "{piece.title}": it has {has}')
        wanted.append(voice)
    if not wanted:
        raise CoachError("name the voices by their letters, as in SATB")
    voices = tuple(voice for voice in piece.voices if voice in wanted)
    return replace(piece, voices=voices, notes=tuple(note for note in piece.notes if note.voice in voices))
