"""Repeat signs and endings, whatever the format. Oracles: music21 as an independent reader, and the standards' own
examples."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import bar, converter, spanner, stream
from music21 import corpus as music21_corpus

from coach.score.formats.kern_sections import endings_of
from coach.score.library import corpus_folder
from coach.score.phrases import find_phrases
from coach.score.piece import Piece
from coach.score.reading import read_score
from coach.score.repeats import ONCE, Repeat, ending_of, kept, sections, turns
from coach.score.transposing import Interval, transposed

OPENS, CLOSES = Repeat(opens=True), Repeat(closes=True)
FIRST, SECOND = Repeat(closes=True, ending=(1,)), Repeat(ending=(2,))


def signs(piece: Piece) -> list[str]:
    """The bars as a reader of signs would tell them: "|:", ":|", "1.", "2."."""
    told = []
    for one in piece.bars:
        ending = f"{one.repeat.bracket}." if one.repeat.ending else ""
        told.append("|:" * one.repeat.opens + ending + ":|" * one.repeat.closes)
    return told


def heard_by_music21(score: Any) -> list[str]:
    """The same, from music21's first part, bars of no length left out."""
    part = score.parts[0]
    under = {
        id(measure): bracket.number
        for bracket in part.recurse().getElementsByClass(spanner.RepeatBracket)
        for measure in bracket.getSpannedElements()
    }
    told = []
    for measure in part.getElementsByClass(stream.Measure):
        if not measure.duration.quarterLength:
            continue
        left, right = measure.leftBarline, measure.rightBarline
        opens = isinstance(left, bar.Repeat) and left.direction == "start"
        closes = isinstance(right, bar.Repeat) and right.direction == "end"
        ending = f"{under[id(measure)]}." if id(measure) in under else ""
        told.append("|:" * opens + ending + ":|" * closes)
    return told


@pytest.mark.parametrize(
    "name", ["bach/bwv269", "bach/bwv347", "bach/bwv66.6", "bach/bwv10.7", "bach/bwv190.7", "bach/bwv144.3"]
)
def test_a_chorale_repeats_where_music21_says(name: str, corpus: Callable[[str], Piece]) -> None:
    assert signs(corpus(name)) == heard_by_music21(music21_corpus.parse(name))


def test_kern_repeats_close_where_music21_says() -> None:
    """music21 takes each closing sign for an opening one as well; what opens is told from the rows themselves."""
    found = [path for path in sorted(corpus_folder().rglob("*.krn")) if "\n=:|!" in path.read_text("latin-1")]
    assert found
    for path in found:
        told = signs(read_score(path.read_bytes(), path.name, path.stem))
        closes = [place for place, sign in enumerate(told) if sign.endswith(":|")]
        assert closes == [place for place, sign in enumerate(heard_by_music21(converter.parse(path))) if ":|" in sign]
        rows = [line.split("\t")[0] for line in path.read_text("latin-1").splitlines() if line.startswith("=")]
        assert sum(sign.startswith("|:") for sign in told) == sum(row.endswith("|:") for row in rows)


KERN = """**kern
*>[A,A1,A,A2]
*>norep[A,A2]
*>A
*M1/4
=1!|:
4c
=2
4d
*>A1
=3
4e
=:|!
*>A2
=4
4f
==
*-
"""


def test_kern_sections_that_a_section_ends_with_by_turns_are_its_endings() -> None:
    """Humdrum reference, section labels and expansion lists. verovio reads Humdrum independently, and writes MEI."""
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    verovio.setDefaultResourcePath(str(Path(verovio.__file__).parent / "data"))
    toolkit = verovio.toolkit()
    toolkit.setInputFrom("humdrum")
    assert toolkit.loadData(KERN)
    found = signs(read_score(KERN.encode(), "tune.krn", "tune"))
    assert found == ["|:", "", "1.:|", "2."]
    assert found == signs(read_score(toolkit.getMEI().encode(), "tune.mei", "tune"))


