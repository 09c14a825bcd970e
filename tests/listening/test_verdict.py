"""One word and a few remarks: what they rest on, and that mending a fault never lowers the word."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from takes import Key, events, phrase, played

from coach.fingering.plan import Side
from coach.listening.events import SUSTAIN, Event, Metronome
from coach.listening.expected import Hand, expect
from coach.listening.faults import WEIGHTS, Fault, Kind
from coach.listening.findings import find
from coach.listening.findings import pedal as pedal_in
from coach.listening.matching import match_take
from coach.listening.verdict import Verdict, judge, remarks, word
from coach.listening.word import Word
from coach.score.page import midi_of
from coach.score.spelling import parsed

ORDER: tuple[Word, ...] = ("weak", "shaky", "solid")

PLAN = phrase(
    "C4.1+E4.2+G4.5 D4.1+F4.2+A4.5, E4.1+G4.2+C5.5 E4~+F4.2+B4.4, D4.1+G4.3+B4.5 C4.1+A4.3+C5.5",
    "C3.5 D3.4 C3.5, G2.5= G2.5 C3.1",
)

TEXT = "C4+E4+G4+C3 D4+F4+A4+D3 E4*2+G4+C5+C3 F4+B4+G2 D4+G4+B4+G2 C4+A4+C5+C3"

STEP = 0.6
"""Seconds a chord: 100 quarters a minute."""

UP_AFTER = {("right", 1), ("right", 3), ("left", 2), ("left", 3)}
"""Hand and chord after which keys come up early: the lifts, and the key that is struck again."""


def take(text: str = TEXT) -> list[Key]:
    """The plan as planned."""
    keys = []
    for key in played(text, STEP):
        hand = "left" if key.pitch[-1] in "23" else "right"
        end = round((key.release - 0.02) / STEP)
        early = 0.14 if (hand, end - 1) in UP_AFTER else -0.02
        keys.append(Key(key.pitch, key.press, end * STEP - early))
    return keys


def verdict(keys: Sequence[Key], hand: Hand = "both", *, timed: bool = True) -> Verdict:
    return judge(match_take(expect([PLAN], hand), events(keys)), timed=timed)


def without(pitch: str, chord: int) -> list[Key]:
    return [key for key in take() if not (key.pitch == pitch and round(key.press / 0.6) == chord)]


def test_a_take_as_planned_is_solid_and_needs_no_remark() -> None:
    found = verdict(take())
    assert found.word == "solid"
    assert found.faults == ()
    assert found.remarks == ()


def test_a_missing_note_is_named_with_chord_voice_and_finger() -> None:
    found = verdict(without("G4", 2))
    assert found.word == "shaky"
    assert found.remarks == (
        "bar 3, beat 1: the alto (G4) is missing; take it with the right second finger as planned",
    )


def test_a_wrong_key_is_named_with_the_one_it_stood_for() -> None:
    keys = [Key("F#4", k.press, k.release) if k.pitch == "F4" and k.press == 0.6 else k for k in take()]
    found = verdict(keys)
    assert found.remarks == ("bar 2, beat 1: F#4 sounded for F4 in the alto; play F4 with the right second finger",)
    assert [fault.kind for fault in found.faults] == ["wrong"]


def test_a_wrong_key_is_spelled_as_the_chord_or_the_key_does() -> None:
    """A major has a G sharp, and its usual D sharp is no E flat (common practice, no source)."""
    plan = phrase("C#5.3+E5.5 B4.2+G#5.5 C#5.3+A5.5", "A3.1 E3.4 A2.5")
    keys = played("C#5+E5+A3 B4+G#5+E3 C#5+A5+A2", STEP)
    for pitch, wrong, called in (("A3", "Ab3", "G#3"), ("E5", "Eb5", "D#5"), ("C#5", "C5", "C5")):
        struck = [Key(wrong, k.press, k.release) if k.pitch == pitch and not k.press else k for k in keys]
        found = judge(match_take(expect([plan]), events(struck)))
        assert f"{called} sounded for {pitch}" in found.remarks[0]


@pytest.mark.parametrize("step", [0.08, -0.08, 0.13])
def test_chords_that_are_rolled_are_to_be_struck_as_one(step: float) -> None:
    """Upwards and downwards, evenly (common practice, no source): no finger is late in them."""
    at: dict[float, list[Key]] = {}
    for key in take():
        at.setdefault(key.press, []).append(key)
    rolled = [
        Key(key.pitch, key.press + 0.5 + abs(step) * place, key.release + 0.5)
        for chord in at.values()
        for place, key in enumerate(sorted(chord, key=lambda key: midi_of(*parsed(key.pitch)), reverse=step < 0))
    ]
    said = [fault.text for fault in verdict(rolled, timed=False).faults if fault.kind in ("apart", "late")]
    assert "bar 2, beat 1: the chord was rolled; strike its keys as one" in said
    assert all(text.endswith("the chord was rolled; strike its keys as one") for text in said)


def test_two_hands_apart_are_no_roll() -> None:
    keys = [Key(k.pitch, k.press + 0.15 * (k.pitch[-1] in "45" and k.press == 0.6), k.release) for k in take()]
    found = verdict(keys, timed=False)
    assert "rolled" not in " ".join(found.remarks)
    assert "apart" in {fault.kind for fault in found.faults}


def test_ornaments_are_to_be_left_out() -> None:
    """A mordent on the soprano: the note, its neighbour, and the note again within a sixth of a second each."""
    mordent = [Key("B4", 0.69, 0.76), Key("A4", 0.77, 1.18)]
    keys = [Key(k.pitch, k.press, 0.68) if (k.pitch, k.press) == ("A4", 0.6) else k for k in take()]
    found = verdict([*keys, *mordent], timed=False)
    said = {fault.text for fault in found.faults if fault.kind == "extra"}
    assert said == {"bar 2, beat 1: the soprano has A4 without an ornament; leave the ornaments out"}


def test_several_grace_notes_are_ornaments_and_one_is_a_slip() -> None:
    graces = [Key("B4", 0.53, 0.59), Key("C#5", 1.73, 1.79), Key("D5", 2.93, 2.99)]
    several = verdict([*take(), *graces], timed=False)
    assert [r for r in several.remarks if "leave the ornaments out" in r]
    single = verdict([*take(), graces[0]], timed=False)
    assert not [r for r in single.remarks if "ornament" in r]


def test_a_late_note_is_named_with_its_remedy() -> None:
    keys = [Key(k.pitch, k.press + 0.25, k.release) if k.pitch == "E4" and k.press == 0.0 else k for k in take()]
    assert verdict(keys).remarks == (
        "bar 1, beat 1: the alto came late; take it with the right second finger as planned",
    )


def test_a_lift_left_out_is_named_and_weighs_little() -> None:
    keys = [Key(k.pitch, k.press, 1.22) if k.press == 0.6 and k.pitch[-1] == "4" else k for k in take()]
    found = verdict(keys)
    assert found.remarks == (
        "bar 2, beat 1: the right hand stayed on the keys; lift it before bar 3, beat 1 as planned",
    )
    assert found.word == "solid"


def test_a_left_out_lift_in_five_changes_of_chord_is_solid_and_one_in_four_is_not() -> None:
    """Common practice, no source. Touch alone makes no phrase weak."""
    lift = Fault("lift", "right", 1, WEIGHTS["lift"], "bar 2, beat 1: the right hand stayed on the keys", "right")
    assert word([lift], 40, {"right": 5}) == "solid"
    assert word([lift], 40, {"right": 4}) == "shaky"
    assert word([lift] * 40, 40, {"right": 4}) == "shaky"


@given(st.integers(0, 6), st.integers(1, 12), st.integers(0, 12))
def test_what_one_hand_left_out_weighs_the_same_whatever_the_other_hand_has_to_do(
    left_out: int, changes: int, others: int
) -> None:
    """Common practice, no source: the left hand's line does not become solid because the right hand's is."""
    lift = Fault("lift", "left", 1, WEIGHTS["lift"], "bar 2, beat 1: the left hand stayed on the keys", "left")
    alone = word([lift] * left_out, 40, {"left": changes})
    assert word([lift] * left_out, 40, {"left": changes, "right": others}) == alone


def test_what_both_hands_did_apart_is_held_to_the_changes_of_both() -> None:
    apart = Fault("apart", "the left hand", 1, WEIGHTS["apart"], "bar 2, beat 1: the right hand came before the left")
    assert word([apart] * 2, 40, {"right": 4, "left": 4}) == "solid"
    assert word([apart] * 3, 40, {"right": 5, "left": 5}) == "shaky"


def test_the_same_two_lifts_left_out_are_shaky_in_one_hand_and_in_both() -> None:
    """The left hand of a phrase of four chords, by itself and with the right hand as planned."""
    plan = phrase("C4.1+E4.3 D4.1+F4.4 E4.1+G4.5 C4.1+E4.3", "C3.5, D3.4, C3.5 C3.5")
    keys = played("C4+E4+C3 D4+F4+D3 E4+G4+C3 C4+E4+C3")
    both = judge(match_take(expect([plan]), events(keys)))
    left = judge(match_take(expect([plan], "left"), events([key for key in keys if key.pitch[-1] == "3"])))
    assert [fault.kind for fault in both.faults] == [fault.kind for fault in left.faults] == ["lift", "lift"]
    assert both.word == left.word == "shaky"


@pytest.mark.parametrize(
    ("left_out", "said"), [({("F4", 1), ("C3", 2)}, "solid"), ({("F4", 1), ("C3", 2), ("F4", 3)}, "shaky")]
)
def test_lifts_left_out_keep_right_notes_from_being_solid(left_out: set[tuple[str, int]], said: str) -> None:
    """The hands change their chord twelve times: two left-out lifts are solid, three are not."""
    keys = [Key(k.pitch, k.press, k.release + 0.16 * ((k.pitch, round(k.press / STEP)) in left_out)) for k in take()]
    found = verdict(keys)
    assert [fault.kind for fault in found.faults] == ["lift"] * len(left_out)
    assert found.word == said


def test_a_hold_let_go_is_named() -> None:
    keys = [Key(k.pitch, k.press, 1.7) if k.pitch == "E4" and k.press == 1.2 else k for k in take()]
    assert verdict(keys).remarks == (
        "bar 3, beat 1: voice 5 (E4) was let go too soon; keep the right thumb down through bar 4, beat 1",
    )


def test_going_back_is_named_with_the_change_to_practise() -> None:
    first = [key for key in take() if key.press < 1.7]
    again = [Key(k.pitch, k.press + 2.4, k.release + 2.4) for k in take() if k.press >= 0.6]
    found = verdict(first + again)
    assert [fault.kind for fault in found.faults] == ["back"]
    assert "after bar 3, beat 1 you went back to bar 2, beat 1" in found.remarks[0]


def test_a_chord_struck_again_is_a_matter_of_that_chord() -> None:
    first = [key for key in take("C4+E4+G4+C3 D4+F#4+A4+D3") if key.press < 1.2]
    again = [Key(k.pitch, k.press + 1.8, k.release + 1.8) for k in take() if k.press >= 0.6]
    (fault,) = verdict(first + again).faults
    assert (fault.kind, fault.chord) == ("again", 1)
    assert fault.text == "bar 2, beat 1 was struck again; find its keys before you strike, then go on"


def test_a_key_that_bounces_is_one_stroke() -> None:
    """Contacts that bounce make one stroke two, a few hundredths of a second apart (common practice, no source)."""
    keys = [Key(k.pitch, k.press, 0.64) if (k.pitch, k.press) == ("F4", 0.6) else k for k in take()]
    keys.append(Key("F4", 0.66, 1.1))
    found = verdict(keys)
    assert found.faults == ()
    assert found.findings.extra == ()


@pytest.mark.parametrize("wrong", [0.57, 0.6, 0.63], ids=["before its chord", "with it", "after it"])
@pytest.mark.parametrize(
    ("hand", "pitch", "slip"), [("both", "F4", "F#4"), ("right", "A4", "G#4"), ("left", "D3", "D4")]
)
def test_a_slip_that_is_mended_at_once_is_told_once(hand: Hand, pitch: str, slip: str, wrong: float) -> None:
    """The wrong key, then the right one: it is late, apart from the others and not joined for that one reason."""
    of_left = {"C3", "D3", "G2"}
    keys = [k for k in take() if hand == "both" or (k.pitch in of_left) == (hand == "left")]
    keys = [Key(k.pitch, 0.9, k.release) if (k.pitch, k.press) == (pitch, 0.6) else k for k in keys]
    found = verdict([*keys, Key(slip, wrong, 0.85)], hand, timed=False)
    assert [fault.kind for fault in found.faults] == ["extra"]
    assert found.remarks[0].startswith(f"bar 2, beat 1: {slip} sounded before {pitch} in the ")


def test_who_stops_to_mend_the_one_key_of_a_chord_is_not_told_that_it_was_waited_for() -> None:
    """In tempo, the left hand alone: D4, a second's silence, then D3."""
    keys = [k for k in take() if k.pitch in ("C3", "D3", "G2")]
    late = [Key(k.pitch, k.press + 1.0 * (k.press > 0.5), k.release + 1.0 * (k.release > 1.0)) for k in keys]
    assert [fault.kind for fault in verdict(late, "left").faults] == ["unplanned lift", "waited"]
    slipped = verdict([*late, Key("D4", 0.6, 0.9)], "left")
    assert [fault.kind for fault in slipped.faults] == ["extra"]


