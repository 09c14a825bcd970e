"""Why a hand leaves a chord as it does: what a join does, or what stands against joining.

Where no fingers join two chords, the reason is what forbids it. Where others than the planned ones could, the reason is
the term in which the best of them cost most more, all other chords' left as they are.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

import numpy as np

from coach.fingering.connecting import Connection
from coach.fingering.counts import Array
from coach.fingering.finished import Finished, pitches_of
from coach.fingering.intervals import FINGER_WORDS, note_name
from coach.fingering.moving import SILENCE
from coach.fingering.plan import After, Side
from coach.fingering.search import Choice, Search
from coach.fingering.terms import in_words
from coach.listing import listed

AGAINST_JOINING = {
    "shift": "the hand moves to {then}",
    "far_shift": "the hand moves to {then}",
    "line_stretch": "joining would stretch {fingers}",
    "line_strain": "joining would stretch {fingers}",
    "line_cramp": "joining would cramp {fingers}",
    "stretch": "joining would stretch the hand",
    "strain": "joining would stretch the hand",
    "full_stretch": "joining would stretch the hand",
    "cramp": "joining would cramp the hand",
    "off_grip": "joining would cramp the hand",
    "thumb_unused": "joining would leave the thumb out",
    "little_unused": "joining would leave the little finger out",
    "crossing": "rather than cross the thumb",
    "crossing_to_black": "rather than cross the thumb to a black key",
    "changed_finger": "the hand takes a new grip",
    "new_grip": "the hand takes a new grip",
    "quick_repeat": "the hand takes a new grip",
    "repeat_upward": "the hand takes a new grip",
}
"""What stands against joining, by the term in which it would cost most more: {then} is the next outer note, {fingers}
the fingers that would connect it."""

NEW_GROUP = "a new group begins"
"""Where joining would cost the same."""

Parts = Callable[[int], Mapping[str, float]]
"""The terms of a fingering."""


class Instead(NamedTuple):
    """The best way to join two chords, the chords around left as they are.

    Attributes:
        before, after: Fingers on the keys of the two chords.
        grown: By how much each term is greater than as planned, in effort.
    """

    before: tuple[int, ...]
    after: tuple[int, ...]
    grown: Mapping[str, float]


class LeavingReasons(Finished):
    """Reads reasons for joins, restrikes and lifts off a finished search."""

    def after(self, place: int, side: Side) -> After:
        """How a hand leaves a chord."""
        if place + 1 == len(self.chords):
            return "end"
        if not self.choices[place + 1].deal.handful(side).keys:
            return "lift"
        before, after = self.choices[place], self.choices[place + 1]
        change = self.change(place, side)
        at = before.row[side], after.row[side]
        if change.join[at] > change.lift[at]:
            return "lift"
        grip, following = before.deal.handful(side).grip, after.deal.handful(side).grip
        return "restrike" if grip.keys[-1] == following.keys[-1] and following.struck[-1] else "join"

    def of_leaving(self, place: int, side: Side, kind: After) -> str:
        """Why a hand leaves a chord as it does."""
        choice, notes = self.choices[place], self._outer(place, side)
        if kind == "end":
            return "end of the phrase: both hands breathe"
        following = self.choices[place + 1]
        if not following.deal.handful(side).keys:
            return "nothing to play next"
        handful, after = choice.deal.handful(side), following.deal.handful(side)
        if kind == "restrike":
            return f"{note_name(notes[1])} is struck again"
        if kind == "join":
            if not any(after.struck):
                return ""
            if handful.keys[-1] == after.keys[-1]:
                finger = FINGER_WORDS[choice.fingers(side)[-1]]
                return f"{finger} holds {note_name(notes[0])}" if after.grip.kept[-1] else ""
            if max(after.since) - handful.until[-1] > SILENCE:
                held = self._held_into(place + 1, side)
                return f"{listed(held)} {'is' if len(held) == 1 else 'are'} held over the rest"
            return self._joining(place, side)
        if max(after.since) - max(handful.until) > SILENCE:
            return "a rest"
        return f"{self.lifting(place, side)}: {self._against_joining(place, side)}"

    def lifting(self, place: int, side: Side) -> str:
        """ "lift"; over held notes only the outer voice lifts, which is said."""
        held = self._held_into(place + 1, side)
        return f"lift only the {'top' if side == 'right' else 'bass'}, {' and '.join(held)} held" if held else "lift"

    def _outer(self, place: int, side: Side) -> tuple[str, str]:
        """Pitches of a hand's outer voice in a chord and in the next one ("" where it rests)."""
        found = []
        for where in (place, place + 1):
            pitches = self.pitches(where, side) if where < len(self.choices) else {}
            found.append(pitches[max(pitches)] if pitches else "")
        return found[0], found[1]

    def _joining(self, place: int, side: Side) -> str:
        fingers, following = self.choices[place].fingers(side), self.choices[place + 1].fingers(side)
        where = "on top" if side == "right" else "in the bass"
        text = f"{fingers[-1]}-{following[-1]} {where} connects"
        if len(fingers) == 1 == len(following):
            text = f"{fingers[-1]}-{following[-1]} connects"
        now, then = self.choices[place].deal.handful(side), self.choices[place + 1].deal.handful(side)
        inner = [
            f"{finger}"
            for key, finger in zip(now.keys[:-1], fingers[:-1], strict=True)
            for next_key, next_finger, struck in zip(then.keys[:-1], following[:-1], then.struck[:-1], strict=True)
            if finger == next_finger and key != next_key and struck
        ]
        if inner:
            side_word = "below" if side == "right" else "above"
            repeated = " and ".join(f"{finger}-{finger}" for finger in inner)
            text += f"; {repeated} {'repeats' if len(inner) == 1 else 'repeat'} {side_word}"
        return text

    def _held_into(self, place: int, side: Side) -> list[str]:
        """Names of the notes that a hand holds into a chord."""
        grip = self.choices[place].deal.handful(side).grip
        held = [pitch for key, pitch in self.pitches(place, side).items() if grip.kept[grip.keys.index(key)]]
        return [note_name(pitch) for pitch in reversed(held)]

    def _against_joining(self, place: int, side: Side) -> str:
        connection = connection_of(self.search, place, self.choices[place], self.choices[place + 1], side)
        why = connection.forbidden()
        if why:
            return why
        instead = self._joined_instead(place, side, connection)
        if instead is None:
            before, after = self.choices[place], self.choices[place + 1]
            return connection.forbidden_between(before.row[side], after.row[side]) or NEW_GROUP
        term = max(instead.grown, key=lambda name: instead.grown[name], default="")
        if not term or instead.grown[term] <= 0:
            return NEW_GROUP
        if term == "same_finger":
            moving = self._moving_on(place, side, instead)
            if moving:
                return moving
        if term not in AGAINST_JOINING:
            return f"joining would mean {in_words(term)}"
        then = note_name(self._outer(place, side)[1])
        return AGAINST_JOINING[term].format(then=then, fingers=f"{instead.before[-1]}-{instead.after[-1]}")

    def _joined_instead(self, place: int, side: Side, connection: Connection) -> Instead | None:
        """The best way to join a chord with the next; None where the chords around leave none."""
        change, rows = connection.change, (self.choices[place].row[side], self.choices[place + 1].row[side])
        effort, parts = self._with_neighbour(place, place - 1, side)
        next_effort, next_parts = self._with_neighbour(place + 1, place + 2, side)
        joined = effort[:, None] + self.limits.change(place, side, change).join + next_effort[None, :]
        row, next_row = (int(at) for at in np.unravel_index(int(joined.argmin()), joined.shape))
        if not np.isfinite(joined[row, next_row]):
            return None
        grown: dict[str, float] = {}
        for sign, counts in (
            (1, (parts(row), next_parts(next_row), change.joined.at(row, next_row))),
            (-1, (parts(rows[0]), next_parts(rows[1]), change.lifted.at(*rows))),
        ):
            for part in counts:
                for name, count in part.items():
                    grown[name] = grown.get(name, 0.0) + sign * self.weights[name] * count
        return Instead(change.before.rows[row], change.after.rows[next_row], grown)

    def _with_neighbour(self, place: int, neighbour: int, side: Side) -> tuple[Array, Parts]:
        """The effort of every fingering of a chord with the change from or to one neighbour, and what adds up to it."""
        own = self.search.posture(place, side, self.choices[place].deal.handful(side))
        if not 0 <= neighbour < len(self.choices):
            return own.effort, own.counts.at
        there = self.choices[neighbour].row[side]
        if neighbour < place:
            into = self.change(neighbour, side)
            return own.effort + into.least[there], lambda way: _added(own.counts.at(way), into.at(there, way))
        out = self.change(place, side)
        return own.effort + out.least[:, there], lambda way: _added(own.counts.at(way), out.at(way, there))

    def _moving_on(self, place: int, side: Side, instead: Instead) -> str:
        """Which inner finger would have to move on, "" where none would."""
        now, then = self.choices[place].deal.handful(side), self.choices[place + 1].deal.handful(side)
        for at, (key, finger) in enumerate(zip(now.keys, instead.before, strict=True)):
            for next_at, (next_key, next_finger) in enumerate(zip(then.keys, instead.after, strict=True)):
                inner = at + 1 < len(now.keys) or next_at + 1 < len(then.keys)
                if finger == next_finger and key != next_key and inner and then.struck[next_at]:
                    here, there = self.pitches(place, side)[key], self.pitches(place + 1, side)[next_key]
                    return f"the {FINGER_WORDS[finger]} would have to move from {note_name(here)} to {note_name(there)}"
        return ""


def connection_of(search: Search, place: int, before: Choice, after: Choice, side: Side) -> Connection:
    """A hand's way from a chord to the next; it plays in both."""
    pitches, next_pitches = (
        pitches_of(search.chords[where], choice.deal, side) for where, choice in ((place, before), (place + 1, after))
    )
    now, then = before.deal.handful(side), after.deal.handful(side)
    return Connection(side, search.move(side, before, after), now, then, pitches, next_pitches)


def _added(counts: Mapping[str, float], more: Mapping[str, float]) -> dict[str, float]:
    return {name: counts.get(name, 0.0) + more.get(name, 0.0) for name in {**counts, **more}}
