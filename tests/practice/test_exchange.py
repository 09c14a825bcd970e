"""The record leaves the coach whole and comes in again without duplicates."""

from __future__ import annotations

import csv
import io
import json
import random
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from practising import MONDAY, entry, evening, hymn, make_solid, open_log, phrases_of, random_history

from coach.errors import CoachError
from coach.practice import days
from coach.practice.entry import Fault
from coach.practice.exchange import COLUMNS, read_log, write_csv, write_json
from coach.practice.log import Log
from coach.practice.passage import passages_of
from coach.practice.schedule import today
from coach.practice.spelling import Answer, Spelled
from coach.practice.week import week

PIECE = hymn()
PASSAGES = passages_of(PIECE, phrases_of(PIECE))


def spelling(number: int) -> Spelled:
    answers = (Answer(1, "531", "531", True), Answer(2, "42", "41", False))
    uid = f"{number:032x}"
    return Spelled(uid, evening(number), MONDAY.date(), PASSAGES[0], PIECE.title, "right", "", answers)


def exported(log: Log, folder: Path, name: str = "log.json") -> Path:
    path = folder / name
    with path.open("w", encoding="utf-8") as file:
        write_json(log, file)
    return path


def merged(log: Log, path: Path) -> int:
    record = read_log(path)
    return log.merge(record.entries, record.others)


@pytest.fixture
def student(tmp_path: Path) -> Path:
    """The log of a student: a history, a spelling, a date, a piece set aside."""
    folder = tmp_path / "student"
    folder.mkdir()
    with open_log(folder) as log:
        log.know(PIECE, phrases_of(PIECE))
        for one in random_history(random.Random(1), PASSAGES[:4], 30):
            log.record(replace(one, measures={"remarks": ["„ä“, \n and, a comma"]}, source="C:\\hymns\\a.mxl"))
        log.keep_spelling(spelling(1))
        log.set_date(PASSAGES[0].piece, evening(50))
    return folder


def state(log: Log) -> dict[Any, Any]:
    return {
        "takes": [replace(one, source="") for one in log.entries()],
        "spellings": log.spellings(),
        "progress": {passage: log.progress(passage) for passage in PASSAGES[:4]},
        "dates": [piece["ready_by"] for piece in log.pieces()],
    }


@pytest.mark.parametrize("way", ["json", "file"])
def test_a_student_s_log_comes_whole_to_another_machine(way: str, student: Path, tmp_path: Path) -> None:
    with open_log(student) as log:
        there = state(log)
        path = exported(log, tmp_path) if way == "json" else student / "practice.sqlite"
        with open_log(tmp_path) as teacher:
            assert merged(teacher, path) == 30
            assert state(teacher) == there
            assert merged(teacher, path) == 0
            assert state(teacher) == there


@pytest.mark.parametrize("way", ["json", "file"])
def test_a_log_is_mirrored_with_what_was_never_played(way: str, student: Path, tmp_path: Path) -> None:
    with open_log(student) as log:
        path = exported(log, tmp_path) if way == "json" else student / "practice.sqlite"
        before = [stand._replace(number=0, place=0) for stand in log.stands()]
    record = read_log(path)
    assert {passage for passage, _ in record.cuts} == set(PASSAGES)
    folder = tmp_path / "teacher"
    folder.mkdir()
    with open_log(folder) as log:
        log.mirror(record.entries, record.others, record.cuts)
        assert [stand._replace(number=0, place=0) for stand in log.stands()] == before


@pytest.mark.parametrize(
    "change",
    [{"shape": {"chords": "8"}}, {"shape": {"chords": 8, "span": 1}}, {"shape": None}, {"onset": "9"}, {"kind": "bar"}],
)
def test_a_passage_that_makes_no_sense_is_passed_over(change: dict[str, Any], student: Path, tmp_path: Path) -> None:
    with open_log(student) as log:
        path = exported(log, tmp_path)
    form = json.loads(path.read_text("utf-8"))
    form["passages"][0] |= change
    path.write_text(json.dumps(form), "utf-8")
    assert len(read_log(path).cuts) == len(PASSAGES) - 1


@pytest.mark.parametrize("minutes", [None, "25", True, -5, 10**9])
def test_minutes_that_make_no_sense_are_none(minutes: object, student: Path, tmp_path: Path) -> None:
    with open_log(student) as log:
        path = exported(log, tmp_path)
    form = json.loads(path.read_text("utf-8"))
    path.write_text(json.dumps({**form, "minutes": minutes}), "utf-8")
    assert read_log(path).minutes is None


