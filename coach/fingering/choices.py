"""What a player chooses for a piece: a finger, a distribution, a lift or a join; kept as values that can be undone.

A choice is honoured exactly or refused with the reason, never bent, and everything else is planned around it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any, Literal

from coach.fingering.plan import Side
from coach.score.piece import Note, Piece, Quarters

Source = Literal["player", "printed"]
"""Who chose: the player, or the page."""

MOST_STEPS = 200
"""Changes that can be taken back, which bounds what is kept with a piece."""


@dataclass(frozen=True, slots=True)
class FixedFinger:
    """A finger for one note.

    Attributes:
        onset: Where the note starts.
        voice: Its voice.
        key: Its written key, MIDI number (a voice may divide).
        finger: 1 (thumb) to 5.
        source: Who chose it.
    """

    onset: Quarters
    voice: str
    key: int
    finger: int
    source: Source = "player"

    @property
    def what(self) -> What:
        return "finger", self.onset, self.voice, self.key


@dataclass(frozen=True, slots=True)
class FixedSharing:
    """A distribution of one chord.

    Attributes:
        onset: Where the chord starts.
        right, left: Notes in each hand.
    """

    onset: Quarters
    right: int
    left: int

    @property
    def what(self) -> What:
        return "sharing", self.onset, "", 0

    @property
    def distribution(self) -> str:
        return f"{self.right}+{self.left}"


@dataclass(frozen=True, slots=True)
class FixedLeaving:
    """How one hand leaves one chord.

    Attributes:
        onset: Where the chord starts.
        side: The hand.
        after: Whether it lifts, or stays on the keys (striking the same outer key again is staying).
    """

    onset: Quarters
    side: Side
    after: Literal["lift", "join"]

    @property
    def what(self) -> What:
        return "leaving", self.onset, self.side, 0


Fix = FixedFinger | FixedSharing | FixedLeaving
"""One choice."""

What = tuple[Literal["finger", "sharing", "leaving"], Quarters, str, int]
"""What a choice decides: its kind, where, of which voice or hand, and of which key. Only one choice can decide it."""


@dataclass(frozen=True, slots=True)
class Choices:
    """The player's choices for one piece, with what can be taken back.

    Attributes:
        fixes: The choices that hold, the earliest first.
        past: What held before each change, the latest last.
        future: What was taken back, the latest last.
    """

    fixes: tuple[Fix, ...] = ()
    past: tuple[tuple[Fix, ...], ...] = ()
    future: tuple[tuple[Fix, ...], ...] = ()

    def fixed(self, fix: Fix) -> Choices:
        """One choice more, in the place of an earlier one that decided the same."""
        return self.changed((*(one for one in self.fixes if one.what != fix.what), fix))

    def freed(self, what: What) -> Choices:
        """Without the choice that decides something."""
        return self.changed(tuple(one for one in self.fixes if one.what != what))

    def cleared(self) -> Choices:
        """Without any."""
        return self.changed(())

    def changed(self, fixes: tuple[Fix, ...]) -> Choices:
        """Other choices, as one change that can be taken back."""
        if fixes == self.fixes:
            return self
        return Choices(fixes, (*self.past, self.fixes)[-MOST_STEPS:])

    def undone(self) -> Choices:
        """As before the last change; the same where there is none."""
        if not self.past:
            return self
        return Choices(self.past[-1], self.past[:-1], (*self.future, self.fixes))

    def redone(self) -> Choices:
        """As before the last change was taken back; the same where none was."""
        if not self.future:
            return self
        return Choices(self.future[-1], (*self.past, self.fixes), self.future[:-1])


def printed(piece: Piece) -> tuple[FixedFinger, ...]:
    """The fingers that the source prints, in the order of its notes."""
    return tuple(
        FixedFinger(note.onset, note.voice, note.midi, note.finger, "printed")
        for note in piece.notes
        if note.finger is not None
    )


def together(own: Iterable[Fix], on_the_page: Iterable[Fix]) -> tuple[Fix, ...]:
    """The player's choices, then what the page prints where the player has not chosen otherwise."""
    mine = tuple(own)
    decided = {fix.what for fix in mine}
    return (*mine, *(fix for fix in on_the_page if fix.what not in decided))


