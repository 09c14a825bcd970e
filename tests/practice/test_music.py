"""A piece on the stand: its phrases, joins and changes as passages to drill. Passages as a pianist would cut them."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from coach.errors import CoachError
from coach.fingering.notation import read_fix
from coach.fingering.plan import PlannedChord
from coach.listening.expected import Hand
from coach.practice import chosen
from coach.practice.changes import KEEPS_FAILING, Trouble
from coach.practice.entry import Fault
from coach.practice.ladder import LEFT, OUTER, PEDAL, PLAIN, RIGHT, SEAM, STEPS_IN_TEMPO, TOGETHER
from coach.practice.music import Music, cut_anew, open_music, planned_anew
from coach.score import cuts


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Music]:
    """Shipped pieces, opened once."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COACH_HOME", str(tmp_path_factory.mktemp("music")))
        return {name: open_music(name) for name in ("wide-water", "oars-at-dusk", "before-the-tide")}


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))


@pytest.fixture
def water(opened: dict[str, Music]) -> Music:
    return opened["wide-water"]


def test_a_phrase_is_drilled_as_it_is_planned(water: Music) -> None:
    task = water.task(water.phrase_passage(2), TOGETHER)
    assert task.plan.chords == water.plan.phrases[1].chords
    assert task.quarter_bpm == water.target_bpm


def test_a_phrase_that_is_not_there_is_said(water: Music) -> None:
    with pytest.raises(CoachError, match=r"phrases 1 to 4, no phrase 9"):
        water.phrase_passage(9)


def test_steps_in_tempo_ask_for_their_share(water: Music) -> None:
    task = water.task(water.phrase_passage(1), STEPS_IN_TEMPO[0])
    assert task.quarter_bpm == pytest.approx(0.6 * water.target_bpm)
    assert task.count_in
    assert task.beats


def test_a_piece_without_a_tempo_is_taken_at_the_usual_one(water: Music) -> None:
    """The usual beats: in minims where a minim is the beat of most bars, however the same hymn is printed;
    dotted beats at 54 a minute, a bar of 3/8 as one."""
    from dataclasses import replace

    untimed = replace(water.piece, quarter_bpm=None)
    assert replace(water, piece=untimed).target_bpm == 72
    for metre, quarters in (("4/2", 144), ("3/2", 144), ("2/2", 144), ("6/8", 81), ("3/4", 72), ("3/8", 81)):
        first, *others = (replace(bar, metre=metre) for bar in untimed.bars)
        mixed = replace(untimed, bars=(replace(first, metre="5/4"), *others))
        assert replace(water, piece=mixed).target_bpm == quarters, metre


def test_two_phrases_are_joined_and_over_the_seam_only_the_change_is_played(water: Music) -> None:
    join = next(passage for passage in water.passages if passage.kind == "join")
    whole = water.planned(join, TOGETHER)
    assert len(whole.chords) == sum(len(phrase.chords) for phrase in water.plan.phrases[:2])
    seam = water.planned(join, SEAM)
    assert [chord.onset for chord in seam.chords] == [
        water.plan.phrases[0].chords[-1].onset,
        water.plan.phrases[1].chords[0].onset,
    ]
    assert water.task(join, SEAM).expected.chords


def test_the_whole_piece_is_one_passage(water: Music) -> None:
    whole = next(passage for passage in water.passages if passage.kind == "piece")
    assert len(water.planned(whole, TOGETHER).chords) == sum(1 for _ in water.plan.chords())


def test_outer_voices_are_soprano_and_bass_with_their_fingers(water: Music) -> None:
    outer = water.planned(water.phrase_passage(1), OUTER)
    full = water.plan.phrases[0]
    for chord, before in zip(outer.chords, full.chords, strict=True):
        assert {note.voice for note in chord.notes} == {"soprano", "bass"}
        kept = {note.voice: note.finger for note in before.notes}
        assert all(note.finger == kept[note.voice] for note in chord.notes)
        assert chord.distribution == "1+1"


def test_where_only_inner_voices_move_the_outer_ones_stay(opened: dict[str, Music]) -> None:
    music = opened["oars-at-dusk"]
    for phrase in music.plan.phrases:
        outer = music.planned(music.phrase_passage(phrase.number), OUTER)
        struck = [
            chord.onset
            for chord in phrase.chords
            if any(note.struck and note.voice in ("soprano", "bass") for note in chord.notes)
        ]
        assert [chord.onset for chord in outer.chords] == struck
        assert outer.chords[-1].end == phrase.chords[-1].end


def test_plain_chords_have_fewer_notes_and_the_same_length(opened: dict[str, Music]) -> None:
    """Oars at Dusk has passing quavers."""
    music = opened["oars-at-dusk"]
    number = max(music.plan.phrases, key=lambda phrase: len(phrase.chords)).number
    plain, full = (music.planned(music.phrase_passage(number), step) for step in (PLAIN, TOGETHER))
    assert len(plain.chords) < len(full.chords)
    assert plain.chords[-1].end == full.chords[-1].end


