"""Tempo, unevenness, hesitations and the metronome, measured on takes whose timing is known."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate

import pytest
from hypothesis import given
from hypothesis import strategies as st
from takes import Key, events, phrase

from coach.listening.events import Metronome
from coach.listening.expected import expect
from coach.listening.matching import match_take
from coach.listening.pace import Pace, pace
from coach.listening.thresholds import UNEVEN
from coach.listening.verdict import judge

SCALE = "C4 D4 E4 F4 G4 A4 B4 C5"
PLAN = phrase(" ".join(f"{pitch}.1" for pitch in SCALE.split()))


def heard(steps: Sequence[float], metronome: Metronome | None = None) -> Pace:
    """The scale with these steps from note to note, in seconds."""
    starts = [0.0, *accumulate(steps)]
    keys = [Key(pitch, start, start + 0.2) for pitch, start in zip(SCALE.split(), starts, strict=True)]
    return pace(match_take(expect([PLAN]), events(keys)), metronome)


@pytest.mark.parametrize("bpm", [30, 60, 72, 144])
def test_a_steady_scale_has_its_tempo_and_no_unevenness(bpm: float) -> None:
    found = heard([60 / bpm] * 7)
    assert found.quarter_bpm == pytest.approx(bpm, abs=0.01)
    assert found.unevenness == pytest.approx(0.0, abs=1e-6)
    assert found.hesitations == ()


def test_a_hesitation_is_found_where_it_was() -> None:
    found = heard([0.6, 0.6, 0.6, 1.8, 0.6, 0.6, 0.6])
    assert [wait.chord for wait in found.hesitations] == [4]
    assert found.hesitations[0].waited == pytest.approx(1.2)
    assert found.quarter_bpm == pytest.approx(100)
    assert found.unevenness == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(
    ("usual", "waited", "found"),
    [(0.3, 0.63, False), (0.3, 0.67, True), (1.0, 1.75, False), (1.0, 1.85, True)],
    ids=["quick", "quick and long", "slow", "slow and long"],
)
def test_a_hesitation_is_nearly_twice_a_step_and_a_third_of_a_second(usual: float, waited: float, found: bool) -> None:
    """Common practice, no source: in quick notes twice a step is over before anybody has waited."""
    steps = [usual] * 3 + [waited] + [usual] * 3
    assert [wait.chord for wait in heard(steps).hesitations] == [4] * found


def test_a_slow_rubato_is_neither_hesitation_nor_unevenness() -> None:
    """Each step a tenth longer than the one before: a broad ritardando over eight notes."""
    found = heard([0.5 * 1.1**place for place in range(7)])
    assert found.hesitations == ()
    assert found.unevenness is not None
    assert found.unevenness < UNEVEN


def test_limping_is_uneven() -> None:
    found = heard([0.75, 0.45] * 3 + [0.75])
    assert found.unevenness is not None
    assert found.unevenness > UNEVEN


def test_a_take_that_lurches_has_the_tempo_that_it_has_on_the_whole() -> None:
    """Four of its seven steps go at 119, and yet it takes as long as at 88."""
    assert heard([0.92, 0.50, 0.50, 0.94, 0.92, 0.51, 0.51]).quarter_bpm == pytest.approx(60 * 7 / 4.8, abs=0.01)


@given(st.lists(st.floats(-0.02, 0.02), min_size=7, max_size=7))
def test_what_nobody_hears_is_even(strays: list[float]) -> None:
    found = heard([0.6 + stray for stray in strays])
    assert found.unevenness is not None
    assert found.unevenness < 0.05


def test_chords_against_the_metronome() -> None:
    found = heard([0.6] * 7, Metronome(100, -0.05))
    assert found.clicks is not None
    assert found.clicks.mean == pytest.approx(0.05)
    assert found.clicks.spread == pytest.approx(0.0, abs=1e-6)


def test_running_ahead_of_the_metronome_spreads() -> None:
    found = heard([0.5] * 7, Metronome(100, 0.0))
    assert found.clicks is not None
    assert found.clicks.mean == pytest.approx(-0.35)
    assert found.clicks.spread > 0.2


@pytest.mark.parametrize(
    ("steps", "said"),
    [
        ([0.72, 0.69, 0.66, 0.63, 0.60, 0.57, 0.54], "you rushed, from ♩ = 83 to 111 where 84 was asked"),
        ([0.70, 0.74, 0.78, 0.82, 0.86, 0.90, 0.94], "you dragged, from ♩ = 86 to 64 where 84 was asked"),
        ([0.92, 0.50, 0.50, 0.94, 0.92, 0.51, 0.51], "the tempo went to and fro between ♩ = 64 and 120"),
        ([0.90, 0.76, 0.64, 0.52, 0.52, 0.64, 0.76], "the tempo went to and fro between ♩ = 67 and 115"),
        ([0.504] * 7, "steady, but at ♩ = 119 where 84 was asked"),
    ],
    ids=["rushing", "dragging", "lurching", "swelling and ebbing", "steady"],
)
def test_what_is_said_of_a_take_beside_its_clock(steps: Sequence[float], said: str) -> None:
    """The lurching one has four steps at 119 of seven, and averages 88: nobody would call it steady."""
    starts = [0.0, *accumulate(steps)]
    keys = [Key(pitch, start, start + 0.2) for pitch, start in zip(SCALE.split(), starts, strict=True)]
    found = judge(match_take(expect([PLAN]), events(keys)), Metronome(84, 0.0))
    assert [fault.text.startswith(said) for fault in found.faults if fault.kind == "clock"] == [True]


@pytest.mark.parametrize(
    ("beats", "said"),
    [
        (-1.0, "you came in a beat early"),
        (1.0, "you came in a beat late"),
        (2.1, "you came in 2 beats late"),
        (0.4, "the chords lay after the beat"),
    ],
)
def test_a_take_on_another_beat_is_told_which(beats: float, said: str) -> None:
    starts = [beats * 0.6 + 0.6 * step for step in range(8)]
    keys = [Key(pitch, start, start + 0.2) for pitch, start in zip(SCALE.split(), starts, strict=True)]
    shift = min(starts[0], 0.0)
    keys = [Key(key.pitch, key.press - shift, key.release - shift) for key in keys]
    found = judge(match_take(expect([PLAN]), events(keys)), Metronome(100, -shift))
    assert [fault.text.startswith(said) for fault in found.faults if fault.kind == "clock"] == [True]


def test_a_breath_between_phrases_is_no_hesitation() -> None:
    first, second = phrase("C4.1 D4.2 E4.3"), phrase("F4.1 G4.2 A4.3", number=2, onset=3.0)
    starts = [0.0, 0.6, 1.2, 3.6, 4.2, 4.8]
    keys = [Key(p, s, s + 0.5) for p, s in zip(SCALE.split(), starts, strict=False)]
    found = pace(match_take(expect([first, second]), events(keys)))
    assert found.hesitations == ()
    assert found.quarter_bpm == pytest.approx(100)


def test_one_chord_has_no_tempo() -> None:
    found = pace(match_take(expect([PLAN]), events([Key("C4", 0.0, 1.0)])))
    assert found.quarter_bpm is None
    assert found.unevenness is None
