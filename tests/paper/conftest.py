"""A way to write a fingered phrase in a few lines: voices as text, hands and fingers with the notes."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping
from fractions import Fraction

import pytest

from coach.fingering.plan import After, HandPart, PhrasePlan, PlannedChord, PlannedNote, Side

KEYS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
Phrases = Callable[..., PhrasePlan]


def notes_of(voice: str, text: str) -> list[PlannedNote]:
    """Read "E5:1:r5 F#5:1/2:r4": pitch, length, hand and finger; "-" for no hand, "r" for a rest.

    After the finger: "^" raised, "~" rolled, "!" chosen.
    """
    notes = []
    at = 0.0
    for token in text.split():
        pitch, length, *hands = token.split(":")
        duration = float(Fraction(length))
        if pitch != "r":
            letter, accidentals, octave = re.fullmatch(r"([A-G])([#b]*)(\d)", pitch).groups()  # type: ignore[union-attr]
            midi = KEYS[letter] + accidentals.count("#") - accidentals.count("b") + 12 * (int(octave) + 1)
            hand: Side | None = {"r": "right", "l": "left", "-": None}[hands[0][0]]  # type: ignore[assignment]
            notes.append(
                PlannedNote(
                    voice=voice,
                    onset=at,
                    duration=duration,
                    pitch=pitch,
                    midi=midi,
                    written_midi=midi - 12 * ("^" in hands[0]),
                    struck=True,
                    hand=hand,
                    finger=int(hands[0][1]) if hand else None,
                    rolled="~" in hands[0],
                    chosen="!" in hands[0],
                )
            )
        at += duration
    return notes


def phrase_of(
    voices: Mapping[str, str],
    *,
    right_lifts: Collection[int] = (),
    left_lifts: Collection[int] = (),
    restrikes: Collection[tuple[Side, int]] = (),
    let_go: Mapping[tuple[str, float], float] | None = None,
    new_fingers: Mapping[tuple[str, float], tuple[float, int]] | None = None,
    pickup: float = 0,
    metre: int = 4,
    number: int = 1,
    why_it_ends: str = "fermata",
) -> PhrasePlan:
    """Build a phrase from its voices.

    Args:
        voices: Voice to text, see `notes_of`.
        right_lifts, left_lifts: Places of the chords after which that hand lifts.
        restrikes: (hand, place of a chord) after which the hand strikes the same keys again.
        let_go: (voice, onset) of a note to the onset of the chord where it has to be let go.
        new_fingers: (voice, onset) of a note to the onset from which another finger holds it, and that finger.
        pickup: Quarter notes before the first bar line.
    """
    notes = [note for voice, text in voices.items() for note in notes_of(voice, text)]
    end = max(note.end for note in notes)
    onsets = sorted({note.onset for note in notes})
    groups = {"right": 1, "left": 1}
    lifts = {"right": right_lifts, "left": left_lifts}
    chords = []
    for place, onset in enumerate(onsets):
        here = []
        for note in notes:
            if not note.onset <= onset < note.end:
                continue
            hand, finger = note.hand, note.finger
            if (let_go or {}).get((note.voice, note.onset), end) <= onset:
                hand = finger = None
            since, other = (new_fingers or {}).get((note.voice, note.onset), (end, 0))
            if since <= onset:
                finger = other
            here.append(
                PlannedNote(
                    note.voice,
                    note.onset,
                    note.duration,
                    note.pitch,
                    note.midi,
                    note.written_midi,
                    note.onset == onset,
                    hand,
                    finger,
                    "",
                    note.rolled,
                    note.chosen,
                )
            )
        here.sort(key=lambda note: -note.written_midi)
        parts: dict[str, HandPart | None] = {"right": None, "left": None}
        for side in ("right", "left"):
            if any(note.hand == side for note in here):
                after: After = "restrike" if (side, place) in restrikes else "join"
                if place in lifts[side]:
                    after = "lift"
                if place == len(onsets) - 1:
                    after = "end"
                parts[side] = HandPart(after, groups[side])
                groups[side] += after == "lift"
        position = onset + (metre - pickup if pickup else metre)
        until = onsets[place + 1] if place + 1 < len(onsets) else end
        right, left = (sum(note.hand == side for note in here) for side in ("right", "left"))
        chords.append(
            PlannedChord(
                onset,
                until - onset,
                int(position // metre),
                position % metre + 1,
                f"{right}+{left}",
                tuple(here),
                parts["right"],
                parts["left"],
            )
        )
    bars = (chords[0].bar, chords[-1].bar)
    return PhrasePlan(number, bars, onsets[0], end, why_it_ends, 0.0, tuple(chords))


@pytest.fixture(scope="session")
def phrase() -> Phrases:
    return phrase_of


@pytest.fixture(scope="session")
def evening() -> PhrasePlan:
    """A phrase of a chorale with a pickup: distribution changes, quavers, a held tenor, lifts in both hands."""
    return phrase_of(
        {
            "soprano": "A4:1:r5 A4:1:r5 B4:1:r5 C#5:1:r5 D5:1:r4 C#5:1:r4 B4:2:r3",
            "alto": "E4:1:r2 F#4:1:r3 G#4:1/2:r3 E4:1/2:r1 A4:1:r2 F#4:1/2:r1 G#4:1/2:r1 A4:1:r2 G#4:2:r1",
            "tenor": "C#4:1:r1 C#4:1:r1 D4:1:l1 E4:1:l1 A3:1:l1 E4:1:l1 E4:2:l1",
            "bass": "A3:1:l1 F#3:1:l2 E3:1:l3 A2:1:l5 D3:1:l4 A2:1/2:l5 C#3:1/2:l4 E3:2:l3",
        },
        right_lifts=[1, 4],
        left_lifts=[2, 6],
        restrikes=[("right", 0)],
        pickup=1,
    )
