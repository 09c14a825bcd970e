"""How the notes of a chord can be dealt out to two hands, ways out included."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from types import MappingProxyType
from typing import Literal, NamedTuple

from coach.fingering.as_written import Written
from coach.fingering.counts import NOTHING
from coach.fingering.handful import RESTING, Grip, Handful, hand_key
from coach.fingering.keyboard import MIDDLE_C, OCTAVE
from coach.fingering.plan import SIDES, Side
from coach.fingering.weights import Weights
from coach.score.piece import Chord, Note

WayOut = Literal["raise", "roll", "omit", "let go"]
"""What to do with a note that no hand can reach."""

TENTH = 16
"""Semitones of the widest tenth."""

TOO_HIGH = 128 + OCTAVE
"""Above every key, a raised one included."""


@dataclass(frozen=True, slots=True)
class Sounding:
    """A chord as the search wants it: its notes with their times as plain numbers.

    Attributes:
        notes: From high to low.
        struck: Which of them start here.
        since, until: Their onsets and ends in quarter notes.
        lasting: How many quarter notes they last.
        held_over: For each held note, in the order of `notes`, its place in the chord before.
        voices: For each note the place of its voice in the chord before, -1 where the voice had nothing.
    """

    notes: tuple[Note, ...]
    struck: tuple[bool, ...]
    since: tuple[float, ...]
    until: tuple[float, ...]
    lasting: tuple[float, ...]
    held_over: tuple[int, ...]
    voices: tuple[int, ...]


def sounding(chord: Chord, before: Chord | None) -> Sounding:
    """Prepare a chord, and what it shares with the chord before it."""
    notes = chord.notes
    starts_here = {id(note) for note in chord.struck}
    earlier = {id(note): place for place, note in enumerate(before.notes)} if before else {}
    voices = {note.voice: place for place, note in enumerate(before.notes)} if before else {}
    since = tuple([float(note.onset) for note in notes])
    lasting = tuple([float(note.duration) for note in notes])
    return Sounding(
        notes=notes,
        struck=tuple(id(note) in starts_here for note in notes),
        since=since,
        until=tuple([onset + duration for onset, duration in zip(since, lasting, strict=True)]),
        lasting=lasting,
        held_over=tuple(earlier[id(note)] for note in notes if id(note) not in starts_here),
        voices=tuple(voices.get(note.voice, -1) for note in notes),
    )


class Fate(NamedTuple):
    """What has become of a note that sounds on: the hand that holds it (None when it was omitted or let go) and the
    key it was struck on."""

    hand: Side | None
    key: int


_fate, _grip = lru_cache(maxsize=1024)(Fate), lru_cache(maxsize=16384)(Grip)
"""The same come back in chord after chord: one object each."""


class Deal(NamedTuple):
    """One way to deal out the notes of a chord.

    Attributes:
        fates: One for each of the chord's notes, in the order of `Chord.notes`.
        right, left: What each hand has to do.
        ways_out: What took a way out in this chord: a note by its place, or a hand that rolls its notes or lets go of
            all that it holds.
        let_go: How many notes were let go in this chord.
        inherited: The fates of the held notes that the deal goes on from.
    """

    fates: tuple[Fate, ...]
    right: Handful
    left: Handful
    ways_out: tuple[tuple[WayOut, int | Side], ...] = ()
    let_go: int = 0
    inherited: tuple[Fate, ...] = ()

    def handful(self, side: Side) -> Handful:
        return self.right if side == "right" else self.left

    @property
    def distribution(self) -> str:
        """Notes in the right hand + notes in the left."""
        hands = [fate.hand for fate in self.fates]
        return f"{hands.count('right')}+{hands.count('left')}"

    def remembering(self, side: Side, memory: Handful | None) -> Deal:
        """The same deal, a resting hand remembering what it played last."""
        handful = RESTING._replace(memory=memory)
        return self._replace(right=handful) if side == "right" else self._replace(left=handful)


class Part(NamedTuple):
    """One hand's part of a share.

    Attributes:
        grip: Its keys.
        places: For each key the places of the notes on it, in the chord.
    """

    grip: Grip
    places: tuple[tuple[int, ...], ...]

    def handful(self, chord: Sounding) -> Handful:
        """The part with the times of a chord."""
        if not self.places:
            return RESTING
        return Handful(self.grip, self._latest(chord.since), self._latest(chord.until))

    def _latest(self, times: Sequence[float]) -> tuple[float, ...]:
        """For each key the latest of its notes' times; most keys have one note."""
        return tuple(
            [times[these[0]] if len(these) == 1 else max([times[place] for place in these]) for these in self.places]
        )


