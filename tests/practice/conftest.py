"""A log of its own for every test of practising."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from practising import open_log

from coach.practice.log import Log


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Log]:
    with open_log(tmp_path) as opened:
        yield opened
