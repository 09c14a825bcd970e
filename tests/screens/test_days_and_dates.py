"""The day's minutes, the week, dates with their forecasts, and histories that were kept, as they are read on screen."""

from __future__ import annotations

import io
import json
from collections.abc import Callable, Iterable
from contextlib import redirect_stdout
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.cli import main
from coach.fingering.hand import CAUTION
from coach.listening.word import Word
from coach.practice import days
from coach.practice.entry import new_entry
from coach.practice.forecast import ready_in_time
from coach.practice.ladder import TOGETHER, next_step
from coach.practice.log import Log
from coach.practice.music import open_music
from coach.practice.week import Ahead, Past, Turn, Week, week
from coach.screens.week import BAR, bar, by_piece, page

Desk = Callable[..., Any]
SIZES = [(80, 24), (120, 40)]
WATER = "wide-water"


def flowing(text: str) -> str:
    return " ".join(text.split())


def played(phrase: int, word: Word, *, days_ago: float = 0, times: int = 1, climbing: bool = False) -> None:
    """Put takes into the log: of both hands together, or climbing the ladder."""
    music = open_music(WATER)
    with Log.open() as log:
        log.know(music.piece, music.phrases, music.shapes)
        passage = music.phrase_passage(phrase)
        for number in range(times):
            began = days.now() - timedelta(days=days_ago, minutes=times - number)
            step = next_step(log.steps(passage), log.progress(passage).place) if climbing else TOGETHER
            log.record(new_entry(passage, music.piece.title, step, word, began=began, seconds=40.0, source=WATER))


def to_be_ready(hours: float) -> None:
    music = open_music(WATER)
    with Log.open() as log:
        log.set_date(music.passages[0].piece, days.now() + timedelta(hours=hours))


# The day's minutes


async def test_the_days_minutes_are_set_by_key_and_kept(desk: Desk, home: Path) -> None:
    played(1, "shaky", days_ago=1)
    async with desk() as at:
        assert "25 minutes today" in at.text
        before = len(at.app.screen.rows)
        await at.press("minus", "minus", "minus", "minus")
        assert "5 minutes today" in at.text
        assert len(at.app.screen.rows) < before
        await at.press("minus")
        assert "5 minutes today" in at.text
        await at.press("plus")
        assert "10 minutes today" in at.text
    assert json.loads((home / "settings.json").read_text())["minutes"] == 10


async def test_a_new_phrase_shows_for_when_it_is(desk: Desk) -> None:
    """Beside a long title too, in a small window."""
    music = open_music(WATER)
    long = replace(music.piece, title="The bell above the harbour at the turning of the tide")
    with Log.open() as log:
        log.know(long, music.phrases, music.shapes)
    to_be_ready(24 * 40)
    day = (days.now() + timedelta(days=40)).astimezone().date()
    async with desk() as at:
        line = next(line for line in at.text.splitlines() if "The bell above" in line and "new, for" in line)
        assert f"new, for {day.day} {day:%B}" in line


async def test_less_than_a_minute_is_told_as_such(desk: Desk) -> None:
    played(1, "shaky")
    async with desk() as at:
        assert "less than 1 of 25 minutes played" in at.text


async def test_with_nothing_in_practice_the_minutes_are_said(desk: Desk) -> None:
    async with desk() as at:
        await at.press("plus")
        assert at.notes[-1] == "A day's practice is 30 minutes."


def practised(minutes: int) -> None:
    """So many minutes of one phrase, up to an hour ago."""
    music = open_music(WATER)
    with Log.open() as log:
        passage = log.know(music.piece, music.phrases, music.shapes)[0]
        for number in range(2 * minutes):
            began = days.now() - timedelta(minutes=60 + minutes) + timedelta(seconds=30 * number)
            log.record(
                new_entry(passage, music.piece.title, TOGETHER, "shaky", began=began, seconds=25.0, source=WATER)
            )


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.usefixtures("evening")
async def test_the_caution_stands_in_today_from_an_hour_of_playing_on(desk: Desk, size: tuple[int, int]) -> None:
    practised(59)
    caution = "Rest often, stop at the first pain"
    async with desk(size=size, minutes=60) as at:
        assert "59 of 60 minutes played" in at.text
        assert caution not in flowing(at.text)
    practised(2)
    async with desk(size=size, minutes=60) as at:
        assert f"You have played for {at.app.screen._today.played:.0f} minutes today. {CAUTION}" in flowing(at.text)


@pytest.mark.parametrize("size", SIZES)
async def test_the_caution_comes_when_more_than_an_hour_is_set(desk: Desk, size: tuple[int, int]) -> None:
    played(1, "shaky", days_ago=1)
    async with desk(size=size, minutes=60) as at:
        assert CAUTION not in flowing(at.text)
        await at.press("plus")
        assert f"65 minutes are long for the hands: divide them. {CAUTION}" in flowing(at.text)
        assert "phrase 2" in at.text
        await at.press("minus")
        assert CAUTION not in flowing(at.text)


