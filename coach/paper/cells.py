"""What stands in each cell of a chord table, wherever on the page it goes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from coach.fingering.plan import SIDES, HandPart, Name, Pedal, PhrasePlan, PlannedChord, PlannedNote, Side
from coach.paper.changes import changes_of_place
from coach.paper.signs import SIGNS, Signs, letter_step, note_name, octave_figure
from coach.score.counting import NEAR, part_of, split
from coach.score.piece import SATB, Phrase, Piece
from coach.score.words import words_under

Fingers = Literal["all", "changes", "none"]
"""Which fingers are written: all, only where the hand changes place, none."""

State = Literal["rest", "struck", "held", "let go", "omitted"]
"""What a voice does in a chord. "let go" stands once, where a held note has to be let go early."""

LEAP = 4
"""Letters from one note of a voice to the next (a fifth) from which on its octave is written: a nearer note is found
without it (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One voice in one chord.

    Attributes:
        state: What the voice does here.
        note: Place of its note in the chord's `notes`; None in a rest.
        hand: Which hand has it.
        name: "G♯"; also of a held note, for a page that begins with it.
        octave: The octave in small figures.
        leap: Whether the octave is needed: after a leap, or where voices cross.
        finger: "5", or "" where none is to be shown.
        changed: Whether another finger takes over a held key here; the finger of other held notes is for a page that
            begins with them.
        raised, rolled, own: As in `PlannedNote`.
    """

    state: State = "rest"
    note: int | None = None
    hand: Side | None = None
    name: str = ""
    octave: str = ""
    leap: bool = False
    finger: str = ""
    changed: bool = False
    raised: bool = False
    rolled: bool = False
    own: bool = False


@dataclass(frozen=True, slots=True)
class Column:
    """One chord.

    Attributes:
        chord: Its place in the phrase, from 0.
        bar: Printed bar number.
        beat: Beat in the bar, from 1.
        counted: How a player counts it: "3", "&", "2&".
        cells: One a row.
        word: The syllable that starts here.
        right, left: What each hand does on leaving it, None where it is not shown or has nothing to play.
        pedal: What the foot does.
    """

    chord: int
    bar: int
    beat: float
    counted: str
    cells: tuple[Cell, ...]
    word: str
    right: HandPart | None
    left: HandPart | None
    pedal: Pedal = ""

    def part(self, side: Side) -> HandPart | None:
        return self.right if side == "right" else self.left

    def opens_bar_after(self, before: Column | None) -> bool:
        """Whether a bar line stands between two columns; printed numbers may repeat, as in second endings."""
        return before is not None and (self.bar != before.bar or self.beat <= before.beat)


@dataclass(frozen=True, slots=True)
class Grid:
    """All cells of a phrase.

    Attributes:
        voices: The voice of each row; a voice with several notes at once has several rows.
        columns: In order.
        sides: The hands shown that have something to play.
    """

    voices: tuple[str, ...]
    columns: tuple[Column, ...]
    sides: tuple[Side, ...]


def grid_of(
    phrase: PhrasePlan,
    *,
    fingers: Fingers = "all",
    hand: Side | None = None,
    syllables: Mapping[float, str] | None = None,
    voices: Sequence[str] | None = None,
    signs: Signs = SIGNS,
) -> Grid:
    """Lay a phrase out in rows and columns.

    Args:
        phrase: The plan of the phrase.
        fingers: Which fingers to write.
        hand: One hand alone: its rows, and the chords in which it has something to do.
        syllables: Onset in quarter notes to the syllable that starts there.
        voices: Voices from the top; by default soprano to bass, and others where they lie.
        signs: The set of signs.
    """
    sides: tuple[Side, ...] = SIDES if hand is None else (hand,)
    order = tuple(voices) if voices is not None else voices_from_the_top(phrase)
    lanes = _lanes(phrase, sides)
    rows = [
        (voice, lane)
        for voice in order
        for lane in range(max((key[1] + 1 for chord in lanes for key in chord if key[0] == voice), default=0))
    ]
    shown = {side: shown_in(phrase, side, fingers) for side in sides}
    words = {round(float(onset), 4): word for onset, word in (syllables or {}).items()}
    columns: list[Column] = []
    last: dict[tuple[str, int], int] = {}
    beat_before = (-1, 0)
    for index, chord in enumerate(phrase.chords):
        before = phrase.chords[index - 1] if index else None
        crossing = _crossing(chord, order)
        cells = []
        for row in rows:
            place = lanes[index].get(row)
            cells.append(_cell(chord, before, place, last.get(row), crossing, shown, index, fingers, signs))
            if place is not None and chord.notes[place].struck:
                last[row] = letter_step(chord.notes[place].pitch)
        parts = {side: chord.part(side) if side in sides else None for side in SIDES}
        if hand is not None and not _busy(chord, before, hand):
            # The hand only holds here; if it lifts after that, the comma belongs to its last chord before.
            if columns and parts[hand] is not None:
                columns[-1] = replace(columns[-1], right=parts["right"], left=parts["left"])
            continue
        whole = int(chord.beat + 1e-6)
        counted = count(chord.beat, said=beat_before == (chord.bar, whole), signs=signs)
        beat_before = (chord.bar, whole)
        word = words.get(round(chord.onset, 4), "")
        columns.append(
            Column(
                index, chord.bar, chord.beat, counted, tuple(cells), word, parts["right"], parts["left"], chord.pedal
            )
        )
    playing = tuple(side for side in sides if any(column.part(side) for column in columns))
    return Grid(tuple(voice for voice, _ in rows), tuple(columns), playing)


def voices_from_the_top(phrase: PhrasePlan) -> tuple[str, ...]:
    """Soprano, alto, tenor, bass in this order whatever they do, and every other voice where it lies on the whole."""
    keys: dict[str, list[int]] = {}
    for chord in phrase.chords:
        for note in chord.notes:
            if note.struck:
                keys.setdefault(note.voice, []).append(note.written_midi)
            else:
                keys.setdefault(note.voice, [])
    height = {voice: sum(notes) / len(notes) if notes else 0.0 for voice, notes in keys.items()}
    order = [voice for voice in SATB if voice in keys]
    for voice in sorted((voice for voice in keys if voice not in SATB), key=lambda voice: -height[voice]):
        place = next((i for i, other in enumerate(order) if height[other] < height[voice]), len(order))
        order.insert(place, voice)
    return tuple(order)


def first_stanza(piece: Piece, phrase: PhrasePlan | Phrase) -> dict[float, str]:
    """Onset to syllable of the first stanza that has words in the phrase.

    Where the first lines of a tune are repeated, the words of the repeat and all that follow stand in the second row
    (bar form, as in many chorales of music21's corpus).
    """
    under = sorted(words_under(piece, phrase.onset, phrase.end).items())
    first = min((place for _, note in under for place, word in enumerate(note.words) if word), default=0)
    return {float(onset): note.words[first] for onset, note in under if any(note.words[first : first + 1])}


def count(beat: float, *, said: bool, signs: Signs = SIGNS) -> str:
    """How a player counts a place in the bar aloud: "1", "&" after it, "2&" where the beat itself has no chord.

    Args:
        beat: From 1; halves are "&", quarters "e" and "a" (common practice in English), anything else a dot.
        said: Whether the beat before it has a column already.
    """
    whole, fraction = split(beat)
    if fraction < NEAR:
        return str(whole)
    tail = part_of(fraction) or signs.again
    return tail if said else f"{whole}{tail}"


def _lanes(phrase: PhrasePlan, sides: Sequence[Side]) -> list[dict[tuple[str, int], int]]:
    """Chord by chord, (voice, row within the voice) to the place of its note; a held note keeps its row."""
    lanes: list[dict[tuple[str, int], int]] = []
    sounding: dict[Name, int] = {}
    for index, chord in enumerate(phrase.chords):
        before = {note.known_by: note for note in phrase.chords[index - 1].notes} if index else {}
        placed: dict[tuple[str, int], int] = {}
        keep: dict[Name, int] = {}
        todo = []
        for place, note in enumerate(chord.notes):
            key = note.known_by
            earlier = before.get(key)
            here = note.hand in sides or (note.hand is None and len(sides) == 2 and note.struck)
            gone = not note.struck and note.hand is None and earlier is not None and earlier.hand in sides
            if not here and not gone:
                continue
            lane = sounding.get(key)
            if not note.struck and lane is not None and (note.voice, lane) not in placed:
                placed[note.voice, lane] = place
                keep[key] = lane
            elif not gone:
                todo.append((place, key))
        for place, key in todo:
            lane = next(free for free in range(len(chord.notes)) if (key[0], free) not in placed)
            placed[key[0], lane] = place
            keep[key] = lane
        lanes.append(placed)
        sounding = keep
    return lanes


def shown_in(phrase: PhrasePlan, side: Side, fingers: Fingers) -> tuple[bool, ...]:
    """For each chord, whether a hand's fingers are written."""
    if fingers == "changes":
        return changes_of_place(phrase, side)
    return (fingers == "all",) * len(phrase.chords)


def _crossing(chord: PlannedChord, order: Sequence[str]) -> frozenset[int]:
    """Places of the notes that lie above a note of a higher row, or below one of a lower row, as played."""
    rank = {voice: row for row, voice in enumerate(order)}
    found = set()
    for one, a in enumerate(chord.notes):
        for two, b in enumerate(chord.notes):
            if rank.get(a.voice, 0) < rank.get(b.voice, 0) and a.midi < b.midi:
                found |= {one, two}
    return frozenset(found)


def _cell(
    chord: PlannedChord,
    before: PlannedChord | None,
    place: int | None,
    last: int | None,
    crossing: frozenset[int],
    shown: Mapping[Side, tuple[bool, ...]],
    index: int,
    fingers: Fingers,
    signs: Signs,
) -> Cell:
    if place is None:
        return Cell()
    note = chord.notes[place]
    state: State = "struck" if note.struck else "held"
    if note.hand is None:
        state = "omitted" if note.struck else "let go"
    changed = not note.struck and note.hand is not None and _finger_before(note, before) not in (None, note.finger)
    finger = ""
    if note.hand is not None and fingers != "none" and (shown[note.hand][index] or changed):
        finger = str(note.finger or "")
    leap = last is not None and abs(letter_step(note.pitch) - last) >= LEAP
    return Cell(
        state=state,
        note=place,
        hand=note.hand,
        name=note_name(note.pitch, signs),
        octave=octave_figure(note.pitch, signs),
        leap=leap or place in crossing,
        finger=finger,
        changed=changed,
        raised=note.midi != note.written_midi,
        rolled=note.rolled and note.struck,
        own=note.chosen,
    )


def _finger_before(note: PlannedNote, before: PlannedChord | None) -> int | None:
    same = (other for other in (before.notes if before else ()) if other.known_by == note.known_by)
    return next((other.finger for other in same), None)


def _busy(chord: PlannedChord, before: PlannedChord | None, side: Side) -> bool:
    """Whether a hand alone has something to do in a chord beyond holding."""
    if any(note.struck or _finger_before(note, before) not in (None, note.finger) for note in chord.played_by(side)):
        return True
    kept = {note.known_by for note in (before.played_by(side) if before else ())}
    return any(note.hand is None and note.known_by in kept for note in chord.notes)
