"""What choices say about a player, and the weights that follow."""

from __future__ import annotations

import random
from collections.abc import Sequence
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from passages import chorale, chords, in_chords, on_staves

from coach.fingering.choices import Fix, FixedLeaving, FixedSharing, of_note
from coach.fingering.habits import LEAST, MOST, Habits, Kind, Lesson, habits_of, lesson_of
from coach.fingering.hand import Hands
from coach.fingering.limits import can_be
from coach.fingering.plan import SIDES
from coach.fingering.search import Options, Search, search_of
from coach.fingering.terms import RANKING
from coach.fingering.weights import WEIGHTS, Weights
from coach.score.library import open_piece
from coach.score.phrases import find_phrases
from coach.score.piece import Chord, Piece, chords_of

AS_WRITTEN = Options(hands="as-written")

TOP_OF_A_SIXTH = Kind("4", "5", "on top of a sixth")


def search(piece: Piece, options: Options = AS_WRITTEN) -> Search:
    return search_of(chords(piece), Hands(), options)


def top(piece: Piece, onset: int, finger: int) -> Fix:
    """A finger for the highest note of a chord."""
    return of_note(max((n for n in piece.notes if n.onset == onset), key=lambda n: n.midi), finger)


# Lessons.


def test_a_finger_is_told_by_where_it_lies_in_the_hand() -> None:
    sixths = in_chords("right", "C4 A4", "D4 B4")
    usual = search(sixths).best()[1][0].fingers("right")[-1]
    lesson = lesson_of(search(sixths), (), top(sixths, 0, 4 if usual == 5 else 5))
    assert lesson is not None
    assert lesson.kind == Kind("4" if usual == 5 else "5", str(usual), "on top of a sixth")


def test_a_lesson_counts_what_the_plan_has_more_and_less() -> None:
    """By the usual weights the player's plan is the heavier one."""
    sixths = in_chords("right", "C4 A4", "D4 B4")
    lesson = lesson_of(search(sixths), (), top(sixths, 0, 3))
    assert lesson is not None
    assert sum(WEIGHTS[term] * count for term, count in lesson.counts.items()) > 0


def test_a_choice_of_what_the_plan_does_anyway_teaches_nothing() -> None:
    sixths = in_chords("right", "C4 A4", "D4 B4")
    usual = search(sixths).best()[1][0].fingers("right")[-1]
    assert lesson_of(search(sixths), (), top(sixths, 0, usual)) is None


def test_a_distribution_is_told_by_the_gap_below() -> None:
    hymn = chorale("E5 D5", "C5 B4", "G4 G4", "C4 G3")
    found = search(hymn, Options())
    usual = found.best()[1][0].deal.distribution
    wish = FixedSharing(Fraction(0), 3, 1) if usual == "2+2" else FixedSharing(Fraction(0), 2, 2)
    lesson = lesson_of(found, (), wish)
    assert lesson is not None
    assert lesson.kind.words == f"{wish.distribution} to {usual} with a fifth between the two lowest notes"


def test_a_lift_is_told_by_the_step_it_breaks() -> None:
    line = on_staves(right=["C4 D4 E4"])
    lesson = lesson_of(search(line), (), FixedLeaving(Fraction(1), "right", "lift"))
    assert lesson is not None
    assert lesson.kind.words == "lifting to joining in the right hand over a second"
    assert lesson.counts["lift"] > 0


@pytest.mark.parametrize(
    ("line", "where"),
    [
        ("C4 C4 E4", "on a repeated note"),
        ("G#4 Ab4 E4", "on a repeated note"),
        ("C4 C#4 E4", "over a semitone"),
        ("C4 C5 C4", "over an octave"),
    ],
)
def test_a_lift_on_a_repeated_note_is_called_so(line: str, where: str) -> None:
    notes = search(on_staves(right=[line]))
    lifts = [lesson_of(notes, (), FixedLeaving(Fraction(0), "right", after)) for after in ("lift", "join")]  # type: ignore[arg-type]
    assert {lesson.kind.where for lesson in lifts if lesson} == {f"in the right hand {where}"}


def test_json_gives_back_an_equal_lesson() -> None:
    lesson = Lesson(TOP_OF_A_SIXTH, {"stretch": -0.5, "fourth_alone": 1.0})
    assert Lesson.from_json(lesson.to_json()) == lesson


