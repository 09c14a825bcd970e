"""How a take is best explained: competing accounts of which press is which note, each with its cost.

An account has a front, the furthest chord it has struck since it last went back or ahead. Each press either is a note
of a chord near the front, or belongs to nothing, or (for the account as a whole) is where the player went back. The
account with the lowest sum of costs is the one believed.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass

from coach.listening.costs import (
    AHEAD,
    AT_FIRST,
    AT_ONCE,
    BACK,
    BEHIND,
    BOUNCE,
    BOUNCED,
    BUILDING,
    DUE,
    EXTRA,
    INSTEAD,
    LATE,
    LATEST,
    MARGIN,
    MENDED,
    NEIGHBOUR,
    ONCE_MORE,
    ORNAMENT,
    PATIENCE,
    QUICK,
    RESTRUCK,
    SKIP,
    STARTLED,
    STUMBLE,
    TIMING,
    TOGETHER,
    WIDTH,
    timing,
    unprepared,
    waited_for,
)
from coach.listening.going import SHORTEST_STEP, Going
from coach.listening.layout import Music

SLIPS = 8
"""Wrong keys at one chord that an account remembers: the keys of a chord, and as many again."""


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


def claimed(before: Claim | None, press: int, chord: int, bit: int, jumped: bool = False) -> Claim:
    """One more press explained; the first one begins the first run."""
    if before is None:
        return Claim(None, press, chord, bit, True, 0)
    return Claim(before, press, chord, bit, jumped, before.depth + 1)


@dataclass(slots=True)
class Account:
    """One account of the take so far; never changed once made.

    Attributes:
        cost: Sum of all penalties.
        standing: The cost by which accounts are compared: what the front still lacks although its time is nearly up
            will have to be paid for.
        front: Number of the furthest chord struck, -1 before the first.
        masks: Which notes were struck, a bit a note, of the front and of the chords before it as far as they belong
            to the same run.
        times: When each of these chords began.
        going: How the player goes.
        owing: What will have to be paid for the notes that these chords, the front excepted, still lack.
        claim: The last press explained.
        slips: When wrong keys were struck at the front, as far as they are not mended yet.
        latest: When the last note of the front was struck.
    """

    cost: float
    standing: float
    front: int
    masks: tuple[int, ...]
    times: tuple[float, ...]
    going: Going
    owing: float
    claim: Claim | None
    slips: tuple[float, ...] = ()
    latest: float = 0.0


NOTHING_HEARD = Account(0.0, 0.0, -1, (), (), Going(), 0.0, None)
"""The account before the first press."""


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


class Accounts:
    """All accounts worth keeping, best first."""

    def __init__(self, music: Music) -> None:
        self._music = music
        self._kept = [NOTHING_HEARD]

    @property
    def best(self) -> Account:
        return self._kept[0]

    def hear(self, press: Press) -> list[Account]:
        """Every account that a press makes of the kept ones, short of the hopeless; `keep` chooses among them."""
        made: list[Account] = []
        limit = float("inf")
        for account in self._kept:
            limit = self._step(account, press, made, limit)
        return made

    def keep(self, made: list[Account]) -> None:
        """Keep the best accounts, one for each way in which the take can go on: only the latest chords matter."""
        ways: dict[tuple[int, tuple[int, ...], tuple[float, ...]], Account] = {}
        for account in made:
            way = account.front, account.masks[:2], account.times[:1]
            other = ways.get(way)
            # What they owe, they will pay; later presses change it no more than the rest.
            if other is None or account.standing + account.owing < other.standing + other.owing:
                ways[way] = account
        kept = sorted(ways.values(), key=_standing)[:WIDTH]
        limit = kept[0].standing + MARGIN
        self._kept = [account for account in kept if account.standing <= limit]

    def _step(self, account: Account, press: Press, made: list[Account], limit: float) -> float:
        """Add what one press makes of one account, unless it costs more than the limit; gives the new limit."""
        music, key = self._music, press.key
        front, masks = account.front, account.masks
        known = len(masks)
        certain = False
        places = music.where.get(key, ())
        place = bisect_left(places, front - BEHIND + 1)
        one: Account | None
        while place < len(places) and places[place] <= front + AHEAD:
            chord = places[place]
            place += 1
            behind = front - chord
            if behind < 0:
                one = self._advance(account, press, chord, limit)
                if one is not None:
                    made.append(one)
                    limit = min(limit, one.standing + MARGIN)
                continue
            if behind < known:
                bit = free_bit(music.bits[chord][key], masks[behind])
                if bit >= 0:
                    one = self._late(account, press, behind, bit, limit)
                    if one is not None:
                        made.append(one)
                        limit = min(limit, one.standing + MARGIN)
                    certain = certain or (behind == 0 and press.now - account.times[0] <= TOGETHER)
            if behind < STUMBLE:
                one = self._back(account, press, chord, limit)
                if one is not None:
                    made.append(one)
        # A key that the chord still lacks, struck with it, is no accident.
        if not certain:
            for one in (self._nothing(account, press, limit), self._instead(account, press, limit)):
                if one is not None:
                    made.append(one)
                    limit = min(limit, one.standing + MARGIN)
        return limit

    def _nothing(self, account: Account, press: Press, limit: float) -> Account | None:
        """A press that belongs to nothing."""
        music, front = self._music, account.front
        cost = EXTRA
        owed = 0.0
        slips = (*account.slips, press.now)[-SLIPS:]
        if front >= 0:
            key = press.key
            near = key in music.beside[front]
            if self._lacks(account, key):
                # What the chord waits for is hardly an accident.
                cost = NEIGHBOUR
            elif near and AT_ONCE < press.gap < QUICK:
                cost = ORNAMENT
            elif key in music.sounding[front]:
                cost = BOUNCED if press.now - account.times[0] < BOUNCE else RESTRUCK
                slips = account.slips
            elif near:
                cost = NEIGHBOUR
            owed = self._owed(account, account.masks[0], press.now)
        cost += account.cost
        if cost + owed > limit:
            return None
        return Account(
            cost,
            cost + owed,
            front,
            account.masks,
            account.times,
            account.going,
            account.owing,
            account.claim,
            slips,
            account.latest,
        )

    def _lacks(self, account: Account, key: int) -> bool:
        """Whether the front still lacks a key."""
        bits = self._music.bits[account.front].get(key)
        return bits is not None and free_bit(bits, account.masks[0]) >= 0

    def _instead(self, account: Account, press: Press, limit: float) -> Account | None:
        """A wrong key where the next chord is due: that chord has begun, though none of its notes has come."""
        music, front, now = self._music, account.front, press.now
        chord = front + 1
        if chord >= len(music.onsets) or press.key not in music.mistakable[chord]:
            return None
        if front < 0:
            cost = account.cost + INSTEAD
            return Account(cost, cost, chord, (0,), (now,), account.going, 0.0, None, (now,), now)
        ratio = (now - account.times[0]) / max(self._expected_step(account, front), TOGETHER)
        if not DUE[0] <= ratio <= DUE[1]:
            return None
        left = music.lost(front, account.masks[0])
        owing = account.owing + (1 - AT_FIRST) * left
        paid = self._given_up(account, 1) if owing > 1e-9 else 0.0
        cost = account.cost + INSTEAD + AT_FIRST * left + paid
        if cost > limit:
            return None
        masks, times = (0, *account.masks)[:BEHIND], (now, *account.times)[:BEHIND]
        return Account(cost, cost, chord, masks, times, account.going, owing - paid, account.claim, (now,), now)

    def _owed(self, account: Account, mask: int, now: float) -> float:
        """What the front still lacks, the more of it the nearer the next chord should be."""
        lost = self._music.lost(account.front, mask)
        if not lost:
            return 0.0
        share = (now - account.times[0]) / max(self._expected_step(account, account.front), TOGETHER)
        return lost * min(max((share - 0.3) / 0.5, 0.0), 1.0)

    def _expected_step(self, account: Account, chord: int) -> float:
        """Seconds from a chord to the next one, as the player goes."""
        return account.going.step(self._music.steps[chord])

    def _late(self, account: Account, press: Press, behind: int, bit: int, limit: float) -> Account | None:
        """A further note of the front, or of a chord before it."""
        music, masks = self._music, account.masks
        chord = account.front - behind
        after = press.now - account.times[behind]
        cost = account.cost + 0.2 * behind
        step = self._expected_step(account, chord)
        slips = account.slips
        latest = account.latest
        building = False
        if behind == 0:
            # Who builds a chord key by key is not overdue by the time that it takes.
            building = latest - account.times[0] > BUILDING
            waited = waited_for(press.now - latest if building else after, step)
            latest = press.now
            if slips and after > TOGETHER:
                waited, slips = min(waited, MENDED), slips[:-1]
            cost += waited
        elif after > TOGETHER:
            cost += min(LATE * max(after / max(step, PATIENCE) - 0.2, 0.0) / 0.8, LATEST)
        struck = masks[behind] | 1 << bit
        owing = account.owing
        if behind:
            refund = music.lost(chord, masks[behind]) - music.lost(chord, struck)
            cost -= AT_FIRST * refund
            owing -= (1 - AT_FIRST) * refund
            masks = (*masks[:behind], struck, *masks[behind + 1 :])
            standing = cost + self._owed(account, masks[0], press.now)
        else:
            masks = (struck, *masks[1:])
            standing = cost + (0.0 if building else self._owed(account, struck, press.now))
        if standing > limit:
            return None
        claim = claimed(account.claim, press.index, chord, bit)
        return Account(cost, standing, account.front, masks, account.times, account.going, owing, claim, slips, latest)

    def _advance(self, account: Account, press: Press, chord: int, limit: float) -> Account | None:
        """The first note of a later chord: what was not struck so far counts as missing until it comes."""
        music, front, now = self._music, account.front, press.now
        skipped = chord - front - 1
        cost = AT_FIRST * (music.missing_before[chord] - music.missing_before[front + 1])
        if account.cost + min(cost, SKIP) > limit:
            return None
        going, owing = account.going, account.owing
        bit = music.bits[chord][press.key][0]
        if front < 0:
            cost += account.cost
            claim = claimed(account.claim, press.index, chord, bit)
            masks, times = (1 << bit, *(0,) * skipped)[:BEHIND], (now,) * min(skipped + 1, BEHIND)
            return Account(cost, cost, chord, masks, times, going, cost - account.cost, claim, account.slips, now)
        since = account.times[0]
        distance = music.onsets[chord] - music.onsets[front]
        passed = max(now - since, 1e-3)
        if going.quarter > 0:
            cost += timing(going.ratio(passed, distance), going.uneven)
        elif passed <= SHORTEST_STEP:
            cost += TIMING
        between: tuple[int, ...] = ()
        if skipped:
            if cost > SKIP:
                # Going straight on without whole chords: nobody waits for them any more.
                cost = SKIP
                between = tuple(music.required[chord - 1 : front : -1])
            else:
                owing += cost_of_skipped(music, front, chord)
                between = (0,) * skipped
                going = going.after(passed, distance)
        else:
            going = going.after(passed, distance)
        left = music.lost(front, account.masks[0])
        cost += account.cost + AT_FIRST * left
        owing += (1 - AT_FIRST) * left
        if owing > 1e-9 and len(account.masks) + skipped >= BEHIND:
            paid = self._given_up(account, skipped + 1)
            owing -= paid
            cost += paid
        if cost > limit:
            return None
        times = (now, *account.times) if not skipped else (now, *self._spread(account, chord, now), *account.times)
        masks = (1 << bit, *between, *account.masks)
        claim = claimed(account.claim, press.index, chord, bit)
        # A wrong key just before was struck with this chord.
        slips = tuple(slip for slip in account.slips if now - slip <= TOGETHER)
        return Account(cost, cost, chord, masks[:BEHIND], times[:BEHIND], going, owing, claim, slips, now)

    def _spread(self, account: Account, chord: int, now: float) -> list[float]:
        """When the chords between the front and a later one would have begun, the latest first."""
        onsets, since = self._music.onsets, account.times[0]
        start = onsets[account.front]
        pace = (now - since) / (onsets[chord] - start)
        return [since + pace * (onsets[between] - start) for between in range(chord - 1, account.front, -1)]

    def _given_up(self, account: Account, further: int) -> float:
        """What is to be paid for the chords that fall out of sight when the front goes on."""
        lost = 0.0
        for behind in range(max(BEHIND - further, 1), len(account.masks)):
            lost += self._music.lost(account.front - behind, account.masks[behind])
        return (1 - AT_FIRST) * lost

    def _back(self, account: Account, press: Press, chord: int, limit: float) -> Account | None:
        """The player goes back to a chord and strikes it again."""
        cost = account.cost + account.owing + (BACK if chord < account.front else ONCE_MORE)
        if cost > limit:
            return None
        haste = unprepared(press.pause, self._expected_step(account, account.front))
        missed = account.slips or self._music.lost(account.front, account.masks[0])
        cost += min(haste, STARTLED) if missed else haste
        if cost > limit:
            return None
        bit = self._music.bits[chord][press.key][0]
        claim = claimed(account.claim, press.index, chord, bit, jumped=True)
        return Account(cost, cost, chord, (1 << bit,), (press.now,), account.going, 0.0, claim, latest=press.now)


def cost_of_skipped(music: Music, front: int, chord: int) -> float:
    """What is still to be paid for whole chords that were passed over, once they cannot come late."""
    return (1 - AT_FIRST) * (music.missing_before[chord] - music.missing_before[front + 1])


def free_bit(bits: tuple[int, ...], mask: int) -> int:
    """The first of these notes that is not struck yet, or -1."""
    for bit in bits:
        if not mask >> bit & 1:
            return bit
    return -1


def _standing(account: Account) -> float:
    return account.standing
