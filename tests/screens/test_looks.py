"""How the coach looks: contrast, the chord table as a widget, signs before colours."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from textual.theme import Theme

from coach import places
from coach.paper.signs import ASCII
from coach.practice.ladder import TOGETHER
from coach.practice.music import open_music
from coach.score.library import open_piece
from coach.screens.chord_table import SIGN, ChordTableView
from coach.screens.hints import Hint, placed_hints
from coach.screens.themes import DARK, LIGHT
from coach.screens.words import asked, pretty, title_of

Desk = Callable[..., Any]


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.1, definition)."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=lambda theme: theme.name)
@pytest.mark.parametrize("ink", ["foreground", "primary", "secondary", "accent", "warning", "error", "success"])
@pytest.mark.parametrize("paper", ["background", "surface", "panel"])
def test_all_that_is_written_can_be_read(theme: Theme, ink: str, paper: str) -> None:
    """WCAG 2.1, success criterion 1.4.3 (AA): at least 4.5 to 1."""
    one, other = sorted((luminance(getattr(theme, ink)), luminance(getattr(theme, paper))))
    assert (other + 0.05) / (one + 0.05) >= 4.5


def test_good_and_bad_are_told_apart_by_signs() -> None:
    good = {SIGN[mark] for mark in ("right", "kept", "lifted")}  # type: ignore[index]
    bad = {SIGN[mark] for mark in ("wrong", "missing", "late", "let go", "not lifted")}  # type: ignore[index]
    assert good.isdisjoint(bad)
    assert len({SIGN["wrong"], SIGN["missing"], SIGN["late"], SIGN["right"]}) == 4


def test_pitches_are_written_as_in_the_table() -> None:
    assert pretty("Bb3 was struck; the tenor has F##4.") == "B♭₃ was struck; the tenor has F♯♯₄."
    assert pretty("chord 12: A2 of 4 in bar B") == "chord 12: A₂ of 4 in bar B"


def test_a_step_is_said_in_words() -> None:
    assert asked(TOGETHER, 60) == "both hands · chord by chord"


def test_a_shipped_pieces_name_is_its_title() -> None:
    for path in places.shipped_pieces().glob("*.musicxml"):
        assert title_of(path.stem) == open_piece(path.stem).title
    assert title_of("Evening Hymn (2)") == "Evening Hymn (2)"


def test_hints_fill_lines_without_breaking_one() -> None:
    hints = [Hint("a", "a", "word" * 3, "words", True) for _ in range(9)]
    placed = placed_hints(hints, 40)
    assert [hint.line for hint in placed] == [0, 0, 1, 1, 2, 2, 3, 3, 4]
    assert all(hint.column + hint.width <= 40 for hint in placed)


@pytest.fixture
def tide() -> Any:
    return open_music("oars-at-dusk").plan.phrases[0]


@pytest.mark.parametrize("width", [80, 120])
async def test_marks_and_fingers_move_nothing(desk: Desk, tide: Any, width: int) -> None:
    async with desk(size=(width, 30)) as at:
        view = ChordTableView(live=True)
        await at.app.screen.mount(view, before="#rows")
        view.show(tide)
        await at.settle()
        height, lines = view.size.height, [line.text for line in view._lines]
        view.mark({(0, 0): "right", (1, 1): "wrong", (0, "right"): "lifted"}, 1)
        view.fingers = "none"
        await at.settle()
        assert view.size.height == height
        marked = [line.text for line in view._lines]
        assert [len(line.rstrip()) for line in marked[:1]] == [len(line.rstrip()) for line in lines[:1]]
        assert any("▸" in line for line in marked)
        assert any("×" in line for line in marked)


async def test_a_table_for_terminals_that_know_only_ascii(desk: Desk, tide: Any) -> None:
    async with desk(size=(100, 30)) as at:
        view = ChordTableView(live=True, signs=ASCII)
        await at.app.screen.mount(view, before="#rows")
        view.show(tide)
        view.mark({(0, 0): "right", (1, 1): "wrong", (2, 0): "missing", (3, 0): "late"}, 0)
        await at.settle()
        assert all(line.text.isascii() for line in view._lines)
        text = "\n".join(line.text for line in view._lines)
        assert "x wrong" in text


async def test_a_long_phrase_follows_the_player(desk: Desk, drilling: Any) -> None:
    """At 80 by 24 the current chord stays in sight in a phrase of several lines of music."""
    async with desk(drilling("oars-at-dusk", 1, TOGETHER), (80, 18)) as at:
        last = len(at.drill.task.expected.chords)
        for chord in at.drill.task.expected.chords[: last - 1]:
            keys = [at.drill.task.expected.notes[number].midi for number in chord.struck]
            await at.strike(*keys)
            await at.wait(0.4)
            await at.let_go(*keys)
        await at.settle()
        assert "▸" in at.text
