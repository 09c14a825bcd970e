"""D.C., D.S., Fine, Segno and Coda, whatever the format. Oracles: the standards' own words, music21 and verovio as
independent readers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import corpus as music21_corpus
from music21 import repeat

from coach.score.formats.kern_sections import going_back
from coach.score.phrases import find_phrases, sings
from coach.score.piece import Piece
from coach.score.reading import read_score
from coach.score.transposing import Interval, transposed
from coach.score.waymark_words import not_understood, waymark_in
from coach.score.waymarks import Waymark, kept


def told(piece: Piece) -> dict[int, list[str]]:
    """The marks of a piece by the number of their bar."""
    found: dict[int, list[str]] = {}
    for bar in piece.bars:
        for mark in bar.waymarks:
            found.setdefault(bar.number, []).append(mark.words)
    return found


def abc(tune: str, head: str = "M:4/4\nL:1/4\n") -> Piece:
    return read_score(f"X:1\nT:Fine\n{head}K:G\n{tune}\n".encode(), "tune.abc", "tune")


# Words.


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("D.C.", "D.C."),
        ("D. C. al Fine", "D.C. al Fine"),
        ("DA CAPO AL FINE.", "D.C. al Fine"),
        ("D.C.\nal Fine", "D.C. al Fine"),
        ("Da Capo", "D.C."),
        ("D.S. al Coda", "D.S. al Coda"),
        ("Dal Segno al fine", "D.S. al Fine"),
        ("D.S. \U0001d10b al \U0001d10c", "D.S. al Coda"),
        ("Fine", "Fine"),
        ("Fin.", "Fine"),
        ("To Coda", "To Coda"),
        ("To \U0001d10c", "To Coda"),
        ("al Coda", "To Coda"),
        ("Coda", "Coda"),
        ("\ue047", "Segno"),
        # Haydn, op. 1 no. 1, and Mozart, K. 156 and K. 80, in music21's corpus.
        ("M.D.C.", "D.C."),
        ("Menuetto da capo senza Ritornello.", "D.C."),
        ("D.C. al Segno e poi la Coda", "D.C. al Segno"),
    ],
)
def test_words_are_read_in_all_their_spellings(text: str, said: str) -> None:
    mark = waymark_in(text)
    assert mark is not None
    assert mark.words == said


KINDS: dict[type[repeat.RepeatExpression], str] = {
    repeat.Segno: "Segno",
    repeat.Fine: "Fine",
    repeat.DaCapo: "D.C.",
    repeat.DaCapoAlFine: "D.C. al Fine",
    repeat.DaCapoAlCoda: "D.C. al Coda",
    repeat.DalSegno: "D.S.",
    repeat.DalSegnoAlFine: "D.S. al Fine",
    repeat.DalSegnoAlCoda: "D.S. al Coda",
}


def test_whatever_music21_takes_for_such_words_is_taken() -> None:
    for kind, said in KINDS.items():
        for text in kind()._textAlternatives:
            mark = waymark_in(text)
            assert mark is not None
            assert mark.words == said


@pytest.mark.parametrize(
    "text", ["", "Finest of all", "fine days", "D. S. Wood", "Am", "Code", "dolce", "I.", "Segnor"]
)
def test_other_words_are_none(text: str) -> None:
    assert waymark_in(text) is None
    assert not not_understood(text)


@pytest.mark.parametrize(
    "symbol", ["D/C", "D/C#", "D7/C", "D+/C", "Ddim/C", "D°/C", "D#/C#", "D/C♯", "(D/C)", "D(C)", "D(D/C)", "Dsus4/C"]
)
@pytest.mark.parametrize("where", ['GABc|"{}"d2c2|BAG2|]', 'GABc|[d"{}"f]4|BAG2|]'])
def test_a_slash_chord_is_no_da_capo(symbol: str, where: str) -> None:
    """ABC 2.1, section 4.18: a chord symbol is a note, an accidental, a type and a bass note after a slash."""
    piece = abc(where.format(symbol))
    assert all(not bar.waymarks for bar in piece.bars)
    assert piece.remarks == ()


@pytest.mark.parametrize(
    "text", ["D.C.", "DC", "^D.C.", "D.S.", "D.C. al Fine", "D/C al Fine", "Fine", "Coda", "Dal Segno"]
)
def test_words_that_name_no_chord_are_marks(text: str) -> None:
    assert any(bar.waymarks for bar in abc(f'GABc|"{text}"d2c2|BAG2|]').bars)


@pytest.mark.parametrize("text", ["D.C. fermata al Trio", "Da Capo il Majore", "dal segno, third time softly"])
def test_words_that_say_more_than_is_understood_are_told(text: str) -> None:
    piece = abc(f'GABc|G4 "^{text}"|]')
    assert told(piece) == {}
    assert piece.remarks == (f'left out "{text}": the coach does not know where it leads',)


def test_titles_and_syllables_are_no_marks() -> None:
    piece = read_score(b"X:1\nT:D.C. al Fine\nM:4/4\nL:1/4\nK:G\nGABc|G4|]\nw:Fine D.C. Se-gno Co-da\n", "t.abc", "t")
    assert told(piece) == {}
    note = "<note><pitch><step>G</step><octave>4</octave></pitch><duration>1</duration>{}</note>"
    sung = note.format("<lyric><text>Fine</text></lyric>")
    document = (
        "<score-partwise><work><work-title>Coda</work-title></work><credit><credit-words>D.C.</credit-words></credit>"
        f'<part-list><score-part id="P"/></part-list><part id="P"><measure number="1">{sung}</measure></part>'
        "</score-partwise>"
    )
    assert told(read_score(document.encode(), "t.musicxml", "t")) == {}


# ABC.


@pytest.mark.parametrize(
    ("tune", "marks"),
    [
        # ABC 2.1, section 4.14: decorations; section 4.16: S and O; section 4.19: annotations.
        ("!segno!GABc|G4!fine!|cccc|G4!D.S.!|]", {1: ["Segno"], 2: ["Fine"], 4: ["D.S."]}),
        ("SGABc|G4!dacoda!|cccc|G4!D.C.!|OG4|]", {1: ["Segno"], 2: ["To Coda"], 4: ["D.C."], 5: ["Coda"]}),
        ("GABc|!fine!G4|cccc|!dacapo!G4|]", {2: ["Fine"], 4: ["D.C."]}),
        ('GABc|"^Fine"G4|cccc|"_D.C. al Fine"G4|]', {2: ["Fine"], 4: ["D.C. al Fine"]}),
        ('GABc|G4"<Fine"|cccc|G4|] "D.C."', {2: ["Fine"], 4: ["D.C."]}),
        ('GABc|G4| "Fine" ||cccc|G4!D.C.!|]', {2: ["Fine"], 4: ["D.C."]}),
        ('GABc|"@2,3 Fine"[GB]4|cccc|!D.C.!G4|]', {2: ["Fine"], 4: ["D.C."]}),
        # U: gives letters other meanings (section 4.16).
        ("U:S=!trill!\nSGABc|G4|]", {}),
        # The second of two coda signs begins the coda; a segno where the piece ends is a D.S. (common practice).
        ("GABc|OG4|cccc|G4!D.C.!|OG4|]", {1: ["To Coda"], 4: ["D.C."], 5: ["Coda"]}),
        ('GABc|"^Segno"G4|cccc|G4"^Segno"|]', {2: ["Segno"], 4: ["D.S."]}),
    ],
)
def test_abc_says_what_the_standard_says(tune: str, marks: dict[int, list[str]]) -> None:
    assert told(abc(tune)) == marks


def test_a_mark_in_one_voice_is_a_mark_of_the_score() -> None:
    piece = abc('V:1\nV:2\n[V:1]GABc|G4|GABc|G4"D.C."|]\n[V:2]GABc|!fine!G4|GABc|G4"D.C. al Fine"|]')
    assert told(piece) == {2: ["Fine"], 4: ["D.C. al Fine"]}


@pytest.mark.parametrize(
    ("tune", "at"),
    [
        # A line that ends within the bar in which the next begins with a pickup, wherever over it the word is written.
        ("D|GABc|B3!fine!D|GABc|B3!D.C.!|]", 3),
        ('D|GABc|"^Fine"B3D|GABc|B3!D.C.!|]', 3),
        # A bar to its end: nothing long ends before the last note, or that is all of the bar.
        ("D|GABc|GABc!fine!|GABc|B3!D.C.!|]", 4),
        ('D|GABc|GAB"^Fine"c|GABc|B3!D.C.!|]', 4),
        ("D|GABc|B4!fine!|GABc|B3!D.C.!|]", 4),
        ("GABc|B3!fine!D|GABc|B3!D.C.!|]", 4),
        ('D|GABc|B3"^Fine"z||D|GABc|B3!D.C.!|]', 4),
    ],
)
def test_a_fine_ends_the_music_before_the_next_pickup(tune: str, at: int) -> None:
    """Common practice, no source: hymns with a pickup have it at the end of their bars too."""
    (mark,) = [mark for bar in abc(tune).bars for mark in bar.waymarks if mark.kind == "fine"]
    assert mark.at == at


# MusicXML.


def direction(content: str, sound: str = "", offset: str = "") -> str:
    return f"<direction><direction-type>{content}</direction-type>{offset}{sound}</direction>"


def sound(name: str) -> str:
    return f'<sound {name}="yes"/>'


def musicxml(*bars: str) -> Piece:
    """Bars of two half notes, "*" in what stands beside them."""
    note = "<note><pitch><step>G</step><octave>4</octave></pitch><duration>2</duration></note>"
    head = "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
    measures = "".join(
        f'<measure number="{number}">{head * (number == 1)}{bar.replace("*", note)}</measure>'
        for number, bar in enumerate(bars, 1)
    )
    document = (
        f'<score-partwise><part-list><score-part id="P"/></part-list><part id="P">{measures}</part></score-partwise>'
    )
    return read_score(document.encode(), "tune.musicxml", "tune")


WORD = "<words>{}</words>"
TO = "<words>To</words></direction-type><direction-type><coda/>"


@pytest.mark.parametrize(
    ("bars", "marks"),
    [
        # MusicXML 4.0, sound: attributes by themselves, in a direction or beside it.
        (["**<sound fine='yes'/>", "**<sound dacapo='yes'/>"], {1: ["Fine"], 2: ["D.C."]}),
        (["<sound segno='a'/>**", f"**{direction('<words/>', sound('dalsegno'))}"], {1: ["Segno"], 2: ["D.S."]}),
        (["**<sound tocoda='c'/>", "<sound coda='c'/>**"], {1: ["To Coda"], 2: ["Coda"]}),
        # direction: what is printed says more than what is played, and stands alone in many files.
        (
            [
                f"**{direction(WORD.format('Fine'))}",
                f"**{direction(WORD.format('D.C. al Fine'), sound('dacapo'))}",
            ],
            {1: ["Fine"], 2: ["D.C. al Fine"]},
        ),
        ([f"{direction('<segno/>')}**", f"**{direction(TO)}"], {1: ["Segno"], 2: ["To Coda"]}),
        ([f"{direction('<coda/>', sound('tocoda'))}**", "**"], {1: ["To Coda"]}),
        ([f"{direction(WORD.format('Trio') + '</direction-type><direction-type><segno/>')}**"], {1: ["Segno"]}),
        # A sign at the end of a bar belongs to the next one; offset moves a direction.
        ([f"**{direction('<segno/>')}", "**"], {2: ["Segno"]}),
        ([f"{direction('<segno/>', offset='<offset>4</offset>')}**", "**"], {2: ["Segno"]}),
        # barline: segno and coda.
        (["<barline location='left'><segno/></barline>**", "**"], {1: ["Segno"]}),
        (["**<barline location='right'><coda/></barline>", "**"], {2: ["Coda"]}),
        # Words at the head of a bar that ends music count from its end.
        ([f"{direction(WORD.format('Fine'))}**", f"{direction(WORD.format('D.C.'))}**"], {1: ["Fine"], 2: ["D.C."]}),
        (["<sound dacapo='no'/>**"], {}),
    ],
)
def test_musicxml_says_what_the_standard_says(bars: list[str], marks: dict[int, list[str]]) -> None:
    piece = musicxml(*bars)
    assert told(piece) == marks
    for bar in piece.bars:
        assert all(mark.at == (0 if mark.begins else bar.duration) for mark in bar.waymarks)


def test_verovio_reads_the_same_out_of_musicxml(tmp_path: Path) -> None:
    """verovio reads MusicXML by code of its own, and writes MEI: dir, repeatMark (MEI 5)."""
    document = (
        '<score-partwise version="4.0"><part-list><score-part id="P"><part-name/></score-part></part-list>'
        '<part id="P">{}</part></score-partwise>'
    )
    note = "<note><pitch><step>G</step><octave>4</octave></pitch><duration>2</duration><type>half</type></note>"
    head = "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
    bars = [
        f"{head}{direction('<segno/>', sound('segno'))}**",
        f"**{direction(WORD.format('To Coda'), sound('tocoda'))}",
        f"**{direction(WORD.format('D.S. al Coda'), sound('dalsegno'))}",
        f"{direction('<coda/>', sound('coda'))}**{direction(WORD.format('Fine'), sound('fine'))}",
    ]
    inside = "".join(f'<measure number="{n}">{bar.replace("*", note)}</measure>' for n, bar in enumerate(bars, 1))
    data = document.format(inside)
    toolkit = verovio()
    assert toolkit.loadData(data)
    ours = read_score(data.encode(), "tune.musicxml", "tune")
    theirs = read_score(toolkit.getMEI().encode(), "tune.mei", "tune")
    assert told(ours) == {1: ["Segno"], 2: ["To Coda"], 3: ["D.S. al Coda"], 4: ["Coda", "Fine"]}
    assert [bar.waymarks for bar in theirs.bars] == [bar.waymarks for bar in ours.bars]


def verovio() -> Any:
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    verovio.setDefaultResourcePath(str(Path(verovio.__file__).parent / "data"))
    return verovio.toolkit()


def test_marks_stand_where_music21_has_them(corpus: Callable[[str], Piece]) -> None:
    """Handel, "Lascia ch'io pianga", in music21's corpus: Segno, Fine, D.S. al Fine."""
    name = "handel/rinaldo/Lascia_chio_pianga"
    heard: dict[int, list[str]] = {}
    for measure in music21_corpus.parse(name).parts[0].getElementsByClass("Measure"):
        for sign in measure.getElementsByClass(repeat.RepeatExpression):
            heard.setdefault(measure.number, []).append(KINDS[type(sign)])
    assert heard
    assert told(corpus(name)) == heard


