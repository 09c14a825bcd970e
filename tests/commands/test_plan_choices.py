"""`coach plan` with the player's hands, choices, alternatives, and part of a piece."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from coach import settings
from coach.cli import main

PIECE = "before-the-tide"

Run = Callable[..., str]


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    return tmp_path


@pytest.fixture
def coach(capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a command that works; what it printed."""

    def run(*words: str) -> str:
        code = main(list(words))
        out, err = capsys.readouterr()
        assert (code, err) == (0, "")
        return out

    return run


@pytest.fixture
def refused(capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a command that is refused; the one line it said."""

    def run(*words: str) -> str:
        code = main(list(words))
        out, err = capsys.readouterr()
        assert (code, out, err.count("\n")) == (2, "", 1)
        assert err.startswith("coach: ")
        return err.removeprefix("coach: ").strip()

    return run


def note(plan: dict[str, Any], voice: str, onset: float) -> dict[str, Any]:
    found: dict[str, Any] = next(
        n
        for p in plan["phrases"]
        for c in p["chords"]
        for n in c["notes"]
        if (n["voice"], n["onset"]) == (voice, onset)
    )
    return found


# Choices.


def test_a_choice_is_planned_kept_and_marked(coach: Run) -> None:
    plan = json.loads(coach("plan", PIECE, "--json", "--fix", "1:2 soprano 4", "--fix", "1:4 2+2"))
    later = json.loads(coach("plan", PIECE, "--json"))
    assert plan == later
    assert (note(later, "soprano", 2.0)["finger"], note(later, "soprano", 2.0)["chosen"]) == (4, True)
    chord = later["phrases"][0]["chords"][4]
    assert (chord["distribution"], chord["chosen"]) == ("2+2", True)
    assert "B  4°" in coach("plan", PIECE, "--phrase", "1")


TWICE = """X:1
T:Twice
M:4/4
L:1/4
K:C
V:1
G A B !fermata!c|d c B !fermata!d|G A B !fermata!c|]
V:2
E F G !fermata!E|G E G !fermata!G|E F G !fermata!E|]
"""
"""A tune of our own whose first phrase comes again as the third."""


def test_a_choice_holds_where_its_phrase_comes_again(coach: Run, tmp_path: Path) -> None:
    path = tmp_path / "twice.abc"
    path.write_text(TWICE)
    said = "phrase 3 has the same notes: chosen there too"
    assert said in coach("plan", str(path), "--fix", "1:2 soprano 2", "--phrase", "1")
    assert said not in coach("plan", str(path))
    assert coach("plan", str(path), "--choices", "list").split("\n")[:-1] == ["1:2 soprano 2", "3:2 soprano 2"]
    assert "Phrase 3 · bar 3 · as phrase 1 · end of the piece" in coach("plan", str(path))
    assert [phrase["again"] for phrase in json.loads(coach("plan", str(path), "--json"))["phrases"]] == [None, None, 1]
    assert coach("plan", str(path), "--choices", "undo").strip() == 'nothing is chosen in "Twice"'


def test_choices_are_listed_taken_back_and_cleared(coach: Run, refused: Run) -> None:
    coach("plan", PIECE, "--fix", "1:4 2+2")
    coach("plan", PIECE, "--fix", "1:2 soprano 4")
    listed = "1:2 soprano 4\n1:4 2+2\n"
    assert coach("plan", PIECE, "--choices", "list") == listed
    assert coach("plan", PIECE, "--choices", "undo") == "1:4 2+2\n"
    assert coach("plan", PIECE, "--choices", "redo") == listed
    assert coach("plan", PIECE, "--choices", "clear") == 'nothing is chosen in "Before the Tide"\n'
    assert coach("plan", PIECE, "--choices", "undo") == listed
    coach("plan", PIECE, "--fix", "1:2 soprano free")
    assert coach("plan", PIECE, "--choices", "list") == "1:4 2+2\n"
    assert refused("plan", PIECE, "--choices", "redo") == "no choice was taken back"


def test_choices_can_be_left_out_of_one_plan(coach: Run) -> None:
    usual = coach("plan", PIECE, "--json")
    coach("plan", PIECE, "--fix", "1:2 soprano 5")
    assert coach("plan", PIECE, "--json") != usual
    assert coach("plan", PIECE, "--json", "--choices", "ignore") == usual


@pytest.mark.parametrize(
    ("wish", "said"),
    [
        ("1:2 4+0", "bar 1, beat 2: 4+0 is not possible: "),
        ("1:2 alto 4", "bar 1, beat 2: 4 on the alto's E is not possible: out of reach"),
        ("1:2 7+1", "bar 1, beat 2: 7+1 is not possible: the hands have 4 notes here"),
        ("2:3 right join", "the phrase ends here and both hands breathe"),
        ("99:1 soprano 3", "there is no bar 99: the piece has the pickup and bars 1 to 8"),
        ("here soprano 3", '"here soprano 3" is no choice: write bar and beat'),
        ("1:2 right free", "nothing is chosen there"),
    ],
)
def test_an_impossible_wish_is_one_line_and_changes_nothing(coach: Run, refused: Run, wish: str, said: str) -> None:
    coach("plan", PIECE, "--fix", "1:4 2+2")
    assert said in refused("plan", PIECE, "--fix", "1:2 soprano 4", "--fix", wish)
    assert coach("plan", PIECE, "--choices", "list") == "1:4 2+2\n"


def test_two_kinds_of_change_are_made_one_after_the_other(refused: Run) -> None:
    assert "one after the other" in refused("plan", PIECE, "--fix", "1:2 soprano 4", "--choices", "undo")


def test_printed_fingers_are_kept_or_ignored(coach: Run) -> None:
    score = Path(__file__).parents[1] / "data" / "fingerings" / "burgmuller-op100-1.musicxml"
    words = ("plan", str(score), "--hands", "as-written", "--json")
    kept, ignored = (json.loads(coach(*words, *more)) for more in ((), ("--printed-fingers", "ignore")))

    def chosen(plan: dict[str, Any]) -> int:
        return sum(n["chosen"] for p in plan["phrases"] for c in p["chords"] for n in c["notes"] if n["struck"])

    assert chosen(kept) == score.read_text("utf-8").count("<fingering")
    assert chosen(ignored) == 0


def test_printed_fingers_that_this_hand_cannot_do_are_left_out_in_one_line(coach: Run) -> None:
    """Op. 15 no. 7: in a few bars a staff holds more than its hand can reach."""
    score = Path(__file__).parents[1] / "data" / "fingerings" / "schumann-op15-7.musicxml"
    plan = json.loads(coach("plan", str(score), "--hands", "as-written", "--json"))
    (remark,) = (remark for remark in plan["remarks"] if "printed" in remark)
    assert "printed fingers are left out, the first of them: bar 1, beat 3: " in remark


# Alternatives.


def test_alternatives_stand_side_by_side_with_costs_and_gains(coach: Run) -> None:
    text = coach("plan", PIECE, "--phrase", "1", "--alternatives")
    assert "3 other ways" in text
    assert "costs: " in text
    assert 'take it with --fix "' in text
    heads = next(line for line in text.splitlines() if line.split() == ["plan", "A", "B", "C"])
    effort = next(line for line in text.splitlines() if line.startswith("effort "))
    assert len(heads) == len(effort)
    assert max(len(line) for line in text.splitlines()) <= 80
    signs = text.rstrip().rpartition("\n\n")[2]
    assert "lift" in signs
    assert "\N{DEGREE SIGN} chosen finger" in signs


def test_the_choice_of_an_alternative_makes_it(coach: Run) -> None:
    words = ("plan", PIECE, "--phrase", "1", "--json")
    alternatives = json.loads(coach(*words, "--alternatives"))["alternatives"]
    assert len(alternatives) == 3
    for one in alternatives:
        plan = json.loads(coach(*words, "--fix", one["fix"]))
        assert plan["phrases"][0] == one["phrase"]
        coach("plan", PIECE, "--choices", "undo")


def test_alternatives_are_for_one_phrase(refused: Run) -> None:
    assert "--phrase N" in refused("plan", PIECE, "--alternatives")


# The player's hands.


def test_the_stored_hands_are_planned_for(coach: Run) -> None:
    settings.save(replace(settings.load(), right_span_mm=190.0, left_span_mm=230.0, comfort="wide"))
    assert json.loads(coach("plan", PIECE, "--json"))["hand"]["span_mm"] == 190.0
    assert json.loads(coach("plan", PIECE, "--json", "--span", "215"))["hand"]["span_mm"] == 215.0
    assert json.loads(coach("plan", PIECE, "--json", "--span-right", "240"))["hand"]["span_mm"] == 230.0


def test_the_stored_way_out_is_taken(coach: Run) -> None:
    words = ("plan", "the-bell-above-the-reeds", "--json", "--span", "170")

    def raised(plan: dict[str, Any]) -> int:
        notes = [n for p in plan["phrases"] for c in p["chords"] for n in c["notes"] if n["struck"]]
        return sum(n["midi"] != n["written_midi"] for n in notes)

    assert raised(json.loads(coach(*words))) > 0
    settings.save(replace(settings.load(), way_out="omit"))
    assert raised(json.loads(coach(*words))) == 0
    assert raised(json.loads(coach(*words, "--way-out", "raise"))) > 0


def test_a_narrow_keyboard_gives_a_small_hand_more_reach(coach: Run) -> None:
    reach = [
        json.loads(coach("plan", PIECE, "--json", "--span", "185", *more))["hand"]["reach"]
        for more in ((), ("--octave", "6.0in"), ("--octave", "139.7"))
    ]
    assert reach == ["octave", "ninth", "tenth"]


def test_comfort_shapes_the_plan_but_not_the_reach(coach: Run) -> None:
    efforts, reach = zip(
        *(
            (plan["effort"], plan["hand"]["reach_mm"])
            for comfort in ("wide", "normal", "relaxed")
            for plan in [json.loads(coach("plan", PIECE, "--json", "--comfort", comfort))]
        ),
        strict=True,
    )
    assert list(efforts) == sorted(efforts)
    assert efforts[0] < efforts[2]
    assert len(set(reach)) == 1


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--span-left", "60"), "a span of 60 mm is not a hand's"),
        (("--octave", "60"), '"60" is no width of an octave'),
        (("--octave", "wide"), '"wide" is no width of an octave'),
    ],
)
def test_hands_and_keyboards_that_nobody_has(refused: Run, words: tuple[str, ...], said: str) -> None:
    assert said in refused("plan", PIECE, *words)


# Part of the piece.


def test_some_voices_alone(coach: Run, refused: Run) -> None:
    plan = json.loads(coach("plan", PIECE, "--json", "--voices", "SB"))
    assert {n["voice"] for p in plan["phrases"] for c in p["chords"] for n in c["notes"]} == {"soprano", "bass"}
    assert plan["piece"]["voices"] == 2
    assert [p["number"] for p in plan["phrases"]] == [1, 2, 3, 4]
    assert '"X" names no voice' in refused("plan", PIECE, "--voices", "SX")
    assert "\nonly soprano, alto and bass\n" in coach("plan", PIECE, "--voices", "SAB")
    assert "\nonly " not in coach("plan", PIECE, "--voices", "SATB")


def test_plain_chords_have_no_quavers(coach: Run) -> None:
    decorated, plain = (json.loads(coach("plan", "wide-water", "--json", *more)) for more in ((), ("--plain",)))
    count = [sum(len(p["chords"]) for p in plan["phrases"]) for plan in (decorated, plain)]
    assert count[1] <= count[0]
    text = coach("plan", "corpus:bach/bwv269", "--plain", "--phrase", "1")
    assert "plain chords: " in text


def test_the_pedal_is_marked(coach: Run) -> None:
    plan = json.loads(coach("plan", PIECE, "--json", "--pedal"))
    marks = [c["pedal"] for p in plan["phrases"] for c in p["chords"]]
    assert {"down", "up"} <= set(marks)
    assert "Ped" in coach("plan", PIECE, "--phrase", "1", "--pedal")
    without = json.loads(coach("plan", PIECE, "--json"))
    assert {c["pedal"] for p in without["phrases"] for c in p["chords"]} == {""}


# Habits.


def test_habits_are_told_and_switched(coach: Run) -> None:
    assert "No habits yet" in coach("habits")
    assert "do not follow" in coach("habits", "off")
    assert "Plans follow" in coach("habits", "on")
    assert "No habits yet" in coach("habits", "forget")


# The shelf by effort.


def test_the_shelf_goes_from_easy_to_hard(coach: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("coach.practice.graded.catalogue", lambda: ())
    lines = coach("pieces", "--by-effort").splitlines()
    numbers = [float(line.split()[0]) for line in lines[3:]]
    assert len(numbers) >= 6
    assert numbers == sorted(numbers)
    assert lines[2].split() == ["effort", "stretches", "lifts", "distribution", "moves", "density", "tempo"]


@pytest.mark.parametrize("finger", ["12", "345", "0", "6"])
def test_there_are_five_fingers(finger: str, refused: Run) -> None:
    assert "names no finger" in refused("plan", PIECE, "--fix", f"1:2 soprano {finger}")


@pytest.mark.parametrize("words", [("--phrase", "99"), ("--alternatives",)])
def test_a_command_that_is_refused_keeps_no_choice(words: tuple[str, ...], coach: Run, refused: Run) -> None:
    refused("plan", PIECE, "--fix", "1:2 soprano 4", *words)
    assert "nothing is chosen" in coach("plan", PIECE, "--choices", "list")


@pytest.mark.parametrize("words", [("--plain",), ("--voices", "SB"), ("--choices", "ignore")])
def test_a_choice_that_would_not_be_heeded_is_refused(words: tuple[str, ...], coach: Run, refused: Run) -> None:
    assert "a choice is made for the whole piece" in refused("plan", PIECE, "--fix", "1:2 soprano 4", *words)
    assert "nothing is chosen" in coach("plan", PIECE, "--choices", "list")
