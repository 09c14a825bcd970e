"""Who can strike a tenth: the published spans of 473 adult pianists decide.

Boyle, Boyle and Booker, 2015: women's spans have a mean of 201 mm, men's of 226 mm; about 216 mm (8.5 in) are needed
for a tenth; 87 % of the women and 24 % of the men cannot strike one.
"""

from __future__ import annotations

from statistics import NormalDist

import pytest
from passages import chorale, distributions, fingers, in_chords, planned

from coach.fingering.hand import Hand

MEAN_WOMAN, MEAN_MAN, FOR_A_TENTH = 201.0, 226.0, 216.0


@pytest.mark.parametrize("tenth", ["C3 E4", "F3 A4", "G3 B4", "D3 F4", "A3 C5"])
@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize(
    ("span", "strikes"), [(MEAN_WOMAN, False), (208.0, False), (215.0, False), (217.0, True), (MEAN_MAN, True)]
)
def test_who_strikes_a_tenth(tenth: str, side: str, span: float, strikes: bool) -> None:
    """Who cannot rolls it, in music that is written so."""
    plan = planned(in_chords(side, tenth), span, "as-written")  # type: ignore[arg-type]
    rolled = [note.rolled for note in plan.chords[0].notes]
    assert rolled == [not strikes] * 2
    if strikes:
        assert fingers(plan, side) == [(1, 5) if side == "right" else (5, 1)]  # type: ignore[arg-type]


def test_about_as_many_pianists_strike_a_tenth_as_the_study_found() -> None:
    """The spread of spans is not given here: one standard deviation for each group that fits its mean and its share
    must be a plausible one (10 to 25 mm), and the mean hands must fall on opposite sides of the line."""
    needed = min(span / 2 for span in range(2 * 150, 2 * 300) if Hand(span / 2).reach_mm >= 211.5)
    assert needed == pytest.approx(FOR_A_TENTH, abs=0.5)
    for mean, cannot in ((MEAN_WOMAN, 0.87), (MEAN_MAN, 0.24)):
        deviation = (needed - mean) / NormalDist().inv_cdf(cannot)
        assert 10 < deviation < 25


@pytest.mark.parametrize(
    ("span", "raised"), [(MEAN_MAN, False), (FOR_A_TENTH, False), (MEAN_WOMAN, True), (208.0, True)]
)
def test_a_tenor_a_tenth_from_both_outer_voices(span: float, raised: bool) -> None:
    """Who strikes a tenth takes it with the right hand; for who does not it goes up an octave."""
    plan = planned(chorale("E5", "G4", "C4", "A2"), span)
    tenor = next(note for note in plan.chords[0].notes if note.voice == "tenor")
    assert distributions(plan) == ["3+1"]
    assert tenor.hand == "right"
    assert tenor.midi == tenor.written_midi + 12 * raised


@pytest.mark.parametrize(
    ("span", "reached"), [(180.0, "octave"), (190.0, "octave"), (200.0, "ninth"), (226.0, "tenth")]
)
def test_each_span_reaches_its_white_key_interval_and_no_further(span: float, reached: str) -> None:
    """Key centres of an octave are 164.5 mm apart, of a ninth 188 mm, of a tenth 211.5 mm."""
    intervals = {"octave": "C4 C5", "ninth": "C4 D5", "tenth": "C4 E5", "eleventh": "C4 F5"}
    names = list(intervals)
    for name, pitches in intervals.items():
        plan = planned(in_chords("right", pitches), span, "as-written")
        assert plan.chords[0].notes[0].rolled == (names.index(name) > names.index(reached))
