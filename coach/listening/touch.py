"""How the keys were touched: lifts and joins, holds, smears, chords together. Releases decide, not sound.

Measures follow the field: key overlap time and key detached time (Repp, Music Perception 12 and 13, 1994/95; Bresin
and Battel, Journal of New Music Research 29, 2000), spread of a chord's onsets (Goebl, JASA 110, 2001).
"""

from __future__ import annotations

from dataclasses import dataclass

from coach.fingering.plan import After, Side
from coach.listening.events import PEDAL_DOWN, Stroke
from coach.listening.expected import Expected, ExpectedNote
from coach.listening.matching import Match, Visit

LIFT_SEEN = 0.030
"""Seconds that all keys of a hand must be up for a lift. A legato pair overlaps or touches within some 30 ms (Repp
1995 found mean overlaps from about 0 to 100 ms in legato playing)."""

LAYER = 0.030
"""Seconds within which a second press of a key that is down is the same stroke (two layers, two voices on one key)."""

HOLD_SHARE = 0.25
"""Share of the last chord under a held note that must pass before it may be let go (common practice)."""

SMEAR = 0.150
"""Seconds that a note may stay down into the next chord; legato overlaps stay well below (Repp 1995)."""

SMEAR_SHARE = 0.4
"""Share of the next chord's length that a note may stay down into it (common practice)."""


@dataclass(frozen=True, slots=True)
class Lift:
    """How one hand left one chord.

    Attributes:
        chord: Number of the chord it left.
        next: Number of the chord it went to, None where the hand has no further one.
        hand: Which hand.
        after: What was planned.
        seen: Whether all its keys were up before it struck again; None where that was not heard.
        gap: Seconds from its last key's release to its next press, negative where keys overlapped; None where that
            was not heard. After a join, of the hand's outer voice alone.
        joined: Whether the outer voice connected; None where it was not heard or there is nothing to connect.
        pedal: Whether the pedal was down all through the gap.
    """

    chord: int
    next: int | None
    hand: Side
    after: After
    seen: bool | None
    gap: float | None
    joined: bool | None
    pedal: bool

    @property
    def planned(self) -> bool:
        return self.after in ("lift", "end")


@dataclass(frozen=True, slots=True)
class Hold:
    """One note to be held while others move.

    Attributes:
        note: Number of the note.
        kept: Whether it stayed down.
        short: Seconds by which it was let go before its time, 0 where it was not.
    """

    note: int
    kept: bool
    short: float


@dataclass(frozen=True, slots=True)
class Smear:
    """One note that stayed down into a chord it does not belong to.

    Attributes:
        note: Number of the note.
        into: Number of the chord.
        over: Seconds that both sounded.
    """

    note: int
    into: int
    over: float


@dataclass(frozen=True, slots=True)
class Together:
    """How a chord was struck.

    Attributes:
        chord: Number of the chord.
        spread: Seconds from its first note to its last.
        first: The note that led, None for a chord of one note.
        last: The note that lagged, None for a chord of one note.
        rolled: Whether the plan rolls it.
    """

    chord: int
    spread: float
    first: int | None
    last: int | None
    rolled: bool


def released(match: Match, press: int) -> float | None:
    """When a key came up; presses of a key that is just down already count as one stroke."""
    stroke = match.strokes[press]
    following: dict[int, Stroke] = _following(match)
    while stroke.index in following:
        stroke = following[stroke.index]
    return stroke.release


def _following(match: Match) -> dict[int, Stroke]:
    last: dict[int, Stroke] = {}
    following = {}
    for stroke in match.strokes:
        before = last.get(stroke.key)
        if before is not None and before.release == stroke.press and stroke.press - before.press <= LAYER:
            following[before.index] = stroke
        last[stroke.key] = stroke
    return following


class Ends:
    """When the key of each note came up."""

    def __init__(self, match: Match) -> None:
        self._match = match
        self._following = _following(match)

    def of(self, note: int) -> float | None:
        """Seconds; infinity for a key that never came up, None for a note not played."""
        press = self._match.played.get(note)
        if press is None:
            return None
        stroke = self._match.strokes[press]
        while stroke.index in self._following:
            stroke = self._following[stroke.index]
        return float("inf") if stroke.release is None else stroke.release


def lifts(match: Match) -> tuple[Lift, ...]:
    """How each hand left each of its chords, in order of chords."""
    expected, ends = match.expected, Ends(match)
    found = []
    for hand in expected.hands:
        mine = [chord for chord in expected.chords if chord.parts.get(hand) and _strikes(expected, chord.number, hand)]
        for place, chord in enumerate(mine):
            after = chord.parts[hand].after
            following = mine[place + 1].number if place + 1 < len(mine) else None
            found.append(_lift(match, ends, hand, chord.number, following, after))
    found.sort(key=lambda lift: lift.chord)
    return tuple(found)


def _strikes(expected: Expected, chord: int, hand: Side) -> tuple[ExpectedNote, ...]:
    return tuple(note for note in expected.struck(chord) if note.hand == hand)


