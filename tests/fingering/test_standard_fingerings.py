"""Fingerings that every method teaches: scales, chords, broken chords, the five-finger position.

From the public-domain methods of the 19th century (Czerny, Hanon, Herz), from memory. Where methods differ among
themselves nothing is asked here.
"""

from __future__ import annotations

from itertools import pairwise

import pytest
from effort_sheet import sheet, words
from passages import fingers, in_chords, line_fingers, on_staves, planned

from coach.fingering.keyboard import is_black
from coach.fingering.plan import Side
from coach.fingering.weights import WEIGHTS, WEIGHTS_AS_WRITTEN
from coach.score.piece import Piece

_NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")

FAR_UNDER = pytest.mark.xfail(
    reason="taught arpeggios cross wider, a fourth between 3 and 1 and a major third between 1 and 4, than Table 1 of "
    "Parncutt et al. 1997 allows",
    strict=True,
)
NARROW = pytest.mark.xfail(
    reason="1-3 on neighbouring keys is cramped by Table 1 of Parncutt et al. 1997; printed fingerings of chromatic "
    "scales are too few to outweigh it",
    strict=True,
)
FOURTH_ALONE = pytest.mark.xfail(
    reason="printed fingerings make the fourth finger alone so weak that the third, or one crossing more, is preferred",
    strict=False,
)
"""Taught fingerings that the planner does not find, and why not."""

MAJOR = (0, 2, 4, 5, 7, 9, 11)


def scale(tonic: str, octaves: int, octave: int = 4) -> list[str]:
    """A major scale upwards."""
    start = _NAMES.index(tonic)
    steps = [start + 12 * turn + step for turn in range(octaves) for step in MAJOR] + [start + 12 * octaves]
    return [f"{_NAMES[key % 12]}{octave + key // 12}" for key in steps]


def on_staff(side: Side, pitches: list[str], length: str) -> Piece:
    text = " ".join(pitches)
    return on_staves(right=[text], length=length) if side == "right" else on_staves(left=[text], length=length)


def plays(piece: Piece, side: Side, taught: list[tuple[int, ...]]) -> None:
    """The planner's fingering is the taught one, by the weights of piano pieces and by those of hymns; if not, say what
    both cost."""
    for weights in (WEIGHTS_AS_WRITTEN, WEIGHTS):
        plan = planned(piece, hands="as-written", own_weights=weights)
        chosen = fingers(plan, side)
        if chosen != taught:
            pytest.fail(f"planned {chosen}: {plan.terms}\ntaught  {taught}")


def line(taught: str) -> list[tuple[int, ...]]:
    return [(int(finger),) for finger in taught]


def one(taught: str) -> list[tuple[int, ...]]:
    return [tuple(int(finger) for finger in taught)]


ONE_OCTAVE = [
    *((tonic, "right", "12312345") for tonic in "CGDAEB"),
    ("F", "right", "12341234"),
    *((tonic, "left", "54321321") for tonic in "CGDAEF"),
    ("B", "left", "43214321"),
]


@pytest.mark.parametrize("length", ["1/4", "1/2", "1"])
@pytest.mark.parametrize(("tonic", "side", "taught"), ONE_OCTAVE)
def test_major_scales_of_one_octave(tonic: str, side: Side, taught: str, length: str) -> None:
    upward = scale(tonic, 1, 4 if side == "right" else 3)
    plays(on_staff(side, upward, length), side, line(taught))
    plays(on_staff(side, upward[::-1], length), side, line(taught[::-1]))


TWO_OCTAVES = [
    *((tonic, "right", "123123412312345") for tonic in "CGDAEB"),
    ("F", "right", "123412312341234"),
    *((tonic, "left", "543213214321321") for tonic in "CGDAEF"),
    ("B", "left", "432143213214321"),
]


@pytest.mark.parametrize(("tonic", "side", "taught"), TWO_OCTAVES)
def test_major_scales_of_two_octaves(tonic: str, side: Side, taught: str) -> None:
    """No fingering takes less effort than the taught one. Others may take as little: effort looks at two chords at a
    time, and what repeats every octave costs it the same as what does not."""
    upward = scale(tonic, 2, 4 if side == "right" else 2)
    for pitches, wanted in ((upward, taught), (upward[::-1], taught[::-1])):
        piece = on_staff(side, pitches, "1/2")
        price = sheet(piece, side, line(wanted))
        plan = planned(piece, hands="as-written")
        assert sum(price.values()) <= plan.effort + 1e-6, (
            f"{line_fingers(plan, side)} {plan.terms}, taught {words(price)}"
        )


@pytest.mark.parametrize("side", ["right", "left"])
@pytest.mark.parametrize("tonic", _NAMES)
def test_the_thumb_stays_off_black_keys_in_scales(tonic: str, side: Side) -> None:
    """And passes twice an octave: after three and after four fingers."""
    upward = scale(tonic, 2, 4 if side == "right" else 2)
    plan = planned(on_staff(side, upward, "1/2"), hands="as-written")
    thumbs = [
        place
        for place, chord in enumerate(plan.chords)
        for note in chord.notes
        if note.finger == 1 and place not in (0, 14)
    ]
    assert not any(is_black(plan.chords[place].notes[0].midi) for place in thumbs), line_fingers(plan, side)
    inner = [later - earlier for earlier, later in pairwise(thumbs)]
    assert set(inner) <= {3, 4}, line_fingers(plan, side)


