"""A damaged log is set aside with a clear message; what the takes' files and its readable parts hold is put back."""

from __future__ import annotations

import random
import sqlite3
from pathlib import Path

import pytest
from practising import entry, evening, hymn, open_log, phrases_of

from coach.listening.events import Event
from coach.listening.take import Take
from coach.practice.log import Log
from coach.practice.mending import salvage

PIECE = hymn()
TAKE = Take((Event(0.0, "press", 60, 64), Event(1.0, "release", 60, 64)))
TAKES = 40


def filled(folder: Path, files: bool = True, takes: int = TAKES) -> dict[str, str]:
    """A log with some takes; gives their verdicts by number."""
    kept = {}
    with open_log(folder) as log:
        passages = log.know(PIECE, phrases_of(PIECE))
        for number in range(takes):
            word = ("solid", "shaky", "weak")[number % 3]
            one = entry(passages[number % 4], verdict=word, at=evening(number // 10, number % 10))
            if files:
                log.keep(TAKE, one)
            else:
                log.record(one)
            kept[one.uid] = word
        log.set_date(passages[0].piece, evening(20))
    return kept


def words(log: Log) -> dict[str, str]:
    return {one.uid: one.verdict for one in log.entries()}


def aside(folder: Path) -> list[Path]:
    return list(folder.glob("practice.damaged-*.sqlite"))


def test_a_log_that_is_no_database_is_rebuilt_from_the_takes_files(tmp_path: Path) -> None:
    kept = filled(tmp_path)
    (tmp_path / "practice.sqlite").write_bytes(b"not a database " * 100)
    with open_log(tmp_path) as log:
        assert words(log) == kept
        assert f'damaged and has been set aside as "{aside(tmp_path)[0].name}"' in log.notices[-1]
        assert f"{TAKES} takes could be saved" in log.notices[-1]
        assert log.standings(next(log.entries()).passage.piece)
    assert aside(tmp_path)[0].read_bytes().startswith(b"not a database")


def test_a_log_cut_short_is_rebuilt(tmp_path: Path) -> None:
    kept = filled(tmp_path)
    path = tmp_path / "practice.sqlite"
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    with open_log(tmp_path) as log:
        assert words(log) == kept
        assert aside(tmp_path)


def test_without_any_files_what_can_be_read_of_the_log_itself_is_saved(tmp_path: Path) -> None:
    """The index that finds takes by number is damaged, the takes are not."""
    kept = filled(tmp_path, files=False)
    path = tmp_path / "practice.sqlite"
    connection = sqlite3.connect(path)
    page = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'takes_of_a_piece'").fetchone()[0]
    size = connection.execute("PRAGMA page_size").fetchone()[0]
    connection.close()
    content = bytearray(path.read_bytes())
    content[(page - 1) * size : page * size] = b"\xff" * size
    path.write_bytes(content)
    with open_log(tmp_path) as log:
        passage = log.know(PIECE, phrases_of(PIECE))[0]
        # The damage is found when the index is needed, and mended on the spot: the take that found it is not lost.
        log.record(entry(passage, at=evening(9)))
        assert aside(tmp_path)
        assert set(kept) < set(words(log))
        assert log.count() == TAKES + 1
        assert log.stands()[0].ready_by is not None


def test_takes_before_and_after_a_damaged_page_are_saved(tmp_path: Path) -> None:
    """SQLite keeps rows in pages, in order; a table's leaf begins with 0x0D (sqlite.org, Database File Format, 1.6)."""
    kept = filled(tmp_path, files=False, takes=3 * TAKES)
    path = tmp_path / "practice.sqlite"
    content = bytearray(path.read_bytes())
    size = int.from_bytes(content[16:18], "big")
    in_the_middle = list(kept)[len(kept) // 2].encode()
    (start,) = (
        at for at in range(0, len(content), size) if content[at] == 0x0D and in_the_middle in content[at : at + size]
    )
    order = list(kept)
    lost = [number for number, uid in enumerate(order) if uid.encode() in content[start : start + size]]
    content[start : start + size] = b"\xff" * size
    path.write_bytes(content)
    before, after = order[: lost[0]], order[lost[-1] + 1 :]
    assert before
    assert after
    assert {*before, *after} <= {entry.uid for entry in salvage(path).entries}
    with open_log(tmp_path) as log:
        log.know(PIECE, phrases_of(PIECE))
        found = words(log)
    assert {uid: found.get(uid) for uid in (*before, *after)} == {uid: kept[uid] for uid in (*before, *after)}
    assert not {order[number] for number in lost} & set(found)


@pytest.mark.parametrize("seed", range(12))
def test_whatever_bytes_are_damaged_no_take_with_a_file_is_lost(seed: int, tmp_path: Path) -> None:
    kept = filled(tmp_path)
    path = tmp_path / "practice.sqlite"
    draw = random.Random(seed)
    content = bytearray(path.read_bytes())
    for _ in range(draw.choice((1, 30, 2000))):
        content[draw.randrange(len(content))] = draw.randrange(256)
    path.write_bytes(content)
    with open_log(tmp_path) as log:
        passage = log.know(PIECE, phrases_of(PIECE))[0]
        log.record(entry(passage, at=evening(9)))
        found = words(log)
        assert log.progress(passage).takes > 0
    if aside(tmp_path):
        assert {uid: found.get(uid) for uid in kept} == kept


def test_a_log_that_was_deleted_is_rebuilt(tmp_path: Path) -> None:
    kept = filled(tmp_path)
    for path in tmp_path.glob("practice.sqlite*"):
        path.unlink()
    with open_log(tmp_path) as log:
        assert words(log) == kept
        assert log.notices == [f"{TAKES} takes were put back into the practice log from their own files."]
        assert log.stands()


def test_an_empty_file_is_a_new_log(tmp_path: Path) -> None:
    (tmp_path / "practice.sqlite").touch()
    with open_log(tmp_path) as log:
        assert log.count() == 0
        assert log.notices == []


def test_foreign_and_broken_files_among_the_takes_are_passed_over(tmp_path: Path) -> None:
    kept = filled(tmp_path)
    for path in tmp_path.glob("practice.sqlite*"):
        path.unlink()
    month = next((tmp_path / "takes").iterdir())
    (month / "a.mid").write_bytes(b"MThd\0\0")
    (month / "b.mid").write_bytes(b"")
    (month / "letter.txt").write_text("Dear coach")
    (tmp_path / "takes" / "stray.mid").write_bytes(b"")
    with open_log(tmp_path) as log:
        assert words(log) == kept
