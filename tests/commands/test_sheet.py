"""`coach sheet`: the fingered music in each form, and one clear line for whatever goes wrong."""

from __future__ import annotations

import re
import shutil
from io import BytesIO
from pathlib import Path
from xml.etree.ElementTree import fromstring

import mido
import pytest
from sheets import breaches

from coach.cli import main

SHIPPED = Path(__file__).parents[2] / "pieces" / "before-the-tide.musicxml"


@pytest.fixture(autouse=True)
def data_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "home"
    monkeypatch.setenv("COACH_HOME", str(folder))
    monkeypatch.chdir(tmp_path)
    return folder


def wrote(capsys: pytest.CaptureFixture[str], *words: str) -> bytes:
    """What a command that ends in a file's name writes."""
    assert main(["sheet", *words]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    assert out.endswith(f"is written to {words[-1]}\n")
    return Path(words[-1]).read_bytes()


def refused(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    """The one line that a refused command prints."""
    code = main(["sheet", *words])
    out, err = capsys.readouterr()
    assert (code, out) == (2, "")
    assert err.count("\n") == 1
    assert "Traceback" not in err
    return err


def fingers(document: bytes) -> int:
    return len(list(fromstring(document).iter("fingering")))


@pytest.mark.parametrize("name", ["sheet.musicxml", "sheet.xml", "SHEET.MusicXML"])
def test_musicxml_is_written_by_its_ending(capsys: pytest.CaptureFixture[str], name: str) -> None:
    document = wrote(capsys, "before-the-tide", "-o", name)
    assert not breaches(document)
    assert fingers(document) > 50


def test_a_page_to_print_has_music_tables_and_reasons(capsys: pytest.CaptureFixture[str]) -> None:
    page = wrote(capsys, "before-the-tide", "-o", "sheet.html").decode()
    assert page.startswith("<!DOCTYPE html>")
    for part in ("<svg", "<pre>", "the right hand takes it", "Never force a stretch"):
        assert part in page


def test_a_page_of_several_pages_of_music_has_each_name_once(capsys: pytest.CaptureFixture[str]) -> None:
    """No two elements of a document have the same id (HTML Living Standard, 3.2.6)."""
    path = Path(__file__).parents[1] / "data" / "fingerings" / "burgmuller-op100-9.musicxml"
    page = wrote(capsys, str(path), "--fingers", "none", "-o", "sheet.html").decode()
    assert page.count("<figure>") > 2
    names = re.findall(r'\sid="([^"]+)"', page)
    assert len(names) == len(set(names))


def test_music_alone_is_a_drawing(capsys: pytest.CaptureFixture[str]) -> None:
    root = fromstring(wrote(capsys, "before-the-tide", "-o", "sheet.svg"))
    assert root.tag == "{http://www.w3.org/2000/svg}svg"


def test_sound_is_a_midi_file_that_the_coach_hears_as_solid(capsys: pytest.CaptureFixture[str]) -> None:
    data = wrote(capsys, "before-the-tide", "-o", "sheet.mid")
    assert len(mido.MidiFile(file=BytesIO(data)).tracks) == 3
    assert main(["check", "before-the-tide", "sheet.mid"]) == 0
    assert "solid" in capsys.readouterr().out


def test_fewer_fingers_or_none_are_written_when_asked(capsys: pytest.CaptureFixture[str]) -> None:
    counts = [
        fingers(wrote(capsys, "before-the-tide", "--fingers", which, "-o", "sheet.musicxml"))
        for which in ("all", "changes", "none")
    ]
    assert counts[0] > counts[1] > counts[2] == 0


def test_one_phrase_one_hand_span_and_some_voices(capsys: pytest.CaptureFixture[str]) -> None:
    whole = fromstring(wrote(capsys, "before-the-tide", "-o", "sheet.musicxml"))
    phrase = fromstring(wrote(capsys, "before-the-tide", "--phrase", "2", "-o", "sheet.musicxml"))
    outer = fromstring(wrote(capsys, "before-the-tide", "--voices", "SB", "-o", "sheet.musicxml"))
    counts = [len(list(root.iter("pitch"))) for root in (whole, phrase, outer)]
    assert counts[1] < counts[0] / 2
    assert counts[2] == counts[0] / 2
    text = wrote(capsys, "wide-water", "--span", "240", "-o", "sheet.html").decode()
    assert "240 mm" in text


def test_the_players_choices_are_on_the_sheet(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", "before-the-tide", "--fix", "0:4 soprano 5"]) == 0
    capsys.readouterr()
    root = fromstring(wrote(capsys, "before-the-tide", "-o", "sheet.musicxml"))
    first = next(note for note in root.iter("note") if note.find("pitch") is not None)
    assert first.findtext("notations/technical/fingering") == "5"


@pytest.mark.parametrize("name", ["sheet.pdf", "sheet", "-", ""])
def test_an_ending_that_says_nothing_is_refused(capsys: pytest.CaptureFixture[str], name: str) -> None:
    assert "let it end in .html, .svg, .musicxml or .mid" in refused(capsys, "before-the-tide", "-o", name)


def test_a_file_has_to_be_named(capsys: pytest.CaptureFixture[str]) -> None:
    assert "-o" in refused(capsys, "before-the-tide")


def test_the_piece_itself_is_never_written_over(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    own = tmp_path / "hymn.musicxml"
    shutil.copy(SHIPPED, own)
    (tmp_path / "link.musicxml").symlink_to(own)
    before = own.read_bytes()
    for target in ("hymn.musicxml", "./hymn.musicxml", "link.musicxml"):
        assert "is the piece itself" in refused(capsys, "hymn.musicxml", "-o", target)
    assert own.read_bytes() == before


def test_a_folder_that_is_not_there_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert 'cannot write "' in refused(capsys, "before-the-tide", "-o", "nowhere/sheet.html")
    assert not Path("nowhere").exists()


def test_what_was_there_stays_where_nothing_can_be_planned(capsys: pytest.CaptureFixture[str]) -> None:
    Path("sheet.html").write_text("mine")
    assert "there is no phrase 99" in refused(capsys, "before-the-tide", "--phrase", "99", "-o", "sheet.html")
    assert Path("sheet.html").read_text() == "mine"
    assert [path.name for path in Path().iterdir() if path.name.startswith(".writing")] == []


@pytest.mark.parametrize(
    ("words", "command"),
    [
        (["sheet", "wide-water", "--printed-fingers", "keep", "-o", "hymn.svg"], "coach sheet"),
        (["plan", "wide-water", "before-the-tide"], "coach plan"),
        (["pieces", "transpose", "wide-water", "up", "--to", "F"], "coach pieces transpose"),
    ],
)
def test_a_word_too_many_is_told_with_the_command_whose_help_names_the_right_ones(
    words: list[str], command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(words) == 2
    said = capsys.readouterr().err
    assert said.startswith("coach: unrecognized arguments: ")
    assert said.endswith(f"(see {command} -h)\n")
