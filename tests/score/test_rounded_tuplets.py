"""Tuplets in MusicXML files whose divisions are too coarse for them. Meanings of elements: MusicXML 4.0 reference,
W3C Music Notation Community Group (`divisions`, `duration`, `time-modification`, `backup`, `forward`)."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, pairwise
from math import floor

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.score.piece import Piece
from coach.score.reading import read_score

UNITS = {"whole": 4, "half": 2, "quarter": 1, "eighth": Fraction(1, 2), "16th": Fraction(1, 4)}
"""Quarter notes of a note type (MusicXML 4.0, note-type-value)."""

TYPES = list(UNITS)


def note(pitch: str, length: int, kind: str = "", ratio: str = "", voice: int = 1, rest: bool = False) -> str:
    """A note or rest: what the file counts, and what is printed ("eighth", "quarter.", "3:2")."""
    key = "<rest/>" if rest else f"<pitch><step>{pitch[0]}</step><octave>{pitch[1]}</octave></pitch>"
    printed = f"<type>{kind.rstrip('.')}</type>{'<dot/>' * kind.count('.')}" if kind else ""
    if ratio:
        actual, normal = ratio.split(":")
        inside = f"<actual-notes>{actual}</actual-notes><normal-notes>{normal}</normal-notes>"
        printed += f"<time-modification>{inside}</time-modification>"
    return f"<note>{key}<duration>{length}</duration><voice>{voice}</voice>{printed}</note>"


def move(where: str, length: int) -> str:
    return f"<{where}><duration>{length}</duration></{where}>"


def score(*parts: tuple[int, list[str]]) -> Piece:
    """A score in 4/4 of parts, each its divisions and its bars."""
    bodies = ""
    for place, (divisions, bars) in enumerate(parts):
        time = "<time><beats>4</beats><beat-type>4</beat-type></time>"
        head = f"<attributes><divisions>{divisions}</divisions>{time}</attributes>"
        inside = "".join(
            f'<measure number="{number}">{head if number == 1 else ""}{bar}</measure>'
            for number, bar in enumerate(bars, 1)
        )
        bodies += f'<part id="P{place}">{inside}</part>'
    names = "".join(f'<score-part id="P{place}"/>' for place in range(len(parts)))
    data = f"<score-partwise><part-list>{names}</part-list>{bodies}</score-partwise>"
    return read_score(data.encode(), "t.musicxml", "t")


def places(piece: Piece, octave: str = "") -> list[tuple[Fraction, Fraction]]:
    """Onset and length of the notes, or of those in one octave."""
    return [(n.onset, n.duration) for n in piece.notes if n.pitch.endswith(octave)]


def thirds(*ends: int) -> list[tuple[Fraction, Fraction]]:
    """Notes in a row, by where they begin and where the last one ends, in thirds of a quarter note."""
    return [(Fraction(one, 3), Fraction(other - one, 3)) for one, other in pairwise(ends)]


def test_a_rounded_triplet_is_as_long_as_it_is_printed() -> None:
    bar = note("G5", 256, "quarter") + "".join(note("G5", length, "eighth", "3:2") for length in (85, 85, 86))
    bar += note("G5", 512, "half") + move("backup", 1024)
    bar += "".join(note("G4", length, "quarter", "3:2", 2) for length in (171, 170, 171)) + note(
        "G4", 512, "half", "", 2
    )
    piece = score((256, [bar, bar]))
    assert [one.onset for one in piece.bars] == [0, 4]
    once = thirds(0, 3, 4, 5, 6, 12)
    assert places(piece, "5") == once + [(4 + onset, length) for onset, length in once]
    once = thirds(0, 2, 4, 6, 12)
    assert places(piece, "4") == once + [(4 + onset, length) for onset, length in once]


def test_parts_that_count_otherwise_meet_in_one_chord() -> None:
    rounded = [note("G5", length, "quarter", "3:2") for length in (171, 171, 170, 170, 171, 171)]
    exact = [note("G4", 2, "quarter", "3:2")] * 6
    plain = [note("G3", 1, "quarter")] * 4
    piece = score((256, ["".join(rounded)] * 2), (3, ["".join(exact)] * 2), (1, ["".join(plain)] * 2))
    assert places(piece, "5") == places(piece, "4")
    assert {onset for onset, _ in places(piece, "5")} & {onset for onset, _ in places(piece, "3")} == {0, 2, 4, 6}
    assert [one.duration for one in piece.bars] == [4, 4]


def test_the_notes_of_a_chord_stay_together() -> None:
    triplet = [note("G4", length, "eighth", "3:2") for length in (85, 86, 85)]
    chords = "".join(one + one.replace("<note>", "<note><chord/>").replace("G", "B") for one in triplet)
    piece = score((256, [chords]))
    assert sorted(places(piece)) == sorted(thirds(0, 1, 2, 3) * 2)


def test_a_tuplet_in_a_tuplet_is_told_by_both_together() -> None:
    """`time-modification` is the cumulative effect of all tuplets around a note: three in the time of two, thrice in
    the time of two, are nine in the time of four."""
    inner = [note("G4", length, "eighth", "9:4") for length in (57, 57, 56)]
    outer = [note("G4", length, "quarter", "3:2") for length in (171, 171)]
    assert places(score((256, ["".join([*inner, *outer]) + note("G4", 512, "half")]))) == [
        *((Fraction(place, 9), Fraction(2, 9)) for place in (0, 2, 4)),
        *thirds(2, 4, 6, 12),
    ]


@pytest.mark.parametrize(
    ("printed", "ratio", "length"),
    [
        ("eighth", "3:2", 128),
        ("eighth", "3:2", 84),
        ("quarter.", "3:2", 100),
        ("eighth", "", 85),
        ("", "3:2", 85),
        ("breve", "64:0", 85),
        ("eighth", "0:2", 85),
        ("semiquaver", "3:2", 85),
    ],
)
def test_where_the_printed_length_is_another_the_duration_holds(printed: str, ratio: str, length: int) -> None:
    piece = score((256, [note("G4", length, printed, ratio) + note("A4", 256, "quarter")]))
    assert places(piece) == [(0, Fraction(length, 256)), (Fraction(length, 256), 1)]


def test_grace_notes_take_no_time_in_a_tuplet_either() -> None:
    grace = "<note><grace/><pitch><step>A</step><octave>4</octave></pitch><type>eighth</type></note>"
    triplet = [note("G4", length, "eighth", "3:2") for length in (85, 85, 86)]
    assert places(score((256, [grace.join(triplet)]))) == thirds(0, 1, 2, 3)


def test_a_voice_that_begins_where_another_ones_tuplet_ends_meets_it() -> None:
    """A triplet that is cut down to 85 divisions three times: the file counts 255 to the second beat."""
    upper = "".join(note("G5", 85, "eighth", "3:2") for _ in range(3)) + note("G5", 256, "quarter")
    lower = move("backup", 511) + move("forward", 255) + note("G4", 256, "quarter", "", 2)
    lower += "".join(note("G4", 85, "eighth", "3:2", 2) for _ in range(3))
    assert places(score((256, [upper + lower])), "4") == thirds(3, 6, 7, 8, 9)


def test_a_jump_into_a_tuplet_lands_on_its_note() -> None:
    upper = "".join(note("G5", length, "eighth", "3:2") for length in (85, 85, 86))
    lower = move("backup", 171) + "".join(note("G4", length, "eighth", "3:2", 2) for length in (85, 86))
    assert places(score((256, [upper + lower])), "4") == thirds(1, 2, 3)


def test_going_back_ends_at_the_start_of_the_bar() -> None:
    """Two triplets of which each note is rounded up: the file counts 1026, which are 1024."""
    upper = "".join(note("G5", 171, "quarter", "3:2") for _ in range(6))
    for length in (1024, 1025, 1026, 1027):
        piece = score((256, [upper + move("backup", length) + note("G4", 1024, "whole", "", 2)]))
        assert places(piece, "4") == [(0, 4)]


@pytest.mark.parametrize("gap", ["forward", "rest"])
@pytest.mark.parametrize("missing", [{0}, {1}, {2}, {0, 1}, {1, 2}])
@pytest.mark.parametrize("before", [0, 64, 128, 256])
@pytest.mark.parametrize("last", [85, 86])
def test_a_gap_in_a_tuplet_is_as_long_as_the_notes_it_stands_for(
    gap: str, missing: set[int], before: int, last: int
) -> None:
    """A `forward`, or a rest that is not printed as one of the tuplet."""
    tuplet = ""
    for place, length in enumerate((85, 85, last)):
        if place not in missing:
            tuplet += note("G4", length, "eighth", "3:2")
        else:
            tuplet += move("forward", length) if gap == "forward" else note("", length, rest=True)
    start = move("forward", before) if before else ""
    since = Fraction(before, 256)
    kept = [(since + Fraction(place, 3), Fraction(1, 3)) for place in range(3) if place not in missing]
    found = score((256, [start + tuplet + note("A4", 256, "quarter")]))
    assert places(found) == [*kept, (since + 1, Fraction(1))]
    found = score((256, [start + tuplet, note("A4", 256, "quarter")]))
    assert places(found) == [*kept, (since + 1, Fraction(1))]
    assert found.bars[0].duration == since + 1


def test_a_tuplet_after_a_rest_begins_where_the_rest_ends() -> None:
    """Four divisions do not tell a triplet that begins on the half beat from one that has a gap."""
    triplet = [note("G4", length, "eighth", "3:2") for length in (1, 1, 2)]
    found = places(score((4, [note("", 2, "eighth", rest=True) + "".join(triplet) + note("G4", 2, "eighth")])))
    assert found == [(Fraction(place, 6), Fraction(1, 3)) for place in (3, 5, 7)] + [(Fraction(3, 2), Fraction(1, 2))]


def test_a_rounded_tuplet_moves_no_voice_that_is_exact() -> None:
    """The file counts to the third quarter of the beat where the triplet ends, and to a sixth where the quintuplet's
    second note stands; another voice means what it says."""
    triplet = "".join(note("G5", 1, "eighth", "3:2") for _ in range(3))
    lower = move("backup", 3) + move("forward", 3) + note("G4", 1, "16th", "", 2)
    assert places(score((4, [triplet + lower])), "4") == [(Fraction(3, 4), Fraction(1, 4))]
    quintuplet = "".join(note("G5", length, "16th", "5:4") for length in (2, 3, 2, 3, 2))
    lower = move("backup", 12) + move("forward", 2) + note("G4", 2, "16th", "3:2", 2)
    assert places(score((12, [quintuplet + lower])), "4") == [(Fraction(1, 6), Fraction(1, 6))]
    lower = move("backup", 12) + move("forward", 2) + note("G4", 4, voice=2)
    assert places(score((12, [quintuplet + lower])), "4") == [(Fraction(1, 6), Fraction(1, 3))]


@dataclass(frozen=True)
class Group:
    """Notes that fill whole beats: of a tuplet, or plain ones.

    Attributes:
        kind: Type of the smallest note.
        ratio: "3:2", "" for plain notes.
        lengths: Of the notes, each one or two of the smallest.
        rests: Which of them are rests.
    """

    kind: str
    ratio: str
    lengths: tuple[int, ...]
    rests: tuple[bool, ...]

    @property
    def notes(self) -> list[Fraction]:
        """Exact lengths."""
        actual, normal = map(int, (self.ratio or "1:1").split(":"))
        return [Fraction(UNITS[self.kind]) * length * normal / actual for length in self.lengths]


SHAPES = [
    *((kind, "3:2", 3) for kind in ("eighth", "quarter")),
    *((kind, ratio, int(ratio[0])) for kind in ("16th", "eighth") for ratio in ("5:4", "6:4", "7:4")),
    *((kind, "", count) for kind, count in (("quarter", 1), ("eighth", 2), ("16th", 4), ("half", 1))),
]


@st.composite
def groups(draw: st.DrawFn, beats: int = 4) -> list[Group]:
    """The groups of a bar."""
    found: list[Group] = []
    while left := beats - sum(sum(group.notes) for group in found):
        shape = st.sampled_from(SHAPES).filter(lambda shape: sum(Group(*shape[:2], (1,) * shape[2], ()).notes) <= left)
        kind, ratio, count = draw(shape)
        lengths: list[int] = []
        while sum(lengths) < count:
            lengths.append(draw(st.integers(1, min(2, count - sum(lengths)))))
        rests = draw(st.tuples(*[st.booleans()] * len(lengths)))
        found.append(Group(kind, ratio, tuple(lengths), rests))
    return found


def rounded(lengths: list[Fraction], divisions: int, way: str) -> list[int]:
    """How a file may count: place by place, or note by note to the nearest or the lower division."""
    if way == "places":
        ends = [round(end * divisions) for end in accumulate(lengths, initial=Fraction(0))]
        return [other - one for one, other in pairwise(ends)]
    return [(round if way == "nearest" else floor)(length * divisions) for length in lengths]


def voice(
    filled: list[Group], divisions: int, way: str, octave: int
) -> tuple[str, int, list[tuple[Fraction, Fraction]]]:
    """A voice of a bar: its notes, how long they are by the file's count, and where they are."""
    exact = [length for group in filled for length in group.notes]
    counted = iter(rounded(exact, divisions, way))
    text, total, now = "", 0, Fraction(0)
    found = []
    for group in filled:
        for size, rest, length in zip(group.lengths, group.rests, group.notes, strict=True):
            kind = TYPES[TYPES.index(group.kind) - (size - 1)]
            count = next(counted)
            text += note(f"G{octave}", count, kind, group.ratio, octave, rest)
            total += count
            if not rest:
                found.append((now, length))
            now += length
    return text, total, found


