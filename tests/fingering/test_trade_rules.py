"""The rules of the trade that plans must show, on small passages. All common practice, no source."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from passages import chorale, distributions, fingers, in_chords, line, line_fingers, on_staves, passage, planned

from coach.fingering.plan import PhrasePlan, PlannedNote, Side
from coach.score.piece import Note, Piece


def note_of(plan: PhrasePlan, voice: str, place: int = 0) -> PlannedNote:
    return next(note for note in plan.chords[place].notes if note.voice == voice)


def in_key(piece: Piece, semitones: int) -> Piece:
    """The same passage in another key."""
    names = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")

    def moved(note: Note) -> Note:
        midi = note.midi + semitones
        pitch = f"{names[midi % 12]}{midi // 12 - 1}"
        return Note(note.voice, note.onset, note.duration, midi, pitch, note.staff)

    return passage([moved(note) for note in piece.notes])


# Who takes the tenor.


@pytest.mark.parametrize(
    "voices",
    [
        ("G4", "E4", "C4", "C3"),
        ("C5", "G4", "E4", "C3"),
        ("A4", "F4", "D4", "Bb2"),
        ("D5", "B4", "G4", "G2"),
        ("E5", "C5", "G4", "C3"),
        ("C5", "E4", "C4", "A2"),
    ],
)
@pytest.mark.parametrize("semitones", range(-3, 4))
def test_a_tenor_an_octave_or_more_above_the_bass_goes_to_the_right_hand(
    voices: tuple[str, ...], semitones: int
) -> None:
    piece = in_key(chorale(*voices), semitones)
    plan = planned(piece)
    assert distributions(plan) == ["3+1"]


def test_a_tenor_that_the_right_hand_cannot_reach_stays_in_the_left_one() -> None:
    """A tenth below the soprano, an octave above the bass."""
    tenor = note_of(planned(chorale("E5", "G4", "C4", "C3")), "tenor")
    assert (tenor.hand, tenor.midi) == ("left", tenor.written_midi)


@pytest.mark.parametrize(
    "voices",
    [
        ("C5", "E4", "G3", "C3"),
        ("G4", "D4", "B3", "G3"),
        ("A4", "F4", "C4", "F3"),
        ("E5", "G4", "C4", "A3"),
        ("D5", "F4", "A3", "D3"),
        ("C5", "G4", "E3", "C3"),
    ],
)
@pytest.mark.parametrize("semitones", range(-3, 4))
def test_a_tenor_close_to_the_bass_is_the_left_hands(voices: tuple[str, ...], semitones: int) -> None:
    assert distributions(planned(in_key(chorale(*voices), semitones))) == ["2+2"]


@settings(max_examples=80, deadline=None)
@given(
    st.integers(55, 62),
    st.integers(3, 5),
    st.integers(3, 5),
    st.integers(12, 19),
)
def test_three_upper_voices_in_close_position_over_a_distant_bass(
    tenor: int, third: int, other_third: int, below: int
) -> None:
    """Three voices within an octave lie in one hand, whatever the key."""
    names = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
    keys = (tenor + third + other_third, tenor + third, tenor, tenor - below)
    plan = planned(chorale(*(f"{names[key % 12]}{key // 12 - 1}" for key in keys)))
    assert distributions(plan) == ["3+1"]
    assert all(note.midi == note.written_midi for note in plan.chords[0].notes)


def test_one_and_three_where_soprano_and_alto_lie_too_far_apart() -> None:
    """1+3 is rare: only here can nobody else take the alto."""
    assert distributions(planned(chorale("F5", "C4", "A3", "F3"))) == ["1+3"]


def test_a_phrase_does_not_flip_back_and_forth_without_need() -> None:
    """The tenor lies now a seventh, now an octave above the bass."""
    plan = planned(chorale("E5 D5 E5 D5 E5 D5", "G4 G4 G4 G4 G4 G4", "C4 B3 C4 B3 C4 B3", "C3 D3 C3 D3 C3 D3"))
    changes = sum(one != other for one, other in pairwise(distributions(plan)))
    assert changes <= 1


def test_a_phrase_changes_where_it_must() -> None:
    plan = planned(chorale("E5 E5 E5 E5", "C5 C5 G4 G4", "G4 G4 C4 C4", "C3 C3 C3 A2"), span_mm=208)
    assert distributions(plan)[:2] == ["3+1", "3+1"]
    assert distributions(plan)[2] == "2+2"


# A tenor that nobody reaches.


def test_a_tenor_that_neither_hand_reaches_goes_up_an_octave_into_the_right_hand() -> None:
    plan = planned(chorale("A4", "F4", "E3", "C2"))
    tenor = note_of(plan, "tenor")
    assert (tenor.midi, tenor.written_midi, tenor.hand) == (64, 52, "right")
    assert tenor.pitch == "E4"
    assert "octave" in tenor.why
    assert [note_of(plan, voice).midi for voice in ("soprano", "alto", "bass")] == [69, 65, 36]


@pytest.mark.parametrize("way_out", ["raise", "roll", "omit"])
def test_the_player_prefers_a_way_out(way_out: str) -> None:
    plan = planned(chorale("A4", "F4", "E3", "C2"), way_out=way_out)
    tenor = note_of(plan, "tenor")
    rolled = [note.voice for note in plan.chords[0].notes if note.rolled]
    assert (tenor.midi != tenor.written_midi) == (way_out == "raise")
    assert bool(rolled) == (way_out == "roll")
    assert (tenor.hand is None) == (way_out == "omit")
    assert tenor.why


def test_the_hand_whose_notes_are_nearer_rolls_them() -> None:
    """A tenth in the left hand and an octave in the right: nobody rolls three octaves in one hand."""
    plan = planned(chorale("C6", "C5", "E3", "C2"))
    notes = plan.chords[0].notes
    assert [(note.hand, note.rolled) for note in notes] == [("right", False)] * 2 + [("left", True)] * 2
    assert plan.chords[0].why == "tenor a tenth above the bass: the left hand takes it"


def test_a_rolled_hand_rolls_all_that_it_strikes() -> None:
    plan = planned(chorale("A4", "F4", "E3", "C2"), way_out="roll")
    rolled = [note for note in plan.chords[0].notes if note.rolled]
    assert len(rolled) > 1
    assert rolled == list(plan.chords[0].played_by(rolled[0].hand or "left"))


@pytest.mark.parametrize(
    ("roll", "outside"),
    [
        ("G2 B3", "5"),
        ("C3 E4", "5"),
        ("D3 F4", "5"),
        ("E2 E4", "5"),
        ("F2 C4", "5"),
        ("F#2 A3", "45"),
        ("Bb2 D4", "45"),
        ("G2 D3 B3", "5"),
        ("C3 G3 E4", "5"),
    ],
)
@pytest.mark.parametrize("around", ["", "C3 E3", "G3"])
def test_a_wide_roll_opens_from_the_little_finger_to_the_thumb(roll: str, outside: str, around: str) -> None:
    """Or from the fourth finger, which is nearer to a black key."""
    chords = [around, roll, around] if around else [roll]
    found = fingers(planned(in_chords("left", *chords), hands="as-written"), "left")[len(chords) // 2]
    assert str(found[0]) in outside
    assert found[-1] == 1
    assert all(lower > higher for lower, higher in pairwise(found))


def test_a_larger_hand_needs_no_way_out() -> None:
    """A tenth from the bass, in the left hand of a player who reaches it."""
    tenor = note_of(planned(chorale("A4", "F4", "E3", "C2"), span_mm=226), "tenor")
    assert (tenor.midi, tenor.hand, tenor.finger) == (52, "left", 1)


# Fingers.


@pytest.mark.parametrize(
    ("pitches", "taught"),
    [("C4 D4 E4 F4 G4", "12345"), ("G4 F4 E4 D4 C4", "54321"), ("C4 E4 D4 F4 E4 G4", "132435")],
)
def test_fingers_go_to_the_keys_nearest_to_them(pitches: str, taught: str) -> None:
    assert line_fingers(planned(on_staves(right=[pitches]), hands="as-written"), "right") == taught


def test_neighbouring_fingers_stay_on_neighbouring_keys() -> None:
    found = [
        int(finger)
        for finger in line_fingers(planned(on_staves(right=["E4 D4 C4 D4 E4"]), hands="as-written"), "right")
    ]
    assert [finger - found[0] for finger in found] == [0, -1, -2, -1, 0]


def test_the_hand_looks_ahead_to_a_wide_chord() -> None:
    """The quaver before an octave is played by a finger that stays free for neither end of it."""
    before = planned(on_staves(right=["E4:1/2 C4:1", "r:1/2 C5:1"]), hands="as-written")
    assert fingers(before, "right")[1] == (1, 5)
    assert fingers(before, "right")[0][0] in (2, 3)
    assert before.chords[0].right is not None
    assert before.chords[0].right.after == "join"


def test_the_hand_looks_back_from_a_wide_chord() -> None:
    """G before the ninth C-D: without it any finger would do, with it the fourth or third leads to the fifth."""
    piece = on_staves(right=["G4:1/2 C4:2", "r:1/2 D5:2"])
    plan = planned(piece, hands="as-written")
    assert fingers(plan, "right")[1] == (1, 5)
    assert fingers(plan, "right")[0][0] in (2, 3, 4)


@pytest.mark.parametrize(
    "bass",
    [
        "C3 G3 C3 E3 G3 C4 G3 C3",
        "G2 D3 G2 B2 D3 G3 D3 G2",
        "F2 C3 A2 F3 C3 A2 F2 F2",
        "D3 A3 D4 A3 F3 D3 A3 D3",
        "E3 B3 G3 E3 B3 E4 B3 E3",
    ],
)
def test_the_lowest_and_the_highest_bass_note_frame_the_left_hand(bass: str) -> None:
    """Within an octave: 5 on the lowest, 1 on the highest."""
    plan = planned(on_staves(left=[bass]), hands="as-written")
    played = [note for chord in plan.chords for note in chord.notes]
    low, high = min(note.midi for note in played), max(note.midi for note in played)
    assert {note.finger for note in played if note.midi == low} == {5}, line_fingers(plan, "left")
    assert {note.finger for note in played if note.midi == high} == {1}, line_fingers(plan, "left")


def test_a_soprano_line_within_an_octave_is_framed_too() -> None:
    plan = planned(on_staves(right=["C4 E4 G4 C5 G4 E4 C4"]), hands="as-written")
    assert line_fingers(plan, "right")[0] == line_fingers(plan, "right")[-1] == "1"
    assert line_fingers(plan, "right")[3] == "5"


# Joins and lifts.


@pytest.mark.parametrize(
    "thirds",
    [
        ("C4 E4", "D4 F4", "E4 G4", "F4 A4"),
        ("E4 G4", "D4 F4", "C4 E4"),
        ("C4 A4", "D4 B4", "C4 A4"),
        ("E4 C5", "D4 B4", "C4 A4"),
    ],
)
def test_where_two_voices_are_joined_the_top_changes_its_finger(thirds: tuple[str, ...]) -> None:
    """5-4, 4-5, 4-3 on top; below, a finger may repeat."""
    plan = planned(in_chords("right", *thirds), hands="as-written")
    played = fingers(plan, "right")
    joined = 0
    for place, chord in enumerate(plan.chords[:-1]):
        assert chord.right is not None
        if chord.right.after == "join":
            joined += 1
            assert played[place][-1] != played[place + 1][-1]
    assert joined


def test_every_phrase_ends_in_a_lift_of_both_hands() -> None:
    plan = planned(chorale("C5 B4 C5", "E4 D4 E4", "G3 G3 G3", "C3 G2 C3"))
    last = plan.chords[-1]
    assert last.right is not None
    assert last.left is not None
    assert last.right.after == last.left.after == "end"


def test_a_note_struck_again_is_a_restrike_with_its_finger() -> None:
    plan = planned(on_staves(right=["G4 G4 A4 G4"]), hands="as-written")
    assert plan.chords[0].right is not None
    assert plan.chords[0].right.after == "restrike"
    played = line_fingers(plan, "right")
    assert played[0] == played[1]


@pytest.mark.parametrize("length", ["1/4", "1/2", "1"])
@pytest.mark.parametrize("span", [185, 208])
@pytest.mark.parametrize(
    ("side", "voices"),
    [
        ("right", ["G4 G4 G4 G4 A4", "E4 E4 E4 E4 F4", "C4 C4 C4 C4 C4"]),
        ("right", ["G4 G4 G4 G4 C5", "E4 E4 E4 E4 E4", "C4 C4 C4 C4 C4"]),
        ("left", ["Ab3 Ab3 Ab3 Ab3 Ab3", "Ab2 Ab2 Ab2 Ab2 Eb3"]),
    ],
)
def test_a_chord_struck_again_keeps_its_fingers(side: Side, voices: list[str], span: float, length: str) -> None:
    """However quickly it comes: changing fingers is for a single key."""
    piece = on_staves(**{side: voices}, length=length)
    again = fingers(planned(piece, hands="as-written", span_mm=span), side)[:4]
    assert len(set(again)) == 1, again


def test_a_chord_within_an_octave_is_broken_without_crossing() -> None:
    """Common practice, no source: 5-3-2-1 down the notes of a chord, 1-2-3-5 up."""
    for pitches, taught in (("D5 B4 G4 D4", "5321"), ("C4 F4 A4 C5", "1235"), ("C5 A4 F4 C4", "5321")):
        assert line_fingers(planned(on_staves(right=[pitches]), hands="as-written"), "right") == taught


def test_a_rest_lifts_the_hand_for_nothing() -> None:
    whole = planned(on_staves(right=["C4 D4 E4 F4"]), hands="as-written")
    broken = planned(on_staves(right=["C4 D4:1/2 r:1/2 E4 F4"]), hands="as-written")
    assert broken.chords[1].right is not None
    assert broken.chords[1].right.after == "lift"
    assert broken.effort <= whole.effort + 1e-9


def test_not_everything_can_be_legato() -> None:
    """Six chords of the sixth that run down in crotchets: the hand lifts, and no group is longer than four."""
    plan = planned(
        in_chords("right", "G4 C5 E5", "F4 B4 D5", "E4 A4 C5", "D4 G4 B4", "C4 F4 A4", "B3 E4 G4", "A3 D4 F4"),
        hands="as-written",
    )
    groups = [chord.right.group for chord in plan.chords if chord.right]
    assert len(groups) == 7
    assert max(groups.count(group) for group in set(groups)) <= 4


def test_a_wide_leap_of_a_chord_is_lifted_not_stretched() -> None:
    plan = planned(in_chords("right", "C4 E4 G4", "C5 E5 G5"), hands="as-written")
    assert plan.chords[0].right is not None
    assert plan.chords[0].right.after == "lift"


def test_lifts_come_where_there_is_time() -> None:
    """A leap must be lifted somewhere: the hand leaves from the minim rather than from the quavers after it."""
    plan = planned(
        in_time([("C4 E4", "2"), ("E5 G5", "1/2"), ("D5 F5", "1/2"), ("C5 E5", "2")]),
        hands="as-written",
    )
    afters = [chord.right.after for chord in plan.chords if chord.right]
    assert afters[0] == "lift"
    assert afters[1] == "join"


def in_time(chords: list[tuple[str, str]]) -> Piece:
    """Chords of two keys with their lengths."""
    lower = " ".join(f"{pitches.split()[0]}:{length}" for pitches, length in chords)
    upper = " ".join(f"{pitches.split()[1]}:{length}" for pitches, length in chords)
    return on_staves(right=[upper, lower])


# Held notes.


def test_a_longer_note_is_held_by_its_finger_while_the_others_move() -> None:
    plan = planned(chorale("G4 A4 B4 C5", "C4:4", "G3 F3 D3 E3", "C3:2 G2 C3"))
    alto = [note_of(plan, "alto", place) for place in range(4)]
    assert [note.struck for note in alto] == [True, False, False, False]
    assert len({(note.hand, note.finger) for note in alto}) == 1
    assert alto[0].hand is not None


def test_a_suspension_is_held_and_resolves() -> None:
    """The alto's F holds over the change of bass and falls to E; nobody lets it go."""
    plan = planned(chorale("C5 C5:2 C5", "F4:2 E4:2", "A3 G3:3", "F3 C3:3"))
    held = note_of(plan, "alto", 1)
    assert not held.struck
    assert (held.hand, held.finger) == (note_of(plan, "alto", 0).hand, note_of(plan, "alto", 0).finger)
    assert held.finger is not None


