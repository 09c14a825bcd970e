"""How the keys were touched: lifts and joins, holds, smears, chords together. Releases decide, not sound.

Measures follow the field: key overlap time and key detached time (Repp, Music Perception 12 and 13, 1994/95; Bresin
and Battel, Journal of New Music Research 29, 2000), spread of a chord's onsets (Goebl, JASA 110, 2001).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from statistics import median

from coach.fingering.plan import After, Side
from coach.listening.events import PEDAL_DOWN
from coach.listening.expected import Expected, ExpectedNote
from coach.listening.ledger import Visit
from coach.listening.matching import Match
from coach.listening.thresholds import HOLD_SHARE, HOLD_SLACK, LIFT_SEEN, ROLLED, SMEAR, SMEAR_SHARE


@dataclass(frozen=True, slots=True)
class Lift:
    """How one hand left one chord.

    Attributes:
        chord: Number of the chord it left.
        next: Number of the chord it went to, None where the hand has no further one.
        hand: Which hand.
        after: What was planned.
        seen: Whether all its keys were up before it struck again, those left aside that a planned lift holds on; None
            where that was not heard.
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


def lifts(match: Match, within: range | None = None) -> tuple[Lift, ...]:
    """How each hand left each of its chords, in order of chords.

    Args:
        match: The take as matched.
        within: Only the chords of these numbers.
    """
    expected = match.expected
    numbers = range(len(expected.chords)) if within is None else within
    return tuple(
        _lift(match, hand, chord)
        for chord in numbers
        for hand in expected.hands
        if hand in expected.chords[chord].leaving
    )


def _lift(match: Match, hand: Side, chord: int) -> Lift:
    expected = match.expected
    leaving = expected.chords[chord].leaving[hand]
    after, following = leaving.after, leaving.following
    nothing = Lift(chord, following, hand, after, None, None, None, False)
    before = match.last_visits.get(chord)
    if before is None:
        return nothing
    sounding = [note for note in expected.sounding(chord) if note.hand == hand and note.number in match.played]
    if leaving.planned_lift and following is not None:
        # A hand may lift the top over a note that it holds on.
        sounding = [note for note in sounding if note.last < following]
    up = [end for note in sounding if (end := _release(match, note)) is not None]
    if not up:
        return nothing
    if following is None:
        return nothing if max(up) == float("inf") else Lift(chord, None, hand, after, True, None, None, False)
    visit = match.last_visits.get(following)
    if visit is None or visit.run != before.run:
        return nothing
    new = [(expected.notes[note], press) for note, press in visit.played if expected.notes[note].hand == hand]
    if not new:
        return nothing
    struck = min(match.strokes[press].press for _, press in new)
    gap: float | None = struck - max(up)
    seen = struck - max(up) >= LIFT_SEEN
    joined = None
    if after == "join":
        outer = _outer_gap(match, hand, sounding, new, following)
        if outer is not None:
            joined = outer < LIFT_SEEN
            gap = outer
    # A key that has not come up yet has no overlap to report.
    if gap == float("-inf"):
        gap = None
    pedal = gap is not None and gap > 0 and _pedal_throughout(match, struck - gap, struck)
    return Lift(chord, following, hand, after, seen, gap, joined, pedal)


def _outer_gap(
    match: Match, hand: Side, sounding: list[ExpectedNote], new: list[tuple[ExpectedNote, int]], following: int
) -> float | None:
    """Seconds from the release of the hand's outer voice to its next press; None while that voice holds."""
    outer = max if hand == "right" else min
    voice = outer(sounding, key=lambda note: note.midi)
    _, press = outer(new, key=lambda entry: entry[0].midi)
    end = _release(match, voice)
    # A held outer voice connects whatever moves below it.
    if voice.last >= following or end is None:
        return None
    return match.strokes[press].press - end


def _release(match: Match, note: ExpectedNote) -> float | None:
    """When the key of a note came up; another voice may have struck it again while the note was held."""
    expected = match.expected
    again = [
        other.number
        for chord in range(note.chord + 1, note.last + 1)
        for other in expected.struck(chord)
        if other.midi == note.midi
    ]
    ends = [end for number in (note.number, *again) if (end := match.release(number)) is not None]
    return max(ends, default=None)


def _pedal_throughout(match: Match, start: float, end: float) -> bool:
    value = 0
    for seconds, position in match.pedal:
        if seconds > end:
            break
        if seconds > start and min(value, position) < PEDAL_DOWN:
            return False
        value = position
    return value >= PEDAL_DOWN