def test_a_key_brushed_beside_a_late_note_is_another_fault() -> None:
    """Far from every note that came after it: what is late is late for another reason."""
    keys = [Key(k.pitch, 0.9, k.release) if (k.pitch, k.press) == ("F4", 0.6) else k for k in take()]
    found = verdict([*keys, Key("C6", 0.62, 0.7)])
    assert sorted(fault.kind for fault in found.faults) == ["extra", "late"]


def test_a_key_struck_twice_is_called_so() -> None:
    keys = [Key(k.pitch, k.press, 0.8) if (k.pitch, k.press) == ("F4", 0.6) else k for k in take()]
    keys.append(Key("F4", 0.95, 1.1))
    found = verdict(keys)
    assert "bar 2, beat 1: the alto (F4) was struck twice; one stroke with the right second finger will do" in [
        fault.text for fault in found.faults if fault.kind == "extra"
    ]


def test_starting_over_after_the_end_is_no_fault() -> None:
    again = [Key(k.pitch, k.press + 6.0, k.release + 6.0) for k in take()]
    assert verdict(take() + again).faults == ()


def test_stopping_half_way_is_weak_and_says_where() -> None:
    found = verdict([key for key in take() if key.press < 1.7])
    assert found.word == "weak"
    assert "the take stops before bar 4, beat 1" in found.remarks[0]


