"""Why a finger plays a key, and why a note takes a way out: read off the term of effort that decided.

A finger is compared with the best that could be done with another one on its key while the note sounds. The term in
which the other way costs most more is the reason given, with the fingers and keys that it means.
"""

from __future__ import annotations

from collections.abc import Hashable
from itertools import product
from typing import NamedTuple

from coach.fingering.finished import Finished
from coach.fingering.instead import ALIKE, Instead, Spot
from coach.fingering.intervals import FINGER_WORDS, interval_name, note_name, with_article
from coach.fingering.keyboard import OCTAVE
from coach.fingering.plan import Side
from coach.fingering.rivals import Rival, Rivals
from coach.fingering.terms import LIFTS, QUICK_REPEATS, SHIFTS
from coach.listing import listed

ONLY_WAY = "the only finger that fits"

STAYS = "stays on its key"

TOWARDS_THE_THUMB = "fingers change towards the thumb"
"""Of a key that is struck again with another finger."""

AS_GOOD_AS = "as good as"
"""How the reason begins of a finger in whose stead another one would do; which one follows."""

CONNECTS = "connects"
"""How the reason of an outer finger begins that says no more than its hand's own: "connects 5-4"."""

FINGER_REASONS = {
    "stretch": "spares a stretch",
    "strain": "spares a wide stretch",
    "full_stretch": "spares a full stretch",
    "cramp": "gives room: {pair} on {keys} would be cramped",
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
    "line_stretch_quick": "connects the {outer} without a stretch",
    "line_strain": "connects the {outer} without a wide stretch",
    "line_cramp": "leaves room to connect the {outer}",
    "crossing": "saves a crossing of the thumb",
    "crossing_to_black": "keeps the crossing thumb off a black key",
    "same_finger": "leaves each key a finger of its own",
    "far_from_top": "keeps the notes to come within reach",
    "far_from_bottom": "keeps the notes to come within reach",
    "repeats_ahead": "leaves fingers for the repeats to come",
    "off_step": "each key its nearest finger",
    "off_step_quick": "each key its nearest finger",
    "off_grip": "the fingers lie over their keys",
    "hop": "saves a hop on one finger",
    "far_shift": "nearest: the hand stays where it is",
    "shift_quick": "nearest: the hand stays where it is",
    "far_shift_quick": "nearest: the hand stays where it is",
}
"""Why a finger plays a key, by the term in which the best other finger there costs most more: {other} is that finger,
{outer} the hand's outer voice, {pair} the fingers that would be on {keys}."""

PLAIN = frozenset(
    ("stretch", "strain", "full_stretch", "weak_neighbours", "double_thumb", "off_frame", "same_finger", "off_grip")
)
"""Terms of which the same is said in whatever key and with whatever finger."""

ON_BLACK = {"thumb_on_black": 1, "little_on_black": 5}
"""Terms of fingers on black keys, and the finger."""

PLACED = {"thumb_unused": 1, "little_unused": 5}
"""Terms of the hand's outer fingers on its outer keys, and the finger."""

REPEATS = frozenset(("changed_finger", "new_grip", "repeat_upward"))
"""Terms of keys that are struck again: which key it is decides the reason."""

LITTLE = 5

SMALL = 1e-6
"""Effort that is none."""


class Said(NamedTuple):
    """What is said of a finger.

    Attributes:
        text: The reason.
        fact: What it rests on; "" where no other finger of the chord can rest on the same.
        about: The key of the same chord (hand coordinates) that the fact is about; None for the finger's own.
    """

    text: str
    fact: Hashable = ""
    about: int | None = None


NOTHING = Said("")


class FingerReasons:
    """Reads reasons for fingers and ways out off a finished search."""

    def __init__(self, plan: Finished) -> None:
        self.plan = plan
        self._rivals = Rivals(plan)
        self._said: dict[tuple[int, Side], dict[int, Said]] = {}

    def of_finger(self, place: int, side: Side, key: int) -> str:
        """Why a struck key of a hand (hand coordinates) gets its finger; "" where that is said of another key.

        A fact about one note of a chord is said of that note alone.
        """
        said = self._said.get((place, side))
        if said is None:
            handful = self.plan.choices[place].deal.handful(side)
            struck = [one for one, is_struck in zip(handful.keys, handful.struck, strict=True) if is_struck]
            said = self._said[place, side] = {one: self._of_finger(place, side, one) for one in struck}
        own = said[key]
        if own.about in said and own.about != key and said[own.about].fact == own.fact:
            return ""
        return own.text

    def _of_finger(self, place: int, side: Side, key: int) -> Said:
        if self._stays(place, side, key):
            return Said(STAYS, ("again", place - 1, key))
        rival = self._rivals.of(place, side, key)
        if rival is None:
            return Said(self._only(place, side, key))
        if rival.more < ALIKE:
            at = self.plan.choices[place].deal.handful(side).keys.index(key)
            return Said(f"{AS_GOOD_AS} {rival.way.fingers(place)[at]}")
        return _Compared(self.plan, place, side, key, rival).said()

    def _stays(self, place: int, side: Side, key: int) -> bool:
        """Whether a struck key has the finger that it had in the chord before: that says enough."""
        if not place:
            return False
        before, here = self.plan.choices[place - 1], self.plan.choices[place]
        keys, now = self.plan.keys(place - 1, side), self.plan.keys(place, side)
        return key in keys and before.fingers(side)[keys.index(key)] == here.fingers(side)[now.index(key)]

    def _only(self, place: int, side: Side, key: int) -> str:
        """What leaves a key no other finger."""
        choice = self.plan.choices[place]
        handful, ways = choice.deal.handful(side), choice.ways[side]
        if len(ways) == 1 == len(handful.keys):
            return ""
        pitches, at = self.plan.pitches(place, side), handful.keys.index(key)
        if (ways.fingers[:, at] != choice.fingers(side)[at]).any():
            held = [note_name(pitches[one]) for one, kept in zip(handful.keys, handful.grip.kept, strict=True) if kept]
            return f"{ONLY_WAY} while {listed(held)} {_are(held)} held" if held else f"{ONLY_WAY} beside held notes"
        low, high = handful.keys[0], handful.keys[-1]
        if high - low >= OCTAVE:
            return f"{ONLY_WAY}: the hand spans {with_article(interval_name(pitches[low], pitches[high]))}"
        return ONLY_WAY

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


