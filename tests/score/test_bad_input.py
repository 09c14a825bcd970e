"""Damaged, wrong and hostile files: one clear sentence that names the file, in bounded time and memory."""

from __future__ import annotations

import io
import os
import struct
import tracemalloc
import zipfile
import zlib
from pathlib import Path

import pytest

from coach.errors import CoachError
from coach.score import reading
from coach.score.formats.container import LARGEST_SCORE, MOST_FILES
from coach.score.library import open_piece
from coach.score.reading import LARGEST_TEXT, read_bytes, read_score

NOTE = "<note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration></note>"
SCORE = (
    '<score-partwise><part-list><score-part id="P1"><part-name/></score-part></part-list><part id="P1">'
    f'<measure number="1"><attributes><divisions>1</divisions></attributes>{NOTE}</measure></part></score-partwise>'
)
CONTAINER = '<container><rootfiles><rootfile full-path="{}"/></rootfiles></container>'


def archive(files: dict[str, str | bytes], compression: int = zipfile.ZIP_DEFLATED) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", compression) as out:
        for name, content in files.items():
            out.writestr(name, content)
    return stream.getvalue()


def refused(data: bytes, name: str = "file") -> str:
    """The sentence that a file is refused with: one line that names it."""
    with pytest.raises(CoachError) as caught:
        read_score(data, name, name)
    sentence = str(caught.value)
    assert f'"{name}' in sentence
    assert "\n" not in sentence
    return sentence


LAYERS = "".join(f'<!ENTITY a{n} "&a{n - 1};&a{n - 1};&a{n - 1};&a{n - 1};">' for n in range(1, 20))


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "it is no score that the coach knows"),
        (b"hello, this is a letter", "it is no score that the coach knows (MusicXML, MEI, ABC, Humdrum kern, MIDI)"),
        (b"\x89PNG\r\n\x1a\n" + bytes(40), "it is no score that the coach knows"),
        (b"%PDF-1.7", "it is no score that the coach knows"),
        (SCORE.encode()[:-30], "its XML is damaged or cut short at line 1"),
        (b"<score-partwise", "its XML is damaged or cut short"),
        (b"<html><body/></html>", "it is XML, but no MusicXML score (it starts with <html>)"),
        (b"<score-partwise/>", "it has no notes with a pitch"),
        (b"<mei><meiHead/></mei>", "the MEI document holds no score"),
        (b'<?xml version="1.0" encoding="klingon"?><score-partwise/>', "its text encoding is unknown"),
        (
            f'<!DOCTYPE x [<!ENTITY a0 "ha">{LAYERS}]><score-partwise><work>&a19;</work></score-partwise>'.encode(),
            "it declares XML entities",
        ),
        (
            b'<!DOCTYPE x [<!ENTITY x SYSTEM "file:///etc/passwd">]><score-partwise><work>&x;</work></score-partwise>',
            "it declares XML entities",
        ),
        (b"X:1\nT:No key\nC D E", "it is no score that the coach knows"),
        (b"X:1\nK:C\n", "it has no notes with a pitch"),
        (b"**kern\n*-\n", "it has no notes with a pitch"),
        (b"**kern\t**kern\n4c\n", "line 2 has 1 columns where 2 are open"),
        (b"MThd\0\0\0\6\0\0", "the MIDI file is cut short"),
        (b"MThd" + struct.pack(">IHHH", 6, 0, 1, 480) + b"MTrk\xff\xff\xff\xff", "the MIDI file is cut short"),
        (archive({"a.txt": "x"}), "the archive holds no score"),
        (
            archive({"META-INF/container.xml": CONTAINER.format("gone.xml"), "a.xml": SCORE}),
            "META-INF/container.xml names none",
        ),
        (archive({"META-INF/container.xml": "<container", "a.xml": SCORE}), "its XML is damaged"),
        (archive({"a.xml": SCORE})[:-40], "the archive is damaged or cut short"),
        (b"PK\3\4" + bytes(50), "the archive is damaged or cut short"),
        (archive({f"{n}.txt": "" for n in range(MOST_FILES + 1)}), f"holds more than {MOST_FILES} files"),
    ],
    # An archive has the time in it, and processes that share the tests out have to agree on their names.
    ids=lambda each: each if isinstance(each, str) else "",
)
def test_each_damage_has_its_sentence(data: bytes, said: str) -> None:
    assert said in refused(data)


