"""Reasons: given where a pianist would ask, true of the plan they stand in, and read off the terms that decided."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from passages import chorale, in_chords, line, on_staves, passage, planned
from random_phrases import phrases

from coach.fingering.intervals import FINGER_WORDS, interval_name, note_name
from coach.fingering.plan import SIDES, PhrasePlan, PlannedChord, PlannedNote, Side
from coach.fingering.planner import Options, plan_phrase
from coach.fingering.terms import WORDS
from coach.fingering.weights import WEIGHTS, Weights
from coach.score.library import open_piece
from coach.score.phrases import find_phrases
from coach.score.piece import Phrase, Piece, chords_of

PATIENT = settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def outer(chord: PlannedChord, side: Side) -> PlannedNote:
    """The note that a hand's outer voice has."""
    played = chord.played_by(side)
    return max(played, key=lambda note: note.midi if side == "right" else -note.midi)


def leavings(plan: PhrasePlan) -> Iterator[tuple[Side, PlannedChord, PlannedChord, str, str]]:
    """Every change of chord of each hand: the chords, how it leaves the first, and why."""
    for before, after in pairwise(plan.chords):
        for side in SIDES:
            part = before.part(side)
            if part is not None:
                yield side, before, after, part.after, part.why


# Where there is a reason.


@PATIENT
@given(phrases(most_voices=5, most_chords=6), st.sampled_from(["planned", "as-written"]), st.sampled_from([165, 208]))
def test_ways_out_lifts_and_ends_always_say_why(piece: Piece, hands: str, span: float) -> None:
    plan = planned(piece, span, hands)  # type: ignore[arg-type]
    for chord in plan.chords:
        for note in chord.notes:
            if note.hand is None or note.rolled or (note.struck and note.midi != note.written_midi):
                assert note.why
            assert "\n" not in note.why
        for side in SIDES:
            part = chord.part(side)
            if part is not None and part.after in ("lift", "end", "restrike"):
                assert part.why


@PATIENT
@given(phrases(most_voices=5, most_chords=6))
def test_a_distribution_that_stays_needs_no_reason(piece: Piece) -> None:
    plan = planned(piece)
    for before, after in pairwise(plan.chords):
        if before.distribution == after.distribution:
            assert after.why == ""


# What they say is true.


def joins_and_lifts(plan: PhrasePlan) -> set[str]:
    """Look at every reason for a join or a lift; gives the kinds of reasons that were seen, all of them true."""
    seen = set()
    for side, before, after, kind, why in leavings(plan):
        for first, second in re.findall(r"(\d)-(\d) (?:on top |in the bass )?connects", why):
            seen.add("connects")
            assert kind == "join"
            assert (outer(before, side).finger, outer(after, side).finger) == (int(first), int(second))
        for finger, pitch in re.findall(r"the (\w+(?: finger)?) is needed on ([A-G](?: sharp| flat)?)", why):
            seen.add("is needed")
            assert kind == "lift"
            assert outer(before, side).finger == FINGER_WORDS.index(finger)
            there = [note for note in after.played_by(side) if note.finger == FINGER_WORDS.index(finger)]
            assert pitch in {note_name(note.pitch) for note in there}
        for here, there in re.findall(r"would have to move from ([A-G](?: \w+)?) to ([A-G](?: \w+)?)", why):
            seen.add("would have to move")
            assert kind == "lift"
            assert here in {note_name(note.pitch) for note in before.played_by(side)}
            assert there in {note_name(note.pitch) for note in after.played_by(side) if note.struck}
        if "rather than cross" in why or "joining would" in why:
            seen.add("joining would")
            assert kind == "lift"
        for finger, pitch in re.findall(r"^(\w+(?: finger)?) holds ([A-G](?: sharp| flat)?)$", why):
            seen.add("holds")
            held = outer(after, side)
            assert not held.struck or any(not n.struck for n in after.played_by(side) if n.midi == held.midi)
            assert (held.finger, note_name(held.pitch)) == (FINGER_WORDS.index(finger), pitch)
        for pitch in re.findall(r"^([A-G](?: sharp| flat)?) is struck again", why):
            seen.add("is struck again")
            assert kind == "restrike"
            assert note_name(outer(after, side).pitch) == pitch
        for pitches in re.findall(r"lift only the (?:top|bass), (.*?) held", why):
            seen.add("lift only")
            held_names = {note_name(note.pitch) for note in after.played_by(side) if not note.struck}
            assert set(re.split(", | and ", pitches)) == held_names
        if why == "a rest":
            seen.add(why)
            assert max(note.end for note in before.played_by(side)) < after.onset
        if why == "nothing to play next":
            seen.add(why)
            assert not after.played_by(side)
    return seen