def test_two_logs_merged_either_way_are_the_same(student: Path, tmp_path: Path) -> None:
    with open_log(student) as one, open_log(tmp_path) as other:
        other.know(PIECE, phrases_of(PIECE))
        make_solid(other, PASSAGES[0], (2, 9, 30))
        other.keep_spelling(spelling(2))
        first, second = exported(one, tmp_path, "one.json"), exported(other, tmp_path, "other.json")
        assert merged(one, second) == other.count()
        merged(other, first)
        assert state(one) == state(other)
        assert one.count() == 30 + 10


def test_paths_of_another_machine_do_not_replace_those_that_open_the_piece_here(student: Path, tmp_path: Path) -> None:
    with open_log(tmp_path) as log:
        log.know(PIECE, phrases_of(PIECE))
        merged(log, student / "practice.sqlite")
        assert log.source(PASSAGES[0].piece) == PIECE.source


@pytest.mark.parametrize("field", ["ready_by", "changed"])
@pytest.mark.parametrize("written", ["tomorrow", "2030-01-01", 5, "0001-01-01T00:00:00+14:00"])
def test_a_piece_whose_dates_make_no_sense_is_passed_over(log: Log, field: str, written: object) -> None:
    log.know(PIECE, phrases_of(PIECE))
    before = log.pieces()
    row = {"mark": PASSAGES[0].piece, "state": "set aside", "changed": days.written(evening(90)), "ready_by": None}
    assert log.merge((), {"pieces": [row | {field: written}]}) == 0
    assert log.pieces() == before


def test_reading_somebody_else_s_log_file_does_not_change_it(student: Path) -> None:
    before = (student / "practice.sqlite").read_bytes()
    assert len(read_log(student / "practice.sqlite").entries) == 30
    assert (student / "practice.sqlite").read_bytes() == before


def test_who_decided_last_about_a_piece_is_followed(student: Path, tmp_path: Path) -> None:
    with open_log(student) as one, open_log(tmp_path) as other:
        other.know(PIECE, phrases_of(PIECE))
        other.set_state(PASSAGES[0].piece, "set aside")
        merged(other, exported(one, tmp_path))
        assert [piece["state"] for piece in other.pieces()] == ["set aside"]
        one.set_date(PASSAGES[0].piece, evening(70))
        merged(other, exported(one, tmp_path))
        assert [piece["state"] for piece in other.pieces()] == ["in practice"]


def test_csv_has_every_take_every_spelling_and_every_column(student: Path) -> None:
    with open_log(student) as log:
        file = io.StringIO(newline="")
        write_csv(log, file)
        rows = list(csv.DictReader(io.StringIO(file.getvalue(), newline="")))
        takes = list(log.entries())
    *rows, spelled = rows
    assert len(rows) == len(takes) == 30
    assert tuple(rows[0]) == COLUMNS
    assert {row["what"] for row in rows} == {"played"}
    asked = ("what", "hand", "verdict", "chords_asked", "chords_as_planned")
    assert [spelled[column] for column in asked] == ["spelled", "right", "", "2", "1"]
    for row, take in zip(rows, takes, strict=True):
        assert row["uid"] == take.uid
        assert row["verdict"] == take.verdict
        assert row["hand"] == take.step.hand
        assert json.loads(row["measures"]) == take.measures
        assert row["at"].endswith("Z")


def test_json_is_one_object_that_any_reader_takes(student: Path, tmp_path: Path) -> None:
    with open_log(student) as log:
        form = json.loads(exported(log, tmp_path).read_text("utf-8"))
    assert form["coach_log"] == 1
    assert len(form["takes"]) == 30
    assert form["takes"][0]["passage"]["phrases"] == [form["takes"][0]["passage"]["phrases"][0]] * 2


