"""A log of its own for every test of practising, and a piece on the stand."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from practising import open_log

from coach.practice.log import Log
from coach.practice.music import Music, open_music


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Log]:
    with open_log(tmp_path) as opened:
        yield opened


@pytest.fixture(scope="session")
def music(tmp_path_factory: pytest.TempPathFactory) -> Music:
    """Wide Water, a shipped piece of four phrases, as nobody has cut or fingered it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COACH_HOME", str(tmp_path_factory.mktemp("music")))
        return open_music("wide-water")
