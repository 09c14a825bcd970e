"""Why a finger plays a key, and why a note takes a way out: read off the term of effort that decided.

A finger is compared with the best that could be done at that place with another one on its key, the chords before and
after it left as they are. The term in which the other way costs most more is the reason given.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from math import inf

from coach.fingering.finished import Finished
from coach.fingering.intervals import FINGER_WORDS, note_name
from coach.fingering.keyboard import is_black
from coach.fingering.plan import Side
from coach.fingering.terms import LIFTS

WORTH_SAYING = 0.25
"""A reason is given where the other way costs at least this much more."""


ONLY_WAY = "the only finger that fits between the chords around"

FINGER_REASONS = {
    "stretch": "spares a stretch",
    "strain": "spares a wide stretch",
    "full_stretch": "spares a full stretch",
    "cramp": "room for the fingers: {other} would cramp them",
    "fourth_alone": "stronger than {other}",
    "fifth_alone": "stronger than {other}",
    "thumb_unused": "the thumb goes inside",
    "little_unused": "the little finger goes outside",
    "weak_neighbours": "parts the weak fingers",
    "double_thumb": "one key a finger",
    "off_frame": "the lowest and the highest note of the line frame the hand",
    "shift": "nearest: the hand stays where it is",
    "shift_in_lift": "nearest to where the hand was",
    "line_stretch": "connects the {outer} without a stretch",
    "line_strain": "connects the {outer} without a wide stretch",
    "line_cramp": "leaves room to connect the {outer}",
    "crossing": "saves a crossing of the thumb",
    "crossing_to_black": "keeps the crossing thumb off a black key",
    "same_finger": "leaves each key a finger of its own",
    "far_from_top": "keeps the notes to come within reach",
    "far_from_bottom": "keeps the notes to come within reach",
    "repeats_ahead": "leaves fingers for the repeats to come",
    "off_step": "each key its nearest finger",
    "off_grip": "the fingers lie over their keys",
    "hop": "saves a hop on one finger",
    "far_shift": "nearest: the hand stays where it is",
}
"""Why a finger plays a key, by the term in which the best other finger there costs most more: {other} is that finger,
{outer} the hand's outer voice."""

ON_BLACK = {"thumb_on_black": 1, "little_on_black": 5}
"""Terms of fingers on black keys, and the finger."""

PLACED = {"thumb_unused": 1, "little_unused": 5}
"""Terms of the hand's outer fingers on its outer keys, and the finger."""

REPEATS = frozenset(("changed_finger", "new_grip", "repeat_upward"))
"""Terms of keys that are struck again: which key it is decides the reason."""

LITTLE = 5

SMALL = 1e-6
"""Effort that is none."""


class Local:
    """One hand's fingerings in one chord, the chords around it left as they are.

    Args:
        fingers: Each fingering.
        effort: Of each of them with the changes to and from it; infinite where it does not fit between the chords
            around.
        parts: What adds up to it: the counts of a fingering.
        weights: The weight of each term.
    """

    def __init__(
        self,
        fingers: Sequence[Sequence[int]],
        effort: Sequence[float],
        parts: Sequence[Callable[[int], Mapping[str, float]]],
        weights: Mapping[str, float],
    ) -> None:
        self.fingers = fingers
        self.effort = effort
        self.parts = parts
        self.weights = weights
        self._best_first = sorted(range(len(effort)), key=effort.__getitem__)
        self._by_term: dict[int, dict[str, float]] = {}

    def rival(self, way: int, at: int) -> int | None:
        """The best fingering that has another finger on a key than this one, None where no other fits."""
        finger = self.fingers[way][at]
        for other in self._best_first:
            if self.fingers[other][at] != finger:
                return other if self.effort[other] < inf else None
        return None

    def know(self, way: int, parts: Iterable[Mapping[str, float]]) -> dict[str, float]:
        """Take the counts of one fingering, part by part; its effort, term by term."""
        found = self._by_term[way] = {}
        for counts in parts:
            for name, count in counts.items():
                found[name] = found.get(name, 0.0) + self.weights[name] * count
        return found

    def by_term(self, way: int) -> dict[str, float]:
        """The effort of one fingering, term by term."""
        return self._by_term.get(way) or self.know(way, [part(way) for part in self.parts])


