"""Every other screen, every key on it, in a small and a large window."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest

from coach.fingering.hand import CAUTION
from coach.fingering.plan import PhrasePlan, PlannedChord
from coach.listening.player import Manner, perform
from coach.listening.ports import Link
from coach.listening.word import Word
from coach.paper.signs import breadth
from coach.practice import chosen, days
from coach.practice.entry import new_entry
from coach.practice.ladder import RIGHT, TOGETHER
from coach.practice.log import Log
from coach.practice.music import open_music
from coach.score.shelf import take_in
from coach.screens.date import instant_of
from coach.screens.phrase_view import distributions
from coach.screens.rows import Column, line, widths
from coach.screens.today import PREPARE_AFTER

Desk = Callable[..., Any]

SIZES = [(80, 24), (120, 40)]
CAUTION_WORDS = ("Never force a stretch.", "stop at the first pain", "a teacher or", "clinician")


def flowing(text: str) -> str:
    """The window's text with line breaks read over."""
    return " ".join(text.split())


def played_before(name: str = "wide-water", *, days_ago: int = 0, word: Word = "shaky", phrase: int = 1) -> None:
    """Put a take into the log, as if it had been played."""
    music = open_music(name)
    with Log.open() as log:
        log.know(music.piece, music.phrases, music.shapes)
        began = days.now() - timedelta(days=days_ago, seconds=60)
        passage = music.phrase_passage(phrase)
        title = music.piece.title
        log.record(new_entry(passage, title, TOGETHER, word, began=began, seconds=40.0, source=name))


# Today and the set-up


@pytest.mark.parametrize("size", SIZES)
async def test_the_very_first_run_offers_a_set_up_with_the_caution(desk: Desk, size: tuple[int, int]) -> None:
    async with desk(size=size, set_up=False) as at:
        assert at.screen == "SetUpScreen"
        for words in ("Instrument.", "a hand of 208 mm", "A first piece", "demonstration", *CAUTION_WORDS):
            assert words in flowing(at.text)
        assert "Wide Water" in at.text
        await at.press("escape")
        assert at.screen == "TodayScreen"
        assert at.app.settings.set_up is True


async def test_the_set_up_leads_to_hands_instrument_and_a_first_piece(desk: Desk) -> None:
    async with desk(set_up=False) as at:
        await at.press("h")
        assert at.screen == "HandsScreen"
        await at.press("escape", "i")
        assert at.screen == "InstrumentScreen"
        await at.press("escape", "enter")
        assert at.screen == "PieceScreen"
        assert "Before the Tide" in at.text
        await at.press("escape")
        assert at.screen == "TodayScreen"


async def test_the_set_up_leads_to_a_demonstration_and_is_there_when_it_is_over(desk: Desk) -> None:
    """The hands have still to be measured, and a piece to be chosen."""
    async with desk(set_up=False) as at:
        await at.press("d")
        assert at.screen == "DemonstrationScreen"
        await at.press("escape")
        assert at.screen == "SetUpScreen"
        assert not at.app.settings.set_up


async def test_the_set_up_shows_that_a_key_is_heard(desk: Desk) -> None:
    async with desk(set_up=False) as at:
        at.app.on_coach_app_linked(at.app.Linked(Link("listening", "Stage Piano", "Listening to Stage Piano.")))
        await at.strike(61)
        assert "Listening to Stage Piano. Heard: C♯₄." in flowing(at.text)
        assert at.app.settings.midi_input == "Stage Piano"


@pytest.mark.parametrize("size", SIZES)
async def test_with_nothing_in_practice_today_lists_the_shelf(desk: Desk, size: tuple[int, int]) -> None:
    async with desk(size=size) as at:
        assert "Nothing is in practice yet." in at.text
        assert "Wide Water" in at.text
        await at.press("enter")
        assert at.screen == "PieceScreen"


async def test_today_lists_what_is_in_practice_and_why(desk: Desk) -> None:
    played_before()
    async with desk() as at:
        assert "25 minutes" in at.text
        await at.pilot.pause(PREPARE_AFTER + 0.1)
        await at.settle()
        row = next(text for text in at.text.splitlines() if "▸" in text)
        assert "Wide Water" in row
        assert "phrase 1" in row
        assert "right hand" in row
        assert "Begin with Enter, with two quick presses of the pedal, or with the first chord" in flowing(at.text)