@pytest.mark.parametrize(
    ("order", "endings"),
    [
        ("A,A1,A,A2", {"A1": (1,), "A2": (2,)}),
        ("A,A1,A,A2,B,B1,B,B2,C", {"A1": (1,), "A2": (2,), "B1": (1,), "B2": (2,)}),
        ("A,A1,A,A1,A,A2", {"A1": (1, 2), "A2": (3,)}),
        # A repeated passage may have a label of its own inside; a da capo is no third time.
        ("A,B,B1,A,B,B2", {"B1": (1,), "B2": (2,)}),
        ("A,A1,A,A2,B,A,A2", {"A1": (1,), "A2": (2,)}),
        # No endings: plain repeats, a da capo, names that only end in a number.
        ("A,A,B", {}),
        ("A,B,A", {}),
        ("A,B,A,C,A", {}),
        ("Kyrie,Kyrie1", {}),
        ("", {}),
    ],
)
def test_which_sections_are_endings_and_when(order: str, endings: dict[str, tuple[int, ...]]) -> None:
    assert endings_of(order.split(",")) == endings


ABC = "X:1\nT:Rounds\nM:2/4\nL:1/4\nK:G\n"


@pytest.mark.parametrize(
    ("tune", "told"),
    [
        # ABC 2.1, section 4.8: ":|" and "|:", "::" for both at once.
        ("GA|:BA|GB:|cB|", ["", "|:", ":|", ""]),
        ("|:GA|BA::GB|cB:|", ["|:", ":|", "|:", ":|"]),
        ("GA:||:BA|GB:|", [":|", "|:", ":|"]),
        ("|:GA|BA:|\n|:GB|cB:|", ["|:", ":|", "|:", ":|"]),
        # Section 4.9: first and second repeats, "|1 :|2" and "[1 :| [2".
        ("|:GA|1BA:|2GB||cB|", ["|:", "1.:|", "2.", ""]),
        ("|:GA|[1 BA|AA:|[2 GB|BB|]cB|", ["|:", "1.", "1.:|", "2.", "2.", ""]),
        # Section 4.10: variant endings.
        ("|:GA|[1,3 BA:|[2,4 GB:|", ["|:", "1, 3.:|", "2, 4.:|"]),
        ("|:GA|[1-3 BA:|[4 GB|]", ["|:", "1, 2, 3.:|", "4."]),
        # "[|" and "|]" are heavy bar lines, no repeats.
        ("GA|]BA[|GB|cB|]", ["", "", "", ""]),
    ],
)
def test_abc_signs_mean_what_the_standard_says(tune: str, told: list[str]) -> None:
    assert signs(read_score((ABC + tune).encode(), "tune.abc", "tune")) == told


def test_a_sign_in_one_voice_is_a_sign_of_the_score() -> None:
    voices = "V:1\nV:2\n[V:1]|:GA|1BA:|2GB|]\n[V:2]GA|BA|GB|]\n"
    assert signs(read_score((ABC + voices).encode(), "tune.abc", "tune")) == ["|:", "1.:|", "2."]


def mei(measures: str) -> bytes:
    head = '<mei xmlns="http://www.music-encoding.org/ns/mei"><music><body><mdiv><score>'
    define = '<scoreDef meter.count="1" meter.unit="4"><staffGrp><staffDef n="1" lines="5" clef.shape="G"/></staffGrp>'
    return f"{head}{define}</scoreDef><section>{measures}</section></score></mdiv></body></music></mei>".encode()


def measure(attributes: str) -> str:
    return f'<measure {attributes}><staff n="1"><layer><note dur="4" pname="g" oct="4"/></layer></staff></measure>'


def test_mei_signs_mean_what_the_guidelines_say() -> None:
    """MEI 5.0, data.BARRENDITION (rptstart, rptend, rptboth) and the element ending."""
    body = [
        measure('n="1" right="rptstart"'),
        measure('n="2"'),
        '<ending n="1">' + measure('n="3" right="rptend"') + "</ending>",
        '<ending n="2">' + measure('n="4"') + "</ending>",
        measure('n="5" left="rptstart" right="rptboth"'),
        measure('n="6" right="rptend"'),
    ]
    piece = read_score(mei("".join(body)), "tune.mei", "tune")
    assert signs(piece) == ["", "|:", "1.:|", "2.", "|::|", "|::|"]