# The week


@pytest.mark.parametrize("size", SIZES)
async def test_the_week_shows_back_and_ahead_and_the_weak_first(desk: Desk, size: tuple[int, int]) -> None:
    played(1, "shaky", days_ago=2)
    played(2, "weak")
    async with desk(size=size) as at:
        await at.press("w")
        assert "Seven days back, in minutes" in at.text
        assert "Seven days ahead, what is due" in at.text
        assert "<1′  ▋" in at.text
        lines = at.text.splitlines()
        weak = next(i for i, text in enumerate(lines) if text.strip() == "Weak")
        assert "Wide Water, phrase 2" in lines[weak + 1]
        await at.press("enter")
        assert at.screen == "DrillScreen"
        assert "phrase 2 of 4" in at.text


async def test_the_week_is_worked_out_once_whatever_the_window_does(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And anew when the player comes back to it from the drill."""
    played(1, "weak")
    to_be_ready(24 * 40)
    worked_out: list[Week] = []
    forecasts: list[object] = []

    def counted(*given: Any, **more: Any) -> Week:
        worked_out.append(week(*given, **more))
        return worked_out[-1]

    def laid_out(*given: Any) -> list[float]:
        forecasts.append(given)
        return ready_in_time(*given)

    monkeypatch.setattr("coach.screens.week.week", counted)
    monkeypatch.setattr("coach.practice.ready.ready_in_time", laid_out)
    async with desk() as at:
        await at.press("w")
        assert (len(worked_out), len(forecasts)) == (1, 1)
        narrow = at.text
        await at.pilot.resize_terminal(120, 40)
        await at.settle()
        assert (len(worked_out), len(forecasts)) == (1, 1)
        assert at.text != narrow
        assert "Seven days ahead, what is due" in at.text
        await at.press("enter", "escape")
        assert at.screen == "WeekScreen"
        assert (len(worked_out), len(forecasts)) == (2, 2)


@pytest.mark.parametrize("width", [40, 74, 114])
def test_a_day_of_the_week_is_told_whole_however_much_happened(width: int) -> None:
    music = open_music(WATER)
    phrases = [one for one in music.passages if one.kind == "phrase"]
    turns = tuple(Turn(one, title, None, "solid") for title in ("Wide Water", "Oars at Dusk") for one in phrases)
    past = tuple(
        Past(date(2026, 3, day), 12.0, 9, ("Wide Water", "Oars at Dusk", "The Last Lantern"), turns, turns[:1])
        for day in range(1, 8)
    )
    text = page(Week(date(2026, 3, 7), past, (), (), (), {}), width).plain
    said = flowing(text)
    assert said.count("became solid: Wide Water, phrases 1, 2, 3 and 4; Oars at Dusk, phrases 1, 2, 3 and 4") == 7
    assert said.count("fell back: Wide Water, phrase 1") == 7
    assert max(len(line) for line in text.splitlines()) <= max(width, 60)


def test_bars_of_an_idle_week_are_short() -> None:
    """A moment's playing fills no bar, and neither does a single review."""
    played(1, "shaky")
    with Log.open() as log:
        stands = log.stands()
    monday = date(2026, 3, 2)

    def text(minutes: float, due: int) -> str:
        past = (Past(monday, minutes, 1, ("Wide Water",), (), ()),)
        return page(Week(monday, past, (Ahead(monday, tuple(stands[:due]), ()),), (), (), {}), 80).plain

    assert "Mon  2   <1′  ▍           Wide Water" in text(0.4, 1)
    assert "Mon  2    1   ██          Wide Water, phrase" in text(0.4, 1)
    assert f"Mon  2   10′  {'█' * BAR}  Wide Water" in text(10.0, 5)
    assert f"Mon  2    5   {'█' * BAR}  Wide Water" in text(10.0, 5)


def test_shaky_phrases_are_named_below_the_weak_ones() -> None:
    played(1, "shaky")
    with Log.open() as log:
        found = week(log)
    text = flowing(page(found, 80).plain)
    assert "Weak none Shaky Wide Water, phrase 1 " in text


def test_passages_are_named_by_their_piece_once() -> None:
    music = open_music(WATER)
    one, two, join, whole = (music.passages[place] for place in (0, 1, 4, -1))
    assert by_piece([("Wide Water", one)]) == "Wide Water, phrase 1"
    assert (
        by_piece([("A", two), ("B", one), ("A", one), ("A", whole)])
        == "A, phrases 1 and 2, the whole piece; B, phrase 1"
    )
    assert by_piece([("A", join)]) == "A, phrases 1+2"
    other = replace(two, piece="other notes")
    assert by_piece([("A", one), ("A", other)]) == "A, phrase 1; A, phrase 2"


async def test_without_weak_phrases_the_week_says_so(desk: Desk) -> None:
    async with desk() as at:
        await at.press("w", "enter")
        assert at.screen == "WeekScreen"
        assert "none" in at.text
        assert "Drill the weak phrases" not in at.text
        assert "Shaky" not in at.text
        await at.press("down", "up")


async def test_one_key_drills_all_weak_phrases_in_turn(desk: Desk) -> None:
    """Each for five minutes with the rests between takes; an hour away from the piano is none of them.

    The next one comes by itself, and after the last the pedal leads back.
    """
    for phrase in (2, 3):
        played(phrase, "weak", days_ago=1)

    async def practise_until(words: str) -> float:
        """Take after take, with a rest of half a minute before each; how many minutes it took."""
        began = at.now
        while words not in flowing(at.text) and at.now < began + 1000:
            at.now += 30
            await at.perform()
        return (at.now - began) / 60

    async with desk() as at:
        await at.press("w", "enter")
        at.now += 3600
        await at.perform()
        assert 3 < await practise_until("Enough of phrase 2 for today. Next: phrase 3.") < 6
        assert "phrase 3 of 4" in at.text
        assert 4 < await practise_until("That was the last one") < 6
        assert "That was the last one; the pedal twice goes back." in flowing(at.text)
        await at.pedal(2)
        assert at.screen == "WeekScreen"


@given(st.lists(st.floats(0, 1000), min_size=1, max_size=14))
def test_bars_grow_with_what_they_stand_for(values: Iterable[float]) -> None:
    ordered = sorted(values)
    most = ordered[-1]
    eighths = [sum(8 - "█▉▊▋▌▍▎▏".index(sign) for sign in bar(value, most).rstrip()) for value in ordered]
    assert eighths == sorted(eighths)
    assert all((eighth > 0) == (value > 0) for eighth, value in zip(eighths, ordered, strict=True))
    assert most == 0 or eighths[-1] == 8 * BAR
    assert all(len(bar(value, most)) == BAR for value in ordered)


# Dates


@pytest.mark.parametrize("size", SIZES)
async def test_the_forecast_for_a_date_is_read_in_the_week_and_at_the_phrases(
    desk: Desk, size: tuple[int, int]
) -> None:
    played(1, "solid", days_ago=3, times=9, climbing=True)
    to_be_ready(60)
    async with desk(size=size) as at:
        assert "Wide Water: On the way to" in flowing(at.text)
        await at.press("w")
        assert "Chance that each phrase is remembered on the day" in at.text
        (ready,) = at.app.screen.week.dates
        figures = at.text.replace("\N{NO-BREAK SPACE}", " ")
        assert all(said in figures for said in ready.chances)
        await at.press("escape")
        at.app.open_piece(WATER)
        await at.settle()
        assert "Behind each phrase: its chance to be remembered on the day." in flowing(at.text)
        assert (
            f"stands {at.app.log_.standings(ready.piece)[1]} · {ready.forecast[0].chance:.0%}".replace("%", " %")
            in at.text
        )


async def test_a_date_that_cannot_be_met_is_said_with_what_could_be_left_out(desk: Desk) -> None:
    played(1, "weak")
    to_be_ready(2)
    async with desk(minutes=5) as at:
        said = flowing(at.text)
        assert "At the present pace" in said
        assert "could be left out, or be played in plain chords" in said


@pytest.mark.parametrize("size", SIZES)
async def test_a_date_that_has_passed_is_said_on_its_day(desk: Desk, evening: datetime, size: tuple[int, int]) -> None:
    """Ten o'clock in the morning, read at six."""
    played(1, "shaky", days_ago=1)
    to_be_ready(-8)
    async with desk(size=size) as at:
        assert "Wide Water: its date was today 10:00." in flowing(at.text)
        await at.press("w")
        page_of = flowing(page(at.app.screen.week, 74).plain)
        assert "Wide Water: its date was today 10:00" in page_of
        assert "to be ready" not in page_of
        await at.press("escape", "p")
        assert "Its date was today 10:00." in flowing(at.text)
    main_said = io.StringIO()
    with redirect_stdout(main_said):
        main(["log"])
    assert main_said.getvalue().splitlines()[-1].strip() == "its date was today 10:00"


async def test_a_date_of_yesterday_is_said_no_more(desk: Desk) -> None:
    played(1, "shaky", days_ago=1)
    to_be_ready(-30)
    async with desk() as at:
        assert "its date was" not in flowing(at.text)
        await at.press("p")
        assert "date was" not in flowing(at.text)


# Histories


async def test_a_phrase_that_is_cut_anew_says_where_its_history_comes_from(desk: Desk) -> None:
    played(1, "shaky", days_ago=1)
    async with desk(size=(120, 40)) as at:
        at.app.open_piece(WATER)
        await at.settle()
        assert "stands shaky" in at.text
        await at.press("m", "enter")
        said = "history of phrase 1 as it was cut before (bars 1-4)"
        assert f"stands shaky · {said}" in flowing(at.text)
        await at.press("enter")
        assert said in flowing(at.text)
        await at.perform()
        assert said not in flowing(at.text)


# When there is nothing to list, or it has changed


def everything_learned(name: str = WATER) -> str:
    """Every passage of a piece climbed today, some twenty seconds a take; gives its title."""
    music = open_music(name)
    with Log.open() as log:
        began = days.now() - timedelta(minutes=60)
        for passage in log.know(music.piece, music.phrases, music.shapes):
            while (step := next_step(log.steps(passage), log.progress(passage).place)).days_apart == 0:
                began += timedelta(seconds=30)
                log.record(new_entry(passage, music.piece.title, step, "solid", began=began, seconds=20.0, source=name))
    return music.piece.title


async def test_when_nothing_more_is_due_today_says_when_something_is(desk: Desk) -> None:
    everything_learned()
    async with desk(minutes=90) as at:
        said = flowing(at.text)
        assert "of 90 minutes played; nothing more is due today. Next practice: " in said
        assert "Nothing is in practice yet" not in said
        await at.press("enter")
        assert at.screen == "PieceScreen"


async def test_when_the_minutes_are_played_today_says_so_and_keeps_the_dates_in_sight(desk: Desk) -> None:
    everything_learned()
    to_be_ready(24 * 9)
    async with desk(minutes=5) as at:
        said = flowing(at.text)
        assert "of 5 minutes played" in said
        assert "That is enough for one day" in said
        assert "Wide Water: " in said


async def test_a_piece_cut_anew_elsewhere_is_not_drilled_by_the_old_list(desk: Desk) -> None:
    played(1, "shaky", days_ago=1)
    async with desk() as at:
        assert "phrase 2" in at.text
        assert main(["pieces", "join", WATER, "1"]) == 0
        at.app._open.clear()
        await at.press("enter")
        assert at.notes[-1] == "Wide Water has changed since it was listed: choose again."
        assert at.screen == "TodayScreen"
        await at.press("enter")
        assert at.screen == "DrillScreen"
        assert "of 3" in at.text


async def test_without_a_log_nothing_is_kept_silently(desk: Desk) -> None:
    async with desk() as at:
        at.app.log_ = None
        at.app.open_piece(WATER)
        await at.settle()
        kept = "The practice log cannot be used: this is not kept."
        await at.press("t")
        assert at.notes[-1] == kept
        await at.press("d", *"friday", "enter")
        assert at.screen == "DateScreen"
        assert at.notes.count(kept) == 2
        await at.press("escape", "escape")
        assert "The practice log cannot be used" in at.text


async def test_weak_phrases_of_a_piece_that_is_not_here_are_not_drilled(desk: Desk) -> None:
    played(1, "weak", days_ago=1)
    with Log.open() as log:
        log.forget_source(WATER)
    async with desk() as at:
        await at.press("w")
        assert "1 weak" not in at.text
        await at.press("enter")
        assert at.screen == "WeekScreen"
        assert "Drill the weak phrases" not in at.text


async def test_a_chorale_in_practice_is_offered_when_nothing_is_due(desk: Desk) -> None:
    """It stands on no shelf, and is asked for by its name."""
    title = everything_learned("corpus:bach/bwv281")
    async with desk(minutes=90) as at:
        assert at.app.screen.rows == ()
        assert title in at.text
        await at.press("enter")
        await at.settle()
        assert at.screen == "PieceScreen"
        assert f"{title} · in daily practice" in at.text
        await at.press("t")
        assert "in daily practice" not in at.text


def test_a_piece_that_opens_nowhere_here_is_in_no_week(home: Path) -> None:
    """It came with another record, or was taken off the shelf; the log goes on telling of it."""
    music = open_music("wide-water")
    with Log.open() as log:
        passage = log.know(music.piece, music.phrases, music.shapes)[0]
        log.record(new_entry(passage, "x", TOGETHER, "weak", began=days.now(), seconds=20.0, source="wide-water"))
        assert week(log).weak
        log.forget_source("wide-water")
        assert week(log).weak == ()
        assert set(week(log).standing.values()) == {0}
        assert [stand.standing for stand in log.stands() if stand.takes and stand.kind == "phrase"] == ["weak"]
