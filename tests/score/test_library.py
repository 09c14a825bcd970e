"""Opening pieces by name, and what is kept of them."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from coach import places
from coach.errors import CoachError
from coach.score import library
from coach.score.library import corpus_file, find_source, has_words, open_piece, shelf_entries, shown

TUNE = "X:1\nT:{}\nM:4/4\nL:1/4\nK:C\nC D E F |\n"


@pytest.fixture
def tune(tmp_path: Path) -> Path:
    path = tmp_path / "tune.abc"
    path.write_text(TUNE.format("Evening"))
    return path


def test_a_piece_opens_by_path_shelf_name_and_corpus_name(tune: Path) -> None:
    assert open_piece(str(tune)).title == "Evening"
    (places.shelf() / "Morning Song.abc").write_text(TUNE.format("Morning Song"))
    assert open_piece("Morning Song").source == "Morning Song"
    assert open_piece("morning song").title == "Morning Song"
    assert open_piece("song morn").title == "Morning Song"
    assert open_piece("corpus:bach/bwv269").source == "corpus:bach/bwv269"


def test_a_folder_of_the_same_name_is_in_nobody_s_way(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (places.shelf() / "Morning.abc").write_text(TUNE.format("Morning"))
    (tmp_path / "Morning").mkdir()
    (tmp_path / "Hymns").mkdir()
    monkeypatch.chdir(tmp_path)
    assert open_piece("Morning").source == "Morning"
    with pytest.raises(CoachError, match="it is a folder"):
        open_piece("Hymns")


def test_shipped_pieces_open_by_name() -> None:
    shipped = [entry for entry in shelf_entries() if entry.shipped]
    assert shipped
    assert open_piece(shipped[0].name).notes


def test_words_that_fit_several_pieces_are_asked_for_more() -> None:
    for title in ("Morning Song", "Morning Prayer"):
        (places.shelf() / f"{title}.abc").write_text(TUNE.format(title))
    with pytest.raises(CoachError, match='could be any of "Morning Prayer", "Morning Song": use more words'):
        open_piece("morning")


def test_a_piece_without_a_title_is_called_like_its_file(tmp_path: Path) -> None:
    """Two files of the same content are kept once, and keep their names."""
    for name in ("first", "second"):
        (tmp_path / f"{name}.abc").write_text("X:1\nT:\nK:C\nC\n")
        assert open_piece(str(tmp_path / f"{name}.abc")).title == name


def test_a_known_piece_is_not_read_again(tune: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = open_piece(str(tune))
    monkeypatch.setattr(library, "read_score", lambda *_: pytest.fail("read again"))
    assert open_piece(str(tune)) == first


def test_changed_content_is_read_anew(tune: Path) -> None:
    open_piece(str(tune))
    tune.write_text(TUNE.format("Night"))
    assert open_piece(str(tune)).title == "Night"


@pytest.mark.parametrize("damage", ["", "{", "[]", '{"form": 0}', "null", '{"form": 2, "voices": 5}'])
def test_a_damaged_kept_piece_is_read_again(damage: str, tune: Path) -> None:
    first = open_piece(str(tune))
    for path in places.parsed_pieces().iterdir():
        path.write_text(damage)
    assert open_piece(str(tune)) == first


def test_a_full_or_locked_disk_costs_only_a_second_reading(tune: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_text", full)
    assert open_piece(str(tune)).title == "Evening"


def test_no_piece_that_is_known_loads_music21(tmp_path: Path) -> None:
    """Nothing on the way to a piece, known or new, may wait for music21; nor may finding a file of its corpus."""
    code = (
        "import sys\n"
        "from coach.score.library import open_piece\n"
        "from coach.score.phrases import find_phrases\n"
        "for _ in range(2): find_phrases(open_piece('corpus:bach/bwv269'))\n"
        "loaded = [m for m in ('music21', 'mido', 'textual', 'fsrs', 'numpy') if m in sys.modules]\n"
        "assert not loaded, loaded\n"
    )
    subprocess.run(
        [sys.executable, "-c", code], check=True, env={**os.environ, "COACH_HOME": str(tmp_path / "other")}, timeout=60
    )


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("nothing.mxl", 'cannot find "nothing.mxl": no file, no piece on the shelf and no shipped piece'),
        ("corpus:bach/nothing", 'cannot find "corpus:bach/nothing" in music21\'s corpus'),
        ("corpus:", "in music21's corpus"),
        ("corpus:../../__init__", "in music21's corpus"),
        ("corpus:bach/../../../x", "in music21's corpus"),
        ("corpus:/etc/passwd", "in music21's corpus"),
        ("corpus:bach\\..\\x", "in music21's corpus"),
        ("corpus:bach/bwv1", "fits several pieces of music21's corpus"),
        ("corpus:bach/bwv269\0", "in music21's corpus"),
        ("x\0y", "cannot find"),
        ("~nobody-of-this-name/x.mxl", "cannot find"),
        ("chorale 372", "there is no chorale 372"),
    ],
)
def test_names_that_lead_nowhere(name: str, said: str) -> None:
    with pytest.raises(CoachError, match=said.replace(".", r"\.")):
        open_piece(name)


def test_the_beginning_of_a_corpus_name_will_do() -> None:
    """music21's own list of chorales begins one name only: "bwv18.5-l" stands for bwv18.5-lz."""
    assert corpus_file("corpus:bach/bwv18.5-l").stem == "bwv18.5-lz"