async def test_who_begins_the_day_with_its_first_chord_and_plays_on_is_heard_from_there(desk: Desk) -> None:
    """The phrase goes on while its piece is put on the stand: none of it is lost."""
    played_before()
    async with desk() as at:
        keys = await at.first_keys()
        music = await at.app.music("wide-water")
        task = music.task(music.phrase_passage(1), RIGHT)
        assert sorted(task.first_keys) == keys
        played = perform(task.expected, Manner(rubato=0.0, unsteady=0.0), start=at.now + 0.1)
        await at.hear(*played.events)
        await at.settle()
        assert at.screen == "DrillScreen"
        await at.wait(4.0)
        done = at.app.screen.heard.done
        assert done.verdict.word == "solid"
        assert [event.key for event in done.events] == [event.key for event in played.events]


async def test_a_first_chord_that_begins_the_day_counts_no_take_in(desk: Desk) -> None:
    """The beat was not there to play to: the drill asks for the chord as ever."""
    played_before(word="solid")
    async with desk() as at:
        keys = await at.first_keys()
        await at.strike(*keys)
        await at.settle()
        assert at.app.screen.step.clock == "tempo"
        assert at.drill.state.phase == "ready"


async def test_enter_begins(desk: Desk) -> None:
    played_before()
    async with desk() as at:
        await at.press("enter")
        assert at.screen == "DrillScreen"
        assert "phrase 1 of 4" in at.text


async def test_a_click_on_a_line_begins_there(desk: Desk) -> None:
    played_before()
    async with desk() as at:
        y = next(y for y, text in enumerate(at.text.splitlines()) if "phrase 2" in text)
        await at.pilot.click(offset=(10, y))
        await at.settle()
        assert at.screen == "DrillScreen"
        assert "phrase 2 of 4" in at.text


async def test_two_presses_of_the_pedal_begin_and_so_does_the_first_chord(desk: Desk) -> None:
    played_before()
    async with desk() as at:
        await at.pedal(2)
        assert at.screen == "DrillScreen"
        keys = sorted(at.drill.task.first_keys)
        await at.press("escape")
        await at.pilot.pause(PREPARE_AFTER + 0.1)
        await at.settle()
        await at.strike(*keys)
        await at.settle()
        assert at.screen == "DrillScreen"


async def test_a_third_press_that_waits_to_be_heard_is_counted(desk: Desk) -> None:
    """Three presses ask for something else than two, also where the clock runs on before the third is heard."""
    played_before()
    async with desk() as at:
        await at.hear(*(at.at("pedal", 64, 0.1 * half, 0 if half % 2 else 127) for half in range(4)))
        at.app._message(at.now + 0.1, bytes((0xB0, 64, 127)))
        at.now += 2.0
        at._tick()
        await at.settle()
        assert at.screen == "TodayScreen"


@pytest.mark.parametrize(
    ("key", "screen"),
    [
        ("p", "PieceScreen"),
        ("s", "ShelfScreen"),
        ("w", "WeekScreen"),
        ("d", "DemonstrationScreen"),
        ("h", "HandsScreen"),
        ("i", "InstrumentScreen"),
        ("question_mark", "HelpScreen"),
        ("f1", "HelpScreen"),
    ],
)
async def test_every_door_of_today(desk: Desk, key: str, screen: str) -> None:
    async with desk() as at:
        await at.press(key)
        assert at.screen == screen
        await at.press("escape")
        assert at.screen == "TodayScreen"


async def test_light_and_dark_are_kept(desk: Desk) -> None:
    async with desk() as at:
        assert at.app.theme == "lamplight"
        await at.press("l")
        assert at.app.theme == "paper"
    async with desk() as at:
        assert at.app.theme == "paper"


async def test_q_leaves(desk: Desk) -> None:
    async with desk() as at:
        await at.press("q")
    assert at.app.return_code == 0


async def test_the_commands_are_found_by_name(desk: Desk) -> None:
    async with desk() as at:
        commands = {command.title for command in at.app.get_system_commands(at.app.screen)}
        assert {"Hands", "Instrument", "Week", "Shelf", "Set-up", "Paper or lamplight"} <= commands
        await at.press("ctrl+p")
        assert at.screen == "CommandPalette"


# Piece


@pytest.mark.parametrize("size", SIZES)
async def test_a_piece_shows_its_phrases_with_how_the_hands_share_them(desk: Desk, size: tuple[int, int]) -> None:
    async with desk(size=size) as at:
        at.app.open_piece("wide-water")
        await at.settle()
        assert at.screen == "PieceScreen"
        assert "▸ Phrase 1 · bars 1–4 · fermata · 3+1" in at.text
        assert "For a hand of 208 mm that reaches a ninth." in at.text
        await at.press("down", "down", "down")
        assert "▸ Phrase 4" in at.text
        await at.press("up")
        assert "▸ Phrase 3" in at.text


