"""From a verdict to the log: which changes failed and in which hand, how far the take came, how each phrase went."""

from __future__ import annotations

from datetime import UTC
from fractions import Fraction

import pytest
from passages import chorale, planned
from practising import evening

from coach.fingering.plan import PhrasePlan
from coach.listening.events import Event, Metronome
from coach.listening.expected import Hand, expect
from coach.listening.matching import match_take
from coach.listening.player import Manner, perform
from coach.listening.verdict import Verdict, judge
from coach.practice import days
from coach.practice.attempt import Attempt
from coach.practice.entry import Entry
from coach.practice.heard import changes_that_failed, entry_for, entry_of, measures, parts_of
from coach.practice.ladder import NO_FINGERS, RIGHT, SEAM, STEPS_IN_TEMPO, TOGETHER, Step
from coach.practice.music import Music
from coach.practice.passage import passage
from coach.score.piece import Phrase, Piece

PIECE: Piece = chorale(
    soprano="E5 F5 G5 E5 D5 C5 D5 C5",
    alto="C5 C5 B4 C5 B4 G4 B4 G4",
    tenor="G4 A4 G4 G4 G4 E4 G4 E4",
    bass="C3 F3 G3 C3 G3 C3 G3 C3",
)
PLAN: PhrasePlan = planned(PIECE)
WHOLE = Phrase(1, Fraction(0), Fraction(8), "fermata")
PASSAGE = passage(PIECE, "phrase", WHOLE, WHOLE)

BEGAN = days.read("2026-11-25T12:00:00Z")


def played(*left_out: tuple[int, str], hand: Hand = "both", until: float = float("inf")) -> list[Event]:
    """A flawless take, but for notes left out: chord and voice."""
    expected = expect([PLAN], hand)
    performance = perform(expected, seed=3)
    absent = {note.number for note in expected.notes if (note.chord, note.voice) in left_out}
    gone: set[int] = set()
    events = []
    press = -1
    for event in performance.events:
        if event.kind == "press":
            press += 1
            if performance.truth.notes[press] in absent:
                gone.add(event.key)
                continue
        if event.kind == "release" and event.key in gone:
            gone.discard(event.key)
            continue
        if event.seconds <= until:
            events.append(event)
    return events


def verdict_on(events: list[Event], hand: Hand = "both") -> Verdict:
    return judge(match_take(expect([PLAN], hand), events), timed=False)


def entry(verdict: Verdict, step: Step = TOGETHER, **more: bool) -> Entry:
    return entry_of(
        PASSAGE, PIECE.title, step, verdict, began=evening(0), seconds=9.0, target_bpm=72.0, zone=UTC, **more
    )


def test_a_flawless_take_has_no_changes_that_failed() -> None:
    verdict = verdict_on(played())
    assert verdict.word == "solid"
    assert changes_that_failed(verdict) == ()
    kept = entry(verdict)
    assert kept.reached is None
    assert kept.verdict == "solid"
    assert kept.measures["missing"] == 0


def hand_of(chord: int, voice: str) -> str:
    (hand,) = {note.hand for note in PLAN.chords[chord].notes if note.voice == voice}
    assert hand
    return hand


