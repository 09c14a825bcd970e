"""Notes are found whatever the player does around them. The passages are our own."""

from __future__ import annotations

import pytest
from takes import Key, chords, events, heard, key_of, phrase, pitches, played

from coach.listening.events import Event
from coach.listening.expected import expect
from coach.listening.matching import Matcher, match_take

TUNE = phrase(
    "C4.1+E4.2+G4.5 D4.1+F4.2+A4.5, E4.1+G4.2+C5.5 D4.1+G4.2+B4.5 C4.1+G4.3+C5.5",
    "C3.5 D3.4 C3.5, G2.5 C3.1",
)
"""Five chords, no two alike."""

RIGHT_AWAY = "C4+E4+G4+C3 D4+F4+A4+D3 E4+G4+C5+C3 D4+G4+B4+G2 C4+G4+C5+C3"


def all_played(text: str = RIGHT_AWAY, quarter: float = 0.6) -> list[Key]:
    return played(text, quarter)


def test_a_faultless_take_is_matched_whole() -> None:
    match = heard(TUNE, all_played())
    assert chords(match) == [0, 1, 2, 3, 4]
    assert len(match.played) == len(match.expected.notes)
    assert match.extra == ()


@pytest.mark.parametrize("quarter", [0.2, 0.4, 0.8, 1.6, 3.2])
def test_any_tempo_will_do(quarter: float) -> None:
    match = heard(TUNE, all_played(quarter=quarter))
    assert len(match.played) == len(match.expected.notes)
    assert match.extra == ()


def test_a_wrong_neighbour_is_no_note_of_the_chord() -> None:
    match = heard(TUNE, all_played(RIGHT_AWAY.replace("F4", "F#4")))
    assert pitches(match)[1] == ["A4", "D4", "D3"]
    assert [match.strokes[press].key for press in match.extra] == [key_of("F#4")]


def test_an_octave_slip_leaves_the_other_notes_alone() -> None:
    match = heard(TUNE, all_played(RIGHT_AWAY.replace("G2", "G3")))
    assert pitches(match)[3] == ["B4", "G4", "D4"]
    assert pitches(match)[4] == ["C5", "G4", "C4", "C3"]


def test_a_chord_left_out_is_passed_over() -> None:
    keys = [key for key in all_played() if not 0.6 <= key.press < 1.2]
    assert chords(heard(TUNE, keys)) == [0, 2, 3, 4]


def test_a_rolled_chord_is_one_chord() -> None:
    roll = [Key("C3", 0.0, 0.6), Key("C4", 0.07, 0.6), Key("E4", 0.14, 0.6), Key("G4", 0.21, 0.6)]
    match = heard(TUNE, roll + [key for key in all_played() if key.press >= 0.6])
    assert chords(match) == [0, 1, 2, 3, 4]
    assert pitches(match)[0] == ["G4", "E4", "C4", "C3"]


def test_a_left_hand_half_a_chord_ahead_plays_its_own_chords() -> None:
    keys = [
        Key(key.pitch, key.press - 0.3, key.release - 0.3) if key.pitch[-1] in "23" else key for key in all_played()
    ]
    match = heard(TUNE, keys)
    assert len(match.played) == len(match.expected.notes)
    for note, press in match.played.items():
        expected = match.expected.notes[note]
        early = 0.3 if expected.hand == "left" else 0.0
        assert match.strokes[press].press == pytest.approx(0.6 * expected.onset - early)


def test_a_note_found_late_belongs_to_its_chord() -> None:
    keys = [Key(k.pitch, k.press + 0.9, k.release + 0.9) if k.press >= 0.6 else k for k in all_played()]
    keys = [k for k in keys if not (k.pitch == "E4" and k.press == 0.0)] + [Key("E4", 0.8, 1.4)]
    match = heard(TUNE, keys)
    assert chords(match) == [0, 1, 2, 3, 4]
    assert pitches(match)[0] == ["G4", "E4", "C4", "C3"]


