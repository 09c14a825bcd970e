"""The reasons of a plan in words, chord by chord, for printing under the chord table."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from coach.fingering.finger_reasons import AS_GOOD_AS, CONNECTS, ONLY_WAY
from coach.fingering.plan import SIDES, PhrasePlan, PlannedChord, Side
from coach.paper.signs import SIGNS, Signs, note_name
from coach.score.counting import place_words

GO_WITHOUT_SAYING = (ONLY_WAY, CONNECTS)
"""How the reasons of fingers begin that are not printed."""

VERBS = {f"{verb}s": verb for verb in ("connect", "give", "keep", "leave", "part", "save", "spare", "stay")}
"""With which the reasons of a finger begin, and as they are said of several."""


def reasons_text(phrase: PhrasePlan, width: int = 80, signs: Signs = SIGNS) -> str:
    """One paragraph a chord that has something to say: where it is, then the reasons.

    Args:
        phrase: The plan of the phrase.
        width: Places in a line.
        signs: For accidentals.
    """
    lines = (f"{where}: {said}" for where, said in reasons_in(phrase, signs))
    return "\n".join(textwrap.fill(line, width, subsequent_indent="    ") for line in lines)


def reasons_in(phrase: PhrasePlan, signs: Signs = SIGNS) -> Iterator[tuple[str, str]]:
    """For each chord that has something to say: where it is, "bar 3, beat 2&", and its reasons in one line."""
    for chord in phrase.chords:
        said = "; ".join(reasons_of(chord, signs))
        if said:
            yield place_words(chord.bar, chord.beat), said


def reasons_of(chord: PlannedChord, signs: Signs = SIGNS) -> Iterator[str]:
    """The reasons of one chord: who takes what, ways out, then for each hand its fingers and how it leaves.

    A finger with no alternative goes without saying, one that connects is its hand's to tell, and the end of the phrase
    is plain.
    """
    if chord.why:
        yield f"{chord.distribution}, {chord.why}"
    yield from dict.fromkeys(note.why for note in chord.notes if note.why and _is_way_out(note.why, chord))
    for side in SIDES:
        said = [*_fingers(chord, side, signs)]
        part = chord.part(side)
        if part is not None and part.why and part.after != "end":
            said.append(part.why)
        if said:
            yield f"{side} hand: {', '.join(said)}"


def _fingers(chord: PlannedChord, side: Side, signs: Signs) -> Iterator[str]:
    """Fingers of a hand from high to low, those with the same reason together: but no finger would do for two keys."""
    fingers: dict[tuple[str, str], list[str]] = {}
    for note in chord.played_by(side):
        if note.struck and note.why and not note.why.startswith(GO_WITHOUT_SAYING) and not _is_way_out(note.why, chord):
            name = f"{note_name(note.pitch, signs)} {note.finger}"
            alone = name if note.why.startswith(AS_GOOD_AS) else ""
            fingers.setdefault((note.why, alone), []).append(name)
    for (why, _), notes in fingers.items():
        names = list(dict.fromkeys(notes))
        yield f"{' '.join(names)} {why if len(names) == 1 else _of_several(why)}"


def _of_several(why: str) -> str:
    """A reason of one finger, said of several."""
    verb, _, rest = why.partition(" ")
    return f"{VERBS.get(verb, verb)} {rest}".replace("its key", "their keys")


def _is_way_out(why: str, chord: PlannedChord) -> bool:
    return any(
        note.why == why and (note.hand is None or note.rolled or note.midi != note.written_midi) for note in chord.notes
    )