# MEI.


def mei(*measures: str) -> Piece:
    head = '<mei xmlns="http://www.music-encoding.org/ns/mei"><music><body><mdiv><score>'
    define = '<scoreDef meter.count="4" meter.unit="4"><staffGrp><staffDef n="1" lines="5" clef.shape="G"/></staffGrp>'
    note = '<note xml:id="n{0}" dur="2" pname="g" oct="4"/><note xml:id="m{0}" dur="2" pname="g" oct="4"/>'
    bars = "".join(
        f'<measure n="{n}"><staff n="1"><layer>{note.format(n)}</layer></staff>{said}</measure>'
        for n, said in enumerate(measures, 1)
    )
    document = f"{head}{define}</scoreDef><section>{bars}</section></score></mdiv></body></music></mei>"
    return read_score(document.encode(), "tune.mei", "tune")


def test_mei_says_what_the_guidelines_say() -> None:
    """MEI 5.0, repeatMark: func coda, dalSegno, daCapo, fine, segno; words may stand in it, and in dir."""
    piece = mei(
        '<repeatMark func="segno" tstamp="1"/>',
        '<repeatMark func="fine" startid="#m2"/>',
        '<dir tstamp="5" staff="1">To <symbol glyph.auth="smufl" glyph.num="U+E048"/></dir>',
        '<repeatMark func="dalSegno" tstamp="5">D.S. al <symbol glyph.name="coda"/></repeatMark>',
        '<repeatMark func="coda" tstamp="1"/>',
        '<dir tstamp="5"><rend fontstyle="italic">D.C.</rend> al Fine</dir><dir tstamp="1">dolce</dir>',
    )
    assert told(piece) == {
        1: ["Segno"],
        2: ["Fine"],
        3: ["To Coda"],
        4: ["D.S. al Coda"],
        5: ["Coda"],
        6: ["D.C. al Fine"],
    }


