"""Plain chords: what decorates goes, what carries the harmony stays."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from functools import cache

import pytest
from passages import chorale, line, passage

from coach.score.phrases import find_phrases
from coach.score.piece import Note, Phrase, Piece, chords_of
from coach.score.plain import decorated, plain_piece

STILL = ("E4:4", "G3:4", "C3:4")
"""Three voices under a moving one: a C major triad without its octave."""

CHORALES = ("bach/bwv269", "bach/bwv66.6", "bach/bwv253", "bach/bwv256", "bach/bwv263", "bach/bwv281", "bach/bwv302")


def spelled(piece: Piece, voice: str) -> str:
    """A voice as it would be dictated: "C5 D5:1/2"."""
    words = []
    for note in piece.notes:
        if note.voice == voice:
            words.append(note.pitch if note.duration == 1 else f"{note.pitch}:{note.duration}")
    return " ".join(words)


@pytest.mark.parametrize(
    ("soprano", "plain", "what"),
    [
        ("C5:1/2 D5:1/2 E5 G5:2", "C5 E5 G5:2", "a passing note"),
        ("C5:1/2 B4:1/2 C5 C5:2", "C5 C5 C5:2", "a neighbouring note"),
        ("E5:1/2 D5:1/2 C5:1/2 D5:1/2 E5:2", "E5 C5 E5:2", "passing notes up and down"),
        ("C5:1/4 D5:1/4 E5:1/4 F5:1/4 G5 G5:2", "C5 G5 G5:2", "a run"),
        ("D5:1/2 C5:1/2 E5 G5:2", "C5 E5 G5:2", "an appoggiatura"),
        ("F5:1/2 E5:1/2 G5 C5:2", "E5 G5 C5:2", "an accented passing note"),
        ("E5 F5:1/2 E5:1/2 G5:2", "E5 E5 G5:2", "an accented neighbouring note"),
        ("E5 E5:3/2 F5:1/2 G5", "E5 E5:2 G5", "a dotted note and its passing note"),
        ("C5:1/2 E5:1/2 G5:1/2 E5:1/2 C5:2", "C5 G5 C5:2", "the leaps of a broken chord"),
        ("C5 E5 G5 C5", "C5 E5 G5 C5", "nothing"),
    ],
)
def test_decorations_over_a_still_chord_go(soprano: str, plain: str, what: str) -> None:
    """Common practice, no source."""
    piece = chorale(soprano, *STILL)
    found = plain_piece(piece)
    assert spelled(found, "soprano") == plain
    assert [spelled(found, voice) for voice in ("alto", "tenor", "bass")] == list(STILL)
    assert decorated(piece) == (what != "nothing")


def test_a_suspension_within_a_beat_is_resolved() -> None:
    """C is held into G major and falls to B: B from the beat on."""
    piece = chorale("D5 D5 D5:2", "C5:3/2 B4:1/2 B4:2", "A4 G4 G4:2", "F4 G4 G3:2")
    assert spelled(plain_piece(piece), "alto") == "C5 B4 B4:2"


def test_a_suspension_over_a_whole_beat_is_resolved() -> None:
    """4-3 at a close: C over G for a whole beat, then B over the same G."""
    piece = chorale("D5 D5 D5 C5", "C5 C5 B4 C5", "A4 G4 G4 E4", "F4 G4:2 C4")
    assert spelled(plain_piece(piece), "alto") == "C5 B4:2 C5"


def test_the_lowest_voice_is_no_suspension() -> None:
    """Prepared, foreign, and falling by step while its octave comes below: the other voices are heard against it."""
    piece = chorale("E5 D5 D5:2", "G4 G4 G4:2", "G4 G4 C3:2", "C4 C4 B3:2")
    assert spelled(plain_piece(piece), "bass") == "C4 C4 B3:2"
    # Over a tenor that stays on the fifth the same notes are the fourth of it, and its third.
    above = chorale("E5 D5 D5:2", "G4 G4 G4:2", "G3 G3 G3:2", "C4 C4 B3:2")
    assert spelled(plain_piece(above), "bass") == "C4 B3:3"


def test_what_only_looks_like_a_suspension_stays() -> None:
    """Prepared and falling by step, but consonant: nothing to resolve."""
    piece = chorale("E5 E5 D5:2", "C5 C5 B4:2", "G4 G4 G4:2", "C4 C4 G3:2")
    assert plain_piece(piece).notes == piece.notes
    assert not decorated(piece)


def test_a_suspension_with_a_fermata_stays() -> None:
    held = chorale("D5 D5 D5 C5", "C5 C5 B4 C5", "A4 G4 G4 E4", "F4 G4:2 C4")
    notes = tuple(replace(n, fermata=n.onset == 1 and n.voice == "alto") for n in held.notes)
    assert spelled(plain_piece(replace(held, notes=notes)), "alto") == "C5 C5 B4 C5"


def test_the_seventh_of_a_chord_is_no_decoration() -> None:
    piece = chorale("F5 E5", "D5 C5", "B4 C5", "G4 C4")
    assert plain_piece(piece).notes == piece.notes


def test_long_notes_and_rests_stay() -> None:
    piece = chorale("C5:4", "r E4:3", "G3:2 r:2", "C3 r:2 C3")
    assert plain_piece(piece).notes == piece.notes


def test_a_fermata_moves_to_the_note_that_is_kept() -> None:
    notes = [*line("soprano", "C5:1/2 D5:1/2 E5:1/2 D5:1/2")]
    notes[-1] = replace(notes[-1], fermata=True)
    piece = passage(notes, line("alto", "E4:2"), line("tenor", "G3:2"), line("bass", "C3:2"))
    last = [n for n in plain_piece(piece).notes if n.voice == "soprano"][-1]
    assert (last.pitch, last.fermata) == ("E5", True)


def test_printed_fingers_stay_only_on_notes_that_stay() -> None:
    notes = [replace(n, finger=3) for n in line("soprano", "C5 E5:1/2 D5:1/2")]
    piece = passage(notes, line("alto", "E4:2"), line("tenor", "G3:2"), line("bass", "C3:2"))
    found = [n for n in plain_piece(piece).notes if n.voice == "soprano"]
    assert [(n.pitch, n.finger) for n in found] == [("C5", 3), ("E5", None)]


def test_where_all_voices_move_at_once_a_new_chord_comes() -> None:
    """A dominant seventh is held into a beat, and the tonic follows after its half: the dominant stays on the beat."""
    piece = chorale("F4:3/2 E4:1/2 E4:2", "D4:3/2 C4:1/2 C4:2", "B3:3/2 C4:1/2 G3:2", "G2:3/2 C3:1/2 C3:2")
    found = plain_piece(piece)
    assert [spelled(found, voice) for voice in ("soprano", "bass")] == ["F4:2 E4:2", "G2:2 C3:2"]


def test_where_nothing_is_struck_the_chord_before_goes_on() -> None:
    """Seven, four and nine over a bass are held for two beats and then resolve: nothing is struck between."""
    piece = chorale("F#4:2 E4:2", "B3:2 B3:2", "A3:2 G3:2", "G2:2 G2:2")
    assert plain_piece(piece).notes == piece.notes


@pytest.mark.parametrize(
    ("lower", "kept"), [("E3", "C6 E6 G6 C5 E5 G5"), ("F3:1/2 E3:1/2", "D6 F6 A6 D5 F5 A5")], ids=["4096", "8192"]
)
def test_where_there_are_too_many_ways_to_resolve_a_beat_it_stays(lower: str, kept: str) -> None:
    """Six voices shake, with four notes each: 4,096 ways, and twice as many with a seventh that resolves."""
    pairs = ("D6", "C6"), ("F6", "E6"), ("A6", "G6"), ("D5", "C5"), ("F5", "E5"), ("A5", "G5")
    shakes = [" ".join(f"{pitch}:1/4" for pitch in (*pair, *pair)) for pair in pairs]
    voices = [line(f"voice {number}", text) for number, text in enumerate(shakes, 1)]
    found = plain_piece(passage(*voices, line("voice 7", lower), line("voice 8", "G3"), line("voice 9", "C3")))
    assert " ".join(spelled(found, voice) for voice in found.voices[:6]) == kept


def test_an_upbeat_within_a_beat_belongs_to_the_next_phrase() -> None:
    """The phrase ends after half a beat, and the upbeat takes the other half."""
    piece = chorale("C5 C5:1/2 D5:1/2 E5:2", "G4 G4:1/2 G4:1/2 G4:2", "E4 E4:1/2 D4:1/2 C4:2", "C3 C3:1/2 B2:1/2 C3:2")
    half = Fraction(3, 2)
    found = plain_piece(piece, [Phrase(1, Fraction(0), half, "fermata")])
    assert all(note.end <= half or note.onset >= half for note in found.notes)
    assert spelled(found, "soprano") == "C5 C5:1/2 D5:1/2 E5:2"


# Over chorales of the corpus.


def beats(piece: Piece) -> Iterator[tuple[Fraction, Fraction]]:
    """Start and end of every beat of the whole bars."""
    for bar in piece.bars:
        place = bar.onset
        while bar.number and place + bar.beat_length <= bar.end:
            yield place, place + bar.beat_length
            place += bar.beat_length


def sounding(piece: Piece, place: Fraction) -> list[Note]:
    return [note for note in piece.notes if note.onset <= place < note.end]


@pytest.mark.parametrize("name", CHORALES)
def test_at_most_one_note_a_voice_and_beat(name: str, corpus: Callable[[str], Piece]) -> None:
    found = plain_piece(corpus(name))
    for start, end in beats(found):
        struck = Counter(note.voice for note in found.notes if start <= note.onset < end)
        assert not struck or max(struck.values()) == 1


@pytest.mark.parametrize("name", CHORALES)
def test_every_plain_note_is_one_of_the_voices_own(name: str, corpus: Callable[[str], Piece]) -> None:
    """In its beat, or, a resolved suspension, in the next."""
    piece = corpus(name)
    for note in plain_piece(piece).notes:
        near = [
            n.midi for n in piece.notes if n.voice == note.voice and n.onset <= note.onset + 2 and n.end > note.onset
        ]
        assert note.midi in near


@pytest.mark.parametrize("name", CHORALES)
def test_phrases_stay_as_they_are(name: str, corpus: Callable[[str], Piece]) -> None:
    """No plain note sounds across the end of a phrase, and every phrase still has its first and last chord."""
    piece = corpus(name)
    found = plain_piece(piece)
    for phrase in find_phrases(piece):
        assert all(n.end <= phrase.end for n in found.notes if phrase.onset <= n.onset < phrase.end)
        assert chords_of(found, phrase)[0].onset == chords_of(piece, phrase)[0].onset


@cache
def is_chord(classes: frozenset[int]) -> bool:
    """Music21's own judgement of some pitch classes: a triad, a seventh chord, or consonant as far as it goes."""
    from music21.chord import Chord

    chord = Chord(sorted(classes))
    return bool(chord.isTriad() or chord.isSeventh() or (len(classes) <= 2 and chord.isConsonant()))


def test_what_remains_on_the_beat_is_a_chord(corpus: Callable[[str], Piece]) -> None:
    """Nineteen beats in twenty by music21's judgement, and half of the others resolved."""
    strange = Counter[str]()
    total = 0
    for name in CHORALES:
        piece = corpus(name)
        plain = plain_piece(piece)
        for start, _ in beats(piece):
            if len({n.voice for n in sounding(piece, start)}) < 4:
                continue
            total += 1
            for label, version in (("as written", piece), ("plain", plain)):
                strange[label] += not is_chord(frozenset(n.midi % 12 for n in sounding(version, start)))
    assert total > 250
    assert strange["plain"] < 0.05 * total
    assert strange["plain"] < 0.5 * strange["as written"]
