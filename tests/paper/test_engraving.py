"""The engraved page: everything is on it, and nothing over another. verovio draws; this looks at its drawing."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
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
    assert len(drawn(root, "pedal")) == len(pedalled.pedal)


def test_where_the_pedal_changes_ped_stands_alone() -> None:
    """The star that lets go before it has no room. SMuFL 1.4, "Keyboard techniques": U+E650 is Ped., U+E655 a star."""
    sheet = sheet_by("wide-water", Options(pedal=True))
    root = fromstring(engraved(musicxml_of(sheet), BY_ITSELF)[0])
    signs = [
        [use.get("{http://www.w3.org/1999/xlink}href", "")[1:5] for use in group.iter(f"{SVG}use")]
        for group in drawn(root, "pedal")
    ]
    assert {foot for _, foot in sheet.pedal} == {"down", "change", "up"}
    assert signs == [["E655" if foot == "up" else "E650"] for _, foot in sheet.pedal]