def test_waiting_counts_only_against_a_clock() -> None:
    """The player holds the fourth chord, where both hands lift, for two seconds more."""
    early = [key for key in take() if key.press < 1.7]
    late = [Key(k.pitch, k.press + 2.0 * (k.press > 2.3), k.release + 2.0) for k in take() if k.press > 1.7]
    keys = [Key(k.pitch, k.press, k.release + 2.0 * (k.pitch == "E4" and k.press > 1.1)) for k in early] + late
    assert [fault.kind for fault in verdict(keys).faults] == ["waited"]
    assert verdict(keys, timed=False).faults == ()


def test_one_hand_is_judged_by_itself() -> None:
    right = [key for key in take() if key.pitch[-1] in "45"]
    assert verdict(right, "right").word == "solid"
    assert verdict(right, "both").word == "weak"


def test_the_metronome_is_kept_or_not() -> None:
    match = match_take(expect([PLAN]), events(take()))
    assert judge(match, Metronome(100, 0.0)).word == "solid"
    off = judge(match, Metronome(80, 0.0))
    assert [fault.kind for fault in off.faults] == ["clock"]
    beside = judge(match, Metronome(100, 0.24))
    assert "the chords lay ahead of the beat of the metronome" in beside.remarks[0]


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (140, "steady, but at ♩ = 70 where 140 was asked; take the tempo from the count-in, or build it up"),
        (35, "steady, but at ♩ = 70 where 35 was asked; take the tempo from the count-in, and hold it back"),
        (76, "steady, but at ♩ = 70 where 76 was asked"),
    ],
)
def test_a_steady_take_at_another_tempo_is_told_its_tempo(asked: float, said: str) -> None:
    """To listen to the clicks is no remedy for who cannot go as fast, or did not hear them."""
    plan = phrase(" ".join(["C4.1+G4.5 D4.1+A4.5"] * 8), " ".join(["C3.5 D3.4"] * 8))
    match = match_take(expect([plan]), events(played(" ".join(["C4+G4+C3 D4+A4+D3"] * 8), 60 / 70)))
    found = judge(match, Metronome(asked, 0.0))
    assert [fault.kind for fault in found.faults] == ["clock"]
    assert found.remarks[0].startswith(said)
    assert found.word == "shaky"


