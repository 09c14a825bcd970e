"""What a file holds is told by its content, and its ending by that. Standards: XML 1.0, section 2.8 (prolog)."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from coach import places
from coach.score.formats.content import content_of, fitting_ending
from coach.score.library import SUFFIXES
from coach.score.shelf import take_in

KERN = b"**kern\n*M4/4\n4c\n*-\n"
ABC = b"X:1\nT:a **kern remark\nK:C\nC|\n"
MEI = b'<mei xmlns="http://www.music-encoding.org/ns/mei"/>'
MUSICXML = b"<score-partwise/>"


@pytest.mark.parametrize(
    ("data", "content"),
    [
        (KERN, "kern"),
        (ABC, "abc"),
        (b"\xef\xbb\xbf" + ABC, "abc"),
        (ABC.decode().encode("utf-16"), "abc"),
        (MEI, "mei"),
        (b" \n<?xml version='1.0'?>\n<!-- <score-partwise> -->\n<?a b?><m:music xmlns:m='x'/>", "mei"),
        (MUSICXML, "musicxml"),
        (b"<?xml version='1.0'?><!DOCTYPE score-partwise SYSTEM 'y' [<!-- <mei> -->]>" + MUSICXML, "musicxml"),
        (MEI.decode().encode("utf-16-be"), "mei"),
        (b"<!-- <mei> -->" + MUSICXML, "musicxml"),
        (b"<html/>", "musicxml"),
        (b"PK\x03\x04", "mxl"),
        (b"MThd\0\0", "midi"),
        (b"RIFF\0\0\0\0RMIDdata\0\0\0\0MThd", "rmi"),
        (b"RIFF\0\0\0\0WAVEfmt ", None),
        (b"words", None),
        (b"", None),
    ],
)  # fmt: skip
def test_what_a_file_holds(data: bytes, content: str | None) -> None:
    assert content_of(data) == content


@pytest.mark.parametrize(
    ("data", "suffix", "ending"),
    [
        (KERN, ".abc", ".krn"),
        (KERN, ".txt", ".krn"),
        (ABC, ".krn", ".abc"),
        (MEI, ".musicxml", ".mei"),
        (MEI, ".xml", ".xml"),
        (MUSICXML, ".mei", ".musicxml"),
        (MUSICXML, ".xml", ".xml"),
        (b"MThd\0\0", ".midi", ".midi"),
        (b"PK\x03\x04", ".zip", ".mxl"),
    ],
)
def test_the_content_decides_which_ending_fits(data: bytes, suffix: str, ending: str) -> None:
    assert fitting_ending(data, suffix) == ending
    assert ending in SUFFIXES


def test_a_file_with_the_ending_of_another_kind_comes_to_the_shelf_with_its_own(tmp_path: Path) -> None:
    source = tmp_path / "evening.abc"
    source.write_bytes(b"**kern\n*M4/4\n=1\n4c\n4d\n4e\n4f\n==\n*-\n")
    assert [taken.outcome for taken in take_in([str(source)])] == ["added"]
    assert [path.name for path in places.shelf().iterdir()] == ["evening.krn"]


def test_many_signs_before_the_first_element_cost_no_time() -> None:
    """Each can be told in one way only, however many there are."""
    began = time.perf_counter()
    assert content_of(b"<?a?>" * 20_000 + b"<") == "musicxml"
    assert time.perf_counter() - began < 1
