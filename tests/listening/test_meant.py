"""Wrong keys: which note or chord they were meant for. Common practice, no source."""

from __future__ import annotations

from dataclasses import replace

import pytest
from takes import Key, events, key_of, phrase, played

from coach.fingering.plan import PhrasePlan
from coach.listening.expected import Hand, expect
from coach.listening.hearing import hear
from coach.listening.matching import match_take
from coach.listening.report_text import report
from coach.listening.take import Take
from coach.listening.verdict import Verdict, judge

BASS = phrase(left="C3.5 F3.2 G3.1 A3.1 F3.2 D3.4 G3.1 A3.1")
BASS_TEXT = "C3 F3 G3 A3 F3 D3 G3 A3"


def verdict(plan: PhrasePlan, text: str, hand: Hand = "left", quarter: float = 0.6) -> Verdict:
    return judge(match_take(expect([plan], hand), events(played(text, quarter))))


def said(found: Verdict) -> list[tuple[str, int]]:
    """What is said of keys, and at which chord, counted from 1."""
    return [(fault.kind, fault.chord + 1) for fault in found.faults if not fault.touch]


@pytest.mark.parametrize("wrong", ["Bb3", "G#3", "B3", "A2", "A4"])
@pytest.mark.parametrize("quarter", [0.4, 0.8, 1.6])
def test_a_wrong_last_note_is_a_wrong_note_and_no_stop(wrong: str, quarter: float) -> None:
    found = verdict(BASS, f"C3 F3 G3 A3 F3 D3 G3 {wrong}", quarter=quarter)
    assert said(found) == [("wrong", 8)]
    assert found.remarks[0].startswith(
        f"bar 8, beat 1: {wrong} sounded for A3 in the bass; play A3 with the left thumb"
    )
    assert found.findings.not_reached == ()


def test_a_wrong_last_note_weighs_as_much_as_any_other_wrong_note() -> None:
    last = verdict(BASS, BASS_TEXT.removesuffix("A3") + "Bb3")
    inside = verdict(BASS, BASS_TEXT.replace("D3", "Db3"))
    weights = [sum(fault.weight for fault in found.faults if not fault.touch) for found in (last, inside)]
    assert weights == [1.0, 1.0]
    assert last.word == inside.word


def test_the_last_two_notes_may_both_be_wrong() -> None:
    assert said(verdict(BASS, "C3 F3 G3 A3 F3 D3 F#3 Bb3")) == [("wrong", 7), ("wrong", 8)]


def test_who_looks_long_for_the_last_note_and_misses_it_has_come_to_it() -> None:
    keys = [*played(BASS_TEXT.removesuffix(" A3")), Key("Bb3", 9.0, 9.5)]
    found = judge(match_take(expect([BASS], "left"), events(keys)))
    assert ("wrong", 8) in said(found)
    assert found.findings.not_reached == ()


def test_a_whole_last_chord_a_semitone_off_is_wrong_note_by_note() -> None:
    plan = phrase("C4.1+E4.2+G4.5 D4.1+F4.2+A4.5 C4.1+E4.2+G4.5", "C3.5 D3.4 C3.5")
    found = verdict(plan, "C4+E4+G4+C3 D4+F4+A4+D3 C#4+F4+G#4+C#3", "both")
    assert [kind for kind, _ in said(found)] == ["wrong"] * 4
    assert {chord for _, chord in said(found)} == {3}


def test_one_stray_key_is_not_the_last_chord() -> None:
    plan = phrase("C4.1+E4.2+G4.5 D4.1+F4.2+A4.5 E4.1+G4.2+C5.5", "C3.5 D3.4 C3.5")
    found = verdict(plan, "C4+E4+G4+C3 D4+F4+A4+D3 B4", "both")
    assert "the take stops before bar 3, beat 1" in found.remarks[0]


def test_a_key_brushed_with_the_chord_before_is_not_the_next_one() -> None:
    keys = [*played(BASS_TEXT.removesuffix(" A3")), Key("Bb3", 3.62, 3.7)]
    found = judge(match_take(expect([BASS], "left"), events(keys)))
    assert ("unfinished", 8) in said(found)
    assert ("extra", 7) in said(found)


def test_the_end_of_a_phrase_is_missed_though_the_next_phrase_follows() -> None:
    second = phrase(left="D3.4 E3.3 F3.2 G3.1", number=2, onset=8.0)
    text = f"{BASS_TEXT.removesuffix('A3')}Bb3 D3 E3 F3 G3"
    first = hear((BASS, second), Take(tuple(events(played(text)))), "left").heard[0].verdict
    assert said(first) == [("wrong", 8)]


@pytest.mark.parametrize("quarter", [0.6, 1.5, 2.5])
def test_a_wrong_note_in_a_line_is_known_for_what_it_was_however_slow(quarter: float) -> None:
    assert said(verdict(BASS, BASS_TEXT.replace("D3", "Db3"), quarter=quarter)) == [("wrong", 6)]


@pytest.mark.parametrize("quarter", [0.6, 1.5])
def test_a_wrong_first_note_is_a_wrong_note(quarter: float) -> None:
    found = verdict(BASS, BASS_TEXT.replace("C3", "C#3"), quarter=quarter)
    assert said(found) == [("wrong", 1)]


MEETING = phrase("E4.1+G4.5 F4.1+A4.5 E4.1+G4.5 D4.1+F4.2", "C3.5 F3.2 C3.5 D3.4")


def meeting() -> PhrasePlan:
    """Soprano and alto meet on the F of the second chord: the thumb's note is the fifth finger's too."""
    chords = list(MEETING.chords)
    notes = [
        replace(note, pitch="F4", midi=key_of("F4"), written_midi=key_of("F4"), finger=1)
        if note.pitch == "A4"
        else note
        for note in chords[1].notes
    ]
    chords[1] = replace(chords[1], notes=tuple(notes))
    return replace(MEETING, chords=tuple(chords))


WITH_F = "E4+G4+C3 F4+F3 E4+G4+C3 D4+F4+D3"


def test_voices_that_meet_on_a_key_ask_for_it_once() -> None:
    take = Take(tuple(events(played(WITH_F))))
    found = hear((meeting(),), take)
    assert found.heard[0].verdict.faults == ()
    assert "Notes: 11 of 11." in report(found)


def test_a_key_of_two_voices_that_was_missed_is_one_missing_note() -> None:
    take = Take(tuple(events(played(WITH_F.replace("F4+F3", "F3")))))
    found = hear((meeting(),), take)
    (fault,) = found.heard[0].verdict.faults
    assert fault.text == "bar 2, beat 1: F4 (soprano and alto) is missing; take it with the right thumb as planned"
    assert fault.weight == 1.0
    assert "Notes: 10 of 11." in report(found)
    assert len(found.heard[0].verdict.remarks) == 1


def test_a_wrong_key_for_two_voices_is_one_wrong_note() -> None:
    take = Take(tuple(events(played(WITH_F.replace("F4+F3", "F#4+F3")))))
    found = hear((meeting(),), take)
    (fault,) = found.heard[0].verdict.faults
    assert fault.text.startswith("bar 2, beat 1: F#4 sounded for F4 in the soprano and the alto; play F4")
    wrong = [note["voice"] for note in found.to_json()["notes"] if "wrong" in note]
    assert wrong == ["soprano", "alto"]
