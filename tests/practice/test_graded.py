"""The shelf from easy to hard."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from coach import places
from coach.fingering.hand import Hands
from coach.practice import graded
from coach.score.chorales import Chorale


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    # Three chorales stand for all: the others are planned by tests/bench/bench_difficulty.py.
    three = (
        Chorale(1, "corpus:bach/bwv269", "Aus meines Herzens Grunde"),
        Chorale(6, "corpus:bach/bwv281", "Christus, der ist mein Leben"),
        Chorale(7, "corpus:bach/bwv269", "The same again"),
        Chorale(999, "corpus:bach/none", "No such chorale"),
    )
    monkeypatch.setattr(graded, "catalogue", lambda: three)
    return tmp_path


def test_the_easiest_comes_first_and_what_cannot_be_read_last() -> None:
    found = graded.by_effort(Hands())
    numbers = [piece.difficulty.number for piece in found if piece.difficulty]
    assert numbers == sorted(numbers)
    assert {"corpus:bach/bwv269", "corpus:bach/bwv281", "wide-water"} <= {piece.name for piece in found}
    names = [piece.name for piece in found]
    assert len(names) == len(set(names)), "a chorale under two numbers is one piece"
    assert next(piece.title for piece in found if piece.name == "corpus:bach/bwv269") == "Aus meines Herzens Grunde"
    assert found[-1].name == "corpus:bach/none"
    assert found[-1].difficulty is None
    assert "cannot find" in found[-1].problem


def test_every_piece_is_planned_once_for_a_pair_of_hands(monkeypatch: pytest.MonkeyPatch) -> None:
    first = graded.by_effort(Hands())

    def planned_again(*_: object) -> None:
        raise AssertionError("a piece is planned again")

    monkeypatch.setattr(graded, "_difficulty", planned_again)
    seen: list[tuple[int, int]] = []
    again = graded.by_effort(Hands(), lambda done, total: seen.append((done, total)))
    assert [piece.name for piece in again] == [piece.name for piece in first]
    assert seen[0] == (0, len(first))
    assert seen[-1] == (len(first), len(first))


def test_another_hand_has_an_order_of_its_own() -> None:
    large, small = (
        {piece.name: piece.difficulty for piece in graded.by_effort(Hands.of_span(span))} for span in (230, 170)
    )
    for name, difficulty in large.items():
        other = small[name]
        assert (difficulty is None) == (other is None)
        if difficulty and other:
            assert difficulty.number <= other.number


def test_what_was_done_before_stopping_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(done: int, _: int) -> None:
        if done == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        graded.by_effort(Hands(), stop)
    planned = []
    work_out = graded._difficulty
    monkeypatch.setattr(graded, "_difficulty", lambda name, hands: (planned.append(name), work_out(name, hands))[1])
    found = graded.by_effort(Hands())
    assert len(planned) == len([piece for piece in found if piece.difficulty]) - 3


def test_what_was_done_is_kept_from_time_to_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """A power cut at the hundredth chorale does not cost all of them."""
    found = graded._difficulty("before-the-tide", Hands())
    monkeypatch.setattr(graded, "_difficulty", lambda *_: found)
    monkeypatch.setattr(graded, "KEPT_EVERY", 3)
    kept = []

    def look(*_: int) -> None:
        kept.append(sum(len(json.loads(path.read_text())) for path in places.difficulties().glob("*.json")))

    graded.by_effort(Hands(), look)
    assert kept[:8] == [0, 0, 0, 3, 3, 3, 6, 6]


def test_a_damaged_file_is_worked_out_again() -> None:
    first = graded.by_effort(Hands())
    (path,) = places.difficulties().glob("*.json")
    path.write_text('{"x": {}}')
    assert graded.by_effort(Hands()) == first


def test_a_hymn_printed_in_minims_is_about_as_hard_as_in_crotchets(tmp_path: Path) -> None:
    """Two ways of printing one hymn, common in hymnals; no tempo is printed."""
    hymn = (
        "X:1\nT:{title}\nM:{metre}\nL:{unit}\nK:C\n%%score (S A) (T B)\nV:S\nc d e f|e d c2|]\nV:A\nG G c A|G G G2|]\n"
    )
    hymn += "V:T clef=bass\nE, D, G, F,|G, F, E,2|]\nV:B clef=bass\nC, B,, C, D,|G,, G,, C,2|]\n"
    for title, metre, unit in (("In crotchets", "4/4", "1/4"), ("In minims", "4/2", "1/2")):
        (tmp_path / f"{title}.abc").write_text(hymn.format(title=title, metre=metre, unit=unit))
    crotchets, minims = (graded._difficulty(str(path), Hands())[0] for path in sorted(tmp_path.glob("*.abc")))
    assert minims.number == pytest.approx(crotchets.number, rel=0.2)  # long notes cost a little less to leave
