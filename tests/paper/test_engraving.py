"""The engraved page: everything is on it, and nothing over another. verovio draws; this looks at its drawing."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from xml.etree.ElementTree import Element, fromstring

import pytest
from sheets import written

from coach.fingering.plan import SIDES, PhrasePlan
from coach.fingering.planner import Options, plan_piece
from coach.paper.engraving import BY_ITSELF, WITHIN_A_PAGE, engraved
from coach.paper.musicxml import musicxml_of
from coach.paper.sheet import Sheet, sheet_of
from coach.paper.staves import staves_of
from coach.score.cuts import phrases_of
from coach.score.library import open_piece
from coach.score.piece import Phrase
from coach.score.reading import read_score

Phrases = Callable[..., PhrasePlan]

SVG = "{http://www.w3.org/2000/svg}"


def sheet_by(name: str, options: Options | None = None) -> Sheet:
    piece = open_piece(name)
    return sheet_of(plan_piece(piece, phrases_of(piece), options=options), piece)


def drawn(root: Element, kind: str) -> list[Element]:
    return [group for group in root.iter(f"{SVG}g") if kind in group.get("class", "").split()]


def letters(group: Element) -> str:
    return "".join("".join(group.itertext()).split())


def placed(root: Element) -> Iterator[tuple[str, float, float]]:
    """Each finger with where it stands on the page."""
    for group in drawn(root, "fing"):
        text = next(each for each in group.iter(f"{SVG}text"))
        yield letters(group), float(text.get("x", "nan")), float(text.get("y", "nan"))


@pytest.mark.parametrize("name", ["before-the-tide", "corpus:bach/bwv269"])
def test_every_note_and_finger_is_drawn(name: str) -> None:
    sheet = sheet_by(name)
    (page,) = engraved(musicxml_of(sheet), BY_ITSELF)
    root = fromstring(page)
    portions = [
        one
        for side in SIDES
        for staff in staves_of(sheet, side)
        for line in staff.lines
        for stem in line
        for one in stem
    ]
    assert len(drawn(root, "note")) >= len(portions)
    assert Counter(finger for finger, _, _ in placed(root)) == Counter(
        one.finger for one in sheet.strokes if one.finger
    )
    assert len(drawn(root, "slur")) >= len(sheet.slurs)
    assert len(drawn(root, "breath")) == len(sheet.commas)
    boxes = [group for group in drawn(root, "dir") if letters(group).isdecimal()]
    assert [letters(box) for box in boxes] == [str(number) for _, number in sheet.phrases]
    assert len(drawn(root, "syl")) == len([1 for one in sheet.strokes for word in one.words if word])


@pytest.mark.parametrize("name", ["before-the-tide", "corpus:bach/bwv269", "corpus:bach/bwv305"])
def test_no_finger_is_printed_over_another(name: str) -> None:
    """Notes of two voices stand side by side, their fingers in one column."""
    (page,) = engraved(musicxml_of(sheet_by(name)), BY_ITSELF)
    fingers = list(placed(fromstring(page)))
    # verovio's letters of fingers are some 150 high and 90 wide in the units of its drawing.
    for place, (_, x, y) in enumerate(fingers):
        for _, other_x, other_y in fingers[place + 1 :]:
            assert abs(x - other_x) > 90 or abs(y - other_y) > 120


DA_CAPO = """X:1
T:Round and round
M:4/4
L:1/4
K:G
V:1
V:2
V:3 clef=bass
V:4 clef=bass
[V:1] D|SG>A B A|G2 E2|D G B A|G3!fine!z||D|B>c d B|d2 B2|c e d c|B3!dacoda!D|G>A B A|G2 E2|D G B A|G3"D.S. al Coda"|]
[V:2] B,|D>D D D|E2 C2|B, D D C|B,3z||B,|D>D D D|D2 D2|E G G E|D3B,|D>D D D|E2 C2|B, D D C|B,3|]
[V:3] G|B>A G F|G2 G2|G B G F|G3z||G|G>A B G|B2 G2|G c B A|G3G|B>A G F|G2 G2|G B G F|G3|]
[V:4] G,|G,>G, G, D,|C,2 C,2|G,, G, D, D,|G,,3z||G,|G,>G, G, G,|G,2 G,2|C, C, G,, C,|G,3G,|G,>G, G, D,|C,2 C,2|\\
G,, G, D, D,|G,,3|]
[V:1] OG4|D4|G3"^D.C. al Fine"|]
[V:2] D4|C4|B,3|]
[V:3] B4|F4|G3|]
[V:4] G,4|D,4|G,,3|]
"""


def test_the_words_of_a_da_capo_end_where_the_music_does_and_touch_no_finger() -> None:
    piece = read_score(DA_CAPO.encode(), "round.abc", "round")
    (page,) = engraved(musicxml_of(sheet_of(plan_piece(piece, phrases_of(piece)), piece)), BY_ITSELF)
    root = fromstring(page)
    assert len(drawn(root, "repeatMark")) == 2
    # Words of which the right end is where they stand.
    texts = [one for group in drawn(root, "dir") for one in group.iter(f"{SVG}text") if one.get("text-anchor") == "end"]
    words = [" ".join("".join(text.itertext()).split()) for text in texts]
    assert Counter(words) == Counter(["Fine", "To Coda", "D.S. al Coda", "D.C. al Fine"])
    for text, said in zip(texts, words, strict=True):
        right, y = float(text.get("x", "nan")), float(text.get("y", "nan"))
        # Letters of 350 units are on average no wider than 180 (Times), and hang no lower than 90.
        left = right - 180 * len(said)
        for _, x, finger_y in placed(root):
            assert not (left - 45 < x < right + 45 and finger_y - 200 < y + 90 and y - 260 < finger_y)


def test_a_column_of_fingers_is_in_the_order_of_its_notes(phrase: Phrases) -> None:
    made = phrase(
        {
            "soprano": "C5:2:r5 D5:2:r5",
            "alto": "G4:1:r2 A4:1:r3 B4:2:r3",
            "tenor": "E4:2:r1 F4:2:r1",
            "bass": "C3:1:l5 D3:1:l4 G2:2:l5",
        }
    )
    (page,) = engraved(musicxml_of(written(made)), BY_ITSELF)
    first = sorted(placed(fromstring(page)), key=lambda each: each[1])[:4]
    column = [finger for finger, _, _ in sorted(first, key=lambda each: each[2])]
    assert column == ["5", "2", "1", "5"]


def test_title_composer_and_tempo_are_text_that_any_program_draws() -> None:
    sheet = sheet_by("before-the-tide")
    (page,) = engraved(musicxml_of(sheet), BY_ITSELF)
    text = letters(fromstring(page))
    assert "BeforetheTide" in text
    assert "".join(sheet.composer.split()) in text
    assert f"♩={round(sheet.quarter_bpm or 0)}" in text
    assert "@font-face" not in page
    (untitled,) = engraved(musicxml_of(sheet), WITHIN_A_PAGE)
    assert "BeforetheTide" not in letters(fromstring(untitled))


def test_a_phrase_is_numbered_where_it_begins() -> None:
    """Before the Tide begins its phrases on the fourth beat."""
    sheet = sheet_by("before-the-tide")
    root = fromstring(engraved(musicxml_of(sheet), BY_ITSELF)[0])
    words = {letters(group): group for group in drawn(root, "syl")}

    def at(group: Element) -> float:
        return float(next(each for each in group.iter(f"{SVG}text")).get("x", "nan"))

    box = next(group for group in drawn(root, "dir") if letters(group) == "2")
    assert at(words["sand"]) < at(box) < at(words["draws"])


def test_a_long_title_stands_in_several_lines() -> None:
    sheet = replace(
        sheet_by("before-the-tide"), title="A title that is so long that no page is broad enough for it " * 2
    )
    (page,) = engraved(musicxml_of(sheet), BY_ITSELF)
    root = fromstring(page)
    heading = next(group for group in drawn(root, "pgHead"))
    lines = {round(float(text.get("y", "0"))) for text in heading.iter(f"{SVG}tspan") if text.get("y")}
    assert "".join(sheet.title.split()) in letters(root)
    assert len(lines) > 1


def test_pages_are_no_taller_than_they_may_be() -> None:
    pages = engraved(musicxml_of(sheet_by("the-bell-above-the-reeds")), WITHIN_A_PAGE)
    long = engraved(musicxml_of(sheet_by("corpus:bach/bwv269")), WITHIN_A_PAGE)
    for page in (*pages, *long):
        found = re.search(r'viewBox="0 0 (\d+) (\d+)"', page)
        assert found is not None
        width, height = (int(side) / 10 for side in found.groups())
        assert width == WITHIN_A_PAGE.width_mm
        assert height <= WITHIN_A_PAGE.height_mm


def test_every_name_in_a_drawing_is_that_of_something_in_it() -> None:
    """Signs are drawn once and referred to; the style that draws lines and stems calls the drawing by its name."""
    for page in engraved(musicxml_of(sheet_by("corpus:bach/bwv269")), WITHIN_A_PAGE):
        names = set(re.findall(r'\sid="([^"]+)"', page))
        called = set(re.findall(r'href="#([^"]+)"', page)) | set(re.findall(r"#([\w-]+) [\w.]+[^{}]*\{", page))
        assert len(called) > 5
        assert called <= names


def test_the_same_music_is_drawn_the_same_in_every_thread() -> None:
    """The app draws in threads of its own, one after the other."""
    document = musicxml_of(sheet_by("before-the-tide"))
    here = engraved(document, BY_ITSELF)
    for _ in range(3):
        with ThreadPoolExecutor(1) as thread:
            assert thread.submit(engraved, document, BY_ITSELF).result() == here


def test_pedal_rolls_and_words_above_the_staff_are_drawn(phrase: Phrases) -> None:
    made = phrase({"soprano": "C6:1:r5~", "alto": "G5:1:r2~", "tenor": "E5:1:r1^~", "bass": "C3:1:l5"})
    root = fromstring(engraved(musicxml_of(written(made)), BY_ITSELF)[0])
    assert drawn(root, "arpeg")
    assert "tenorraised" in letters(root)
    pedalled = sheet_by("wide-water", Options(pedal=True))
    root = fromstring(engraved(musicxml_of(pedalled), BY_ITSELF)[0])
    assert len({one.get("id") for one in drawn(root, "pedal")}) >= len(pedalled.pedal)


def boxes(group: Element) -> list[tuple[float, float, float, float]]:
    """Left, top, right and bottom of the rectangles of a group."""
    found = []
    for one in group.iter(f"{SVG}rect"):
        x, y, width, height = (float(one.get(side, "nan")) for side in ("x", "y", "width", "height"))
        found.append((x, y, x + width, y + height))
    return found


def lines_of(group: Element) -> list[list[float]]:
    """The lines of a group, each with its two ends: x, y, x, y."""
    return [[float(n) for n in re.findall(r"[\d.]+", path.get("d", ""))] for path in group.iter(f"{SVG}path")]


def test_the_pedal_is_a_line_with_a_tick_where_it_changes() -> None:
    """Signs in letters are as broad as a quaver, and quick changes would print them over each other."""
    sheet = sheet_by("wide-water", Options(pedal=True))
    root = fromstring(engraved(musicxml_of(sheet), BY_ITSELF)[0])
    groups = drawn(root, "pedal")
    assert not [use for group in groups for use in group.iter(f"{SVG}use")]
    strokes = [box for group in groups for box in boxes(group)]
    ticks = sorted((top, left) for left, top, right, bottom in strokes if bottom - top > right - left)
    feet = Counter(foot for _, foot in sheet.pedal)
    assert set(feet) == {"down", "change", "up"}
    # A line ends at each change and the next one begins there, so that their ticks are one.
    assert len(ticks) == feet["down"] + feet["up"] + 2 * feet["change"]
    together = [b[1] - a[1] < 60 for a, b in pairwise(ticks) if a[0] == b[0]]
    assert sum(together) == feet["change"]
    lines = sorted((top, left, right) for left, top, right, bottom in strokes if right - left > bottom - top)
    for (height, _, right), (other, left, _) in pairwise(sorted({(top, left, right) for top, left, right in lines})):
        assert height != other or left > right - 100


STEMMED = ["before-the-tide", "corpus:bach/bwv269", "corpus:bach/bwv305", "corpus:bach/bwv66.6"]


@pytest.mark.parametrize("name", STEMMED)
def test_no_stem_runs_into_a_finger(name: str) -> None:
    root = fromstring(engraved(musicxml_of(sheet_by(name)), BY_ITSELF)[0])
    stems = [lines_of(group)[0] for group in drawn(root, "stem") if lines_of(group)]
    assert len(stems) > 50
    for text, x, y in placed(root):
        # Figures are 130 units broad and 180 high; half a line's distance is left free beside them.
        half = 65 * len(text) + 40
        for at, start, _, end in stems:
            beside = abs(at - x) < half and min(start, end) < y - 10 and max(start, end) > y - 170
            assert not beside, (text, x, y)


def test_a_comma_stands_between_the_fingers_of_two_notes() -> None:
    """Over the next note's fingers it would seem to belong to them."""
    root = fromstring(engraved(musicxml_of(sheet_by("before-the-tide")), BY_ITSELF)[0])
    fingers = list(placed(root))
    commas = [use.get("transform", "") for group in drawn(root, "breath") for use in group.iter(f"{SVG}use")]
    assert commas
    for comma in commas:
        found = re.match(r"translate\((\d+), (\d+)\)", comma)
        assert found is not None
        x, y = float(found[1]), float(found[2])
        # A comma is 130 units broad, a figure too.
        assert not [text for text, at, base in fingers if abs(y - base) < 2000 and x - 65 < at < x + 195]


