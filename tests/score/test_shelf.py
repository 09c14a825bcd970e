"""The shelf: taking in, telling duplicates, correcting, removing, transposing."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import pytest

from coach import places
from coach.errors import CoachError
from coach.score.cards import cards
from coach.score.cuts import keep, phrases_of, split
from coach.score.library import open_piece
from coach.score.shelf import Taken, correct, remove, take_in, transpose
from coach.score.transposing import interval_to, transposed

TUNE = "X:1\nT:{}\nM:4/4\nL:1/4\nK:{}\nC D E F | G4 |\n"
XML = (
    '<score-partwise><movement-title>Evening</movement-title><part-list><score-part id="P1"><part-name/></score-part>'
    '</part-list><part id="P1"><measure number="1"><attributes><divisions>1</divisions></attributes>{}'
    "</measure></part></score-partwise>"
)
NOTE = "<note><pitch><step>{}</step><octave>4</octave></pitch><duration>{}</duration></note>"


@pytest.fixture(autouse=True)
def shipped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One shipped piece only, so that the shelf is quickly read."""
    folder = tmp_path / "shipped"
    folder.mkdir()
    (folder / "lantern.abc").write_text(TUNE.format("The Lantern", "Gb"))
    monkeypatch.setattr(places, "shipped_pieces", lambda: folder)


def shelf() -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in places.shelf().iterdir()}


def own() -> list[str]:
    return [card.name for card in cards() if not card.shipped]


def write(path: Path, title: str, key: str = "C") -> str:
    path.write_text(TUNE.format(title, key))
    return str(path)


def take(*sources: str) -> list[Taken]:
    return list(take_in(sources))


def test_a_file_is_copied_under_its_title(tmp_path: Path) -> None:
    source = write(tmp_path / "x.abc", "Evening")
    (taken,) = take(source)
    assert (taken.outcome, taken.name) == ("added", "Evening")
    Path(source).unlink()
    card = next(card for card in cards() if card.name == "Evening")
    assert (card.key, card.phrases, card.bars, card.voices, card.shipped) == ("C major", 1, 2, 1, False)
    assert open_piece("Evening").title == "Evening"


