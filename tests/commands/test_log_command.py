"""`coach log`: the record printed, taken along and taken in."""

from __future__ import annotations

import csv
import json
import re
import subprocess
import sys
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from practising import cut, entry, evening, hymn, phrases_of

from coach.cli import main
from coach.practice import days
from coach.practice.ladder import NO_FINGERS, RIGHT, TOGETHER
from coach.practice.log import Log
from coach.practice.music import open_music
from coach.practice.passage import passages_of
from coach.practice.schedule import today
from coach.practice.spelling import Answer, Spelled
from coach.settings import load, save

PIECE = hymn()


@pytest.fixture(autouse=True)
def data_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    return tmp_path


def practise() -> None:
    """A little practice today and long ago."""
    now = days.now() - timedelta(minutes=1)
    with Log.open() as log:
        first, second, *_ = log.know(PIECE, phrases_of(PIECE))
        log.record(entry(first, RIGHT, "solid", at=now - timedelta(days=60)))
        log.record(entry(first, TOGETHER, "shaky", at=now, chosen=True))
        log.record(
            entry(
                second, NO_FINGERS, "weak", at=now + timedelta(seconds=30), quarter_bpm=66.0, reached=second.onset + 3
            )
        )


def test_an_empty_record_says_so(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["log"]) == 0
    assert capsys.readouterr().out == "Nothing has been practised yet.\n"