# Humdrum.


KERN = """**kern\t**kern
*M4/4\t*M4/4
=1\t=1
!!LO:TX:a:t=Segno
1G\t1g
=2\t=2
2G\t2g
!\t!LO:TX:a:i:t=Fine
2G\t2g
=3\t=3
1G\t1g
=4\t=4
2.G\t4g
.\t2g
4G\t4g
!!LO:TX:a:t=D.S. al Fine
==\t==
*-\t*-
"""


def test_kern_says_what_its_layout_parameters_say() -> None:
    """Humdrum, layout parameters: !LO:TX, a text over the next token. verovio reads Humdrum by code of its own."""
    toolkit = verovio()
    toolkit.setInputFrom("humdrum")
    assert toolkit.loadData(KERN)
    ours = read_score(KERN.encode(), "tune.krn", "tune")
    assert told(ours) == {1: ["Segno"], 2: ["Fine"], 4: ["D.S. al Fine"]}
    theirs = read_score(toolkit.getMEI().encode(), "tune.mei", "tune")
    assert [bar.waymarks for bar in theirs.bars] == [bar.waymarks for bar in ours.bars]


@pytest.mark.parametrize(
    ("order", "labels", "marks"),
    [
        ("A,A,B,B,A", "A,B", [("D.C. al Fine", 2), ("Fine", 1)]),
        ("A,A1,A,A2,B,A,A2", "A,A1,A2,B", [("D.C. al Fine", 4), ("Fine", 3)]),
        ("A,B,A,C", "A,B,C", [("D.C. al Coda", 2), ("To Coda", 1), ("Coda", 2)]),
        ("I,A,B,A", "I,A,B", [("Segno", 1), ("D.S. al Fine", 3), ("Fine", 2)]),
        # Repeats, rondos and the like are none.
        ("A,A,B,B", "A,B", []),
        ("A,B,A,B", "A,B", []),
        ("A,B,B1,A,B,B2", "A,B,B1,B2", []),
        ("A,B,A,C,A", "A,B,C", []),
        ("A,X", "A,B", []),
        ("", "A", []),
    ],
)
def test_sections_played_again_at_the_end_are_a_da_capo(order: str, labels: str, marks: list[tuple[str, int]]) -> None:
    """Humdrum reference, expansion lists: the order in which sections are played."""
    begins = [(Fraction(place), label) for place, label in enumerate(labels.split(","))]
    found = going_back(order.split(","), begins, Fraction(len(begins)))
    assert [(mark.words, place) for mark, place in found] == marks


