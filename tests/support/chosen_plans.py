"""Every plan of a short phrase that honours a choice of the player: what planning around a choice is held against."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

import numpy as np
from all_plans import AllPlans, Dealt, Line, Played, fingerings

from coach.fingering.choices import Fix, FixedFinger, FixedLeaving, FixedSharing
from coach.fingering.hand import Hands
from coach.fingering.handful import Handful
from coach.fingering.plan import SIDES, Side
from coach.fingering.search import Options
from coach.score.piece import Chord


class ChosenPlans(AllPlans):
    """All plans of a phrase that honour some choices and take no way out beyond those of the plan without choices.

    Args:
        phrase: Its chords.
        hands: The player.
        options: The player's other wishes.
        fixes: The choices.
    """

    def __init__(self, phrase: Sequence[Chord], hands: Hands, options: Options, fixes: Sequence[Fix]) -> None:
        super().__init__(phrase, hands, options)
        self.fixes = fixes
        self.usual = [choice.deal for choice in self.prices.best()[1]]

    def _after(self, place: int, each: Line) -> Iterator[Dealt]:
        usual = self.usual[place]
        kinds = Counter(way for way, _ in usual.ways_out)
        for dealt in super()._after(place, each):
            taken = Counter(way for way, _ in dealt.ways_out)
            if len(dealt.ways_out) != len(usual.ways_out) or not taken <= kinds or dealt.let_go > usual.let_go:
                continue
            if self._shares(place, dealt):
                yield dealt

    def _shares(self, place: int, dealt: Dealt) -> bool:
        counts = [dealt.hands.count(side) for side in SIDES]
        onset = self.phrase[place].onset
        return all(
            counts == [fix.right, fix.left]
            for fix in self.fixes
            if isinstance(fix, FixedSharing) and fix.onset == onset
        )

    def _grown(self, each: Line, dealt: Dealt) -> Line | None:
        line = super()._grown(each, dealt)
        place = len(each.dealt)
        for fix in self.fixes:
            if line is None or fix.onset != self.phrase[place].onset:
                continue
            if isinstance(fix, FixedFinger):
                line = self._with_finger(place, line, fix)
            elif isinstance(fix, FixedLeaving):
                last = place + 1 == len(self.phrase)
                if line.hands[fix.side].handfuls[-1] is None or (last and fix.after == "join"):
                    line = None
        return line

    def _with_finger(self, place: int, line: Line, fix: FixedFinger) -> Line | None:
        dealt, notes = line.dealt[-1], self.phrase[place].notes
        at = next(i for i, note in enumerate(notes) if (note.voice, note.midi) == (fix.voice, fix.key))
        side = dealt.hands[at]
        if side is None:
            return None
        played = line.hands[side]
        handful = played.handfuls[-1]
        assert handful is not None
        key = dealt.keys[at] if side == "right" else 124 - dealt.keys[at]
        column = handful.grip.keys.index(key)
        ways = fingerings(handful.grip, self.hands.hand(side), self.hands.keyboard)
        wrong = np.array([fingers[column] != fix.finger for fingers in ways])
        cost = np.where(wrong, np.inf, played.cost)
        if not np.isfinite(cost).any():
            return None
        return Line(line.dealt, {**line.hands, side: Played(played.handfuls, cost)}, line.dealing)

    def _played(self, side: Side, before: Played, handful: Handful | None) -> Played:
        place = len(before.handfuls)
        chosen = [
            fix
            for fix in self.fixes
            if isinstance(fix, FixedLeaving)
            and fix.side == side
            and place
            and fix.onset == self.phrase[place - 1].onset
        ]
        played = super()._played(side, before, handful)
        last = before.handfuls[-1] if place else None
        if not chosen or last is None:
            return played
        if handful is None:
            # A hand with nothing to play next has lifted.
            return played if chosen[0].after == "lift" else Played(played.handfuls, np.full_like(played.cost, np.inf))
        effort = self.prices.efforts[side]
        change = effort.change(last, handful)
        at = np.ix_(self._rows(side, last), self._rows(side, handful))
        wanted = change.lift if chosen[0].after == "lift" else change.join
        posture = self.prices.posture(place, side, handful).effort[self._rows(side, handful)]
        return Played(played.handfuls, before.cost[..., None] + posture + wanted[at])

    def least(self) -> float:
        """The least effort that honours the choices; infinite where no plan does."""
        return min((line.least for line in self.lines()), default=np.inf)