class Share(NamedTuple):
    """A deal without the times of its chord."""

    fates: tuple[Fate, ...]
    right: Part
    left: Part
    ways_out: tuple[tuple[WayOut, int | Side], ...]
    let_go: int


def deals(
    chord: Sounding,
    inherited: Sequence[Fate],
    ways_out: int = 0,
    written: Written | None = None,
    widest: tuple[int, int] = (127, 127),
) -> Iterator[Deal]:
    """Every way to deal out a chord, neighbours by pitch together, with exactly so many ways out.

    Args:
        chord: The chord.
        inherited: The fate of each held note, in their order in the chord.
        ways_out: How many ways out are taken in this chord.
        written: The hands as written, None where the notes are free; the ways out are then to roll and to let go, so
            that every note is played.
        widest: Semitones that the right and the left hand can span at most: wider deals need a roll.
    """
    inherited = tuple(inherited)
    keys = tuple([note.midi for note in chord.notes])
    staves = tuple([written.hand(note) for note in chord.notes]) if written else None
    for share in _shares(keys, chord.struck, inherited, ways_out, staves, widest):
        right, left = share.right.handful(chord), share.left.handful(chord)
        yield Deal(share.fates, right, left, share.ways_out, share.let_go, inherited)


@lru_cache(maxsize=50_000)
def _shares(
    written: tuple[int, ...],
    struck: tuple[bool, ...],
    inherited: tuple[Fate, ...],
    ways_out: int,
    staves: tuple[Side, ...] | None,
    widest: tuple[int, int],
) -> tuple[Share, ...]:
    """The shares behind `deals`, worked out once: hymns have most of their chords in common."""
    remaining = iter(inherited)
    start = tuple(None if here else next(remaining) for here in struck)
    already = sum(fate.hand is None for fate in inherited)
    found = []
    for taken in combinations(_ways_out(written, start, staves is not None), ways_out) if ways_out else [()]:
        altered = _altered(written, start, taken)
        if altered is None:
            continue
        keys, gone = altered
        rolled = {what for way, what in taken if way == "roll"}
        let_go = sum(gone) - already - sum(way == "omit" for way, _ in taken)
        for hands in _splits(keys, gone, start, staves):
            if not all(
                side in rolled or _width(keys, hands, side) <= most for side, most in zip(SIDES, widest, strict=True)
            ):
                continue
            fates = tuple([_fate(hand, key) for hand, key in zip(hands, keys, strict=True)])
            right, left = (_part(struck, fates, side, side in rolled) for side in SIDES)
            # A roll strikes two keys at least.
            if all(sum(part.grip.struck) > 1 for part in (right, left) if part.grip.rolled):
                found.append(Share(fates, right, left, taken, let_go))
    return tuple(found)


def _width(keys: Sequence[int], hands: Sequence[Side | None], side: Side) -> int:
    """Semitones between a hand's outer keys."""
    mine = [key for key, hand in zip(keys, hands, strict=True) if hand == side]
    return max(mine) - min(mine) if mine else 0