def test_folders_patterns_and_single_files(tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    for number, key in enumerate(("C", "D", "E", "A"), 1):
        write((tmp_path / "in" if number < 3 else tmp_path) / f"{number}.abc", f"Tune {number}", key)
    (tmp_path / "in" / "notes.txt").write_text("no music, and nobody asks")
    assert [t.name for t in take(str(tmp_path / "in"))] == ["Tune 1", "Tune 2"]
    assert [t.name for t in take(str(tmp_path / "*.abc"))] == ["Tune 3", "Tune 4"]


def test_two_hymns_to_one_tune_are_two_pieces(tmp_path: Path) -> None:
    """Each has words of its own; the same hymn twice is one piece, and so is a tune without words under two titles."""
    tune = "X:1\nT:{}\nM:4/4\nL:1/4\nK:C\nCDEF|GFED|C4|]\nw:{}\n"
    for name, title, words in (("1", "Advent", "a b c d"), ("2", "Easter", "e f g h"), ("3", "Easter", "i j k l")):
        (tmp_path / f"{name}.abc").write_text(tune.format(title, words))
    (tmp_path / "4.abc").write_text(tune.format("Tune", "").removesuffix("w:\n"))
    told = take(*(str(tmp_path / f"{number}.abc") for number in (1, 2, 3, 4)))
    assert [(t.outcome, t.name) for t in told[:3]] == [("added", "Advent"), ("added", "Easter"), ("known", "Easter")]
    assert told[3].outcome == "known"


def test_a_folder_without_scores_is_said_to_have_none(tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "notes.txt").write_text("no music")
    (failed,) = take(str(tmp_path / "in"))
    assert failed.outcome == "failed"
    assert failed.problem.startswith("there is no score in")


def test_each_failure_is_one_line_and_the_rest_go_in(tmp_path: Path) -> None:
    (tmp_path / "bad.xml").write_text("<score-partwise>")
    told = take(
        write(tmp_path / "1.abc", "One"),
        str(tmp_path / "bad.xml"),
        "nowhere.mid",
        write(tmp_path / "2.abc", "Two", "G"),
    )
    assert [t.outcome for t in told] == ["added", "failed", "failed", "added"]
    assert "bad.xml" in told[1].problem
    assert "\n" not in told[1].problem
    assert own() == ["One", "Two"]


def test_the_same_music_is_taken_in_once_whatever_file_it_is_in(tmp_path: Path) -> None:
    """Duplicates are told by their notes: ABC, MusicXML and compressed MusicXML of one tune are one piece."""
    notes = "".join(NOTE.format(step, 1) for step in "CDEF") + NOTE.format("G", 4)
    (tmp_path / "same.xml").write_text(XML.format(notes))
    archive = io.BytesIO()
    with zipfile.ZipFile(archive, "w") as out:
        out.writestr("score.xml", XML.format(notes))
    (tmp_path / "same.mxl").write_bytes(archive.getvalue())
    first, *others = take(write(tmp_path / "a.abc", "Evening"), str(tmp_path / "same.xml"), str(tmp_path / "same.mxl"))
    assert first.outcome == "added"
    assert [(t.outcome, t.name) for t in others] == [("known", "Evening")] * 2
    assert len(shelf()) == 1


def test_other_music_of_the_same_title_gets_a_number(tmp_path: Path) -> None:
    take(write(tmp_path / "1.abc", "Evening", "C"), write(tmp_path / "2.abc", "Evening", "D"))
    assert own() == ["Evening", "Evening (2)"]


def test_a_tune_book_is_taken_in_tune_by_tune(tmp_path: Path) -> None:
    book = tmp_path / "book.abc"
    book.write_text(
        "M:3/4\n\n"
        + TUNE.format("One", "C")
        + "\nX:2\nT:Two\nK:G\nthis is ; no } music {\n\n"
        + TUNE.format("Three", "D").replace("X:1", "X:3")
    )
    told = take(str(book))
    assert [(t.outcome, t.name) for t in told] == [("added", "One"), ("failed", ""), ("added", "Three")]
    assert f"{book}#2" in told[1].problem
    assert open_piece("Three").fifths == 2
    assert [t.name for t in take(f"{book}#3")] == ["Three"]


def test_a_wrong_ending_is_put_right(tmp_path: Path) -> None:
    (tmp_path / "tune.mid").write_text(TUNE.format("Evening", "C"))
    take(str(tmp_path / "tune.mid"))
    assert list(shelf()) == ["Evening.abc"]


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("../../etc/passwd", "etc passwd"),
        ("A/B: C?", "A B - C"),
        ("  ", "tune"),
        ("x" * 300, "x" * 80),
        ("Größe #2", "Größe 2"),
        (".hidden", "hidden"),
    ],
)
def test_titles_become_names_that_stay_on_the_shelf(title: str, name: str, tmp_path: Path) -> None:
    (taken,) = take(write(tmp_path / "tune.abc", title))
    assert taken.name == name
    assert [path.parent for path in places.shelf().iterdir()] == [places.shelf()]
    assert open_piece(name).notes


def test_removing(tmp_path: Path) -> None:
    source = write(tmp_path / "1.abc", "Evening")
    take(source)
    assert remove("evening").name == "Evening"
    assert shelf() == {}
    assert Path(source).exists()
    with pytest.raises(CoachError, match=r'there is no "evening" on the shelf$'):
        remove("evening")


def test_removing_asks_for_the_whole_name(tmp_path: Path) -> None:
    """A part of a name opens a piece; it must not take one away, of which the shelf may have the only copy."""
    take(write(tmp_path / "1.abc", "Evening Song"))
    with pytest.raises(CoachError, match='there is no "even" on the shelf; "Evening Song" is: give its whole name'):
        remove("even")
    assert list(shelf()) == ["Evening Song.abc"]
    assert remove("evening-song").name == "Evening Song"


def test_shipped_pieces_stay() -> None:
    assert [card.name for card in cards() if card.shipped] == ["lantern"]
    with pytest.raises(CoachError, match="ships with the coach and stays"):
        remove("lantern")


