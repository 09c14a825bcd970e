"""The shelf's cards: what they tell of each piece, and when they are written anew."""

from __future__ import annotations

from pathlib import Path

import pytest

from coach import places
from coach.errors import CoachError
from coach.score import cards as cards_module
from coach.score.cards import cards, cards_at_hand, search
from coach.score.cuts import keep, phrases_of, split
from coach.score.library import open_piece
from coach.score.shelf import take_in

TUNE = "X:1\nT:{}\nM:4/4\nL:1/4\nK:{}\nC D E F | G4 |\n"


@pytest.fixture(autouse=True)
def shipped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No shipped piece, so that the shelf is quickly read."""
    monkeypatch.setattr(places, "shipped_pieces", lambda: tmp_path / "shipped")


def write(path: Path, title: str, key: str = "C") -> str:
    path.write_text(TUNE.format(title, key))
    return str(path)


def take(*sources: str) -> None:
    assert {taken.outcome for taken in take_in(sources)} == {"added"}


def test_what_is_new_is_only_named_until_it_is_read(tmp_path: Path) -> None:
    take(write(tmp_path / "1.abc", "Evening", "D"))
    ((card,), whole) = cards_at_hand()
    assert (card.name, card.key, whole) == ("Evening", "", False)
    (read,) = cards()
    assert (read.title, read.key, read.phrases, read.bars, read.voices) == ("Evening", "D major", 1, 2, 1)
    assert cards_at_hand() == ((read,), True)


def test_finding_by_words(tmp_path: Path) -> None:
    take(write(tmp_path / "1.abc", "Evening Song"), write(tmp_path / "2.abc", "Morning Song", "D"))
    assert [card.name for card in search("song eve")] == ["Evening Song"]
    assert search("noon") == ()


def test_cards_follow_the_files_and_the_players_cuts(tmp_path: Path) -> None:
    take(write(tmp_path / "1.abc", "Evening"))
    assert next(card for card in cards() if card.name == "Evening").phrases == 1
    piece = open_piece("Evening")
    keep(piece, split(piece, phrases_of(piece), piece.notes[2].onset))
    assert next(card for card in cards() if card.name == "Evening").phrases == 2


def test_a_piece_that_was_damaged_on_the_shelf_says_so(tmp_path: Path) -> None:
    take(write(tmp_path / "1.abc", "Evening"))
    (places.shelf() / "Evening.abc").write_text("nothing")
    card = next(card for card in cards() if card.name == "Evening")
    assert card.problem.startswith('cannot read "Evening"')


def test_a_lost_list_of_cards_is_made_again(tmp_path: Path) -> None:
    take(write(tmp_path / "1.abc", "Evening"))
    before = cards()
    (places.home() / "shelf.json").write_text("{")
    assert cards() == before


@pytest.mark.parametrize("version", ["READING", "CUTTING"])
@pytest.mark.parametrize("later", [0, 1])
def test_cards_are_made_again_when_files_are_read_or_cut_differently(
    later: int, version: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    take(write(tmp_path / "1.abc", "Evening"))
    before = cards()
    kept = places.home() / "shelf.json"
    kept.write_text(kept.read_text("utf-8").replace("C major", "A minor"), "utf-8")
    monkeypatch.setattr(cards_module, version, getattr(cards_module, version) + later)
    assert ("A minor" in [card.key for card in cards()]) == (later == 0)
    assert (cards() == before) == (later > 0)


def test_a_problem_that_passes_is_forgotten(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Rights to read a file are given without a trace on the file itself."""
    take(write(tmp_path / "x.abc", "Evening"))
    with monkeypatch.context() as meanwhile:
        meanwhile.setattr("coach.score.cards.open_file", forbidden)
        (places.home() / "shelf.json").unlink(missing_ok=True)
        assert {card.problem for card in cards()} == {"not allowed"}
    assert {card.problem for card in cards()} == {""}


def forbidden(*_: object) -> None:
    raise CoachError("not allowed")