def _ways_out(
    written: Sequence[int], start: Sequence[Fate | None], as_written: bool
) -> Iterator[tuple[WayOut, int | Side]]:
    playing = [place for place, fate in enumerate(start) if fate is None or fate.hand is not None]
    held = [place for place in playing if start[place] is not None]
    if not as_written:
        keys = [fate.key if fate else key for key, fate in zip(written, start, strict=True)]
        top, bottom = max(keys[p] for p in playing), min(keys[p] for p in playing)
        inner = [p for p in playing if start[p] is None and bottom < keys[p] < top]
        yield from (("raise", p) for p in inner if keys[p] + OCTAVE < top)
        yield from (("omit", p) for p in inner)
    # The outer voice last: where it is all one, the inner note is let go.
    held.sort(key=lambda place: _from_the_thumb(start[place]))
    yield from (("let go", p) for p in held)
    yield from (("let go", side) for side in SIDES if len(_held_by(side, start)) > 1)
    yield from (("roll", side) for side in SIDES)


def _from_the_thumb(fate: Fate | None) -> int:
    """The key of a held note in its hand's coordinates."""
    return hand_key(fate.hand, fate.key) if fate and fate.hand else 0


def _altered(
    written: Sequence[int], start: Sequence[Fate | None], taken: Sequence[tuple[WayOut, int | Side]]
) -> tuple[list[int], list[bool]] | None:
    """Keys to play and notes to leave out; None where the ways out contradict each other."""
    keys = [fate.key if fate else key for key, fate in zip(written, start, strict=True)]
    gone = [fate is not None and fate.hand is None for fate in start]
    touched: set[int] = set()
    for way, what in taken:
        if way == "roll":
            continue
        places = [what] if isinstance(what, int) else _held_by(what, start)
        if touched & set(places):
            return None
        touched |= set(places)
        for place in places:
            if way == "raise":
                keys[place] += OCTAVE
            else:
                gone[place] = True
    return keys, gone


def _held_by(side: Side, start: Sequence[Fate | None]) -> list[int]:
    return [place for place, fate in enumerate(start) if fate is not None and fate.hand == side]


def _splits(
    keys: Sequence[int], gone: Sequence[bool], start: Sequence[Fate | None], staves: Sequence[Side] | None
) -> Iterator[tuple[Side | None, ...]]:
    """The hand of every note: the right hand takes the keys from some key up, or those of its staff."""
    if staves is not None:
        yield tuple(None if out else hand for hand, out in zip(staves, gone, strict=True))
        return
    playing = sorted({key for key, out in zip(keys, gone, strict=True) if not out})
    held = [(fate.key, fate.hand) for fate, out in zip(start, gone, strict=True) if fate is not None and not out]
    # The right hand's keys start above all that the left hand holds, and not above what it holds itself.
    above = max((key for key, hand in held if hand == "left"), default=-1)
    highest = min((key for key, hand in held if hand == "right"), default=TOO_HIGH)
    for lowest_right in [*playing, TOO_HIGH]:
        if above < lowest_right <= highest:
            yield tuple(
                None if out else "right" if key >= lowest_right else "left" for key, out in zip(keys, gone, strict=True)
            )


def _part(struck: Sequence[bool], fates: Sequence[Fate], side: Side, rolled: bool) -> Part:
    mine: dict[int, list[int]] = {}
    for place, fate in enumerate(fates):
        if fate.hand == side:
            mine.setdefault(hand_key(side, fate.key), []).append(place)
    keys = tuple(sorted(mine))
    places = tuple([tuple(mine[key]) for key in keys])
    here = [[struck[place] for place in these] for these in places]
    grip = _grip(keys, tuple([True in one for one in here]), tuple([False in one for one in here]), rolled)
    return Part(grip, places)


def dealing_terms(deal: Deal, as_written: bool, preference: Sequence[WayOut]) -> Mapping[str, float]:
    """Terms of how one chord is dealt out.

    open_left: The left hand would hold an octave or more: the tenor is the right hand's then.
    close_right: Semitones by which the lowest of three right-hand notes is closer than an octave to the bass: the
        tenor is the left hand's then.
    left_heavy: Notes that the left hand has beyond one more than the right.
    idle_hand: One hand plays all.
    far_side: Semitones that the right hand goes below middle C and the left above it.
    way_out, second_choice, third_choice, let_go: Ways out, by the player's preference.
    wide_roll: Semitones that a rolled hand goes beyond a tenth: a roll opens the hand a little further, it is no run.
        (All common practice, no source.)
    """
    return _dealing_terms(*_dealing(deal), as_written, tuple(preference))