def test_a_kern_file_with_a_da_capo_in_its_order_has_it_in_its_bars() -> None:
    rows = ["**kern", "*>[A,B,A]", "*>A", "*M1/4", "=1", "4c", "=2", "4d", "*>B", "=3", "4e", "=4", "4f", "==", "*-"]
    piece = read_score("\n".join(rows).encode(), "tune.krn", "tune")
    assert told(piece) == {2: ["Fine"], 4: ["D.C. al Fine"]}


# What follows from the marks.


def test_no_tie_leads_on_from_a_da_capo() -> None:
    piece = abc("GABc!dacoda!|G4!fine!|GABc-!D.C.!|Oc4|]")
    assert [(note.onset, note.duration) for note in piece.notes if note.pitch == "C5"] == [(3, 1), (11, 1), (12, 4)]


def ends(piece: Piece) -> list[tuple[Fraction, str]]:
    return [(phrase.end, phrase.why_it_ends) for phrase in find_phrases(piece)]


def test_a_phrase_ends_at_a_fine_and_says_so() -> None:
    tune = "[DG][DB][FA]G|[DG][EB]c2{}|[Gd][GB]cB|[DA][DF]G2{}|]"
    (end, why), _ = ends(abc(tune.format("!fine!", '"D.C. al Fine"')))
    assert end == 8
    assert "Fine" in why