def musicxml(*bars: str) -> bytes:
    measures = "".join(
        f'<measure number="{number}">{lines.partition("*")[0]}'
        "<note><pitch><step>G</step><octave>4</octave></pitch><duration>1</duration></note>"
        f"{lines.partition('*')[2]}</measure>"
        for number, lines in enumerate(bars, 1)
    )
    return (
        f'<score-partwise><part-list><score-part id="P1"/></part-list><part id="P1">{measures}</part></score-partwise>'
    ).encode()


LEFT, RIGHT = '<barline location="left">', '<barline location="right">'
FORWARD, BACK = '<repeat direction="forward"/></barline>', '<repeat direction="backward"/></barline>'


def test_musicxml_endings_last_until_they_stop() -> None:
    begin = '<ending number="{}" type="start"/>'
    stop = '<ending number="{}" type="{}"/>'
    told = [
        f"{LEFT}{FORWARD}*",
        f"{LEFT}{begin.format('1, 2')}</barline>*",
        f"*{RIGHT}{stop.format('1, 2', 'stop')}{BACK}",
        f"{LEFT}{begin.format(3)}</barline>*{RIGHT}{stop.format(3, 'discontinue')}</barline>",
        "*",
    ]
    piece = read_score(musicxml(*told), "tune.musicxml", "tune")
    assert signs(piece) == ["|:", "1, 2.", "1, 2.:|", "3.", ""]


def test_an_ending_that_nothing_stops_ends_with_its_repeat() -> None:
    told = [f'{LEFT}<ending number="1" type="start"/></barline>*', f"*{RIGHT}{BACK}", "*"]
    assert signs(read_score(musicxml(*told), "tune.musicxml", "tune")) == ["1.", "1.:|", ""]


TWO_WAYS = """X:1
T:Two ways
M:4/4
L:1/4
K:G
V:1
V:2 clef=bass
[V:1]|:[GB][GB][FA]G|[GB][Gc]A2-|1[FA][GB]A2:|2[FA][DF]G2|]
[V:2]G,G,D,G,|G,C,D,2|D,G,D,2|D,D,G,2|]
"""


def test_no_tie_leads_from_one_ending_into_another() -> None:
    """A tie into a second ending comes from the bar before both (common practice, no source)."""
    piece = read_score(TWO_WAYS.replace("A2:|", "A2-:|").encode(), "tune.abc", "tune")
    found = [(note.onset, note.duration) for note in piece.notes if note.pitch == "A4"]
    assert found == [(2, 1), (6, 3), (10, 2), (12, 1)]


def test_no_phrase_goes_on_from_one_ending_into_another() -> None:
    piece = read_score(TWO_WAYS.encode(), "tune.abc", "tune")
    assert (12, "end of ending 1") in [(phrase.end, phrase.why_it_ends) for phrase in find_phrases(piece)]


def test_endings_apart_are_no_turn() -> None:
    assert turns([ONCE, FIRST, SECOND, SECOND, ONCE, FIRST]) == (2,)


