"""What a stretch of practising goes through: passages of pieces, one after the other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from coach.errors import CoachError
from coach.practice.days import now, practice_day
from coach.practice.replanning import is_played
from coach.practice.session import is_done

if TYPE_CHECKING:
    from coach.practice.entry import Fault
    from coach.practice.ladder import Step
    from coach.practice.log import Log
    from coach.practice.music import Music
    from coach.practice.passage import Passage
    from coach.practice.schedule import Row


@dataclass(frozen=True, slots=True)
class Item:
    """One passage to practise.

    Attributes:
        name: What opens its piece.
        passage: Which passage.
        step: The step that the player, or the day, asks for; None for the one that the ladder asks for.
        change: The change of chords to begin with, None for the passage itself.
        row: The line of today's practice that it is, if it is one.
        letters: The voices that are played of it, by their letters; "" for all.
    """

    name: str
    passage: Passage
    step: Step | None = None
    change: Fault | None = None
    row: Row | None = None
    letters: str = ""

    @property
    def chosen(self) -> bool:
        """Whether the player chose the step, rather than the day."""
        return self.step is not None and self.row is None

    @classmethod
    def of_row(cls, row: Row, log: Log) -> Item:
        """A line of today's practice."""
        # What was planned anew is played with the fingers, whatever step its ladder has come to.
        step = row.step if row.kind == "anew" else None
        return cls(log.source(row.passage.piece), row.passage, step, change=row.change, row=row)

    def called(self, before: Passage | None) -> str:
        """What comes after a passage, as a pianist would announce it."""
        another = self.row is not None and before is not None and before.piece != self.passage.piece
        return f"{self.row.title}, {self.passage.label}" if self.row and another else self.passage.label


def next_open(items: Sequence[Item], after: int, log: Log | None) -> int | None:
    """The place of the next item; lines of today's practice that were done along with others are passed over."""
    return next((place for place in range(after + 1, len(items)) if not _is_done(items[place], log)), None)


def _is_done(item: Item, log: Log | None) -> bool:
    if item.row is None or log is None:
        return False
    if item.row.kind == "anew":
        return is_played(log, item.passage)
    today, progress = practice_day(now()), log.progress(item.passage)
    return is_done(item.row, log.steps(item.passage), progress, 0.0, today)


def phrases_from(music: Music, number: int, step: Step | None = None) -> tuple[list[Item], int]:
    """All phrases of a piece that a step can be played in, and the place of one of them.

    Args:
        music: The piece.
        number: Of the phrase to begin with.
        step: The step to practise them in, None for the ladder's.

    Raises:
        CoachError: there is no such phrase, or nothing to play in it in this step.
    """
    first = music.phrase_passage(number)
    passages = [passage for passage in music.passages if passage.kind == "phrase"]
    if step is not None:
        music.planned(first, step)
        passages = [passage for passage in passages if _can_be_played(music, passage, step)]
    return [Item(music.name, passage, step, letters=music.letters) for passage in passages], passages.index(first)


def _can_be_played(music: Music, passage: Passage, step: Step) -> bool:
    try:
        music.planned(passage, step)
    except CoachError:
        return False
    return True


def opening(music: Music, passage: Passage, step: Step, keys: range) -> tuple[frozenset[int], Sequence[str]]:
    """The keys of the chord that a passage begins with, and their pitches from high to low."""
    task = music.task(passage, step, keys)
    expected = task.expected
    notes = expected.struck(0) if expected.chords else ()
    return task.first_keys, [note.pitch for note in notes if not note.optional]
