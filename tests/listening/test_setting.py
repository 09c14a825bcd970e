"""Takes on a keyboard whose octave switch or transpose button is set (common practice, no source)."""

from __future__ import annotations

from dataclasses import replace

import pytest
from simulated import EVERYTHING, FIVE_PER_CENT, chorale_plan, manner

from coach.listening import setting
from coach.listening.expected import Hand, expect
from coach.listening.hearing import Hearing, hear
from coach.listening.player import Mistakes, perform
from coach.listening.report_text import report
from coach.listening.take import Take

PHRASES = chorale_plan("bach/bwv269").phrases


def heard(
    semitones: int, hand: Hand = "both", mistakes: Mistakes | None = None, phrases: slice = slice(1, 2)
) -> Hearing:
    """A chorale's second phrase, by default, on a keyboard set some semitones too high."""
    events = perform(expect(PHRASES[phrases], hand), manner(3), mistakes, 3).events
    return hear(PHRASES, Take(setting.moved(events, semitones)), hand)


@pytest.mark.parametrize("semitones", [12, -12, 24, -24, 1, -1, 2, -2, 5, -5])
def test_a_take_on_a_keyboard_set_elsewhere_is_judged_where_it_belongs(semitones: int) -> None:
    hearing, plain = heard(semitones), heard(0)
    assert hearing.semitones == semitones
    assert replace(hearing, semitones=0).to_json() == plain.to_json()
    assert hearing.word == "solid"


@pytest.mark.parametrize("hand", ["right", "left"])
@pytest.mark.parametrize("semitones", [12, -1])
def test_one_hand_on_a_keyboard_set_elsewhere_is_judged_where_it_belongs(hand: Hand, semitones: int) -> None:
    hearing = heard(semitones, hand)
    assert hearing.semitones == semitones
    assert [one.phrase.number for one in hearing.heard] == [2]


@pytest.mark.parametrize(
    ("semitones", "said"),
    [
        (12, "Everything sounded an octave too high"),
        (-24, "Everything sounded two octaves too low"),
        (-1, "Everything sounded a semitone too low"),
        (2, "Everything sounded a whole tone too high"),
    ],
)
def test_the_setting_is_said_first(semitones: int, said: str) -> None:
    lines = report(heard(semitones)).splitlines()
    assert lines[0].startswith(said)
    assert all(len(line) <= 80 for line in lines)
    assert heard(semitones).to_json()["semitones_too_high"] == semitones


def test_a_take_with_mistakes_is_known_on_a_keyboard_set_elsewhere() -> None:
    assert heard(-12, mistakes=FIVE_PER_CENT).semitones == -12


@pytest.mark.parametrize("mistakes", [None, EVERYTHING])
def test_a_take_that_fits_is_heard_once(mistakes: Mistakes | None, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ordinary takes, full of mistakes or not, are not tried elsewhere."""
    monkeypatch.setattr(setting, "moved", lambda events, semitones: pytest.fail("tried elsewhere"))
    events = perform(expect(PHRASES), manner(3), mistakes, 3).events
    hearing = hear(PHRASES, Take(events))
    assert hearing.semitones == 0
    assert "semitones_too_high" not in hearing.to_json()


def test_another_piece_is_not_taken_for_this_one_played_elsewhere() -> None:
    other = perform(expect(chorale_plan("bach/bwv66.6").phrases), manner(1), None, 1).events
    assert hear(PHRASES, Take(other)).semitones == 0


def test_one_hand_an_octave_off_is_no_setting_of_the_keyboard() -> None:
    right = perform(expect(PHRASES[1:2], "right"), manner(3), None, 3).events
    left = perform(expect(PHRASES[1:2], "left"), manner(3), None, 3).events
    both = sorted((*setting.moved(right, 12), *left), key=lambda event: event.seconds)
    assert hear(PHRASES, Take(tuple(both))).semitones == 0
