"""Takes of several phrases: each is found and judged by itself."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace

import pytest
from takes import Key, events, phrase, played

from coach.fingering.plan import PhrasePlan
from coach.listening.events import Metronome
from coach.listening.hearing import Hearing, hear
from coach.listening.player import Manner, Mistakes, perform
from coach.listening.report_text import report
from coach.listening.take import Take

FIRST = phrase("C4.1+E4.2+G4.5 D4.1+F4.2+A4.5 E4.1+G4.2+C5.5 D4.1+G4.3+B4.5", "C3.5 D3.4 C3.5 G2.5")
SECOND = phrase("F4.1+A4.3 G4.2+B4.4 A4.3+C5.5 G4.2+B4.4", "D3.4 G2.5 A2.4 B2.3", number=2, onset=4.0)
THIRD = phrase("E4.1+G4.3 F4.2+A4.4 D4.1+F4.3 C4.1+E4.3", "C3.1 F2.4 G2.3 C2.5", number=3, onset=8.0)
PIECE = (FIRST, SECOND, THIRD)

TEXTS = {
    1: "C4+E4+G4+C3 D4+F4+A4+D3 E4+G4+C5+C3 D4+G4+B4+G2",
    2: "F4+A4+D3 G4+B4+G2 A4+C5+A2 G4+B4+B2",
    3: "E4+G4+C3 F4+A4+F2 D4+F4+G2 C4+E4+C2",
}


def take(*phrases: int, chords: int | None = None) -> Take:
    """Phrases one after the other, or the first chords of that."""
    text = " ".join(TEXTS[number] for number in phrases)
    words = text.split()[:chords]
    return Take(tuple(events(played(" ".join(words)))))


def numbers(hearing: Hearing) -> list[int]:
    return [heard.phrase.number for heard in hearing.heard]


@pytest.mark.parametrize("played_phrases", [(1,), (2,), (3,), (1, 2), (2, 3), (1, 2, 3), (3, 1)])
def test_the_phrases_played_are_found(played_phrases: Sequence[int]) -> None:
    hearing = hear(PIECE, take(*played_phrases))
    assert numbers(hearing) == sorted(played_phrases)
    assert [phrase.number for phrase in hearing.not_played] == sorted({1, 2, 3} - set(played_phrases))
    assert all(not heard.verdict.findings.absent for heard in hearing.heard)


def test_the_first_chord_of_the_next_phrase_is_not_that_phrase() -> None:
    assert numbers(hear(PIECE, take(1, 2, chords=4))) == [1]


def test_each_phrase_has_its_own_faults_and_the_whole_has_the_worst_word() -> None:
    text = " ".join(TEXTS.values()).replace("A4+C5+A2", "A4+A2")
    hearing = hear(PIECE, Take(tuple(events(played(text)))))
    absent = {heard.phrase.number: len(heard.verdict.findings.absent) for heard in hearing.heard}
    assert absent == {1: 0, 2: 1, 3: 0}
    assert hearing.word == "shaky"


def test_a_phrase_played_twice_is_judged_by_its_second_time() -> None:
    first = played(TEXTS[2].replace("G4+B4+G2", "G4+G2"))
    again = [Key(k.pitch, k.press + 3.5, k.release + 3.5) for k in played(TEXTS[2])]
    hearing = hear(PIECE, Take(tuple(events(first + again))))
    assert numbers(hearing) == [2]
    assert hearing.heard[0].verdict.findings.absent == ()
    assert all(press >= 11 for press in hearing.match.played.values())


def test_one_phrase_can_be_asked_for() -> None:
    assert numbers(hear(PIECE, take(1, 2, 3), only=2)) == [2]
    assert numbers(hear(PIECE, take(2), only=2)) == [2]


def test_a_phrase_that_was_not_played_is_not_judged_when_others_were() -> None:
    assert numbers(hear(PIECE, take(1, 2), only=3)) == []


def test_of_two_phrases_with_the_same_music_the_one_asked_for_is_heard() -> None:
    same = phrase("C4.1+E4.2+G4.5 D4.1+F4.2+A4.5", "C3.5 D3.4", number=1)
    other = phrase("C4.1+E4.2+G4.5 D4.1+F4.2+A4.5", "C3.5 D3.4", number=2, onset=2.0)
    played_once = Take(tuple(events(played("C4+E4+G4+C3 D4+F4+A4+D3"))))
    assert numbers(hear((same, other), played_once)) == [1]
    assert numbers(hear((same, other), played_once, only=2)) == [2]


def test_a_single_phrase_is_judged_whatever_was_played() -> None:
    hearing = hear((FIRST,), Take(tuple(events(played("C#6 D#6")))))
    assert hearing.word == "weak"


def test_a_take_of_other_music_fits_no_piece_and_a_bad_one_of_the_piece_does() -> None:
    other = Take(tuple(events(played("Eb4+Ab4+F3 Gb4+Bb4+Eb3 F4+Ab4+Db3 Eb4+Gb4+Bb2 Ab3+C4+F2 Bb3+Db4+Gb2"))))
    assert not hear(PIECE, other).fits
    bad = Mistakes(wrong=0.2, missing=0.15, extra=0.15, late=0.1)
    for seed in range(5):
        performance = perform(hear(PIECE, take(1)).match.expected, Manner(halting=0.3), bad, seed)
        assert hear(PIECE, Take(performance.events)).fits


def test_a_phrase_played_after_trying_out_other_chords_fits() -> None:
    """A recording goes on while the player warms up."""
    warming_up = played("Eb4+Ab4+F3 Gb4+Bb4+Eb3 F4+Ab4+Db3 Eb4+Gb4+Bb2 Ab3+C4+F2 Bb3+Db4+Gb2")
    late = [Key(k.pitch, k.press + 8.0, k.release + 8.0) for k in played(TEXTS[2])]
    hearing = hear(PIECE, Take(tuple(events([*warming_up, *late]))))
    assert 2 in numbers(hearing)
    assert hearing.fits


@pytest.mark.parametrize("number", [1, 2, 3])
@pytest.mark.parametrize("late", [0.0, 0.4])
def test_the_metronome_of_a_later_phrase_is_not_that_of_the_piece(number: int, late: float) -> None:
    """A take of one phrase, counted in from its own start; later chords lie whole bars after the piece's first one."""
    keys = [Key(k.pitch, k.press + late, k.release + late) for k in played(TEXTS[number])]
    clock = Metronome(100, 0.0)
    hearing = hear(PIECE, Take(tuple(events(keys)), clock))
    clicks = hearing.heard[0].verdict.findings.pace.clicks
    assert numbers(hearing) == [number]
    assert clicks is not None
    assert clicks.mean == pytest.approx(late, abs=0.03)