@pytest.mark.parametrize(("chord", "voice"), [(3, "bass"), (3, "soprano"), (6, "alto"), (5, "tenor")])
def test_a_missing_note_is_a_change_that_failed_in_its_hand(chord: int, voice: str) -> None:
    failed = changes_that_failed(verdict_on(played((chord, voice))))
    assert (Fraction(chord), hand_of(chord, voice)) in {(fault.onset, fault.hand) for fault in failed}
    assert all(abs(fault.onset - chord) <= 1 for fault in failed)
    assert all(fault.bar == int(fault.onset // 4) + 1 for fault in failed)


def test_the_first_chord_is_led_to_by_no_change() -> None:
    failed = changes_that_failed(verdict_on(played((0, "alto"))))
    assert all(fault.onset > 0 for fault in failed)


def test_one_hand_alone_fails_in_its_own_changes_only() -> None:
    failed = changes_that_failed(verdict_on(played((4, "soprano"), hand="right"), "right"))
    assert failed
    assert {fault.hand for fault in failed} == {"right"}


def test_a_take_that_stops_half_way_tells_how_far_it_came() -> None:
    stop = perform(expect([PLAN]), seed=3).events
    chord_five = [event.seconds for event in stop if event.kind == "press"][4 * 4]
    verdict = verdict_on(played(until=chord_five + 0.05))
    kept = entry(verdict, broken_off=True)
    assert kept.reached == 4
    assert kept.verdict == "weak"


def test_a_look_at_hidden_fingers_is_kept_as_fingers_shown() -> None:
    verdict = verdict_on(played())
    assert entry(verdict, NO_FINGERS, peeked=True).step.fingers == "all"
    assert entry(verdict, NO_FINGERS, peeked=True).step.name == NO_FINGERS.name
    assert entry(verdict, NO_FINGERS).step == NO_FINGERS


def test_tempo_is_kept_only_where_there_was_a_clock() -> None:
    verdict = verdict_on(played())
    assert entry(verdict, RIGHT).quarter_bpm is None
    assert entry(verdict, NO_FINGERS).quarter_bpm == pytest.approx(72, rel=0.1)


def test_measures_are_small_and_survive_the_log_s_form() -> None:
    kept = entry(verdict_on(played((3, "bass"), (6, "alto"))))
    assert kept.measures["missing"] == 2
    assert kept.measures["faults"]["missing"] == 2
    assert len(kept.measures["remarks"]) <= 3
    assert len(str(measures(verdict_on(played())))) < 600
    assert Entry.from_json(kept.to_json()) == kept


def test_in_a_take_of_two_phrases_each_is_heard_for_itself() -> None:
    halves = (Phrase(1, Fraction(0), Fraction(4), "fermata"), Phrase(2, Fraction(4), Fraction(8), "fermata"))
    left_out = [(chord, voice) for chord in (5, 6) for voice in ("bass", "alto", "tenor")]
    parts = parts_of(halves, match_take(expect([PLAN]), played(*left_out)), timed=False)
    assert [(part.onset, part.end, part.verdict) for part in parts] == [(0, 4, "solid"), (4, 8, "weak")]


def test_a_phrase_that_was_not_reached_is_no_part_of_the_take() -> None:
    halves = (Phrase(1, Fraction(0), Fraction(4), "fermata"), Phrase(2, Fraction(4), Fraction(8), "fermata"))
    presses = [event.seconds for event in perform(expect([PLAN]), seed=3).events if event.kind == "press"]
    early = match_take(expect([PLAN]), played(until=presses[4 * 3 - 1]))
    assert [part.onset for part in parts_of(halves, early, timed=False)] == [0]


def test_a_take_of_joined_phrases_says_how_each_of_them_went(music: Music) -> None:
    """The second phrase is played without its bass: the first goes well all the same."""
    join = next(passage for passage in music.passages if passage.kind == "join")
    one, other = music.phrases[:2]
    task = music.task(join, STEPS_IN_TEMPO[2])
    bass = {n.midi for n in task.expected.notes if n.voice == "bass"}
    late = 1.0 + float(other.onset - one.onset) * task.quarter - 0.2
    attempt = Attempt(task, Metronome(task.quarter_bpm, 1.0))
    for event in perform(task.expected, Manner(task.quarter_bpm, rubato=0.0, unsteady=0.0), start=1.0).events:
        if event.seconds < late or event.key not in bass:
            attempt.feed(event)
    entry = entry_for(attempt.judged(), music, join, BEGAN, chosen=False)
    assert [(part.onset, part.end, part.verdict) for part in entry.parts] == [
        (one.onset, one.end, "solid"),
        (other.onset, other.end, "weak"),
    ]


def test_a_phrase_and_the_change_between_two_are_heard_as_one(music: Music) -> None:
    join = next(one for one in music.passages if one.kind == "join")
    for of, step in ((music.phrase_passage(1), STEPS_IN_TEMPO[2]), (join, SEAM)):
        task = music.task(of, step)
        attempt = Attempt(task)
        for event in perform(task.expected, start=1.0).events:
            attempt.feed(event)
        assert entry_for(attempt.judged(), music, of, BEGAN, chosen=False).parts == ()


def test_a_take_becomes_its_line_in_the_log(music: Music) -> None:
    passage = music.phrase_passage(1)
    task = music.task(passage, STEPS_IN_TEMPO[2])
    attempt = Attempt(task)
    for event in perform(task.expected, start=1.0).events:
        attempt.feed(event)
    done = attempt.judged()
    entry = entry_for(done, music, passage, BEGAN, chosen=True)
    assert (entry.verdict, entry.chosen, entry.reached, entry.faults) == ("solid", True, None, ())
    assert entry.passage == passage
    assert entry.day == days.practice_day(BEGAN)
    assert entry.target_bpm == music.target_bpm
    assert entry.quarter_bpm == pytest.approx(72.0, rel=0.1)
    assert entry.source == "wide-water"


def test_a_take_broken_off_says_how_far_it_came_and_a_peek_that_fingers_were_seen(music: Music) -> None:
    passage = music.phrase_passage(1)
    task = music.task(passage, NO_FINGERS)
    attempt = Attempt(task)
    attempt.peeked = True
    for event in perform(task.expected, start=1.0).events[:20]:
        attempt.feed(event)
    done = attempt.judged()
    assert done.broken_off
    entry = entry_for(done, music, passage, BEGAN, chosen=False)
    assert entry.reached is not None
    assert entry.reached < passage.end
    assert entry.step.fingers == "all"
