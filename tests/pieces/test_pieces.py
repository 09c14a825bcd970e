"""The pieces that ship with the coach: good four-part writing, and each shows what it is there for.

The files are read with music21 here, not with the coach's own reader, as far as the writing is concerned.
"""

from __future__ import annotations

from itertools import combinations, pairwise
from pathlib import Path
from typing import Any

import pytest
from music21 import chord, converter, expressions, interval, key, note, stream, tempo, voiceLeading

from coach.fingering.plan import Plan
from coach.fingering.planner import plan_piece
from coach.score.library import open_piece
from coach.score.phrases import find_phrases
from coach.score.piece import SATB, Piece

PIECES = sorted((Path(__file__).parents[2] / "pieces").glob("*.musicxml"))
NAMES = [path.stem for path in PIECES]

RANGES = {"Soprano": ("C4", "G5"), "Alto": ("G3", "D5"), "Tenor": ("C3", "G4"), "Bass": ("E2", "C4")}
"""Ranges of the voices: Kostka and Payne, Tonal Harmony (from memory)."""

every_piece = pytest.mark.parametrize("name", NAMES)
_scores: dict[str, Any] = {}
_plans: dict[str, Plan] = {}


def score_of(name: str) -> stream.Score:
    if name not in _scores:
        _scores[name] = converter.parse(PIECES[NAMES.index(name)])
    return _scores[name]


def piece_of(name: str) -> Piece:
    return open_piece(str(PIECES[NAMES.index(name)]))


def plan_of(name: str) -> Plan:
    """For the default hand."""
    if name not in _plans:
        piece = piece_of(name)
        _plans[name] = plan_piece(piece, find_phrases(piece))
    return _plans[name]


def sounding(name: str) -> list[tuple[note.Note, ...]]:
    """At every onset, the notes of soprano, alto, tenor and bass."""
    voices = [list(part.stripTies().flatten().notes) for part in score_of(name).parts]
    flat = [[(n.offset, n.offset + n.quarterLength, n) for n in voice] for voice in voices]
    onsets = sorted({start for voice in flat for start, _, _ in voice})
    return [tuple(next(n for start, end, n in voice if start <= at < end) for voice in flat) for at in onsets]


# --- The writing ---


def test_there_are_pieces() -> None:
    assert len(PIECES) >= 6


@every_piece
def test_four_parts_eight_to_sixteen_full_bars(name: str) -> None:
    score = score_of(name)
    assert [part.partName for part in score.parts] == list(RANGES)
    for part in score.parts:
        bars = list(part.getElementsByClass(stream.Measure))
        full = bars[1].barDuration.quarterLength
        lengths = [sum(n.quarterLength for n in bar.notesAndRests) for bar in bars]
        pickup = lengths[0] if bars[0].number == 0 else 0
        assert 8 <= len(bars) - bool(pickup) <= 16
        assert all(length == full for length in lengths[bool(pickup) : -1])
        assert lengths[-1] + pickup == full


@every_piece
def test_voices_stay_in_their_ranges(name: str) -> None:
    """Kostka and Payne, Tonal Harmony (from memory)."""
    for part in score_of(name).parts:
        low, high = (note.Note(pitch).pitch.midi for pitch in RANGES[part.partName])
        assert all(low <= n.pitch.midi <= high for n in part.flatten().notes)


@every_piece
def test_no_parallel_fifths_octaves_or_unisons_between_any_two_voices(name: str) -> None:
    """music21's voice leading, from onset to onset and from beat to beat."""
    slices = sounding(name)
    beats = [here for here in slices if any(n.offset == int(n.offset) and n.offset == _start(here) for n in here)]
    for moments in (slices, beats):
        for before, after in pairwise(moments):
            for upper, lower in combinations(range(4), 2):
                quartet = voiceLeading.VoiceLeadingQuartet(before[upper], after[upper], before[lower], after[lower])
                where = f"{before[upper]} {after[upper]} over {before[lower]} {after[lower]} at {_start(after)}"
                assert not quartet.parallelFifth(), where
                assert not quartet.parallelOctave(), where
                assert not quartet.parallelUnison(), where


def _start(here: tuple[note.Note, ...]) -> float:
    return float(max(n.offset for n in here))