def test_who_comes_in_at_the_second_phrase_in_time_is_not_late() -> None:
    keys = [Key(k.pitch, k.press + 2.4, k.release + 2.4) for k in played(TEXTS[2])]
    clicks = hear(PIECE, Take(tuple(events(keys)), Metronome(100, 0.0))).heard[0].verdict.findings.pace.clicks
    assert clicks is not None
    assert clicks.mean == pytest.approx(0.0, abs=0.03)


def test_the_json_form_keeps_the_contract() -> None:
    """Field names and units of the contract, on a take with every kind of finding."""
    performance = perform(
        hear(PIECE, take(1)).match.expected,
        Manner(pedal=True),
        Mistakes(wrong=0.1, missing=0.1, extra=0.1, new_lift=0.3, let_go=0.3),
        seed=4,
    )
    form = json.loads(json.dumps(hear(PIECE, Take(performance.events, Metronome(72, 0.0))).to_json()))
    assert form["verdict"] in ("solid", "shaky", "weak")
    presses = sum(event.kind == "press" for event in performance.events)
    for note in form["notes"]:
        assert {"onset", "midi", "voice", "hand", "played", "late_ms"} <= note.keys()
        assert note["played"] is None or 0 <= note["played"] < presses
        assert (note["late_ms"] is None) == (note["played"] is None)
    assert len(form["notes"]) == sum(len(phrase["notes"]) for phrase in form["phrases"])
    assert all(0 <= press < presses for press in form["extra"])
    played_presses = {note["played"] for note in form["notes"]} | {p for n in form["notes"] for p in n.get("again", [])}
    assert not played_presses & set(form["extra"])
    for lift in form["lifts"]:
        assert {"after_onset", "hand", "planned", "seen", "gap_ms"} <= lift.keys()
        assert isinstance(lift["planned"], bool)
    for hold in form["holds"]:
        assert {"onset", "voice", "kept", "short_ms"} <= hold.keys()
    assert all({"onset", "spread_ms"} <= chord.keys() for chord in form["chords"])
    assert {"quarter_bpm", "unevenness", "metronome"} <= form["tempo"].keys()
    assert {"presses", "down_share"} == form["pedal"].keys()
    for finger in form["fingers"]:
        assert {"onset", "voice", "finger", "contradicted_by"} <= finger.keys()