def test_names_in_an_archive_lead_nowhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Path tricks: nothing inside an archive is ever written to disk, and a score under a tricky name is just read."""
    monkeypatch.chdir(tmp_path)
    tricky = "../../../../outside.xml"
    data = archive({"META-INF/container.xml": CONTAINER.format(tricky), tricky: SCORE, "/etc/evil.xml": SCORE})
    assert len(read_score(data, "x", "x").notes) == 1
    assert list(tmp_path.iterdir()) == []


def test_an_archive_that_unpacks_too_large_is_never_unpacked() -> None:
    """A zip bomb: 200 MB of zeros in 200 kB."""
    data = archive({"META-INF/container.xml": CONTAINER.format("bomb.xml"), "bomb.xml": bytes(200 * 2**20)})
    assert len(data) < 300_000
    tracemalloc.start()
    assert "unpacked it is larger than" in refused(data)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 2 * LARGEST_SCORE


def test_an_archive_that_lies_about_its_size_is_cut_off() -> None:
    """The stated size is small, the content is not; its checksum would come out wrong much later."""
    raw = b"<score-partwise>" + b" " * (LARGEST_SCORE + 2**20)
    data = bytearray(archive({"bomb.xml": raw}))
    for signature, offset in ((b"PK\3\4", 22), (b"PK\1\2", 24)):
        place = data.index(signature) + offset
        data[place : place + 4] = struct.pack("<I", 1000)
    assert "archive is damaged" in refused(bytes(data)) or "larger than" in refused(bytes(data))


def test_a_locked_archive_says_so() -> None:
    data = bytearray(archive({"a.xml": SCORE}))
    for signature, offset in ((b"PK\3\4", 6), (b"PK\1\2", 8)):
        data[data.index(signature) + offset] |= 1
    assert "locked with a password" in refused(bytes(data))


def test_an_archive_in_an_unknown_compression() -> None:
    data = bytearray(archive({"a.xml": SCORE}))
    for signature, offset in ((b"PK\3\4", 8), (b"PK\1\2", 10)):
        data[data.index(signature) + offset] = 77
    assert "the archive is damaged" in refused(bytes(data))


def test_a_hundred_megabytes_are_refused_unread(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "large.xml"
    with path.open("wb") as file:
        file.truncate(100 * 2**20)
    monkeypatch.setattr(Path, "read_bytes", lambda _: pytest.fail("it was read"))
    with pytest.raises(CoachError, match=r'cannot read ".*large.xml": it is larger than 16 MB'):
        open_piece(str(path))


def test_a_tune_book_of_unheard_of_size_is_refused() -> None:
    assert "it is larger than 4 MB" in refused(b"X:1\nK:C\n" + b"C" * LARGEST_TEXT)


@pytest.mark.parametrize(
    "data",
    [
        b"<mei><music><body><mdiv><score><section><measure><staff n='1'><layer>" + b"<beam>" * 50_000,
        b"<mei><music><body><mdiv><score>"
        + b"<section>" * 50_000
        + b"</section>" * 50_000
        + b"</score></mdiv></body></music></mei>",
        b"<score-partwise>" + b"<part>" * 100_000,
    ],
)
def test_deep_nesting_ends_in_a_sentence(data: bytes) -> None:
    refused(data)


BUSY = {
    "Z999|" * 60_000: "more than 5000 bars",
    "[K:[K:" * 200_000: "a chord that is not closed",
    "".join(f"C/{n} " for n in range(2, 9999)): "a rhythm that nobody can count",
    "(9C " * 100_000 + "]": "more than 30000 notes",
    "|:" * 400_000: "no notes with a pitch",
    "[" + "C" * 100_000: "a chord that is not closed",
    "C-" * 40_000 + "}": "more than 30000 notes",
    '"' + "a" * 100_000: "a quotation mark that is not closed",
    "".join(f"[V:{n}]C|" for n in range(5_000)): "more than 40 voices",
    ">" * 100_000: "a broken rhythm without a note before it",
    "w:" + "a-" * 100_000: "no notes with a pitch",
}
"""ABC code, and what is said of it."""


@pytest.mark.parametrize(("code", "said"), BUSY.items(), ids=[code[:8] for code in BUSY])
def test_code_that_is_made_to_keep_a_reader_busy_ends_in_a_sentence(code: str, said: str) -> None:
    """Each of these costs a careless reader minutes or gigabytes; a hang fails the run as a whole."""
    assert said in refused(f"X:1\nL:1/4\nK:C\n{code}\n".encode())


@pytest.mark.parametrize(
    "bars",
    [
        "".join(
            f'<measure number="{n}"><attributes><divisions>{1_000_003 + 2 * n}</divisions></attributes>{NOTE}</measure>'
            for n in range(400)
        ),
        f'<measure number="1"><attributes><divisions>1</divisions></attributes>{NOTE * 70_000}</measure>',
        '<measure number="1"><attributes><divisions>1</divisions></attributes>'
        + (NOTE.replace("<duration>1", "<duration>999999999")) * 3
        + "</measure>",
        '<measure number="1"><attributes><divisions>0.000000001</divisions></attributes>' + NOTE + "</measure>",
        '<measure number="1"><attributes><time><beats>1e999999</beats><beat-type>4</beat-type></time></attributes>'
        + NOTE.replace("<duration>1", "<duration>1e99999999")
        + "</measure>",
    ],
    ids=["changing divisions", "too many notes", "too long notes", "tiny divisions", "exponents"],
)
def test_numbers_without_bounds_end_in_a_sentence(bars: str) -> None:
    refused(f'<score-partwise><part id="P1">{bars}</part></score-partwise>'.encode())


def test_thousands_of_parts_are_refused() -> None:
    parts = "".join(f'<part id="P{n}"><measure number="1">{NOTE}</measure></part>' for n in range(3_000))
    assert "more than 200 parts" in refused(f"<score-partwise>{parts}</score-partwise>".encode())


def test_midi_files_without_bounds_end_in_a_sentence() -> None:
    def track(content: bytes) -> bytes:
        return b"MTrk" + struct.pack(">I", len(content)) + content

    head = b"MThd" + struct.pack(">IHHH", 6, 1, 1, 480)
    assert "more than 128 tracks" in refused(head + track(b"\0\xff\x2f\0") * 200)
    assert "more than 400000 events" in refused(head + track(b"\0\x90\x3c\x40" * 400_001))
    assert refused(head + track(b"\xff\xff\xff\x7f\x90\x3c\x40" * 50 + b"\0\x80\x3c\0"))


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(CoachError, match="it is a folder, not a file"):
        open_piece(str(tmp_path))


def test_a_file_that_may_not_be_read_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Also where the tests run as a user who may read everything."""
    path = tmp_path / "x.abc"
    path.write_text("X:1\nK:C\nC")
    path.chmod(0)
    if os.access(path, os.R_OK):

        def denied(_: Path) -> bytes:
            raise PermissionError(13, "Permission denied")

        monkeypatch.setattr(Path, "read_bytes", denied)
    with pytest.raises(CoachError, match="you are not allowed to open it"):
        read_bytes(path, "x.abc")