def test_an_uneven_take_at_another_tempo_is_not_called_steady() -> None:
    plan = phrase(" ".join(["C4.1+G4.5 D4.1+A4.5"] * 8), " ".join(["C3.5 D3.4"] * 8))
    limping = [
        Key(k.pitch, k.press + 0.3 * (round(k.press / 0.85) % 2), k.release + 0.3)
        for k in played(" ".join(["C4+G4+C3 D4+A4+D3"] * 8), 0.85)
    ]
    said = " ".join(judge(match_take(expect([plan]), events(limping)), Metronome(140, 0.0)).remarks)
    assert "uneven" in said
    assert "where 140 was asked" in said
    assert "steady" not in said


@pytest.mark.parametrize(("bpm", "start"), [(100, 1.8), (200, 0.0), (50, 0.0)])
def test_off_the_metronome_no_phrase_is_solid_however_long(bpm: float, start: float) -> None:
    """Thirty chords a beat late, at half the tempo, at twice the tempo."""
    long = phrase(" ".join(["C4.1+G4.5 D4.1+A4.5"] * 15), " ".join(["C3.5 D3.4"] * 15))
    match = match_take(expect([long]), events(played(" ".join(["C4+G4+C3 D4+A4+D3"] * 15), STEP)))
    assert judge(match, Metronome(100, 0.0), chords=range(30)).word == "solid"
    off = judge(match, Metronome(bpm, start), chords=range(30))
    assert "clock" in [fault.kind for fault in off.faults]
    assert off.word == "shaky"


