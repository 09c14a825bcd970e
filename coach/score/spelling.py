"""How a key on the keyboard is spelled, and how a spelling moves to another key signature."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from itertools import count

from coach.score.page import SHARPS, STEPS, midi_of, spelled

LINE = SHARPS
"""The line of fifths, F to B; a sharp moves a name seven fifths up."""

NOTES = "CDEFGAB"
"""The natural notes from C up."""

TONICS = {step: place - 1 for place, step in enumerate(LINE)}
"""Fifths above C of the natural notes."""

FLATTEST = -3
"""In a key without signature the flattest usual note is E flat, three fifths below C; the sharpest is G sharp, eight
above (common practice: chords borrowed from minor and secondary dominants; no source)."""

SPELLING = re.compile(r"([A-G])(#*|b*)(-?\d+)")


def spelling_of(midi: int, fifths: int) -> str:
    """The usual spelling of a key in a key signature: 66 is "F#4" in C major and "Gb4" in D flat major.

    Args:
        midi: MIDI number.
        fifths: Sharps or, negative, flats of the signature.
    """
    # The only place on the line of fifths with this pitch class among the twelve that the key uses.
    place = (midi % 12) * 7 % 12
    low = FLATTEST + fifths
    place = low + (place - low) % 12
    step, alter = LINE[(place + 1) % 7], (place + 1) // 7
    octave = (midi - STEPS[step] - alter) // 12 - 1
    return spelled(step, alter, octave)


@lru_cache(maxsize=1024)
def parsed(pitch: str) -> tuple[str, int, int]:
    """Step, alteration and octave of a spelling: "Bb3" is ("B", -1, 3)."""
    found = SPELLING.fullmatch(pitch)
    if not found:
        raise ValueError(f'no pitch: "{pitch}"')
    return found[1], found[2].count("#") - found[2].count("b"), int(found[3])


def place_of(pitch: str) -> int:
    """Where a spelling stands on the line of fifths, in fifths above C: "Bb3" is -2."""
    step, alter, _ = parsed(pitch)
    return TONICS[step] + 7 * alter


def moved(pitch: str, steps: int, semitones: int) -> str:
    """A spelling moved by a diatonic and a chromatic interval: a major third is `moved("C4", 2, 4)`, "E4".

    A note that would need more than two sharps or flats takes its simpler neighbour's name; one that stays where it is
    keeps its own.
    """
    if not steps and not semitones:
        return pitch
    midi = midi_of(*parsed(pitch)) + semitones
    place = staff_place(pitch) + steps
    # Every key has a name with at most two sharps or flats, so that the way to the nearest one ends.
    nearest = (place + way * far for far in count() for way in (1, -1))
    return next(spelled(*name) for name in (_on_place(near, midi) for near in nearest) if abs(name[1]) <= 2)


def staff_place(pitch: str) -> int:
    """Where a pitch is written on the staff, in steps above C0, whatever its accidental."""
    step, _, octave = parsed(pitch)
    return NOTES.index(step) + 7 * octave


def _on_place(place: int, midi: int) -> tuple[str, int, int]:
    """Step, alteration and octave of a key that is written on a place of the staff."""
    octave, step = divmod(place, 7)
    return NOTES[step], midi - midi_of(NOTES[step], 0, octave), octave


def moved_key(fifths: int, steps: int, semitones: int) -> int:
    """A key signature moved by a diatonic and a chromatic interval; it may have more than seven sharps or flats.

    One fifth is seven semitones and four steps: a major second up makes two sharps more, `moved_key(0, 1, 2)` is 2.
    """
    return fifths + 7 * semitones - 12 * steps


def carried(fifths: int, steps: int, semitones: int) -> tuple[int, int]:
    """A key signature moved by an interval, and the steps by which its notes move, so that they go with it.

    A signature of more than seven sharps or flats gives way to that of the same keys by another name, and so do the
    notes: from E major up a major third is A flat, not G sharp, `carried(4, 2, 4)` is (-4, 3).
    """
    wanted = moved_key(fifths, steps, semitones)
    found = printable(wanted)
    return found, steps + (wanted - found) // 12


@dataclass(frozen=True, slots=True)
class Signature:
    """The signature that counts in a part.

    Attributes:
        written: As it is written, in fifths.
        sounding: As it sounds where the part transposes, in fifths.
        steps: Steps from a written note to the one that sounds, see `carried`.
    """

    written: int
    sounding: int
    steps: int = 0


def signature_of(written: int, steps: int, semitones: int) -> Signature:
    """The signature of a part by what must be added to its written pitches to make them sound.

    A clarinet in B flat that is written in D major sounds in C major: `signature_of(2, -1, -2).sounding` is 0.
    """
    return Signature(written, *carried(written, steps, semitones))


def printable(fifths: int) -> int:
    """A signature of at most seven sharps or flats for the same keys: B sharp is C, twelve fewer."""
    return (fifths + 6) % 12 - 6 if abs(fifths) > 7 else fifths


def leading(signatures: Iterable[Signature]) -> Signature | None:
    """The signature that a page is read in: the uppermost of a part that does not transpose, else the uppermost.

    Transposing parts come second because horns are written without signature, whatever the key (common practice, no
    source).
    """
    found = list(signatures)
    return next((each for each in found if each.written == each.sounding), found[0] if found else None)


def key_name(fifths: int, minor: bool) -> str:
    """ "E flat major" for three flats, "C minor" with `minor`."""
    place = fifths + (3 if minor else 0)
    step, alter = LINE[(place + 1) % 7], (place + 1) // 7
    sign = {1: " sharp", -1: " flat"}.get(alter, "")
    return f"{step}{sign} {'minor' if minor else 'major'}"


def likely_fifths(pitches: Iterable[int], last_bass: int) -> int:
    """The key signature that fits most notes; among equals the one in which the last bass note is a tonic.

    Args:
        pitches: MIDI numbers of all notes.
        last_bass: MIDI number of the last bass note.
    """
    counts = [0] * 12
    for midi in pitches:
        counts[midi % 12] += 1

    def fit(fifths: int) -> tuple[float, int]:
        scale = {(7 * place) % 12 for place in range(fifths - 1, fifths + 6)}
        inside = sum(count for pitch, count in enumerate(counts) if pitch in scale)
        tonic = last_bass % 12 in ((7 * fifths) % 12, (7 * fifths + 9) % 12)
        return inside + 0.05 * sum(counts) * tonic, -abs(fifths)

    return max(range(-6, 7), key=fit)