# Habits.

TAUGHT = Lesson(TOP_OF_A_SIXTH, {"shift": 1.0, "stretch": -0.4})
"""A plan that moves more and stretches less, and costs 0.3 more or so."""


def test_three_choices_in_two_pieces_make_a_habit() -> None:
    found = habits_of([[TAUGHT, TAUGHT], [TAUGHT]], WEIGHTS)
    assert [habit.kind for habit in found.habits] == [TOP_OF_A_SIXTH]
    sentence = found.sentences[0]
    assert sentence.startswith("you prefer 4 to 5 on top of a sixth (3 choices in 2 pieces)")
    assert "moves on the keys ×0." in sentence


LIFT = Lesson(
    Kind("lifting", "joining", "in the left hand on a repeated note"),
    {"chord_lift": 1.0, "redistribution": -0.5, "cramp": 1.0, "stretch": 0.5},
)
"""A lift that the plan of the whole phrase came about otherwise by: voices change hands less, fingers more."""


def test_a_habit_of_lifting_moves_and_names_what_weighs_lifts() -> None:
    found = habits_of([[LIFT, LIFT], [LIFT]], WEIGHTS)
    assert set(found.factors) == {"chord_lift"}
    assert found.factors["chord_lift"] < 1
    assert found.sentences[0].endswith("(3 choices in 2 pieces); the coach counts lifts from chords ×0.5")


def test_a_habit_of_joining_lets_inner_fingers_move_on() -> None:
    """What joining costs in hymns is an inner finger that goes on to another key."""
    join = Lesson(Kind("joining", "lifting", "in the right hand over a step"), {"chord_lift": -1.0, "same_finger": 2.0})
    found = habits_of([[join, join], [join]], WEIGHTS)
    assert found.factors["same_finger"] < 1 < found.factors["chord_lift"]


def test_a_habit_names_nothing_that_only_another_one_speaks_of() -> None:
    found = habits_of([[LIFT, LIFT, TAUGHT], [LIFT, TAUGHT, TAUGHT]], WEIGHTS)
    assert {"shift", "stretch"} <= set(found.factors)
    said = {habit.kind.preferred: {term for term, _ in habit.effects} for habit in found.habits}
    assert said["lifting"] == {"chord_lift"}
    assert said["4"] <= {"shift", "stretch"}


def test_a_habit_of_fingers_says_nothing_of_who_plays_what() -> None:
    lesson = Lesson(TOP_OF_A_SIXTH, {**TAUGHT.counts, "redistribution": 1.0})
    assert "redistribution" not in habits_of([[lesson, lesson], [lesson]], WEIGHTS).factors


@pytest.mark.parametrize("pieces", [[[TAUGHT, TAUGHT, TAUGHT]], [[TAUGHT], [TAUGHT]], []])
def test_fewer_choices_or_one_piece_alone_make_none(pieces: list[list[Lesson]]) -> None:
    assert habits_of(pieces, WEIGHTS) == Habits()


def test_opposite_choices_make_none() -> None:
    opposite = Lesson(TOP_OF_A_SIXTH.opposite, {"shift": -1.0, "stretch": 0.4})
    assert habits_of([[TAUGHT, opposite], [TAUGHT, TAUGHT, opposite]], WEIGHTS) == Habits()


def test_the_weights_move_towards_the_players_plan() -> None:
    found = habits_of([[TAUGHT, TAUGHT], [TAUGHT]], WEIGHTS)
    moved = found.applied(WEIGHTS)
    assert moved["shift"] < WEIGHTS["shift"]
    assert moved["stretch"] > WEIGHTS["stretch"]
    untouched = set(WEIGHTS) - {"shift", "stretch"}
    assert all(moved[term] == WEIGHTS[term] for term in untouched)


def test_no_habits_leave_the_weights_as_they_are() -> None:
    assert Habits().applied(WEIGHTS) == WEIGHTS


COUNTS = st.dictionaries(st.sampled_from(sorted(WEIGHTS)), st.floats(-5, 5), min_size=1, max_size=6)

LESSONS = st.lists(st.builds(Lesson, st.just(TOP_OF_A_SIXTH), COUNTS), min_size=2, max_size=8)


