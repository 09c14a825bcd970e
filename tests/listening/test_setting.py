"""Takes on a keyboard whose octave switch or transpose button is set (common practice, no source)."""

from __future__ import annotations

from dataclasses import replace

import pytest
from simulated import EVERYTHING, FIVE_PER_CENT, chorale_plan, manner

from coach.fingering.plan import SIDES, Side
from coach.listening import setting
from coach.listening.events import Event
from coach.listening.expected import Hand, expect
from coach.listening.hearing import Hearing, hear
from coach.listening.matching import match_take
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


def split(semitones: int, side: Side, mistakes: Mistakes | None = None, phrases: slice = slice(1, 2)) -> Take:
    """A chorale's second phrase, by default, on a split keyboard: the left hand's half sends on channel 2. One half is
    set some semitones too high."""
    expected = expect(PHRASES[phrases])
    events = perform(expected, manner(3), mistakes, 3).events
    match = match_take(expected, events)
    hands = {press: expected.notes[note].hand for press, note in match.note_of.items()}
    sent: list[Event] = []
    side_of: dict[int, Side | None] = {}
    presses = 0
    for event in events:
        if event.kind == "press":
            side_of[event.key] = hands.get(presses, "right" if event.key >= 60 else "left")
            presses += 1
        its = side_of.get(event.key)
        key = event.key + (semitones if its == side else 0)
        sent.append(replace(event, key=key, channel=1 if its == "left" else 0))
    return Take(tuple(sent))


@pytest.mark.parametrize("mistakes", [None, FIVE_PER_CENT])
@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("semitones", [12, -12, 24])
def test_a_half_of_a_split_keyboard_that_is_set_elsewhere_is_judged_where_it_belongs(
    semitones: int, side: Side, mistakes: Mistakes | None
) -> None:
    hearing = hear(PHRASES, split(semitones, side, mistakes))
    plain = hear(PHRASES, split(0, side, mistakes))
    assert plain.half is None
    assert hearing.half is not None
    assert (hearing.half.channel, hearing.half.semitones) == (1 if side == "left" else 0, semitones)
    assert replace(hearing, half=None).to_json() == plain.to_json()


def test_the_half_is_said_first_and_the_player_is_not_blamed() -> None:
    lines = report(hear(PHRASES, split(12, "left"))).splitlines()
    assert " ".join(lines[:3]).startswith(
        "The lower half of the split keyboard (channel 2) sounded an octave too high: look at that half's octave "
        "setting. It is judged as if it had sounded where it is written."
    )
    assert all(len(line) <= 80 for line in lines)
    assert "Phrase 2, bars 4 to 7: solid" in lines
    assert hear(PHRASES, split(12, "left")).to_json()["half_too_high"] == {"channel": 2, "semitones": 12}


def test_a_hand_that_plays_too_high_for_a_while_plays_too_high() -> None:
    """Half of the left hand's keys are where they belong: the keyboard is set right."""
    events = split(0, "left", phrases=slice(1, 3)).events
    wrong = split(12, "left", phrases=slice(1, 3)).events
    hearing = hear(PHRASES, Take(events[: len(events) // 2] + wrong[len(events) // 2 :]))
    assert hearing.half is None
    assert hearing.word == "weak"