def test_a_tune_of_a_book_is_named_behind_a_number_sign(tmp_path: Path) -> None:
    book = tmp_path / "book.abc"
    book.write_text("X:1\nT:Evening\nK:C\nC|\n\nX:2\nT:Morning\nK:C\nD|\n")
    assert open_piece(f"{book}#2").title == "Morning"
    assert open_piece(f"{book}#evening").title == "Evening"
    assert find_source(f"{book}#2").choice == "2"
    with pytest.raises(CoachError, match="holds 2 tunes"):
        open_piece(str(book))


def test_a_tune_of_a_book_on_the_shelf_is_named_the_same_way() -> None:
    """As the sentence that asks for one suggests."""
    book = "X:1\nT:Evening\nK:C\nC|\n\nX:2\nT:Morning\nK:C\nD|\n"
    (places.shelf() / "Day Book.abc").write_text(book)
    with pytest.raises(CoachError, match='as in "day bo#1"'):
        open_piece("day bo")
    assert [open_piece(name).title for name in ("day bo#1", "Day Book#2")] == ["Evening", "Morning"]
    assert open_piece("day#morn").source == "Day Book#morn"
    assert open_piece(open_piece("day#1").source).title == "Evening"
    (places.shelf() / "Day Book 1.abc").write_text(TUNE.format("Noon"))
    assert [open_piece(name).title for name in ("Day Book#1", "day book 1")] == ["Evening", "Noon"]
    with pytest.raises(CoachError, match='cannot find "night#1"'):
        open_piece("night#1")


def test_numbers_of_hymns_are_compared_whole() -> None:
    for title in ("Hymn 10", "Chorale 12", "Chorale No. 2 in G"):
        (places.shelf() / f"{title}.abc").write_text(TUNE.format(title))
    assert open_piece("hymn 10").title == "Hymn 10"
    with pytest.raises(CoachError, match='cannot find "hymn 1"'):
        open_piece("hymn 1")
    assert has_words("Hymn 10", "10 hy")
    assert not has_words("Hymn 10", "1 hymn")


def test_a_numbered_chorale_comes_before_words_of_another_title() -> None:
    """Riemenschneider 1 is BWV 269 in music21's list; a piece of just that name is the player's own."""
    for title in ("Chorale 12", "Chorale No. 1 in G"):
        (places.shelf() / f"{title}.abc").write_text(TUNE.format(title))
    assert find_source("chorale 1").path.stem == "bwv269"
    assert open_piece("chorale 12").title == "Chorale 12"
    (places.shelf() / "Chorale 1.abc").write_text(TUNE.format("My First"))
    assert open_piece("chorale 1").title == "My First"


def test_file_names_that_are_no_proper_text(tmp_path: Path) -> None:
    path = os.fsdecode(os.fsencode(str(tmp_path)) + b"/t\xfcne.abc")
    try:
        Path(path).write_text(TUNE.format(""))
    except OSError:
        pytest.skip("this file system takes proper text only")
    piece = open_piece(path)
    piece.source.encode("utf-8")
    piece.title.encode("utf-8")
    assert shown(path) == piece.source


@pytest.mark.parametrize("words", ["wie schön", "wie scho\u0308n", "WIE SCHON", "wie schoen"])
@pytest.mark.parametrize("title", ["Wie schön leuchtet", "Wie scho\u0308n leuchtet"])
def test_letters_of_another_language_can_be_typed_without_their_accents(title: str, words: str) -> None:
    """Umlauts as a letter or as letter and accent (Unicode Standard Annex 15), and as German typists write them (common
    practice, no source)."""
    assert has_words(title, words)


def test_words_of_a_title() -> None:
    assert has_words("A Mighty Fortress Is Our God", "fort mighty")
    assert has_words("As-With-Gladness", "with glad")
    assert not has_words("A Mighty Fortress", "fort weak")
    assert not has_words("A Mighty Fortress", "")