@settings(max_examples=150, deadline=None)
@given(st.lists(LESSONS, min_size=2, max_size=4))
def test_habits_are_bounded_and_never_reward_leaving_notes_out(pieces: list[list[Lesson]]) -> None:
    found = habits_of(pieces, WEIGHTS)
    assert all(LEAST <= factor <= MOST for factor in found.factors.values())
    assert not RANKING & set(found.factors)


@settings(max_examples=60, deadline=None)
@given(st.lists(LESSONS, min_size=2, max_size=3), st.randoms())
def test_the_order_of_choices_does_not_matter(pieces: list[list[Lesson]], order: random.Random) -> None:
    shuffled = [list(lessons) for lessons in pieces]
    for lessons in shuffled:
        order.shuffle(lessons)
    one, other = habits_of(pieces, WEIGHTS).factors, habits_of(shuffled, WEIGHTS).factors
    assert {t: pytest.approx(f, abs=2e-3) for t, f in one.items() if abs(f - 1) > 2e-3}.items() <= other.items()


# A player with ways of their own.


def somebody(seed: int) -> Weights:
    """A player to whom some things are much easier than to the coach, others much harder, each drawn by its own name:
    a term more leaves the player as they are."""
    return Weights(
        {
            term: value * (1 if term in RANKING else random.Random(f"{seed} {term}").choice([0.4, 1, 2.5]))
            for term, value in WEIGHTS.items()
        }
    )


SHOWN = ("before-the-tide", "between-two-banks", "oars-at-dusk", "the-last-lantern", "wide-water")

UNSEEN = ("the-bell-above-the-reeds", "the-lamp-at-the-landing", "the-mooring-rope")
"""Shipped pieces: those that the player made choices in, and others."""


def test_habits_bring_plans_of_other_pieces_nearer_to_the_player() -> None:
    """Over a few players; more of them, and chorales, in tests/bench/bench_habits.py."""
    apart = nearer = 0
    unseen = [phrase for name in UNSEEN for phrase in phrases_in(name)]
    for player in map(somebody, range(3)):
        lessons = [[lesson for phrase in phrases_in(name) for lesson in _taught(phrase, player)] for name in SHOWN]
        found = habits_of(lessons, WEIGHTS)
        assert found.habits
        apart += sum(_differing(phrase, WEIGHTS, player) for phrase in unseen)
        nearer += sum(_differing(phrase, found.applied(WEIGHTS), player) for phrase in unseen)
    assert nearer < 0.9 * apart


def phrases_in(name: str) -> list[tuple[Chord, ...]]:
    piece = open_piece(name)
    return [chords_of(piece, phrase) for phrase in find_phrases(piece)]


@pytest.fixture(autouse=True)
def _a_home_of_its_own(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COACH_HOME", str(tmp_path_factory.getbasetemp() / "habits"))


def _taught(phrase: tuple[Chord, ...], player: Weights, most: int = 6) -> list[Lesson]:
    """The lessons of a player who puts the coach's fingers right from the beginning of a phrase on."""
    usual = search_of(phrase, Hands(), Options())
    wanted = _fingers(phrase, player)
    fixes: list[Fix] = []
    lessons = []
    for place, chord in enumerate(phrase):
        for note in chord.struck:
            fix = of_note(note, wanted[place, note.voice])
            if len(fixes) < most and can_be(usual, [*fixes, fix]):
                lesson = lesson_of(usual, fixes, fix)
                if lesson is not None:
                    lessons.append(lesson)
                    fixes.append(fix)
    return lessons


def _differing(phrase: tuple[Chord, ...], weights: Weights, player: Weights) -> int:
    mine, theirs = _fingers(phrase, weights), _fingers(phrase, player)
    return sum(mine[key] != theirs[key] for key in mine)


def _fingers(phrase: Sequence[Chord], weights: Weights) -> dict[tuple[int, str], int]:
    _, choices = search_of(tuple(phrase), Hands(), Options(own_weights=weights)).best()
    found = {}
    for place, (chord, choice) in enumerate(zip(phrase, choices, strict=True)):
        for note, fate in zip(chord.notes, choice.deal.fates, strict=True):
            for side in SIDES:
                if fate.hand == side:
                    key = fate.key if side == "right" else 124 - fate.key
                    at = choice.deal.handful(side).keys.index(key)
                    found[place, note.voice] = choice.fingers(side)[at]
    return found
