"""What stands against joining two chords that other fingers could join: the term in which that would cost most more.

Said with the fingers and keys that it means, and with its bar and beat where it is not at the two chords themselves.
"""

from __future__ import annotations

from collections.abc import Mapping

from coach.fingering.connecting import inward, told_from
from coach.fingering.instead import ALIKE, Instead, Spot
from coach.fingering.intervals import FINGER_WORDS
from coach.fingering.keyboard import in_white_keys
from coach.fingering.terms import LIFTS, SHIFTS, in_words
from coach.listing import listed

THIRD = 2
"""White keys from one to the one a third away."""


class AgainstJoining:
    """Says what stands against joining a chord with the next.

    Args:
        instead: The best fingers that join them.
        place: The first of the two chords.
    """

    def __init__(self, instead: Instead, place: int) -> None:
        self.instead, self.place = instead, place
        self.plan, self.side = instead.plan, instead.side

    def said(self) -> str:
        """What stands against it."""
        grown, lifts = self.instead.grown, self.instead.lifts
        if sum(grown.values()) < ALIKE:
            return f"{self._here_or_there(lifts)} is alike" if lifts else "joining would be about as easy"
        more_lifts = sum(more for name, more in grown.items() if name in LIFTS)
        others = {name: more for name, more in grown.items() if name not in LIFTS}
        term = max(others, key=lambda name: others[name], default="")
        spot = self.instead.spot(term) if term and others[term] > 0 else None
        if lifts and (spot is None or more_lifts >= others[term] or self._is_far(spot)):
            if len(lifts) > 1:
                return f"joining would mean lifts before {listed(self._next_outer(at) for at in lifts)}"
            return f"one lift is needed, {self._here_or_there(lifts)}"
        assert spot is not None, "without another lift something else costs more"
        said = self._of_change(term, spot) if spot.moving else self._of_chord(term, spot)
        return f"{said} ({self.plan.where(spot.place + spot.moving, self.place)})" if self._is_far(spot) else said

    def _is_far(self, spot: Spot) -> bool:
        """Whether it is not at the two chords."""
        return spot.place != self.place and (spot.moving or spot.place != self.place + 1)

    def _here_or_there(self, lifts: list[int]) -> str:
        nearest = min(lifts, key=lambda at: (abs(at - self.place), at))
        if abs(nearest - self.place) == 1:
            return f"here or one chord {'later' if nearest > self.place else 'earlier'}"
        return f"here or before {self._next_outer(nearest)}"

    def _of_chord(self, term: str, spot: Spot) -> str:
        if spot.at is None or spot.other is None:
            return f"joining would mean {in_words(term)}"
        fingers = self.instead.fingers(spot.place)
        low, high = (self._name(spot.place, at) for at in (spot.at, spot.other))
        first, second = fingers[spot.at], fingers[spot.other]
        if term == "off_grip":
            keys = self.plan.keys(spot.place, self.side)
            wide = in_white_keys(keys[spot.other]) - in_white_keys(keys[spot.at]) > second - first
            term = "stretch" if wide else "cramp"
        if term in IN_CHORDS:
            return IN_CHORDS[term].format(
                first=first,
                second=second,
                low=low,
                high=high,
                finger=FINGER_WORDS[first],
                ahead=self._ahead(term, spot),
            )
        return f"joining would mean {in_words(term)}"

    def _of_change(self, term: str, spot: Spot) -> str:
        if spot.at is None or spot.other is None:
            return self._of_travel(term, spot.place)
        if term not in IN_CHANGES:
            return f"joining would mean {in_words(term)}"
        finger, following = self.instead.fingers(spot.place)[spot.at], self.instead.fingers(spot.place + 1)[spot.other]
        return IN_CHANGES[term].format(
            pair=f"{finger}-{following}",
            finger=FINGER_WORDS[finger],
            following=following,
            here=self._name(spot.place, spot.at),
            there=self._next_name(spot.place, spot.at, spot.other),
        )

    def _of_travel(self, term: str, place: int) -> str:
        """The way of the whole hand."""
        if place != self.place or term not in SHIFTS:
            return f"joining would mean a wider move to {self._outer(place + 1)}"
        now, then = (self.plan.keys(at, self.side) for at in (place, place + 1))
        outer = abs(in_white_keys(then[-1]) - in_white_keys(now[-1]))
        inner = abs(in_white_keys(then[0]) - in_white_keys(now[0]))
        if len(now) > 1 < len(then) and inner > outer and inner >= THIRD:
            return f"the hand follows {self._name(place, 0)} to {self._next_name(place, 0, 0)} {inward(self.side)}"
        if outer >= THIRD:
            return f"the hand moves from {self._name(place, -1)} to {self._next_name(place, -1, -1)}"
        fingers = f"{self.instead.fingers(place)[-1]}-{self.instead.fingers(place + 1)[-1]}"
        return f"joining with {fingers} would shift the hand"

    def _ahead(self, term: str, spot: Spot) -> str:
        """The note to come that a chord keeps within reach."""
        line = self.plan.search.lines[self.side][spot.place]
        if line is None or not term.startswith("far_from"):
            return ""
        key = line.highest if term == "far_from_top" else line.lowest
        return self.plan.spelled(spot.place, self.side, key)

    def _name(self, place: int, at: int) -> str:
        """The note on a key of a chord."""
        return self.plan.name(place, self.side, at)

    def _next_name(self, place: int, at: int, next_at: int) -> str:
        """The note on a key of the next chord, as one goes there from a key of this one."""
        key, next_key = self.plan.keys(place, self.side)[at], self.plan.keys(place + 1, self.side)[next_at]
        return told_from(self._name(place, at), key, self._name(place + 1, next_at), next_key, self.side)

    def _outer(self, place: int) -> str:
        return self._name(place, -1)

    def _next_outer(self, place: int) -> str:
        """The outer note after a chord, with where it is unless that is the next one."""
        name = self._outer(place + 1)
        return name if place in (self.place, self.place + 1) else f"{name} ({self.plan.where(place + 1, self.place)})"