@PATIENT
@given(phrases(most_voices=5, most_chords=6), st.sampled_from(["planned", "as-written"]))
def test_what_reasons_say_of_joins_and_lifts_is_true(piece: Piece, hands: str) -> None:
    joins_and_lifts(planned(piece, 208, hands))  # type: ignore[arg-type]


def test_whatever_can_be_said_of_joins_and_lifts_is_said_and_true(own_pieces: list[tuple[Piece, Phrase]]) -> None:
    plans = [plan_phrase(phrase, chords_of(piece, phrase)) for piece, phrase in own_pieces]
    over_a_held_note = on_staves(right=["C5 D5 C5", "G4 F4 E4", "C4:3"], left=["C3 D3"])
    plans += [
        planned(piece, hands="as-written", own_weights=WEIGHTS)
        for piece in (over_a_held_note, on_staves(right=["E5 r D5"]))
    ]
    plans.append(planned(in_chords("left", "A3 C4 E4", "C4 G4", "E4 G4 B4"), hands="as-written", own_weights=WEIGHTS))
    seen = set().union(*(joins_and_lifts(plan) for plan in plans))
    assert seen == {
        "connects", "would have to move", "joining would", "holds", "is struck again", "lift only", "a rest",
        "nothing to play next",
    }  # fmt: skip


def told_by_intervals(plan: PhrasePlan) -> set[str]:
    """Look at every distribution that is told by an interval, all of them true; gives the hands that take the voice."""
    seen = set()
    for chord in plan.chords:
        found = re.match(r"(.+?) (?:only )?an? (.+?) above (?:the )?(.+?): the (\w+) hand takes it", chord.why)
        if found is None:
            continue
        voice, interval, bass, hand = found.groups()
        seen.add(hand)
        assert voice != bass
        uppers = [note for note in chord.notes if voice in (note.voice, note_name(note.pitch)) and note.hand == hand]
        lowers = [note for note in chord.notes if bass in (note.voice, note_name(note.pitch)) and note.hand]
        assert any(interval_name(up.pitch, low.pitch) == interval for up in uppers for low in lowers)
    return seen


@PATIENT
@given(phrases(most_voices=4, most_chords=5))
def test_what_reasons_say_of_distributions_is_true(piece: Piece) -> None:
    told_by_intervals(planned(piece))


def test_distributions_are_told_by_intervals(own_pieces: list[tuple[Piece, Phrase]]) -> None:
    plans = [plan_phrase(phrase, chords_of(piece, phrase)) for piece, phrase in own_pieces]
    plans += [planned(chorale("C5", "G4", "E4", "C3")), planned(chorale("C5", "E4", "G3", "C3"))]
    assert set().union(*(told_by_intervals(plan) for plan in plans)) == {"right", "left"}


# Reasons that a pianist would give.


def test_a_wide_tenor() -> None:
    """ "tenor a tenth above the bass: the right hand takes it" """
    plan = planned(chorale("C5", "G4", "E4", "C3"))
    assert plan.chords[0].why == "tenor a tenth above the bass: the right hand takes it"