def test_the_point_of_a_fermata_keeps_off_the_fingers() -> None:
    root = fromstring(engraved(musicxml_of(sheet_by("corpus:bach/bwv269")), BY_ITSELF)[0])
    fingers = list(placed(root))
    above = [use for group in drawn(root, "fermata") for use in group.iter(f"{SVG}use") if "E4C0" in str(use.attrib)]
    assert above
    for fermata in above:
        found = re.match(r"translate\((\d+), (\d+)\)", fermata.get("transform", ""))
        assert found is not None
        middle, point = float(found[1]) + 210, float(found[2])
        tops = [y - 180 for _, x, y in fingers if abs(x - middle) < 150 and 0 < y - point < 1000]
        assert tops
        assert min(tops) - point > 60


def test_no_bar_line_goes_through_words() -> None:
    """As in hymnals: with words between the staves bar lines end at each staff (common practice, no source)."""
    root = fromstring(engraved(musicxml_of(sheet_by("before-the-tide")), BY_ITSELF)[0])
    words = [float(text.get("y", "nan")) for group in drawn(root, "syl") for text in group.iter(f"{SVG}text")]
    lines = [line for group in drawn(root, "barLine") for line in lines_of(group)]
    assert words
    assert lines
    for _, top, _, bottom in lines:
        assert not [y for y in words if min(top, bottom) < y < max(top, bottom)]