def test_a_note_struck_twice_is_played_once() -> None:
    keys = [*all_played(), Key("A4", 0.72, 1.2)]
    keys = [Key("A4", 0.6, 0.68) if k.pitch == "A4" and k.press == 0.6 else k for k in keys]
    match = heard(TUNE, keys)
    assert len(match.extra) == 1
    assert match.strokes[match.extra[0]].press == pytest.approx(0.72)
    note = next(n for n in match.expected.notes if n.pitch == "A4")
    assert match.release(note.number) == pytest.approx(1.2)


def test_stumbling_back_a_chord_counts_the_second_try() -> None:
    first = all_played("C4+E4+G4+C3 D4+F4+A4+D3 E4+G#4+C5+C3")
    again = [
        Key(k.pitch, k.press + 2.6, k.release + 2.6)
        for k in all_played("D4+F4+A4+D3 E4+G4+C5+C3 D4+G4+B4+G2 C4+G4+C5+C3")
    ]
    match = heard(TUNE, first + again)
    assert chords(match) == [0, 1, 2, 1, 2, 3, 4]
    assert [visit.run for visit in match.visits] == [0, 0, 0, 1, 1, 1, 1]
    assert match.strokes[match.played[next(n.number for n in match.expected.struck(1))]].press >= 2.6


def test_starting_over_counts_the_second_take() -> None:
    keys = all_played("C4+E4+G4+C3 D4+F4+A4+D3 E4+G4+C5+C3")
    keys += [Key(k.pitch, k.press + 4.0, k.release + 4.0) for k in all_played()]
    match = heard(TUNE, keys)
    assert chords(match) == [0, 1, 2, 0, 1, 2, 3, 4]
    assert all(match.strokes[press].press >= 4.0 for press in match.played.values())


def test_stopping_half_way_leaves_the_rest_unplayed() -> None:
    match = heard(TUNE, all_played("C4+E4+G4+C3 D4+F4+A4+D3"))
    assert chords(match) == [0, 1]
    assert match.front == 1


def test_one_hand_alone_is_not_asked_for_the_other() -> None:
    match = heard(TUNE, played("C3 D3 C3 G2 C3"), hand="left")
    assert len(match.expected.notes) == len(match.played) == 5
    assert match.extra == ()


def test_the_same_chord_three_times_is_three_chords() -> None:
    """Repeated chords differ by nothing but time."""
    plan = phrase("C4.1+E4.3+G4.5= C4.1+E4.3+G4.5= C4.1+E4.3+G4.5, D4.1+F4.3+A4.5", "C3.5= C3.5= C3.5 D3.4")
    keys = played("C4+E4+G4+C3 C4+E4+G4+C3 C4+E4+G4+C3 D4+F4+A4+D3")
    keys = [Key(k.pitch, k.press, k.release - 0.1) for k in keys if not (k.pitch == "E4" and 0.5 < k.press < 0.7)]
    match = heard(plan, keys)
    assert chords(match) == [0, 1, 2, 3]
    assert pitches(match)[1] == ["G4", "C4", "C3"]


def test_voices_that_meet_on_one_key_need_one_press() -> None:
    plan = phrase("C4.1+E4.3+G4.5 C4.1+F4.4+A4.5", "C3.5+C4.1 F3.2+C4.1")
    match = heard(plan, played("C4+E4+G4+C3 C4+F4+A4+F3"))
    assert match.extra == ()
    keys_played = {(match.expected.notes[n].chord, match.expected.notes[n].midi) for n in match.played}
    assert keys_played == {(note.chord, note.midi) for note in match.expected.notes}


def test_the_current_chord_is_known_with_its_first_key() -> None:
    matcher = Matcher(expect([TUNE]))
    seen = []
    for event in events(all_played()):
        matcher.hear(event)
        if event.kind == "press":
            seen.append((event.seconds, matcher.chord))
    assert all(chord == round(seconds / 0.6) for seconds, chord in seen)


HYMN = phrase(
    "B3.1+G4.5 D4.1+A4.5 G4.2+B4.4, G4.1+C5.4 F#4.1+A4.3 D4.1+G4.2",
    "G2.5+D3.2 F#2.5+D3.2 G2.5+D3.1, C3.4+E3.2 D3.3+D3.1 G2.5+B2.3",
)
"""A tune by steps over notes that stay: a wrong key is often one of the next chord, and so is the right one."""