def that_apply(fixes: Iterable[Fix], piece: Piece) -> tuple[Fix, ...]:
    """The choices that mean something in a piece of which only some notes are played: some voices, plain chords.

    A finger stays with its note; a distribution, a lift or a join was chosen for all that sounds and is left out.
    """
    there = {(note.onset, note.voice, note.midi) for note in piece.notes}
    return tuple(fix for fix in fixes if isinstance(fix, FixedFinger) and (fix.onset, fix.voice, fix.key) in there)


def still_there(fixes: Iterable[Fix], piece: Piece) -> tuple[Fix, ...]:
    """The choices whose notes, or whose chords, a corrected piece still has."""
    notes = {(note.onset, note.voice, note.midi) for note in piece.notes}
    onsets = {note.onset for note in piece.notes}
    return tuple(
        fix
        for fix in fixes
        if ((fix.onset, fix.voice, fix.key) in notes if isinstance(fix, FixedFinger) else fix.onset in onsets)
    )


def as_named_in(fixes: Iterable[Fix], piece: Piece) -> tuple[Fix, ...]:
    """The same choices, a finger with the voice that its note has in this edition of the piece: another edition of the
    same notes may call its voices otherwise."""
    voices: dict[tuple[Quarters, int], list[str]] = {}
    for note in piece.notes:
        voices.setdefault((note.onset, note.midi), []).append(note.voice)

    def named(fix: Fix) -> Fix:
        if not isinstance(fix, FixedFinger):
            return fix
        here = voices.get((fix.onset, fix.key), [fix.voice])
        return fix if fix.voice in here else replace(fix, voice=here[0])

    return tuple(map(named, fixes))


def to_json(fix: Fix) -> list[Any]:
    """A choice as JSON: its kind, its onset, then what is chosen."""
    if isinstance(fix, FixedFinger):
        return ["finger", str(fix.onset), fix.voice, fix.key, fix.finger, fix.source]
    if isinstance(fix, FixedSharing):
        return ["sharing", str(fix.onset), fix.right, fix.left]
    return ["leaving", str(fix.onset), fix.side, fix.after]


def from_json(form: Sequence[Any]) -> Fix:
    """Read what `to_json` writes.

    Raises:
        KeyError, TypeError, ValueError, ZeroDivisionError: damaged.
    """
    kind, onset, *rest = form
    match kind, rest:
        case "finger", [str() as voice, int() as key, 1 | 2 | 3 | 4 | 5 as finger, "player" | "printed" as source]:
            return FixedFinger(Fraction(onset), voice, key, finger, source)
        case "sharing", [int() as right, int() as left]:
            return FixedSharing(Fraction(onset), right, left)
        case "leaving", ["right" | "left" as side, "lift" | "join" as after]:
            return FixedLeaving(Fraction(onset), side, after)
    raise ValueError(f"no choice: {form!r}")


def of_note(note: Note, finger: int) -> FixedFinger:
    """The player's finger for a note."""
    return FixedFinger(note.onset, note.voice, note.midi, finger)


def moved(wish: Fix | What, by: Quarters) -> Fix | What:
    """The same choice, or the same freeing of one, so many quarter notes later."""
    if isinstance(wish, tuple):
        kind, onset, who, key = wish
        return kind, onset + by, who, key
    return replace(wish, onset=wish.onset + by)


def inside(fixes: Sequence[Fix], onset: Quarters, end: Quarters) -> tuple[Fix, ...]:
    """The choices for what starts in a stretch of the piece."""
    return tuple(fix for fix in fixes if onset <= fix.onset < end)
