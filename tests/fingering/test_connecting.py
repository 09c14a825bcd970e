"""Why a hand cannot join two chords: said of what truly keeps it, whatever fingers it takes."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise, permutations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from passages import chords, in_chords, line, passage, planned, whole
from random_phrases import phrases
from ruler import PRACTICAL_SEMITONES, TABLE_HAND_MM, Player

from coach.fingering.choices import FixedLeaving
from coach.fingering.hand import Hands
from coach.fingering.intervals import FINGER_WORDS
from coach.fingering.limits import can_be
from coach.fingering.plan import SIDES, PhrasePlan, PlannedChord, Side
from coach.fingering.planner import plan_phrase
from coach.fingering.search import Options, search_of
from coach.score.library import open_piece
from coach.score.phrases import find_phrases
from coach.score.piece import Chord, Phrase, Piece, chords_of

RULER = Player(TABLE_HAND_MM, TABLE_HAND_MM)

FORBIDDEN = re.compile(
    r"no fingers (that )?connect|out of reach while [A-G][a-z ]* is held|left for .* while|both need the"
    r"|which no finger on|which connects to no finger|which could connect|has to go before|rolled chord is let go"
    r"|ends before the next chord|is struck again|is too far to connect"
)
"""What is said where no fingers of the two chords join them."""

CHORALES = ("bwv267", "bwv269", "bwv33.6", "bwv148.6", "bwv244.40", "bwv328", "bwv340", "bwv392")


def why_lifted(*chords: str, side: Side = "left") -> str:
    """Why a hand lifts between two chords."""
    part = planned(in_chords(side, *chords), hands="as-written").chords[0].part(side)
    assert part is not None
    assert part.after == "lift"
    return part.why


@pytest.mark.parametrize(
    ("now", "then", "why"),
    [
        ("D2", "F3", "no fingers connect D to F"),
        ("C2", "C4", "no fingers connect C to the C 2 octaves up"),
        ("G2 D4", "A2", "the rolled chord is let go"),
        ("A2", "B2 C4", "C above is out of reach while A is held"),
        ("D#4", "E3 E4", "no finger is left for E above while D sharp is held"),
        ("G2", "G3 B3", "G to the G an octave up is too far to connect"),
        ("G3 E4", "G2 D3", "G to the G an octave down is too far to connect"),
        ("E3", "A2 E3", "E is struck again above"),
        ("G2", "F#3 A#3", "the thumb, which could connect G to F sharp, is needed above"),
        ("E3 F#4", "D3 E4", "E needs the little finger, which connects to no finger on D"),
    ],
)
def test_what_keeps_a_hand_from_joining(now: str, then: str, why: str) -> None:
    """By the published spans (Parncutt et al. 1997, Table 1) and common practice: the outer finger stays down until the
    whole next chord is."""
    assert why_lifted(now, then) == f"lift: {why}"


def test_the_right_hand_is_told_of_what_lies_below() -> None:
    """The mirror image of a passage for the left hand has the mirror image of its reason."""
    assert why_lifted("G5", "E4 F5", side="right") == "lift: E below is out of reach while G is held"


def test_a_note_that_ends_early_is_no_matter_of_fingers() -> None:
    """A quaver rest on top, while the thumb's note goes on to the next chord, or over it."""
    top = line("voice 1", "G4:1/2 r:1/2 A4", 1)
    for below, why in (("C4 D4", "lift: G ends before the next chord"), ("C4:2", "C is held over the rest")):
        part = planned(passage(top, line("voice 2", below, 1)), hands="as-written").chords[0].right
        assert part is not None
        assert part.why == why


def test_it_is_the_fingers_at_hand_that_cannot() -> None:
    """Where held notes leave no other fingers, the plan's own are named: never a span that they have."""
    found = 0
    for piece, phrase in phrases_of("bwv267", "bwv269", "bwv281", "bwv330"):
        plan = plan_phrase(phrase, chords_of(piece, phrase))
        for side, before, after, why in lifts(plan):
            for finger in re.findall(r"out of reach while (\d) holds", why):
                found += 1
                assert outer_finger(before, side) == int(finger)
            for finger in re.findall(r"the (\w+(?: finger)?) is needed on", why):
                found += 1
                assert outer_finger(before, side) == FINGER_WORDS.index(finger)
            for following, finger in re.findall(r"(\d) cannot cross (\d) from", why):
                found += 1
                assert (outer_finger(before, side), outer_finger(after, side)) == (int(finger), int(following))
                key, next_key = outer_key(before, side), outer_key(after, side)
                assert not connects(side, key, next_key, (int(finger), int(following)))
            for finger, following in re.findall(r"(\d)-(\d) cannot span", why):
                found += 1
                key, next_key = outer_key(before, side), outer_key(after, side)
                assert not connects(side, key, next_key, (int(finger), int(following)))
    assert found


