"""Away from the piano: the fingers of a phrase typed chord by chord ("521"), checked against the plan."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, tzinfo
from typing import TYPE_CHECKING, Any

from coach.errors import CoachError
from coach.practice import days
from coach.practice.forms import HANDS, must_be_sound
from coach.practice.passage import Passage, plan_mark

if TYPE_CHECKING:
    from coach.fingering.plan import PhrasePlan, PlannedChord, Side
    from coach.listening.expected import Hand


@dataclass(frozen=True, slots=True)
class Asked:
    """One chord to be spelled: the fingers that strike it, each hand's from the highest key down.

    Attributes:
        place: Of the chord in the phrase, from 1, as the chord table counts.
        bar: Printed bar number.
        beat: Beat in the bar.
        pitches: What each hand strikes, the right hand first, from the highest key down.
        fingers: With what, in the same order.
    """

    place: int
    bar: int
    beat: float
    pitches: Mapping[Side, tuple[str, ...]]
    fingers: Mapping[Side, str]

    @property
    def answer(self) -> str:
        """As it would be typed: the right hand, then the left, "521 1"."""
        return " ".join(self.fingers.values())


@dataclass(frozen=True, slots=True)
class Answer:
    """What was typed for a chord.

    Attributes:
        place: Of the chord.
        asked: The plan's fingers.
        typed: The player's.
        right: Whether they agree.
    """

    place: int
    asked: str
    typed: str
    right: bool


@dataclass(frozen=True, slots=True)
class Spelling:
    """A phrase being spelled. Immutable: `typed` gives the next state.

    Attributes:
        chords: What is asked, in order.
        answers: What was typed so far.
    """

    chords: tuple[Asked, ...]
    answers: tuple[Answer, ...] = ()

    @property
    def current(self) -> Asked | None:
        """The chord to spell now; None when all are spelled."""
        return self.chords[len(self.answers)] if len(self.answers) < len(self.chords) else None

    @property
    def right(self) -> int:
        """How many chords were spelled as planned."""
        return sum(answer.right for answer in self.answers)

    def typed(self, text: str) -> Spelling:
        """The state after one chord was typed.

        Each hand's fingers may be typed from the top down or from the bottom up; a space between the hands is not
        needed.

        Raises:
            CoachError: the phrase is spelled to its end, or the text is no row of fingers for this chord.
        """
        asked = self.current
        if asked is None:
            raise CoachError("all chords of this phrase are spelled")
        given = _by_hand(text, asked)
        right = all(given[side] in (fingers, fingers[::-1]) for side, fingers in asked.fingers.items())
        answer = Answer(asked.place, asked.answer, " ".join(given.values()), right)
        return replace(self, answers=(*self.answers, answer))


def spelling_of(plan: PhrasePlan, hand: Hand = "both") -> Spelling:
    """A phrase to be spelled, by one hand or both: every chord in which something is struck.

    Raises:
        CoachError: the hand strikes nothing in this phrase.
    """
    from coach.fingering.plan import SIDES

    sides = SIDES if hand == "both" else (hand,)
    chords = tuple(
        asked for place, chord in enumerate(plan.chords, 1) if (asked := _asked(place, chord, sides)) is not None
    )
    if not chords:
        raise CoachError(f"the {hand} hand has nothing to strike in this phrase")
    return Spelling(chords)


def _asked(place: int, chord: PlannedChord, sides: tuple[Side, ...]) -> Asked | None:
    pitches: dict[Side, tuple[str, ...]] = {}
    fingers: dict[Side, str] = {}
    for side in sides:
        # Two voices on one key are one finger.
        struck = {note.midi: note for note in chord.notes if note.struck and note.hand == side and note.finger}
        if struck:
            down = [struck[key] for key in sorted(struck, reverse=True)]
            pitches[side] = tuple(note.pitch for note in down)
            fingers[side] = "".join(str(note.finger) for note in down)
    return Asked(place, chord.bar, chord.beat, pitches, fingers) if fingers else None


def _by_hand(text: str, asked: Asked) -> dict[Side, str]:
    """What was typed for each hand."""
    digits = [sign for sign in text if not sign.isspace() and sign not in "-,+|"]
    wanted = {side: len(fingers) for side, fingers in asked.fingers.items()}
    total = sum(wanted.values())
    if any(sign not in "12345" for sign in digits):
        raise CoachError(f'"{text.strip()}" is no row of fingers: type digits from 1 (thumb) to 5 (little finger)')
    if len(digits) != total:
        each = " and ".join(f"{count} of the {side} hand" for side, count in wanted.items())
        raise CoachError(f"this chord takes {total} finger{'s' if total > 1 else ''}: {each}")
    given: dict[Side, str] = {}
    for side, count in wanted.items():
        given[side], digits = "".join(digits[:count]), digits[count:]
    return given


@dataclass(frozen=True, slots=True)
class Spelled:
    """A phrase that was spelled, as the log keeps it, apart from what was played.

    Attributes:
        uid: Unique among all logs.
        at: When, in UTC.
        day: The day of practice.
        passage: Which phrase.
        title: Of its piece.
        hand: Which hand was spelled.
        plan: Mark of the plan.
        answers: Chord by chord.
        source: Where the piece came from.
    """

    uid: str
    at: datetime
    day: date
    passage: Passage
    title: str
    hand: Hand
    plan: str
    answers: tuple[Answer, ...]
    source: str = ""

    @property
    def right(self) -> int:
        """How many chords were spelled as planned."""
        return sum(answer.right for answer in self.answers)

    def to_json(self) -> dict[str, Any]:
        """The form of `coach log --json`."""
        return {
            "uid": self.uid,
            "at": days.written(self.at),
            "day": self.day.isoformat(),
            "title": self.title,
            "source": self.source,
            "passage": self.passage.to_json(),
            "hand": self.hand,
            "plan": self.plan,
            "answers": [[one.place, one.asked, one.typed, one.right] for one in self.answers],
        }

    @classmethod
    def from_json(cls, form: Mapping[str, Any]) -> Spelled:
        """Read what `to_json` writes.

        Raises:
            DAMAGED (see `errors`): damaged.
        """
        must_be_sound(form)
        if form["hand"] not in HANDS:
            raise ValueError(f"no hand: {form['hand']!r}")
        return cls(
            uid=uuid.UUID(form["uid"]).hex,
            at=days.read(form["at"]),
            day=date.fromisoformat(form["day"]),
            passage=Passage.from_json(form["passage"]),
            title=str(form["title"]),
            hand=form["hand"],
            plan=str(form["plan"]),
            answers=tuple(Answer(int(p), str(a), str(t), bool(r)) for p, a, t, r in form["answers"]),
            source=str(form["source"]),
        )


def spelled(
    spelling: Spelling,
    passage: Passage,
    title: str,
    plan: PhrasePlan,
    *,
    at: datetime,
    hand: Hand = "both",
    source: str = "",
    zone: tzinfo | None = None,
) -> Spelled:
    """A spelling that has come to its end, for the log.

    Args:
        at: When it was done.
        zone: Where the player is; None for this computer's zone.
    """
    day = days.practice_day(at, zone)
    where = (passage, title, hand, plan_mark(plan))
    return Spelled(uuid.uuid4().hex, at.astimezone(UTC), day, *where, spelling.answers, source)
