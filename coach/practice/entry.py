"""One line of the log: a take, what was asked, and what was heard."""

from __future__ import annotations

import re
import uuid
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import UTC, date, datetime, tzinfo
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from coach.listening.word import WORST_FIRST, Word
from coach.practice import days
from coach.practice.forms import HANDS, must_be_sound
from coach.practice.ladder import Step
from coach.practice.passage import Passage

if TYPE_CHECKING:
    from coach.listening.expected import Hand
    from coach.score.piece import Quarters

FORM = 1
"""Version of the JSON form of an entry; raised when the meaning of a field changes."""

LONGEST_REST = 60.0
"""Seconds without a note, in a take or between two, that still count as practising; a longer pause is one."""


def rested(seconds: float) -> float:
    """How much of a pause counts as practising; none of it before the playing that came before had ended."""
    return min(max(seconds, 0.0), LONGEST_REST)


@dataclass(frozen=True, slots=True)
class Fault:
    """A change of chords that went wrong in a take.

    Attributes:
        onset: Of the chord that the change leads to, in quarter notes from the start of the piece.
        hand: The hand it went wrong in.
        bar: Printed number of that chord's bar.
    """

    onset: Quarters
    hand: Hand
    bar: int

    def to_json(self) -> list[Any]:
        return [str(self.onset), self.hand, self.bar]


@dataclass(frozen=True, slots=True)
class Part:
    """How one phrase went in a take of a longer passage.

    Attributes:
        onset: Of the phrase.
        end: Of the phrase.
        verdict: What was heard of it.
    """

    onset: Quarters
    end: Quarters
    verdict: Word

    def to_json(self) -> list[Any]:
        return [str(self.onset), str(self.end), self.verdict]


@dataclass(frozen=True, slots=True)
class Entry:
    """A take as the log keeps it.

    Attributes:
        uid: Unique among all logs, so that logs can be merged.
        at: When the take began, in UTC.
        day: The day of practice it belongs to, where the player was.
        passage: What was played.
        title: Of the piece.
        step: What was asked: hand, clock, tempo, fingers shown.
        chosen: The player chose the step instead of the ladder.
        verdict: What was heard.
        seconds: How long the take lasted.
        target_bpm: Tempo the passage is meant for, in quarter notes a minute; None where none is known.
        quarter_bpm: Tempo reached; None without a clock or where nothing could be measured.
        faults: Changes of chords that went wrong.
        parts: In a take of several phrases, how each of them went; empty else.
        reached: Onset of the last chord that was played; None when the take went to the end.
        measures: What the listener measured, as JSON.
        midi: Name of the take's file in the folder of takes, "" where there is none.
        plan: Mark of the plan it was played from, "" where unknown.
        source: Where the piece came from, as the player would name it.
    """

    uid: str
    at: datetime
    day: date
    passage: Passage
    title: str
    step: Step
    verdict: Word
    seconds: float
    chosen: bool = False
    target_bpm: float | None = None
    quarter_bpm: float | None = None
    faults: tuple[Fault, ...] = ()
    parts: tuple[Part, ...] = ()
    reached: Quarters | None = None
    measures: Mapping[str, Any] = field(default_factory=dict)
    midi: str = ""
    plan: str = ""
    source: str = ""

    @property
    def tempo_share(self) -> float:
        """Share of the target tempo that was reached; what was asked where nothing was measured, 0 without a clock."""
        if self.step.clock == "none":
            return 0.0
        if self.quarter_bpm and self.target_bpm:
            return self.quarter_bpm / self.target_bpm
        return self.step.tempo_fraction

    def to_json(self) -> dict[str, Any]:
        """The form of `coach log --json` and of the text in a take's file; `from_json` gives back an equal entry."""
        return {
            "form": FORM,
            "uid": self.uid,
            "at": days.written(self.at),
            "day": self.day.isoformat(),
            "title": self.title,
            "source": self.source,
            "passage": self.passage.to_json(),
            "step": asdict(self.step),
            "chosen": self.chosen,
            "verdict": self.verdict,
            "seconds": self.seconds,
            "target_bpm": self.target_bpm,
            "quarter_bpm": self.quarter_bpm,
            "faults": [fault.to_json() for fault in self.faults],
            "parts": [part.to_json() for part in self.parts],
            "reached": None if self.reached is None else str(self.reached),
            "measures": dict(self.measures),
            "midi": self.midi,
            "plan": self.plan,
        }

    @classmethod
    def from_json(cls, form: Mapping[str, Any]) -> Entry:
        """Read what `to_json` writes.

        Raises:
            DAMAGED (see `errors`): of another version, or damaged.
        """
        must_be_sound(form)
        if form["form"] != FORM:
            raise ValueError(f"form {form['form']} of an entry, not {FORM}")
        if form["verdict"] not in WORST_FIRST:
            raise ValueError(f"no verdict: {form['verdict']!r}")
        if not isinstance(form["uid"], str) or not re.fullmatch(r"[0-9a-f]{32}", form["uid"]):
            raise ValueError("an entry without its number")
        return cls(
            uid=form["uid"],
            at=days.read(form["at"]),
            day=date.fromisoformat(form["day"]),
            passage=Passage.from_json(form["passage"]),
            title=str(form["title"]),
            step=step_from(form["step"]),
            verdict=form["verdict"],
            seconds=_number(form["seconds"]) or 0.0,
            chosen=bool(form["chosen"]),
            target_bpm=_number(form["target_bpm"]),
            quarter_bpm=_number(form["quarter_bpm"]),
            faults=faults_from(form["faults"]),
            parts=parts_from(form["parts"]),
            reached=None if form["reached"] is None else Fraction(form["reached"]),
            measures=dict(form["measures"]),
            midi=str(form["midi"]),
            plan=str(form["plan"]),
            source=str(form["source"]),
        )