@pytest.mark.parametrize(
    ("pedal", "said"),
    [
        ([], "the pedal was not used"),
        ([(-1.0, 127)], "the pedal stayed down"),
        ([(1.0, 127), (1.3, 0), (2.3, 127), (2.5, 0)], ""),
    ],
)
def test_the_pedal_is_asked_for_where_it_belongs(pedal: list[tuple[float, int]], said: str) -> None:
    feet = [Event(seconds, "pedal", SUSTAIN, value) for seconds, value in pedal]
    match = match_take(expect([PLAN]), sorted([*feet, *events(take())], key=lambda event: event.seconds))
    found = judge(match, pedal=True)
    assert found.word == ("shaky" if said else "solid")
    assert (said in found.remarks[0]) if said else found.remarks == ()
    assert judge(match).word == "solid"


@given(st.lists(st.tuples(st.integers(-10, 50), st.integers(0, 127)), max_size=8))
def test_how_long_the_pedal_was_down_is_counted_within_the_playing(pedal: list[tuple[int, int]]) -> None:
    """In tenths of a second, each looked at by itself, from the first chord to where the last one ends; down is 64 and
    above (MIDI 1.0, controller 64)."""
    feet = sorted(dict(pedal).items())
    match = match_take(expect([PLAN]), events(take(), [(tenth / 10, value) for tenth, value in feet]))
    tenths = range(round(match.end * 10))
    down = [tenth for tenth in tenths if ([0, *(value for at, value in feet if at <= tenth)][-1]) >= 64]
    found = pedal_in(match, range(len(match.expected.chords)))
    assert found.share == pytest.approx(len(down) / 10 / match.end, abs=0.1 / match.end)
    before = [0, *(value for _, value in feet)]
    went_down = [at / 10 for (at, value), last in zip(feet, before, strict=False) if value >= 64 > last]
    assert found.presses == sum(0 <= seconds <= match.end for seconds in went_down)


def test_at_most_three_remarks_the_heaviest_first() -> None:
    keys = [Key(k.pitch, k.press, k.release) for k in take() if k.pitch not in ("G4", "A4", "F4", "B4", "G2")]
    found = verdict(keys)
    assert len(found.remarks) == 3
    for remark, what in zip(found.remarks, ("the alto .*3 more", "the soprano .*2 more", "left out"), strict=True):
        assert re.search(what, remark)
    assert found.word == "weak"