async def piece(at: Any, name: str = "wide-water") -> None:
    at.app.open_piece(name)
    await at.settle()


async def test_reasons_are_shown_and_hidden(desk: Desk) -> None:
    async with desk(size=(120, 40)) as at:
        await piece(at)
        assert "tenor a tenth above the bass" not in at.text
        await at.press("y")
        assert "tenor a tenth above the bass" in flowing(at.text)
        await at.press("y")
        assert "tenor a tenth above the bass" not in at.text


async def test_each_chord_can_be_looked_at(desk: Desk) -> None:
    async with desk(size=(120, 40)) as at:
        await piece(at)
        await at.press("right")
        assert "Bar 1, beat 1: 3+1, tenor a tenth above the bass" in flowing(at.text)
        await at.press("right", "left")
        assert "Bar 1, beat 1" in at.text


async def test_a_click_on_a_chord_looks_at_it(desk: Desk) -> None:
    async with desk(size=(120, 40)) as at:
        await piece(at)
        lines = at.text.splitlines()
        y = next(y for y, text in enumerate(lines) if " S " in text)
        await at.pilot.click(offset=(lines[y].index("A"), y))
        await at.settle()
        assert "Bar 1, beat 3" in at.text


async def test_enter_drills_the_chosen_phrase(desk: Desk) -> None:
    async with desk() as at:
        await piece(at)
        await at.press("down", "enter")
        assert at.screen == "DrillScreen"
        assert "phrase 2 of 4" in at.text
        await at.press("escape")
        assert at.screen == "PieceScreen"


async def test_a_phrase_is_split_and_joined_again_and_that_is_kept(desk: Desk, home: Path) -> None:
    async with desk(size=(120, 40)) as at:
        await piece(at)
        await at.press("s")
        assert "Split before bar 2, beat 3?" in at.text
        await at.press("left", "enter")
        assert len(at.app.screen.views) == 5
        assert "▸ Phrase 1 · bar 1 · your choice" in at.text
    assert len(open_music("wide-water").phrases) == 5
    async with desk(size=(120, 40)) as at:
        await piece(at)
        assert "▸ Phrase 1 · bar 1 · your choice" in at.text
        await at.press("j")
        assert "▸ Phrase 1 · bars 1–4 · fermata" in at.text
    assert not any((home / "phrases").iterdir()), "the page's own phrases need no file"


async def test_the_end_of_a_phrase_is_moved(desk: Desk) -> None:
    async with desk(size=(120, 40)) as at:
        await piece(at)
        await at.press("m")
        assert "End the phrase before bar 4, beat 1?" in at.text
        await at.press("enter")
        assert "▸ Phrase 1 · bars 1–3 · your choice" in at.text
        assert [len(view.plan.chords) for view in at.app.screen.views[:2]] == [5, 8]


async def test_splitting_is_left_by_escape(desk: Desk) -> None:
    async with desk() as at:
        await piece(at)
        await at.press("s", "escape")
        assert at.screen == "PieceScreen"
        assert "Split before" not in at.text
        await at.press("escape")
        assert at.screen == "TodayScreen"


async def test_the_last_phrase_joins_nothing(desk: Desk) -> None:
    async with desk() as at:
        await piece(at)
        await at.press("down", "down", "down", "j")
        assert at.notes[-1] == "Phrase 4 is the last: there is none to join it with."


async def test_a_piece_is_taken_up_and_set_aside(desk: Desk) -> None:
    async with desk() as at:
        await piece(at)
        assert "t Practise daily" in at.text
        await at.press("t")
        assert at.notes[-1] == "Wide Water comes up in Today from now on."
        assert "t Set aside" in at.text
        await at.press("escape")
        assert "phrase 1" in at.text
        await at.press("p")
        assert "t Set aside" in at.text
        await at.press("t")
        assert "t Practise daily" in at.text
        await at.press("escape")
        assert "Nothing is in practice: Wide Water is set aside." in at.text


async def test_a_piece_gets_a_day_to_be_ready_by(desk: Desk) -> None:
    async with desk() as at:
        await piece(at)
        await at.press("d")
        assert at.screen == "DateScreen"
        await at.press(*"never")
        await at.press("enter")
        assert "is no day to come" in at.text
        await at.press(*["backspace"] * 5, *"2090-04-21", "space", *"10:00")
        assert "Friday 21 April 2090, 10:00" in at.text
        await at.press("enter", "escape")
        assert at.screen == "TodayScreen"
        assert "Wide Water:" in at.text