def test_with_the_pedal_hands_and_fingers_stay_and_the_foot_covers_lifts(water: Music) -> None:
    dry, wet = (water.planned(water.phrase_passage(2), step) for step in (TOGETHER, PEDAL))
    assert [chord.notes for chord in wet.chords] == [chord.notes for chord in dry.chords]
    lifts = [i for i, c in enumerate(dry.chords) if any(p and p.after == "lift" for p in (c.right, c.left))]
    assert lifts
    assert all(wet.chords[place].pedal in ("down", "change") for place in lifts)


def trouble(chord: PlannedChord, hand: Hand = "both") -> Trouble:
    """The change to a chord, which keeps failing."""
    return Trouble(Fault(Fraction(chord.onset).limit_denominator(10_080), hand, chord.bar), KEEPS_FAILING)


def test_a_change_is_drilled_with_the_chord_before_and_the_next_where_that_fails_too(water: Music) -> None:
    chords = water.plan.phrases[0].chords
    second, third = trouble(chords[2]), trouble(chords[3])
    change = water.change(water.phrase_passage(1), second, (second,))
    assert change is not None
    assert (change.kind, change.first, change.last) == ("change", 1, 1)
    assert change.label == "a change in phrase 1"
    assert [chord.onset for chord in water.planned(change, TOGETHER).chords] == [c.onset for c in chords[1:3]]
    both = water.change(water.phrase_passage(1), second, (second, third))
    assert both is not None
    planned = water.planned(both, TOGETHER)
    assert [chord.onset for chord in planned.chords] == [chord.onset for chord in chords[1:4]]
    last = planned.chords[-1]
    assert last.right is not None
    assert last.right.after == "end"


def test_a_passage_that_begins_under_a_held_note_strikes_it(opened: dict[str, Music]) -> None:
    for music in opened.values():
        for phrase in music.plan.phrases:
            for place, chord in enumerate(phrase.chords[:-1]):
                if place and any(not note.struck and note.hand for note in chord.notes):
                    failing = trouble(phrase.chords[place + 1])
                    change = music.change(music.phrase_passage(phrase.number), failing, (failing,))
                    assert change is not None
                    planned = music.planned(change, TOGETHER)
                    assert all(note.struck for note in planned.chords[0].notes if note.hand)
                    assert music.task(change, TOGETHER).expected.chords
                    return
    pytest.fail("no shipped piece has a held note under which a change begins")


def test_a_change_from_phrase_to_phrase_is_drilled_over_the_seam(water: Music) -> None:
    """It belongs to the join: neither phrase has the change in it."""
    join = next(passage for passage in water.passages if passage.kind == "join")
    one, other = water.plan.phrases[:2]
    failing = trouble(other.chords[0], "left")
    change = water.change(join, failing, (failing,))
    assert change is not None
    assert change.onset < failing.fault.onset < change.end
    assert (change.first, change.last, change.label) == (1, 2, "a change from phrase 1 to 2")
    assert [chord.onset for chord in water.planned(change, LEFT).chords] == [
        one.chords[-1].onset,
        other.chords[0].onset,
    ]
    assert water.task(change, LEFT).expected.chords
    assert water.change(water.phrase_passage(2), failing, (failing,)) is None


def test_a_change_outside_the_piece_is_none(water: Music) -> None:
    nowhere = Trouble(Fault(Fraction(10_000), "both", 999), KEEPS_FAILING)
    assert water.change(water.phrase_passage(1), nowhere, (nowhere,)) is None


def test_cutting_anew_plans_only_what_changed(water: Music) -> None:
    onset = next(Fraction(chord.onset) for chord in water.plan.phrases[0].chords[3:4])
    phrases = cuts.split(water.piece, water.phrases, onset)
    cut = cut_anew(water, phrases)
    assert len(cut.plan.phrases) == 5
    assert [phrase.number for phrase in cut.plan.phrases] == [1, 2, 3, 4, 5]
    assert [phrase.chords for phrase in cut.plan.phrases[2:]] == [phrase.chords for phrase in water.plan.phrases[1:]]
    back = cut_anew(cut, cuts.join(cut.piece, cut.phrases, 1))
    assert [p.chords for p in back.plan.phrases] == [p.chords for p in water.plan.phrases]


def test_a_choice_that_a_cut_makes_impossible_is_said(water: Music) -> None:
    """A hand that was to join over the place of the cut cannot."""
    before, after = water.plan.phrases[0].chords[3:5]
    wish = read_fix(f"{before.bar}:{before.beat:g} right join", water.piece)
    chosen.make(water.piece, water.phrases, [wish], water.hands, water.options)
    wished = planned_anew(water)
    cut = cut_anew(wished, cuts.split(wished.piece, wished.phrases, Fraction(after.onset)))
    cuts.keep(cut.piece, cut.phrases)
    assert any("a choice of yours is left out" in remark for remark in cut.plan.remarks)
    assert cut.plan.remarks == open_music("wide-water").plan.remarks


def test_some_voices_alone_are_planned_for_themselves(water: Music) -> None:
    music = open_music("wide-water", letters="SB")
    assert {note.voice for chord in music.plan.chords() for note in chord.notes} == {"soprano", "bass"}
    with pytest.raises(CoachError, match="names no voice"):
        open_music("wide-water", letters="X")


def test_hands_alone_expect_what_the_plan_gives_them(water: Music) -> None:
    task = water.task(water.phrase_passage(1), RIGHT)
    assert {note.hand for note in task.expected.notes} == {"right"}