def test_a_close_tenor() -> None:
    plan = planned(chorale("C5", "E4", "G3", "C3"))
    assert plan.chords[0].why == "tenor only a fifth above the bass: the left hand takes it"


def test_a_tenor_an_octave_above_the_bass_that_the_right_hand_cannot_take() -> None:
    """The right hand takes it where it can; where it cannot, that is the reason (common practice, no source)."""
    assert planned(chorale("C5", "G4", "C4", "C3")).chords[0].why == (
        "tenor an octave above the bass: the right hand takes it"
    )
    assert planned(chorale("A5", "E5", "C4", "C3")).chords[0].why == (
        "tenor out of the right hand's reach: the left hand takes it"
    )


def test_a_close_tenor_that_meets_the_alto_on_a_key_of_the_right_hand() -> None:
    """A sixth above the bass is close: that is why the left hand has a tenor, never why the right one has it (common
    practice, no source)."""
    plan = planned(chorale("B4 A4:2 G4 B4", "D4 D4:2 D4 D4", "G3 D4 C4 B3 G3", "G3 F#3:2 G3 G3"))
    assert [chord.distribution for chord in plan.chords] == ["2+2", "3+1", "2+2", "2+2", "2+2"]
    assert plan.chords[0].why == "tenor on the key of the bass: the left hand takes it for one chord"
    assert plan.chords[1].why == "tenor on the key of the alto: the right hand takes it"


@pytest.mark.parametrize("name", ["corpus:bach/bwv305", "corpus:bach/bwv283"])
def test_what_is_close_to_the_bass_is_no_reason_for_the_right_hand(name: str) -> None:
    """Common practice, no source."""
    piece = open_piece(name)
    close = re.compile(r"\b(second|third|fourth|fifth|sixth|seventh) above .*: the right hand takes it")
    for phrase in find_phrases(piece):
        for chord in plan_phrase(phrase, chords_of(piece, phrase)).chords:
            assert not close.search(chord.why), f"bar {chord.bar}, beat {chord.beat}: {chord.why}"


def test_a_tenor_on_the_key_of_the_bass() -> None:
    plan = planned(chorale("C5", "C5", "C3", "C3"))
    assert plan.chords[0].why == "tenor on the key of the bass: the left hand takes it"


def test_a_lift_that_only_an_inner_finger_asks_for_says_so() -> None:
    """The outer fingers would connect: it is the thumb that had to move on."""
    dear = Weights({**WEIGHTS, "same_finger": 9.0, "chord_lift": 0.1})
    part = planned(in_chords("left", "A2 C3 F3", "B2 D3 G3"), hands="as-written", own_weights=dear).chords[0].left
    assert part is not None
    assert part.why == "lift: the thumb would have to move from F to G"


def test_a_lift_that_keeps_the_thumb_inside_says_so() -> None:
    dear = Weights({**WEIGHTS, "thumb_unused": 9.0, "same_finger": 40.0, "chord_lift": 0.1, "broken_top": 0.0})
    part = planned(in_chords("left", "D3 A3", "E3 B3"), hands="as-written", own_weights=dear).chords[0].left
    assert part is not None
    assert part.why == "lift: joining would leave the thumb out"


def test_a_black_key_is_told_of_the_note_on_it_alone() -> None:
    """The hand's other fingers would change as well, which says the same again."""
    plan = planned(in_chords("left", "Ab3 C4 D4", "A3 B4"), hands="as-written")
    said = {note.pitch: note.why for note in plan.chords[0].notes if "black" in note.why or "A flat" in note.why}
    assert said == {"Ab3": "keeps the little finger off a black key"}


def test_a_voice_that_divides_between_the_hands_is_told_by_its_notes() -> None:
    divided = passage(line("soprano", "C5"), line("soprano", "G4"), line("bass", "E4"), line("bass", "C3"))
    assert planned(divided).chords[0].why == "E a tenth above C: the right hand takes it"


