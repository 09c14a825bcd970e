"""What Today says and offers when it has nothing to play."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from coach import places
from coach.cli import main
from coach.practice import days
from coach.practice.entry import new_entry
from coach.practice.ladder import TOGETHER, next_step
from coach.practice.log import Log, State
from coach.practice.music import Music, open_music
from coach.practice.schedule import today
from coach.score.cards import cards
from coach.screens.choosing import choices, why_nothing

Desk = Callable[..., Any]
SIZES = [(80, 24), (120, 40)]
WATER, OARS, LANTERN = "wide-water", "oars-at-dusk", "the-last-lantern"
TUNE = "X:1\nT:{}\nM:4/4\nL:1/4\nK:{}\nV:1\nG A B !fermata!c|]\nV:2\nE F G !fermata!E|]\n"


def flowing(text: str) -> str:
    return " ".join(text.split())


def known(log: Log, name: str) -> Music:
    music = open_music(name)
    log.know(music.piece, music.phrases, music.shapes)
    return music


def played(log: Log, name: str, at: datetime, times: int = 1) -> str:
    """Takes of the first phrase of a piece, one a minute; gives the piece's mark."""
    music = known(log, name)
    passage = music.passages[0]
    for number in range(times):
        began = at + timedelta(minutes=number)
        log.record(new_entry(passage, music.piece.title, TOGETHER, "shaky", began=began, seconds=30.0, source=name))
    return passage.piece


def learned(log: Log, name: str, at: datetime) -> None:
    """All phrases of a piece climbed on one day, a minute a take."""
    music = known(log, name)
    for passage in (one for one in music.passages if one.kind == "phrase"):
        while (step := next_step(log.steps(passage), log.progress(passage).place)).days_apart == 0:
            log.record(new_entry(passage, music.piece.title, step, "solid", began=at, seconds=60.0, source=name))
            at += timedelta(seconds=70)


# What is due and does not fit


def due_again(*, minutes: float) -> int:
    """Weeks after two pieces were learned, so many minutes of a third one today; how many reviews then do not fit."""
    with Log.open() as log:
        now = days.now()
        for place, name in enumerate((WATER, OARS)):
            learned(log, name, now - timedelta(days=40, hours=place))
        played(log, LANTERN, now - timedelta(minutes=minutes + 10), times=round(minutes))
        return today(log, now, minutes=25).waiting


@pytest.mark.usefixtures("evening")
@pytest.mark.parametrize("size", SIZES)
async def test_what_is_due_and_does_not_fit_is_said_with_what_can_be_done(desk: Desk, size: tuple[int, int]) -> None:
    waiting = due_again(minutes=24)
    assert waiting > 1
    async with desk(size=size) as at:
        assert at.app.screen.rows == ()
        said = flowing(at.text)
        assert (
            f"24 of 25 minutes played. {waiting} reviews are due and do not fit: + gives more minutes, or they wait "
            "until tomorrow."
        ) in said
        assert "nothing more is due" not in said
        await at.press("plus", "plus")
        assert {row.kind for row in at.app.screen.rows} >= {"review"}


@pytest.mark.usefixtures("evening")
async def test_on_a_day_that_is_played_out_what_waits_is_said_beside_the_rest(desk: Desk) -> None:
    waiting = due_again(minutes=26)
    async with desk() as at:
        said = flowing(at.text)
        assert "That is enough for one day: rest the hands, or choose a piece." in said
        assert f"{waiting} reviews are due and wait until tomorrow." in said


# What has become of the pieces


def piece(title: str, state: State, source: str) -> dict[str, Any]:
    return {"mark": title + source, "title": title, "state": state, "source": source}


@pytest.mark.parametrize(
    ("pieces", "said"),
    [
        ([], "Nothing is in practice yet. Choose a piece to begin with."),
        ([piece("Opened", "known", "x")], "Nothing is in practice yet. Choose a piece to begin with."),
        (
            [piece("Wide Water", "set aside", "x")],
            "Nothing is in practice: Wide Water is set aside. Choose a piece; on its page t takes it up again.",
        ),
        (
            [piece(title, "set aside", title) for title in "ABCDE"] + [piece("Evening Hymn", "in practice", "")],
            "Nothing is in practice: A, B, C and 2 more are set aside; Evening Hymn is not on this shelf. Choose a "
            "piece; on its page t takes it up again.",
        ),
        (
            [piece("Corrected", "in practice", ""), piece("Corrected", "set aside", "Corrected")],
            "Nothing is in practice: Corrected is set aside. Choose a piece; on its page t takes it up again.",
        ),
    ],
)
def test_why_nothing_is_in_practice(pieces: list[dict[str, Any]], said: str) -> None:
    assert why_nothing(pieces, {one["mark"]: one["title"] for one in pieces}) == said