@given(
    groups(),
    groups(),
    groups(3),
    st.sampled_from([8, 12, 16, 20, 24, 64, 96, 256, 480, 1000, 1024]),
    st.sampled_from(["places", "nearest", "down"]),
    st.booleans(),
)
def test_rounded_tuplets_are_exact_in_every_voice(
    upper: list[Group], middle: list[Group], lower: list[Group], divisions: int, way: str, summed: bool
) -> None:
    """However a file rounds, and whether it goes back by the durations it wrote or by what a bar lasts."""
    text, at = "", Fraction(0)
    expected: dict[str, list[tuple[Fraction, Fraction]]] = {"5": [], "4": [], "3": []}
    bars = []
    for _ in range(2):
        text = ""
        for octave, filled in ((5, upper), (4, middle), (3, lower)):
            late = int(filled is lower)
            notes, total, found = voice(filled, divisions, way, octave)
            text += move("forward", divisions) * late + notes
            text += move("backup", total + late * divisions if summed else 4 * divisions)
            expected[str(octave)] += [(at + late + onset, length) for onset, length in found]
        bars.append(text + move("forward", 4 * divisions))
        at += 4
    plain = note("G2", 1, "quarter") * 4
    piece = score((divisions, bars), (1, [plain] * 2))
    assert [(one.onset, one.duration) for one in piece.bars] == [(0, 4), (4, 4)]
    for octave, notes in expected.items():
        assert places(piece, octave) == notes
    assert [onset for onset, _ in places(piece, "2")] == list(range(8))