def up_to(number: int, quarter: float, struck: str) -> tuple[Matcher, float]:
    """A matcher that heard some chords of the hymn and then these keys, and when."""
    text = ["B3+G4+G2+D3", "D4+A4+F#2+D3", "G4+B4+G2+D3", "G4+C5+C3+E3", "F#4+A4+D3", "D4+G4+G2+B2"]
    matcher = Matcher(expect([HYMN]))
    matcher.hear_all(events(played(" ".join([*text[:number], struck]), quarter)))
    return matcher, number * quarter


@pytest.mark.parametrize("wait", [0.9, 1.5, 2.5, 6.0])
@pytest.mark.parametrize(
    ("number", "struck", "missed"),
    [
        (0, "B3+A4+G2+D3", "G4"),
        (0, "B3+G4+F#2+D3", "G2"),
        (1, "D4+B4+F#2+D3", "A4"),
        (1, "C#4+A4+F#2+D3", "D4"),
        (2, "F#4+B4+G2+D3", "G4"),
        (2, "G4+C5+G2+D3", "B4"),
        (3, "G4+C5+D3+E3", "C3"),
    ],
)
def test_a_slip_mended_keeps_its_place(number: int, struck: str, missed: str, wait: float) -> None:
    """Whoever strikes the right key after looking for it is still at this chord, whatever the next one shares."""
    matcher, now = up_to(number, 0.6, struck)
    matcher.hear(Event(now + wait, "press", key_of(missed), 64))
    assert matcher.chord == number
    match = matcher.match()
    assert len(match.extra) == 1
    assert match.strokes[-1].index in match.note_of


@pytest.mark.parametrize("wait", [1.2, 2.5, 6.0])
@pytest.mark.parametrize(
    ("number", "struck", "forgotten"),
    [(0, "B3+G4+G2", "D3"), (1, "D4+A4+F#2", "D3"), (2, "B4+G2+D3", "G4"), (3, "C5+C3+E3", "G4")],
)
def test_a_note_that_did_not_speak_is_struck_after_all(number: int, struck: str, forgotten: str, wait: float) -> None:
    matcher, now = up_to(number, 0.6, struck)
    matcher.hear(Event(now + wait, "press", key_of(forgotten), 64))
    assert matcher.chord == number
    assert matcher.match().extra == ()


@pytest.mark.parametrize("wait", [0.4, 1.0, 3.0])
@pytest.mark.parametrize(
    ("number", "struck"),
    [(1, "D4+B4+F#2+D3"), (2, "G4+A#4+G2+D3"), (3, "G4+C5+D3+E3"), (1, "A4+F#2+D3"), (2, "B4+G2+D3"), (3, "G4+C5+C3")],
)
def test_a_chord_struck_again_after_a_slip_is_the_same_chord(number: int, struck: str, wait: float) -> None:
    """Startled by a wrong key, or by a missing one, players strike the whole chord again, and do not wait first."""
    matcher, now = up_to(number, 0.6, struck)
    chord = matcher.expected.chords[number]
    matcher.hear_all(Event(now + wait - 0.1, "release", key, 64) for key in sorted(matcher.down))
    keys = sorted(matcher.expected.notes[note].midi for note in chord.struck)
    matcher.hear_all(Event(now + wait + 0.004 * place, "press", key, 64) for place, key in enumerate(keys))
    assert matcher.chord == number
    assert len(matcher.match().last_visits[number].played) == len(keys)


def test_a_note_of_the_next_chord_mends_nothing_when_that_chord_comes() -> None:
    """Played on in tempo over a slip: G4 was missed, and the G4 of the next chord is that chord's."""
    take = "B3+G4+G2+D3 D4+A4+F#2+D3 F4+B4+G2+D3 G4+C5+C3+E3 F#4+A4+D3 D4+G4+G2+B2"
    match = heard(HYMN, played(take, 0.6))
    assert chords(match) == [0, 1, 2, 3, 4, 5]
    assert pitches(match)[2] == ["B4", "D3", "G2"]
    assert pitches(match)[3] == ["C5", "G4", "E3", "C3"]


