"""The catalogue of the 371 chorales."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from coach import places
from coach.score import chorales
from coach.score.chorales import Preparation, catalogue, is_prepared, name_of_number, prepare, title_of
from coach.score.library import corpus_file, find_source, open_piece


def test_all_371_are_listed_by_number_and_have_a_file() -> None:
    """Riemenschneider's numbers: 1 is BWV 269, "Aus meines Herzens Grunde"; 371 is BWV 278."""
    listed = catalogue()
    assert [chorale.number for chorale in listed] == list(range(1, 372))
    assert all(corpus_file(chorale.name).is_file() for chorale in listed)
    assert (listed[0].name, listed[0].title) == ("corpus:bach/bwv269", "Aus meines Herzens Grunde")
    assert listed[-1].name == "corpus:bach/bwv278"


def test_numbers_and_titles_open_chorales() -> None:
    assert name_of_number(1) == "corpus:bach/bwv269"
    assert find_source("chorale 1").path == corpus_file("corpus:bach/bwv269")
    assert open_piece("Riemenschneider 1").title == "Aus meines Herzens Grunde"


def test_before_the_catalogue_is_there_a_chorale_has_its_number_for_a_title() -> None:
    assert open_piece("corpus:bach/bwv269").title == "BWV 269"
    catalogue()
    assert open_piece("corpus:bach/bwv269").title == title_of("corpus:bach/bwv269") == "Aus meines Herzens Grunde"


def test_preparing_can_be_left_off_and_taken_up_again(monkeypatch: pytest.MonkeyPatch) -> None:
    few = catalogue()[:4]
    chorales._keep(few)
    told: list[tuple[int, int]] = []
    prepare(lambda done, total: told.append((done, total)), stop=lambda: len(told) > 2)
    assert told == [(0, 4), (1, 4), (2, 4)]
    assert [bool(chorale.phrases) for chorale in catalogue()] == [True, True, False, False]
    assert not is_prepared()
    prepare()
    assert is_prepared()
    first = catalogue()[0]
    assert (first.key, first.phrases) == ("G major", 6)


@pytest.mark.parametrize("version", ["READING", "CUTTING"])
def test_what_was_read_otherwise_is_read_again(version: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keys and numbers of phrases are as good as the readers and the search for phrases that found them."""
    chorales._keep(catalogue()[:2])
    prepare()
    title, read = catalogue()[0].title, getattr(chorales, version)
    monkeypatch.setattr(chorales, version, read + 1)
    assert not is_prepared()
    assert [(chorale.key, chorale.phrases) for chorale in catalogue()] == [("", 0)] * 2
    assert catalogue()[0].title == title
    prepare()
    assert is_prepared()
    monkeypatch.setattr(chorales, version, read)
    assert not is_prepared()


def test_preparing_runs_beside_the_coach() -> None:
    chorales._keep(catalogue()[:3])
    running = Preparation()
    assert running.wait()
    assert is_prepared()


def test_preparing_is_stopped_with_what_is_done_kept() -> None:
    running = Preparation()
    running.stop()
    assert not running.running
    assert len(catalogue()) == 371


def test_a_damaged_catalogue_is_made_anew() -> None:
    catalogue()
    (places.home() / "chorales.json").write_text("{}")
    assert len(catalogue()) == 371
    assert title_of("corpus:bach/nothing") == ""


def test_looking_up_a_title_never_loads_music21(tmp_path: Path) -> None:
    code = "import sys; from coach.score.chorales import title_of; title_of('x'); assert 'music21' not in sys.modules"
    subprocess.run(
        [sys.executable, "-c", code], check=True, env={**os.environ, "COACH_HOME": str(tmp_path)}, timeout=60
    )