def test_without_words_bar_lines_join_the_staves(phrase: Phrases) -> None:
    made = phrase({"soprano": "C5:4:r5 D5:4:r5", "bass": "C3:4:l5 D3:4:l4"})
    root = fromstring(engraved(musicxml_of(written(made)), BY_ITSELF)[0])
    bar, *_ = drawn(root, "barLine")
    heights = [y for line in lines_of(drawn(root, "staff")[0])[:5] for y in line[1::2]]
    joined = [y for line in lines_of(bar) for y in line[1::2]]
    first, second, third = sorted((min(line[1::2]), max(line[1::2])) for line in lines_of(bar))
    assert first[1] >= second[0]
    assert second[1] >= third[0]
    assert max(joined) - min(joined) > 2 * (max(heights) - min(heights))


FREE = """X:1
T:Free
M:none
L:1/4
K:G
V:1
V:2 clef=bass
[V:1] z G2 G2 G2 G2 G2 G2 G|z A2 A2 A2 A2 A2 A2 A|]
[V:2] z G,2 D,2 G,2 D,2 G,2 D,2 G,|z D,2 D,2 D,2 D,2 D,2 D,2 D,|]
"""


def test_a_rest_in_music_without_metre_is_as_long_as_in_the_score() -> None:
    """A whole-bar rest would say nothing of its length, and alone behind a line of music it would look like a bar."""
    piece = read_score(FREE.encode(), "free.abc", "free")
    phrases = [Phrase(1, Fraction(1), Fraction(15), ""), Phrase(2, Fraction(15), Fraction(28), "")]
    sheet = sheet_of(plan_piece(piece, phrases), piece)
    root = fromstring(engraved(musicxml_of(sheet), BY_ITSELF)[0])
    assert drawn(root, "mRest") == []
    # SMuFL 1.4, "Rests": U+E4E5 is a crotchet's. One a staff for the second bar; the first phrase begins after its own.
    signs = [
        use.get("{http://www.w3.org/1999/xlink}href", "")[1:5]
        for rest in drawn(root, "rest")
        for use in rest.iter(f"{SVG}use")
    ]
    assert signs == ["E4E5"] * len(signs)
    assert len(signs) == 4
    assert all(drawn(bar, "note") for bar in drawn(root, "measure"))