def test_a_pedal_point_stays_down() -> None:
    plan = planned(passage(line("bass", "C3:4", 0), line("tenor", "E3 F3 G3 F3", 0), line("soprano", "C5 D5 E5 D5", 0)))
    assert {(note_of(plan, "bass", place).hand, note_of(plan, "bass", place).finger) for place in range(4)} == {
        ("left", 5)
    }


# Unisons and crossings.


def test_a_unison_of_two_voices_is_one_key_and_one_finger() -> None:
    plan = planned(chorale("C5", "E4", "E4", "C3"))
    alto, tenor = note_of(plan, "alto"), note_of(plan, "tenor")
    assert (alto.hand, alto.finger) == (tenor.hand, tenor.finger)


def test_crossing_voices_are_played_where_their_keys_lie() -> None:
    """The tenor lies above the alto: the left hand takes the alto."""
    plan = planned(chorale("C5", "G3", "E4", "C3"))
    assert note_of(plan, "tenor").hand == "right"
    assert note_of(plan, "alto").hand == "left"


# Any number of voices.


@pytest.mark.parametrize(
    ("right", "left"),
    [
        (["C5"], []),
        (["C5", "E4"], ["C3"]),
        (["C5", "G4", "E4"], ["G3", "C3"]),
        (["C5", "G4", "E4", "D4"], ["G3", "E3", "C3"]),
        (["C5", "A4", "G4", "E4", "C4"], ["A3", "G3", "E3", "D3", "C3"]),
    ],
)
def test_from_one_to_ten_notes(right: list[str], left: list[str]) -> None:
    for hands in ("planned", "as-written"):
        plan = planned(on_staves(right=right, left=left), hands=hands)  # type: ignore[arg-type]
        chord = plan.chords[0]
        assert len(chord.notes) == len(right) + len(left)
        assert all(note.finger for note in chord.notes)
        assert all(note.midi == note.written_midi for note in chord.notes)


@pytest.mark.parametrize("tune", ["G4 F#4 G4 A4 G4 C5 C5 B4", "C4 C#4 D4 D#4 E4 F4 F#4 G4", "C4 C4 C4 C4 D4 E4 D4 C4"])
def test_one_hand_plays_one_line(tune: str) -> None:
    """A line by itself is not passed from hand to hand. Common practice, no source."""
    hands = {note.hand for chord in planned(passage(line("soprano", tune))).chords for note in chord.notes}
    assert len(hands) == 1
