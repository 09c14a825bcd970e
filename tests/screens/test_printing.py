"""The fingered music of a piece, written from the app as a page to print."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from coach.paper.sheet_files import page_file
from coach.places import file_name
from coach.score.piece import Piece

Desk = Callable[..., Any]


async def printed(at: Any, name: str = "wide-water") -> str:
    """Press the key, and give what the screen says, in one line."""
    at.app.open_piece(name)
    await at.settle()
    await at.press("p")
    await at.settle()
    return " ".join(at.text.split())


async def test_a_piece_is_printed_and_the_screen_says_where(desk: Desk, home: Path) -> None:
    async with desk(size=(120, 40)) as at:
        said = await printed(at)
        page = home / "sheets" / "Wide Water.html"
        assert "The sheet is in" in said, at.notes
        assert page.name in said
        assert page.read_text("utf-8").startswith("<!DOCTYPE html>")


async def test_a_sheet_that_cannot_be_written_is_told(desk: Desk, home: Path) -> None:
    (home / "sheets").write_text("a file where the folder should be")
    async with desk() as at:
        said = await printed(at)
        assert at.notes[-1].startswith('Cannot make the data folder "')
        assert "The sheet is in" not in said


def test_a_title_becomes_a_name_that_every_system_takes() -> None:
    assert file_name("Psalm 23: The Lord / my shepherd?") == "Psalm 23 - The Lord my shepherd"
    assert file_name("...") == "Untitled"
    assert len(file_name("A" * 300)) == 80


def test_pieces_of_one_title_have_pages_of_their_own(home: Path) -> None:
    def page(title: str, name: str) -> Path:
        return page_file(Piece(title, name, (), (), ()), name)

    assert page("Wide Water", "wide-water") == home / "sheets" / "Wide Water.html"
    assert page("Kinderscenen", "/music/op15-1.musicxml").name == "Kinderscenen (op15-1).html"
    assert page("Aus meines Herzens Grunde", "corpus:bach/bwv269").name == "Aus meines Herzens Grunde (bwv269).html"


def test_long_titles_do_not_hide_which_piece_a_page_is_of(home: Path) -> None:
    def page(title: str, name: str) -> Path:
        return page_file(Piece(title, name, (), (), ()), name)

    title = "Variations and fugue upon the hymn tune Old Hundredth, for the organ or the piano, by an unknown hand"
    one, other = page(title, "one"), page(title, "another")
    assert one.name.endswith(" (one).html")
    assert other.name.endswith(" (another).html")
    far = [page(title, f"{'x' * 200}-{number}") for number in (1, 2)]
    assert far[0] != far[1]


@pytest.mark.parametrize("sign", ["A", "ж", "讃", "\U0001d11e"])
def test_names_are_no_longer_than_a_disk_takes(home: Path, sign: str) -> None:
    """255 bytes (NAME_MAX of common file systems), an ending and a number included."""
    for apart in ("", "one", sign * 90):
        name = file_name(sign * 300, apart)
        assert len(name.encode()) <= 240
        assert len(name) <= 80
        (home / f"{name} (12).musicxml").touch()
