"""How a take is best explained: competing accounts of which press is which note, each with its cost.

An account has a front, the furthest chord it has struck since it last went back or ahead. Each press either is a note
of a chord near the front, or belongs to nothing, or (for the account as a whole) is where the player went back,
began again or skipped. Costs are penalties in one arbitrary unit, roughly a negative log-likelihood; the account with
the lowest sum is the one believed. They were set by hand from what a teacher would rather assume.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from math import log

from coach.listening.expected import Expected

EXTRA = 3.0
"""A key that belongs to nothing."""

NEIGHBOUR = 2.2
"""A key beside a note of the chord or of the next one, struck with the chord or in its place."""

BOUNCED = 1.5
"""A key of the chord that is struck again at once."""

RESTRUCK = 2.6
"""A key of the chord, or one held into it, that is struck again later."""

ORNAMENT = 1.0
"""A quick neighbour of a note of the chord: a trill, a mordent, a turn, a slip of the finger."""

AT_ONCE = 0.03
"""Seconds within which presses are one chord rather than an ornament (melody leads: 20 to 30 ms, Goebl 2001)."""

QUICK = 0.16
"""Seconds since the press before within which a neighbour counts as an ornament (common practice)."""

BOUNCE = 0.25
"""Seconds since the chord began within which a key struck again has bounced (common practice)."""

MISSING = (0.0, 2.5, 4.0, 5.0, 5.8, 6.4, 6.9, 7.3, 7.6)
"""Notes of one chord left out: none, one, two ... The more are missing, the less each one says."""

MISSING_MORE = 0.3
"""Each further note left out."""

WAITED_FOR = 2.0
"""At most, a note that came long after its chord while nothing else happened."""

LATE = 3.0
"""A note that came a whole step after its chord, when the next one had begun."""

LATEST = 6.0
"""At most, for such a note."""

TIMING = 2.5
"""At most, a chord that came sooner than the tempo led to expect."""

WAITING = 1.2
"""At most, a chord that came later than expected: players wait for all kinds of reasons."""

SKIP = 6.0
"""At most, going on without whole chords, however many."""

BACK = 4.0
"""Going back a chord or a few."""

ONCE_MORE = 3.0
"""Striking the current chord once more."""

AGAIN = 5.0
"""Beginning a phrase again, or beginning another phrase."""

ELSEWHERE = 7.0
"""Going anywhere else."""

UNPREPARED = 5.0
"""At most, added to these when there was no pause before: who plays on evenly has hardly gone anywhere."""

PAUSE = 0.35
"""Seconds; a silence below half of this is never a pause, however quick the notes (common practice)."""

AT_FIRST = 0.5
"""Share of the cost of a missing note that is charged when the player goes on; the rest follows once the note cannot
be late any more. A hand that is ahead of the other leaves many notes behind for a moment."""

PATIENCE = 0.3
"""Seconds; however quick the notes, a note may come a good part of this after its chord: the hands of a pianist drift
apart, and chords are spread (Goebl 2001 finds spreads to a tenth of a second and more)."""

BEGIN = (0.0, 1.0, 4.0)
"""Where a take begins: at the first chord, at the start of another phrase, anywhere else."""

BEHIND = 6
"""Chords behind the front that a note may still belong to."""

AHEAD = 5
"""Chords ahead of the front that a press may reach."""

STUMBLE = 4
"""Chords that a stumble goes back without being looked for everywhere."""

WIDTH = 14
"""Accounts kept."""

MARGIN = 11.0
"""Accounts dearer than the best one by more than this are given up."""

TOGETHER = 0.08
"""Seconds within which the notes of one chord come without being late (twice the melody lead of Goebl 2001)."""

UNKNOWN_STEP = 0.5
"""Seconds from chord to chord assumed while no tempo is known."""


def missing(count: int) -> float:
    """Cost of leaving out some notes of one chord."""
    last = len(MISSING) - 1
    return MISSING[count] if count <= last else MISSING[last] + MISSING_MORE * (count - last)


@dataclass(slots=True)
class Claim:
    """One press explained as one note, never changed once made; presses without a claim belong to nothing.

    Attributes:
        before: The claim before it, or None for the first.
        press: Index of the press.
        chord: Number of the chord.
        bit: The note's place among the notes struck in that chord.
        jumped: The player went back, began again, skipped or began here.
        depth: How many claims lie before.
    """

    before: Claim | None
    press: int
    chord: int
    bit: int
    jumped: bool
    depth: int


@dataclass(slots=True)
class Account:
    """One account of the take so far; never changed once made.

    Attributes:
        cost: Sum of all penalties.
        front: Number of the furthest chord struck, -1 before the first.
        masks: Which notes were struck, a bit a note, of the front and of the chords before it as far as they belong
            to the same run.
        times: When each of these chords began.
        quarter: Seconds a quarter note; 0 while unknown.
        claim: The last press explained.
        standing: The cost by which accounts are compared: what the front still lacks although its time is nearly up
            will have to be paid for.
    """

    cost: float
    front: int
    masks: tuple[int, ...]
    times: tuple[float, ...]
    quarter: float
    claim: Claim | None
    standing: float


class Music:
    """The expected chords, laid out for quick looking-up."""

    def __init__(self, expected: Expected) -> None:
        self.onsets = [chord.onset for chord in expected.chords]
        self.steps = [after - before for before, after in zip(self.onsets, self.onsets[1:], strict=False)]
        if self.onsets:
            self.steps.append(max(expected.chords[-1].duration, 1e-3))
        self.starts = frozenset(expected.starts)
        self.bits: list[dict[int, tuple[int, ...]]] = []
        self.required: list[int] = []
        self.sounding: list[frozenset[int]] = []
        self.where: dict[int, list[int]] = {}
        for chord in expected.chords:
            bits: dict[int, tuple[int, ...]] = {}
            required = 0
            seen = set()
            for bit, number in enumerate(chord.struck):
                note = expected.notes[number]
                for key in {note.midi, note.written_midi}:
                    bits[key] = (*bits.get(key, ()), bit)
                # Voices that meet on one key ask for one press; a second one is welcome but not missed.
                if not note.optional and note.midi not in seen:
                    required |= 1 << bit
                seen.add(note.midi)
            self.bits.append(bits)
            self.required.append(required)
            held = frozenset(expected.notes[number].midi for number in chord.held)
            self.sounding.append(held | frozenset(bits))
            for key in bits:
                self.where.setdefault(key, []).append(chord.number)
        near = [frozenset(key + step for key in sounding for step in (-2, -1, 0, 1, 2)) for sounding in self.sounding]
        self.beside = [here | after for here, after in zip(near, [*near[1:], frozenset()], strict=True)]
        self.all_missing = [missing(mask.bit_count()) for mask in self.required]

    def lost(self, chord: int, mask: int) -> float:
        """Cost of the notes of a chord that a mask leaves out."""
        return missing((self.required[chord] & ~mask).bit_count())

    def neighbour(self, chord: int, key: int) -> bool:
        """Whether a key lies within two semitones of a key of the chord or of the one after it."""
        return key in self.beside[chord]


def timing(ratio: float) -> float:
    """Cost of a chord that came after `ratio` times the expected step."""
    away = log(max(ratio, 1e-3))
    return min(WAITING, 0.5 * away * away) if away > 0 else min(TIMING, 0.7 * away * away)


def kept_tempo(quarter: float, heard: float) -> float:
    """The tempo after one more step, in seconds a quarter: it follows the player but not a stop or a slip."""
    if quarter <= 0:
        return heard
    ratio = heard / quarter
    if 0.6 < ratio < 1.7:
        return float(quarter * ratio**0.35)
    if 0.3 < ratio < 3.0:
        return float(quarter * ratio**0.2)
    return quarter


@dataclass(frozen=True, slots=True)
class Press:
    """One press, as the accounts hear it.

    Attributes:
        index: Its index.
        key: Its key.
        now: Its time in seconds.
        gap: Seconds since the press before it.
        pause: Seconds of silence before the presses that it came together with.
    """

    index: int
    key: int
    now: float
    gap: float
    pause: float


def step(music: Music, account: Account, press: Press) -> list[Account]:
    """All accounts that one press makes of one."""
    places = music.where.get(press.key)
    if not places:
        return [_nothing(music, account, press)]
    made: list[Account] = []
    front = account.front
    known = len(account.masks)
    certain = False
    place = bisect_left(places, front - BEHIND + 1)
    while place < len(places) and places[place] <= front + AHEAD:
        chord = places[place]
        place += 1
        behind = front - chord
        if behind < 0:
            made.append(_advance(music, account, press, chord))
            continue
        if behind < known:
            bit = free_bit(music.bits[chord][press.key], account.masks[behind])
            if bit >= 0:
                made.append(_late(music, account, press, behind, bit))
                certain = certain or (behind == 0 and press.now - account.times[0] <= TOGETHER)
        if behind < STUMBLE:
            made.append(_back(music, account, press, chord))
    # A key that the chord still lacks, struck with it, is no accident.
    if not certain:
        made.append(_nothing(music, account, press))
    return made


def free_bit(bits: tuple[int, ...], mask: int) -> int:
    """The first of these notes that is not struck yet, or -1."""
    for bit in bits:
        if not mask >> bit & 1:
            return bit
    return -1


def _nothing(music: Music, account: Account, press: Press) -> Account:
    front, key, now, gap = account.front, press.key, press.now, press.gap
    cost = EXTRA
    if front >= 0:
        if key in music.sounding[front]:
            cost = BOUNCED if now - account.times[0] < BOUNCE else RESTRUCK
        elif music.neighbour(front, key):
            cost = NEIGHBOUR
        if AT_ONCE < gap < QUICK and music.neighbour(front, key):
            cost = ORNAMENT
    cost += account.cost
    owed = cost + _owed(music, account, now) if front >= 0 else cost
    return Account(cost, front, account.masks, account.times, account.quarter, account.claim, owed)


def _owed(music: Music, account: Account, now: float) -> float:
    """What the front still lacks, the more of it the nearer the next chord should be."""
    lost = music.lost(account.front, account.masks[0])
    if not lost:
        return 0.0
    share = (now - account.times[0]) / max(_expected_step(music, account, account.front), TOGETHER)
    return lost * min(max((share - 0.3) / 0.5, 0.0), 1.0)


def _expected_step(music: Music, account: Account, chord: int) -> float:
    return account.quarter * music.steps[chord] if account.quarter > 0 else UNKNOWN_STEP


def _late(music: Music, account: Account, press: Press, behind: int, bit: int) -> Account:
    """A further note of the front, or of a chord before it."""
    chord, now = account.front - behind, press.now
    mask = account.masks[behind]
    after = now - account.times[behind]
    cost = 0.0
    if after > TOGETHER:
        share = after / max(_expected_step(music, account, chord), PATIENCE)
        if behind == 0:
            cost = WAITED_FOR * min(max(share - 0.3, 0.0) / 1.2, 1.0)
        else:
            cost = min(LATE * max(share - 0.2, 0.0) / 0.8, LATEST)
    cost += 0.2 * behind
    struck = mask | 1 << bit
    if behind:
        cost += AT_FIRST * (music.lost(chord, struck) - music.lost(chord, mask))
    masks = (*account.masks[:behind], struck, *account.masks[behind + 1 :])
    claim = claimed(account.claim, press.index, chord, bit, jumped=False)
    cost += account.cost
    made = Account(cost, account.front, masks, account.times, account.quarter, claim, cost)
    made.standing += _owed(music, made, now)
    return made


def _advance(music: Music, account: Account, press: Press, chord: int) -> Account:
    """The first note of a later chord: what was not struck so far counts as missing until it comes."""
    front, now = account.front, press.now
    bit = music.bits[chord][press.key][0]
    masks, times = account.masks, account.times
    cost = AT_FIRST * sum(music.all_missing[front + 1 : chord])
    quarter = account.quarter
    if front >= 0:
        distance = music.onsets[chord] - music.onsets[front]
        passed = max(now - times[0], 1e-3)
        if quarter > 0:
            cost += timing(passed / (quarter * distance))
        elif passed < TOGETHER / 2:
            cost += 1.0
        if cost > SKIP and chord > front + 1:
            cost = SKIP
        elif passed > TOGETHER / 2:
            quarter = kept_tempo(quarter, passed / distance)
        cost += AT_FIRST * music.lost(front, masks[0]) + given_up(music, account, chord - front)
        skipped = tuple(
            times[0] + (now - times[0]) * (music.onsets[between] - music.onsets[front]) / distance
            for between in range(chord - 1, front, -1)
        )
    else:
        skipped = (now,) * (chord - front - 1)
    masks = (1 << bit, *(0,) * len(skipped), *masks)[:BEHIND]
    times = (now, *skipped, *times)[:BEHIND]
    claim = claimed(account.claim, press.index, chord, bit, jumped=front < 0)
    cost += account.cost
    return Account(cost, chord, masks, times, quarter, claim, cost)


def given_up(music: Music, account: Account, further: int = BEHIND) -> float:
    """The rest of what missing notes cost, of the chords that are left behind for good.

    Args:
        music: What is expected.
        account: The account.
        further: Chords that the front goes on by; by default so far that nothing stays in sight.
    """
    cost = 0.0
    for behind in range(max(BEHIND - further, 1), len(account.masks)):
        cost += music.lost(account.front - behind, account.masks[behind])
    return (1 - AT_FIRST) * cost


def _back(music: Music, account: Account, press: Press, chord: int) -> Account:
    """The player goes back to a chord and strikes it again."""
    cost = (
        (BACK if chord < account.front else ONCE_MORE)
        + given_up(music, account)
        + unprepared(press.pause, _expected_step(music, account, account.front))
    )
    bit = music.bits[chord][press.key][0]
    claim = claimed(account.claim, press.index, chord, bit, jumped=True)
    cost += account.cost
    return Account(cost, chord, (1 << bit,), (press.now,), account.quarter, claim, cost)


def unprepared(pause: float, expected: float) -> float:
    """Cost of going elsewhere without a pause: players stop for a moment before they go back."""
    return UNPREPARED * min(max(1.0 - (pause / max(expected, PAUSE) - 0.4) / 0.8, 0.0), 1.0)


def claimed(before: Claim | None, press: int, chord: int, bit: int, *, jumped: bool) -> Claim:
    """One more press explained."""
    return Claim(before, press, chord, bit, jumped, before.depth + 1 if before else 0)
