"""What a score comes in: archives, encodings, blanks before it. Standards: MusicXML 4.0, "Compressed .mxl files";
XML 1.0, section 2.8 and appendix F; RFC 2781 (UTF-16)."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import pytest

from coach import places
from coach.errors import CoachError
from coach.score.reading import read_score, tunes_in
from coach.score.shelf import take_in

TITLE = "Größe"


def score(declaration: str = "", title: str = TITLE) -> str:
    note = "<note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration></note>"
    return (
        f"{declaration}<score-partwise><work><work-title>{title}</work-title></work>"
        f'<part-list><score-part id="P1"/></part-list><part id="P1"><measure number="1">{note}</measure></part>'
        "</score-partwise>"
    )


def title_of(data: bytes, name: str = "file") -> str:
    piece = read_score(data, name, "untitled")
    assert len(piece.notes) >= 1
    return piece.title


def archive(*files: tuple[str, str], roots: str) -> bytes:
    """An archive whose container names `roots`, each "path type" or "path" alone, apart by commas."""
    named = ""
    for root in roots.split(","):
        path, _, kind = root.strip().partition(" ")
        named += f'<rootfile full-path="{path}"{f" media-type={chr(34)}{kind}{chr(34)}" if kind else ""}/>'
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as out:
        out.writestr("META-INF/container.xml", f"<container><rootfiles>{named}</rootfiles></container>")
        for path, content in files:
            out.writestr(path, content)
    return stream.getvalue()


MUSICXML = "application/vnd.recordare.musicxml+xml"


@pytest.mark.parametrize(
    "roots",
    [
        "score.xml",
        f"score.xml {MUSICXML}",
        f"/score.xml {MUSICXML}",
        "./score.xml",
        "score.xml text/xml",
        "score.xml application/xml",
        "score.xml Text/XML",
        f"other.xml text/xml, score.xml {MUSICXML}",
        f"other.xml image/svg+xml, gone.xml {MUSICXML}, score.xml text/xml",
        f"score.xml {MUSICXML}, other.xml {MUSICXML}",
    ],
)
def test_the_score_of_an_archive_is_the_one_its_container_names(roots: str) -> None:
    """MusicXML 4.0, `rootfile`: the first one of the MusicXML type, or of none, is the score. Leading slashes and
    general XML types are not in the standard, but in files."""
    data = archive(("other.xml", score(title="Other")), ("score.xml", score()), roots=roots)
    assert title_of(data) == TITLE


def test_folders_in_an_archive_may_be_written_with_either_slash() -> None:
    data = archive((r"music\score.xml", score()), roots="music/score.xml")
    assert title_of(data) == TITLE
    data = archive(("music/score.xml", score()), roots=r"music\score.xml")
    assert title_of(data) == TITLE


@pytest.mark.parametrize("roots", ["gone.xml", "score.xml application/pdf", "score.xml image/svg+xml", ""])
def test_an_archive_whose_container_names_no_score_is_refused(roots: str) -> None:
    with pytest.raises(CoachError, match=r'cannot read "file": the archive holds no score \(META-INF/container.xml'):
        title_of(archive(("score.xml", score()), roots=roots))


@pytest.mark.parametrize("codec", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
@pytest.mark.parametrize("blanks", ["", "\n", " \r\n\t\n"])
def test_blanks_before_a_document_do_no_harm(codec: str, blanks: str) -> None:
    declared = '<?xml version="1.0" encoding="UTF-16"?>' if "16" in codec else '<?xml version="1.0"?>'
    assert title_of(f"{blanks}{score(declared)}".encode(codec)) == TITLE
    if codec.endswith("e"):
        assert title_of(f"\ufeff{blanks}{score(declared)}".encode(codec)) == TITLE


def test_latin_1_without_a_declaration_is_no_xml() -> None:
    """Without a declaration XML is UTF-8 or UTF-16."""
    with pytest.raises(CoachError, match="its XML is damaged"):
        title_of(score().encode("latin-1"))
    declared = score('<?xml version="1.0" encoding="ISO-8859-1"?>').encode("latin-1")
    assert title_of(b"\n" + declared) == TITLE


ABC = f"X:1\nT:{TITLE}\nM:4/4\nL:1/4\nK:C\nC D E F|\n"
KERN = f"!!!OTL: {TITLE}\n**kern\n*M4/4\n4c\n4d\n4e\n4f\n*-\n"


@pytest.mark.parametrize("marked", [True, False])
@pytest.mark.parametrize("codec", ["utf-16-le", "utf-16-be"])
@pytest.mark.parametrize("text", [ABC, KERN], ids=["abc", "kern"])
def test_abc_and_kern_in_utf_16(text: str, codec: str, marked: bool) -> None:
    """RFC 2781, section 4.1: the mark tells the order of bytes, and may be missing."""
    assert title_of(("\ufeff" * marked + text).encode(codec)) == TITLE
    assert title_of(("\ufeff" * marked + text.replace("\n", "\r\n")).encode(codec)) == TITLE


def test_titles_in_other_letters_are_utf_16_too() -> None:
    """Hardly every other byte is zero then."""
    tune = ABC.replace(TITLE, "Тихая ночь, дивная ночь")
    assert title_of(tune.encode("utf-16-le")) == "Тихая ночь, дивная ночь"


def test_a_tune_book_in_utf_16_is_taken_in_tune_by_tune(tmp_path: Path) -> None:
    book = f"{ABC}\n{ABC.replace('X:1', 'X:2').replace(TITLE, 'Ärger').replace('C D E F', 'F E D C')}"
    data = book.encode("utf-16")
    assert tunes_in(data, "book") == (("1", TITLE), ("2", "Ärger"))
    (tmp_path / "book.abc").write_bytes(data)
    (tmp_path / "chant").write_bytes(KERN.replace("4f", "4a").encode("utf-16"))
    taken = take_in([str(tmp_path / "book.abc"), str(tmp_path / "chant")])
    assert [one.outcome for one in taken] == ["added"] * 3
    shelved = sorted(path.name for path in places.shelf().iterdir())
    assert shelved == sorted([f"{TITLE}.abc", "Ärger.abc", f"{TITLE} (2).krn"])