@every_piece
def test_voices_neither_cross_nor_overlap_and_keep_within_an_octave(name: str) -> None:
    """An octave between neighbours, tenor and bass apart: common practice, no source."""
    slices = sounding(name)
    for soprano, alto, tenor, bass in slices:
        assert soprano.pitch.midi > alto.pitch.midi > tenor.pitch.midi > bass.pitch.midi
        assert soprano.pitch.midi - alto.pitch.midi <= 12
        assert alto.pitch.midi - tenor.pitch.midi <= 12
    for before, after in pairwise(slices):
        for upper, lower in ((0, 1), (1, 2), (2, 3)):
            assert after[upper].pitch.midi >= before[lower].pitch.midi
            assert after[lower].pitch.midi <= before[upper].pitch.midi


@every_piece
def test_lines_are_singable(name: str) -> None:
    """No augmented step, tritone or seventh within a voice; common practice, no source."""
    for part in score_of(name).parts:
        for before, after in pairwise(part.stripTies().flatten().notes):
            step = interval.Interval(before, after)
            assert step.simpleName not in ("A2", "A4", "d5", "M7", "m7", "A1") or step.name == "A1", f"{before} {after}"
            assert abs(step.semitones) <= 12


@every_piece
def test_every_chord_is_a_triad_or_a_seventh_unless_a_voice_holds_or_passes(name: str) -> None:
    """Thirds above one root, the third present, the fifth or the root of a seventh left out at most."""
    for here in sounding(name):
        passing = _start(here) % 1 or any(n.quarterLength < 1 for n in here)
        held = any(n.quarterLength > 3 and n.offset < _start(here) for n in here)
        if passing or held:
            continue
        names = {n.pitch.name for n in here}
        letters = {"CDEFGAB".index(n.pitch.step) for n in here}
        assert len(names) == len(letters), f"two forms of a letter: {names}"
        stacks = [{(letter - root) % 7 for letter in letters} for root in letters]
        assert any({0, 2} <= stack <= {0, 2, 4, 6} for stack in stacks), f"{names} at {_start(here)}"


@every_piece
def test_leading_notes_rise_and_sevenths_fall(name: str) -> None:
    """The dominant of the key, or of another degree where it is altered; common practice, no source.

    In an inner voice the leading note may fall a third to the fifth of the chord, or by a semitone in a chain; a held
    seventh resolves later; and in V4/3 between I and I6 the seventh may rise with the bass in tenths.
    """
    home = score_of(name).recurse().getElementsByClass(key.Key).first()
    scale = {home.pitchFromDegree(degree).name for degree in range(1, 8)}
    for before, after in pairwise(sounding(name)):
        here, following = (chord.Chord([n.pitch for n in notes]) for notes in (before, after))
        if not (here.isMajorTriad() or here.isDominantSeventh()):
            continue
        if interval.Interval(here.root(), following.root()).semitones % 12 != 5:
            continue
        sharpened = here.third.name not in scale or here.root().name == home.pitchFromDegree(5).name
        for voice, (one, other) in enumerate(zip(before, after, strict=True)):
            move = other.pitch.midi - one.pitch.midi
            where = f"{one.nameWithOctave} to {other.nameWithOctave} at {_start(after)}"
            if one.pitch.name == here.third.name and sharpened:
                assert move in ((0, 1) if voice in (0, 3) else (0, 1, -1, -3, -4)), where
            if here.isDominantSeventh() and one.pitch.name == here.seventh.name:
                tenths = here.inversion() == 2 and following.inversion() == 1 and voice == 0
                assert move in (0, -1, -2) or tenths, where


@every_piece
def test_the_page_says_who_how_fast_and_that_it_is_free(name: str) -> None:
    score = score_of(name)
    assert score.metadata.title
    assert score.metadata.composer == "for this coach"
    assert "CC0" in PIECES[NAMES.index(name)].read_text(encoding="utf-8")
    assert list(score.recurse().getElementsByClass(tempo.MetronomeMark))


@every_piece
def test_every_phrase_end_is_marked_in_all_four_voices(name: str) -> None:
    ends = []
    for part in score_of(name).parts:
        marked = set()
        for n in part.flatten().notes:
            signs = [*n.expressions, *n.articulations]
            if any(isinstance(sign, expressions.Fermata) or "breath" in sign.name for sign in signs):
                marked.add(n.offset + n.quarterLength)
        ends.append(marked)
    assert all(len(marked) == 4 for marked in ends)
    assert all(marked == ends[0] for marked in ends)