class _Compared:
    """A finger beside the best other one on its key.

    Args:
        plan: The plan.
        place, side, key: Whose finger it is: a key that the hand strikes in this chord (hand coordinates).
        rival: The best way with another finger there.
    """

    def __init__(self, plan: Finished, place: int, side: Side, key: int, rival: Rival) -> None:
        self.plan, self.place, self.side, self.key = plan, place, side, key
        self.rival, self.more = rival
        self.choice = plan.choices[place]
        self.at = self.choice.deal.handful(side).keys.index(key)
        self.finger = self.choice.fingers(side)[self.at]

    def said(self) -> Said:
        """Why the finger plays the key."""
        lifts = self.rival.lifts
        if lifts:
            nearest = min(lifts, key=lambda at: abs(at - self.place))
            if self._lift_effort(nearest) >= self.more / 2:
                return self._of_join(nearest)
        return self._of_most(self.rival)

    def _lift_effort(self, place: int) -> float:
        """What a lift out of a chord costs, whatever fingers."""
        lifting = self.plan.change(place, self.side).lifting
        return sum([self.plan.weights[name] * count for name, count in lifting.everywhere.items()])

    def _of_most(self, rival: Instead) -> Said:
        """The term in which a way costs most more, lifts left out."""
        grown = {name: more for name, more in rival.grown.items() if name not in LIFTS}
        term = max(grown, key=grown.__getitem__, default="")
        if not term or grown[term] < ALIKE:
            return NOTHING
        return self._of_term(term, rival)

    def _of_term(self, term: str, rival: Instead) -> Said:
        if term in QUICK_REPEATS:
            return Said(f"{'leaves another' if self._is_ahead(term, rival) else 'a new'} finger for the quick repeat")
        if term in PLAIN and len(rival.rows) == 1:
            # Nothing to name, and nowhere else that it could be.
            return Said(FINGER_REASONS[term])
        spot = rival.spot(term)
        where = self._where(spot)
        if term in ON_BLACK and spot.at is not None:
            return self._off_black(ON_BLACK[term], spot, where)
        if term in REPEATS and spot.at is not None:
            return self._of_repeat(spot, where)
        if term in SHIFTS and self._planned(term.removeprefix("far_"), rival) > SMALL:
            return Said(f"nearest: the hand moves less{where}")
        if term == "shift_in_lift" and self._is_ahead(term, rival):
            return Said(f"nearest to where the hand goes{where}")
        if term == "fourth_alone" and self.finger == LITTLE and not where:
            return Said("spares the fourth finger")
        other = rival.fingers(self.place)[self.at]
        pair, keys = self._pair(spot, rival)
        outer = "top" if self.side == "right" else "bass"
        said = FINGER_REASONS.get(term, "").format(other=other, outer=outer, pair=pair, keys=keys)
        # Where another finger on this key would leave it elsewhere.
        far = term in PLACED and (self.finger != PLACED[term] or where)
        return Said(f"{'so that ' if far else ''}{said}{where}" if said else "")

    def _pair(self, spot: Spot, rival: Instead) -> tuple[str, str]:
        """The fingers and the keys of a chord that another way costs so."""
        if spot.moving or spot.at is None or spot.other is None:
            return "", ""
        fingers = rival.fingers(spot.place)
        names = [self._name(spot.place, at) for at in (spot.at, spot.other)]
        return f"{fingers[spot.at]}-{fingers[spot.other]}", listed(names)

    def _where(self, spot: Spot) -> str:
        """Where it is, in brackets, unless it is at this chord or on the way into it or out of it."""
        near = spot.place in (self.place - 1, self.place) if spot.moving else spot.place == self.place
        return "" if near else f" ({self.plan.where(spot.place + spot.moving, self.place)})"

    def _off_black(self, finger: int, spot: Spot, where: str) -> Said:
        """Which black key the rival's thumb or little finger would be on."""
        assert spot.at is not None
        key, word = self._keys(spot.place)[spot.at], FINGER_WORDS[finger]
        if spot.place != self.place:
            return Said(f"keeps the {word} off {self._name(spot.place, spot.at)}{where}")
        if key == self.key:
            return Said(f"keeps the {word} off a black key", ("black", key))
        return Said(f"keeps the {word} off {self._name(spot.place, spot.at)}", ("black", key), key)

    def _of_repeat(self, spot: Spot, where: str) -> Said:
        """Which key that is struck again would change its finger, or which way fingers change on it."""
        assert spot.at is not None
        assert spot.other is not None
        key = self._keys(spot.place)[spot.at]
        fact = "again", spot.place, key
        before, after = (self.plan.choices[at].fingers(self.side) for at in (spot.place, spot.place + 1))
        if before[spot.at] != after[spot.other]:
            return Said(f"{TOWARDS_THE_THUMB}{where}", fact, key)
        if key == self.key:
            return Said(STAYS if spot.place < self.place else "can stay on its key", fact)
        return Said(f"so that {self._name(spot.place, spot.at)} keeps its {before[spot.at]}{where}", fact, key)

    def _of_join(self, place: int) -> Said:
        """What becomes of the keys where the rival has to lift and the plan joins."""
        row, next_row = self.rival.row(place), self.rival.row(place + 1)
        change = self.plan.change(place, self.side)
        if change.join[row, next_row] < float("inf"):
            return self._of_most(Instead(self.plan, self.side, self.rival.rows, joined=place))
        keys, next_keys = self._keys(place), self._keys(place + 1)
        theirs = self.rival.fingers(place), self.rival.fingers(place + 1)
        found = [
            (at, next_at)
            for (at, next_at), pairing in zip(
                product(range(len(keys)), range(len(next_keys))), change.joining.pairings, strict=True
            )
            if pairing is not None
            and pairing.can is not None
            and not pairing.can[theirs[0][at] - 1, theirs[1][next_at] - 1]
        ]
        if not found:
            return NOTHING
        # What this note itself stands in the way of comes first.
        at, next_at = max(found, key=lambda one: (self.key in (keys[one[0]], next_keys[one[1]]), one))
        return self._joining(place, at, next_at, theirs)

    def _joining(self, place: int, at: int, next_at: int, theirs: tuple[tuple[int, ...], tuple[int, ...]]) -> Said:
        """What the finger leaves to the hand on its way from a chord to the next.

        Args:
            place: The first of the two.
            at, next_at: The outer key, and the key of the next chord that the rival cannot join to it.
            theirs: The rival's fingers in both.
        """
        key, next_key = self._keys(place)[at], self._keys(place + 1)[next_at]
        finger, following = (
            self.plan.choices[where].fingers(self.side)[there] for where, there in ((place, at), (place + 1, next_at))
        )
        here, there = self._name(place, at), self._name(place + 1, next_at)
        where = self._where(Spot(place, True))
        changed = theirs[0][at] != finger
        fact = "join", place, at, next_at
        connects = next_at + 1 == len(self._keys(place + 1))
        if connects and self.key in (key, next_key):
            return Said(f"{CONNECTS} {finger}-{following}{where}", fact)
        if not changed and theirs[1][next_at] == following:
            return NOTHING
        if connects:
            return Said(
                f"leaves {finger if changed else following} for {here if changed else there}, which connects{where}",
                fact,
                key if changed else next_key,
            )
        if self.key == next_key and place + 1 == self.place:
            same = theirs[1][next_at] == finger
            return Said(f"{'free' if same else 'in reach'} while {finger} holds {here}", fact)
        if changed:
            goes = f"so that {following} can go to {there}"
            return Said(f"{goes if self.key == key else f'leaves {finger} for {here}, {goes}'}{where}", fact, key)
        return Said(f"leaves {following} for {there} while {finger} holds {here}{where}", fact, next_key)

    def _keys(self, place: int) -> tuple[int, ...]:
        return self.plan.keys(place, self.side)

    def _name(self, place: int, at: int) -> str:
        return self.plan.name(place, self.side, at)

    def _planned(self, term: str, rival: Instead) -> float:
        """How much of a term the plan has where the rival goes another way, in effort."""
        return self.plan.weights[term] * sum([part.mine.get(term, 0.0) for part in rival.parts])

    def _is_ahead(self, term: str, rival: Instead) -> bool:
        """Whether a rival has more of a term on the way out of the chord than on the way into it."""
        into = out = 0.0
        for place, moving, theirs, mine in rival.parts:
            more = theirs.get(term, 0.0) - mine.get(term, 0.0) if moving else 0.0
            into, out = (into + more, out) if place < self.place else (into, out + more)
        return out > into


def _are(names: list[str]) -> str:
    return "is" if len(names) == 1 else "are"
