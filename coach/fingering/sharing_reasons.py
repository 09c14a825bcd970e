"""Why the hands share a chord as they do: read off the terms in which the best other way to share it costs more."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from coach.fingering.deals import dealing_terms, redealing_terms
from coach.fingering.finished import Finished, played
from coach.fingering.intervals import interval_name, note_name, steps_between, the_voice, with_article
from coach.fingering.plan import SIDES, Side
from coach.fingering.search import Choice, State

OCTAVE_STEPS = 7
"""Steps of the scale in an octave."""

SOON = ("one chord", "two chords")
"""For how many chords a hand takes a voice that goes back soon, in words."""


class SharingReasons:
    """Reads reasons for distributions off a finished search."""

    def __init__(self, plan: Finished) -> None:
        self.plan = plan

    def of_distribution(self, place: int) -> str:
        """Why the hands share a chord as they do; "" where nothing changes and nothing is unusual."""
        choice = self.plan.choices[place]
        deal = choice.deal
        if self.plan.search.options.as_written:
            return ""
        same = place > 0 and self.plan.choices[place - 1].deal.distribution == deal.distribution
        if same or not (deal.left.keys and deal.right.keys):
            return ""
        inner = self._lowest_right_and_bass(place)
        if inner is None:
            return ""
        low_right, low_left, bass = inner
        others = self._other_costs(place)
        mine = self._deal_cost(place, choice)
        low, ground = low_right[0], the_voice(bass[0])
        if low == bass[0]:
            # A voice that divides between the hands: its notes tell them apart.
            low, ground = note_name(low_right[1]), note_name(bass[1])
        right_has_more = len(deal.right.keys) > len(deal.left.keys)
        # What is close to the bass speaks for the left hand.
        close = abs(steps_between(low_right[1], bass[1])) < OCTAVE_STEPS
        reached = self._shared_by_the_right(place) if right_has_more and close else ""
        if right_has_more and not close:
            above = f"{with_article(interval_name(low_right[1], bass[1]))} above {ground}"
            reached = f"{low} {above}: the right hand takes it{self._how_long(place, low_right[0], 'right')}"
        elif not reached:
            reached = self._taken_by_the_left(place, low_left, bass)
            if reached and low_left is not None:
                reached += self._how_long(place, low_left[0], "left")
        if not others:
            states = self.plan.search.columns[place]
            alone = all(state.deal.distribution == deal.distribution for state in states)
            return reached or ("the only way to share this chord" if alone else "no other way fits the chords around")
        best = min(others, key=lambda cost: sum(cost.values()))
        gain = {name: best.get(name, 0.0) - mine.get(name, 0.0) for name in {*best, *mine}}
        term = max(sorted(gain), key=lambda name: gain[name])
        if term in ("open_left", "close_right", "left_heavy") or gain[term] <= 0:
            return reached
        if term == "redistribution":
            return "voices change hands less often so" if mine[term] else "the voices stay in their hands"
        if term == "handed_over" or (term == "idle_hand" and not reached):
            return "so that no hand leaves all to the other"
        if term in ("stretch", "strain"):
            return reached or "the easier grip for both hands"
        if term == "moves":
            return "so that the hands connect with the chords around"
        return reached or "the easier grip for both hands"

    def _how_long(self, place: int, voice: str, side: Side) -> str:
        """For how many chords a hand takes a voice, where it gives it back to the other soon."""
        for chords, words in enumerate(SOON, 1):
            if place + chords == len(self.plan.choices):
                return ""
            hands = self._hands_of(voice, place + chords)
            if hands and side not in hands:
                return f" for {words}"
        return ""

    def _hands_of(self, voice: str, place: int) -> set[Side]:
        """The hands that have a voice in a chord."""
        fates = self.plan.choices[place].deal.fates
        notes = self.plan.chords[place].notes
        return {fate.hand for note, fate in zip(notes, fates, strict=True) if note.voice == voice and fate.hand}

    def _taken_by_the_left(self, place: int, note: tuple[str, str] | None, bass: tuple[str, str]) -> str:
        """Why the left hand has more than the bass; "" where it has not, or where one voice divides.

        Args:
            place: The chord.
            note: Voice and pitch of the left hand's highest note besides the bass.
            bass: Voice and pitch of the bass.
        """
        if note is None or note[0] == bass[0]:
            return ""
        voice, ground = note[0], the_voice(bass[0])
        steps = abs(steps_between(note[1], bass[1]))
        if not steps:
            return f"{voice} on the key of {ground}: the left hand takes it"
        if steps < OCTAVE_STEPS:
            close = with_article(interval_name(note[1], bass[1]))
            return f"{voice} only {close} above {ground}: the left hand takes it"
        hands = [fate.hand for fate in self.plan.choices[place].deal.fates]
        other = f"{hands.count('right') + 1}+{hands.count('left') - 1}"
        if all(state.deal.distribution != other for state in self.plan.search.columns[place]):
            return f"{voice} out of the right hand's reach: the left hand takes it"
        gap = with_article(interval_name(note[1], bass[1]))
        return f"{voice} {gap} above {ground}: the left hand takes it"

    def _shared_by_the_right(self, place: int) -> str:
        """Why the right hand has a voice that is close to the bass: it is on a key that the hand has anyway; "" where
        it is not."""
        fates = self.plan.choices[place].deal.fates
        rights = [
            (fate.key, note.voice)
            for note, fate in zip(self.plan.chords[place].notes, fates, strict=True)
            if fate.hand == "right"
        ]
        lowest = min(key for key, _ in rights)
        *_, upper, lower = ("", *(voice for key, voice in rights if key == lowest))
        return f"{lower} on the key of {the_voice(upper)}: the right hand takes it" if upper else ""

    def _lowest_right_and_bass(
        self, place: int
    ) -> tuple[tuple[str, str], tuple[str, str] | None, tuple[str, str]] | None:
        """Voice and pitch of the right hand's lowest note, of the left hand's highest, and of the bass."""
        chord, deal = self.plan.chords[place], self.plan.choices[place].deal
        playing = [
            (fate.key, fate.hand, note.voice, played(note, fate))
            for note, fate in zip(chord.notes, deal.fates, strict=True)
            if fate.hand
        ]
        rights = sorted(one for one in playing if one[1] == "right")
        lefts = sorted(one for one in playing if one[1] == "left")
        if not rights or not lefts:
            return None
        second = (lefts[-1][2], lefts[-1][3]) if len(lefts) > 1 else None
        return (rights[0][2], rights[0][3]), second, (lefts[0][2], lefts[0][3])

    def _other_costs(self, place: int) -> list[dict[str, float]]:
        """Costs of the other distributions that fit between the chords around."""
        distribution = self.plan.choices[place].deal.distribution
        others = [state for state in self.plan.search.columns[place] if state.deal.distribution != distribution]
        costs = [self._deal_cost(place, state) for state in others]
        return [cost for cost in costs if np.isfinite(sum(cost.values()))]

    def _deal_cost(self, place: int, what: State | Choice) -> dict[str, float]:
        """Cost of dealing a chord out this way between its neighbours, by term; the moves to and from it together."""
        search, choices, limits, weights = self.plan.search, self.plan.choices, self.plan.limits, self.plan.weights
        named = dealing_terms(what.deal, False, search.options.preference)
        costs = {name: weights[name] * count for name, count in named.items()}
        moving = 0.0
        changes = []
        redealt: list[Mapping[str, float]] = []
        if place:
            before = choices[place - 1]
            redealt.append(redealing_terms(before.deal, search.chords[place], what.deal))
            changes.append((search.change(place, before, what, limits), before, True))
        if place + 1 < len(choices):
            following = choices[place + 1]
            redealt.append(redealing_terms(what.deal, search.chords[place + 1], following.deal))
            changes.append((search.change(place + 1, what, following, limits), following, False))
        for side in SIDES:
            around = np.zeros(len(what.ways[side]))
            for change, neighbour, comes_before in changes:
                if change is None:
                    return {"moves": float("inf")}
                matrix, row = change[0] if side == "right" else change[1], neighbour.row[side]
                around = around + (matrix[row, :] if comes_before else matrix[:, row])
            found = search.posture(place, side, what.deal.handful(side))
            best = int((found.effort + around).argmin())
            for name, count in found.counts.at(best).items():
                costs[name] = costs.get(name, 0.0) + weights[name] * count
            moving += float(around[best])
        for name in ("redistribution", "handed_over"):
            costs[name] = weights[name] * sum(terms.get(name, 0.0) for terms in redealt)
        costs["moves"] = moving
        return costs
