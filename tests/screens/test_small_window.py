"""What is read in a small window and in a terminal that knows ASCII alone."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from practising import practise

from coach.listening.ports import Link
from coach.paper.signs import ASCII, SIGNS, in_its_place
from coach.practice.ladder import OUTER, RIGHT
from coach.practice.marks import Mark
from coach.practice.music import open_music
from coach.practice.schedule import Row
from coach.screens.base import Head
from coach.screens.chord_table import SIGN, sign_of
from coach.screens.shelf import Line
from coach.screens.today import in_full, why_of

Desk = Callable[..., Any]
Drilling = Callable[..., Any]


async def test_the_shelf_counts_phrases_in_full_at_80_columns(desk: Desk) -> None:
    async with desk(size=(80, 24)) as at:
        await at.press("s")
        at.app.screen._pieces = [Line("long", "A Long Tune of Many Verses", "B flat minor", 12, "chorale 371", "long")]
        at.app.screen._list()
        await at.settle()
        assert "12 phrases" in at.text
        assert "B flat minor" in at.text


def row(why: str, step: Any) -> Row:
    passage = open_music("wide-water").phrase_passage(2)
    return Row("new", passage, "Wide Water", step, 3.0, why, None)


@pytest.mark.parametrize(
    ("why", "step", "column", "sentence"),
    [
        ("new", OUTER, "outer voices: new", "Wide Water, phrase 2, outer voices: new."),
        (
            "due since Monday",
            RIGHT,
            "right hand: due since Monday",
            "Wide Water, phrase 2, right hand: due since Monday.",
        ),
        ("next: right hand", RIGHT, "right hand", "Wide Water, phrase 2, right hand."),
    ],
)
def test_todays_sentence_has_one_colon(why: str, step: Any, column: str, sentence: str) -> None:
    assert why_of(row(why, step)) == column
    assert in_full(row(why, step)) == sentence


def test_no_sign_of_a_mark_is_a_sign_of_the_table() -> None:
    for signs in (SIGNS, ASCII):
        late: Mark = "late"
        assert sign_of(late, signs) not in (signs.rolled, signs.lift, signs.hold, signs.own, signs.raised, signs.cut)
        assert len({sign_of(mark, signs) for mark in SIGN}) == len(set(SIGN.values()))


@pytest.mark.parametrize("drawn", ["▁▂▃▄▅▆▇█", "▏▎▍▌▋▊▉", "░", "▼"])
def test_what_is_drawn_in_blocks_has_a_likeness_in_ascii(drawn: str) -> None:
    """Textual draws the ends of a scroll bar with Unicode's eighths, the week its plots."""
    bare = in_its_place(drawn)
    assert len(bare) == len(drawn)
    assert bare.isascii()
    assert "?" not in bare


async def test_help_shows_the_sign_for_late_that_this_terminal_has(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("coach.screens.help.signs_here", lambda: ASCII)
    async with desk() as at:
        await at.press("question_mark")
        general = str(list(at.app.screen.query("VerticalScroll > Static"))[1].content)
        assert "< late: after the others" in general
        assert "~" not in general


@pytest.mark.parametrize("width", [12, 20, 24])
async def test_a_window_narrower_than_a_chord_ends_no_drill(desk: Desk, drilling: Drilling, width: int) -> None:
    """Two panes of a terminal side by side on a tablet: the take goes on, and all is there again when it is widened."""
    async with desk(drilling()) as at:
        keys = sorted(at.drill.task.first_keys)
        await at.strike(*keys)
        await at.pilot.resize_terminal(width, 24)
        await at.let_go(*keys)
        await at.strike(*sorted(at.drill.task.keys_of(1)))
        assert at.text
        await at.pilot.resize_terminal(80, 24)
        await at.settle()
        assert at.app.screen.state.here == 2
        assert "▸" in at.text


async def test_the_head_measures_a_keyboards_name_in_places_of_the_terminal(desk: Desk) -> None:
    """Signs of East Asian scripts are two places wide (Unicode Standard Annex 11)."""
    async with desk() as at:
        at.app.link = Link("listening", "電子ピアノ", "Listening to 電子ピアノ.")
        head = at.app.screen.query_one(Head)
        head.title = "A title that is so long that it has to be cut where the keyboard's name begins, as here"
        await at.settle()
        first = at.text.splitlines()[0]
        assert first.rstrip().endswith("…  電子ピアノ")


async def test_a_line_of_the_day_that_fits_a_narrow_window_is_not_told_of_as_cut(desk: Desk) -> None:
    practise()
    async with desk(size=(60, 20)) as at:
        (line,) = [line for line in at.text.splitlines() if "phrase 2" in line]
        assert line.rstrip().endswith("right hand: new")


async def test_a_narrow_window_shows_what_each_hand_reaches(desk: Desk) -> None:
    async with desk(size=(60, 24)) as at:
        await at.press("h")
        assert at.text.count("reaches a ninth") == 2


async def test_a_narrow_window_says_that_nothing_of_a_demonstration_is_kept(desk: Desk) -> None:
    async with desk(size=(60, 24)) as at:
        await at.press("d")
        assert "Nothing of this is kept." in " ".join(at.text.split())
        await at.press("escape")