@pytest.mark.parametrize(
    ("told", "found"),
    [
        # MusicXML 4.0, repeat: "backward" is the end of what is repeated, "forward" its beginning, wherever it stands.
        (["*", f"{LEFT}{BACK}*", "*"], [":|", "", ""]),
        ([f"{LEFT}{BACK}*", "*"], ["", ""]),
        ([f"*{RIGHT}{FORWARD}", f"*{RIGHT}{BACK}", "*"], ["", "|::|", ""]),
        (["*", f"*{RIGHT}{FORWARD}"], ["", ""]),
        # barline: without `location` it is the right one, unless the bar has yet to begin.
        ([f"<barline>{FORWARD}*<barline>{BACK}", "*"], ["|::|", ""]),
        ([f"*<barline>{FORWARD}", "*"], ["", "|:"]),
        # ending: what closes at the left ends the bracket before it, and one may begin there.
        (
            [
                f'{LEFT}<ending number="1" type="start"/></barline>*',
                f'{LEFT}<ending number="2" type="start"/>{BACK}*',
                f"{LEFT}{BACK}*",
            ],
            ["1.:|", "2.:|", ""],
        ),
        ([f'*{RIGHT}<ending number="1" type="start"/></barline>', f"*{RIGHT}{BACK}", "*"], ["", "1.:|", ""]),
    ],
)
def test_musicxml_signs_belong_to_the_bars_beside_which_they_stand(told: list[str], found: list[str]) -> None:
    assert signs(read_score(musicxml(*told), "tune.musicxml", "tune")) == found


def in_bars(*bars: str, numbers: Sequence[str], parts: int = 1) -> Piece:
    """Quarter notes in 4/4, in so many parts of which the last alone has bar lines: "G A B ] D", "[" opens, "]" closes
    a repeat in the middle of the bar, "|" is a double line."""
    lines = {"[": FORWARD, "]": BACK, "|": "<bar-style>light-light</bar-style></barline>"}
    head = "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
    bodies = ""
    for part in range(parts):
        measures = ""
        for place, (signs_of_bar, number) in enumerate(zip(bars, numbers, strict=True)):
            inside = head if place == 0 else ""
            for sign in signs_of_bar.split():
                if sign not in lines:
                    inside += f"<note><pitch><step>{sign}</step><octave>{5 - part}</octave></pitch>"
                    inside += "<duration>1</duration></note>"
                elif part == parts - 1:
                    inside += f'<barline location="middle">{lines[sign]}'
            measures += f'<measure number="{number}">{inside}</measure>'
        bodies += f'<part id="P{part}">{measures}</part>'
    listed = "".join(f'<score-part id="P{part}"/>' for part in range(parts))
    data = f"<score-partwise><part-list>{listed}</part-list>{bodies}</score-partwise>"
    return read_score(data.encode(), "tune.musicxml", "tune")


@pytest.mark.parametrize("parts", [1, 2])
@pytest.mark.parametrize(
    ("bars", "tune"),
    [
        (["D", "G A B c", "G A B ] D", "c B A G"], "D|GABc|GAB:|D|cBAG|"),
        (["D", "G A B c", "G A B ] [ D", "c B A G ]"], "D|GABc|GAB:||:D|cBAG:|"),
        (["D", "G A B c", "G A | B D", "c B A G"], "D|GABc|GA||BD|cBAG|"),
    ],
)
def test_a_line_in_the_middle_divides_its_bar_as_it_does_on_paper(bars: list[str], tune: str, parts: int) -> None:
    """MusicXML 4.0, barline: location "middle". Oracle: the same tune in ABC, where every line is written out."""
    piece = in_bars(*[bar.upper() for bar in bars], numbers="0123", parts=parts)
    abc = read_score(f"X:1\nM:4/4\nL:1/4\nK:C\n{tune}\n".encode(), "tune.abc", "tune")
    assert piece.bars == abc.bars
    assert [one.number for one in piece.bars] == [0, 1, 2, 2, 3]


def test_a_first_bar_with_a_repeat_in_its_middle_is_no_pickup() -> None:
    piece = in_bars("G A B ] D", "C B A G", numbers="12")
    assert [(one.number, one.beat(one.onset)) for one in piece.bars] == [(1, 1), (1, 4), (2, 1)]


@pytest.mark.parametrize(
    ("bars", "tune"),
    [
        (["D", "G A B C", "C B A G", "G A B"], "D|GABC|CBAG|GAB|"),
        (["G A B C", "C B A", "G", "G A B C"], "GABC|CBA|G|GABC|"),
        (["D", "G A B ] D", "C B A"], "D|GAB:|D|CBA|"),
    ],
)
def test_bars_without_numbers_are_counted_as_printed_music_counts_them(bars: list[str], tune: str) -> None:
    """MusicXML 4.0, measure: `number` is a text and may be empty. Oracle: ABC, which has no numbers."""
    abc = read_score(f"X:1\nM:4/4\nL:1/4\nK:C\n{tune}\n".encode(), "tune.abc", "tune")
    assert in_bars(*bars, numbers=[""] * len(bars)).bars == abc.bars