def test_later_keys_correct_what_earlier_ones_seemed_to_be() -> None:
    """C4 and G4 could be the first chord or the last; what follows tells."""
    matcher = Matcher(expect([TUNE]))
    for event in events(all_played("E4+G4+C5+C3 D4+G4+B4+G2 C4+G4+C5+C3")):
        matcher.hear(event)
    match = matcher.match()
    assert chords(match) == [2, 3, 4]
    assert match.extra == ()


def test_a_take_is_found_anywhere_in_a_piece() -> None:
    other = phrase("A4.5+C4.1 G4.4+B3.1 F4.3+A3.1", "F3.2 G3.1 D3.5", number=2, onset=5.0)
    match = match_take(expect([TUNE, other]), events(played("A4+C4+F3 G4+B3+G3 F4+A3+D3")))
    assert chords(match) == [5, 6, 7]
    assert match.extra == ()


def test_phrases_played_in_another_order_are_found() -> None:
    other = phrase("A4.5+C4.1 G4.4+B3.1 F4.3+A3.1", "F3.2 G3.1 D3.5", number=2, onset=5.0)
    keys = played("A4+C4+F3 G4+B3+G3 F4+A3+D3") + [Key(k.pitch, k.press + 3.0, k.release + 3.0) for k in all_played()]
    match = match_take(expect([TUNE, other]), events(keys))
    assert chords(match) == [5, 6, 7, 0, 1, 2, 3, 4]


def test_a_trill_does_not_lead_away() -> None:
    """The upper neighbour in a trill is a note of other chords too; the player has not gone there (common practice)."""
    plan = phrase("C5.3 B4.2 C5.3 D5.4 E5.5", "C3.5+E3.3 G2.5+F3.2 A2.4+E3.2 F2.5+A3.1 C3.5+G3.1")
    trill = [Key("B4" if i % 2 == 0 else "C5", 0.6 + 0.08 * i, 0.66 + 0.08 * i) for i in range(7)]
    keys = played("C5+C3+E3 G2+F3 C5+A2+E3 D5+F2+A3 E5+C3+G3") + trill
    match = heard(plan, keys)
    assert chords(match) == [0, 1, 2, 3, 4]
    assert [len(some) for some in pitches(match)] == [3, 3, 3, 3, 3]


def test_a_raised_note_may_be_played_where_it_is_written() -> None:
    from dataclasses import replace

    plan = phrase("E4.2+G4.5 F4.2+A4.5", "C3.5 F3.2")
    first = plan.chords[0]
    raised = tuple(replace(n, written_midi=n.midi - 12) if n.pitch == "E4" else n for n in first.notes)
    plan = replace(plan, chords=(replace(first, notes=raised), plan.chords[1]))
    for pitch in ("E4", "E3"):
        match = heard(plan, played(f"{pitch}+G4+C3 F4+A4+F3"))
        assert len(match.played) == 6
        assert match.extra == ()


def test_an_omitted_note_is_not_missed_and_not_in_the_way() -> None:
    from dataclasses import replace

    plan = phrase("E4.2+G4.5 F4.2+A4.5", "C3.5 F3.2")
    first = plan.chords[0]
    omitted = tuple(replace(n, hand=None, finger=None) if n.pitch == "E4" else n for n in first.notes)
    plan = replace(plan, chords=(replace(first, notes=omitted), plan.chords[1]))
    assert heard(plan, played("G4+C3 F4+A4+F3")).extra == ()
    assert heard(plan, played("E4+G4+C3 F4+A4+F3")).extra == ()


def test_a_hand_without_notes_is_heard_as_nothing() -> None:
    alone = phrase("C4.1 D4.2 E4.3")
    match = match_take(expect([alone], "left"), events(played("C4 D4 E4")))
    assert match.front is None
    assert match.played == {}
    assert match.extra == (0, 1, 2)
