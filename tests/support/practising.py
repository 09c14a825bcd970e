"""Pieces, takes and logs for the tests of practising: invented music, so that every test sees what it plays."""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from pathlib import Path
from typing import Any

from coach.practice import days
from coach.practice.entry import Entry, new_entry
from coach.practice.ladder import MEMORY, NO_FINGERS, TOGETHER, Step
from coach.practice.log import Log
from coach.practice.music import open_music
from coach.practice.passage import Passage
from coach.score.piece import SATB, Bar, Note, Phrase, Piece

MONDAY = datetime(2026, 3, 2, 18, tzinfo=UTC)
"""An evening on which nothing else happens."""


def hymn(phrases: int = 4, chords: int = 8, seed: int = 1, title: str = "Harbour hymn") -> Piece:
    """Four voices in crotchets, two bars of four a phrase of eight chords."""
    draw = random.Random(seed)
    notes: list[Note] = []
    for chord in range(phrases * chords):
        for voice, low in zip(SATB, (67, 60, 53, 43), strict=True):
            notes.append(Note(voice, Fraction(chord), Fraction(1), low + draw.randrange(7), "C4"))
    bars = tuple(Bar(n + 1, Fraction(4 * n), Fraction(4), "4/4") for n in range(-(-phrases * chords // 4)))
    return Piece(title, f"{title}.musicxml", SATB, tuple(notes), bars, quarter_bpm=72.0)


def cut(*ends: int) -> tuple[Phrase, ...]:
    """Phrases that end at these quarter notes; the first begins at 0."""
    spans = itertools.pairwise((0, *ends))
    return tuple(
        Phrase(number, Fraction(start), Fraction(end), "fermata") for number, (start, end) in enumerate(spans, 1)
    )


def phrases_of(piece: Piece, chords: int = 8) -> tuple[Phrase, ...]:
    """The phrases of a hymn."""
    return cut(*range(chords, int(piece.end) + 1, chords))


def entry(passage: Passage, step: Step = TOGETHER, verdict: Any = "solid", at: datetime = MONDAY, **more: Any) -> Entry:
    """A take."""
    more.setdefault("seconds", 20.0)
    more.setdefault("target_bpm", 72.0)
    return new_entry(passage, more.pop("title", "Harbour hymn"), step, verdict, began=at, zone=UTC, **more)


def evening(number: int, minute: int = 0) -> datetime:
    """An instant on the evening so many days after the first Monday."""
    return MONDAY + timedelta(days=number, minutes=minute)


def learn(log: Log, passage: Passage, day: int = 0) -> None:
    """Climb the ladder of a passage on one evening, every take solid."""
    for minute in range(20):
        place = log.progress(passage).place
        steps = log.steps(passage)
        if place.index >= len(steps) or steps[place.index] == MEMORY:
            return
        log.record(entry(passage, steps[place.index], at=evening(day, minute)))


def review(log: Log, passage: Passage, day: int, verdict: Any = "solid") -> None:
    """Play a learned passage from memory on an evening."""
    log.record(entry(passage, MEMORY, verdict, at=evening(day)))


def make_solid(log: Log, passage: Passage, days: Iterable[int] = (0, 3)) -> None:
    """Learn a passage and play it from memory on later days."""
    first, *later = days
    learn(log, passage, first)
    for day in later:
        review(log, passage, day)


def random_history(draw: random.Random, passages: Sequence[Passage], takes: int) -> list[Entry]:
    """Takes in any order of steps, verdicts, days and passages, oldest first."""
    entries = []
    minutes = sorted(draw.sample(range(40 * 1440), takes))
    for minute in minutes:
        passage = draw.choice(passages)
        step = draw.choice((TOGETHER, NO_FINGERS, MEMORY, *(Step("right hand", hand="right"),)))
        verdict = draw.choice(("solid", "solid", "shaky", "weak"))
        entries.append(entry(passage, step, verdict, at=MONDAY + timedelta(minutes=minute)))
    return entries


def open_log(folder: Path, now: datetime = MONDAY + timedelta(days=3650)) -> Log:
    """A log in a folder of its own, looked at on a day after all that the tests play."""
    return Log.open(folder / "practice.sqlite", folder / "takes", lambda: now)


def practise(name: str = "wide-water", phrase: int = 1) -> None:
    """A shaky take of a piece that ships, a minute ago, in the log of this data folder: Today has a row."""
    music = open_music(name)
    with Log.open() as log:
        log.know(music.piece, music.phrases, music.shapes)
        passage = music.phrase_passage(phrase)
        began = days.now() - timedelta(seconds=60)
        log.record(new_entry(passage, music.piece.title, TOGETHER, "shaky", began=began, seconds=40.0, source=name))
