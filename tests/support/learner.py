"""A simulated learner: what practice, forgetting and days between do to a pianist's hands, with a known truth.

The schedule is judged by what it does for this learner, so nothing here is taken from the schedule or its library:
skill follows the power law of practice (Newell and Rosenbloom 1981); what is remembered halves after a half-life, as
in exponential forgetting (Ebbinghaus 1885; half-life regression, Settles and Meeder 2016); a half-life grows with
every recall, and grows more the more had been forgotten (the spacing effect, Cepeda et al. 2006). The numbers are
assumptions, chosen so that an ordinary phrase takes some twenty takes to learn.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from random import Random
from typing import TYPE_CHECKING

from coach.practice.changes import Trouble, span_of
from coach.practice.entry import Fault, Part
from coach.practice.ladder import Step
from coach.practice.passage import Passage

if TYPE_CHECKING:
    from coach.listening.word import Word
    from coach.score.piece import Quarters

ERROR = 0.16
"""Chance that a chord goes wrong at its first striking, hands together, without a clock."""

LEARNING = 0.85
"""Exponent of the power law of practice."""

TEMPO_COST = 1.1
"""How much more often chords go wrong in full tempo than without a clock."""

ONE_HAND = 0.5
"""How much less often with one hand."""

SPREAD = 0.35
"""Standard deviation of the logarithm of how hard phrases and chords are."""

FIRST_HALF_LIFE = 4.0
"""Days after which half of what was first learned is forgotten: most of it outlasts the night."""

SPACING = 2.5
"""How much a half-life grows, at most, with one recall."""

READING = 0.3
"""Share of that which playing with all fingers shown gives."""

LOST = 0.55
"""What is left of a half-life when a recall fails."""

SHORTEST_HALF_LIFE = 0.5
"""Days."""

FORGOTTEN = 0.6
"""Chance that a chord goes wrong in a phrase that is forgotten."""

HAND_ALONE = 0.35
"""How much practising each hand alone counts for both together."""

CHORD_SECONDS = 0.8
"""A chord in full tempo."""

COUNT_IN = 3.0
"""Seconds."""


@dataclass(frozen=True, slots=True)
class Played:
    """A simulated take.

    Attributes:
        verdict: As it would be heard.
        faults: Changes that went wrong.
        parts: How each phrase went, in a passage of several.
        seconds: How long it took.
    """

    verdict: Word
    faults: tuple[Fault, ...]
    parts: tuple[Part, ...]
    seconds: float


@dataclass
class _Trace:
    """What the learner has of one phrase."""

    difficulty: float
    chords: list[float]
    practice: dict[str, float] = field(default_factory=lambda: {"right": 0.0, "left": 0.0, "both": 0.0})
    extra: dict[int, float] = field(default_factory=dict)
    half_life: float = 0.0
    recalled: datetime | None = None

    def chance(self, at: datetime) -> float:
        """Chance that the phrase is remembered without fingers."""
        if self.recalled is None:
            return 0.0
        away = max((at - self.recalled).total_seconds() / 86_400, 0.0)
        return float(2 ** (-away / self.half_life))


class Learner:
    """One learner with phrases of known length; the same seed plays the same."""

    def __init__(
        self,
        seed: int,
        phrases: Mapping[tuple[str, int], Sequence[Quarters]],
        talent: float = 1.0,
        half_life: float = FIRST_HALF_LIFE,
    ) -> None:
        """A learner who has played nothing yet.

        Args:
            phrases: Onsets of the chords of every phrase, by the piece's mark and the phrase's number.
            talent: How fast the learner learns and how long the learner remembers; 1 is ordinary.
            half_life: Days after which half of what an ordinary learner first learned is forgotten.
        """
        self._random = Random(seed)
        self._talent = talent
        self._half_life = half_life
        self._onsets = {key: tuple(onsets) for key, onsets in phrases.items()}
        self._traces = {
            key: _Trace(self._hardness(), [self._hardness() for _ in onsets]) for key, onsets in phrases.items()
        }

    def chance(self, piece: str, number: int, at: datetime) -> float:
        """The true chance that a phrase is remembered at an instant."""
        return self._traces[piece, number].chance(at)

    def test(self, piece: str, number: int, at: datetime) -> Word:
        """How the phrase would go as it is meant to be at an instant; nothing is learned from it."""
        trace = self._traces[piece, number]
        if self._random.random() > trace.chance(at):
            return "weak"
        wrong = [self._random.random() < self._error(trace, i, "both", 1.0) for i in range(len(trace.chords))]
        return _word(sum(wrong), len(wrong))

    def change(self, passage: Passage, trouble: Trouble, troubles: Sequence[Trouble]) -> Passage:
        """The passage of a change that is drilled on its own."""
        numbers = range(passage.first, passage.last + 1)
        onsets = [onset for number in numbers for onset in self._onsets[passage.piece, number]]
        first, last = span_of(trouble, troubles, onsets)
        end = onsets[last + 1] if last + 1 < len(onsets) else passage.end
        return replace(passage, kind="change", onset=onsets[first], end=end)

    def play(self, passage: Passage, step: Step, at: datetime) -> Played:
        """Play a passage, learn from it, and say how it went."""
        faults: list[Fault] = []
        parts: list[Part] = []
        chords = 0
        for number in range(passage.first, passage.last + 1):
            trace = self._traces[passage.piece, number]
            onsets = self._onsets[passage.piece, number]
            inside = [i for i, onset in enumerate(onsets) if passage.onset <= onset < passage.end]
            if step.seam:
                inside = inside[-1:] if number == passage.first else inside[:1]
            chords += len(inside)
            if passage.kind == "change" or step.seam:
                faults += self._some_chords(trace, onsets, inside, step)
                continue
            forgotten = self._recall(trace, step, at)
            here = self._all_chords(trace, onsets, step, FORGOTTEN if forgotten else 0.0)
            faults += here
            if passage.kind in ("join", "piece"):
                parts.append(Part(onsets[0], onsets[-1] + 1, _word(len(here), len(onsets))))
        seconds = self._seconds(chords, passage, step)
        return Played(_word(len(faults), chords), tuple(faults), tuple(parts), seconds)

    def _all_chords(self, trace: _Trace, onsets: Sequence[Quarters], step: Step, least: float) -> list[Fault]:
        speed = 0.0 if step.clock == "none" else step.tempo_fraction
        faults = []
        for i, onset in enumerate(onsets):
            if self._random.random() < max(self._error(trace, i, step.hand, speed), least):
                hand = step.hand if step.hand != "both" else self._random.choice(("right", "left"))
                faults.append(Fault(onset, hand, int(onset // 4)))
        trace.practice[step.hand] += self._talent
        return faults

    def _some_chords(self, trace: _Trace, onsets: Sequence[Quarters], inside: Sequence[int], step: Step) -> list[Fault]:
        speed = 0.0 if step.clock == "none" else step.tempo_fraction
        faults = []
        for i in inside:
            if self._random.random() < self._error(trace, i, step.hand, speed):
                hand = step.hand if step.hand != "both" else self._random.choice(("right", "left"))
                faults.append(Fault(onsets[i], hand, int(onsets[i] // 4)))
            trace.extra[i] = trace.extra.get(i, 0.0) + self._talent
        return faults

    def _error(self, trace: _Trace, chord: int, hand: str, speed: float) -> float:
        practice = trace.practice[hand] + trace.extra.get(chord, 0.0)
        share = ONE_HAND
        if hand == "both":
            practice += HAND_ALONE * min(trace.practice["right"], trace.practice["left"])
            share = 1.0
        rate = ERROR * share * (1 + TEMPO_COST * speed) * trace.difficulty * trace.chords[chord]
        return float(min(rate * (1 + practice) ** -LEARNING, 0.6))

    def _recall(self, trace: _Trace, step: Step, at: datetime) -> bool:
        """Recall the phrase, or read it; True where it was wanted and forgotten."""
        if step.hand != "both" or step.voices != "all" or step.plain:
            return False
        chance = trace.chance(at)
        wanted = {"none": 1.0, "changes": 0.5, "all": 0.0}[step.fingers]
        if trace.recalled is None:
            trace.half_life, trace.recalled = self._half_life * self._talent * self._hardness(), at
            return wanted > 0.5
        forgotten = self._random.random() < wanted * (1 - chance)
        if forgotten:
            trace.half_life = max(trace.half_life * LOST, SHORTEST_HALF_LIFE)
        else:
            effort = wanted if wanted else READING
            trace.half_life *= 1 + SPACING * effort * (1 - chance) / (0.1 + 1 - chance)
        trace.recalled = at
        return forgotten

    def _seconds(self, chords: int, passage: Passage, step: Step) -> float:
        if step.clock == "tempo":
            return chords * CHORD_SECONDS / step.tempo_fraction + COUNT_IN
        trace = self._traces[passage.piece, passage.first]
        return float(chords * (1.2 + 2.0 * (1 + trace.practice[step.hand]) ** -0.5))

    def _hardness(self) -> float:
        return self._random.lognormvariate(0.0, SPREAD)


def _word(wrong: int, chords: int) -> Word:
    """A take as it is heard: one chord of a phrase gone wrong makes it shaky, more than a quarter of them weak."""
    if wrong == 0:
        return "solid"
    return "weak" if wrong > max(chords / 4, 1) else "shaky"