def test_a_transposition_is_an_entry_of_its_own(tmp_path: Path) -> None:
    take(write(tmp_path / "1.abc", "Evening"))
    assert transpose("Evening", to="E flat").name == "Evening in E flat major"
    moved = open_piece("Evening in E flat major")
    assert [note.pitch for note in moved.notes] == ["Eb4", "F4", "G4", "Ab4", "Bb4"]
    assert moved.fifths == -3
    assert transpose("Evening", by="minor third up").outcome == "known"
    remove("Evening")
    assert open_piece("Evening in E flat major") == moved
    assert transpose("Evening in E flat major", to="C").name == "Evening in C major"


@pytest.mark.parametrize("ways", [("E flat", "F"), ("B flat", "C flat"), ("F sharp", "D flat", "B"), ("A", "E", "G")])
def test_a_transposition_is_moved_on(tmp_path: Path, ways: tuple[str, ...]) -> None:
    """However often it is moved, it reads as its notes moved one by one, and its title names its last key."""
    take(write(tmp_path / "1.abc", "Evening"))
    name, piece = "Evening", open_piece("Evening")
    for key in ways:
        piece = transposed(piece, interval_to(piece, key))
        name = transpose(name, to=key).name
    moved = open_piece(name)
    assert [note.pitch for note in moved.notes] == [note.pitch for note in piece.notes]
    assert (moved.fifths, name) == (piece.fifths, f"Evening in {ways[-1]} major")


def test_the_players_phrases_go_along_into_another_key(tmp_path: Path) -> None:
    take(write(tmp_path / "1.abc", "Evening"))
    piece = open_piece("Evening")
    keep(piece, split(piece, phrases_of(piece), piece.notes[2].onset))
    moved = open_piece(transpose("Evening", to="D").name)
    assert [phrase.onset for phrase in phrases_of(moved)] == [0, piece.notes[2].onset]
    assert next(card for card in cards() if card.name == moved.source).phrases == 2


def test_a_transposition_that_goes_nowhere(tmp_path: Path) -> None:
    take(write(tmp_path / "1.abc", "Evening"))
    with pytest.raises(CoachError, match="is in C major already"):
        transpose("Evening", to="C")


def test_progress_is_told(tmp_path: Path) -> None:
    sources = [write(tmp_path / f"{n}.abc", f"Tune {n}", key) for n, key in enumerate("CDEFG")]
    told: list[tuple[int, int]] = []
    list(take_in(sources, lambda done, total: told.append((done, total))))
    assert told == [(n, 5) for n in range(6)]


def test_a_shelf_that_cannot_be_written_stays_as_it_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object) -> int:
        raise OSError(28, "No space left on device")

    source = write(tmp_path / "1.abc", "Evening")
    monkeypatch.setattr(Path, "write_bytes", full)
    (taken,) = take(source)
    assert taken.problem == 'cannot put "Evening" on the shelf: No space left on device'
    assert shelf() == {}


LONG = "X:1\nT:{}\nM:4/4\nL:1/4\nK:C\nC D E F | G G G2 | {} | C4 |\n"


def test_a_corrected_score_takes_the_place_of_a_piece_with_name_and_phrases(tmp_path: Path) -> None:
    (tmp_path / "x.abc").write_text(LONG.format("Evening", "A G F E"))
    take(str(tmp_path / "x.abc"))
    before = open_piece("Evening")
    keep(before, split(before, phrases_of(before), before.notes[4].onset))
    # Under another title, and in another format, it is the same piece still.
    (tmp_path / "y.abc").write_text(LONG.format("Evensong", "A G F D"))
    was, now = correct("evening", str(tmp_path / "y.abc"))
    assert (was.title, now.title, now.source) == ("Evening", "Evensong", "Evening")
    assert own() == ["Evening"]
    assert [phrase.onset for phrase in phrases_of(open_piece("Evening"))] == [
        phrase.onset for phrase in phrases_of(was)
    ]
    notes = "".join(NOTE.format(step, 1) for step in "CDEFGG") + NOTE.format("G", 2) + NOTE.format("A", 1)
    (tmp_path / "z.xml").write_text(XML.format(notes))
    correct("Evening", str(tmp_path / "z.xml"))
    assert list(shelf()) == ["Evening.xml"]