NOW = datetime(2026, 11, 25, 15, 0, tzinfo=timezone(timedelta(hours=3)))


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("Sunday 10:00", "2026-11-29 10:00"),
        ("sun 10.00", "2026-11-29 10:00"),
        ("wednesday 10:00", "2026-12-02 10:00"),
        ("wednesday 18:30", "2026-11-25 18:30"),
        ("tomorrow", "2026-11-26 12:00"),
        ("24 December 17:30", "2026-12-24 17:30"),
        ("1 march", "2027-03-01 12:00"),
        ("2030-04-21", "2030-04-21 12:00"),
        ("24.12.2026 17:00", "2026-12-24 17:00"),
        ("Dec 24", "2026-12-24 12:00"),
        ("24.12", "2026-12-24 12:00"),
        ("24/12 9", "2026-12-24 09:00"),
        ("Sunday 10", "2026-11-29 10:00"),
        ("sunday 10am", "2026-11-29 10:00"),
        ("Sunday, 29 November 5 pm", "2026-11-29 17:00"),
        ("24 December at 17:30", "2026-12-24 17:30"),
    ],
)
def test_a_day_is_read_as_players_write_it(typed: str, meant: str) -> None:
    """25 November 2026 is a Wednesday."""
    found = instant_of(typed, NOW)
    assert found is not None
    assert f"{found:%Y-%m-%d %H:%M}" == meant
    assert found.utcoffset() == timedelta(hours=3)


@pytest.mark.parametrize(
    "typed", ["", "soon", "today 10:00", "2020-01-01", "0001-01-01", "32 December", "25:00", "10", "am"]
)
def test_what_is_no_day_to_come_is_none(typed: str) -> None:
    assert instant_of(typed, NOW) is None