def test_the_record_is_printed_day_by_day_with_how_each_phrase_stands(capsys: pytest.CaptureFixture[str]) -> None:
    practise()
    assert main(["log"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].endswith(", less than 1 minute played")
    assert lines[1].endswith("shaky  Harbour hymn, phrase 1: together, chosen")
    assert lines[2].endswith("weak   Harbour hymn, phrase 2: no fingers at 66 of 72, broken off")
    assert "1 take of earlier days: coach log --all" in lines
    assert lines[-1] == "Harbour hymn  phrase 1 shaky; phrase 2 weak; phrases 3 and 4 new"


def test_a_day_has_the_minutes_that_the_screens_show(capsys: pytest.CaptureFixture[str]) -> None:
    """Takes with the rests between them, as they are counted against the day's minutes."""
    with Log.open() as log:
        passage = log.know(PIECE, phrases_of(PIECE))[0]
        for minute in range(12):
            at = days.now() - timedelta(minutes=90 - minute)
            log.record(entry(passage, TOGETHER, "shaky", at=at, seconds=20.0))
        told = days.minutes_told(today(log).played)
    assert told == "11"
    assert main(["log"]) == 0
    assert capsys.readouterr().out.splitlines()[0].endswith(f", {told} minutes played")


def test_pieces_of_one_title_are_told_apart(capsys: pytest.CaptureFixture[str]) -> None:
    with Log.open() as log:
        for seed, source in ((1, "Evening Hymn"), (2, "Evening Hymn (2)")):
            piece = replace(hymn(seed=seed, title="Evening Hymn"), source=source)
            passage = log.know(piece, phrases_of(piece))[0]
            at = days.now() - timedelta(minutes=3 - seed)
            log.record(entry(passage, TOGETHER, "shaky", at=at, title="Evening Hymn", source=source))
    assert main(["log"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line.split("  ")[-1] for line in lines[1:3]] == [
        "Evening Hymn, phrase 1: together",
        "Evening Hymn (2), phrase 1: together",
    ]
    assert lines[-2:] == [
        "Evening Hymn      phrase 1 shaky; phrases 2, 3 and 4 new",
        "Evening Hymn (2)  phrase 1 shaky; phrases 2, 3 and 4 new",
    ]


def test_what_was_spelled_is_printed_apart_from_what_was_played(capsys: pytest.CaptureFixture[str]) -> None:
    practise()
    passage = passages_of(PIECE, phrases_of(PIECE))[0]
    answers = (Answer(1, "531", "531", True), Answer(2, "42", "41", False))
    now = days.now()
    with Log.open() as log:
        log.keep_spelling(Spelled("7" * 32, now, days.practice_day(now), passage, PIECE.title, "right", "", answers))
        log.set_state(passage.piece, "in practice")
    assert main(["log"]) == 0
    lines = capsys.readouterr().out.splitlines()
    said = "Harbour hymn, phrase 1: spelled away from the piano by the right hand, 1 of 2 chords as planned"
    assert lines[3].endswith(said)
    assert lines[0].endswith(", less than 1 minute played")
    assert lines[-1] == "Harbour hymn  phrase 1 shaky; phrase 2 weak; phrases 3 and 4 new"


def test_takes_of_a_clock_that_ran_ahead_are_said_to_wait(capsys: pytest.CaptureFixture[str]) -> None:
    practise()
    with Log.open() as log:
        first, *_ = log.know(PIECE, phrases_of(PIECE))
        log.record(entry(first, RIGHT, "solid", at=days.now() + timedelta(days=90)))
    assert main(["log"]) == 0
    headings = [line for line in capsys.readouterr().out.splitlines() if "minute" in line]
    waiting = " (the clock was ahead: this counts once that day has come)"
    assert [line.endswith(waiting) for line in headings] == [False, True]


def test_a_date_is_printed_with_its_forecast(capsys: pytest.CaptureFixture[str]) -> None:
    practise()
    mark = passages_of(PIECE, phrases_of(PIECE))[0].piece
    with Log.open() as log:
        log.set_date(mark, days.now() + timedelta(hours=1))
    assert main(["log"]) == 0
    *_, said, chance = capsys.readouterr().out.splitlines()
    assert said.strip().startswith("At the present pace 3 of 4 phrases will be ready by")
    assert re.search(r"chance on \w+ \d\d:\d\d: 1 \d+ %, 2 \d+ %, 3 \d+ %, 4 \d+ %$", chance)


def test_a_history_of_other_boundaries_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    practise()
    with Log.open() as log:
        log.know(PIECE, cut(7, 16, 24, 32))
    assert main(["log"]) == 0
    assert "phrase 1: history of phrase 1 as it was cut before (bars 1-2)" in capsys.readouterr().out


def test_all_days_and_a_number_of_days(capsys: pytest.CaptureFixture[str]) -> None:
    practise()
    assert main(["log", "--all"]) == 0
    assert "phrase 1: right hand" in capsys.readouterr().out
    assert main(["log", "--days", "61"]) == 0
    assert "phrase 1: right hand" in capsys.readouterr().out
    assert main(["log", "--days", "0"]) == 2
    assert capsys.readouterr().err.startswith("coach: --days takes a number of days")


def test_csv_and_json_hold_every_take(data_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    practise()
    assert main(["log", "--csv", str(data_folder / "log.csv")]) == 0
    assert main(["log", "--json", str(data_folder / "log.json")]) == 0
    rows = list(csv.reader((data_folder / "log.csv").open(encoding="utf-8", newline="")))
    assert len(rows) == 4
    assert len(json.loads((data_folder / "log.json").read_text("utf-8"))["takes"]) == 3
    assert main(["log", "--json", "-"]) == 0
    assert len(json.loads(capsys.readouterr().out)["takes"]) == 3


def test_another_record_is_taken_in_once(data_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    practise()
    main(["log", "--json", str(data_folder / "log.json")])
    for path in data_folder.glob("practice.sqlite*"):
        path.unlink()
    assert main(["log", "--merge", str(data_folder / "log.json")]) == 0
    assert main(["log", "--merge", str(data_folder / "log.json")]) == 0
    first, where, again, _ = capsys.readouterr().out.splitlines()
    assert (first, again) == ("3 takes taken in, 0 known already.", "0 takes taken in, 3 known already.")
    assert where == '"Harbour hymn" is not on this shelf: add it to go on practising it here.'


def test_pieces_of_another_record_that_are_on_the_shelf_go_on_here(
    data_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with Log.open() as log:
        music = open_music("wide-water")
        passage = log.know(music.piece, music.phrases)[0]
        log.record(entry(passage, at=evening(0)))
    main(["log", "--json", str(data_folder / "log.json")])
    for path in data_folder.glob("practice.sqlite*"):
        path.unlink()
    assert main(["log", "--merge", str(data_folder / "log.json")]) == 0
    assert capsys.readouterr().out == "1 take taken in, 0 known already.\n"
    with Log.open() as log:
        assert log.source(passage.piece) == "wide-water"
        new = [row.passage.first for row in today(log).rows if row.kind == "new"]
    assert new == [2, 3, 4]


def test_somebody_else_s_record_is_read_and_left_alone(data_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    practise()
    main(["log", "--json", str(data_folder / "log.json")])
    for path in data_folder.glob("practice.sqlite*"):
        path.unlink()
    assert main(["log", "--of", str(data_folder / "log.json")]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[2].endswith("phrase 2: no fingers at 66 of 72, broken off")
    assert f"1 take of earlier days: coach log --of {data_folder / 'log.json'} --all" in lines
    assert lines[-1] == "Harbour hymn  phrase 1 shaky; phrase 2 weak; phrases 3 and 4 new"
    assert main(["log", "--of", str(data_folder / "log.json"), "--all"]) == 0
    assert "phrase 1: right hand" in capsys.readouterr().out
    assert main(["log"]) == 0
    assert capsys.readouterr().out == "Nothing has been practised yet.\n"


@pytest.mark.parametrize("form", ["json", "sqlite"])
def test_a_teacher_reads_of_dates_chances_and_reviews_what_the_student_reads(
    form: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A date that cannot be met, for phrases never played are in no take; one that can; a piece without one."""
    now, record = days.now(), tmp_path / "record.json" if form == "json" else tmp_path / "practice.sqlite"
    if form == "json":
        save(replace(load(), minutes=60))
    with Log.open() as log:
        for number in range(3):
            piece = hymn(24 if number == 0 else 2, seed=number, title=f"Hymn {number}")
            known = log.know(piece, phrases_of(piece))
            for passage in known[:2]:
                for minute, step in enumerate(log.steps(passage)[:-2]):
                    at = now - timedelta(days=9 - 4 * number, minutes=60 - minute)
                    log.record(entry(passage, step, at=at, title=piece.title, source=piece.source))
            if number < 2:
                log.set_date(known[0].piece, now + timedelta(days=1 + 9 * number))
    if form == "json":
        assert main(["log", "--json", str(record)]) == 0
    assert main(["log", "--all"]) == 0
    own = capsys.readouterr().out
    assert own.count("chance on") == 2
    assert "At the present pace" in own
    assert "On the way to" in own
    assert len(re.findall(r"^ +(?:a review is due (?:since|today)|next review due) ?(?:\w+ \d+ \w+)?$", own, re.M)) == 3
    monkeypatch.setenv("COACH_HOME", str(tmp_path / "teacher"))
    assert main(["log", "--of", str(record), "--all"]) == 0
    assert capsys.readouterr().out == own


@pytest.mark.parametrize("option", ["--csv", "--json"])
def test_a_place_that_cannot_be_written_is_one_sentence(
    option: str, data_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    practise()
    assert main(["log", option, str(data_folder / "no" / "folder" / "x")]) == 2
    error = capsys.readouterr().err
    assert error.startswith("coach: cannot write")
    assert error.count("\n") == 1


def test_a_file_that_is_no_record_is_one_sentence(data_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (data_folder / "letter.txt").write_text("Dear coach")
    for option in ("--merge", "--of"):
        assert main(["log", option, str(data_folder / "letter.txt")]) == 2
        assert capsys.readouterr().err == 'coach: cannot read "letter.txt": it is no practice log (not JSON)\n'


def test_an_export_that_fails_leaves_the_file_that_was_there(
    data_folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    practise()
    path = data_folder / "log.csv"
    path.write_text("kept")

    def no_room(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("coach.practice.exchange.write_csv", no_room)
    assert main(["log", "--csv", str(path)]) == 2
    assert path.read_text() == "kept"
    assert "No space left" in capsys.readouterr().err
    assert [one.name for one in data_folder.iterdir() if one.name.startswith(".log")] == []


def test_a_mended_log_says_so_before_it_is_printed(data_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (data_folder / "practice.sqlite").write_bytes(b"no database at all " * 50)
    assert main(["log"]) == 0
    said = capsys.readouterr()
    assert said.err.startswith("coach: The practice log was damaged and has been set aside as")
    assert said.out == "Nothing has been practised yet.\n"


def test_a_reader_that_goes_away_is_no_error(data_folder: Path) -> None:
    practise()
    command = f"{sys.executable} -m coach.cli log --json - | head -c 1"
    done = subprocess.run(["bash", "-c", command], capture_output=True, text=True, timeout=60)
    assert done.stderr == ""


def test_what_a_link_points_to_is_written_and_not_the_link(tmp_path: Path) -> None:
    real, link = tmp_path / "real.json", tmp_path / "link.json"
    real.write_text("old", "utf8")
    link.symlink_to(real)
    assert main(["log", "--json", str(link)]) == 0
    assert link.is_symlink()
    assert json.loads(real.read_text("utf8"))["takes"] == []


@pytest.mark.parametrize("way", ["--csv", "--json", "--merge", "--of"])
def test_an_empty_name_is_no_file(way: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["log", way, ""]) == 2
    assert capsys.readouterr().err == f"coach: {way} takes the name of a file\n"


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_disk_is_said_in_one_line() -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "coach.cli", "log", "--json", "-"],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert (done.returncode, done.stderr) == (2, "coach: No space left on device\n")


def test_breaking_off_is_no_traceback(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    def broken_off(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Log, "open", broken_off)
    assert main(["log"]) == 130
    assert capsys.readouterr().err == "\n"


def test_spellings_that_are_taken_in_are_counted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    passage, now = passages_of(PIECE, phrases_of(PIECE))[0], days.now()
    with Log.open() as log:
        spelled = Spelled("7" * 32, now, days.practice_day(now), passage, PIECE.title, "right", "", ())
        log.keep_spelling(spelled)
    record = tmp_path / "record.json"
    main(["log", "--json", str(record)])
    monkeypatch.setenv("COACH_HOME", str(tmp_path / "elsewhere"))
    main(["log", "--merge", str(record)])
    assert capsys.readouterr().out == "0 takes taken in, 0 known already; 1 spelling taken in.\n"


def test_more_days_than_the_calendar_has_are_all_days(capsys: pytest.CaptureFixture[str]) -> None:
    practise()
    assert main(["log", "--days", "1000000"]) == 0
    assert capsys.readouterr().out.count("Harbour hymn, phrase") == 3


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
def test_links_that_lead_round_in_a_circle_are_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "one").symlink_to(tmp_path / "other")
    (tmp_path / "other").symlink_to(tmp_path / "one")
    assert main(["log", "--json", str(tmp_path / "one")]) == 2
    said = capsys.readouterr().err
    assert "its links lead round in a circle" in said
    assert said.count("\n") == 1