def broken(student: Path, **changes: Any) -> str:
    with open_log(student) as log:
        form = json.loads(exported(log, student).read_text("utf-8"))
    for name, value in changes.items():
        form["takes"][3][name] = value
    return json.dumps(form)


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "no practice log"),
        (b"{", "not JSON"),
        (b"[]", "no practice log"),
        (b'{"coach_log": 1}', "no practice log"),
        (b'{"coach_log": 99, "takes": []}', "a newer coach wrote it"),
        (b'{"coach_log": 1, "takes": [7]}', "take 1 is damaged"),
        (b"[" * 100_000, "not JSON"),
        (b"\xff\xfe\x00", "no practice log"),
        (b"SQLite format 3\0" + b"\0" * 200, "cannot read"),
    ],
)
def test_a_file_that_is_no_log_is_one_sentence(content: bytes, sentence: str, tmp_path: Path) -> None:
    path = tmp_path / "other.json"
    path.write_bytes(content)
    with pytest.raises(CoachError, match=sentence):
        read_log(path)


@pytest.mark.parametrize(
    "changes",
    [
        {"verdict": "splendid"},
        {"uid": "7"},
        {"at": "2026-03-02 18:00"},
        {"step": {"name": "x", "hand": "third"}},
        {"faults": [["1/0", "left", 1]]},
        {"passage": None},
        {"form": 2},
    ],
)
def test_a_damaged_take_is_named_and_nothing_is_taken_in(changes: Any, student: Path, tmp_path: Path) -> None:
    path = tmp_path / "broken.json"
    path.write_text(broken(student, **changes))
    with open_log(tmp_path) as log:
        with pytest.raises(CoachError, match="take 4 is damaged"):
            merged(log, path)
        assert log.count() == 0


def test_a_missing_file_and_a_folder_are_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(CoachError, match="cannot find"):
        read_log(tmp_path / "nothing.json")
    with pytest.raises(CoachError, match="it is a folder"):
        read_log(tmp_path)


def test_a_record_of_takes_only_is_in_order(tmp_path: Path) -> None:
    with open_log(tmp_path) as log:
        for day in (3, 1, 2):
            log.record(entry(PASSAGES[0], at=evening(day)))
        found = read_log(exported(log, tmp_path)).entries
        assert [one.at for one in found] == sorted(one.at for one in found)


NONSENSE: tuple[object, ...] = (None, True, [], {}, ["a"], "", "\ud800", -1, 10**30, 1.5, float("nan"), float("inf"))
NONSENSE += ("1/0", "inf", "1e400", "2026-13-01")


def leaves(form: object, way: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """The way to every value of a JSON form."""
    inside = form.items() if isinstance(form, dict) else enumerate(form) if isinstance(form, list) else ()
    return [found for at, value in inside for found in ((*way, at), *leaves(value, (*way, at)))]


def test_whatever_stands_in_a_record_it_is_taken_in_or_refused_and_does_no_harm(tmp_path: Path) -> None:
    """Each value of a small record replaced by nonsense: one sentence, or a log that can still be read and planned."""
    with open_log(tmp_path) as log:
        log.know(PIECE, phrases_of(PIECE))
        fault = Fault(PASSAGES[0].onset + 1, "right", 1)
        log.record(replace(entry(PASSAGES[0], verdict="weak", faults=(fault,)), parts=()))
        log.keep_spelling(spelling(1))
        whole = json.loads(exported(log, tmp_path).read_text("utf-8"))
    ways = leaves(whole)
    assert len(ways) > 60
    for number, way in enumerate(ways):
        form = json.loads(json.dumps(whole))
        inside = form
        for at in way[:-1]:
            inside = inside[at]
        inside[way[-1]] = NONSENSE[number % len(NONSENSE)]
        file = tmp_path / "bad.json"
        file.write_text(json.dumps(form), "utf-8")
        folder = tmp_path / f"into-{number}"
        folder.mkdir()
        with open_log(folder) as into:
            with suppress(CoachError):
                merged(into, file)
            assert all(0 <= one.seconds < 1e6 for one in into.entries())
            today(into, evening(1))
            week(into, evening(1))


@pytest.mark.parametrize("change", [{"seconds": 1e400}, {"faults": [["1", ["left"], 1]]}, {"title": "\ud800"}])
def test_a_take_of_nonsense_is_named(change: dict[str, Any], student: Path, tmp_path: Path) -> None:
    with open_log(student) as log:
        form = json.loads(exported(log, tmp_path).read_text("utf-8"))
    form["takes"][0] |= change
    (tmp_path / "bad.json").write_text(json.dumps(form), "utf-8")
    with pytest.raises(CoachError, match="take 1 is damaged"):
        read_log(tmp_path / "bad.json")
