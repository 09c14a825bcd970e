"""The terms of effort in a pianist's words: what a plan costs can be read aloud."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

WORDS: dict[str, str] = {
    # One hand in one chord.
    "stretch": "stretches",
    "strain": "wide stretches",
    "full_stretch": "full stretches without the little finger",
    "cramp": "cramped fingers",
    "thumb_on_black": "thumb on black keys",
    "little_on_black": "little finger on black keys",
    "fourth_alone": "fourth finger alone",
    "fifth_alone": "fifth finger alone",
    "weak_neighbours": "weak fingers side by side",
    "thumb_unused": "chords without the thumb inside",
    "little_unused": "chords without the little finger outside",
    "double_thumb": "two keys under the thumb",
    "off_frame": "out of the hand's frame",
    "far_from_top": "out of reach of outer notes to come",
    "far_from_bottom": "out of reach of inner notes to come",
    "repeats_ahead": "no fingers left for repeats",
    "off_grip": "fingers off their keys in chords",
    "roll_moves": "moves within rolls",
    # One hand's change of chord.
    "shift": "moves on the keys",
    "far_shift": "wide moves on the keys",
    "shift_quick": "moves in quick lines",
    "far_shift_quick": "wide moves in quick lines",
    "line_stretch": "stretches in the outer voices",
    "line_stretch_quick": "stretches in quick lines",
    "line_strain": "wide stretches in the outer voices",
    "line_cramp": "cramped outer voices",
    "crossing": "crossings of the thumb",
    "crossing_to_black": "crossings onto black keys",
    "off_step": "fingers off their keys in lines",
    "off_step_quick": "fingers off their keys in quick lines",
    "same_finger": "inner fingers moving on",
    "changed_finger": "fingers changed on repeated notes",
    "new_grip": "new grips on repeated chords",
    "quick_repeat": "quick repeats with one finger",
    "quick_repeat_of_two": "quick repeats of two keys with the same fingers",
    "repeat_upward": "repeats away from the thumb",
    "lift_quick": "quick lifts",
    "lift": "lifts",
    "lift_long": "lifts from long notes",
    "chord_lift_quick": "quick lifts from chords",
    "chord_lift": "lifts from chords",
    "chord_lift_long": "lifts from long chords",
    "half_lift": "breaths over held notes",
    "broken_line": "broken outer voices",
    "broken_top": "chords' broken outer voices",
    "shift_in_lift": "moves in the air",
    "hop": "hops on one finger",
    # How the notes are dealt out.
    "open_left": "an octave or more in the left hand",
    "close_right": "a close tenor in the right hand",
    "left_heavy": "more notes in the left hand",
    "idle_hand": "one hand playing all",
    "far_side": "hands beyond middle C",
    "redistribution": "voices changing hands",
    "handed_over": "lines passed from hand to hand",
    # Ways out.
    "way_out": "ways out",
    "wide_roll": "wide rolls",
    "second_choice": "ways out of second choice",
    "third_choice": "ways out of third choice",
    "let_go": "held notes let go",
}
"""Each term of `weights`, as what there is more or less of."""

STRETCHES = frozenset(
    (
        "stretch",
        "strain",
        "full_stretch",
        "line_stretch",
        "line_stretch_quick",
        "line_strain",
        "cramp",
        "line_cramp",
        "double_thumb",
        "wide_roll",
    )
)
"""Terms that open or cramp the hand."""

LIFTS = frozenset(
    (
        "lift_quick",
        "lift",
        "lift_long",
        "chord_lift_quick",
        "chord_lift",
        "chord_lift_long",
        "half_lift",
        "broken_line",
        "broken_top",
    )
)
"""Terms of leaving the keys, and of lines that break by it."""

QUICK_REPEATS = frozenset(("quick_repeat", "quick_repeat_of_two"))
"""Terms of keys struck again at once with the same fingers."""

SHIFTS = frozenset(("shift", "far_shift", "shift_quick", "far_shift_quick"))
"""Terms of the hand's way on the keys."""

LEAVING = (
    LIFTS
    | SHIFTS
    | frozenset(
        (
            "shift_in_lift",
            "line_stretch",
            "line_stretch_quick",
            "line_strain",
            "line_cramp",
            "crossing",
            "crossing_to_black",
            "same_finger",
        )
    )
)
"""Terms that weigh leaving the keys against staying on them."""

DEALING = frozenset(
    ("open_left", "close_right", "left_heavy", "idle_hand", "far_side", "redistribution", "handed_over")
)
"""Terms of how the notes are dealt out to the hands."""

RANKING = frozenset(("way_out", "second_choice", "third_choice", "let_go"))
"""Terms that rank the ways out, by the player's preference, and keep them the last resort."""

MOVES = frozenset(WORDS) - STRETCHES - LIFTS - DEALING - RANKING
"""All others: moving over the keys, crossings, and awkward fingers."""

TOLD = 0.005
"""Effort below this is not worth a word."""


def in_words(term: str) -> str:
    """A term's words; its own name for one that has none."""
    return WORDS.get(term, term.replace("_", " "))


def differences(after: Mapping[str, float], before: Mapping[str, float]) -> dict[str, float]:
    """By how much each term grows from one account to another, the greatest change first."""
    names = {*after, *before}
    grown = {name: after.get(name, 0.0) - before.get(name, 0.0) for name in names}
    order: Iterable[str] = sorted(grown, key=lambda name: (-abs(grown[name]), name))
    return {name: grown[name] for name in order if abs(grown[name]) >= TOLD}