def test_an_empty_file_says_so(tmp_path: Path) -> None:
    for content in (b"", b" \n\n", bytes(100)):
        (tmp_path / "empty.mxl").write_bytes(content)
        with pytest.raises(CoachError, match="it is empty"):
            open_piece(str(tmp_path / "empty.mxl"))


def test_a_device_is_no_file() -> None:
    if not Path("/dev/zero").exists():
        pytest.skip("no such device here")
    with pytest.raises(CoachError, match="cannot find"):
        read_bytes(Path("/dev/zero"), "/dev/zero")


def test_what_nobody_foresaw_is_no_traceback_either(monkeypatch: pytest.MonkeyPatch) -> None:
    def surprise(*_: object) -> None:
        raise zlib.error("invalid stored block lengths")

    monkeypatch.setattr(reading, "read_page", surprise)
    assert "damaged in a way that the coach does not understand" in refused(b"anything")


def test_a_title_gives_the_terminal_no_orders() -> None:
    """ECMA-48 control sequences begin with ESC."""
    tune = b"X:1\nT:Red \x1b[31mhymn\nM:4/4\nL:1/4\nK:C\nV:1\nC D E F|]\nV:2\nC C C C|]\n"
    assert read_score(tune, "red.abc", "red").title == "Red [31mhymn"