def test_two_pieces_at_least_have_a_syllable_for_every_note_of_the_soprano() -> None:
    sung = []
    for name in NAMES:
        notes = list(score_of(name).parts[0].flatten().notes)
        words = [n.lyric for n in notes if n.lyric]
        if words:
            sung.append(name)
            assert len(words) == len([n for n in notes if n.offset == int(n.offset) or n.lyric])
    assert len(sung) >= 2


# --- What each piece shows, planned for the default hand ---


@every_piece
def test_the_coach_finds_the_four_phrases(name: str) -> None:
    assert len(find_phrases(piece_of(name))) == 4


def test_the_lamp_lies_in_close_position_two_notes_in_each_hand() -> None:
    assert {chord.distribution for chord in plan_of("the-lamp-at-the-landing").chords()} == {"2+2"}


def test_wide_water_leaves_the_bass_alone_to_the_left_hand() -> None:
    """The tenor is an octave or more above the bass throughout: common practice, no source."""
    assert {chord.distribution for chord in plan_of("wide-water").chords()} == {"3+1"}


def test_between_two_banks_the_tenor_goes_over_in_every_phrase() -> None:
    for phrase in plan_of("between-two-banks").phrases:
        assert {chord.distribution for chord in phrase.chords} == {"2+2", "3+1"}


def test_the_bell_has_tenors_that_neither_hand_reaches() -> None:
    """A tenth below and a tenth above, on white keys, for a hand that reaches a ninth: the coach raises them."""
    piece = piece_of("the-bell-above-the-reeds")
    far = set()
    for soprano, tenor, bass in zip(*(_notes(piece, voice) for voice in ("soprano", "tenor", "bass")), strict=True):
        if tenor.midi - bass.midi >= 15 and soprano.midi - tenor.midi >= 15:
            far.add(float(tenor.onset))
    raised = {
        note.onset
        for chord in plan_of("the-bell-above-the-reeds").chords()
        for note in chord.notes
        if note.midi == note.written_midi + 12
    }
    assert len(far) >= 3
    assert raised == far


def _notes(piece: Piece, voice: str) -> list[Any]:
    return [note for note in piece.notes if note.voice == voice]


def test_the_mooring_rope_holds_each_voice_in_turn_while_the_others_move() -> None:
    plan = plan_of("the-mooring-rope")
    holding = []
    for phrase in plan.phrases:
        kept: dict[tuple[str, float], list[Any]] = {}
        for chord_ in phrase.chords:
            for n in chord_.notes:
                kept.setdefault((n.voice, n.onset), []).append((n.hand, n.finger))
        voice, hands = max(((voice, hands) for (voice, _), hands in kept.items()), key=lambda entry: len(entry[1]))
        assert len(hands) >= 4, "it sounds through four chords"
        assert all(hand is not None for hand, _ in hands), "and is never let go"
        holding.append(voice)
    assert sorted(holding) == sorted(SATB)


def test_oars_at_dusk_has_passing_quavers_in_every_voice_but_one() -> None:
    """A passing note: reached and left by step in the same direction, off the beat (common practice, no source)."""
    piece = piece_of("oars-at-dusk")
    passing: dict[str, int] = {}
    for voice in SATB:
        notes = _notes(piece, voice)
        for before, here, after in zip(notes, notes[1:], notes[2:], strict=False):
            if here.onset.denominator == 2 and here.duration.denominator == 2:
                steps = (here.midi - before.midi, after.midi - here.midi)
                assert {abs(step) for step in steps} <= {1, 2}
                assert steps[0] * steps[1] > 0
                passing[voice] = passing.get(voice, 0) + 1
    assert sum(passing.values()) >= 12
    assert len(passing) >= 3


def test_before_the_tide_begins_with_a_pickup() -> None:
    piece = piece_of("before-the-tide")
    assert piece.bars[0].number == 0
    assert piece.bars[0].beat(piece.notes[0].onset) == 4
    assert plan_of("before-the-tide").phrases[0].bars[0] == 0


def test_the_last_lantern_is_in_minor_on_black_keys() -> None:
    piece = piece_of("the-last-lantern")
    assert piece.minor
    black = [note for note in piece.notes if note.midi % 12 in (1, 3, 6, 8, 10)]
    assert len(black) / len(piece.notes) > 1 / 3


@every_piece
def test_only_the_bell_needs_a_way_out(name: str) -> None:
    notes = [n for chord_ in plan_of(name).chords() for n in chord_.notes]
    ways_out = [n for n in notes if n.hand is None or n.midi != n.written_midi or n.rolled]
    assert bool(ways_out) == (name == "the-bell-above-the-reeds")