def test_signs_are_kept_with_a_piece_and_move_with_it(corpus: Callable[[str], Piece]) -> None:
    chorale = corpus("bach/bwv269")
    assert any(one.repeat != ONCE for one in chorale.bars)
    assert Piece.from_json(chorale.to_json()) == chorale
    assert signs(transposed(chorale, Interval(1, 2))) == signs(chorale)


def test_a_phrase_that_ends_with_a_repeat_says_so() -> None:
    tune = "M:4/4\n{}[DG][DB][FA]G|[DG][EB]c2{}[Gd][GB]cB|[DA][DF]G2|]\n"
    for opens, closes, why in (("|:", ":|", "repeat sign"), ("", "|:", "repeat sign"), ("", "||", "double bar")):
        piece = read_score((ABC + tune.format(opens, closes)).encode(), "tune.abc", "tune")
        assert why in find_phrases(piece)[0].why_it_ends


@pytest.mark.parametrize(
    ("text", "times"),
    [
        ("1", (1,)),
        ("1,2", (1, 2)),
        ("1. 2. 3.", (1, 2, 3)),
        ("2-4", (2, 3, 4)),
        ("1st time", (1,)),
        ("1-999", tuple(range(1, 10))),
        ("4-2", ()),
        ("0", ()),
        ("fine", ()),
        ("", ()),
    ],
)
def test_an_ending_is_for_the_times_it_names(text: str, times: tuple[int, ...]) -> None:
    assert ending_of(text) == times


@pytest.mark.parametrize(
    ("bars", "repeated"),
    [
        ([ONCE, ONCE], []),
        ([ONCE, CLOSES, ONCE], [(0, 1)]),
        ([ONCE, OPENS, CLOSES, ONCE, CLOSES], [(1, 2), (3, 4)]),
        ([ONCE, FIRST, SECOND, SECOND, ONCE], [(0, 3)]),
        ([OPENS, FIRST, Repeat(closes=True, ending=(2,)), Repeat(ending=(3,)), OPENS, CLOSES], [(0, 3), (4, 5)]),
        ([OPENS, ONCE], []),
    ],
)
def test_a_repeat_reaches_from_its_opening_to_the_last_of_its_endings(
    bars: Sequence[Repeat], repeated: list[tuple[int, int]]
) -> None:
    assert list(sections(bars)) == repeated


ANY = st.builds(Repeat, st.booleans(), st.booleans()) | st.builds(
    Repeat, st.just(False), st.booleans(), st.sampled_from([(1,), (2,), (1, 2)])
)
"""Signs of a bar; no ending begins where a repeat opens."""


@given(st.lists(ANY, min_size=1, max_size=12), st.data())
def test_signs_stay_where_their_whole_repeat_stays(bars: list[Repeat], data: st.DataObject) -> None:
    first = data.draw(st.integers(0, len(bars) - 1))
    last = data.draw(st.integers(first, len(bars) - 1))
    found = kept(bars, range(first, last + 1))
    assert [sign.ending for sign in found] == [sign.ending for sign in bars]
    if last - first + 1 == len(bars):
        assert found == tuple(bars)
        return
    # Whoever follows the signs that are left, without seeing the other bars, finds the same repeats and no more.
    whole = [(begins, ends) for begins, ends in sections(bars) if first <= begins and ends <= last]
    assert [(first + begins, first + ends) for begins, ends in sections(found[first : last + 1])] == whole
    inside = {place for begins, ends in whole for place in range(begins, ends + 1)}
    assert not any(sign.opens or sign.closes for place, sign in enumerate(found) if place not in inside)