@pytest.mark.parametrize("size", SIZES)
async def test_pieces_that_were_set_aside_or_removed_are_told_of(
    desk: Desk, home: Path, size: tuple[int, int], capsys: pytest.CaptureFixture[str]
) -> None:
    (home / "x.abc").write_text(TUNE.format("Evening Hymn", "C"))
    main(["pieces", "add", str(home / "x.abc")])
    with Log.open() as log:
        log.set_state(played(log, WATER, days.now() - timedelta(days=1)), "set aside")
        played(log, "Evening Hymn", days.now() - timedelta(days=2))
    main(["pieces", "remove", "Evening Hymn"])
    async with desk(size=size) as at:
        said = flowing(at.text)
        assert "Nothing is in practice: Wide Water is set aside; Evening Hymn is not on this shelf." in said
        row = next(line for line in at.text.splitlines() if "▸" in line)
        assert "Wide Water" in row
        assert "set aside, last played" in row
        await at.press("s")
        row = next(line for line in at.text.splitlines() if "Wide Water" in line)
        assert "set aside, 1 shaky" in row
    capsys.readouterr()
    main(["pieces"])
    row = next(line for line in capsys.readouterr().out.splitlines() if line.startswith(WATER))
    assert "set aside, 1 shaky, 3 new" in row


# The list


def test_the_latest_played_comes_first_by_its_title_however_long_ago(home: Path) -> None:
    """Of what is in practice; then what is set aside, then the rest of the shelf."""
    with Log.open() as log:
        played(log, WATER, datetime(2024, 12, 30, 18, tzinfo=UTC))
        played(log, "corpus:bach/bwv281", datetime(2026, 1, 5, 18, tzinfo=UTC))
        log.set_state(played(log, LANTERN, datetime(2026, 2, 1, 18, tzinfo=UTC)), "set aside")
        log.set_state(known(log, "the-mooring-rope").passages[0].piece, "in practice")
        played(log, OARS, datetime(2026, 2, 3, 18, tzinfo=UTC), times=300)
        found = choices(log, cards(), date(2026, 3, 2))
    assert [(one.name, one.note) for one in found[:5]] == [
        (OARS, "last played 3 February"),
        ("corpus:bach/bwv281", "last played 5 January"),
        (WATER, "last played 30 December 2024"),
        ("the-mooring-rope", "in practice"),
        (LANTERN, "set aside, last played 1 February"),
    ]
    assert {one.title for one in found} >= {"Oars at Dusk", "The Last Lantern", "The Bell above the Reeds"}
    assert [one.note for one in found[5:]] == [""] * 4


def test_a_file_that_was_renamed_on_the_shelf_is_one_piece_under_its_new_name(home: Path) -> None:
    (home / "x.abc").write_text(TUNE.format("Evening Hymn", "C"))
    main(["pieces", "add", str(home / "x.abc")])
    with Log.open() as log:
        played(log, "Evening Hymn", datetime(2026, 2, 3, 18, tzinfo=UTC))
        (places.shelf() / "Evening Hymn.abc").rename(places.shelf() / "Olivet.abc")
        found = choices(log, cards(), date(2026, 3, 2))
    (one,) = [one for one in found if one.title == "Evening Hymn"]
    assert (one.name, one.note) == ("Olivet", "last played 3 February")


def test_pieces_of_one_title_are_listed_by_their_names(home: Path) -> None:
    for name, key in (("x", "C"), ("y", "G")):
        (home / f"{name}.abc").write_text(TUNE.format("Evening Hymn", key))
        main(["pieces", "add", str(home / f"{name}.abc")])
    titles = [one.title for one in choices(None, cards(), date(2026, 3, 2))]
    assert titles[:2] == ["Evening Hymn", "Evening Hymn (2)"]


async def test_titles_come_as_soon_as_the_pieces_are_read(desk: Desk, home: Path) -> None:
    """Of a piece that nothing has read yet the name is shown until then."""
    (home / "shelf.json").unlink()
    async with desk() as at:
        assert "The Bell above the Reeds" in at.text
        assert at.app.screen.rows == ()
    assert len(json.loads((home / "shelf.json").read_text())["cards"]) == 8


async def test_a_day_that_begins_after_the_shelf_was_listed_begins_with_its_first_line(desk: Desk) -> None:
    """The last piece of the shelf is chosen and practised: Enter then goes on with what comes first."""
    async with desk() as at:
        await at.press("end")
        assert at.app.log_ is not None
        played(at.app.log_, WATER, days.now() - timedelta(minutes=1))
        await at.press("h", "escape")
        assert len(at.app.screen.rows) > 1
        assert "▸ Wide Water           phrase 1" in at.text