def test_every_true_note_is_in_the_json_form() -> None:
    """`played` is the index of the note-on in the take: the simulated pianist knows which is which."""
    expected = hear(PIECE, take(1)).match.expected
    performance = perform(expected, mistakes=Mistakes(wrong=0.05, missing=0.05, extra=0.05), seed=9)
    form = hear(PIECE, Take(performance.events)).to_json()
    told = {(note["onset"], note["midi"]): note["played"] for note in form["notes"]}
    for number, press in performance.truth.played.items():
        note = expected.notes[number]
        assert told[note.onset, note.midi] == press
    assert sum(press is not None for press in told.values()) == len(performance.truth.played)


def test_the_report_is_readable_at_eighty_columns() -> None:
    text = " ".join(TEXTS.values()).replace("A4+C5+A2", "A4+A2").replace("C4+E4+C2", "C4+Eb4+C2")
    said = report(hear(PIECE, Take(tuple(events(played(text)))))).splitlines()
    assert said[0].startswith("Phrase 1, bars 1 to 4: ")
    assert "  - bar 3, beat 1: the soprano (C5) is missing; take it with the right little" in said
    assert any("Eb4 sounded for E4" in line for line in said)
    assert all(len(line) <= 80 for line in said)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (140.0, "Tempo: 70 quarter notes a minute; the metronome went at 140."),
        (70.0, "the metronome went at 70, you came 0 ms "),
    ],
)
def test_the_report_counts_milliseconds_from_the_clicks_only_at_their_tempo(asked: float, said: str) -> None:
    keys = played(" ".join(TEXTS.values()), 60 / 70)
    lines = " ".join(report(hear(PIECE, Take(tuple(events(keys)), Metronome(asked, 0.0)))).split())
    assert said in lines
    if asked == 140.0:
        assert "ms after it" not in lines


def test_the_report_says_what_was_not_played() -> None:
    assert report(hear(PIECE, take(2))).endswith("Not played: phrases 1, 3.")


def test_the_report_names_fingers_that_cannot_have_been_used() -> None:
    plan = phrase("C4.1+E4.3 D4.1+F4.4 E4.1+G4.5")
    keys = [Key("C4", 0.0, 0.75), Key("E4", 0.0, 0.62), Key("D4", 0.6, 1.15), Key("F4", 0.6, 1.22)]
    keys += [Key("E4", 1.2, 1.8), Key("G4", 1.2, 1.8)]
    said = " ".join(report(hear((plan,), Take(tuple(events(keys))))).split())
    assert "you joined C4 to D4 in the alto: the planned 1-1 cannot do that" in said


def test_the_report_says_when_only_one_hand_was_heard() -> None:
    left = " ".join(word.split("+")[-1] for word in TEXTS[1].split())
    said = report(hear((FIRST,), Take(tuple(events(played(left))))))
    assert "Only the left hand was heard: with --hand left it is judged by itself." in said
    assert "Only the" not in report(hear((FIRST,), Take(tuple(events(played(left)))), "left"))


def test_the_report_counts_keys_that_do_not_belong_in_good_grammar() -> None:
    one = [*played(TEXTS[1]), Key("Bb4", 0.62, 0.7)]
    two = [*one, Key("Bb4", 1.22, 1.3)]
    assert "Notes: 16 of 16, 1 more that does not belong." in report(hear((FIRST,), Take(tuple(events(one)))))
    assert "Notes: 16 of 16, 2 more that do not belong." in report(hear((FIRST,), Take(tuple(events(two)))))