@NARROW
@pytest.mark.parametrize(
    ("side", "pitches", "taught"),
    [
        ("right", "C4 C#4 D4 Eb4 E4 F4 F#4 G4 Ab4 A4 Bb4 B4 C5", "1313123131312"),
        ("left", "C3 C#3 D3 Eb3 E3 F3 F#3 G3 Ab3 A3 Bb3 B3 C4", "1313213131321"),
    ],
)
def test_the_chromatic_scale(side: Side, pitches: str, taught: str) -> None:
    """Third finger on every black key, thumb and second finger where two white keys meet."""
    plays(on_staff(side, pitches.split(), "1/2"), side, line(taught))


@pytest.mark.parametrize(
    ("pitches", "right", "left"),
    [
        ("C4 D4 E4 F4 G4 F4 E4 D4 C4", "123454321", "543212345"),
        ("G3 A3 B3 C4 D4 C4 B3 A3 G3", "123454321", "543212345"),
        ("A3 B3 C4 D4 E4 D4 C4 B3 A3", "123454321", "543212345"),
        ("D4 E4 F#4 G4 A4 G4 F#4 E4 D4", "123454321", "543212345"),
        ("C4 E4 G4 E4 C4", "13531", "53135"),
        ("C4 G4 E4 G4 C4 G4 E4 G4", "15351535", "51315131"),
    ],
)
def test_the_five_finger_position(pitches: str, right: str, left: str) -> None:
    """Every finger falls on a key of its own; the last row is the broken chord of many a left hand."""
    plays(on_staff("right", pitches.split(), "1/2"), "right", line(right))
    plays(on_staff("left", pitches.split(), "1/2"), "left", line(left))


@pytest.mark.parametrize(
    ("chord", "right", "left"),
    [
        ("C4 E4 G4", "135", "531"),
        ("E4 G4 C5", "125", "531"),
        ("G4 C5 E5", "135", "521"),
        ("F4 A4 C5", "135", "531"),
        ("A4 C5 F5", "125", "531"),
        ("C4 F4 A4", "135", "521"),
        ("G4 B4 D5", "135", "531"),
        ("B3 D4 G4", "125", "531"),
        ("D4 G4 B4", "135", "521"),
        ("A3 C4 E4", "135", "531"),
        ("C4 E4 A4", "125", "531"),
        ("E4 A4 C5", "135", "521"),
        ("D4 F4 A4", "135", "531"),
        ("D4 F#4 A4", "135", "531"),
        ("E4 G#4 B4", "135", "531"),
    ],
)
def test_triads_in_close_position(chord: str, right: str, left: str) -> None:
    """Root position 1-3-5. Where a fourth lies next to the little finger the second finger takes the middle key: 1-2-5
    in the right hand's first inversion, 5-2-1 in the left hand's second."""
    plays(in_chords("right", chord), "right", one(right))
    plays(in_chords("left", chord), "left", one(left))


@pytest.mark.parametrize(
    ("chord", "right", "left"),
    [
        ("C4 E4 G4 C5", "1235", "5421"),
        ("E4 G4 C5 E5", "1245", "5421"),
        ("G4 C5 E5 G5", "1245", "5321"),
        ("C4 E4 G4 B4", "1235", "5321"),
        ("G3 B3 D4 F4", "1235", "5321"),
        ("D4 F4 A4 C5", "1235", "5321"),
        ("C4 E4", "13", "31"),
        ("C4 G4", "15", "51"),
        ("C4 C5", "15", "51"),
    ],
)
def test_octave_chords_seventh_chords_and_intervals(chord: str, right: str, left: str) -> None:
    plays(in_chords("right", chord), "right", one(right))
    plays(in_chords("left", chord), "left", one(left))


ARPEGGIOS = [
    ("C4 E4 G4 C5", "1235", "5421"),
    ("G3 B3 D4 G4", "1235", "5421"),
    ("F3 A3 C4 F4", "1235", "5421"),
    ("A3 C4 E4 A4", "1235", "5421"),
    ("D4 F#4 A4 D5", "1235", "5321"),
]

LONG_ARPEGGIOS = [("C3 E3 G3 C4 E4 G4 C5", "1231235", "5421421"), ("A2 C3 E3 A3 C4 E4 A4", "1231235", "5421421")]


@pytest.mark.parametrize(("pitches", "taught"), [(pitches, right) for pitches, right, _ in ARPEGGIOS])
def test_broken_chords_of_the_right_hand(pitches: str, taught: str) -> None:
    """Arpeggios of one octave, in quavers."""
    plays(on_staff("right", pitches.split(), "1/2"), "right", line(taught))


@pytest.mark.parametrize(
    ("pitches", "taught"),
    [pytest.param(pitches, left, marks=[FOURTH_ALONE] if left == "5421" else []) for pitches, _, left in ARPEGGIOS],
)
def test_broken_chords_of_the_left_hand(pitches: str, taught: str) -> None:
    """The fourth finger takes the second key where it is white, the third where it is black."""
    plays(on_staff("left", pitches.split(), "1/2"), "left", line(taught))


@FAR_UNDER
@pytest.mark.parametrize(("pitches", "right", "left"), LONG_ARPEGGIOS)
def test_broken_chords_of_two_octaves(pitches: str, right: str, left: str) -> None:
    plays(on_staff("right", pitches.split(), "1/2"), "right", line(right))
    plays(on_staff("left", pitches.split(), "1/2"), "left", line(left))
