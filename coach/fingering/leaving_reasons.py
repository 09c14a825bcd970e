"""Why a hand leaves a chord as it does: what a join does, or what stands against joining.

Where no fingers join two chords, the reason is what forbids it. Where others than the planned ones could, the reason is
the term in which the best of them cost most more through the phrase, all notes left to the hands that have them.
"""

from __future__ import annotations

import numpy as np

from coach.fingering.against_joining import AgainstJoining
from coach.fingering.connecting import Connection, inward
from coach.fingering.finished import Finished, pitches_of
from coach.fingering.instead import Instead
from coach.fingering.intervals import FINGER_WORDS, note_name
from coach.fingering.moving import SILENCE
from coach.fingering.plan import After, Side
from coach.fingering.search import Choice, Search
from coach.listing import listed

NEW_GROUP = "a new group begins"
"""Where joining would cost the same."""


class LeavingReasons:
    """Reads reasons for joins, restrikes and lifts off a finished search."""

    def __init__(self, plan: Finished) -> None:
        self.plan = plan

    def after(self, place: int, side: Side) -> After:
        """How a hand leaves a chord."""
        if place + 1 == len(self.plan.chords):
            return "end"
        if not self.plan.choices[place + 1].deal.handful(side).keys:
            return "lift"
        before, after = self.plan.choices[place], self.plan.choices[place + 1]
        if self.plan.lifts(place, side):
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
        return f"lift only the {'top' if side == 'right' else 'bass'}, {listed(held)} held" if held else "lift"

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
        going = {
            finger: key
            for key, finger, struck in zip(then.keys[:-1], following[:-1], then.struck[:-1], strict=True)
            if struck
        }
        inner = [
            finger for key, finger in zip(now.keys[:-1], fingers[:-1], strict=True) if going.get(finger, key) != key
        ]
        if inner:
            repeated = listed(f"{finger}-{finger}" for finger in inner)
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
        return AgainstJoining(instead, place).said()

    def _joined_instead(self, place: int, side: Side) -> Instead | None:
        """The best fingers of a hand that join a chord with the next, all notes where they are; None where none do."""
        line = self.plan.line(side)
        joins = line.before[place][:, None] + self.plan.change(place, side).join + line.beyond[place + 1][None, :]
        row, next_row = (int(at) for at in np.unravel_index(int(joins.argmin()), joins.shape))
        if not np.isfinite(joins[row, next_row]):
            return None
        return Instead(self.plan, side, line.around({place: row, place + 1: next_row}), joined=place)


def connection_of(search: Search, place: int, before: Choice, after: Choice, side: Side) -> Connection:
    """A hand's way from a chord to the next; it plays in both."""
    pitches, next_pitches = (
        pitches_of(search.chords[where], choice.deal, side) for where, choice in ((place, before), (place + 1, after))
    )
    now, then = before.deal.handful(side), after.deal.handful(side)
    return Connection(side, search.move(side, before, after), now, then, pitches, next_pitches)
