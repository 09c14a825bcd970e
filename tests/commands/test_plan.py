"""`coach plan`: the table, the JSON form, one phrase, and one clear line for whatever goes wrong."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from plan_checker import faults

from coach.cli import main
from coach.fingering.plan import Plan
from coach.score.library import open_piece

SHIPPED = "between-two-banks"

NO_NOTES = """<?xml version="1.0" encoding="UTF-8"?>
<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Silence</part-name></score-part></part-list>
<part id="P1"><measure number="1"><attributes><divisions>1</divisions></attributes>
<note><rest/><duration>4</duration></note></measure></part></score-partwise>
"""


@pytest.fixture(autouse=True)
def data_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "home"
    monkeypatch.setenv("COACH_HOME", str(folder))
    return folder


def plan_json(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, Any]:
    assert main(["plan", *words, "--json"]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    return json.loads(out)  # type: ignore[no-any-return]


def refused(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    """The one line that a refused command prints."""
    try:
        code = main(["plan", *words])
    except SystemExit as leaving:
        code = int(leaving.code or 0)
    out, err = capsys.readouterr()
    assert code == 2
    assert out == ""
    assert err.endswith("\n")
    assert err.count("\n") == 1, err
    assert "Traceback" not in err
    return err


# The JSON form.


def test_the_json_form_keeps_its_contract(capsys: pytest.CaptureFixture[str]) -> None:
    form = plan_json(capsys, SHIPPED)
    assert set(form["piece"]) >= {"title", "source", "voices"}
    assert form["piece"]["source"] == SHIPPED
    assert form["piece"]["voices"] == 4
    assert set(form["hand"]) >= {"span_mm", "reach", "reach_mm"}
    assert form["effort"] > 0
    for phrase in form["phrases"]:
        assert set(phrase) >= {"number", "bars", "onset", "end", "why_it_ends", "chords"}
        for chord in phrase["chords"]:
            assert set(chord) >= {"onset", "duration", "bar", "beat", "distribution", "notes", "right", "left"}
            assert re.fullmatch(r"\d\+\d", chord["distribution"])
            for note in chord["notes"]:
                assert set(note) >= {
                    *("voice", "onset", "duration", "pitch", "midi", "written_midi"),
                    *("struck", "hand", "finger", "why"),
                }
            for side in ("right", "left"):
                assert chord[side] is None or set(chord[side]) >= {"after", "group", "why"}


def test_the_plan_can_be_played(capsys: pytest.CaptureFixture[str]) -> None:
    form = plan_json(capsys, SHIPPED)
    assert faults(form, open_piece(SHIPPED).notes) == []


def test_the_json_form_can_be_read_back(capsys: pytest.CaptureFixture[str]) -> None:
    form = plan_json(capsys, SHIPPED)
    assert json.loads(json.dumps(Plan.from_json(form).to_json())) == form


def test_one_phrase(capsys: pytest.CaptureFixture[str]) -> None:
    whole = plan_json(capsys, SHIPPED)
    second = plan_json(capsys, SHIPPED, "--phrase", "2")
    assert [phrase["number"] for phrase in second["phrases"]] == [2]
    assert second["phrases"][0] == whole["phrases"][1]


def test_a_larger_span_is_no_harder(capsys: pytest.CaptureFixture[str]) -> None:
    small, large = (plan_json(capsys, SHIPPED, "--span", span) for span in ("190", "226"))
    assert (small["hand"]["reach"], large["hand"]["reach"]) == ("octave", "tenth")
    assert large["effort"] <= small["effort"]


def test_hands_of_different_spans(capsys: pytest.CaptureFixture[str]) -> None:
    form = plan_json(capsys, SHIPPED, "--span-right", "226", "--span-left", "180")
    assert form["hand"]["span_mm"] == 180
    assert main(["plan", SHIPPED, "--span-right", "226", "--span-left", "180"]) == 0
    heading = " ".join(capsys.readouterr().out.split("\n\n")[0].split())
    told = "for a right hand of 226 mm that reaches a tenth and a left hand of 180 mm that reaches an octave"
    assert form["hands"] in told
    assert told in heading


@pytest.mark.parametrize("way_out", ["raise", "roll", "omit"])
def test_the_way_out_that_the_player_prefers(capsys: pytest.CaptureFixture[str], way_out: str) -> None:
    form = plan_json(capsys, "the-bell-above-the-reeds", "--way-out", way_out)
    notes = [note for phrase in form["phrases"] for chord in phrase["chords"] for note in chord["notes"]]
    done = {
        "raise": sum(note["struck"] and note["midi"] != note["written_midi"] for note in notes),
        "roll": sum(note["rolled"] for note in notes),
        "omit": sum(note["struck"] and note["hand"] is None for note in notes),
    }
    assert done[way_out] > 0
    assert done[way_out] == max(done.values())


def test_hands_as_written_follow_the_staves(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "two staves.musicxml"
    path.write_text(TWO_STAVES, "utf-8")
    form = plan_json(capsys, str(path), "--hands", "as-written")
    notes = form["phrases"][0]["chords"][0]["notes"]
    assert {(note["pitch"], note["hand"]) for note in notes} == {("E4", "right"), ("C4", "left"), ("C3", "left")}


TWO_STAVES = """<?xml version="1.0" encoding="UTF-8"?>
<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Piano</part-name></score-part></part-list>
<part id="P1"><measure number="1">
<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time><staves>2</staves>
<clef number="1"><sign>G</sign><line>2</line></clef><clef number="2"><sign>F</sign><line>4</line></clef></attributes>
<note><pitch><step>E</step><octave>4</octave></pitch><duration>4</duration><voice>1</voice><type>whole</type>
<staff>1</staff></note><backup><duration>4</duration></backup>
<note><pitch><step>C</step><octave>3</octave></pitch><duration>4</duration><voice>2</voice><type>whole</type>
<staff>2</staff></note>
<note><chord/><pitch><step>C</step><octave>4</octave></pitch><duration>4</duration><voice>2</voice><type>whole</type>
<staff>2</staff></note></measure></part></score-partwise>
"""


# The table.


def test_the_table_fits_80_columns_and_the_reasons_follow(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", SHIPPED]) == 0
    out, err = capsys.readouterr()
    lines = out.splitlines()
    assert err == ""
    assert max(len(line) for line in lines) <= 80
    assert [line for line in lines if line.startswith("Phrase 1")]
    for row in ("S", "A", "T", "B", "RH", "LH", "bar"):
        assert any(line.split()[:1] == [row] for line in lines), row
    assert any(line.startswith("bar 1, beat 1:") for line in lines)


def test_the_table_of_one_phrase(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", SHIPPED, "--phrase", "2"]) == 0
    out = capsys.readouterr().out
    assert "Phrase 2" in out
    assert "Phrase 1" not in out


def test_the_caution_stands_where_stretches_are_planned(capsys: pytest.CaptureFixture[str]) -> None:
    """Playing can strain a hand."""
    assert main(["plan", SHIPPED, "--span", "226"]) == 0
    assert "Never force a stretch" in " ".join(capsys.readouterr().out.split())


# What goes wrong.


@pytest.mark.parametrize("name", ["no such piece", "corpus:bach/bwv9999", "corpus:", "no/such/file.musicxml", ""])
def test_an_unknown_piece(capsys: pytest.CaptureFixture[str], name: str) -> None:
    assert name in refused(capsys, name)


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("noise.musicxml", b"\x00\xff\xfe nothing of a score"),
        ("cut off.musicxml", NO_NOTES.encode()[:200]),
        ("noise.mxl", b"PK\x03\x04 no archive"),
        ("noise.mid", b"MThd\x00\x00"),
        ("empty.musicxml", b""),
        ("words.txt", b"Now thank we all"),
        ("page.xml", b"<html><body/></html>"),
    ],
)
def test_an_unreadable_file(capsys: pytest.CaptureFixture[str], tmp_path: Path, name: str, content: bytes) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    assert name in refused(capsys, str(path))


def test_a_file_that_may_not_be_read(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "locked.musicxml"
    path.write_text(TWO_STAVES, "utf-8")
    path.chmod(0)
    if os.access(path, os.R_OK):
        pytest.skip("this user may read everything")
    assert "locked.musicxml" in refused(capsys, str(path))


def test_a_folder(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert "folder" in refused(capsys, str(tmp_path))


def test_a_file_without_notes(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "silence.musicxml"
    path.write_text(NO_NOTES, "utf-8")
    assert "no notes" in refused(capsys, str(path))


@pytest.mark.parametrize("number", ["0", "-1", "5", "99"])
def test_a_phrase_out_of_range(capsys: pytest.CaptureFixture[str], number: str) -> None:
    line = refused(capsys, SHIPPED, "--phrase", number)
    assert f"no phrase {number}" in line
    assert "4 phrases" in line


@pytest.mark.parametrize("span", ["149.9", "300.1", "0", "-208", "nan", "inf", "21"])
def test_a_span_that_is_no_hands(capsys: pytest.CaptureFixture[str], span: str) -> None:
    assert "150 to 300 mm" in refused(capsys, SHIPPED, f"--span={span}")


@pytest.mark.parametrize(
    "words",
    [
        [SHIPPED, "--span", "wide"],
        [SHIPPED, "--phrase", "two"],
        [SHIPPED, "--hands", "crossed"],
        [SHIPPED, "--way-out", "skip"],
        [SHIPPED, "--phrase"],
        [SHIPPED, "--no-such-option"],
        [SHIPPED, "another piece"],
        [],
    ],
)
def test_words_that_the_command_does_not_know(capsys: pytest.CaptureFixture[str], words: list[str]) -> None:
    assert refused(capsys, *words)


# As a program.


def coach(*words: str, home: Path, encoding: str = "utf-8") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "coach.cli", *words],
        capture_output=True,
        encoding=encoding,
        env={**os.environ, "COACH_HOME": str(home), "PYTHONIOENCODING": encoding},
        timeout=120,
        check=False,
    )


def test_from_the_shell(data_folder: Path) -> None:
    done = coach("plan", SHIPPED, "--phrase", "1", "--json", home=data_folder)
    assert (done.returncode, done.stderr) == (0, "")
    assert json.loads(done.stdout)["phrases"][0]["number"] == 1
    failed = coach("plan", "no such piece", home=data_folder)
    assert (failed.returncode, failed.stdout) == (2, "")
    assert failed.stderr.startswith("coach: ")
    assert failed.stderr.count("\n") == 1


@pytest.mark.parametrize("encoding", ["ascii", "cp437"])
def test_where_the_signs_cannot_be_written(data_folder: Path, encoding: str) -> None:
    """Old terminals and redirected output: the same table in the same places, in plain signs."""
    full = coach("plan", SHIPPED, "--phrase", "1", "--alternatives", home=data_folder)
    done = coach("plan", SHIPPED, "--phrase", "1", "--alternatives", home=data_folder, encoding=encoding)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.isascii()
    rows, plain_rows = (re.findall(r"^  [SATB] .*$", one.stdout, re.MULTILINE) for one in (full, done))
    assert [len(row) for row in plain_rows] == [len(row) for row in rows]
    assert "♯" in full.stdout
    failed = coach("plan", "Ñandú", home=data_folder, encoding=encoding)
    assert failed.returncode == 2
    assert failed.stderr.startswith('coach: cannot find "')
    assert json.loads(coach("plan", SHIPPED, "--json", home=data_folder, encoding=encoding).stdout)


def test_a_known_piece_is_planned_without_loading_music21(data_folder: Path) -> None:
    """It is slow to load; a piece once read is kept."""
    code = (
        "import sys; from coach.cli import main; main(['plan', 'corpus:bach/bwv269', '--phrase', '1', '--json']);"
        "sys.exit('music21' in sys.modules)"
    )
    environment = {**os.environ, "COACH_HOME": str(data_folder)}
    for _ in range(2):
        done = subprocess.run(
            [sys.executable, "-c", code], capture_output=True, env=environment, timeout=120, check=False
        )
    assert done.returncode == 0


def test_help_names_what_the_command_takes(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as leaving:
        main(["plan", "-h"])
    assert leaving.value.code == 0
    out = capsys.readouterr().out
    for word in ("PIECE", "--phrase", "--hands", "--span", "--plain", "--voices", "--pedal", "--json"):
        assert word in out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--span", "20cm"), 'argument --span: "20cm" is no length: give mm, as in 208, or inches, as in 8.2in'),
        (("--phrase", "two"), 'argument --phrase: "two" is no whole number'),
    ],
)
def test_what_is_no_number_is_told_in_words_for_a_pianist(
    words: tuple[str, ...], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["plan", "wide-water", *words]) == 2
    assert capsys.readouterr().err == f"coach: {said} (see coach plan -h)\n"


@pytest.mark.parametrize("typed", ["208.3", "208,3", "8.2in", '8,2"', "208.3 mm"])
def test_a_span_is_typed_as_in_the_app(typed: str, capsys: pytest.CaptureFixture[str]) -> None:
    """An inch is 25.4 mm (International yard and pound agreement, 1959)."""
    assert main(["plan", "wide-water", "--phrase", "1", "--span", typed]) == 0
    assert "for a hand of 208.3 mm" in capsys.readouterr().out
