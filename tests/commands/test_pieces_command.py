"""coach pieces, as the player types it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from coach import places
from coach.cli import main
from coach.practice import days
from coach.practice.entry import new_entry
from coach.practice.ladder import TOGETHER
from coach.practice.log import Log, State
from coach.practice.music import open_music
from coach.practice.schedule import today
from coach.score.library import open_piece
from coach.score.phrases import find_phrases

TUNE = "X:1\nT:{}\nM:4/4\nL:1/4\nK:{}\nC D E F | G G !fermata!G2 | A A G F | E D !fermata!C2 |]\n"


@pytest.fixture(autouse=True)
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to work in, an empty shelf, one shipped piece."""
    monkeypatch.setenv("COACH_HOME", str(tmp_path / "home"))
    shipped = tmp_path / "shipped"
    shipped.mkdir()
    (shipped / "lantern.abc").write_text(TUNE.format("The Lantern", "Gb"))
    monkeypatch.setattr(places, "shipped_pieces", lambda: shipped)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def coach(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = main(["pieces", *words])
    told = capsys.readouterr()
    return code, told.out, told.err


def test_the_shelf_lists_key_phrases_source_and_standing(desk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = coach(capsys)
    assert code == 0
    assert "Your shelf is empty" in out
    (desk / "x.abc").write_text(TUNE.format("Evening", "D"))
    coach(capsys, "add", "x.abc")
    _, out, _ = coach(capsys)
    assert [line.split() for line in out.splitlines()] == [
        ["Evening", "D", "major", "2", "phrases", "yours", "new"],
        ["lantern", "G", "flat", "major", "2", "phrases", "shipped", "new", "The", "Lantern"],
    ]


def test_taking_in_many_reports_each_and_fails_where_one_failed(desk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (desk / "1.abc").write_text(TUNE.format("One", "C"))
    (desk / "2.abc").write_text(TUNE.format("Two", "D"))
    (desk / "3.abc").write_text(TUNE.format("One again", "C"))
    (desk / "bad.abc").write_text("X:1\nK:C\nC (D } E\n")
    code, out, err = coach(capsys, "add", "*.abc", "nowhere.mxl")
    assert code == 2
    assert out.splitlines() == [
        "added One",
        "added Two",
        "3.abc is on the shelf already, as One",
        "2 added, 1 on the shelf already, 1 not found, 1 could not be read",
    ]
    assert [line.split(":")[0] for line in err.splitlines()] == ["coach", "coach"]
    assert 'cannot read "bad.abc"' in err
    assert 'cannot find "nowhere.mxl"' in err


def test_taking_in_what_is_there_already_is_counted_and_no_failure(
    desk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (desk / "1.abc").write_text(TUNE.format("One", "C"))
    (desk / "3.abc").write_text(TUNE.format("One again", "C"))
    code, out, _ = coach(capsys, "add", "1.abc", "3.abc")
    assert (code, out.splitlines()[-1]) == (0, "1 added, 1 on the shelf already")
    code, out, _ = coach(capsys, "add", "1.abc", "3.abc")
    assert (code, out.splitlines()[-1]) == (0, "0 added, 2 on the shelf already")
    code, out, _ = coach(capsys, "add", "nowhere.abc", "nowhere/*.abc")
    assert (code, out.splitlines()[-1]) == (2, "0 added, 2 not found")
    (desk / "empty").mkdir()
    code, out, err = coach(capsys, "add", "1.abc", "empty")
    assert (code, out.splitlines()[-1]) == (2, "0 added, 1 on the shelf already, 1 could not be read"), err


def test_finding_on_the_shelf_and_among_the_chorales(desk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = coach(capsys, "find", "lantern")
    assert out.startswith("lantern")
    _, out, _ = coach(capsys, "find", "meines", "herzens")
    assert "  1  corpus:bach/bwv269" in out
    code, _, err = coach(capsys, "find", "xyzzy")
    assert code == 2
    assert err == 'coach: no piece and no chorale has "xyzzy" in its title\n'


def test_transposing_and_removing(desk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert coach(capsys, "transpose", "lantern", "--to", "F")[1] == "added The Lantern in F major\n"
    assert coach(capsys, "transpose", "lantern", "--by", "semitone down")[1] == (
        "on the shelf already, as The Lantern in F major\n"
    )
    assert open_piece("The Lantern in F major").fifths == -1
    assert coach(capsys, "remove", "The Lantern in F major")[0] == 0
    assert coach(capsys, "remove", "lantern")[::2] == (2, 'coach: "lantern" ships with the coach and stays\n')
    assert coach(capsys, "transpose", "lantern", "--to", "H")[0] == 2


def test_phrases_are_shown_split_joined_and_moved(desk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = coach(capsys, "phrases", "lantern")
    assert out.splitlines()[0] == "The Lantern"
    assert [line.split()[0] for line in out.splitlines()[1:]] == ["1", "2"]
    assert "fermata" in out
    assert coach(capsys, "split", "lantern", "2:1")[0] == 0
    assert [p.onset for p in find_phrases(open_piece("lantern"))] == [0, 4, 8]
    assert coach(capsys, "move", "lantern", "1", "1:3")[0] == 0
    assert [p.onset for p in find_phrases(open_piece("lantern"))] == [0, 2, 8]
    assert coach(capsys, "join", "lantern", "1")[0] == 0
    assert [p.onset for p in find_phrases(open_piece("lantern"))] == [0, 8]
    coach(capsys, "split", "lantern", "2")
    assert "your choice" in coach(capsys, "phrases", "lantern")[1]
    assert "your choice" not in coach(capsys, "phrases", "lantern", "--own")[1]


def test_a_poetic_metre_is_kept(desk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = coach(capsys, "phrases", "lantern", "--metre", "4.3.4.3")
    assert out.count("line of") == 3
    assert [p.onset for p in find_phrases(open_piece("lantern"))] == [0, 4, 8, 12]


def test_a_piece_with_a_da_capo_says_how_it_runs(desk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (desk / "round.abc").write_text(TUNE.format("Round", "G").replace("G2 |", "G2 !fine!|").replace("|]", '"D.C."|]'))
    _, out, _ = coach(capsys, "phrases", "round.abc")
    assert "  Fine" in out or ", Fine" in out
    assert out.splitlines()[-1] == "as played: bars 1-4, 1-2 (Fine)"
    _, out, _ = coach(capsys, "phrases", "lantern")
    assert "as played" not in out


def test_a_long_phrase_is_offered_to_be_halved(desk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    coach(capsys, "join", "lantern", "1")
    _, out, _ = coach(capsys, "phrases", "lantern")
    assert "14 chords" in out
    assert "long: it can be halved at 3:1" in out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("split", "lantern", "nine"), '"nine" names no place: write bar and beat, as in 5:3'),
        (("split", "lantern", "9:1"), "there is no bar 9: the piece has bars 1 to 4"),
        (("split", "lantern", "2:4"), "bar 2, beat 4: no chord begins here"),
        (("split", "lantern", "3:1"), "a phrase begins at this chord already"),
        (("join", "lantern", "2"), "phrase 2 is the last"),
        (("join", "lantern", "5"), "there is no phrase 5"),
        (("phrases", "lantern", "--metre", "iambic"), "cannot make a metre of"),
        (("phrases", "lantern", "--metre", "8" * 5000), "cannot make a metre of"),
        (("phrases", "nowhere"), 'cannot find "nowhere"'),
        (("add", "~nobody-of-this-name/x.abc"), 'cannot find "~nobody-of-this-name/x.abc"'),
    ],
)
def test_mistakes_are_one_line(words: tuple[str, ...], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = coach(capsys, *words)
    assert code == 2
    assert out == ""
    assert err.startswith(f"coach: {said}")
    assert err.count("\n") == 1


def test_standing_is_shown_once_something_was_practised(
    desk: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from coach.practice.log import Log

    with Log.open():
        pass
    assert "new" in coach(capsys)[1]
    monkeypatch.setattr(Log, "standings", lambda self, mark: {1: "solid", 2: None})
    assert "1 solid, 1 new" in coach(capsys)[1]


def test_a_piece_taken_off_the_shelf_is_asked_for_no_more(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "zither.abc"
    file.write_text("X:1\nT:Zither\nM:4/4\nL:1/4\nK:C\nV:1\nG A B c|]\nV:2\nE F G G|]\n", "utf8")
    assert main(["pieces", "add", str(file)]) == 0
    music = open_music("zither")
    with Log.open() as log:
        mark = log.know(music.piece, music.phrases, music.shapes)[0].piece
        log.set_state(mark, "in practice")
        began, passage = days.now(), music.passages[0]
        log.record(new_entry(passage, "Zither", TOGETHER, "shaky", began=began, seconds=9.0, source="zither"))
        assert today(log).rows
    assert main(["pieces", "remove", "zither"]) == 0
    with Log.open() as log:
        assert not today(log).rows


def test_a_removed_piece_is_asked_for_by_no_name_that_opened_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "x.abc").write_text(TUNE.format("My Evening Hymn", "C"))
    coach(capsys, "add", "x.abc")
    music = open_music("my-evening")
    assert (music.name, music.piece.source) == ("My Evening Hymn", "My Evening Hymn")
    with Log.open() as log:
        passage = log.know(music.piece, music.phrases)[0]
        log.record(new_entry(passage, "x", TOGETHER, "solid", began=days.now(), seconds=20.0, source="my-evening"))
    assert coach(capsys, "remove", "my-evening-hymn")[:2] == (0, "removed My Evening Hymn\n")
    with Log.open() as log:
        assert log.source(passage.piece) == ""
        assert today(log).rows == ()


@pytest.mark.parametrize(
    ("state", "told"), [("in practice", "it comes up in Today again"), ("set aside", "it is set aside")]
)
def test_a_piece_that_is_put_back_on_the_shelf_goes_on_where_it_stood(
    state: State, told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is decided of other pieces stays as it was."""
    for name, key in (("Evening", "C"), ("Morning", "G"), ("Noon", "D")):
        (tmp_path / f"{name}.abc").write_text(TUNE.format(f"{name} Hymn", key))
    coach(capsys, "add", "Evening.abc", "Morning.abc")
    marks = {}
    with Log.open() as log:
        for name in ("Evening Hymn", "Morning Hymn"):
            music = open_music(name)
            passage = log.know(music.piece, music.phrases, music.shapes)[0]
            log.record(new_entry(passage, name, TOGETHER, "weak", began=days.now(), seconds=20.0, source=name))
            marks[name] = passage.piece
        log.set_state(marks["Evening Hymn"], state)
        log.set_state(marks["Morning Hymn"], "set aside")
    coach(capsys, "join", "Morning Hymn", "1")
    coach(capsys, "remove", "Evening Hymn")
    with Log.open() as log:
        before = [piece for piece in log.pieces() if piece["mark"] != marks["Evening Hymn"]]
        stood = log.stands(marks["Morning Hymn"])
    code, said, _ = coach(capsys, "add", "Noon.abc", "Evening.abc")
    assert code == 0
    assert said.splitlines()[-1] == f"Evening Hymn was practised before: {told}."
    with Log.open() as log:
        assert log.source(marks["Evening Hymn"]) == "Evening Hymn"
        assert log.standings(marks["Evening Hymn"]) == {1: "weak", 2: None}
        assert {row.passage.piece for row in today(log).rows} == (
            {marks["Evening Hymn"]} if state == "in practice" else set()
        )
        assert [piece for piece in log.pieces() if piece["mark"] != marks["Evening Hymn"]] == before
        assert log.stands(marks["Morning Hymn"]) == stood


def test_a_piece_that_was_practised_elsewhere_goes_on_here_whole_once_it_is_added(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The record knows only the phrase that was played; the day is made of all of them."""
    (tmp_path / "x.abc").write_text(TUNE.format("Evening Hymn", "C"))
    coach(capsys, "add", "x.abc")
    with Log.open() as log:
        music = open_music("Evening Hymn")
        passage = log.know(music.piece, music.phrases)[0]
        log.record(new_entry(passage, "x", TOGETHER, "weak", began=days.now(), seconds=20.0, source="Evening Hymn"))
    main(["log", "--json", str(tmp_path / "record.json")])
    monkeypatch.setenv("COACH_HOME", str(tmp_path / "elsewhere"))
    main(["log", "--merge", str(tmp_path / "record.json")])
    with Log.open() as log:
        assert today(log).rows == ()
    coach(capsys, "add", "x.abc")
    with Log.open() as log:
        assert sorted(row.passage.first for row in today(log).rows if row.passage.kind == "phrase") == [1, 2]


def test_without_a_log_adding_makes_none(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "x.abc").write_text(TUNE.format("Evening Hymn", "C"))
    coach(capsys, "add", "x.abc")
    assert not places.log_file().exists()


def test_a_piece_that_is_still_a_file_of_its_own_is_asked_for_all_the_same(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "x.abc"
    file.write_text(TUNE.format("Evening", "C"))
    coach(capsys, "add", "x.abc")
    music = open_music(str(file))
    with Log.open() as log:
        passage = log.know(music.piece, music.phrases)[0]
        log.set_state(passage.piece, "in practice")
    coach(capsys, "remove", "Evening")
    with Log.open() as log:
        assert log.source(passage.piece) == str(file)


def test_a_cut_reaches_the_log_of_a_piece_in_practice(desk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    music = open_music("lantern")
    with Log.open() as log:
        passage = log.know(music.piece, music.phrases)[0]
        log.record(new_entry(passage, "x", TOGETHER, "solid", began=days.now(), seconds=20.0, source="lantern"))
        assert len([stand for stand in log.stands() if stand.kind == "phrase"]) == 2
    coach(capsys, "join", "lantern", "1")
    with Log.open() as log:
        (whole,) = (stand for stand in log.stands() if stand.kind == "phrase")
        assert (whole.passage.onset, whole.passage.end) == (0, music.piece.end)


def test_a_cut_of_a_piece_that_was_never_practised_is_not_logged(
    desk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with Log.open():
        pass
    coach(capsys, "join", "lantern", "1")
    with Log.open() as log:
        assert log.pieces() == []


LIGHT = (
    "X:1\nT:Harbour Light\nM:4/4\nL:1/4\nK:G\nG B d2|c B A2|{}|A F G2|]\n"
    "w: One two three four five six, {} two three four five six.\n"
)


def test_a_corrected_score_takes_a_pieces_place_with_its_practice(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "x.abc").write_text(LIGHT.format("G B d2", "one"))
    coach(capsys, "add", "x.abc")
    music = open_music("Harbour Light")
    with Log.open() as log:
        passages = log.know(music.piece, music.phrases)
        for passage in passages[:2]:
            log.record(
                new_entry(passage, "x", TOGETHER, "solid", began=days.now(), seconds=20.0, source="Harbour Light")
            )
        log.set_date(passages[0].piece, days.now())
    (tmp_path / "x.abc").write_text(LIGHT.format("G B e2", "one"))
    code, out, _ = coach(capsys, "add", "x.abc")
    assert (code, out) == (
        0,
        'added Harbour Light (2)\n  Is it "Harbour Light", corrected? Then put it in its place:'
        ' coach pieces correct "Harbour Light" "Harbour Light (2)"\n',
    )
    code, out, _ = coach(capsys, "correct", "Harbour Light", "Harbour Light (2)")
    assert (code, out) == (0, "corrected Harbour Light: other notes in bar 3; phrase 2 begins anew\n")
    # Taken in as a piece of its own, it is one no more.
    assert [path.stem for path in places.shelf().iterdir()] == ["Harbour Light"]
    piece = open_piece("Harbour Light")
    assert "E5" in [note.pitch for note in piece.notes]
    with Log.open() as log:
        corrected = log.know(piece, find_phrases(piece))
        assert (log.source(corrected[0].piece), log.source(passages[0].piece)) == ("Harbour Light", "")
        first, second = log.progress(corrected[0]), log.progress(corrected[1])
        assert first == log.progress(passages[0])
        assert (first.standing, second.standing) == (log.standings(corrected[0].piece)[1], None)
        states = {known["mark"]: known for known in log.pieces()}
        assert states[corrected[0].piece]["ready_by"] == states[passages[0].piece]["ready_by"] is not None
        # What is asked for is the corrected piece alone.
        assert {row.passage.piece for row in today(log).rows} == {corrected[0].piece}


def test_a_correction_of_words_alone_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "x.abc").write_text(LIGHT.format("G B d2", "one"))
    coach(capsys, "add", "x.abc")
    (tmp_path / "x.abc").write_text(LIGHT.format("G B d2", "won"))
    assert coach(capsys, "correct", "harbour-light", "x.abc")[1] == "corrected Harbour Light: the notes are the same\n"
    assert "won" in [word for note in open_piece("Harbour Light").notes for word in note.words]


def test_phrases_that_begin_with_a_pickup_say_so(capsys: pytest.CaptureFixture[str], desk: Path) -> None:
    """Musicians speak of a pickup, not of a bar 0 (common practice, no source); what is typed stays a number."""
    tune = "X:1\nT:Pickup\nM:4/4\nL:1/4\nK:C\nC | D E F G | G G !fermata!G A | A G F E | D E !fermata!C3 |]\n"
    (desk / "pickup.abc").write_text(tune)
    code, out, _ = coach(capsys, "phrases", "pickup.abc")
    assert code == 0
    assert "pickup to bar 2" in out
    assert "bars 0" not in out
    code, out, _ = coach(capsys, "split", "pickup.abc", "1:1")
    assert code == 0
    assert re.search(r"^ +1 +pickup +1 chord ", out, re.MULTILINE)
    code, _, error = coach(capsys, "split", "pickup.abc", "1:2.5")
    assert code == 2
    assert "bar 1, beat 2&: no chord begins here" in error
