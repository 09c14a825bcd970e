"""coach log: the practice record, to read, to take along and to take in."""

from __future__ import annotations

import argparse
import shlex
import sys
from collections.abc import Iterable
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from coach import places
from coach.commands.output import output
from coach.commands.typed import whole_number
from coach.errors import CoachError
from coach.listing import numbered
from coach.practice import days

if TYPE_CHECKING:
    from coach.practice.entry import Entry
    from coach.practice.log import Log
    from coach.practice.spelling import Spelled

DAYS = 14
"""Days of practice printed unless more are asked for."""


def add(parser: argparse.ArgumentParser) -> None:
    ways = parser.add_mutually_exclusive_group()
    ways.add_argument("--csv", metavar="FILE", help='write every take as a row of a table, "-" for the screen')
    ways.add_argument("--json", metavar="FILE", help='write all of the record as JSON, "-" for the screen')
    ways.add_argument("--merge", metavar="FILE", help="take in another machine's record (its JSON or its log file)")
    ways.add_argument("--of", metavar="FILE", help="read somebody else's record and leave this one as it is")
    lengths = parser.add_mutually_exclusive_group()
    lengths.add_argument(
        "--days", type=whole_number, default=DAYS, metavar="N", help=f"how many days to print ({DAYS})"
    )
    lengths.add_argument("--all", action="store_true", help="print every day")


def run(arguments: argparse.Namespace) -> int:
    from coach.practice.exchange import read_log, write_csv, write_json
    from coach.practice.log import Log
    from coach.settings import load

    for name in ("csv", "json", "merge", "of"):
        if getattr(arguments, name) == "":
            raise CoachError(f"--{name} takes the name of a file")
    if arguments.days < 1:
        raise CoachError("--days takes a number of days, 1 or more")
    number = None if arguments.all else arguments.days
    if arguments.of:
        record = read_log(places.expanded(arguments.of))
        with TemporaryDirectory(prefix="coach-") as folder:
            path = Path(folder) / "practice.sqlite"
            with Log.open(path) as log:
                log.mirror(record.entries, record.others, record.cuts)
            # Opened again, it asks the reviews how that player remembers.
            with Log.open(path) as log:
                _print(log, number, f"coach log --of {shlex.quote(arguments.of)} --all", record.minutes)
        return 0
    with Log.open() as log:
        for notice in log.notices:
            print(f"coach: {notice}", file=sys.stderr)
        if log.notices:
            from coach.practice.music import know_all

            know_all(log)
        if arguments.csv:
            with output(arguments.csv) as file:
                write_csv(log, file)
        elif arguments.json:
            with output(arguments.json) as file:
                write_json(log, file, load().minutes)
        elif arguments.merge:
            given = read_log(places.expanded(arguments.merge))
            spelled = len(log.spellings())
            new = log.merge(given.entries, given.others)
            known, spelled = len(given.entries) - new, len(log.spellings()) - spelled
            spellings = f"; {spelled} spelling{'s' * (spelled != 1)} taken in" if spelled else ""
            print(f"{_takes(new)} taken in, {known} known already{spellings}.")
            from coach.practice.music import know_all
            from coach.score.cards import cards

            elsewhere = log.find_sources({card.mark: card.name for card in cards() if card.mark})
            know_all(log)
            for title in elsewhere:
                print(f'"{title}" is not on this shelf: add it to go on practising it here.')
        else:
            _print(log, number, "coach log --all")
    return 0


def _print(log: Log, number: int | None, more: str, minutes: float | None = None) -> None:
    """Print the record of so many days.

    Args:
        more: What prints all of it.
        minutes: How long a day's practice is meant to be where it was played, None where that is here.
    """
    from datetime import timedelta

    total = log.count()
    if total == 0 and not log.spellings():
        print("Nothing has been practised yet.")
        return
    today = days.practice_day(days.now())
    # The calendar begins with the year 1: whoever asks for more days than there were gets all of them.
    since = None if number is None else today - timedelta(days=min(number, today.toordinal()) - 1)
    spellings = [one for one in log.spellings() if since is None or one.day >= since]
    shown = _print_days(log, since, spellings)
    if shown < total:
        print(f"{_takes(total - shown)} of earlier days: {more}")
    _print_standing(log, minutes)


