"""What the tests of reading share: a data folder of their own, the sixteen hymns, chorales of music21's corpus."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from coach.score.library import corpus_file
from coach.score.piece import Piece
from coach.score.reading import read_score

HYMNS = Path(__file__).parent / "data" / "hymns"


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder that only this test has."""
    folder = tmp_path / "home"
    monkeypatch.setenv("COACH_HOME", str(folder))
    return folder


@cache
def _corpus(name: str) -> Piece:
    return read_score(corpus_file(f"corpus:{name}").read_bytes(), f"corpus:{name}", name)


@pytest.fixture(scope="session")
def corpus() -> Callable[[str], Piece]:
    """A piece of music21's corpus, read once for all tests."""
    return _corpus


@cache
def _hymn(name: str) -> Piece:
    return read_score((HYMNS / name).read_bytes(), name, name)


@pytest.fixture(scope="session")
def hymn() -> Callable[[str], Piece]:
    """One of the sixteen hymns by its file's name."""
    return _hymn


@pytest.fixture(scope="session")
def hymns() -> Path:
    """The folder of sixteen hymns of the Open Hymnal Project (public domain), and their poetic metres."""
    return HYMNS