def test_a_phrase_never_goes_on_over_a_da_capo() -> None:
    piece = abc("[DG][DB][FA]G|[DG][EB]cd!fine!|[Gd][GB]cB|[DA][DF]GA!D.C.!|[DG][DB][FA]G|[DG][EB]c2|]")
    assert (16, "D.C.") in ends(piece)


def test_keyboard_figures_are_counted_in_fours_from_a_fine_on() -> None:
    bar = "GBdBGBdB"
    upper = "|".join([*([bar] * 6), bar + "!fine!", *([bar] * 7), "G8!D.C.!"])
    lower = "|".join(["G,8"] * 15)
    piece = abc(f"V:1\nV:2 clef=bass\n[V:1]{upper}|]\n[V:2]{lower}|]", head="M:4/4\nL:1/8\n")
    assert not sings(piece)
    assert [(end / 4, why) for end, why in ends(piece)] == [
        (4, "four bars (a guess)"),
        (7, "Fine"),
        (11, "four bars (a guess)"),
        (15, "end of the piece"),
    ]


def test_a_fine_and_a_da_capo_may_stand_in_one_bar() -> None:
    """The tune begins with a pickup, and so does what comes after its Fine."""
    bar = "GBdBGBdB"
    upper = "|".join(["d2", *([bar] * 6), "GB!fine!g4d2!D.C.!", *([bar] * 7)])
    lower = "|".join(["z2", *(["G,8"] * 6), "G,6G,2", *(["G,8"] * 7)])
    piece = abc(f"V:1\nV:2 clef=bass\n[V:1]{upper}|]\n[V:2]{lower}|]", head="M:4/4\nL:1/8\n")
    assert {(Fraction(28), "Fine"), (Fraction(29), "D.C.")} <= set(ends(piece))


