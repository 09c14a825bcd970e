"""Why a plan does what it does: each reason is read off the term of effort that decided.

A decision (a finger, a lift, a distribution) is compared with the best that could be done at that place otherwise, the
chords before and after it left as they are. The term in which the other way costs most more is the reason given; where
there is no other way, the reason is what forbids it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from math import inf

from coach.fingering.account import Finished
from coach.fingering.connecting import Connection
from coach.fingering.deals import Deal, Fate, Sounding
from coach.fingering.handful import hand_key
from coach.fingering.intervals import FINGER_WORDS, note_name, octave_up
from coach.fingering.moving import SILENCE
from coach.fingering.plan import After, Side
from coach.fingering.search import FREE, Choice, Limits, Search
from coach.listing import listed
from coach.score.piece import Note

WORTH_SAYING = 0.25
"""A reason is given where the other way costs at least this much more."""


ONLY_WAY = "the only finger that fits between the chords around"

FINGER_REASONS = {
    "stretch": "spares a stretch",
    "strain": "spares a wide stretch",
    "full_stretch": "spares a full stretch",
    "cramp": "room for the fingers: {other} would cramp them",
    "thumb_on_black": "keeps the thumb off a black key",
    "little_on_black": "keeps the little finger off a black key",
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
    "same_finger": "each key gets a finger of its own",
    "broken_line": "lets the {outer} connect",
    "broken_top": "lets the {outer} connect",
    "lift_quick": "saves a quick lift",
    "lift": "saves a lift",
    "lift_long": "saves a lift",
    "chord_lift_quick": "saves a quick lift",
    "chord_lift": "saves a lift",
    "chord_lift_long": "saves a lift",
    "half_lift": "saves a breath over held notes",
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


class Reasons(Finished):
    """Reads reasons for fingers, lifts and ways out off a finished search."""

    def __init__(self, search: Search, choices: Sequence[Choice], limits: Limits = FREE) -> None:
        super().__init__(search, choices, limits)
        self._locals: dict[tuple[int, Side], Local] = {}
        self._spelled: dict[tuple[int, Side], dict[int, str]] = {}

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
                return (
                    f"{FINGER_WORDS[choice.fingers(side)[-1]]} holds {note_name(notes[0])}"
                    if after.grip.kept[-1]
                    else ""
                )
            if max(after.since) - handful.until[-1] > SILENCE:
                held = self._held_into(place + 1, side)
                return f"{listed(held)} {'is' if len(held) == 1 else 'are'} held over the rest"
            return self._joining(place, side)
        if max(after.since) - max(handful.until) > SILENCE:
            return "a rest"
        return f"{self.lifting(place, side)}: {self._against_joining(place, side)}"

    def _outer(self, place: int, side: Side) -> tuple[str, str]:
        """Pitches of a hand's outer voice in a chord and in the next one ("" where it rests)."""
        found = []
        for where in (place, place + 1):
            pitches = self._pitches(where, side) if where < len(self.choices) else {}
            found.append(pitches[max(pitches)] if pitches else "")
        return found[0], found[1]

    def _pitches(self, place: int, side: Side) -> dict[int, str]:
        """Spelled pitches by key in hand coordinates."""
        found = self._spelled.get((place, side))
        if found is None:
            found = self._spelled[place, side] = pitches_of(self.chords[place], self.choices[place].deal, side)
        return found

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

    def lifting(self, place: int, side: Side) -> str:
        """ "lift"; over held notes only the outer voice lifts, which is said."""
        held = self._held_into(place + 1, side)
        return f"lift only the {'top' if side == 'right' else 'bass'}, {' and '.join(held)} held" if held else "lift"

    def _held_into(self, place: int, side: Side) -> list[str]:
        """Names of the notes that a hand holds into a chord."""
        grip = self.choices[place].deal.handful(side).grip
        held = [pitch for key, pitch in self._pitches(place, side).items() if grip.kept[grip.keys.index(key)]]
        return [note_name(pitch) for pitch in reversed(held)]

    def _against_joining(self, place: int, side: Side) -> str:
        connection = connection_of(self.search, place, self.choices[place], self.choices[place + 1], side)
        before, after = self.choices[place], self.choices[place + 1]
        at = before.row[side], after.row[side]
        why = connection.forbidden() or connection.forbidden_between(*at)
        if why:
            return why
        then = self._outer(place, side)[1]
        fingers = f"{before.fingers(side)[-1]}-{after.fingers(side)[-1]}"
        terms = {name: self.weights[name] * count for name, count in connection.change.joined.at(*at).items()}
        worst = max(terms, key=lambda name: terms[name], default="")
        words = {
            "shift": f"the hand moves to {note_name(then)}",
            "far_shift": f"the hand moves to {note_name(then)}",
            "line_stretch": f"joining would stretch {fingers}",
            "line_strain": f"joining would stretch {fingers}",
            "line_cramp": f"joining would cramp {fingers}",
            "crossing": "rather than cross the thumb",
            "crossing_to_black": "rather than cross the thumb to a black key",
            "same_finger": "the inner fingers move to other keys",
            "changed_finger": "the hand takes a new grip",
            "new_grip": "the hand takes a new grip",
            "quick_repeat": "the hand takes a new grip",
            "repeat_upward": "the hand takes a new grip",
        }
        return words.get(worst, "a new group")

    def of_finger(self, place: int, side: Side, key: int) -> str:
        """Why a struck key of a hand (hand coordinates) gets its finger."""
        choice = self.choices[place]
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
        if term in REPEATS:
            return self._of_repeats(place, side, at, local.fingers[other])
        if term in ("shift", "far_shift") and mine.get("shift", 0.0) > SMALL:
            return "nearest: the hand moves less"
        if term == "shift_in_lift" and self._is_ahead(place, side, other, term):
            return "nearest to where the hand goes"
        if term == "fourth_alone" and local.fingers[row][at] == LITTLE:
            return "spares the fourth finger"
        outer = "top" if side == "right" else "bass"
        return FINGER_REASONS.get(term, "").format(other=local.fingers[other][at], outer=outer)

    def _of_repeats(self, place: int, side: Side, at: int, rival: Sequence[int]) -> str:
        """Why a finger is better than a rival's where the hand strikes a key again."""
        choice = self.choices[place]
        keys, fingers = choice.deal.handful(side).keys, choice.fingers(side)
        kept: list[int] = []
        for there in (place - 1, place + 1):
            if not 0 <= there < len(self.choices):
                continue
            neighbour = self.choices[there]
            again = dict(zip(neighbour.deal.handful(side).keys, neighbour.fingers(side), strict=True))
            for where, (mine, theirs) in enumerate(zip(fingers, rival, strict=True)):
                if again.get(keys[where]) == mine != theirs:
                    kept.append(where)
        if at in kept:
            return "stays on its key"
        if kept:
            return f"so that {note_name(self._pitches(place, side)[keys[kept[-1]]])} keeps its finger"
        return "fingers change towards the thumb"

    def _is_ahead(self, place: int, side: Side, other: int, term: str) -> bool:
        """Whether a rival fingering has more of a term on the way out of a chord than on the way into it."""
        row = self.choices[place].row[side]
        into = out = 0.0
        if place:
            before, change = self.choices[place - 1].row[side], self.change(place - 1, side)
            into = change.at(before, other).get(term, 0.0) - change.at(before, row).get(term, 0.0)
        if place + 1 < len(self.choices):
            after, change = self.choices[place + 1].row[side], self.change(place, side)
            out = change.at(other, after).get(term, 0.0) - change.at(row, after).get(term, 0.0)
        return out > into

    def _local(self, place: int, side: Side) -> Local:
        """The effort of every fingering of a hand in a chord between its neighbours."""
        choice, search = self.choices[place], self.search
        own = search.posture(place, side, choice.deal.handful(side))
        effort, chosen = own.effort, choice.row[side]
        parts: list[Callable[[int], Mapping[str, float]]] = [own.counts.at]
        known: list[Mapping[str, float]] = [own.counts.at(chosen)]
        if place:
            before = self.choices[place - 1]
            into, row = self.change(place - 1, side), before.row[side]
            effort = effort + into.least[row]
            parts.append(lambda way: into.at(row, way))
            known.append(self.chosen(place - 1, side))
        if place + 1 < len(self.choices):
            after = self.choices[place + 1]
            out, column = self.change(place, side), after.row[side]
            effort = effort + out.least[:, column]
            parts.append(lambda way: out.at(way, column))
            known.append(self.chosen(place, side))
        local = Local(choice.ways[side].rows, effort.tolist(), parts, self.weights)
        local.know(chosen, known)
        return local

    def _held_by(self, place: int, note_place: int) -> Side | None:
        """The hand that holds a note into a chord, None for a note that starts there or was let go before."""
        chord = self.chords[place]
        if chord.struck[note_place]:
            return None
        earlier = chord.held_over[chord.struck[:note_place].count(False)]
        return self.choices[place - 1].deal.fates[earlier].hand

    def of_way_out(self, place: int, note_place: int) -> str:
        """Why a note was raised, left out or let go; "" where it was not."""
        chord, choice = self.chords[place], self.choices[place]
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


def pitches_of(chord: Sounding, deal: Deal, side: Side) -> dict[int, str]:
    """Spelled pitches of a hand's keys in a deal, by key in hand coordinates."""
    return {
        hand_key(side, fate.key): played(note, fate)
        for note, fate in zip(chord.notes, deal.fates, strict=True)
        if fate.hand == side
    }


def connection_of(search: Search, place: int, before: Choice, after: Choice, side: Side) -> Connection:
    """A hand's way from a chord to the next; it plays in both."""
    pitches, next_pitches = (
        pitches_of(search.chords[where], choice.deal, side) for where, choice in ((place, before), (place + 1, after))
    )
    now, then = before.deal.handful(side), after.deal.handful(side)
    return Connection(side, search.move(side, before, after), now, then, pitches, next_pitches)


def played(note: Note, fate: Fate) -> str:
    """The pitch that is played: the written one, or an octave above it."""
    return note.pitch if fate.key == note.midi else octave_up(note.pitch)