def test_a_further_voice_has_no_article() -> None:
    six = passage(*(line(voice, text) for voice, text in (("soprano", "E5"), ("voice 5", "G4"), ("voice 6", "C3"))))
    with_tenor = passage(six.notes, line("tenor", "E4"))
    assert planned(with_tenor).chords[0].why == "tenor a tenth above voice 6: the right hand takes it"


def planned_chorale(
    name: str, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> tuple[Piece, list[tuple[PlannedChord, ...]]]:
    """A chorale of the corpus, read once for all runs of the tests, and the planned chords of each phrase."""
    monkeypatch.setenv("COACH_HOME", str(request.config.cache.mkdir("coach-home")))  # type: ignore[union-attr]
    piece = open_piece(f"corpus:bach/{name}")
    return piece, [plan_phrase(phrase, chords_of(piece, phrase)).chords for phrase in find_phrases(piece)]


@pytest.mark.parametrize("name", ["bwv334", "bwv392"])
def test_voices_that_stay_in_their_hands_do(
    name: str, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither into the chord nor out of it does a voice change hands; where one does, it is only said to be less."""
    piece, phrases = planned_chorale(name, request, monkeypatch)
    said = 0
    for chords in phrases:
        for place, chord in enumerate(chords):
            around = [pair for pair in pairwise(chords) if chord in pair]
            moved = [pair for pair in around if any(changes_hand(voice, *pair) for voice in piece.voices)]
            if chord.why == "the voices stay in their hands":
                assert not moved, (chord.bar, chord.beat)
            elif chord.why == "voices change hands less often so":
                assert moved
            said += "hands" in chord.why and place > 0
    assert said


@pytest.mark.parametrize("name", ["bwv28.6", "bwv67.7", "bwv86.6", "bwv433"])
def test_what_reasons_say_of_fingers_is_true(
    name: str, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Keys that keep or change their finger do, the little finger is stronger than none, and no hand comes from before
    the phrase."""
    _, phrases = planned_chorale(name, request, monkeypatch)
    said = 0
    for chords in phrases:
        for place, chord in enumerate(chords):
            around = [chords[there] for there in (place - 1, place + 1) if 0 <= there < len(chords)]
            for note in chord.notes:
                if note.hand is None or not note.why:
                    continue
                near = [(n.midi, n.finger) for other in around for n in other.played_by(note.hand)]
                repeated = {n.midi for other in around for n in other.played_by(note.hand)}
                again = {
                    note_name(n.pitch)
                    for n in chord.played_by(note.hand)
                    if (n.midi, n.finger) in near and n is not note
                }
                if note.why in ("stays on its key", "can stay on its key"):
                    said += 1
                    assert (note.midi, note.finger) in near
                if note.why == "stays on its key":
                    assert note.midi in {n.midi for n in chords[place - 1].played_by(note.hand)}
                    assert place > 0
                elif kept := re.fullmatch(r"so that (.*) keeps its \d", note.why):
                    said += 1
                    assert kept[1] in again
                elif note.why == "fingers change towards the thumb":
                    assert repeated & {n.midi for n in chord.played_by(note.hand)}
                elif note.why.startswith("stronger than"):
                    said += 1
                    assert note.finger in (1, 2, 3)
                elif note.why == "nearest to where the hand was":
                    assert place > 0
    assert said


def test_a_new_finger_for_a_quick_repeat_is_new() -> None:
    """It is another than the one just before on the key; the one before leaves it free."""
    said = set()
    for text in ("C5 G4 G4 G4 G4 C5", "E4 E4 D4 D4 C4 C4", "G4:1 G4 G4 A4 A4:1 B4", "G4 G4 G4 G4:1 G4:1 C4 C4 C4"):
        plan = planned(on_staves(right=[text], length="1/4"), hands="as-written")
        notes = [chord.notes[0] for chord in plan.chords]
        for place, note in enumerate(notes):
            for why, there in (("a new finger", place - 1), ("leaves another finger", place + 1)):
                if note.why == f"{why} for the quick repeat":
                    said.add(why)
                    assert 0 <= there < len(notes)
                    other = notes[there]
                    assert abs(other.onset - note.onset) <= 0.5
                    assert other.midi == note.midi
                    assert other.finger != note.finger
    assert said == {"a new finger", "leaves another finger"}


def changes_hand(voice: str, before: PlannedChord, after: PlannedChord) -> bool:
    was, now = ({note.hand for note in chord.notes if note.voice == voice and note.hand} for chord in (before, after))
    return bool(was and now) and not was & now


def test_a_raised_tenor() -> None:
    tenor = next(note for note in planned(chorale("A4", "F4", "E3", "C2")).chords[0].notes if note.voice == "tenor")
    assert "tenor out of reach of both hands" in tenor.why
    assert "up an octave into the right hand" in tenor.why


def test_an_omitted_and_a_rolled_tenor() -> None:
    chord = planned(chorale("A4", "F4", "E3", "C2"), way_out="omit").chords[0]
    assert any("left out" in note.why for note in chord.notes)
    chord = planned(chorale("A4", "F4", "E3", "C2"), way_out="roll").chords[0]
    assert any("roll it" in note.why for note in chord.notes if note.rolled)


def test_a_top_that_connects() -> None:
    plan = planned(in_chords("right", "C4 E4", "D4 F4"), hands="as-written")
    part = plan.chords[0].right
    assert part is not None
    assert part.after == "join"
    assert re.search(r"\d-\d on top connects", part.why)


def test_the_end_of_a_phrase() -> None:
    part = planned(chorale("C5", "E4", "C4", "C3")).chords[-1].right
    assert part is not None
    assert "end of the phrase" in part.why


# The terms decide.


@pytest.fixture(scope="module")
def own_pieces(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[Piece, Phrase]]:
    """Phrases of three pieces that ship with the coach."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COACH_HOME", str(tmp_path_factory.mktemp("home")))
        pieces = [open_piece(name) for name in ("oars-at-dusk", "the-mooring-rope", "between-two-banks")]
    return [(piece, phrase) for piece in pieces for phrase in find_phrases(piece)]


@pytest.mark.parametrize(
    ("terms", "text"),
    [
        (["thumb_on_black"], "keeps the thumb off"),
        (["little_on_black"], "little finger off a black key"),
        (["same_finger"], "a finger of its own"),
        (["stretch"], "spares a stretch"),
        (["cramp"], "would be cramped"),
        (["off_frame"], "frame the hand"),
        (["fourth_alone", "fifth_alone"], "stronger than"),
        (["weak_neighbours"], "parts the weak fingers"),
        (["redistribution"], "the voices stay in their hands"),
    ],
)
def test_reasons_come_from_the_terms(own_pieces: list[tuple[Piece, Phrase]], terms: list[str], text: str) -> None:
    """What weighs nothing is never given as a reason; what weighs something is."""

    def said(factor: float) -> int:
        weights = Weights({name: weight * factor if name in terms else weight for name, weight in WEIGHTS.items()})
        plans = [
            plan_phrase(phrase, chords_of(piece, phrase), options=Options(own_weights=weights))
            for piece, phrase in own_pieces
        ]
        plans.append(
            planned(in_chords("right", "C4 F4 G4", "C4 E4 F4 A4", "D4 G4 A4"), hands="as-written", own_weights=weights)
        )
        texts = [chord.why for plan in plans for chord in plan.chords]
        texts += [note.why for plan in plans for chord in plan.chords for note in chord.notes]
        return sum(text in one for one in texts)

    assert said(0.0) == 0
    assert any(said(factor) for factor in (1.0, 3.0, 20.0, 100.0))


def test_every_term_can_be_named() -> None:
    assert set(WEIGHTS) == set(WORDS)
    assert all(words and words == words.strip() for words in WORDS.values())
