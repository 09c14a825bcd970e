"""Left and right hand mirror each other, and a larger hand has it no harder."""

from __future__ import annotations

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from passages import chords, in_chords, mirror_image, on_staves, planned
from random_phrases import phrases

from coach.fingering.choices import FixedFinger
from coach.fingering.hand import Hand, Hands
from coach.fingering.plan import PhrasePlan, Side
from coach.fingering.search import Options, Search
from coach.score.piece import Piece

AS_WRITTEN = Options(hands="as-written")

PATIENT = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])

OTHER: dict[Side, Side] = {"right": "left", "left": "right"}


def handwork(plan: PhrasePlan, mirrored: bool) -> list[object]:
    """What each hand does in each chord, told as if in a mirror or not."""
    work: list[object] = []
    for chord in plan.chords:
        played = sorted(
            (
                note.voice,
                124 - note.midi if mirrored else note.midi,
                note.struck,
                (OTHER[note.hand] if mirrored else note.hand) if note.hand else "nobody",
                note.finger or 0,
                note.rolled,
            )
            for note in chord.notes
        )
        parts = [chord.left, chord.right] if mirrored else [chord.right, chord.left]
        work.append((played, [part and (part.after, part.group) for part in parts]))
    return work


def is_mirrored(piece: Piece, plan: PhrasePlan, image: PhrasePlan, span: float) -> bool:
    """Whether the plan of the image is the plan in a mirror, or fingers it as well: of fingerings that cost the same,
    either may be chosen."""
    if handwork(image, mirrored=True) == handwork(plan, mirrored=False):
        return True
    fixes = tuple(
        FixedFinger(chord.onset, note.voice, 124 - note.written_midi, note.finger)
        for chord, planned_chord in zip(chords(piece), image.chords, strict=True)
        for note in planned_chord.notes
        if note.struck and note.finger
    )
    likewise = planned(piece, span, "as-written", choices=fixes)
    return not likewise.remarks and abs(likewise.effort - plan.effort) < 1e-6


@PATIENT
@given(phrases(staves=True, most_voices=4, most_chords=6), st.sampled_from([190.0, 208.0, 226.0]))
def test_the_mirror_image_of_a_passage_gets_the_mirrored_fingering(piece: Piece, span: float) -> None:
    """About D, on a keyboard that is symmetric about D."""
    plan = planned(piece, span, "as-written")
    image = planned(mirror_image(piece), span, "as-written")
    assert image.effort == plan.effort
    assert is_mirrored(piece, plan, image, span)


@PATIENT
@given(phrases(one_hand=True, most_voices=3, most_chords=8), st.sampled_from([190.0, 208.0, 226.0]))
def test_one_hand_mirrors_the_other(piece: Piece, span: float) -> None:
    plan = planned(piece, span, "as-written")
    image = planned(mirror_image(piece), span, "as-written")
    assert image.effort == plan.effort
    assert is_mirrored(piece, plan, image, span)


def test_a_mirrored_scale_and_mirrored_chords() -> None:
    """D major up in the right hand is D Dorian's mirror: the left hand goes down with the same fingers."""
    scale = on_staves(right=["D4 E4 F#4 G4 A4 B4 C#5 D5"])
    assert handwork(planned(mirror_image(scale), hands="as-written"), True) == handwork(
        planned(scale, hands="as-written"), False
    )
    triads = in_chords("right", "D4 F#4 A4", "D4 G4 B4", "C#4 G4 A4", "D4 F#4 A4")
    assert handwork(planned(mirror_image(triads), hands="as-written"), True) == handwork(
        planned(triads, hands="as-written"), False
    )


@PATIENT
@given(phrases(most_voices=4, most_chords=5), st.floats(160, 230), st.floats(1, 40), st.booleans())
def test_a_larger_hand_never_takes_more_effort(piece: Piece, span: float, more: float, as_written: bool) -> None:
    """Where the smaller hand manages without ways out: whatever it plays, the larger one plays too."""
    options = AS_WRITTEN if as_written else Options()
    phrase = chords(piece)
    small, choices = Search(phrase, Hands(Hand(span), Hand(span)), options).best()
    assume(not any(choice.deal.ways_out for choice in choices))
    large, bigger = Search(phrase, Hands(Hand(span + more), Hand(span + more)), options).best()
    assert not any(choice.deal.ways_out for choice in bigger)
    assert large <= small + 1e-9


@PATIENT
@given(phrases(most_voices=5, most_chords=1), st.floats(160, 230), st.floats(1, 40))
def test_in_a_single_chord_a_larger_hand_never_takes_more_effort(piece: Piece, span: float, more: float) -> None:
    """Ways out included."""
    phrase = chords(piece)
    small, _ = Search(phrase, Hands(Hand(span), Hand(span)), Options()).best()
    large, _ = Search(phrase, Hands(Hand(span + more), Hand(span + more)), Options()).best()
    assert large <= small + 1e-9