def test_a_fine_inside_a_word_makes_no_phrase_of_three_notes() -> None:
    """A word that goes on and a line of three syllables weigh more than a sign that a file has at a strange place."""
    words = "w:The re-joi-cing peo-ple shall sing a-loud, and nev-er cease to praise the Lord."
    tune = "G|A2B2{}|c2B2|A2G2|F2G2|A2B2|c2d2|B2A2|G2A2|B3|]"
    plain, marked = (abc(tune.format(sign) + "\n" + words) for sign in ("", "!fine!"))
    assert told(marked) == {1: ["Fine"]}
    assert [end for end, _ in ends(marked)] == [end for end, _ in ends(plain)]


def test_marks_are_kept_with_a_piece_and_move_with_it() -> None:
    piece = abc('SGABc!dacoda!|G4!fine!|GABc"D.S. al Coda"|OG4!D.C.!|]')
    assert Piece.from_json(piece.to_json()) == piece
    assert [bar.waymarks for bar in transposed(piece, Interval(1, 2)).bars] == [bar.waymarks for bar in piece.bars]
    assert told(piece) == {1: ["Segno", "To Coda"], 2: ["Fine"], 3: ["D.S. al Coda"], 4: ["Coda", "D.C."]}


@pytest.mark.parametrize(
    ("tune", "first", "last", "marks"),
    [
        # What a D.C. or D.S. leads through is there whole, or its marks are none.
        ("GABc|SG4|cccc!fine!|G4!D.S.!|GABc|]", 2, 4, {2: ["Segno"], 3: ["Fine"], 4: ["D.S."]}),
        ("GABc|SG4|cccc!fine!|G4!D.S.!|GABc|]", 3, 4, {}),
        ("GABc|G4|cccc!fine!|G4!D.C.!|GABc|]", 1, 4, {3: ["Fine"], 4: ["D.C."]}),
        ("GABc|G4|cccc!fine!|G4!D.C.!|GABc|]", 2, 5, {}),
        ('GABc!dacoda!|G4 "D.C. al Coda"|OG4|GABc|]', 1, 2, {}),
        ('GABc!dacoda!|G4 "D.C. al Coda"|OG4|GABc|]', 1, 3, {1: ["To Coda"], 2: ["D.C. al Coda"], 3: ["Coda"]}),
    ],
)
def test_an_excerpt_keeps_what_it_holds_whole(tune: str, first: int, last: int, marks: dict[int, list[str]]) -> None:
    piece = abc(tune)
    ways = kept([bar.waymarks for bar in piece.bars], range(first - 1, last))
    bars = tuple(replace(bar, waymarks=way) for bar, way in zip(piece.bars, ways, strict=True))
    assert told(replace(piece, bars=bars)) == marks


ANY = st.lists(
    st.builds(
        Waymark,
        st.sampled_from(["segno", "coda", "to coda", "fine", "da capo", "dal segno"]),
        st.just(Fraction(0)),
        st.sampled_from(["", "fine", "coda"]),
    ),
    max_size=2,
)


@given(st.lists(ANY, min_size=1, max_size=8), st.data())
def test_nothing_is_kept_that_was_not_there(ways: list[list[Waymark]], data: st.DataObject) -> None:
    first = data.draw(st.integers(0, len(ways) - 1))
    last = data.draw(st.integers(first, len(ways) - 1))
    found = kept(ways, range(first, last + 1))
    assert len(found) == len(ways)
    assert all(set(here) <= set(marks) for here, marks in zip(found, ways, strict=True))
    if last - first + 1 < len(ways):
        assert not any([*found[:first], *found[last + 1 :]])
        assert any(mark.goes_back for here in found for mark in here) or not any(found)
