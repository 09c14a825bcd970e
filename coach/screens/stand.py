"""What is on the music stand: a passage, and the way it is practised."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from coach.fingering.plan import SIDES, Side
from coach.paper.reasons_text import reasons_of
from coach.practice.drill import Drill, State
from coach.practice.ladder import Step
from coach.practice.own_way import of_some_voices
from coach.score.counting import place_words
from coach.screens.words import as_sentence, asked, pretty

if TYPE_CHECKING:
    from coach.listening.ports import Link
    from coach.practice.music import Music
    from coach.practice.passage import Passage
    from coach.settings import Settings


EARLIER = "The verdict is the last take's."
"""Said while keys are struck that begin no take, for who believes to have played one."""

NOT_HEARD = "^p Instrument, or coach ports, shows what there is."
"""Said where no keyboard is heard: where to see to it."""


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
        hands: The hands that have something to play in the passage.
    """

    music: Music
    home: Passage
    passage: Passage
    step: Step
    chosen: bool
    bpm: float | None
    drill: Drill
    hands: tuple[Side, ...]

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
        drill = Drill(music.task(passage, step, keys, bpm), shift)
        return cls(music, home, passage, step, chosen, bpm, drill, music.hands_in(passage))

    def is_for(self, settings: Settings) -> bool:
        """Whether it is planned for the player's hands as they are set, and waits for keys of the keyboard at hand."""
        hands = self.music.planned_for(settings.hands, settings.options)
        return hands and self.drill.task.keys == settings.compass

    @property
    def where(self) -> str:
        """Where one is, for the head of the screen."""
        of_all = f" of {len(self.music.phrases)}" if self.passage.kind == "phrase" else ""
        return f"{self.music.piece.title} · {self.passage.label}{of_all}"

    @property
    def asked(self) -> str:
        """What is asked for."""
        return asked(self.step, self.drill.task.quarter_bpm, self.music.letters)

    def said(self, state: State, looking: int | None, *, heard: bool, link: Link | None = None) -> str:
        """What is said under the table.

        Args:
            state: The drill's.
            looking: Place of the chord that is looked at, away from the piano, if one is.
            heard: What was heard of a take is still shown.
            link: How things stand with the keyboard; None while nobody has looked, or nobody listens to one.
        """
        if looking is not None:
            return self.about(looking)
        if state.phase == "ready" and link is not None and link.state != "listening":
            return f"{state.said} {link.sentence} {NOT_HEARD}".lstrip()
        if state.astray and heard:
            return pretty(f"{state.said} {EARLIER}")
        if state.said:
            return pretty(state.said)
        if state.waiting:
            return pretty(f"Still to come: {' '.join(state.waiting)}")
        if state.phase == "ready" and not heard:
            return f"Play the first chord {'to be counted in' if self.step.clock == 'tempo' else 'to begin'}."
        return ""

    def about(self, place: int) -> str:
        """What the plan says about a chord."""
        chord = self.drill.task.plan.chords[place]
        hands = self.drill.task.expected.hands
        others = tuple(f"{side} hand:" for side in SIDES if side not in hands)
        said = "; ".join(why for why in reasons_of(chord) if not why.startswith(others))
        return pretty(as_sentence(f"{place_words(chord.bar, chord.beat)}: {said or chord.distribution}"))

    def beside(self, place: int | None, by: int) -> int | None:
        """The chord of the passage so many chords further on, the first one after none; None where there are none."""
        chords = self.drill.task.places.chords
        if not chords:
            return None
        if place is None or place not in chords:
            return chords[0]
        return chords[min(max(chords.index(place) + by, 0), len(chords) - 1)]
