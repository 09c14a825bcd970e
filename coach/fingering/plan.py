"""What a plan is: hands, fingers and lifts for every chord of every phrase. Values only; `planner` makes them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, field
from typing import Any, Literal

Side = Literal["right", "left"]
"""Which hand."""

SIDES: tuple[Side, Side] = ("right", "left")

After = Literal["join", "restrike", "lift", "end"]
"""How a hand leaves a chord: its outer voice connects, its outer key is struck again, it leaves the keys, or the
phrase is over (which is a lift too)."""

Name = tuple[str, float, int]
"""What a note is known by from chord to chord: voice, onset and written key (a voice may divide)."""

Pedal = Literal["", "down", "change", "up"]
"""What the foot does with a chord: nothing, down after it is struck, up and down again, or up as it is struck."""


@dataclass(frozen=True, slots=True)
class PlannedNote:
    """One note of one chord; a held note stands in every chord that it sounds through.

    Attributes:
        voice: As in the piece.
        onset: Where the note started, in quarter notes from the start of the piece.
        duration: Its written length in quarter notes.
        pitch: Spelling of what is played: "E5".
        midi: The key to play; differs from `written_midi` only where the coach raised the note.
        written_midi: The key in the score.
        struck: Struck in this chord, or held from an earlier one.
        hand: Which hand plays it; None for an omitted note, or one let go early, from there on.
        finger: 1 (thumb) to 5 (little finger); None where `hand` is.
        why: The reason for its hand, finger or way out, in a pianist's words; "" where there is nothing to say.
        rolled: Struck in turn with the other rolled notes of this chord and hand, lowest first.
        chosen: The finger is the player's or the source's own choice.
    """

    voice: str
    onset: float
    duration: float
    pitch: str
    midi: int
    written_midi: int
    struck: bool
    hand: Side | None
    finger: int | None
    why: str = ""
    rolled: bool = False
    chosen: bool = False

    @property
    def end(self) -> float:
        return self.onset + self.duration

    @property
    def known_by(self) -> Name:
        return self.voice, self.onset, self.written_midi


@dataclass(frozen=True, slots=True)
class HandPart:
    """What one hand does on leaving a chord.

    Attributes:
        after: How it leaves this chord.
        group: Number of the group this chord belongs to, counted from 1 in each hand and phrase.
        why: The reason for the lift or the join, "" where there is nothing to say.
        chosen: The player chose the lift or the join.
    """

    after: After
    group: int
    why: str = ""
    chosen: bool = False


@dataclass(frozen=True, slots=True)
class PlannedChord:
    """One chord with hands and fingers.

    Attributes:
        onset: In quarter notes from the start of the piece.
        duration: To the next chord, or to the end of the phrase.
        bar: Printed bar number.
        beat: Beat in the bar, from 1.
        distribution: Sounding notes in the right hand + in the left hand: "3+1".
        notes: From high to low as written.
        right: How the right hand leaves, None where it has nothing to play here.
        left: The same for the left hand.
        why: The reason for the distribution, "" where there is nothing to say.
        chosen: The player chose the distribution.
        pedal: What the foot does, in a plan with the pedal.
    """

    onset: float
    duration: float
    bar: int
    beat: float
    distribution: str
    notes: tuple[PlannedNote, ...]
    right: HandPart | None
    left: HandPart | None
    why: str = ""
    chosen: bool = False
    pedal: Pedal = ""

    @property
    def end(self) -> float:
        return self.onset + self.duration

    def part(self, side: Side) -> HandPart | None:
        return self.right if side == "right" else self.left

    def played_by(self, side: Side) -> tuple[PlannedNote, ...]:
        """The notes a hand has in this chord, from high to low."""
        return tuple(note for note in self.notes if note.hand == side)


@dataclass(frozen=True, slots=True)
class PhrasePlan:
    """The plan of one phrase.

    Attributes:
        number: Counted from 1.
        bars: First and last bar, printed numbers.
        onset: Start in quarter notes.
        end: Where the next phrase starts.
        why_it_ends: What the boundary rests on.
        effort: The minimum of the effort function over this phrase.
        chords: In order.
        terms: The effort by the name of its terms, those that cost something.
        remarks: Sentences about choices that this phrase cannot honour.
        again: Number of the first phrase that has the same notes, voice by voice; None where it is the first.
    """

    number: int
    bars: tuple[int, int]
    onset: float
    end: float
    why_it_ends: str
    effort: float
    chords: tuple[PlannedChord, ...]
    terms: Mapping[str, float] = field(default_factory=dict, hash=False)
    remarks: tuple[str, ...] = ()
    again: int | None = None


@dataclass(frozen=True, slots=True)
class Plan:
    """The plan of a piece for a pair of hands.

    Attributes:
        title: Of the piece.
        source: Of the piece.
        voices: How many voices the piece has.
        span_mm: Span of the hand planned for (the smaller one where they differ).
        reach: The widest interval it can strike, in words: "ninth".
        reach_mm: The widest distance between key centres that the plan may ask of a hand.
        hands: Both hands in words: "a hand of 208 mm that reaches a ninth".
        phrases: In order.
        remarks: Sentences for the player about reading and planning.
    """

    title: str
    source: str
    voices: int
    span_mm: float
    reach: str
    reach_mm: float
    hands: str
    phrases: tuple[PhrasePlan, ...]
    remarks: tuple[str, ...] = field(default=())

    @property
    def made_for(self) -> str:
        """What it is a plan of, and for whom: "4 voices, for a hand of 208 mm that reaches a ninth"."""
        return f"{self.voices} voice{'s' if self.voices != 1 else ''}, for {self.hands}"

    @property
    def effort(self) -> float:
        return sum(phrase.effort for phrase in self.phrases)

    def chords(self) -> Iterator[PlannedChord]:
        for phrase in self.phrases:
            yield from phrase.chords

    def to_json(self) -> dict[str, Any]:
        """The form that `coach plan --json` prints; it may grow, its fields keep their meaning."""
        return {
            "piece": {"title": self.title, "source": self.source, "voices": self.voices},
            "hand": {"span_mm": self.span_mm, "reach": self.reach, "reach_mm": self.reach_mm},
            "hands": self.hands,
            "effort": round(self.effort, 4),
            "remarks": list(self.remarks),
            "phrases": [asdict(phrase) for phrase in self.phrases],
        }

    @classmethod
    def from_json(cls, form: dict[str, Any]) -> Plan:
        """Read what `to_json` writes."""
        return cls(
            title=form["piece"]["title"],
            source=form["piece"]["source"],
            voices=form["piece"]["voices"],
            span_mm=form["hand"]["span_mm"],
            reach=form["hand"]["reach"],
            reach_mm=form["hand"]["reach_mm"],
            hands=form["hands"],
            phrases=tuple(_phrase(phrase) for phrase in form["phrases"]),
            remarks=tuple(form["remarks"]),
        )


def _phrase(form: dict[str, Any]) -> PhrasePlan:
    return PhrasePlan(
        **{
            **form,
            "bars": tuple(form["bars"]),
            "chords": tuple(_chord(chord) for chord in form["chords"]),
            "remarks": tuple(form.get("remarks", ())),
        }
    )


def _chord(form: dict[str, Any]) -> PlannedChord:
    parts: dict[str, HandPart | None] = {side: HandPart(**form[side]) if form[side] else None for side in SIDES}
    return PlannedChord(**{**form, **parts, "notes": tuple(PlannedNote(**note) for note in form["notes"])})
