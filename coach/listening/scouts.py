"""Where else in the music the player may be: a light account for every place, started anew by every press.

Accounts (see `accounts`) follow the player from chord to chord; a player who goes back, begins again or skips lands
out of their sight. Scouts watch the whole piece at the price of a look-up a place: a scout at a chord explains the
latest presses from some jump on, with exact notes only. Once one explains them about as well as the best account
does, it becomes an account itself.
"""

from __future__ import annotations

from dataclasses import dataclass

from coach.listening.accounts import Account, Claim, Press, claimed, free_bit
from coach.listening.costs import AGAIN, BEGIN, ELSEWHERE, EXTRA, timing, unprepared, waited_for
from coach.listening.going import Going
from coach.listening.layout import Music

SKIPPED = 2
"""Chords that a scout may step over."""

STALE = 4
"""Presses in a row that a scout may leave unexplained."""

PROMISING = 3
"""Notes that a scout must have explained before it may stand beside accounts that cost less."""

CLOSE = 3.0
"""How much dearer than the best account such a scout may be."""


@dataclass(slots=True)
class Scout:
    """A light account.

    Attributes:
        cost: Up to and including its last press.
        press: Index of the last press it explained.
        mask: Notes struck of its chord.
        begun: When its chord began.
        going: How the player goes: at the tempo of its last step.
        count: Notes explained since the jump.
        claim: The last press explained.
    """

    cost: float
    press: int
    mask: int
    begun: float
    going: Going
    count: int
    claim: Claim


class Scouts:
    """One scout a chord, the best one that ends there."""

    def __init__(self, music: Music) -> None:
        self._music = music
        self._at: list[Scout | None] = [None] * len(music.onsets)

    def hear(self, best: Account, press: Press, cheapest: float) -> list[Account]:
        """Let every scout take one press.

        Args:
            best: The best account before this press, from which a player would jump.
            press: The press.
            cheapest: The least standing of the accounts after it.

        Returns:
            The scouts that are worth an account, as accounts.
        """
        music, at = self._music, self._at
        haste = 0.0
        if best.front >= 0:
            haste = best.owing + unprepared(press.pause, best.going.step(music.steps[best.front]))
        out = []
        # From the end backwards, so that the scouts before a chord have not heard this press yet.
        for chord in reversed(music.where.get(press.key, ())):
            bits = music.bits[chord][press.key]
            scout = self._moved(chord, bits, press.index, press.now)
            if best.front < 0:
                jump = best.cost + BEGIN[0 if chord == 0 else 1 if chord in music.starts else 2]
            else:
                jump = best.cost + haste + (AGAIN if chord in music.starts else ELSEWHERE)
            if scout is None or jump < scout.cost:
                claim = claimed(best.claim, press.index, chord, bits[0], jumped=True)
                scout = Scout(jump, press.index, 1 << bits[0], press.now, best.going, 1, claim)
            at[chord] = scout
            if scout.cost <= (cheapest + CLOSE if scout.count >= PROMISING else cheapest):
                out.append(_account(chord, scout))
        if best.front < 0:
            # Where the same music begins several phrases, the take is believed to begin with the first of them.
            out.reverse()
        return out

    def _moved(self, chord: int, bits: tuple[int, ...], press: int, now: float) -> Scout | None:
        """The best scout that this press brings to a chord, or None."""
        music, at = self._music, self._at
        best: Scout | None = None
        here = at[chord]
        if here is not None and press - here.press <= STALE:
            bit = free_bit(bits, here.mask)
            if bit >= 0:
                cost = here.cost + EXTRA * (press - here.press - 1)
                cost += waited_for(now - here.begun, here.going.step(music.steps[chord]))
                claim = claimed(here.claim, press, chord, bit, jumped=False)
                best = Scout(cost, press, here.mask | 1 << bit, here.begun, here.going, here.count + 1, claim)
        skipped = 0.0
        for before in range(chord - 1, max(chord - 2 - SKIPPED, -1), -1):
            scout = at[before]
            if scout is not None and press - scout.press <= STALE:
                cost = scout.cost + EXTRA * (press - scout.press - 1) + skipped + music.lost(before, scout.mask)
                if best is None or cost < best.cost:
                    passed = max(now - scout.begun, 1e-3)
                    distance = music.onsets[chord] - music.onsets[before]
                    going = scout.going
                    cost += timing(going.ratio(passed, distance), going.uneven)
                    if best is None or cost < best.cost:
                        claim = claimed(scout.claim, press, chord, bits[0], jumped=False)
                        going = Going(passed / distance, going.uneven)
                        best = Scout(cost, press, 1 << bits[0], now, going, scout.count + 1, claim)
            skipped += music.all_missing[before]
        return best


def _account(chord: int, scout: Scout) -> Account:
    """A scout as a full account; its own chord is all that it remembers."""
    return Account(
        scout.cost, scout.cost, chord, (scout.mask,), (scout.begun,), scout.going, 0.0, scout.claim, latest=scout.begun
    )
