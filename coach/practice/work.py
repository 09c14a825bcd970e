"""What a player sits down to: passages of pieces, and what is asked for in each of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from coach.errors import CoachError
from coach.practice.ladder import TOGETHER, Step, next_step, phrase_steps
from coach.practice.session import asked_of

if TYPE_CHECKING:
    from coach.practice.entry import Fault
    from coach.practice.log import Log
    from coach.practice.music import Music
    from coach.practice.passage import Passage
    from coach.practice.schedule import Row


@dataclass(frozen=True, slots=True)
class Item:
    """One passage to practise.

    Attributes:
        name: What opens its piece, "" where it is on the shelf no longer; see `opened_by`.
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
    def opened_by(self) -> str:
        """What opens its piece.

        Raises:
            CoachError: the piece was taken off the shelf since it was listed.
        """
        if not self.name:
            raise CoachError(f'"{self.row.title if self.row else "the piece"}" is no longer on your shelf')
        return self.name

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

    def is_in(self, music: Music) -> bool:
        """Whether its piece is still cut so that there is such a passage."""
        return self.passage.kind == "change" or self.passage in music.passages

    def called(self, before: Passage | None) -> str:
        """What comes after a passage, as a pianist would announce it."""
        another = self.row is not None and before is not None and before.piece != self.passage.piece
        return f"{self.row.title}, {self.passage.label}" if self.row and another else self.passage.label


def asked_for(log: Log | None, music: Music, item: Item) -> tuple[Passage, Step]:
    """What the history of an item's passage asks for: a change in it by itself, or a step of its ladder."""
    home = item.passage
    if log is None:
        return home, phrase_steps(music.shapes[home.first])[0]
    progress = log.progress(home)
    if music.letters:
        # The ladder is that of all voices: some of them have no use for all of its steps.
        own, step = phrase_steps(music.shapes[home.first]), next_step(log.steps(home), progress.place)
        return home, step if step in own else own[0]
    trouble = next((one for one in progress.troubles if one.fault == item.change), None)
    return asked_of(music, home, trouble, log.steps(home), progress, item.row)


def phrases_from(music: Music, number: int | None, step: Step | None = None) -> tuple[list[Item], int]:
    """All phrases of a piece that have something to play, and the place of one of them.

    Args:
        music: The piece.
        number: Of the phrase to begin with; None for the first that has something to play.
        step: The step to practise them in, None for the ladder's.

    Raises:
        CoachError: there is no such phrase, or nothing to play in it (in this step).
    """
    passages = [passage for passage in music.passages if passage.kind == "phrase"]
    wanted = step or TOGETHER
    playable = [passage for passage in passages if _can_be_played(music, passage, wanted)]
    first = music.phrase_passage(number) if number is not None else (playable or passages)[0]
    if first not in playable:
        # Says why: a hand may rest in it, or all voices that are played.
        music.planned(first, wanted)
    return [Item(music.name, passage, step, letters=music.letters) for passage in playable], playable.index(first)


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