class FingerReasons:
    """Reads reasons for fingers and ways out off a finished search."""

    def __init__(self, plan: Finished) -> None:
        self.plan = plan
        self._locals: dict[tuple[int, Side], Local] = {}

    def of_finger(self, place: int, side: Side, key: int) -> str:
        """Why a struck key of a hand (hand coordinates) gets its finger."""
        choice = self.plan.choices[place]
        local = self._locals.get((place, side))
        if local is None:
            local = self._locals[place, side] = self._local(place, side)
        at, row = choice.deal.handful(side).keys.index(key), choice.row[side]
        other = local.rival(row, at)
        if other is None:
            return ONLY_WAY if len(local.fingers) > 1 else ""
        mine, theirs = local.by_term(row), local.by_term(other)
        gain = {name: more - mine.get(name, 0.0) for name, more in theirs.items()}
        term = max(gain, key=lambda name: gain[name], default="")
        if not term or gain[term] < WORTH_SAYING:
            return ""
        if term == "quick_repeat":
            ahead = self._is_ahead(place, side, other, term)
            return f"{'leaves another' if ahead else 'a new'} finger for the quick repeat"
        if term in ON_BLACK:
            return self._off_black(place, side, at, local.fingers[other], ON_BLACK[term])
        if term in LIFTS:
            return "comes without a lift" if self._comes_by_a_lift(place, side, other) else "goes on without a lift"
        if term in REPEATS:
            return self._of_repeats(place, side, at, local.fingers[other])
        if term in ("shift", "far_shift") and mine.get("shift", 0.0) > SMALL:
            return "nearest: the hand moves less"
        if term == "shift_in_lift" and self._is_ahead(place, side, other, term):
            return "nearest to where the hand goes"
        if term == "fourth_alone" and local.fingers[row][at] == LITTLE:
            return "spares the fourth finger"
        outer = "top" if side == "right" else "bass"
        said = FINGER_REASONS.get(term, "").format(other=local.fingers[other][at], outer=outer)
        # Where another finger on this key would leave it elsewhere.
        return f"so that {said}" if term in PLACED and local.fingers[row][at] != PLACED[term] else said

    def _off_black(self, place: int, side: Side, at: int, rival: Sequence[int], finger: int) -> str:
        """Which black key a rival's thumb or little finger would be on."""
        choice = self.plan.choices[place]
        handful, fingers = choice.deal.handful(side), choice.fingers(side)
        for where, key in enumerate(handful.keys):
            if rival[where] == finger != fingers[where] and handful.struck[where] and is_black(key):
                name = "a black key" if where == at else note_name(self.plan.pitches(place, side)[key])
                return f"keeps the {FINGER_WORDS[finger]} off {name}"
        return ""

    def _of_repeats(self, place: int, side: Side, at: int, rival: Sequence[int]) -> str:
        """Why a finger is better than a rival's where the hand strikes a key again."""
        choice = self.plan.choices[place]
        keys, fingers = choice.deal.handful(side).keys, choice.fingers(side)
        kept: dict[int, int] = {}
        for there in (place - 1, place + 1):
            if not 0 <= there < len(self.plan.choices):
                continue
            neighbour = self.plan.choices[there]
            again = dict(zip(neighbour.deal.handful(side).keys, neighbour.fingers(side), strict=True))
            for where, (mine, theirs) in enumerate(zip(fingers, rival, strict=True)):
                if again.get(keys[where]) == mine != theirs:
                    kept.setdefault(where, there)
        if at in kept:
            return "stays on its key" if kept[at] < place else "can stay on its key"
        if kept:
            return f"so that {note_name(self.plan.pitches(place, side)[keys[max(kept)]])} keeps its finger"
        return "fingers change towards the thumb"

    def _comes_by_a_lift(self, place: int, side: Side, other: int) -> bool:
        """Whether a rival fingering is reached by a lift where the planned one is not."""
        if not place:
            return False
        before, change = self.plan.choices[place - 1].row[side], self.plan.change(place - 1, side)
        by_lift = change.join[before] > change.lift[before]
        return bool(by_lift[other] and not by_lift[self.plan.choices[place].row[side]])

    def _is_ahead(self, place: int, side: Side, other: int, term: str) -> bool:
        """Whether a rival fingering has more of a term on the way out of a chord than on the way into it."""
        row = self.plan.choices[place].row[side]
        into = out = 0.0
        if place:
            before, change = self.plan.choices[place - 1].row[side], self.plan.change(place - 1, side)
            into = change.at(before, other).get(term, 0.0) - change.at(before, row).get(term, 0.0)
        if place + 1 < len(self.plan.choices):
            after, change = self.plan.choices[place + 1].row[side], self.plan.change(place, side)
            out = change.at(other, after).get(term, 0.0) - change.at(row, after).get(term, 0.0)
        return out > into

    def _local(self, place: int, side: Side) -> Local:
        """The effort of every fingering of a hand in a chord between its neighbours."""
        choice, search = self.plan.choices[place], self.plan.search
        own = search.posture(place, side, choice.deal.handful(side))
        effort, chosen = own.effort, choice.row[side]
        parts: list[Callable[[int], Mapping[str, float]]] = [own.counts.at]
        known: list[Mapping[str, float]] = [own.counts.at(chosen)]
        if place:
            before = self.plan.choices[place - 1]
            into, row = self.plan.change(place - 1, side), before.row[side]
            effort = effort + into.least[row]
            parts.append(lambda way: into.at(row, way))
            known.append(self.plan.chosen(place - 1, side))
        if place + 1 < len(self.plan.choices):
            after = self.plan.choices[place + 1]
            out, column = self.plan.change(place, side), after.row[side]
            effort = effort + out.least[:, column]
            parts.append(lambda way: out.at(way, column))
            known.append(self.plan.chosen(place, side))
        local = Local(choice.ways[side].rows, effort.tolist(), parts, self.plan.weights)
        local.know(chosen, known)
        return local

    def _held_by(self, place: int, note_place: int) -> Side | None:
        """The hand that holds a note into a chord, None for a note that starts there or was let go before."""
        chord = self.plan.chords[place]
        if chord.struck[note_place]:
            return None
        earlier = chord.held_over[chord.struck[:note_place].count(False)]
        return self.plan.choices[place - 1].deal.fates[earlier].hand

    def of_way_out(self, place: int, note_place: int) -> str:
        """Why a note was raised, left out or let go; "" where it was not."""
        chord, choice = self.plan.chords[place], self.plan.choices[place]
        note, fate = chord.notes[note_place], choice.deal.fates[note_place]
        struck = chord.struck[note_place]
        for way, what in choice.deal.ways_out:
            held_by = self._held_by(place, note_place)
            if way == "let go" and held_by and fate.hand is None and what in (note_place, held_by):
                return f"let go: no hand can keep {note_name(note.pitch)} under the next notes"
            if what != note_place:
                continue
            if way == "raise":
                return f"{note.voice} out of reach of both hands: up an octave into the {fate.hand} hand"
            if way == "omit":
                return f"{note.voice} out of reach of both hands: left out"
        if fate.hand is None:
            return "let go earlier" if not struck else ""
        if choice.deal.handful(fate.hand).grip.rolled and struck:
            return f"the {fate.hand} hand cannot span the chord: roll it"
        return ""