def new_entry(
    passage: Passage,
    title: str,
    step: Step,
    verdict: Word,
    *,
    began: datetime,
    seconds: float,
    zone: tzinfo | None = None,
    **more: Any,
) -> Entry:
    """An entry for a take that has just ended.

    Args:
        began: When its first key went down, with a time zone.
        seconds: How long it lasted.
        zone: Where the player is; None for this computer's zone.
        more: The other attributes of `Entry`.
    """
    day = days.practice_day(began, zone)
    return Entry(uuid.uuid4().hex, began.astimezone(UTC), day, passage, title, step, verdict, seconds, **more)


def step_from(form: Mapping[str, Any]) -> Step:
    """A step from its JSON form.

    Raises:
        ValueError, TypeError: not a step.
    """
    step = Step(**form)
    switches = (step.plain, step.pedal, step.seam)
    if not isinstance(step.name, str) or not all(isinstance(switch, bool) for switch in switches):
        raise ValueError(f"no step: {form!r}")
    if step.voices not in ("all", "outer") or not isinstance(step.days_apart, int):
        raise ValueError(f"no step: {form!r}")
    if step.hand not in HANDS or step.clock not in ("none", "tempo"):
        raise ValueError(f"no step: {form!r}")
    if step.fingers not in ("all", "changes", "none") or not 0 < step.tempo_fraction <= 10:
        raise ValueError(f"no step: {form!r}")
    return step


def faults_from(form: Any) -> tuple[Fault, ...]:
    """Faults from their JSON form.

    Raises:
        ValueError, TypeError: not faults.
    """
    if any(hand not in HANDS for _, hand, _ in form):
        raise ValueError(f"no hand among {form!r}")
    return tuple(Fault(Fraction(onset), hand, int(bar)) for onset, hand, bar in form)


def parts_from(form: Any) -> tuple[Part, ...]:
    """Parts from their JSON form.

    Raises:
        ValueError, TypeError: not parts.
    """
    if any(word not in WORST_FIRST for _, _, word in form):
        raise ValueError(f"no verdict among {form!r}")
    return tuple(Part(Fraction(onset), Fraction(end), word) for onset, end, word in form)


def _number(value: Any) -> float | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float) or value < 0:
        raise ValueError(f"no number of seconds or beats: {value!r}")
    return float(value)
