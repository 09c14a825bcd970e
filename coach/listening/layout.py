"""The expected chords, laid out for looking up quickly where a key may belong."""

from __future__ import annotations

from itertools import accumulate, pairwise

from coach.listening.costs import missing
from coach.listening.expected import Expected


class Music:
    """The expected chords, laid out for quick looking-up."""

    def __init__(self, expected: Expected) -> None:
        self.onsets = [chord.onset for chord in expected.chords]
        self.steps = [after - before for before, after in zip(self.onsets, self.onsets[1:], strict=False)]
        if self.onsets:
            self.steps.append(max(expected.chords[-1].duration, 1e-3))
        self.starts = frozenset(expected.starts)
        self.bits: list[dict[int, tuple[int, ...]]] = []
        self.required: list[int] = []
        self.sounding: list[frozenset[int]] = []
        self.where: dict[int, list[int]] = {}
        for chord in expected.chords:
            bits: dict[int, tuple[int, ...]] = {}
            required = 0
            seen = set()
            for bit, number in enumerate(chord.struck):
                note = expected.notes[number]
                for key in {note.midi, note.written_midi}:
                    bits[key] = (*bits.get(key, ()), bit)
                # Voices that meet on one key ask for one press; a second one is welcome but not missed.
                if not note.optional and note.midi not in seen:
                    required |= 1 << bit
                seen.add(note.midi)
            self.bits.append(bits)
            self.required.append(required)
            held = frozenset(expected.notes[number].midi for number in chord.held)
            self.sounding.append(held | frozenset(bits))
            for key in bits:
                self.where.setdefault(key, []).append(chord.number)
        near = [frozenset(key + step for key in sounding for step in (-2, -1, 0, 1, 2)) for sounding in self.sounding]
        self.beside = [here | after for here, after in pairwise([*near, frozenset()])]
        self.mistakable = [
            frozenset(key + step for key in bits for step in (-12, -2, -1, 1, 2, 12)) - frozenset(bits)
            for bits in self.bits
        ]
        self.all_missing = [missing(mask.bit_count()) for mask in self.required]
        self.missing_before = [0.0, *accumulate(self.all_missing)]

    def lost(self, chord: int, mask: int) -> float:
        """Cost of the notes of a chord that a mask leaves out."""
        return missing((self.required[chord] & ~mask).bit_count())
