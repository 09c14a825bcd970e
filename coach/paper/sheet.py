"""A plan as it is written down for two hands: what each plays, on its own staff, with fingers, slurs, commas and words.

Values only, whatever the file they go into. The right hand's notes stand on the upper staff and the left hand's on the
lower one, whoever sings them: who plays a note is seen from where it is.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from coach.fingering.keyboard import MIDDLE_C
from coach.fingering.plan import SIDES, Name, Pedal, Plan, PlannedChord, PlannedNote, Side
from coach.paper.bars import BarLines, bar_lines
from coach.paper.cells import Fingers, shown_in
from coach.score.page import exact
from coach.score.piece import Bar, Note, Piece, Quarters
from coach.score.words import words_under

RAISED, IN_PLACE, RAISED_HERE, LET_GO = "raised", "in its place", "raised here", "let go"
"""What is said above a staff of a voice: from here on an octave higher than in the score, and no more so; this one note
is; its note is shorter than in the score. Not "8va": the notes stand where they sound."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """One note, for as long as its hand keeps it.

    Attributes:
        voice: As in the piece.
        hand: Whose staff it stands on; of a note that is left out, the nearest.
        onset: In quarter notes.
        duration: In quarter notes: shorter than written where it is let go early.
        midi: The key.
        pitch: Its spelling: "Bb3".
        finger: "5"; "5-4" where another finger takes the key over; "" where none is to be written.
        rolled: Struck in turn with the hand's other notes.
        left_out: Written for the reader alone: nobody plays it.
        fermata: Whether it carries a fermata.
        words: The syllable for each stanza, as in `Note`; only of the voice whose words are written.
    """

    voice: str
    hand: Side
    onset: Quarters
    duration: Quarters
    midi: int
    pitch: str
    finger: str = ""
    rolled: bool = False
    left_out: bool = False
    fermata: bool = False
    words: tuple[str, ...] = ()

    @property
    def end(self) -> Quarters:
        return self.onset + self.duration


@dataclass(frozen=True, slots=True)
class Direction:
    """Words above a staff.

    Attributes:
        onset: In quarter notes.
        hand: Whose staff.
        voice: Which voice is spoken of.
        what: `RAISED`, `IN_PLACE`, `RAISED_HERE` or `LET_GO`.
    """

    onset: Quarters
    hand: Side
    voice: str
    what: str

    @property
    def text(self) -> str:
        return f"{self.voice} {self.what}"


@dataclass(frozen=True, slots=True)
class Sheet:
    """Everything that stands on the two staves.

    Attributes:
        title, composer, voices, quarter_bpm: As in the piece.
        fifths, minor: The key that it begins in.
        key_changes: Later signatures, each with the place from which it counts.
        lines: Its bars and metres.
        phrases: Onset and number of each phrase.
        strokes: By onset, then from high to low.
        slurs: Pairs of places in `strokes`: the inner notes between which a hand joins.
        commas: Places in `strokes`: the outer notes after which a hand leaves the keys.
        directions: Words above the staves.
        pedal: Onset of a chord, and what the foot does with it.
    """

    title: str
    composer: str
    voices: tuple[str, ...]
    fifths: int
    minor: bool
    quarter_bpm: float | None
    lines: BarLines
    phrases: tuple[tuple[Quarters, int], ...]
    strokes: tuple[Stroke, ...]
    slurs: tuple[tuple[int, int], ...] = ()
    commas: frozenset[int] = frozenset()
    directions: tuple[Direction, ...] = ()
    pedal: tuple[tuple[Quarters, Pedal], ...] = ()
    key_changes: tuple[tuple[Quarters, int], ...] = ()

    @property
    def bars(self) -> tuple[Bar, ...]:
        return self.lines.bars


def sheet_of(plan: Plan, piece: Piece, fingers: Fingers = "all") -> Sheet:
    """Write a plan down.

    Args:
        plan: Of the whole piece, or of some of its phrases.
        piece: What was planned.
        fingers: Which fingers to write: all, only those where the hand changes place, or none.
    """
    breaths = [exact(phrase.onset) for phrase in plan.phrases]
    lines = bar_lines(piece, breaths, exact(plan.phrases[-1].end))
    written = {(note.voice, float(note.onset), note.midi): note for note in piece.notes}
    found: dict[Name, Stroke] = {}
    fingers_of: dict[Name, list[int | None]] = {}
    for phrase in plan.phrases:
        words = words_under(piece, phrase.onset, phrase.end)
        shown = {side: shown_in(phrase, side, fingers) for side in SIDES}
        for place, chord in enumerate(phrase.chords):
            for note in chord.notes:
                name, page = note.known_by, written[note.known_by]
                if note.struck:
                    found[name] = _struck(note, page, shown, place, with_words=words.get(page.onset) is page)
                    fingers_of[name] = [note.finger]
                else:
                    found[name] = _held(found[name], note, chord, fingers_of[name], fingers)
    start, end = lines.bars[0].onset, lines.bars[-1].end
    found = {key: replace(one, duration=min(one.end, end) - one.onset) for key, one in found.items()}
    keys = sorted(found, key=lambda key: (found[key].onset, -found[key].midi, piece.voices.index(key[0])))
    places = {key: place for place, key in enumerate(keys)}
    return Sheet(
        title=piece.title,
        composer=piece.composer,
        voices=piece.voices,
        fifths=piece.fifths_at(start),
        minor=piece.minor,
        quarter_bpm=piece.quarter_bpm,
        lines=lines,
        phrases=tuple(zip(breaths, (phrase.number for phrase in plan.phrases), strict=True)),
        strokes=tuple(_once([found[key] for key in keys])),
        slurs=tuple(_slurs(plan, places)),
        commas=frozenset(_commas(plan, places, {(one.end, one.hand) for one in found.values() if one.fermata})),
        directions=tuple(_directions(plan, found)),
        pedal=tuple((exact(chord.onset), chord.pedal) for chord in plan.chords() if chord.pedal),
        key_changes=tuple((onset, fifths) for onset, fifths in piece.key_changes if start < onset < end),
    )


def _struck(
    note: PlannedNote,
    page: Note,
    shown: Mapping[Side, tuple[bool, ...]],
    place: int,
    *,
    with_words: bool,
) -> Stroke:
    hand = note.hand or _nearest(note, page)
    return Stroke(
        voice=note.voice,
        hand=hand,
        onset=page.onset,
        duration=page.duration,
        midi=note.midi,
        pitch=note.pitch,
        finger=str(note.finger) if note.finger is not None and shown[hand][place] else "",
        rolled=note.rolled,
        left_out=note.hand is None,
        fermata=page.fermata,
        words=page.words if with_words else (),
    )


def _nearest(note: PlannedNote, page: Note) -> Side:
    """On whose staff a note stands that nobody plays: as on the page, else by its height."""
    if page.staff in (1, 2):
        return SIDES[page.staff - 1]
    return "right" if note.midi >= MIDDLE_C else "left"


def _held(stroke: Stroke, note: PlannedNote, chord: PlannedChord, used: list[int | None], fingers: Fingers) -> Stroke:
    """What a later chord says of a note: it is let go, or another finger takes it over.

    Args:
        stroke: The note as written so far.
        note: The note in the later chord.
        chord: That chord.
        used: The fingers that have had it; the one that takes it over is added.
        fingers: Which fingers are written. One that takes over is a change.
    """
    if note.hand is None:
        return replace(stroke, duration=min(stroke.duration, exact(chord.onset) - stroke.onset))
    if note.finger == used[-1]:
        return stroke
    used.append(note.finger)
    return stroke if fingers == "none" else replace(stroke, finger="-".join(str(finger) for finger in used))


def _once(strokes: Sequence[Stroke]) -> Iterator[Stroke]:
    """Of two voices that meet on a key the finger is written once; over a hand's chord the fermata is, by its outer
    note."""
    fingers: set[tuple[Quarters, int, Side]] = set()
    outer: dict[tuple[Quarters, Side], Stroke] = {}
    for stroke in strokes:
        if stroke.fermata and (stroke.hand == "left" or (stroke.end, stroke.hand) not in outer):
            outer[stroke.end, stroke.hand] = stroke
    for stroke in strokes:
        key = (stroke.onset, stroke.midi, stroke.hand)
        yield replace(
            stroke,
            finger="" if key in fingers else stroke.finger,
            fermata=outer.get((stroke.end, stroke.hand)) is stroke,
        )
        fingers |= {key} if stroke.finger else set()


def _outer(chord: PlannedChord, side: Side) -> Name | None:
    """The outer note of a hand in a chord, struck or held: the highest of the right hand, the lowest of the left."""
    notes = chord.played_by(side)
    if not notes:
        return None
    return (max if side == "right" else min)(notes, key=lambda note: note.midi).known_by


def _slurs(plan: Plan, places: Mapping[Name, int]) -> Iterator[tuple[int, int]]:
    """Where a hand joins: from the first chord that it strikes to the last, between lifts and restrikes.

    A slur goes from inner note to inner note, because it stands between the staves: the fingers are outside.
    """
    for phrase in plan.phrases:
        for side in SIDES:
            run: list[int] = []
            for chord in phrase.chords:
                struck = [note for note in chord.played_by(side) if note.struck]
                if struck:
                    inner = (min if side == "right" else max)(struck, key=lambda note: note.midi)
                    run.append(places[inner.known_by])
                part = chord.part(side)
                if part is None or part.after != "join":
                    if len(run) > 1:
                        yield run[0], run[-1]
                    run = []


def _commas(plan: Plan, places: Mapping[Name, int], fermatas: Collection[tuple[Quarters, Side]]) -> Iterator[int]:
    """Where a hand leaves the keys; the end of all needs no sign, and at the end of a phrase a fermata is one."""
    last = plan.phrases[-1].chords[-1]
    for chord in plan.chords():
        for side in SIDES:
            outer, part = _outer(chord, side), chord.part(side)
            if outer is None or part is None or part.after not in ("lift", "end") or chord is last:
                continue
            if part.after == "lift" or (exact(chord.end), side) not in fermatas:
                yield places[outer]


def _directions(plan: Plan, found: Mapping[Name, Stroke]) -> list[Direction]:
    """What no sign says: a voice raised by an octave, and back in its place; a note let go early."""
    said: list[Direction] = []
    struck: dict[str, list[tuple[Quarters, Side, bool]]] = {}
    for chord in plan.chords():
        onset = exact(chord.onset)
        for note in chord.notes:
            stroke = found[note.known_by]
            if note.struck and note.hand is not None:
                struck.setdefault(note.voice, []).append((onset, stroke.hand, note.midi != note.written_midi))
            elif not note.struck and note.hand is None and onset == stroke.end:
                said.append(Direction(onset, stroke.hand, note.voice, LET_GO))
    for voice, notes in struck.items():
        said += _raised(voice, notes)
    return sorted(said, key=lambda one: one.onset)


def _raised(voice: str, notes: Sequence[tuple[Quarters, Side, bool]]) -> Iterator[Direction]:
    """What is said of a voice's notes, each with its hand and whether it is raised. Of one raised alone nothing is said
    afterwards: the words would run into one another."""
    runs = [list(run) for _, run in groupby(notes, key=lambda note: note[2])]
    alone = False
    for place, run in enumerate(runs):
        onset, hand, is_raised = run[0]
        if is_raised:
            alone = len(run) == 1 and place + 1 < len(runs)
            yield Direction(onset, hand, voice, RAISED_HERE if alone else RAISED)
        elif place and not alone:
            yield Direction(onset, hand, voice, IN_PLACE)