@pytest.mark.parametrize(
    ("file", "said"),
    [
        ("other.abc", "is other music than"),
        ("book.abc", 'holds several pieces: name one of them, as in "'),
        ("none.abc", "cannot find"),
        (".", "is a folder"),
        ("broken.abc", "cannot read"),
    ],
)
def test_what_is_no_correction_leaves_the_shelf_as_it_is(file: str, said: str, tmp_path: Path) -> None:
    take(write(tmp_path / "x.abc", "Evening"))
    write(tmp_path / "other.abc", "Evening", "Ab")
    (tmp_path / "other.abc").write_text((tmp_path / "other.abc").read_text().replace("C D E F", "F2 F2"))
    (tmp_path / "book.abc").write_text(TUNE.format("One", "C") + "\n" + TUNE.format("Two", "D").replace("X:1", "X:2"))
    (tmp_path / "broken.abc").write_text("X:1\nT:Evening\nK:C\nC $$ \x01 ?? (((9\n")
    kept_before = shelf()
    with pytest.raises(CoachError, match=said):
        correct("Evening", str(tmp_path / file))
    assert shelf() == kept_before


def test_a_tune_of_a_book_corrects_a_piece(tmp_path: Path) -> None:
    take(write(tmp_path / "x.abc", "Evening"))
    book = tmp_path / "book.abc"
    book.write_text(TUNE.format("One", "D") + "\n" + TUNE.format("Evening", "C").replace("X:1", "X:2"))
    correct("Evening", f"{book}#2")
    assert own() == ["Evening"]
    assert open_piece("Evening").title == "Evening"


def test_a_tune_book_on_the_shelf_that_corrects_a_piece_keeps_its_other_tunes(tmp_path: Path) -> None:
    take(write(tmp_path / "x.abc", "Evening"))
    book = TUNE.format("One", "D") + "\n" + TUNE.format("Evening", "C").replace("X:1", "X:2")
    (places.shelf() / "book.abc").write_text(book)
    correct("Evening", f"{places.shelf() / 'book.abc'}#2")
    correct("Evening", "book#2")
    assert shelf()["book.abc"] == book.encode()
    assert open_piece("book#1").title == "One"


def test_a_correction_writes_over_no_other_piece(tmp_path: Path) -> None:
    """Two files of one name and different endings may stand on the shelf."""
    (tmp_path / "x.xml").write_text(XML.format("".join(NOTE.format(step, 1) for step in "CDEF") + NOTE.format("G", 4)))
    (places.shelf() / "Evening.xml").write_bytes(b"<other/>")
    (places.shelf() / "Evening.abc").write_text(TUNE.format("Evening", "C"))
    kept_before = shelf()
    with pytest.raises(CoachError, match=r'"Evening\.xml" on the shelf is another piece'):
        correct("Evening", str(tmp_path / "x.xml"))
    assert shelf() == kept_before


def test_shipped_pieces_are_not_corrected(tmp_path: Path) -> None:
    with pytest.raises(CoachError, match="ships with the coach and stays"):
        correct("lantern", write(tmp_path / "x.abc", "The Lantern", "Gb"))


def test_a_piece_that_cannot_be_read_keeps_no_other_from_the_shelf(tmp_path: Path) -> None:
    take(write(tmp_path / "x.abc", "Evening"))
    cards()
    (places.shelf() / "Evening.abc").write_bytes(b"\0\0")
    assert [one.outcome for one in take(write(tmp_path / "y.abc", "Evening", "D"))] == ["added"]


def test_the_shelf_is_read_once_however_many_pieces_are_taken_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    read = []
    monkeypatch.setattr("coach.score.shelf.cards", lambda: read.append(1) or cards())
    take(*(write(tmp_path / f"{key}.abc", "Evening", key) for key in "CDEFG"))
    assert len(read) == 1


def test_a_likely_correction_is_pointed_out(tmp_path: Path) -> None:
    """Of the same title and most of its notes; other music of the same title is no correction."""
    (tmp_path / "x.abc").write_text(LONG.format("Evening", "A G F E"))
    (tmp_path / "y.abc").write_text(LONG.format("Evening", "A G F D"))
    (tmp_path / "z.abc").write_text(LONG.format("Morning", "A G F F"))
    (tmp_path / "w.abc").write_text(LONG.format("Evening", "A G F C").replace("K:C", "K:Db"))
    found = [one.namesake for one in take(*(str(tmp_path / f"{name}.abc") for name in "xyzw"))]
    assert found == ["", "Evening", "", ""]
