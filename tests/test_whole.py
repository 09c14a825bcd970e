"""Files that are there whole or not at all."""

from __future__ import annotations

import os
import stat
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from coach.whole import write_whole


def test_what_cannot_be_moved_in_leaves_what_was_there_and_nothing_beside(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "settings.json"
    write_whole(path, "vorher: ä")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(OSError, match="No space left"):
        write_whole(path, b"nachher")
    assert path.read_text("utf-8") == "vorher: ä"
    assert list(tmp_path.iterdir()) == [path]


def test_a_name_as_long_as_the_disk_allows_will_do(tmp_path: Path) -> None:
    path = tmp_path / ("n" * 250 + ".abc")
    write_whole(path, "X:1")
    assert path.read_bytes() == b"X:1"


def test_several_writers_never_leave_half_a_file(tmp_path: Path) -> None:
    path = tmp_path / "one.json"
    contents = [bytes([65 + number]) * 200_000 for number in range(4)]

    def write(content: bytes) -> None:
        for _ in range(20):
            write_whole(path, content)

    with ThreadPoolExecutor(len(contents)) as writers:
        writings = [writers.submit(write, content) for content in contents]
        while not all(writing.done() for writing in writings):
            if path.exists():
                assert path.read_bytes() in contents
    # A writer that failed says so here.
    for writing in writings:
        writing.result()
    assert path.read_bytes() in contents
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize(("lasting", "steps"), [(True, ["file", "replace", "folder"]), (False, ["replace"])])
def test_what_is_the_players_is_on_the_disk_before_it_takes_its_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, lasting: bool, steps: list[str]
) -> None:
    """A power cut between the two must not leave an empty file (POSIX `fsync`; the folder's entry has its own)."""
    done: list[str] = []
    sync, replace = os.fsync, os.replace

    def synced(handle: int) -> None:
        done.append("folder" if stat.S_ISDIR(os.fstat(handle).st_mode) else "file")
        sync(handle)

    def replaced(source: Path, target: Path) -> None:
        done.append("replace")
        replace(source, target)

    monkeypatch.setattr(os, "fsync", synced)
    monkeypatch.setattr(os, "replace", replaced)
    write_whole(tmp_path / "one.json", "{}", lasting=lasting)
    assert done == [step for step in steps if step != "folder" or os.name == "posix"]