def test_the_chord_of_the_first_remark_can_be_turned_to() -> None:
    assert verdict(take()).remarked is None
    found = verdict([key for key in without("G4", 2) if key.pitch != "G2"])
    assert found.remarks[0].startswith("bar 4, beat 1: the bass")
    assert found.remarked == 3


@pytest.mark.parametrize("bars", [(21, 21), (20, 21)], ids=["in one bar", "over a bar line"])
def test_where_all_is_in_one_bar_the_beat_is_enough(bars: tuple[int, int]) -> None:
    """As a change of chords that is drilled on its own."""
    plan = phrase("C4.1+E4.3 D4.1+F4.4", "C3.5 D3.4")
    beats = (2.0, 3.5) if bars[0] == bars[1] else (4.0, 1.0)
    placed = zip(plan.chords, bars, beats, strict=True)
    change = replace(plan, chords=tuple(replace(chord, bar=bar, beat=beat) for chord, bar, beat in placed))
    keys = [key for key in played("C4+E4+C3 D4+F4+D3") if key.pitch != "D4"]
    where = "beat 3&" if bars[0] == bars[1] else "bar 21, beat 1"
    (remark,) = judge(match_take(expect([change]), events(keys))).remarks
    assert remark == f"{where}: the alto (D4) is missing; take it with the right thumb as planned"


def test_remarks_speak_of_chords_and_voices_and_never_of_numbers_of_keys() -> None:
    keys = [Key("F#4", k.press, k.release) if k.pitch == "F4" else k for k in take() if k.pitch != "G2"]
    said = verdict(keys).remarks
    assert len(said) == 2
    for remark, where in zip(said, ("bar 2, beat 1: .* the alto", "bar 4, beat 1: the bass"), strict=True):
        assert re.match(where, remark)
        assert not re.search(r"\b(6\d|7\d)\b", remark)


KINDS: list[Kind] = list(WEIGHTS)
FAULTS = st.lists(
    st.builds(
        lambda kind, who, chord, times, hand: Fault(
            kind, who, chord, WEIGHTS[kind] * times, f"bar {chord}, beat 1: {kind} {who}", hand
        ),
        st.sampled_from(KINDS),
        st.sampled_from(["", "tenor", "right"]),
        st.integers(0, 20),
        st.floats(0.25, 4.0),
        st.sampled_from([None, "right", "left"]),
    ),
    max_size=25,
)


CHANGES = st.fixed_dictionaries({"right": st.integers(0, 20), "left": st.integers(0, 20)})


@given(FAULTS, st.integers(1, 80), CHANGES, st.data())
def test_mending_a_fault_never_lowers_the_word(
    faults: list[Fault], notes: int, changes: dict[Side, int], data: st.DataObject
) -> None:
    """The word is monotone in the set of faults, whatever they are."""
    kept = [fault for fault in faults if data.draw(st.booleans())]
    assert ORDER.index(word(kept, notes, changes)) >= ORDER.index(word(faults, notes, changes))
    assert word([], notes, changes) == "solid"


@given(FAULTS)
def test_the_remarks_are_those_of_the_heaviest_faults(faults: list[Fault]) -> None:
    """Faults of one kind in one voice weigh together, and the worst of them is said."""
    alike: dict[tuple[Kind, str], list[Fault]] = {}
    for fault in faults:
        alike.setdefault((fault.kind, fault.who), []).append(fault)
    by_text = {fault.text: (fault.kind, fault.who) for fault in faults}
    weight = {group: sum(fault.weight for fault in some) for group, some in alike.items()}
    said = [by_text[remark.split(" (and so in ")[0]] for remark in remarks(faults)]
    assert [weight[group] for group in said] == sorted(weight.values(), reverse=True)[:3]
    for group, remark in zip(said, remarks(faults), strict=True):
        heaviest = max(fault.weight for fault in alike[group])
        assert any(remark.startswith(fault.text) for fault in alike[group] if fault.weight == heaviest)


