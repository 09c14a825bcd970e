"""Where tests keep what the coach keeps."""

from __future__ import annotations

import pytest

from coach import places


def test_a_contributors_own_pieces_and_record_stay_out_of_the_tests(request: pytest.FixtureRequest) -> None:
    """From what tests are: they say the same on every machine."""
    assert request.config.cache is not None
    assert places.shelf().is_relative_to(request.config.cache.mkdir("coach-home"))
