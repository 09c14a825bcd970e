"""The terms of effort, one by one, on the smallest passages that show them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import product
from typing import NamedTuple

import numpy as np
import pytest
from ruler import TABLE_HAND_MM, Player, is_black, midi_of

from coach.fingering.black_keys import NEEDED, OVER_THE_BLACK
from coach.fingering.counts import Array, ChordCounts, MoveCounts
from coach.fingering.effort import in_line, posture
from coach.fingering.hand import SPAN_TABLE, Hand
from coach.fingering.handful import Grip, Handful, Ways, ways
from coach.fingering.keyboard import Keyboard
from coach.fingering.moving import Leaving, Moves, leaving, moves, resting, starting
from coach.fingering.options import Options
from coach.fingering.outer_line import Frame, Place
from coach.fingering.weights import WEIGHTS, WEIGHTS_AS_WRITTEN, Weights

HAND, PIANO = Hand(TABLE_HAND_MM), Keyboard()

RULER = Player(TABLE_HAND_MM, TABLE_HAND_MM)

SEMITONE_MM = 164.5 / 12

TIME = Leaving(rest=False, outer_rest=False, time="", at_once=False)


def grip(text: str, held: str = "", rolled: bool = False) -> Grip:
    """Keys of a right hand: grip("C4 E4 G4", held="C4")."""
    pitches, kept = text.split(), held.split()
    return Grip(
        keys=tuple(midi_of(pitch) for pitch in pitches),
        struck=tuple(pitch not in kept for pitch in pitches),
        kept=tuple(pitch in kept for pitch in pitches),
        rolled=rolled,
    )


def row(them: Ways, fingers: str) -> int:
    """Which of the fingerings these are."""
    found = np.flatnonzero((them.fingers == [int(finger) for finger in fingers]).all(axis=1))
    assert len(found) == 1, f"{fingers} is no fingering here"
    return int(found[0])


def in_chord(keys: Grip, fingers: str, hand: Hand = HAND) -> dict[str, float]:
    """The terms of a chord that are not zero."""
    them = ways(keys, hand, PIANO)
    return ChordCounts(them, posture(keys, hand, PIANO)).at(row(them, fingers))


class Left(NamedTuple):
    """A chord left for another."""

    join: MoveCounts
    lift: MoveCounts


def left(before: Grip, after: Grip, manners: Moves) -> Left:
    these, those = ways(before, HAND, PIANO), ways(after, HAND, PIANO)
    octaves = after.keys[0] // 12 - before.keys[0] // 12
    return Left(*(MoveCounts(these, those, octaves, manner) for manner in manners))


def change(before: Grip, fingers: str, after: Grip, then: str, when: Leaving = TIME) -> tuple[Left, tuple[int, int]]:
    found = left(before, after, moves(before, after, when, HAND, PIANO))
    return found, (row(found.join.before, fingers), row(found.join.after, then))


def joined(before: Grip, fingers: str, after: Grip, then: str) -> dict[str, float]:
    found, at = change(before, fingers, after, then)
    assert found.join.can[at]
    return _not_zero(found.join, at)


def lifted(before: Grip, fingers: str, after: Grip, then: str, when: Leaving = TIME) -> dict[str, float]:
    found, at = change(before, fingers, after, then, when)
    assert found.lift.can[at]
    return _not_zero(found.lift, at)


def _not_zero(counts: Mapping[str, Array], at: tuple[int, ...]) -> dict[str, float]:
    return {name: float(count[at]) for name, count in counts.items() if abs(float(count[at])) > 1e-9}


# Spans.


@pytest.mark.parametrize("pair", sorted(SPAN_TABLE))
def test_two_fingers_on_white_keys_follow_the_published_spans(pair: tuple[int, int]) -> None:
    """Parncutt et al. 1997, Table 1: nothing inside the relaxed span, stretch up to the comfortable one, strain up to
    the practical one, and nothing beyond; cramp below the relaxed span. Distances are measured with the checker's own
    ruler, an interval of the table in its widest place."""
    least_practical, _, least_relaxed, *most = SPAN_TABLE[pair]
    relaxed, comfortable, practical = (
        max(RULER.x_mm(key + semitones) - RULER.x_mm(key) for key in range(12)) for semitones in most
    )
    practical = min(practical, TABLE_HAND_MM - 4.5)
    for low, semitones in product(range(48, 60), range(1, 18)):
        high = low + semitones
        if is_black(low) or is_black(high):
            continue
        mm = RULER.x_mm(high) - RULER.x_mm(low)
        keys = Grip((low, high), (True, True), (False, False))
        possible = [tuple(map(int, fingers)) for fingers in ways(keys, HAND, PIANO).fingers]
        assert (pair in possible) == (semitones >= least_practical and mm <= practical + 0.2), (low, high)
        if pair not in possible:
            continue
        found = in_chord(keys, f"{pair[0]}{pair[1]}")
        stretch = max(min(mm, comfortable) - relaxed, 0) / SEMITONE_MM
        assert found.get("stretch", 0) == pytest.approx(stretch, abs=0.02)
        assert found.get("strain", 0) == pytest.approx(max(mm - comfortable, 0) / SEMITONE_MM, abs=0.02)
        assert found.get("cramp", 0) == max(least_relaxed - semitones, 0)


def test_stretches_of_all_pairs_add_up() -> None:
    """C-G-C with 1-2-5 stretches; with 1-4-5 the fourth above strains 4-5."""
    found = in_chord(grip("C4 G4 C5"), "125")
    assert found["stretch"] > 0
    assert "strain" not in found
    assert in_chord(grip("C4 G4 C5"), "145")["strain"] > 0


def test_a_larger_hand_stretches_less_for_the_same_keys() -> None:
    octave = grip("C4 C5")
    assert in_chord(octave, "15", Hand(190)).get("stretch", 0) > in_chord(octave, "15", Hand(226)).get("stretch", 0)


def test_an_octave_near_the_reach_of_a_hand_is_thumb_and_little_fingers() -> None:
    """The last eighth of the practical span of 1-3 and 1-4 (common practice, no source)."""
    octave = grip("C4 C5")

    def at_full_stretch(fingers: str, span_mm: float) -> float:
        return in_chord(octave, fingers, Hand(span_mm)).get("full_stretch", 0)

    for span_mm in (175, 185, 195, 208, 226):
        assert at_full_stretch("15", span_mm) == 0
    widest = max(RULER.x_mm(key + 12) - RULER.x_mm(key) for key in range(12))
    assert at_full_stretch("13", TABLE_HAND_MM) == pytest.approx(widest / 8 / SEMITONE_MM, abs=0.02)
    assert at_full_stretch("14", 185) > at_full_stretch("14", 195) > at_full_stretch("14", 226) == 0
    assert "full_stretch" not in in_chord(grip("C4 Bb4"), "25")
    assert "full_stretch" not in in_chord(grip("C4 C5", rolled=True), "14")


def test_a_span_counts_when_one_of_its_keys_is_struck() -> None:
    """Common practice, no source: the hand opens once, however many notes go by in between while it holds both."""
    struck = in_chord(grip("C4 C5"), "15", Hand(190))
    one_held = in_chord(grip("C4 C5", held="C4"), "15", Hand(190))
    assert struck["stretch"] == one_held["stretch"] > 0
    assert in_chord(grip("C4 C5", held="C4 C5"), "15", Hand(190)) == {}
    inner = in_chord(grip("C4 F4 C5", held="C4 C5"), "125", Hand(190))
    assert inner.get("stretch", 0) < in_chord(grip("C4 F4 C5"), "125", Hand(190))["stretch"]


def test_rolled_keys_are_not_stretched() -> None:
    """Common practice, no source."""
    assert not {"stretch", "strain"} & in_chord(grip("C4 G4 E5", rolled=True), "125").keys()


def test_a_roll_moves_as_far_as_its_fingers_do_not_open() -> None:
    """Common practice, no source: nothing within the comfortable spans of Parncutt et al. 1997 (2-5 and 1-2 open eight
    semitones, 1-5 thirteen), beyond them the way that the hand moves between one key and the next."""
    assert "roll_moves" not in in_chord(grip("C4 G4 D5", rolled=True), "125")
    comfortable = max(RULER.x_mm(key + 13) - RULER.x_mm(key) for key in range(12))
    tenth = RULER.x_mm(64) - RULER.x_mm(48)
    assert in_chord(grip("C4 E5", rolled=True), "15")["roll_moves"] == pytest.approx(
        (tenth - comfortable) / SEMITONE_MM, abs=0.02
    )
    assert in_chord(grip("C4 E5", rolled=True), "45")["roll_moves"] > 10
    both = in_chord(grip("C4 G4 E5", rolled=True), "145")
    assert both["roll_moves"] == pytest.approx(
        sum(
            in_chord(grip(keys, rolled=True), fingers).get("roll_moves", 0)
            for keys, fingers in (("C4 G4", "14"), ("G4 E5", "45"))
        )
    )


def test_a_roll_has_the_thumb_inside_and_the_fingers_over_their_keys() -> None:
    """Common practice, no source: what a chord asks of its fingers without spanning it, a roll asks as well."""
    assert in_chord(grip("C4 E4 G5", rolled=True), "235")["thumb_unused"] == 2
    assert "thumb_unused" not in in_chord(grip("C4 E4 G5", rolled=True), "135")
    assert in_chord(grip("C4 D4 F5", rolled=True), "145")["cramp"] == 3
    assert in_chord(grip("C4 D4 F5", rolled=True), "145")["off_grip"] == pytest.approx(2)


def test_a_key_that_is_kept_is_spanned_while_the_others_roll() -> None:
    """Common practice, no source."""
    small = Hand(190)
    rolled = in_chord(grip("C4 F4 C5", held="C4", rolled=True), "125", small)
    alone = [
        in_chord(grip(keys), fingers, small).get("stretch", 0) for keys, fingers in (("C4 F4", "12"), ("C4 C5", "15"))
    ]
    assert rolled["stretch"] == pytest.approx(sum(alone))
    assert rolled["stretch"] < in_chord(grip("C4 F4 C5", held="C4"), "125", small)["stretch"]


def test_a_finger_that_plays_again_in_a_roll_goes_all_the_way() -> None:
    six = grip("C4 Eb4 E4 G4 Bb4 C5", rolled=True)
    found = in_chord(six, "112345")
    way = (RULER.x_mm(midi_of("Eb4")) - RULER.x_mm(midi_of("C4"))) / SEMITONE_MM
    assert found["roll_moves"] >= way - 0.02
    assert "double_thumb" not in found


def test_a_rolled_key_must_be_within_the_span_of_a_held_one() -> None:
    held = ways(grip("C4 G4 B4 E5", held="C4", rolled=True), HAND, PIANO)
    assert not len(held)
    assert len(ways(grip("C4 G4 B4 E5", rolled=True), HAND, PIANO))


# One chord.


WATCHED = {
    "thumb_on_black",
    "little_on_black",
    "fourth_alone",
    "fifth_alone",
    "weak_neighbours",
    "thumb_unused",
    "little_unused",
    "double_thumb",
    "cramp",
    "strain",
}


@pytest.mark.parametrize(
    ("keys", "fingers", "terms"),
    [
        ("C4", "1", {}),
        ("C4", "3", {}),
        ("C4", "4", {"fourth_alone": 1}),
        ("C4", "5", {"fifth_alone": 1}),
        ("C#4", "1", {"thumb_on_black": 1}),
        ("C#4", "5", {"little_on_black": 1, "fifth_alone": 1}),
        ("F#4", "3", {}),
        ("C#4 Ab4", "15", {"thumb_on_black": 1, "little_on_black": 1}),
        ("C4 G4", "15", {}),
        ("C#4 G4", "15", {"thumb_on_black": 1, "cramp": 1}),
        ("E4 F4", "34", {"weak_neighbours": 1, "thumb_unused": 1, "little_unused": 1}),
        ("E4 F4", "23", {"thumb_unused": 1, "little_unused": 2}),
        ("C4 E4 G4", "135", {}),
        ("C4 E4 G4", "124", {"little_unused": 1}),
        ("C4 E4 G4", "235", {"thumb_unused": 2, "cramp": 0}),
        ("C4 D4 A4", "115", {"double_thumb": 1}),
    ],
)
def test_terms_of_one_chord(keys: str, fingers: str, terms: dict[str, float]) -> None:
    """Thumb and little finger on black keys and the weak finger: rules of Parncutt et al. 1997; the others common
    practice, no source."""
    found = in_chord(grip(keys), fingers)
    assert {name: found[name] for name in WATCHED & found.keys()} == {n: count for n, count in terms.items() if count}


def test_a_held_black_key_was_paid_for_when_it_was_struck() -> None:
    assert "thumb_on_black" not in in_chord(grip("F#4 A4 D5", held="F#4"), "124")


def test_a_thumb_covers_two_neighbouring_white_keys_only() -> None:
    """Common practice, no source."""
    doubled = [fingers for fingers in ways(grip("C4 D4 G4 B4"), HAND, PIANO).fingers.tolist() if fingers[:2] == [1, 1]]
    assert doubled
    for keys in ("C4 D#4 G4 B4", "C4 C#4 G4 B4", "C4 E4 G4 B4"):
        assert all(len(set(fingers)) == 4 for fingers in ways(grip(keys), HAND, PIANO).fingers.tolist())


def test_six_keys_are_one_too_many_unless_a_thumb_takes_two() -> None:
    assert ways(grip("C4 D4 E4 F4 G4 A4"), HAND, PIANO).fingers.tolist() == [[1, 1, 2, 3, 4, 5]]
    assert not len(ways(grip("C4 Eb4 E4 F4 G4 A4"), HAND, PIANO))


# A line and its frame.


def alone(frame: Frame, key: str) -> Place:
    """A place in a line that has nothing else to come."""
    return Place(frame, midi_of(key), midi_of(key), 0)


@pytest.mark.parametrize(("key", "finger"), [("C4", 1), ("G4", 5), ("E4", 3), ("D4", 2), ("F4", 4)])
def test_a_fifth_puts_a_finger_on_each_of_its_keys(key: str, finger: int) -> None:
    """The five-finger position (common practice, no source)."""
    frame = Frame(midi_of("C4"), midi_of("G4"))
    keys = grip(key)
    them = ways(keys, HAND, PIANO)
    counts = ChordCounts(them, in_line(keys, HAND, PIANO, alone(frame, key)))["off_frame"]
    assert int(them.fingers[int(counts.argmin()), 0]) == finger
    assert float(counts.min()) == pytest.approx(0)
    assert float(counts[row(them, str(6 - finger))]) == pytest.approx(abs(6 - 2 * finger))


@pytest.mark.parametrize(("low", "high", "fits"), [("C4", "F4", False), ("C4", "C5", True), ("C4", "D5", False)])
def test_a_frame_is_a_fifth_to_an_octave_wide(low: str, high: str, fits: bool) -> None:
    assert Frame(midi_of(low), midi_of(high)).fits_a_hand == fits
    keys = grip(low)
    them = ways(keys, HAND, PIANO)
    frame = Frame(midi_of(low), midi_of(high))
    assert ("off_frame" in ChordCounts(them, in_line(keys, HAND, PIANO, alone(frame, low)))) == fits


def at_place(key: str, finger: str, low: str, high: str, repeats: int = 0) -> dict[str, float]:
    """The terms of a lone key whose line is going to be between two keys."""
    keys, frame = grip(key), Frame(midi_of("C2"), midi_of("C6"))
    them = ways(keys, HAND, PIANO)
    found = in_line(keys, HAND, PIANO, Place(frame, midi_of(low), midi_of(high), repeats))
    return ChordCounts(them, found).at(row(them, finger))


def test_the_hand_looks_ahead_in_its_line() -> None:
    """Common practice, no source: with a G to come 1 on C has it within reach of the little finger, 5 has not."""
    assert at_place("C4", "1", "C4", "G4") == {}
    assert at_place("C4", "5", "C4", "G4")["far_from_top"] > at_place("C4", "4", "C4", "G4")["far_from_top"] > 0
    assert at_place("G4", "1", "C4", "G4")["far_from_bottom"] > at_place("G4", "2", "C4", "G4").get(
        "far_from_bottom", 0
    )
    assert at_place("G4", "5", "C4", "G4") == {}


def test_repeats_to_come_need_fingers_towards_the_thumb() -> None:
    """3-2-1 on a repeated key (common practice, no source)."""
    assert "repeats_ahead" not in at_place("C4", "3", "C4", "C4", repeats=2)
    assert at_place("C4", "2", "C4", "C4", repeats=2)["repeats_ahead"] == 1
    assert at_place("C4", "1", "C4", "C4", repeats=2)["repeats_ahead"] == 2


def test_a_lines_next_finger_lies_over_its_key() -> None:
    """Common practice, no source: a third up takes the finger after the next."""
    assert "off_step" not in joined(grip("C4"), "2", grip("E4"), "4")
    assert joined(grip("C4"), "2", grip("E4"), "3")["off_step"] == pytest.approx(0.5)
    assert "off_step" not in joined(grip("E4"), "3", grip("F4"), "1")
    assert "off_step" not in joined(grip("C4 G4"), "14", grip("D4 A4"), "15")


def test_the_thumb_opens_from_the_hand_and_is_near_all_that_it_spans_at_ease() -> None:
    """Thumb and second finger stand at ease on a fourth, thumb and third on a fifth (Parncutt et al. 1997, Table 1)."""
    assert "off_step" not in joined(grip("C4"), "1", grip("E4"), "2")
    assert "off_step" not in joined(grip("F4"), "2", grip("C4"), "1")
    assert "off_step" not in joined(grip("G4"), "3", grip("C4"), "1")
    assert joined(grip("C4"), "1", grip("A4"), "2")["off_step"] > 0
    assert joined(grip("C4"), "1", grip("D4"), "4")["off_step"] == pytest.approx(1.5)


def test_fingers_of_a_chord_lie_over_their_keys() -> None:
    """Common practice, no source: 1-3-5 on a triad of white keys."""
    assert "off_grip" not in in_chord(grip("C4 E4 G4"), "135")
    assert in_chord(grip("C4 E4 G4"), "125")["off_grip"] == pytest.approx(2)
    assert "off_grip" not in in_chord(grip("C4 C5"), "14")


# Joining.


def test_a_step_with_neighbouring_fingers_costs_nothing() -> None:
    assert joined(grip("C4"), "1", grip("D4"), "2") == {}
    assert joined(grip("E4"), "3", grip("D4"), "2") == {}


def test_the_same_finger_cannot_connect_the_outer_voice() -> None:
    found, at = change(grip("C4"), "2", grip("D4"), "2")
    assert not found.join.can[at]
    assert found.lift.can[at]


def test_a_finger_that_is_wanted_elsewhere_cannot_connect() -> None:
    """E5 on top with 4 cannot stay while 4 goes to C5."""
    found, at = change(grip("G4 E5"), "14", grip("A4 C5 F5"), "145")
    assert not found.join.can[at]


def test_the_shift_is_how_far_the_hand_moves() -> None:
    """From 3 on E to 4 on G the hand moves a white key up: 4 stood on F."""
    assert joined(grip("E4"), "3", grip("G4"), "4")["shift"] == pytest.approx(1)
    assert joined(grip("E4"), "3", grip("G4"), "5") == {}
    far = joined(grip("C4"), "1", grip("G4"), "3")
    assert (far["shift"], far["far_shift"]) == pytest.approx((2, 1))


def test_thumb_under_is_a_crossing_and_dearer_on_to_a_black_key() -> None:
    """Thumb-passing rule of Parncutt et al. 1997."""
    under = joined(grip("E4"), "3", grip("F4"), "1")
    assert under["crossing"] == 1
    assert "crossing_to_black" not in under
    black = joined(grip("E4"), "3", grip("F#4"), "1")
    assert (black["crossing"], black["crossing_to_black"]) == (1, 1)
    over = joined(grip("F4"), "1", grip("E4"), "3")
    assert over["crossing"] == 1


def test_a_third_finger_cannot_cross_a_fourth() -> None:
    """Table 1 of Parncutt et al. 1997: 3-4 span a semitone at least."""
    found, at = change(grip("E4"), "4", grip("F4"), "3")
    assert not found.join.can[at]


def test_a_line_beyond_the_relaxed_span_stretches() -> None:
    """2-3: two semitones are relaxed, three comfortable, five practical (Parncutt et al. 1997)."""
    third = joined(grip("D4"), "2", grip("F4"), "3")
    assert third["line_stretch"] > 0
    assert "line_strain" not in third
    assert joined(grip("C4"), "2", grip("F4"), "3")["line_strain"] > 0
    assert not {"line_stretch", "line_strain"} & joined(grip("C4"), "2", grip("D4"), "3").keys()


def test_a_quick_line_of_single_keys_moves_and_stretches_by_itself() -> None:
    """In quavers a closed hand runs evenly; chords and slow notes open and move it anyway (common practice, no
    source). What is counted is the same."""
    quick = leaving(Handful(grip("D4"), (0.0,), (0.5,)), Handful(grip("A4"), (0.5,), (1.0,)))
    calm = joined(grip("D4"), "1", grip("A4"), "2")
    own = {name: f"{name}_quick" for name in ("shift", "far_shift", "line_stretch", "off_step")}
    assert own.keys() <= calm.keys()
    found, at = change(grip("D4"), "1", grip("A4"), "2", quick)
    assert _not_zero(found.join, at) == {own.get(name, name): count for name, count in calm.items()}
    for before, fingers, after, then in (("D4", "1", "A4 D5", "25"), ("B3 D4", "12", "A4", "3")):
        found, at = change(grip(before), fingers, grip(after), then, quick)
        assert not {*own.values()} & _not_zero(found.join, at).keys()


@pytest.mark.parametrize("weights", [WEIGHTS, WEIGHTS_AS_WRITTEN])
def test_a_wide_stretch_is_never_cheaper_than_a_small_one(weights: Weights) -> None:
    """No fit may say otherwise (common practice, no source)."""
    assert weights["stretch"] <= weights["strain"]
    assert max(weights["line_stretch"], weights["line_stretch_quick"]) <= weights["line_strain"]


def test_a_line_below_the_relaxed_span_is_cramped() -> None:
    """1-5 over a third: seven semitones are relaxed."""
    assert joined(grip("C4"), "1", grip("E4"), "5")["line_cramp"] == 3


def test_inner_fingers_may_repeat_at_a_price() -> None:
    """Common practice, no source: the top connects, the thumb repeats, and goes most easily to the next key."""
    assert joined(grip("C4 G4"), "14", grip("E4 A4"), "15")["same_finger"] == 1
    assert joined(grip("C4 G4"), "14", grip("D4 A4"), "15")["same_finger"] == 0.5
    assert "same_finger" not in joined(grip("C4 G4"), "14", grip("D4 A4"), "25")


def test_a_key_struck_again_in_time_keeps_its_finger() -> None:
    """Common practice, no source: in chords above all."""
    found, at = change(grip("G4"), "4", grip("G4"), "3")
    assert found.join["changed_finger"][at] == 0.5
    found, at = change(grip("E4 G4"), "24", grip("F4 G4"), "23")
    assert found.join["changed_finger"][at] == 1
    found, at = change(grip("G4"), "4", grip("G4"), "4")
    assert found.join["changed_finger"][at] == 0


def test_a_black_key_struck_again_costs_only_a_finger_that_comes_to_it() -> None:
    """Common practice, no source: a thumb that stays on D flat goes nowhere."""
    found, at = change(grip("Db4 Ab4"), "15", grip("Db4 Ab4"), "15")
    assert found.join["thumb_on_black"][at] == 0
    found, at = change(grip("Db4 Ab4"), "25", grip("Db4 Ab4"), "15")
    assert found.join["thumb_on_black"][at] == 1
    keys, again = grip("Db4 F4"), (True, False)
    assert not any("thumb_on_black" in pairing.terms for _, _, pairing in posture(keys, HAND, PIANO, again))
    assert any("thumb_on_black" in pairing.terms for _, _, pairing in posture(keys, HAND, PIANO))


def test_a_hand_over_the_black_keys_minds_them_less() -> None:
    """Common practice, no source: a triad needs its thumb, and beside other black keys any finger is at home."""
    assert in_chord(grip("Bb4 D5"), "12")["thumb_on_black"] == 1
    assert in_chord(grip("Bb4 D5 F5"), "135")["thumb_on_black"] == NEEDED
    assert in_chord(grip("F#4 A#4 C#5"), "135")["thumb_on_black"] == OVER_THE_BLACK
    assert in_chord(grip("D4 F4 Bb4"), "135")["little_on_black"] == OVER_THE_BLACK
    assert in_chord(grip("E4 F4 Bb4"), "135")["little_on_black"] == 1


def test_a_hand_that_rises_with_its_outer_key_moves_its_inner_fingers_freely() -> None:
    """Common practice, no source: the top is struck again, so all fingers come up."""
    found, at = change(grip("C4 G4"), "15", grip("E4 G4"), "15")
    assert "same_finger" not in found.join
    assert found.join.at(*at).get("shift", 0.0) == 0


def test_quick_repeats_change_fingers_towards_the_thumb() -> None:
    """3-2-1 on one key (common practice, no source)."""
    when = Leaving(rest=False, outer_rest=False, time="quick", at_once=True)
    found, at = change(grip("G4"), "3", grip("G4"), "3", when)
    assert found.join["quick_repeat"][at] == 1
    found, at = change(grip("G4"), "3", grip("G4"), "2", when)
    assert (found.join["quick_repeat"][at], found.join["repeat_upward"][at]) == (0, 0)
    found, at = change(grip("G4"), "2", grip("G4"), "3", when)
    assert (found.join["quick_repeat"][at], found.join["repeat_upward"][at]) == (0, 1)


def test_a_hand_with_fingers_to_spare_changes_them_on_a_quick_repeat() -> None:
    """Common practice, no source: 3-2-1 on one key or two near ones within a semiquaver, on more not at all.

    Kinderscenen op. 15 no. 5 (tests/data/fingerings) prints 3-1, 2-1 on a third at semiquavers, three times of three.
    """

    def at_once(before: str, after: str, time: float = 0.25) -> bool:
        one, two = (
            Handful(keys, (since,) * len(keys.keys), (since + time,) * len(keys.keys))
            for keys, since in ((grip(before), 0.0), (grip(after), time))
        )
        return leaving(one, two).at_once

    assert (at_once("G4", "G4"), at_once("G4", "G4", 0.5)) == (True, False)
    assert (at_once("E4 G4", "E4 G4"), at_once("E4 G4", "E4 G4", 0.5)) == (True, False)
    assert not at_once("C4 E4 G4", "C4 E4 G4")
    assert not at_once("C4 A4", "C4 A4")
    # A key that another chord has too is no repeat.
    assert not any(at_once(*two) for two in (("C4 G4", "G4"), ("G4", "C4 G4"), ("G4", "A4")))


def test_a_chord_struck_again_keeps_its_grip() -> None:
    """Common practice, no source: the hand only falls and rises."""
    assert not {"new_grip", "changed_finger"} & joined(grip("C4 A4"), "15", grip("C4 A4"), "15").keys()
    assert joined(grip("C4 C5"), "15", grip("C4 C5"), "14")["new_grip"] == 1
    assert joined(grip("C4 E4 G4"), "135", grip("C4 E4 G4"), "124")["new_grip"] == 2
    assert lifted(grip("C4 E4 G4"), "135", grip("C4 E4 G4"), "125")["new_grip"] == 1
    other = joined(grip("C4 G4"), "14", grip("C4 A4"), "25")
    assert (other["changed_finger"], "new_grip" in other) == (1, False)


def test_held_keys_keep_their_fingers() -> None:
    """A longer note is held by its finger while the others move (common practice, no source)."""
    before, after = grip("C4 G4"), grip("C4 A4", held="C4")
    kept, at = change(before, "14", after, "15")
    assert kept.join.can[at]
    changed, at = change(before, "14", after, "25")
    assert not changed.join.can[at]
    assert not changed.lift.can[at]


def test_over_held_keys_the_outer_voice_alone_can_breathe() -> None:
    """5-5 on top cannot connect; the thumb holds on (common practice, no source)."""
    found, at = change(grip("C4 G4"), "15", grip("C4 A4", held="C4"), "15")
    assert not found.join.can[at]
    assert found.lift.can[at]
    assert found.lift["half_lift"][at] == 1
    same_top, at = change(grip("C4 E4 G4"), "135", grip("C4 F4 G4", held="C4 G4"), "135")
    assert not same_top.lift.can[at]


def test_a_hand_stays_while_the_other_moves() -> None:
    chord, still = grip("C4 G4"), grip("C4 G4", held="C4 G4")
    found, at = change(chord, "14", still, "14")
    assert found.join.can[at]
    assert _not_zero(found.join, at) == {}
    found, at = change(chord, "14", still, "15")
    assert not found.join.can[at]


# Lifting.


@pytest.mark.parametrize(
    ("quarters", "time"), [(0.25, "quick"), (0.5, "quick"), (1.0, ""), (1.5, ""), (2.0, "long"), (4.0, "long")]
)
def test_a_lift_goes_by_the_time_there_is(quarters: float, time: str) -> None:
    """Up to a quaver is quick, a minim leaves all the time one needs (common practice, no source)."""
    one = grip("C4")
    when = leaving(Handful(one, (0.0,), (quarters,)), Handful(one, (quarters,), (quarters + 1,)))
    assert (when.rest, when.outer_rest, when.time) == (False, False, time)
    name = f"lift_{time}" if time else "lift"
    assert lifted(grip("C4"), "1", grip("D4"), "2", when) == {name: 1, "broken_line": 1}
    assert lifted(grip("C4 E4"), "13", grip("D4 F4"), "13", when) == {f"chord_{name}": 1, "broken_top": 1}


@pytest.mark.parametrize("weights", [WEIGHTS, WEIGHTS_AS_WRITTEN])
@pytest.mark.parametrize("kind", ["lift", "chord_lift"])
def test_lifts_are_dear_in_quick_notes_and_cheap_on_long_ones(kind: str, weights: Weights) -> None:
    assert weights[f"{kind}_quick"] > weights[kind] > weights[f"{kind}_long"]


@pytest.mark.parametrize("weights", [WEIGHTS, WEIGHTS_AS_WRITTEN])
def test_chords_are_left_more_easily_than_single_keys(weights: Weights) -> None:
    """Not everything can be legato: chords are joined in twos and threes (common practice, no source)."""
    for time in ("_quick", "", "_long"):
        assert weights[f"chord_lift{time}"] < weights[f"lift{time}"]


def test_hands_that_are_written_are_weighed_by_themselves() -> None:
    """Hymns keep the finger of a repeated note and let inner fingers move on; editions of piano pieces go by the line
    (common practice, no source)."""
    hymns, pieces = Options(), Options(hands="as-written")
    assert (hymns.weights, pieces.weights) == (WEIGHTS, WEIGHTS_AS_WRITTEN)
    assert hymns.weights["changed_finger"] > pieces.weights["changed_finger"]
    assert hymns.weights["same_finger"] < pieces.weights["same_finger"]
    own = Weights({name: 2 * weight for name, weight in WEIGHTS.items()})
    adapted = replace(pieces, own_weights=own)
    assert (adapted.weights, adapted.usual) == (own, pieces)


def test_two_keys_struck_again_at_once_are_weighed_by_themselves() -> None:
    """Common practice, no source: a hand on two keys has fewer fingers to spare."""
    when = Leaving(rest=False, outer_rest=False, time="quick", at_once=True)
    found, at = change(grip("E4 G4"), "13", grip("E4 G4"), "13", when)
    assert (found.join["quick_repeat_of_two"][at], "quick_repeat" in found.join) == (2, False)


def test_a_rest_makes_a_lift_free_and_a_join_impossible() -> None:
    when = leaving(Handful(grip("C4"), (0.0,), (0.5,)), Handful(grip("D4"), (1.0,), (2.0,)))
    assert when.rest
    assert when.outer_rest
    found, at = change(grip("C4"), "1", grip("D4"), "2", when)
    assert not found.join.can[at]
    assert _not_zero(found.lift, at) == {}


def test_a_rest_of_the_outer_voice_alone_still_costs_a_lift_but_breaks_no_line() -> None:
    before = Handful(grip("C4 G4"), (0.0, 0.0), (1.0, 0.5))
    when = leaving(before, Handful(grip("A4"), (1.0,), (2.0,)))
    assert (when.rest, when.outer_rest) == (False, True)
    assert lifted(grip("C4 G4"), "15", grip("A4"), "5", when) == {"chord_lift": 1}


def test_striking_the_same_key_again_breaks_no_line() -> None:
    assert lifted(grip("G4"), "4", grip("G4"), "4") == {"lift": 1}


def test_a_line_that_goes_on_with_the_same_finger_hops() -> None:
    """Common practice, no source."""
    assert lifted(grip("G4"), "4", grip("A4"), "4")["hop"] == 1
    assert "hop" not in lifted(grip("G4"), "4", grip("A4"), "5")


def test_the_hand_moves_through_the_air_beyond_a_first_key() -> None:
    """Common practice, no source."""
    assert lifted(grip("C4"), "1", grip("C5"), "1")["shift_in_lift"] == pytest.approx(6)
    assert "shift_in_lift" not in lifted(grip("C4"), "1", grip("D4"), "1")
    assert WEIGHTS["shift_in_lift"] < WEIGHTS["shift"] + WEIGHTS["far_shift"]


def test_a_rolled_chord_is_left_by_a_lift() -> None:
    found, at = change(grip("C4 G4 E5", rolled=True), "125", grip("C4 F4 A4"), "135")
    assert not found.join.can[at]
    assert found.lift.can[at]


# Resting.


def test_a_resting_hand_waits_with_its_fingers_in_mind() -> None:
    waits = left(grip("C4"), grip("C4"), resting(1))
    assert np.array_equal(waits.lift.can, np.eye(5, dtype=bool))
    assert not waits.join.can.any()
    assert waits.lift == {}


def test_a_hand_comes_from_a_rest_for_no_more_than_the_way() -> None:
    before, after = grip("C4"), grip("C5")
    fresh = left(before, after, starting(remembers=False))
    assert fresh.lift == {}
    assert fresh.lift.can.all()
    back = left(before, after, starting(remembers=True))
    assert set(back.lift) == {"shift_in_lift"}
    assert back.lift["shift_in_lift"][0, 0] == pytest.approx(6)


# Weights.


def test_no_weight_is_below_zero() -> None:
    """No term rewards strain."""
    with pytest.raises(ValueError, match="shift"):
        Weights({"shift": -0.1})
