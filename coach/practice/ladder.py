"""What comes next for one phrase: the steps it climbs, and where on them a history of takes has brought it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any, Literal, Protocol

from coach.practice.passage import plan_mark

if TYPE_CHECKING:
    from coach.fingering.plan import PhrasePlan
    from coach.listening.expected import Hand
    from coach.listening.word import Word
    from coach.score.piece import Quarters


Clock = Literal["none", "tempo"]
Fingers = Literal["all", "changes", "none"]

PASSES_IN_A_ROW = 2
"""Solid takes in a row that pass a step (the very first try of a step passes it alone)."""

MISS: dict[str, int] = {"solid": 0, "shaky": 1, "weak": 2}
"""What a take that does not pass adds to the misses of its step (common practice, no source)."""

SHOWN: dict[Fingers, int] = {"none": 0, "changes": 1, "all": 2}
"""How much is shown."""

FALL_BACK_AT = 6
"""Misses in a row that send the phrase one step back: three weak takes, or six shaky ones (common practice)."""

TEMPOS = (0.6, 0.8, 1.0)
"""Shares of the target tempo that the steps in tempo ask for."""

IN_TEMPO = 0.95
"""Share of the target tempo from which a take counts as in tempo (common practice, no source)."""

LONG_PHRASE = 10
"""Chords from which the outer voices come first (common practice, no source)."""

DECORATED = 0.2
"""Share of chords off the beat over held notes from which plain chords come first (common practice, no source)."""

MEMORY_DAYS = 1
"""Practice days at least from the pass without fingers to the first playing from memory that counts; the schedule
decides how many more."""


@dataclass(frozen=True, slots=True)
class Step:
    """One rung: what is asked of the hands and what is shown to the eyes.

    Attributes:
        name: As the log and the screens call it: "right hand", "in tempo 80 %".
        hand: Which hand plays.
        clock: "none" waits for the player, chord by chord; "tempo" counts in and keeps time.
        tempo_fraction: Share of the target tempo, 1.0 where there is no clock.
        fingers: Shown on every note, only where the hand changes place, or not at all.
        voices: All voices, or the outer two.
        plain: Without passing notes and other decorations.
        pedal: With the sustain pedal; everything else is practised dry.
        seam: Only the change from the last chord of one phrase to the first of the next.
        days_apart: Practice days that must lie between the step before and this one.
    """

    name: str
    hand: Hand = "both"
    clock: Clock = "none"
    tempo_fraction: float = 1.0
    fingers: Fingers = "all"
    voices: Literal["all", "outer"] = "all"
    plain: bool = False
    pedal: bool = False
    seam: bool = False
    days_apart: int = 0

    @property
    def together(self) -> bool:
        """Whether both hands play all that is written, so that a take of it says how the passage stands."""
        return self.hand == "both" and self.voices == "all" and not self.plain and not self.seam

    @property
    def full(self) -> bool:
        """Whether it asks for the passage as it is meant to be: together, in tempo, without fingers shown."""
        return self.together and self.clock == "tempo" and self.tempo_fraction >= 1.0 and self.fingers == "none"


OUTER = Step("outer voices", voices="outer")
PLAIN = Step("plain chords", plain=True)
RIGHT = Step("right hand", hand="right")
LEFT = Step("left hand", hand="left")
TOGETHER = Step("together")
STEPS_IN_TEMPO = tuple(
    Step("in tempo" if share >= 1 else f"in tempo {share:.0%}".replace("%", " %"), clock="tempo", tempo_fraction=share)
    for share in TEMPOS
)
FEWER = Step("fewer fingers", clock="tempo", fingers="changes")
NO_FINGERS = Step("no fingers", clock="tempo", fingers="none")
MEMORY = Step("from memory", clock="tempo", fingers="none", days_apart=MEMORY_DAYS)
PEDAL = Step("with pedal", clock="tempo", fingers="none", pedal=True)
SEAM = Step("over the seam", seam=True)

ALL_STEPS: dict[str, Step] = {
    step.name: step
    for step in (OUTER, PLAIN, RIGHT, LEFT, TOGETHER, *STEPS_IN_TEMPO, FEWER, NO_FINGERS, MEMORY, PEDAL, SEAM)
}
"""Every step by its name, for choosing one and for reading the log."""


@dataclass(frozen=True, slots=True)
class Shape:
    """What a ladder needs to know of a phrase's plan.

    Attributes:
        chords: How many.
        right: Whether the right hand has anything to play; `left` the same.
        decorated: Whether plain chords are a useful beginning.
        lifts: Whether a hand lifts inside the phrase, so that the pedal has gaps to cover.
        voices: Most notes sounding at once.
        plan: Mark of the plan, "" where there is none.
    """

    chords: int
    right: bool = True
    left: bool = True
    decorated: bool = False
    lifts: bool = True
    voices: int = 4
    plan: str = ""


def shape_of(plan: PhrasePlan) -> Shape:
    """The shape of a planned phrase."""
    off_beat = sum(1 for c in plan.chords if c.beat != int(c.beat) and any(not n.struck for n in c.notes))
    inside = plan.chords[:-1]
    return Shape(
        chords=len(plan.chords),
        right=any(chord.right is not None for chord in plan.chords),
        left=any(chord.left is not None for chord in plan.chords),
        decorated=off_beat >= DECORATED * len(plan.chords) > 0,
        lifts=any(part is not None and part.after == "lift" for chord in inside for part in (chord.right, chord.left)),
        voices=max((len(chord.notes) for chord in plan.chords), default=0),
        plan=plan_mark(plan),
    )


def phrase_steps(shape: Shape) -> tuple[Step, ...]:
    """The ladder of a phrase, lowest step first."""
    last = (PEDAL,) if shape.lifts else ()
    if not shape.right or not shape.left:
        alone = LEFT if shape.left else RIGHT
        return (alone, *STEPS_IN_TEMPO, FEWER, NO_FINGERS, MEMORY, *last)
    first: tuple[Step, ...] = ()
    if shape.decorated:
        first = (PLAIN,)
    elif shape.chords >= LONG_PHRASE and shape.voices > 2:
        first = (OUTER,)
    return (*first, RIGHT, LEFT, TOGETHER, *STEPS_IN_TEMPO, FEWER, NO_FINGERS, MEMORY, *last)


JOIN_STEPS = (SEAM, *STEPS_IN_TEMPO[1:], NO_FINGERS, MEMORY)
"""Two neighbouring phrases: the change between them first, as its own moment."""

PIECE_STEPS = (*STEPS_IN_TEMPO[1:], NO_FINGERS, MEMORY, PEDAL)
"""The whole piece."""


def change_steps(hand: Hand) -> tuple[Step, ...]:
    """A change of two or three chords that kept failing, in the hand that it failed in."""
    if hand == "both":
        return (TOGETHER, STEPS_IN_TEMPO[1])
    step = RIGHT if hand == "right" else LEFT
    return (step, replace(step, name=f"{step.name} in tempo", clock="tempo", tempo_fraction=TEMPOS[1]))


class Try(Protocol):
    """One take, as far as the ladder cares."""

    @property
    def step(self) -> Step: ...
    @property
    def verdict(self) -> Word: ...
    @property
    def day(self) -> date: ...
    @property
    def tempo_share(self) -> float: ...
    @property
    def reached(self) -> Quarters | None: ...


@dataclass(frozen=True, slots=True)
class Place:
    """Where a passage stands on its ladder.

    Attributes:
        index: The step to play next; the number of steps when all are passed.
        seen: Names of the steps that have been tried.
        run: Solid takes in a row on the step named `run_on`.
        run_on: "" where there is no run.
        misses: What takes of the step to play have added up to since the last pass.
        since: The practice day on which `index` was reached, None before the first take.
    """

    index: int = 0
    seen: frozenset[str] = frozenset()
    run: int = 0
    run_on: str = ""
    misses: int = 0
    since: date | None = None

    def to_json(self) -> list[Any]:
        since = self.since.isoformat() if self.since else None
        return [self.index, sorted(self.seen), self.run, self.run_on, self.misses, since]

    @classmethod
    def from_json(cls, form: list[Any]) -> Place:
        index, seen, run, run_on, misses, since = form
        return cls(index, frozenset(seen), run, run_on, misses, date.fromisoformat(since) if since else None)


START = Place()
"""Before the first take."""


def next_step(steps: tuple[Step, ...], place: Place) -> Step:
    """The step to play next: from memory, again and again, once the whole ladder is climbed."""
    return steps[place.index] if place.index < len(steps) else (MEMORY if MEMORY in steps else steps[-1])


def learned(steps: tuple[Step, ...], place: Place) -> bool:
    """Whether only playing from memory (and the pedal) is left, so that days must pass before the next step."""
    return place.index >= _index(steps, MEMORY.name, len(steps))


def in_tempo(steps: tuple[Step, ...], place: Place) -> bool:
    """Whether the passage goes together in tempo, so that it can be joined to its neighbour."""
    return place.index > _index(steps, STEPS_IN_TEMPO[-1].name, len(steps))


def height(steps: tuple[Step, ...], place: Place) -> float:
    """How much of the way to playing from memory is climbed, 0 to 1."""
    return min(place.index / max(_index(steps, MEMORY.name, len(steps)), 1), 1.0)


def after(place: Place, steps: tuple[Step, ...], take: Try) -> Place:
    """Where the passage stands after one more take.

    The step to play is passed by `PASSES_IN_A_ROW` solid takes, or by its very first try; playing from memory is
    passed by one, on a later day. `FALL_BACK_AT` misses in a row send it back a step; one weak take from memory, or
    with pedal on a later day, sends it back to the step before memory, unless it was broken off: somebody came to the
    door. A higher step that the player chose counts as soon as it is passed and then passes all below it; failing
    there, or playing a lower step, costs nothing; neither does a look at hidden fingers, but it passes no step. Steps
    that are not on this ladder are left aside.
    """
    name = take.step.name
    index = _index(steps, name, -1)
    if index < 0:
        return place
    if SHOWN[take.step.fingers] > SHOWN[steps[index].fingers]:
        # The player looked at fingers that this step hides: the take was played, but not as it asks.
        return replace(place, seen=place.seen | {name}, run=0, run_on="", since=place.since or take.day)
    first_try = name not in place.seen
    run = (place.run if place.run_on == name else 0) + 1 if take.verdict == "solid" else 0
    tried = replace(place, seen=place.seen | {name}, since=place.since or take.day)
    if index < place.index:
        memory = _index(steps, MEMORY.name, -1)
        if index == memory and take.verdict == "weak" and take.reached is None:
            return _moved(tried, max(memory - 1, 0), take.day)
        return tried
    if take.verdict == "solid":
        at_once = first_try or name == MEMORY.name
        if (at_once or run >= PASSES_IN_A_ROW) and _days_enough(place, index, take):
            return _moved(tried, index + 1, take.day)
        return replace(tried, run=run, run_on=name, misses=0 if index == place.index else place.misses)
    if index > place.index:
        return replace(tried, run=0, run_on="") if place.run_on == name else tried
    if take.verdict == "weak" and _is_review(place, take):
        if take.reached is not None:
            return replace(tried, run=0, run_on="")
        return _moved(tried, max(_index(steps, MEMORY.name, 1) - 1, 0), take.day)
    misses = place.misses + MISS[take.verdict]
    if place.index > 0 and misses >= FALL_BACK_AT:
        return _moved(tried, place.index - 1, take.day)
    return replace(tried, run=0, run_on="", misses=misses)


def place_of(steps: tuple[Step, ...], takes: Iterable[Try]) -> Place:
    """Where a history of takes, oldest first, has brought a passage."""
    place = START
    for take in takes:
        place = after(place, steps, take)
    return place


def _moved(place: Place, index: int, day: date) -> Place:
    return replace(place, index=index, run=0, run_on="", misses=0, since=day)


def _is_review(place: Place, take: Try) -> bool:
    """Whether a take of the step to play says what was remembered: with pedal, it is practice on the first day."""
    if take.step.name == PEDAL.name:
        return place.since is not None and take.day > place.since
    return take.step.name == MEMORY.name


def _days_enough(place: Place, index: int, take: Try) -> bool:
    """Playing from memory says nothing on the day on which the fingers were still shown."""
    if take.step.days_apart == 0:
        return True
    return index == place.index and place.since is not None and (take.day - place.since).days >= take.step.days_apart


def _index(steps: tuple[Step, ...], name: str, missing: int) -> int:
    return next((place for place, step in enumerate(steps) if step.name == name), missing)