# True of every passage.


def test_where_no_fingers_connect_a_wish_to_join_is_refused() -> None:
    """The outer voice is the same however the notes are shared, but where its note is let go. A hand that reaches a
    seventh connects no octaves."""
    hands, ruler = Hands.of_span(165), Player(165, 165)
    said = 0
    for piece, phrase in phrases_of(*CHORALES):
        for side, before, after, why in lifts(plan_phrase(phrase, chords_of(piece, phrase), hands)):
            if "no fingers connect" in why:
                assert not any(
                    connects(side, outer_key(before, side), outer_key(after, side), pair, ruler)
                    for pair in permutations(range(1, 6), 2)
                )
                if all(outer_key(chord, side) == outermost_key(chord, side) for chord in (before, after)):
                    said += 1
                    assert not joinable(chords_of(piece, phrase), before, side, Options(), hands), why
    assert said > 8


@pytest.mark.parametrize("name", CHORALES)
def test_as_written_whatever_forbids_a_join_forbids_a_wish(name: str) -> None:
    options = Options(hands="as-written")
    said = 0
    for piece, phrase in phrases_of(name):
        for side, before, _, why in lifts(plan_phrase(phrase, chords_of(piece, phrase), options=options)):
            if FORBIDDEN.search(why):
                said += 1
                assert not joinable(chords_of(piece, phrase), before, side, options), why
    assert said


def test_so_it_is_in_any_phrase() -> None:
    said = 0

    @settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(phrases(most_voices=5, most_chords=5), st.sampled_from([165, 208]))
    def so_it_is(piece: Piece, span: float) -> None:
        nonlocal said
        options, hands = Options(hands="as-written"), Hands.of_span(span)
        for side, before, _, why in lifts(plan_phrase(whole(piece), chords(piece), hands, options)):
            if FORBIDDEN.search(why):
                said += 1
                assert not joinable(chords(piece), before, side, options, hands), why

    so_it_is()
    assert said


def phrases_of(*names: str) -> Iterator[tuple[Piece, Phrase]]:
    for name in names:
        piece = open_piece(f"corpus:bach/{name}")
        for phrase in find_phrases(piece):
            yield piece, phrase


@pytest.fixture(scope="module", autouse=True)
def kept_pieces(request: pytest.FixtureRequest) -> Iterator[None]:
    """Pieces are kept in pytest's cache, so that a second run need not read them again."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COACH_HOME", str(request.config.cache.mkdir("coach-home")))  # type: ignore[union-attr]
        yield


def lifts(plan: PhrasePlan) -> Iterator[tuple[Side, PlannedChord, PlannedChord, str]]:
    for before, after in pairwise(plan.chords):
        for side in SIDES:
            part = before.part(side)
            if part is not None and part.after == "lift":
                yield side, before, after, part.why


def joinable(
    chords: tuple[Chord, ...], before: PlannedChord, side: Side, options: Options, hands: Hands | None = None
) -> bool:
    onset = next(chord.onset for chord in chords if float(chord.onset) == before.onset)
    return can_be(search_of(chords, hands or Hands(), options), [FixedLeaving(onset, side, "join")])


def outer_key(chord: PlannedChord, side: Side) -> int:
    keys = [note.midi for note in chord.played_by(side)]
    return max(keys) if side == "right" else min(keys)


def outermost_key(chord: PlannedChord, side: Side) -> int:
    """Of all notes that sound, played by whom they may be."""
    keys = [note.midi for note in chord.notes]
    return max(keys) if side == "right" else min(keys)


def outer_finger(chord: PlannedChord, side: Side) -> int | None:
    return next(note.finger for note in chord.played_by(side) if note.midi == outer_key(chord, side))


def connects(side: Side, key: int, next_key: int, fingers: tuple[int, int], ruler: Player = RULER) -> bool:
    """Whether the table's spans let one finger go to a key while the other stays on the one before."""
    finger, following = fingers
    sign = (1 if side == "right" else -1) * (1 if following > finger else -1)
    least, _ = PRACTICAL_SEMITONES[min(fingers), max(fingers)]
    apart = (ruler.x_mm(next_key) - ruler.x_mm(key)) * sign
    return (next_key - key) * sign >= least and apart <= ruler.widest_mm(side, finger, following) - 0.3