def holds(match: Match, within: range | None = None) -> tuple[Hold, ...]:
    """Every played note that others move under, and whether it was kept; in order of notes.

    Args:
        match: The take as matched.
        within: Only notes struck in the chords of these numbers.
    """
    expected = match.expected
    numbers = range(len(expected.chords)) if within is None else within
    found = (_hold(match, note) for chord in numbers for note in expected.struck(chord) if note.last > chord)
    return tuple(hold for hold in found if hold is not None)


def _hold(match: Match, note: ExpectedNote) -> Hold | None:
    press, end = match.played.get(note.number), match.release(note.number)
    start = match.last_visits.get(note.chord)
    last = _struck_again(match.expected, note)
    under = match.last_visits.get(last)
    if press is None or end is None or start is None or under is None or last == note.chord:
        return None
    if under.run != start.run or (note.number, press) not in start.played:
        return None
    leaving = _leaving(match, last, under)
    until = under.seconds
    if leaving is not None:
        # Where the player waits for the next chord, the note has sounded its time out before.
        chords = match.expected.chords
        quarter = (under.seconds - start.seconds) / (chords[last].onset - note.onset)
        until = min(leaving, under.seconds + quarter * chords[last].duration)
    leaving_hand = match.expected.leaving(note)
    share = 0.0 if leaving_hand is None or leaving_hand.after in ("lift", "end") else HOLD_SHARE
    needed = under.seconds + share * (until - under.seconds)
    return Hold(note.number, end >= needed - HOLD_SLACK, max(0.0, until - end))


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


def smears(match: Match, within: range | None = None) -> tuple[Smear, ...]:
    """Notes that stayed down into the next chord, in order of notes.

    Args:
        match: The take as matched.
        within: Only notes struck in the chords of these numbers.
    """
    expected = match.expected
    numbers = range(len(expected.chords)) if within is None else within
    found = (_smear(match, note) for chord in numbers for note in expected.struck(chord))
    return tuple(smear for smear in found if smear is not None)


def _smear(match: Match, note: ExpectedNote) -> Smear | None:
    end = match.release(note.number)
    into = note.last + 1
    start, visit = match.last_visits.get(note.last), match.last_visits.get(into)
    if end is None or start is None or visit is None or visit.run != start.run:
        return None
    if any(other.midi == note.midi for other in match.expected.sounding(into)):
        return None
    following = _leaving(match, into, visit)
    # Without a next chord to measure by, only a key that is plainly forgotten counts.
    allowed = 3 * SMEAR if following is None else max(SMEAR, SMEAR_SHARE * (following - visit.seconds))
    over = min(end, max(match.end, visit.seconds)) - visit.seconds
    return Smear(note.number, into, over) if over > allowed else None


def together(match: Match, within: range | None = None) -> tuple[Together, ...]:
    """How each played chord was struck, in order of chords.

    Args:
        match: The take as matched.
        within: Only the chords of these numbers.
    """
    numbers = range(len(match.expected.chords)) if within is None else within
    return tuple(_together(match, match.last_visits[chord]) for chord in numbers if chord in match.last_visits)


def _together(match: Match, visit: Visit) -> Together:
    times = sorted((match.strokes[press].press, note) for note, press in visit.played)
    several = len(times) > 1
    return Together(
        visit.chord,
        times[-1][0] - times[0][0],
        times[0][1] if several else None,
        times[-1][1] if several else None,
        any(match.expected.notes[note].rolled for _, note in times),
    )


def was_rolled(match: Match, visit: Visit) -> bool:
    """Whether the notes of a chord came one after the other from one side, three of them at least, at about even
    distances."""
    times = sorted((match.expected.notes[note].midi, match.strokes[press].press) for note, press in visit.played)
    gaps = [after - before for (_, before), (_, after) in pairwise(times)]
    if len(gaps) < 2 or not (min(gaps) > 0 or max(gaps) < 0):
        return False
    return max(map(abs, gaps)) <= ROLLED * abs(sum(gaps))


def hands_apart(match: Match, within: range | None = None) -> float | None:
    """Seconds that the left hand was ahead of the right one, in the middle of the chords that both struck.

    Args:
        match: The take as matched.
        within: Only the chords of these numbers.

    Returns:
        Negative where the right hand was ahead; None where no chord tells.
    """
    numbers = range(len(match.expected.chords)) if within is None else within
    ahead = []
    for chord in numbers:
        visit = match.last_visits.get(chord)
        times: dict[Side, list[float]] = {"right": [], "left": []}
        for note, press in visit.played if visit else ():
            hand = match.expected.notes[note].hand
            if hand is not None and not match.expected.notes[note].rolled:
                times[hand].append(match.strokes[press].press)
        if times["right"] and times["left"]:
            ahead.append(median(times["right"]) - median(times["left"]))
    return median(ahead) if ahead else None
