"""The simulated pianist does what it says it did. Its truth is checked against its own keys, and against the plan."""

from __future__ import annotations

import pytest
from simulated import EVERYTHING
from takes import phrase, strokes_of

from coach.listening.events import Event
from coach.listening.expected import expect
from coach.listening.player import Manner, Mistakes, Performance, perform
from coach.listening.route import Detours

PLAN = [
    phrase(
        "C4.1+E4.2+G4.4 C4~+F4.2+A4.5, E4.1+G4.2+C5.5 E4~+F4.2+B4.4, D4.1+F4.2+B4.4 C4.1+G4.3+C5.5",
        "C3.5 D3.4 C3.5, G2.5= G2.5 C3.1",
        number=number,
        onset=6.0 * (number - 1),
    )
    for number in (1, 2, 3)
]
EXPECTED = expect(PLAN)


def presses(performance: Performance) -> list[Event]:
    return [event for event in performance.events if event.kind == "press"]


def test_the_same_seed_plays_the_same_take() -> None:
    assert perform(EXPECTED, mistakes=EVERYTHING, seed=7) == perform(EXPECTED, mistakes=EVERYTHING, seed=7)
    assert perform(EXPECTED, mistakes=EVERYTHING, seed=7) != perform(EXPECTED, mistakes=EVERYTHING, seed=8)


def test_without_mistakes_every_key_is_a_note_of_the_plan_once() -> None:
    performance = perform(EXPECTED, seed=1)
    truth = performance.truth
    assert sorted(note for note in truth.notes if note is not None) == [note.number for note in EXPECTED.notes]
    assert truth.mistakes == 0
    for event, number in zip(presses(performance), truth.notes, strict=True):
        assert number is not None
        assert event.key == EXPECTED.notes[number].midi


@pytest.mark.parametrize("seed", range(5))
def test_the_truth_is_what_the_keys_did(seed: int) -> None:
    performance = perform(EXPECTED, mistakes=EVERYTHING, seed=seed)
    truth = performance.truth
    struck = presses(performance)
    assert len(struck) == len(truth.notes) == len(truth.chords)
    for event, number in zip(struck, truth.notes, strict=True):
        assert number is None or event.key == EXPECTED.notes[number].midi
    seconds = [event.seconds for event in performance.events]
    assert seconds == sorted(seconds)


@pytest.mark.parametrize("seed", range(5))
def test_a_key_comes_up_before_it_goes_down_again(seed: int) -> None:
    down: set[int] = set()
    for event in perform(EXPECTED, mistakes=EVERYTHING, seed=seed).events:
        if event.kind == "press":
            assert event.key not in down
            down.add(event.key)
        elif event.kind == "release":
            assert event.key in down
            down.discard(event.key)
    assert not down


def test_lifts_are_played_as_planned() -> None:
    lifts = perform(EXPECTED, Manner(apart=0.0, lead=0.0), seed=2).truth.lifts
    for chord in EXPECTED.chords:
        for hand, leaving in chord.leaving.items():
            if leaving.following is None:
                continue
            if leaving.after in ("lift", "end"):
                assert lifts[chord.number, hand] >= 0.06
            elif leaving.after == "join":
                assert lifts[chord.number, hand] <= 0.0


@pytest.mark.parametrize(
    ("mistakes", "share"),
    [
        (Mistakes(missing=0.2), 0.2),
        (Mistakes(wrong=0.2), 0.2),
        (Mistakes(octave=0.2), 0.2),
    ],
    ids=["missing", "wrong", "octave"],
)
def test_as_much_goes_wrong_as_was_asked(mistakes: Mistakes, share: float) -> None:
    lost = 0
    for seed in range(20):
        lost += len(EXPECTED.notes) - len(perform(EXPECTED, mistakes=mistakes, seed=seed).truth.played)
    assert lost / 20 / len(EXPECTED.notes) == pytest.approx(share, abs=0.03)


def test_a_stumble_plays_its_chords_again() -> None:
    performance = perform(EXPECTED, mistakes=Mistakes(detours=Detours(back=0.3)), seed=3)
    jumps = performance.truth.jumps
    assert jumps
    assert all(to <= left for left, to in jumps)
    played = [note for note in performance.truth.notes if note is not None]
    assert len(played) > len(set(played)) == len(EXPECTED.notes)


def test_a_slip_is_mended_after_a_stop() -> None:
    """Every note is played in the end; some after a wrong key, some after one that did not speak."""
    performance = perform(EXPECTED, Manner(rubato=0.0), Mistakes(detours=Detours(mended=0.5)), seed=4)
    truth = performance.truth
    assert truth.mistakes > truth.notes.count(None) > 0
    assert sorted(truth.played) == [note.number for note in EXPECTED.notes]
    struck = presses(performance)
    for press, number in enumerate(truth.notes):
        if number is None:
            assert abs(struck[press].key - min(_mending(performance, press), default=999)) <= 2


def _mending(performance: Performance, press: int) -> list[int]:
    """The keys of the same chord struck 0.4 seconds later or more, by how near they are."""
    struck, truth = presses(performance), performance.truth
    later = [
        struck[other].key
        for other in range(press + 1, len(struck))
        if truth.chords[other] == truth.chords[press] and struck[other].seconds > struck[press].seconds + 0.35
    ]
    return sorted(later, key=lambda key: abs(key - struck[press].key))


def test_stopping_stops() -> None:
    performance = perform(EXPECTED, mistakes=Mistakes(detours=Detours(stopped=1.0)), seed=1)
    assert set(performance.truth.chords) == {0}


def test_the_left_hand_can_be_ahead() -> None:
    performance = perform(EXPECTED, Manner(ahead=0.2, apart=0.0, unsteady=0.0, lead=0.0), seed=1)
    times = {n: e.seconds for e, n in zip(presses(performance), performance.truth.notes, strict=True)}
    first = {EXPECTED.notes[n].hand: times[n] for n in EXPECTED.chords[0].struck}
    assert first["right"] - first["left"] == pytest.approx(0.2)


def test_the_pedal_covers_the_gaps() -> None:
    performance = perform(EXPECTED, Manner(pedal=True), seed=1)
    strokes = strokes_of(performance.events)
    assert any(event.kind == "pedal" for event in performance.events)
    assert all(stroke.release is not None for stroke in strokes)
    values = [event.value for event in performance.events if event.kind == "pedal"]
    assert values[-1] == 0


def test_one_hand_plays_alone() -> None:
    left = expect(PLAN, "left")
    performance = perform(left, seed=1)
    assert len(performance.truth.notes) == len(left.notes)
