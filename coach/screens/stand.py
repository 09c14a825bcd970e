"""What is on the music stand: a passage, and the way it is practised."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from coach.fingering.plan import SIDES
from coach.paper.reasons_text import reasons_of
from coach.practice.drill import Drill
from coach.practice.ladder import Step, phrase_steps
from coach.practice.own_way import of_some_voices
from coach.practice.session import asked_of
from coach.screens.words import asked, pretty

if TYPE_CHECKING:
    from coach.practice.log import Log
    from coach.practice.music import Music
    from coach.practice.passage import Passage
    from coach.screens.work import Item


@dataclass(frozen=True, slots=True, eq=False)
class Stand:
    """A passage on the stand.

    Attributes:
        music: The piece.
        home: What the player set out to practise.
        passage: What is practised for it: itself, or a change of chords in it.
        step: In which way.
        chosen: Whether the player chose the way, rather than the ladder.
        bpm: The tempo that the player chose in quarter notes a minute, None for the step's.
        drill: The drill of it.
    """

    music: Music
    home: Passage
    passage: Passage
    step: Step
    chosen: bool
    bpm: float | None
    drill: Drill

    @classmethod
    def of(
        cls,
        music: Music,
        home: Passage,
        passage: Passage,
        step: Step,
        keys: range,
        *,
        chosen: bool = False,
        bpm: float | None = None,
        shift: int = 0,
    ) -> Stand:
        """Put a passage up.

        Args:
            music, home, passage, step, chosen, bpm: As in the attributes.
            keys: The keys of the keyboard.
            shift: Semitones by which the player sits higher than written.

        Raises:
            CoachError: there is nothing to play that way.
        """
        if music.letters:
            step, chosen = of_some_voices(step, music.letters), True
        return cls(music, home, passage, step, chosen, bpm, Drill(music.task(passage, step, keys, bpm), shift))

    @property
    def where(self) -> str:
        """Where one is, for the head of the screen."""
        of_all = f" of {len(self.music.phrases)}" if self.passage.kind == "phrase" else ""
        return f"{self.music.piece.title} · {self.passage.label}{of_all}"

    @property
    def asked(self) -> str:
        """What is asked for."""
        return asked(self.step, self.drill.task.quarter_bpm, self.music.letters)

    def about(self, place: int) -> str:
        """What the plan says about a chord."""
        chord = self.drill.task.plan.chords[place]
        hands = self.drill.task.expected.hands
        others = tuple(f"{side} hand:" for side in SIDES if side not in hands)
        said = "; ".join(why for why in reasons_of(chord) if not why.startswith(others))
        return pretty(f"Bar {chord.bar}, beat {chord.beat:g}: {said or chord.distribution}.")

    def beside(self, place: int | None, by: int) -> int | None:
        """The chord of the passage so many chords further on, the first one after none; None where there are none."""
        chords = self.drill.task.places.chords
        if not chords:
            return None
        if place is None or place not in chords:
            return chords[0]
        return chords[min(max(chords.index(place) + by, 0), len(chords) - 1)]


def asked_for(log: Log | None, music: Music, item: Item) -> tuple[Passage, Step]:
    """What the history of an item's passage asks for: a change in it by itself, or a step of its ladder."""
    home = item.passage
    if log is None:
        return home, phrase_steps(music.shapes[home.first])[0]
    progress = log.progress(home)
    trouble = next((one for one in progress.troubles if one.fault == item.change), None)
    return asked_of(music, home, trouble, log.steps(home), progress, item.row)