@pytest.mark.parametrize("zone", ["Europe/Berlin", "America/New_York"])
@pytest.mark.parametrize("day", [date(2026, 10, 18), date(2026, 10, 25), date(2026, 3, 1), date(2026, 3, 22)])
def test_a_week_ahead_is_at_the_same_time_of_day_whatever_the_clocks_do(
    zone: str, day: date, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Asked for on a Sunday after the service. The clocks change on 8 and 29 March, 25 October and 1 November 2026 (EU
    Directive 2000/84/EC; US Energy Policy Act of 2005)."""
    monkeypatch.setenv("TZ", zone)
    time.tzset()
    try:
        now = datetime(day.year, day.month, day.day, 11).astimezone()
        found = instant_of("Sunday 10:00", now)
        assert found is not None
        there = found.astimezone(UTC).astimezone()
        assert (there.date(), there.hour) == (day + timedelta(days=7), 10)
    finally:
        monkeypatch.undo()
        time.tzset()


@pytest.mark.parametrize(
    ("shared", "said"),
    [
        (["1:1 2+2", "1:2 2+2", "2:1 2+2"], "2+2"),
        (["1:1 2+2", "2:1 3+1", "2:2 3+1", "3:1 2+2"], "2+2, 3+1 from bar 2, 2+2 from bar 3"),
        (["2:1 2+2", "3:1 3+1", "3:2.5 2+2"], "2+2, 3+1 from bar 3 beat 1, 2+2 from bar 3 beat 2&"),
        (["1:1 2+2", "1:3 3+1", "2:1 3+1"], "2+2, 3+1 from bar 1 beat 3"),
        (["1:1 2+2", "1:2 2+2", "1:3 3+1", "1:4 2+2", "2:1 3+1", "2:2 2+2"], "mostly 2+2"),
        (
            ["1:1 2+2", "2:1 3+1", "3:1 1+3", "4:1 2+2", "5:1 3+1"],
            "2+2, 3+1 from bar 2, 1+3 from bar 3, 2+2 from bar 4, and so on",
        ),
    ],
)
def test_how_the_hands_share_a_phrase_is_said_in_few_words(shared: list[str], said: str) -> None:
    chords = []
    for number, one in enumerate(shared):
        bar, beat, distribution = one.replace(":", " ").split()
        chords.append(PlannedChord(float(number), 1.0, int(bar), float(beat), distribution, (), None, None))
    assert distributions(PhrasePlan(1, (1, 5), 0.0, float(len(chords)), "fermata", 0.0, tuple(chords))) == said


# Choices, alternatives, away from the piano

TIME = "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"


async def test_a_finger_is_chosen_kept_undone_and_made_again(desk: Desk) -> None:
    async with desk(size=(120, 40)) as at:
        await piece(at)
        at.app.screen.views[0].query_one("ChordTableView").here = 1
        await at.press("f")
        assert at.screen == "ChoiceScreen"
        await at.press(*"soprano", "space", "4", "enter")
        assert "Chosen so far:" in at.text
        assert "1:3 soprano 4" in at.text
        await at.press("escape")
        assert at.screen == "PieceScreen"
        assert "A  4°" in at.text
        await at.press("u")
        assert "4°" not in at.text
        assert at.notes[-1] == "Taken back: 1:3 soprano 4."
        await at.press("o")
        assert "A  4°" in at.text
        assert at.notes[-1] == "Chosen again: 1:3 soprano 4."
    assert any(note.chosen for chord in open_music("wide-water").plan.chords() for note in chord.notes)


async def test_a_choice_is_made_where_its_phrase_comes_again_too(desk: Desk, tmp_path: Path) -> None:
    """A tune of our own whose first phrase comes again as the third."""
    tune = tmp_path / "twice.abc"
    line = "G A B !fermata!c|d c B !fermata!d|G A B !fermata!c|]"
    tune.write_text(f"X:1\nT:Twice\nM:4/4\nL:1/4\nK:C\n{line}\n")
    async with desk(size=(120, 40)) as at:
        await piece(at, str(tune))
        await at.press("f", *"soprano", "space", "3", "enter")
        assert "Phrase 3 has the same notes: chosen there too." in at.text
        await at.press("escape")
        assert at.text.count("3°") == 2
        await at.press("u")
        assert "°" not in at.text


async def test_a_choice_is_made_at_the_chord_looked_at_where_a_bar_number_comes_twice(
    desk: Desk, tmp_path: Path
) -> None:
    """As in a file of two movements."""
    bars = []
    for number, tune in ((1, "CDEF"), (2, "GFED"), (1, "EDEF"), (2, "EDCC")):
        notes = "".join(
            f"<note><pitch><step>{step}</step><octave>5</octave></pitch><duration>1</duration></note>" for step in tune
        )
        bars.append(f'<measure number="{number}">{TIME if not bars else ""}{notes}</measure>')
    file = tmp_path / "twice.musicxml"
    file.write_text(
        '<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>S</part-name></score-part></part-list>'
        f'<part id="P1">{"".join(bars)}</part></score-partwise>'
    )
    async with desk(size=(120, 40)) as at:
        await piece(at, str(file))
        chords = [(view, place) for view in at.app.screen.views for place in range(len(view.plan.chords))]
        view, place = chords[8]
        await at.press(*["down"] * at.app.screen.views.index(view))
        view.query_one("ChordTableView").here = place
        await at.press("f", *"soprano", "space", "5", "enter")
        assert "1(2):1 soprano 5" in at.text
        await at.press("escape")
        music = at.app.screen.music
        assert [(fix.onset, fix.finger) for fix in chosen.choices_of(music.piece).fixes] == [(8, 5)]
        await at.press("f")
        at.app.screen.query_one("Input").value = "1:1 soprano 4"
        await at.press("enter")
        assert 'write "1(1):1" or "1(2):1"' in flowing(at.text)


async def test_alternatives_are_laid_out_anew_for_another_width(desk: Desk) -> None:
    async with desk(size=(120, 40)) as at:
        await piece(at)
        await at.press("a")
        page = at.app.screen.query_one("#page")
        assert "choose 1:" in str(page.render())
        assert "--fix" not in str(page.render())
        await at.pilot.resize_terminal(80, 40)
        await at.settle()
        assert max(breadth(line) for line in str(page.render()).splitlines()) <= 74
        await at.pilot.resize_terminal(120, 40)
        await at.settle()
        assert max(breadth(line) for line in str(page.render()).splitlines()) > 74


async def test_an_impossible_choice_is_answered_with_the_reason(desk: Desk) -> None:
    async with desk(size=(120, 40)) as at:
        await piece(at)
        await at.press("f", *"1+3", "enter")
        assert at.screen == "ChoiceScreen"
        assert "not possible" in flowing(at.text)
        await at.press("escape")
        assert "°" not in at.text


async def test_undo_takes_a_choice_back_and_says_so_though_a_phrase_was_split_since(desk: Desk) -> None:
    async with desk(size=(120, 40)) as at:
        await piece(at)
        assert "u Undo choice  o Redo choice" in at.text
        await at.press("f", *"soprano", "space", "4", "enter", "escape")
        await at.press("s", "enter")
        assert len(at.app.screen.views) == 5
        await at.press("u")
        assert at.notes[-1] == "Taken back: 1:1 soprano 4."
        assert len(at.app.screen.views) == 5


@pytest.mark.parametrize(
    ("keys", "screen"),
    [("s", "ShelfScreen"), ("h", "HandsScreen"), ("pf", "ChoiceScreen"), ("pd", "DateScreen"), ("pw", "SpellScreen")],
)
async def test_where_text_is_typed_f1_is_the_key_for_help(desk: Desk, keys: str, screen: str) -> None:
    """A question mark is one of the text."""
    async with desk() as at:
        await at.press(*keys)
        assert at.screen == screen
        assert "F1 Help" in at.text
        assert "? Help" not in at.text
        await at.press("f1")
        assert at.screen == "HelpScreen"


async def test_without_a_choice_there_is_nothing_to_undo(desk: Desk) -> None:
    async with desk() as at:
        await piece(at)
        await at.press("u")
        assert "no choice to take back" in at.notes[-1]


async def test_an_alternative_is_taken_by_its_letter(desk: Desk) -> None:
    async with desk(size=(120, 40)) as at:
        await piece(at)
        await at.press("a")
        assert at.screen == "AlternativesScreen"
        assert "Phrase 1:" in at.text
        assert "other way" in at.text
        assert "a Take A" in at.text
        await at.press("down", "up", "a")
        assert at.screen == "PieceScreen"
        await at.press("u")
        assert [note.split(":")[0] for note in at.notes] == ["Taken back"]


async def test_away_from_the_piano_fingers_are_typed_and_checked(desk: Desk) -> None:
    async with desk() as at:
        await piece(at)
        await at.press("w")
        assert at.screen == "SpellScreen"
        assert "G₄ 4" not in at.text
        assert "Bar 1, beat 1: right hand G₄ D₄ B₃, left hand G₂" in at.text
        await at.press(*"9", "enter")
        assert "is no row of fingers" in flowing(at.text)
        await at.press("backspace")
        answers = [chord.answer.replace(" ", "") for chord in at.app.screen.spelling.chords]
        wrong = answers[0][::-1].replace(answers[0][0], "1") if answers[0] != "1111" else "2222"
        await at.press(*("5555" if answers[0] != "5555" else wrong), "enter")
        assert f"Planned: {at.app.screen.spelling.chords[0].answer}." in at.text
        for answer in answers[1:]:
            await at.press(*answer, "enter")
        assert f"{len(answers) - 1} of {len(answers)} chords as planned." in at.text
        await at.press("enter")
        assert at.screen == "PieceScreen"
    with Log.open() as log:
        assert list(log.entries()) == [], "apart from playing"
        assert [done.right for done in log.spellings()] == [len(answers) - 1]


async def test_the_chorales_are_on_the_shelf_by_number_and_title(desk: Desk) -> None:
    async with desk(size=(120, 40)) as at:
        await at.press("s", *"chorale", "space", *"1", "pagedown", "pageup")
        assert "chorale 1" in at.text


async def test_a_chorale_that_was_practised_says_how_it_stands(desk: Desk) -> None:
    music = open_music("corpus:bach/bwv269")
    with Log.open() as log:
        log.know(music.piece, music.phrases, music.shapes)
        passage = music.phrase_passage(1)
        entry = new_entry(passage, music.piece.title, TOGETHER, "weak", began=days.now(), seconds=40.0)
        log.record(replace(entry, source=music.name))
    async with desk(size=(120, 40)) as at:
        await at.press("s", *"herzens", "space", *"grunde")
        line = next(text for text in at.text.splitlines() if "Aus meines Herzens Grunde" in text)
        assert "1 weak" in line


# Hands


@pytest.mark.parametrize("size", SIZES)
async def test_hands_shows_the_caution_and_what_each_hand_reaches(desk: Desk, size: tuple[int, int]) -> None:
    async with desk(size=size) as at:
        await at.press("h")
        for words in (*CAUTION_WORDS, "reaches a ninth", "208 mm", "88 keys", "6.5 in (164.5 mm)", "normal"):
            assert words in flowing(at.text), words


async def test_a_span_is_typed_in_mm_or_inches(desk: Desk) -> None:
    async with desk() as at:
        await at.press("h")
        await at.press(*"221", "enter", *"8.5", "enter", "escape")
        assert (at.app.settings.right_span_mm, at.app.settings.left_span_mm) == (221.0, 215.9)


async def test_what_is_no_span_is_said_and_the_old_one_stays(desk: Desk) -> None:
    async with desk() as at:
        await at.press("h", *"40", "enter")
        assert "“40” is no span of a hand: 150 to 300 mm, or 5.9 to 11.8 in." in at.notes
        assert at.app.settings.right_span_mm == 208.0
        assert at.screen == "HandsScreen"


async def test_a_hand_is_measured_by_the_widest_comfortable_interval(desk: Desk) -> None:
    """A tenth is 9 times 23.5 mm wide, and needs a span of about 216 mm (Boyle, Boyle and Booker 2015)."""
    async with desk() as at:
        at.app.link = Link("listening", "Piano", "Listening to Piano.")
        await at.press("h", "f2")
        assert "Hold the widest interval that is comfortable with the right hand" in flowing(at.text)
        await at.strike(60, 76)
        at.now += 1.1
        at.app.screen._watch()
        assert at.app.settings.right_span_mm == pytest.approx(216, abs=1)
        assert at.app.settings.left_span_mm == 208.0


@pytest.mark.parametrize(("key", "side"), [("f2", "right"), ("f3", "left")])
@pytest.mark.parametrize("size", SIZES)
async def test_what_to_hold_is_read_whole_and_so_is_what_was_measured(
    desk: Desk, size: tuple[int, int], key: str, side: str
) -> None:
    """The hands are on the keys: nobody scrolls."""
    async with desk(size=size) as at:
        at.app.link = Link("listening", "Piano", "Listening to Piano.")
        await at.press("h", key)
        asked = f"comfortable with the {side} hand, thumb and little finger, for a second."
        assert asked in flowing(at.text)
        await at.strike(60, 76)
        await at.wait(1.5)
        at.app.screen._watch()
        await at.settle()
        assert f"for the {side} hand." in flowing(at.text)


async def test_a_fifth_is_no_span(desk: Desk) -> None:
    async with desk() as at:
        at.app.link = Link("listening", "Piano", "Listening to Piano.")
        await at.press("h", "f3")
        await at.strike(60, 67)
        at.now += 1.1
        at.app.screen._watch()
        await at.pilot.pause()
        assert "not the span of a hand" in flowing(at.text)
        assert at.app.settings.left_span_mm == 208.0


async def test_without_a_keyboard_measuring_says_so(desk: Desk) -> None:
    async with desk() as at:
        await at.press("h", "f2")
        assert at.notes[-1] == "To measure at the keyboard, connect one first; or type the span."


async def test_a_larger_hand_gets_other_plans(desk: Desk) -> None:
    async with desk(size=(120, 40)) as at:
        await piece(at)
        await at.press("escape", "h", *"250", "enter", *"250", "enter", "escape")
        await piece(at)
        assert "For a hand of 250 mm that reaches an eleventh." in at.text
        assert "reaches a ninth" not in at.text


async def test_octave_width_keys_and_stretches_are_chosen(desk: Desk) -> None:
    async with desk() as at:
        await at.press("h")
        for name, value in (("octave", 139.7), ("keys", 61), ("comfort", "relaxed")):
            at.app.screen.query_one(f"#{name}").value = value
            await at.settle()
        settings = at.app.settings
        assert (settings.octave_mm, settings.keys, settings.comfort) == (139.7, 61, "relaxed")
        assert settings.compass == range(36, 97)


# Instrument, Shelf, Help


async def test_a_machine_without_midi_is_told_in_a_plain_sentence(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("coach.screens.instrument.ports", lambda direction: None)
    async with desk() as at:
        await at.press("i")
        assert "This machine has no MIDI system that answers: the coach works" in flowing(at.text)
        await at.press("r")


async def test_the_shelf_is_searched_by_words(desk: Desk) -> None:
    async with desk() as at:
        await at.press("s")
        assert "Wide Water" in at.text
        assert "G major" in at.text
        await at.press(*"lantern")
        assert "The Last Lantern" in at.text
        assert "Wide Water" not in at.text
        await at.press("enter")
        assert at.screen == "PieceScreen"
        assert "The Last Lantern" in at.text


async def test_what_is_not_on_the_shelf_gets_one_sentence(desk: Desk) -> None:
    async with desk() as at:
        await at.press("s", *"nowhere")
        assert "No title has these words" in at.text
        await at.press("enter")
        assert 'Cannot find "nowhere"' in at.notes[-1]
        assert at.screen == "ShelfScreen"


@pytest.mark.parametrize("size", SIZES)
async def test_help_tells_of_the_bench_the_signs_and_the_caution(desk: Desk, size: tuple[int, int]) -> None:
    async with desk(size=size) as at:
        await at.press("question_mark")
        read = at.text
        for _ in range(12):
            await at.press("down")
            read += at.text
        for words in (
            "Play the first chord of the phrase",
            "The sustain pedal twice, quickly",
            "a comma says that the hand",
        ):
            assert words in flowing(read)
        assert CAUTION.split(".")[0] in flowing(read)


# Columns


def test_columns_fit_and_share_what_is_left() -> None:
    columns = (Column(10, 1), Column(5, 0, right=True), Column(10, 3))
    assert widths(columns, 49) == [15, 5, 25]
    assert widths(columns, 20) == [10, 5, 10]
    assert breadth(line(("夕べの賛美歌" * 3, "3", "b"), columns, 49)) == 49
    assert breadth(line(("夕べ", "3", "b"), columns, 49)) == 49
    assert line(("a" * 30, "3", "b"), columns, 49) == "a" * 14 + "…" + "  " + "    3" + "  " + "b" + " " * 24


def test_a_text_that_would_be_cut_gets_the_places_that_others_leave_free() -> None:
    columns = (Column(10, 1), Column(5, 0, right=True), Column(10, 3))
    assert widths(columns, 49, (12, 5, 25)) == [15, 5, 25]
    assert widths(columns, 49, (30, 2, 6)) == [30, 2, 13]
    assert widths(columns, 49, (60, 2, 6)) == [37, 2, 6]
    assert widths(columns, 49, (60, 9, 40)) == [15, 5, 25]
    assert widths(columns, 49, (0, 0, 40)) == [0, 5, 40]
    assert widths(columns, 49, ()) == [15, 5, 25]


LONG = "The bell above the harbour at the turning of the tide"
"""A title of 53 places."""


async def test_a_long_title_is_read_whole_where_there_is_room(desk: Desk, home: Path) -> None:
    tune = home / "bell.abc"
    tune.write_text(f"X:1\nT:{LONG}\nM:4/4\nL:1/4\nK:C\nV:1\nc d e c | d e f2 |]\nV:2\nA B c A | B c d2 |]\n")
    list(take_in([str(tune)]))
    async with desk() as at:
        assert LONG in at.text
        await at.press("s")
        assert LONG[:30] in at.text


ODD = "Hymn for Two [1/2] [/alt] [organ]"
"""A title that looks like markup."""


async def test_square_brackets_in_a_title_are_shown_as_printed(desk: Any, home: Path) -> None:
    file = home / "odd.abc"
    file.write_text(f"X:1\nT:{ODD}\nM:4/4\nL:1/4\nK:C\nV:1\nG A B c|]\nV:2\nE F G G|]\n", "utf8")
    async with desk(size=(120, 40)) as at:
        at.app.open_piece(str(file))
        await at.settle()
        await at.press("t")
        assert any(ODD in note for note in at.notes)
        await at.press("d")
        await at.press("[", "/", "b", "]", "enter")
        assert "[/b]" in at.text
        await at.press("escape", "escape")
        assert at.screen == "TodayScreen"
        assert ODD in at.text


async def test_a_phrase_of_one_chord_has_no_end_to_move(desk: Any, home: Path) -> None:
    file = home / "one.abc"
    file.write_text("X:1\nT:One\nM:4/4\nL:1/1\nK:C\n[CEGc]|]\n", "utf8")
    async with desk() as at:
        at.app.open_piece(str(file))
        await at.settle()
        await at.press("m")
        assert "A phrase of one chord cannot end before: join it with the next one." in at.notes
        assert at.screen == "PieceScreen"


async def test_a_piece_is_planned_anew_when_the_hands_change(desk: Any) -> None:
    async with desk(size=(120, 40)) as at:
        at.app.open_piece("wide-water")
        await at.settle()
        assert "For a hand of 208 mm" in at.text
        at.app.action_go("hands")
        await at.settle()
        await at.press(*"170", "enter", "escape")
        assert at.app.settings.right_span_mm == 170
        assert "For a right hand of 170 mm that reaches an octave and a left hand of 208 mm" in at.text
        assert at.app.screen.music.hands == at.app.settings.hands


async def test_the_date_that_is_kept_is_shown_and_taking_it_away_is_said(desk: Any) -> None:
    async with desk(size=(120, 40)) as at:
        at.app.open_piece("wide-water")
        await at.settle()
        await at.press("d")
        await at.press(*"tomorrow", "enter")
        await at.press("d")
        assert "Kept: " in at.text
        await at.press("enter")
        assert "Wide Water has no date any more." in at.notes
        await at.press("d")
        assert "Kept: " not in at.text


async def test_today_turns_with_the_day(desk: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    async with desk() as at:
        today = at.app.screen
        filled = []
        monkeypatch.setattr(today, "_fill", lambda: filled.append(True))
        today._tick()
        assert not filled
        tomorrow = days.now() + timedelta(days=1)
        monkeypatch.setattr(days, "now", lambda: tomorrow)
        today._tick()
        assert filled
