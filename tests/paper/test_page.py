"""The page to print: one well-formed file that needs nothing else, with what the reader has to know."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from sheets import piece_of, plan_of

from coach.fingering.hand import CAUTION
from coach.fingering.plan import PhrasePlan, Plan
from coach.fingering.planner import plan_piece
from coach.paper.cells import Fingers, first_stanza
from coach.paper.page import page_of
from coach.paper.sheet import sheet_of
from coach.score.cuts import phrases_of
from coach.score.library import open_piece

Phrases = Callable[..., PhrasePlan]

VOID = {"meta", "br", "hr", "img", "link"}
"""Elements that are never closed (HTML Living Standard, 13.1.2)."""


class Outline(HTMLParser):
    """Reads a page; what is opened has to be closed in order."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.texts: dict[str, list[str]] = {}
        self.links: list[str] = []
        self.feed(page)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.links += [value or "" for name, value in attrs if name in ("src", "href")]
        if tag not in VOID:
            self.open.append(tag)
            self.texts.setdefault(tag, []).append("")

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open:
            self.texts[self.open[-1]][-1] += data


def page(plan: Plan, name: str = "before-the-tide", fingers: Fingers = "all") -> str:
    piece = open_piece(name)
    words = {phrase.number: first_stanza(piece, phrase) for phrase in plan.phrases}
    return page_of(plan, sheet_of(plan, piece, fingers), ["<svg><g></g></svg>"], fingers, words)


@pytest.fixture(scope="module")
def plan() -> Plan:
    piece = open_piece("before-the-tide")
    return plan_piece(piece, phrases_of(piece))


def test_a_page_is_well_formed_and_needs_no_other_file(plan: Plan) -> None:
    outline = Outline(page(plan))
    assert outline.texts["h1"] == ["Before the Tide"]
    assert len(outline.texts["svg"]) == 1
    assert outline.links == []


def test_the_caution_and_the_hands_are_on_every_page(plan: Plan) -> None:
    for fingers in ("all", "changes", "none"):
        text = page(plan, fingers=fingers)  # type: ignore[arg-type]
        assert CAUTION in text
        assert plan.hands in text


def test_each_phrase_has_its_table(plan: Plan) -> None:
    tables = Outline(page(plan)).texts["pre"]
    for phrase in plan.phrases:
        assert any(f"bar  {phrase.bars[0]}" in table for table in tables)
    assert max(len(line) for table in tables for line in table.splitlines()) <= 84
    assert any("Be-" in table for table in tables)


def test_a_table_stays_on_a_page_with_its_heading_and_legend(plan: Plan) -> None:
    """And with its first reason (CSS Fragmentation 3, break-inside, break-before and break-after)."""
    text = page(plan)
    together = re.findall(r'<section class="table">\n(.*?)</section>\n<ul class="reasons">\n<li>', text, re.DOTALL)
    assert len(together) == len(plan.phrases)
    for section in together:
        assert section.startswith("<h2>Phrase")
        assert section.endswith("</pre>\n")
        assert "left hand" in section.split("<pre>")[-1]
    rules = {what.strip(): how for what, how in re.findall(r"([^{}]+){([^{}]*)}", text)}
    assert "break-inside: avoid" in rules[".signs, .table"]
    assert "break-after: avoid" in rules[".table"]
    assert "break-before: avoid" in rules[".reasons, .reasons li:first-child"]


def test_reasons_are_given_only_where_all_fingers_are_shown(plan: Plan) -> None:
    """They name the fingers, which a pupil is to find alone."""
    why = "the right hand takes it"
    assert why in page(plan)
    assert why not in page(plan, fingers="changes")
    assert why not in page(plan, fingers="none")
    digits = [c for table in Outline(page(plan, fingers="none")).texts["pre"] for c in table if c in "12345"]
    shown = [c for table in Outline(page(plan)).texts["pre"] for c in table if c in "12345"]
    assert len(digits) < len(shown) / 2


def test_only_signs_that_are_used_are_explained(phrase: Phrases) -> None:
    plain = plan_of(phrase({"soprano": "C5:1:r5", "bass": "C3:1:l5"}))
    text = page_of(plain, sheet_of(plain, piece_of(*plain.phrases)), [], "all", {})
    for absent in ("slur", "comma", "Raised", "parentheses", "Ped.", "wavy", "takes over", "box"):
        assert absent not in text
    made = phrase(
        {"soprano": "C6:1:r5~ B5:1:r4", "alto": "E5:2:r1^~", "tenor": "A3:1:- A3:1:l1", "bass": "C3:2:l5"},
        new_fingers={("bass", 0): (1.0, 4)},
    )
    rich = plan_of(made)
    text = page_of(rich, sheet_of(rich, piece_of(*rich.phrases)), [], "all", {})
    for used in ("A slur", "Raised", "parentheses", "wavy", "takes over"):
        assert used in text


def test_titles_and_words_are_text_not_markup(plan: Plan) -> None:
    title = 'Rise <b>& "shine"</b>'
    outline = Outline(page(replace(plan, title=title, remarks=("left out 1 <note>",))))
    assert outline.texts["h1"] == [title]
    assert outline.texts["title"] == [title]
    assert any("left out 1 <note>" in text for text in outline.texts["p"])