@pytest.mark.parametrize("seed", range(8))
def test_mending_a_take_never_lowers_the_word(seed: int) -> None:
    """On takes: faults are mended one by one, the heard word rises or stays."""
    from random import Random

    random = Random(seed)
    right = take()
    wrong = list(right)
    places = random.sample(range(len(right)), 6)
    for place in places:
        key = right[place]
        kind = random.choice(["later", "gone", "neighbour"])
        if kind == "gone":
            wrong[place] = Key("C8", 100.0 + place, 100.01 + place)
        elif kind == "later":
            wrong[place] = Key(key.pitch, key.press + 0.2, key.release)
        else:
            wrong[place] = Key("C#" + key.pitch[-1], key.press, key.release)
    before = 0
    for place in [*places, None]:
        found = verdict([key for key in wrong if key.pitch != "C8"]).word
        assert ORDER.index(found) >= before
        before = ORDER.index(found)
        if place is not None:
            wrong[place] = right[place]
    assert before == ORDER.index("solid")


def test_extra_keys_are_told_from_wrong_ones() -> None:
    keys = [*take(), Key("Bb4", 0.02, 0.1)]
    found = verdict(keys)
    assert [fault.kind for fault in found.faults] == ["extra"]
    assert "Bb4 does not belong there" in found.remarks[0]


def test_a_held_note_struck_again_is_called_so() -> None:
    keys = [Key(k.pitch, k.press, 1.75) if k.pitch == "E4" and k.press == 1.2 else k for k in take()]
    keys.append(Key("E4", 1.8, 2.26))
    assert any("was struck again; hold it" in fault.text for fault in verdict(keys).faults)


def test_findings_say_what_was_not_reached() -> None:
    found = find(match_take(expect([PLAN]), events([key for key in take() if key.press < 1.7])))
    assert found.not_reached == (3, 4, 5)
    assert found.absent == ()


@pytest.mark.parametrize("stopped", [0.0, 1.5], ids=["straight on", "after a stop"])
@pytest.mark.parametrize(
    ("chords", "said"), [(range(2, 5), "bar 3, beat 1 to bar 5, beat 1"), (range(2, 3), "bar 3, beat 1")]
)
def test_chords_left_out_are_one_remark(chords: range, said: str, stopped: float) -> None:
    """Who goes from the second chord straight on to a later one has left out what lies between, in all voices."""
    long = phrase(
        "C4.1+E4.2+G4.5 D4.1+F4.2+A4.5 E4.1+G4.2+C5.5 F4.1+A4.2+C5.5 E4.1+G4.2+B4.5 D4.1+G4.2+B4.5 C4.1+A4.5 C4.1+G4.5",
        "C3.5 D3.4 C3.5 F3.2 E3.3 G2.5 A2.4 C3.5",
    )
    text = "C4+E4+G4+C3 D4+F4+A4+D3 E4+G4+C5+C3 F4+A4+C5+F3 E4+G4+B4+E3 D4+G4+B4+G2 C4+A4+A2 C4+G4+C3"
    words = text.split()
    keys = played(" ".join(word for place, word in enumerate(words) if place not in chords))
    keys = [Key(k.pitch, k.press + stopped * (k.press > 1.1), k.release + stopped * (k.press > 1.1)) for k in keys]
    found = judge(match_take(expect([long]), events(keys)), timed=False)
    assert found.remarks[0] == f"{said} was left out; play slowly from the chord before it to the chord after it"
    of_notes = [fault for fault in found.faults if not fault.touch]
    assert [(fault.kind, fault.chord) for fault in of_notes] == [("left out", chord) for chord in chords]
    assert sum(fault.weight for fault in of_notes) == 4 * len(chords)
    assert len([remark for remark in found.remarks if "left out" in remark or "missing" in remark]) == 1


def test_two_places_left_out_are_said_together() -> None:
    """One chord of four voices alone is left out as well: it is no matter of four voices."""
    keys = [key for key in take() if round(key.press / STEP) not in (1, 4)]
    found = [fault.text for fault in verdict(keys).faults if fault.kind == "left out"]
    assert found[0] == "bar 2, beat 1 was left out; play slowly from the chord before it to the chord after it"
    assert found[1] == "bar 5, beat 1 was left out; play slowly from the chord before it to the chord after it"
