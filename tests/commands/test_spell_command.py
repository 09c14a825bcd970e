"""`coach spell`: fingers typed at the terminal."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from coach.cli import main
from coach.practice.log import Log
from coach.practice.music import open_music
from coach.practice.spelling import spelling_of

PIECE = "before-the-tide"


@pytest.fixture(autouse=True)
def data_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    return tmp_path


def spell(lines: list[str], monkeypatch: pytest.MonkeyPatch, *options: str) -> int:
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
    return main(["spell", PIECE, *options])


def planned(hand: str = "both") -> list[str]:
    plan = open_music(PIECE).plan.phrases[0]
    return [asked.answer for asked in spelling_of(plan, hand).chords]  # type: ignore[arg-type]


def test_a_phrase_spelled_as_planned_is_kept(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    answers = planned()
    assert spell(answers, monkeypatch) == 0
    assert capsys.readouterr().out.endswith(f"{len(answers)} of {len(answers)} chords as planned.\n")
    with Log.open() as log:
        (kept,) = log.spellings()
        assert kept.right == len(answers)
        assert log.count() == 0
    main(["log"])
    assert f"spelled away from the piano, {len(answers)} of {len(answers)} chords as planned" in capsys.readouterr().out


def test_a_wrong_finger_is_told_with_the_planned_one(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    answers = planned("left")
    wrong = "".join("1" if digit != "1" else "5" for digit in answers[0])
    assert spell([wrong, *answers[1:]], monkeypatch, "--hand", "left") == 0
    told = capsys.readouterr().out
    assert f"planned: {answers[0]}" in told
    assert told.endswith(f"{len(answers) - 1} of {len(answers)} chords as planned.\n")


def test_what_is_no_row_of_fingers_is_asked_again(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    answers = planned()
    assert spell(["what?", *answers], monkeypatch) == 0
    told = capsys.readouterr().out
    assert '"what?" is no row of fingers' in told
    assert f"{len(answers)} of {len(answers)}" in told


@pytest.mark.parametrize("lines", [[], [""], ["again"]])
def test_stopping_early_keeps_nothing(
    lines: list[str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert spell(lines, monkeypatch) == 0
    assert capsys.readouterr().out.endswith("Not spelled to the end: nothing is kept.\n")
    with Log.open() as log:
        assert log.spellings() == []


def test_a_phrase_that_is_not_there_is_one_sentence(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert spell([], monkeypatch, "--phrase", "99") == 2
    assert capsys.readouterr().err.count("\n") == 1