CUT = (
    *PIECE,
    phrase("C4.1+E4.2+G4.5 D4.1+F4.2+A4.5", "C3.5 D3.4", number=4, onset=12.0),
    phrase("E4.1+G4.2+C5.5 D4.1+G4.3+B4.5", "C3.5 G2.5", number=5, onset=14.0),
)
"""A hymn whose last line is its first line again, cut in two by the player."""


@pytest.mark.parametrize("number", [4, 5])
@pytest.mark.parametrize("before", [(), (2,)])
def test_half_a_line_that_was_played_whole_is_judged_where_it_was_asked_for(
    number: int, before: tuple[int, ...]
) -> None:
    """The take is believed to be the first line, which it is as much; its half is in it, note by note."""
    whole = take(*before, 1)
    hearing = hear(CUT, whole, only=number)
    assert numbers(hearing) == [number]
    assert [fault for fault in hearing.heard[0].verdict.faults if not fault.touch] == []
    first = 12 * len(before) + (8 if number == 5 else 0)
    assert sorted(note["played"] for note in hearing.to_json()["notes"]) == list(range(first, first + 8))


def test_a_cadence_that_two_lines_share_is_not_the_line_asked_for() -> None:
    """Two lines of six chords end with the same two."""
    one = phrase("B4.5 G4.3 C5.5 B4.5 D4.1+F4.3 C4.1+E4.3", "G3.1 E3.3 C3.5 E3.3 G2.3 C2.5", number=4, onset=12.0)
    other = phrase("A4.5 C5.5 D5.5 A4.5 D4.1+F4.3 C4.1+E4.3", "F3.1 A3.1 B3.1 F3.1 G2.3 C2.5", number=5, onset=18.0)
    played_line = Take(tuple(events(played("A4+F3 C5+A3 D5+B3 A4+F3 D4+F4+G2 C4+E4+C2"))))
    assert numbers(hear((*PIECE, one, other), played_line)) == [5]
    assert numbers(hear((*PIECE, one, other), played_line, only=4)) == []


@pytest.mark.parametrize("before", ["", TEXTS[2]])
@pytest.mark.parametrize(("basses", "judged"), [("C3 D3 A2 E3 D3 E3", [5]), ("A2 B2 A2 E3 D3 E3", [])])
def test_a_line_with_another_bass_throughout_is_not_the_line_asked_for(
    basses: str, judged: list[int], before: str
) -> None:
    """A few notes that another line explains better may be slips; one in four is that line (common practice, no
    source)."""
    above = "C4.1+E4.2+G4.5 D4.1+F4.2+A4.5 E4.1+G4.2+C5.5 D4.1+G4.3+B4.5 C4.1+F4.3+A4.5 B3.1+D4.2+G4.5"
    line = phrase(above, "C3.5 D3.4 C3.5 G2.5 F2.5 G2.5", number=4, onset=12.0)
    asked_for = phrase(above, basses, number=5, onset=18.0)
    text = "C4+E4+G4+C3 D4+F4+A4+D3 E4+G4+C5+C3 D4+G4+B4+G2 C4+F4+A4+F2 B3+D4+G4+G2"
    played_line = Take(tuple(events(played(f"{before} {text}"))))
    assert 4 in numbers(hear((*PIECE, line, asked_for), played_line))
    assert numbers(hear((*PIECE, line, asked_for), played_line, only=5)) == judged


def test_of_lines_with_the_same_music_the_first_one_is_heard() -> None:
    lines = (_at(SECOND, 1, 0.0), _at(FIRST, 2, 4.0), THIRD, _at(FIRST, 4, 12.0))
    assert numbers(hear(lines, take(1))) == [2]


def _at(line: PhrasePlan, number: int, onset: float) -> PhrasePlan:
    """A line elsewhere in the hymn."""
    further = onset - line.onset
    chords = tuple(
        replace(
            chord,
            onset=chord.onset + further,
            notes=tuple(replace(note, onset=note.onset + further) for note in chord.notes),
        )
        for chord in line.chords
    )
    return replace(line, number=number, onset=onset, end=line.end + further, chords=chords)
