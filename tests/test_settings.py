"""Settings are kept, and a bad file loses nothing."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from coach import settings
from coach.errors import CoachError
from coach.fingering.hand import Hands
from coach.settings import Settings


@pytest.fixture(autouse=True)
def data_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    return tmp_path


def test_what_was_set_is_there_again() -> None:
    mine = replace(Settings(), right_span_mm=221.0, left_span_mm=218.5, keys=61, midi_input="Stage Piano", set_up=True)
    settings.save(mine)
    assert settings.load() == mine


def test_without_a_file_the_starting_values_hold() -> None:
    assert settings.load() == Settings()


@pytest.mark.parametrize("damaged", ["", "{", "[1, 2]", '"text"', "null"])
def test_a_damaged_file_is_set_aside_and_kept(data_folder: Path, damaged: str) -> None:
    (data_folder / "settings.json").write_text(damaged)
    assert settings.load() == Settings()
    assert (data_folder / "settings.damaged.json").read_text() == damaged
    settings.save(Settings())
    assert (data_folder / "settings.damaged.json").read_text() == damaged


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("right_span_mm", 20),
        ("left_span_mm", "wide"),
        ("right_span_mm", True),
        ("keys", 60),
        ("octave_mm", 1650),
        ("comfort", "painful"),
        ("minutes", 0),
        ("set_up", 1),
        ("midi_input", 3),
    ],
)
def test_a_value_that_makes_no_sense_is_left_out_and_the_others_stay(
    data_folder: Path, name: str, value: object
) -> None:
    (data_folder / "settings.json").write_text(json.dumps({"theme": "paper", name: value}))
    read = settings.load()
    assert getattr(read, name) == getattr(Settings(), name)
    assert read.theme == "paper"


def test_what_a_later_version_wrote_is_kept(data_folder: Path) -> None:
    (data_folder / "settings.json").write_text(json.dumps({"pedal_board": "30 keys", "keys": 76}))
    settings.save(replace(settings.load(), minutes=40))
    form = json.loads((data_folder / "settings.json").read_text())
    assert (form["pedal_board"], form["keys"], form["minutes"]) == ("30 keys", 76, 40)


def test_an_unreadable_file_is_one_sentence(data_folder: Path) -> None:
    (data_folder / "settings.json").mkdir()
    with pytest.raises(CoachError, match=r"cannot read the settings"):
        settings.load()


def test_the_hands_start_as_the_planner_supposes_them() -> None:
    assert Settings().hands == Hands()


def test_the_hands_are_those_that_were_set() -> None:
    hands = replace(Settings(), right_span_mm=190.0, comfort="relaxed", octave_mm=152.4).hands
    assert (hands.right.span_mm, hands.left.span_mm, hands.smaller) == (190.0, 208.0, hands.right)
    assert hands.keyboard.octave_mm == 152.4
    assert hands.right.comfort < 1


def test_a_change_leaves_what_another_coach_has_changed_meanwhile() -> None:
    """Two windows: in one the hands are measured, in the other the clicks are turned off."""
    ours = settings.load()
    settings.changed(settings.load(), right_span_mm=170.0, left_span_mm=168.0)
    kept = settings.changed(ours, clicks=False)
    assert kept == settings.load() == replace(Settings(), right_span_mm=170.0, left_span_mm=168.0, clicks=False)


@pytest.mark.parametrize("damage", ["gone", "{"])
def test_a_change_keeps_ours_where_the_file_is_of_no_use(data_folder: Path, damage: str) -> None:
    ours = settings.changed(Settings(), right_span_mm=170.0)
    path = data_folder / "settings.json"
    path.unlink() if damage == "gone" else path.write_text(damage)
    assert settings.changed(ours, clicks=False) == settings.load() == replace(ours, clicks=False)
