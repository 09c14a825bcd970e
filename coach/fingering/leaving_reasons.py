"""Why a hand leaves a chord as it does: what a join does, or what stands against joining.

Where no fingers join two chords, the reason is what forbids it. Where others than the planned ones could, the reason is
the term in which the best of them cost most more through the phrase, all notes left to the hands that have them.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from coach.fingering.connecting import Connection, inward
from coach.fingering.finished import Finished, pitches_of
from coach.fingering.intervals import FINGER_WORDS, note_name
from coach.fingering.moving import SILENCE
from coach.fingering.plan import After, Side
from coach.fingering.search import Choice, Search
from coach.fingering.terms import LIFTS, in_words
from coach.fingering.weighing import Posture
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
    "off_step": "the hand moves to {then}",
    "shift_in_lift": "the hand moves on",
    "far_from_top": "the hand goes where the notes to come are",
    "far_from_bottom": "the hand goes where the notes to come are",
    "thumb_on_black": "joining would put the thumb on a black key",
    "little_on_black": "joining would put the little finger on a black key",
    "double_thumb": "joining would put the thumb on two keys",
    "same_finger": "joining would have an inner finger move on",
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


class Instead(NamedTuple):
    """The best fingers that join two chords.

    Attributes:
        before, after: Fingers on the keys of the two chords.
        grown: By how much each term is greater than as planned, in effort.
    """

    before: tuple[int, ...]
    after: tuple[int, ...]
    grown: Mapping[str, float]


class Line:
    """One hand's fingers through a phrase, all notes where they are.

    Attributes:
        before: For each chord the least effort up to each of its fingerings, its own effort among it.
        beyond: The least effort from each fingering of a chord on, its own effort among it.
    """

    def __init__(self, plan: Finished, side: Side) -> None:
        self._plan, self._side = plan, side
        count = len(plan.choices)
        own = [self.posture(place).effort for place in range(count)]
        changes = [plan.change(place, side).least for place in range(count - 1)]
        self.before, self.beyond = own[:1], own[-1:]
        for place, change in enumerate(changes, 1):
            self.before.append((self.before[-1][:, None] + change).min(axis=0) + own[place])
        for place in range(count - 2, -1, -1):
            self.beyond.insert(0, (changes[place] + self.beyond[0][None, :]).min(axis=1) + own[place])

    def posture(self, place: int) -> Posture:
        """The hand's chord; a resting hand's costs nothing, whatever fingers it has in mind."""
        choice = self._plan.choices[place]
        handful, ways = choice.deal.handful(self._side), choice.ways[self._side]
        if not handful.keys:
            return Posture(ways, (), np.zeros(len(ways)))
        return self._plan.search.posture(place, self._side, handful)


class LeavingReasons:
    """Reads reasons for joins, restrikes and lifts off a finished search."""

    def __init__(self, plan: Finished) -> None:
        self.plan = plan
        self._lines: dict[Side, Line] = {}

    def after(self, place: int, side: Side) -> After:
        """How a hand leaves a chord."""
        if place + 1 == len(self.plan.chords):
            return "end"
        if not self.plan.choices[place + 1].deal.handful(side).keys:
            return "lift"
        before, after = self.plan.choices[place], self.plan.choices[place + 1]
        change = self.plan.change(place, side)
        at = before.row[side], after.row[side]
        if change.join[at] > change.lift[at]:
            return "lift"
        grip, following = before.deal.handful(side).grip, after.deal.handful(side).grip
        return "restrike" if grip.keys[-1] == following.keys[-1] and following.struck[-1] else "join"

    def of_leaving(self, place: int, side: Side, kind: After) -> str:
        """Why a hand leaves a chord as it does."""
        choice, notes = self.plan.choices[place], self._outer(place, side)
        if kind == "end":
            return "end of the phrase: both hands breathe"
        following = self.plan.choices[place + 1]
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
            pitches = self.plan.pitches(where, side) if where < len(self.plan.choices) else {}
            found.append(pitches[max(pitches)] if pitches else "")
        return found[0], found[1]

    def _joining(self, place: int, side: Side) -> str:
        fingers, following = self.plan.choices[place].fingers(side), self.plan.choices[place + 1].fingers(side)
        where = "on top" if side == "right" else "in the bass"
        text = f"{fingers[-1]}-{following[-1]} {where} connects"
        if len(fingers) == 1 == len(following):
            text = f"{fingers[-1]}-{following[-1]} connects"
        now, then = self.plan.choices[place].deal.handful(side), self.plan.choices[place + 1].deal.handful(side)
        inner = [
            f"{finger}"
            for key, finger in zip(now.keys[:-1], fingers[:-1], strict=True)
            for next_key, next_finger, struck in zip(then.keys[:-1], following[:-1], then.struck[:-1], strict=True)
            if finger == next_finger and key != next_key and struck
        ]
        if inner:
            repeated = " and ".join(f"{finger}-{finger}" for finger in inner)
            text += f"; {repeated} {'repeats' if len(inner) == 1 else 'repeat'} {inward(side)}"
        return text

    def _held_into(self, place: int, side: Side) -> list[str]:
        """Names of the notes that a hand holds into a chord."""
        grip = self.plan.choices[place].deal.handful(side).grip
        held = [pitch for key, pitch in self.plan.pitches(place, side).items() if grip.kept[grip.keys.index(key)]]
        return [note_name(pitch) for pitch in reversed(held)]

    def _against_joining(self, place: int, side: Side) -> str:
        before, after = self.plan.choices[place], self.plan.choices[place + 1]
        connection = connection_of(self.plan.search, place, before, after, side)
        why = connection.forbidden()
        if why:
            return why
        instead = self._joined_instead(place, side)
        if instead is None:
            return connection.forbidden_between(before.row[side], after.row[side]) or NEW_GROUP
        term = max(instead.grown, key=lambda name: instead.grown[name], default="")
        if not term or instead.grown[term] <= 0:
            return NEW_GROUP
        if term == "same_finger":
            moving = self._moving_on(place, side, instead)
            if moving:
                return moving
        if term in LIFTS:
            return "joining would mean another lift"
        if term not in AGAINST_JOINING:
            return f"joining would mean {in_words(term)}"
        then = note_name(self._outer(place, side)[1])
        return AGAINST_JOINING[term].format(then=then, fingers=f"{instead.before[-1]}-{instead.after[-1]}")

    def _joined_instead(self, place: int, side: Side) -> Instead | None:
        """The best fingers of a hand that join a chord with the next, all notes where they are; None where none do."""
        line = self._line(side)
        joins = line.before[place][:, None] + self.plan.change(place, side).join + line.beyond[place + 1][None, :]
        row, next_row = (int(at) for at in np.unravel_index(int(joins.argmin()), joins.shape))
        if not np.isfinite(joins[row, next_row]):
            return None
        rows = self._rows_around(place, side, row, next_row)
        grown: dict[str, float] = {}
        for at, way in rows.items():
            planned = self.plan.choices[at].row[side]
            if way != planned:
                counts = line.posture(at).counts
                self._add(grown, 1, counts.at(way))
                self._add(grown, -1, counts.at(planned))
        # The chords around have the planned fingers: their changes to these are other ones too.
        for at in range(max(min(rows) - 1, 0), min(max(rows) + 1, len(self.plan.choices) - 1)):
            here, there = (rows.get(where, self.plan.choices[where].row[side]) for where in (at, at + 1))
            change = self.plan.change(at, side)
            self._add(grown, 1, change.joined.at(here, there) if at == place else change.at(here, there))
            self._add(grown, -1, self.plan.chosen(at, side))
        before, after = (self.plan.choices[at].ways[side].rows[rows[at]] for at in (place, place + 1))
        return Instead(before, after, grown)

    def _rows_around(self, place: int, side: Side, row: int, next_row: int) -> dict[int, int]:
        """The fingerings of the best way through two of them, as far as they are others than planned."""
        line, rows = self._line(side), {place: row, place + 1: next_row}
        for at in range(place - 1, -1, -1):
            best = int((line.before[at] + self.plan.change(at, side).least[:, rows[at + 1]]).argmin())
            if best == self.plan.choices[at].row[side]:
                break
            rows[at] = best
        for at in range(place + 2, len(self.plan.choices)):
            best = int((self.plan.change(at - 1, side).least[rows[at - 1]] + line.beyond[at]).argmin())
            if best == self.plan.choices[at].row[side]:
                break
            rows[at] = best
        return rows

    def _add(self, grown: dict[str, float], sign: int, counts: Mapping[str, float]) -> None:
        for name, count in counts.items():
            grown[name] = grown.get(name, 0.0) + sign * self.plan.weights[name] * count

    def _line(self, side: Side) -> Line:
        """What a hand's fingers cost through the phrase, all notes where they are; worked out once."""
        if side not in self._lines:
            self._lines[side] = Line(self.plan, side)
        return self._lines[side]

    def _moving_on(self, place: int, side: Side, instead: Instead) -> str:
        """Which inner finger would have to move on, "" where none would."""
        now, then = self.plan.choices[place].deal.handful(side), self.plan.choices[place + 1].deal.handful(side)
        for at, (key, finger) in enumerate(zip(now.keys, instead.before, strict=True)):
            for next_at, (next_key, next_finger) in enumerate(zip(then.keys, instead.after, strict=True)):
                inner = at + 1 < len(now.keys) or next_at + 1 < len(then.keys)
                if finger == next_finger and key != next_key and inner and then.struck[next_at]:
                    here, there = self.plan.pitches(place, side)[key], self.plan.pitches(place + 1, side)[next_key]
                    return f"the {FINGER_WORDS[finger]} would have to move from {note_name(here)} to {note_name(there)}"
        return ""


def connection_of(search: Search, place: int, before: Choice, after: Choice, side: Side) -> Connection:
    """A hand's way from a chord to the next; it plays in both."""
    pitches, next_pitches = (
        pitches_of(search.chords[where], choice.deal, side) for where, choice in ((place, before), (place + 1, after))
    )
    now, then = before.deal.handful(side), after.deal.handful(side)
    return Connection(side, search.move(side, before, after), now, then, pitches, next_pitches)