def dealing_effort(deal: Deal, as_written: bool, preference: Sequence[WayOut], weights: Weights) -> float:
    """The effort of how one chord is dealt out."""
    return _dealing_effort(_dealing(deal), as_written, tuple(preference), weights)


Dealing = tuple[tuple[int, ...], tuple[int, ...], tuple[WayOut, ...], int, int]


def _dealing(deal: Deal) -> Dealing:
    """What its terms depend on: the keys of both hands, the ways out, the notes let go, how far rolls go too wide."""
    right, left = deal.right.grip, deal.left.grip
    if not deal.ways_out:
        return right.keys, left.keys, (), deal.let_go, 0
    ways = tuple([way for way, _ in deal.ways_out])
    wide = sum(max(grip.keys[-1] - grip.keys[0] - TENTH, 0) for grip in (right, left) if grip.rolled)
    return right.keys, left.keys, ways, deal.let_go, wide


@lru_cache(maxsize=50_000)
def _dealing_effort(dealing: Dealing, as_written: bool, preference: tuple[WayOut, ...], weights: Weights) -> float:
    terms = _dealing_terms(*dealing, as_written, preference)
    return sum([weights[name] * count for name, count in terms.items()])


@lru_cache(maxsize=50_000)
def _dealing_terms(
    right_keys: tuple[int, ...],
    left_keys: tuple[int, ...],
    ways: tuple[WayOut, ...],
    let_go: int,
    wide: int,
    as_written: bool,
    preference: tuple[WayOut, ...],
) -> Mapping[str, float]:
    counts: dict[str, float] = {}
    for way in ways:
        if way != "let go":
            counts["way_out"] = counts.get("way_out", 0) + 1
            later = preference.index(way)
            if later:
                name = ("second_choice", "third_choice")[later - 1]
                counts[name] = counts.get(name, 0) + 1
    if let_go:
        counts["let_go"] = let_go
    if as_written:
        return counts
    if wide:
        counts["wide_roll"] = wide
    right = [hand_key("right", key) for key in right_keys]
    left = sorted(hand_key("left", key) for key in left_keys)
    if left and left[-1] - left[0] >= OCTAVE:
        counts["open_left"] = 1
    if len(left) == 1 and len(right) >= 3 and right[0] - left[0] < OCTAVE:
        counts["close_right"] = OCTAVE - (right[0] - left[0])
    if len(left) > len(right) + 1:
        counts["left_heavy"] = len(left) - len(right) - 1
    if len(left) + len(right) > 1 and not (left and right):
        counts["idle_hand"] = 1
    counts["far_side"] = float(
        sum(max(MIDDLE_C - key, 0) for key in right) + sum(max(key - MIDDLE_C, 0) for key in left)
    )
    return counts


def changes_hands(before: Deal, chord: Sounding, after: Deal) -> bool:
    """Whether a voice passes from one hand to the other on the way into a chord."""
    for fate, earlier in zip(after.fates, chord.voices, strict=True):
        if earlier >= 0 and fate.hand is not None:
            hand = before.fates[earlier].hand
            if hand is not None and hand != fate.hand:
                return True
    return False


def redealing_terms(before: Deal, chord: Sounding, after: Deal) -> Mapping[str, float]:
    """Terms of a change in how the notes are dealt out.

    redistribution: A voice passes from one hand to the other (common practice, no source).
    handed_over: One hand, which played alone, leaves all to the other: a line is passed from hand to hand for no reason
        that a listener hears (common practice, no source).
    """
    if not changes_hands(before, chord, after):
        return NOTHING
    alone = not (before.left.keys or after.right.keys) or not (before.right.keys or after.left.keys)
    return HANDED_OVER if alone else REDISTRIBUTED


REDISTRIBUTED: Mapping[str, float] = MappingProxyType({"redistribution": 1.0})

HANDED_OVER: Mapping[str, float] = MappingProxyType({"redistribution": 1.0, "handed_over": 1.0})