def _print_days(log: Log, since: date | None, spellings: Iterable[Spelled]) -> int:
    """Print takes and spellings day by day; gives the number of takes."""
    from coach.practice.store import BELIEVED

    names = log.names()
    lines: dict[date, list[tuple[object, str]]] = {}
    shown = 0
    for entry in log.entries(since=since):
        title = names.get(entry.passage.piece, entry.title)
        lines.setdefault(entry.day, []).append((entry.at, _line(entry, title)))
        shown += 1
    for one in spellings:
        hand = "" if one.hand == "both" else f" by the {one.hand} hand"
        said = f"spelled away from the piano{hand}, {one.right} of {len(one.answers)} chords as planned"
        title = names.get(one.passage.piece, one.title)
        text = f"  {one.at.astimezone():%H:%M}  {'':5}  {title}, {one.passage.label}: {said}"
        lines.setdefault(one.day, []).append((one.at, text))
    believed = days.practice_day(days.now() + BELIEVED)
    for day in sorted(lines):
        ahead = " (the clock was ahead: this counts once that day has come)" if day > believed else ""
        print(f"{day:%A} {day.day} {day:%B %Y}{_played(log.minutes_on(day))}{ahead}")
        for _, text in sorted(lines[day], key=lambda line: str(line[0])):
            print(text)
        print()
    return shown


def _played(minutes: float) -> str:
    told = days.minutes_told(minutes)
    return f", {told} minute{'s' * (minutes >= 1.5)} played" if minutes else ""


def _line(entry: Entry, title: str) -> str:
    tempo = ""
    if entry.quarter_bpm:
        tempo = f" at {entry.quarter_bpm:.0f}" + (f" of {entry.target_bpm:.0f}" if entry.target_bpm else "")
    chosen = ", chosen" if entry.chosen else ""
    off = ", broken off" if entry.reached is not None else ""
    what = f"{title}, {entry.passage.label}: {entry.step.name}{tempo}{chosen}{off}"
    return f"  {entry.at.astimezone():%H:%M}  {entry.verdict:5}  {what}"


def _print_standing(log: Log, minutes: float | None) -> None:
    """How each piece in practice stands, phrase by phrase; whence a history comes; what is forecast for a date."""
    from coach.paper.signs import breadth, padded
    from coach.practice.ready import date_was, said
    from coach.practice.schedule import dates
    from coach.settings import load

    now = days.now()
    ready = {one.piece: one for one in dates(log, now, minutes=minutes or load().minutes)}
    today = days.practice_day(now)
    stands = log.stands()
    phrases = [stand for stand in stands if stand.kind == "phrase"]
    titles = {stand.piece: stand.title for stand in phrases}
    width = max((breadth(title) for title in titles.values()), default=0)
    for piece, title in sorted(titles.items(), key=lambda one: one[1]):
        numbers: dict[str, list[int]] = {"solid": [], "shaky": [], "weak": [], "new": []}
        for stand in sorted(phrases, key=lambda stand: stand.first):
            if stand.piece == piece:
                numbers[stand.standing or "new"].append(stand.first)
        words = [f"{numbered('phrase', which)} {standing}" for standing, which in numbers.items() if which]
        print(f"{padded(title, width)}  {'; '.join(words)}")
        for stand in phrases:
            if stand.piece == piece and stand.kept_from:
                print(f"{'':{width}}  phrase {stand.first}: {stand.kept_from}")
        due = min(
            (one.due for one in stands if one.piece == piece and one.learned and one.open and one.due), default=""
        )
        if due:
            print(f"{'':{width}}  {_due(date.fromisoformat(due), today)}")
        was = next((date_was(stand.ready_by, now) for stand in phrases if stand.piece == piece), "")
        if was:
            print(f"{'':{width}}  {was}")
        if piece in ready:
            one = ready[piece]
            print(f"{'':{width}}  {one.sentence}")
            print(f"{'':{width}}  chance on {said(one.at, today)}: {', '.join(one.chances)}")


def _due(due: date, today: date) -> str:
    """When the next review of a piece is due."""
    day = f"{due:%A} {due.day} {due:%B}"
    if due == today:
        return "a review is due today"
    return f"a review is due since {day}" if due < today else f"next review due {day}"


def _takes(count: int) -> str:
    return f"{count} take{'' if count == 1 else 's'}"