def _lift(match: Match, ends: Ends, hand: Side, chord: int, following: int | None, after: After) -> Lift:
    expected = match.expected
    before = match.last_visits.get(chord)
    nothing = Lift(chord, following, hand, after, None, None, None, False)
    if before is None:
        return nothing
    sounding = [
        expected.notes[number]
        for number in (*expected.chords[chord].struck, *expected.chords[chord].held)
        if expected.notes[number].hand == hand and number in match.played
    ]
    if following is None:
        if any(ends.of(note.number) in (None, float("inf")) for note in sounding):
            return nothing
        return Lift(chord, None, hand, after, True, None, None, False)
    visit = match.last_visits.get(following)
    if visit is None or visit.run != before.run:
        return nothing
    presses = [match.strokes[press].press for note, press in visit.played if expected.notes[note].hand == hand]
    leaving = [ends.of(note.number) for note in sounding]
    up = [end for end in leaving if end is not None]
    if not presses or not up:
        return nothing
    struck = min(presses)
    gap = struck - max(up)
    seen = gap >= LIFT_SEEN
    joined = None
    if after == "join":
        outer = _outer_gap(match, ends, hand, sounding, visit)
        if outer is not None:
            joined = outer < LIFT_SEEN
            gap = outer
    pedal = gap > 0 and _pedal_throughout(match, struck - gap, struck)
    return Lift(chord, following, hand, after, seen, gap if gap > float("-inf") else None, joined, pedal)


def _outer_gap(match: Match, ends: Ends, hand: Side, sounding: list[ExpectedNote], visit: Visit) -> float | None:
    """Seconds from the release of the hand's outer voice to its next press; None while that voice holds."""
    expected = match.expected
    outer = max if hand == "right" else min
    new = [(expected.notes[note], press) for note, press in visit.played if expected.notes[note].hand == hand]
    voice = outer(sounding, key=lambda note: note.midi)
    note, press = outer(new, key=lambda entry: entry[0].midi)
    end = ends.of(voice.number)
    # A held outer voice connects whatever moves below it.
    if voice.last >= visit.chord or end is None:
        return None
    del note
    return match.strokes[press].press - end


def _pedal_throughout(match: Match, start: float, end: float) -> bool:
    value = 0
    for seconds, position in match.pedal:
        if seconds > end:
            break
        if seconds > start and min(value, position) < PEDAL_DOWN:
            return False
        value = position
    return value >= PEDAL_DOWN


def holds(match: Match) -> tuple[Hold, ...]:
    """Every played note that others move under, and whether it was kept."""
    expected, ends = match.expected, Ends(match)
    found = []
    for note in expected.notes:
        press = match.played.get(note.number)
        end = ends.of(note.number)
        if note.last == note.chord or press is None or end is None:
            continue
        start = _visit_of_press(match, note.chord, press)
        last = _struck_again(expected, note)
        under = match.last_visits.get(last)
        if under is None or start is None or under.run != start.run or last == note.chord:
            continue
        leaving = _leaving(match, last, under)
        until = leaving if leaving is not None else under.seconds
        needed = under.seconds + HOLD_SHARE * (until - under.seconds)
        found.append(Hold(note.number, end >= needed, max(0.0, until - end)))
    return tuple(found)


def _visit_of_press(match: Match, chord: int, press: int) -> Visit | None:
    for visit in reversed(match.visits):
        if visit.chord == chord and any(press == played for _, played in visit.played):
            return visit
    return None


def _struck_again(expected: Expected, note: ExpectedNote) -> int:
    """The last chord under a held note before another voice strikes its key."""
    for chord in range(note.chord + 1, note.last + 1):
        if any(other.midi == note.midi for other in expected.struck(chord)):
            return chord - 1
    return note.last


def _leaving(match: Match, chord: int, visit: Visit) -> float | None:
    """When the chord after a visit was struck, None where the player did not go on to it."""
    following = match.last_visits.get(chord + 1)
    return following.seconds if following is not None and following.run == visit.run else None


def smears(match: Match) -> tuple[Smear, ...]:
    """Notes that stayed down into the next chord."""
    expected, ends = match.expected, Ends(match)
    found = []
    for note in expected.notes:
        end = ends.of(note.number)
        into = note.last + 1
        start, visit = match.last_visits.get(note.last), match.last_visits.get(into)
        if end is None or start is None or visit is None or visit.run != start.run:
            continue
        if any(expected.notes[number].midi == note.midi for number in expected.chords[into].struck):
            continue
        over = end - visit.seconds
        following = _leaving(match, into, visit)
        step = following - visit.seconds if following is not None else float("inf")
        allowed = max(SMEAR, SMEAR_SHARE * step) if step < float("inf") else 3 * SMEAR
        if over > allowed:
            found.append(Smear(note.number, into, min(over, max(match.end - visit.seconds, 0.0))))
    return tuple(found)


def together(match: Match) -> tuple[Together, ...]:
    """How each played chord was struck, in order of chords."""
    found = []
    for chord, visit in sorted(match.last_visits.items()):
        times = sorted((match.strokes[press].press, note) for note, press in visit.played)
        several = len(times) > 1
        rolled = any(match.expected.notes[note].rolled for _, note in times)
        found.append(
            Together(
                chord,
                times[-1][0] - times[0][0],
                times[0][1] if several else None,
                times[-1][1] if several else None,
                rolled,
            )
        )
    return tuple(found)