IN_CHORDS: Mapping[str, str] = {
    "stretch": "joining would stretch {first}-{second} on {low} and {high}",
    "strain": "joining would stretch {first}-{second} on {low} and {high}",
    "full_stretch": "joining would stretch {first}-{second} on {low} and {high}",
    "cramp": "joining would cramp {first}-{second} on {low} and {high}",
    "double_thumb": "joining would put the thumb on {low} and {high}",
    "thumb_on_black": "joining would put the thumb on {low}",
    "little_on_black": "joining would put the little finger on {low}",
    "thumb_unused": "joining would leave the thumb out",
    "little_unused": "joining would leave the little finger out",
    "fourth_alone": "joining would put the {finger} on {low}",
    "fifth_alone": "joining would put the {finger} on {low}",
    "off_frame": "joining would put the {finger} on {low}",
    "far_from_top": "the hand makes ready for {ahead}",
    "far_from_bottom": "the hand makes ready for {ahead}",
}
"""What stands against joining, by the term of a chord in which it would cost most more: {first} and {second} are the
fingers on {low} and {high}, {finger} the first in words, {ahead} a note to come."""

IN_CHANGES: Mapping[str, str] = {
    "line_stretch": "joining would stretch {pair} from {here} to {there}",
    "line_stretch_quick": "joining would stretch {pair} from {here} to {there}",
    "line_strain": "joining would stretch {pair} from {here} to {there}",
    "line_cramp": "joining would cramp {pair} from {here} to {there}",
    "off_step": "joining would reach for {there} with {following}",
    "off_step_quick": "joining would reach for {there} with {following}",
    "same_finger": "the {finger} would have to move from {here} to {there}",
    "crossing": "rather than cross {pair} from {here} to {there}",
    "crossing_to_black": "rather than cross {pair} from {here} to {there}",
    "changed_finger": "joining would change the finger on {here}",
    "new_grip": "joining would change the finger on {here}",
    "quick_repeat": "joining would repeat {here} with one finger",
    "quick_repeat_of_two": "joining would repeat {here} with one finger",
    "repeat_upward": "joining would change the finger on {here}",
    "hop": "joining would mean a hop to {there}",
}
"""The same for a change of chord: {pair} are the fingers that go from {here} to {there}."""
