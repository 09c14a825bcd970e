"""Plans written by hand and takes played on them, for the tests of listening."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from coach.fingering.plan import After, HandPart, PhrasePlan, PlannedChord, PlannedNote, Side
from coach.listening.events import Event, Keys, Stroke
from coach.listening.expected import Expected, Hand, expect
from coach.listening.findings import Findings, find
from coach.listening.matching import Match, match_take

NAMES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}

RIGHT_VOICES = ("soprano", "alto", "voice 5", "voice 6", "voice 7")
LEFT_VOICES = ("bass", "tenor", "voice 8", "voice 9", "voice 10")


def key_of(pitch: str) -> int:
    """The key of "C4", "Bb3", "F#5"."""
    key = NAMES[pitch[0]] + 12 * (int(pitch[-1]) + 1)
    return key + pitch[1:-1].count("#") - pitch[1:-1].count("b")


def phrase(right: str = "", left: str = "", length: float = 1.0, number: int = 1, onset: float = 0.0) -> PhrasePlan:
    """A plan as a teacher would dictate it, hand by hand, a word a chord.

    Notes of a chord are joined by "+", a finger follows a full stop, "~" holds a note from the chord before, "-" is a
    hand that has nothing to play. After a chord "," lifts, "=" strikes the same keys again; otherwise the hand joins:
    phrase("C4.1+E4.3 C4~+F4.4, D4.1+G4.5", "C3.5 A2.5 G2.5").

    Args:
        right: What the right hand does.
        left: What the left hand does.
        length: Length of each chord in quarter notes.
        number: Of the phrase.
        onset: Of its first chord.
    """
    words = {"right": right.split(), "left": left.split()}
    count = max(len(words["right"]), len(words["left"]))
    sounding: dict[Side, dict[str, PlannedNote]] = {"right": {}, "left": {}}
    chords = []
    for place in range(count):
        start = onset + place * length
        notes: list[PlannedNote] = []
        parts: dict[Side, HandPart | None] = {"right": None, "left": None}
        for hand in ("right", "left"):
            word = words[hand][place] if place < len(words[hand]) else "-"
            if word == "-":
                sounding[hand] = {}
                continue
            after: After = "lift" if word.endswith(",") else "restrike" if word.endswith("=") else "join"
            parts[hand] = HandPart("end" if place == count - 1 else after, 1)
            mine = _chord(word.rstrip(",="), hand, start, length, sounding[hand])
            sounding[hand] = {note.pitch: note for note in mine}
            notes += mine
        notes.sort(key=lambda note: -note.midi)
        sizes = [sum(note.hand == hand for note in notes) for hand in ("right", "left")]
        name = f"{sizes[0]}+{sizes[1]}"
        chords.append(PlannedChord(start, length, place + 1, 1.0, name, tuple(notes), parts["right"], parts["left"]))
    chords = _lengthened(chords)
    end = onset + count * length
    return PhrasePlan(number, (1, count), onset, end, "end of the piece", 0.0, tuple(chords))


def _chord(word: str, hand: Side, start: float, length: float, before: dict[str, PlannedNote]) -> list[PlannedNote]:
    notes = []
    for text in word.split("+"):
        if text.endswith("~"):
            notes.append(replace(before[text[:-1]], struck=False))
            continue
        pitch, _, finger = text.partition(".")
        key = key_of(pitch)
        notes.append(PlannedNote("", start, length, pitch, key, key, True, hand, int(finger) if finger else None))
    names = RIGHT_VOICES if hand == "right" else LEFT_VOICES
    kept = {note.voice for note in notes if note.voice}
    free = [name for name in names if name not in kept]
    order = sorted((n for n in notes if not n.voice), key=lambda n: -n.midi if hand == "right" else n.midi)
    named = {id(note): replace(note, voice=free[rank]) for rank, note in enumerate(order)}
    return [named.get(id(note), note) for note in notes]


def _lengthened(chords: list[PlannedChord]) -> list[PlannedChord]:
    """Give held notes the length that they are held for."""
    ends: dict[tuple[str, float, int], float] = {}
    for chord in chords:
        for note in chord.notes:
            ends[note.voice, note.onset, note.midi] = chord.end
    return [
        replace(
            chord,
            notes=tuple(
                replace(note, duration=ends[note.voice, note.onset, note.midi] - note.onset) for note in chord.notes
            ),
        )
        for chord in chords
    ]


@dataclass(frozen=True)
class Key:
    """One key from press to release, in seconds."""

    pitch: str
    press: float
    release: float


def events(keys: Iterable[Key], pedal: Sequence[tuple[float, int]] = ()) -> list[Event]:
    """Keys and pedal as events in order of time, releases before presses of the same moment."""
    found = []
    for key in keys:
        found.append(Event(key.press, "press", key_of(key.pitch), 64))
        found.append(Event(key.release, "release", key_of(key.pitch), 0))
    found += [Event(seconds, "pedal", 64, value) for seconds, value in pedal]
    return sorted(found, key=lambda event: (event.seconds, event.kind == "press"))


def played(text: str, quarter: float = 0.6, length: float = 1.0) -> list[Key]:
    """Chords struck one after the other and kept down until just after the next one, "-" for silence.

    played("C4+E4 D4+F4") presses C4 and E4, then D4 and F4; "C4*2" keeps C4 for two chords.
    """
    keys = []
    step = quarter * length
    for place, word in enumerate(text.split()):
        if word == "-":
            continue
        for note in word.split("+"):
            pitch, _, chords = note.partition("*")
            keys.append(Key(pitch, place * step, (place + float(chords or 1)) * step + 0.02))
    return keys


def heard(plan: PhrasePlan | Sequence[PhrasePlan], keys: Iterable[Key], hand: Hand = "both") -> Match:
    """A take matched to a plan."""
    phrases = [plan] if isinstance(plan, PhrasePlan) else list(plan)
    return match_take(expect(phrases, hand), events(keys))


def findings(plan: PhrasePlan, keys: Iterable[Key], pedal: Sequence[tuple[float, int]] = ()) -> Findings:
    """What was found in a take of one phrase."""
    return find(match_take(expect([plan]), events(keys, pedal)))


def pitches(match: Match) -> list[list[str]]:
    """The pitches struck at each visit of a chord, in order of time, highest first."""
    notes = match.expected.notes
    return [
        [notes[number].pitch for number, _ in sorted(visit.played, key=lambda pair: -notes[pair[0]].midi)]
        for visit in match.visits
    ]


def chords(match: Match) -> list[int]:
    """Numbers of the chords visited, in order of time."""
    return [visit.chord for visit in match.visits]


def note_named(expected: Expected, chord: int, pitch: str) -> int:
    """Number of a note struck in a chord."""
    return next(note.number for note in expected.struck(chord) if note.pitch == pitch)


def strokes_of(events: Iterable[Event]) -> tuple[Stroke, ...]:
    """All strokes of a take, by index."""
    keys = Keys()
    for event in events:
        keys.hear(event)
    return tuple(keys.strokes)
