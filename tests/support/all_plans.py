"""Every plan of a short phrase, one after the other: what an exact search is held against.

Hands, ways out and fingers are enumerated here by trying everything; the planner's terms of effort only price what was
found. Nothing is left out to save time, so phrases must be short.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from itertools import product

import numpy as np
from numpy.typing import NDArray

from coach.fingering.deals import Deal, Fate, changes_hands, dealing_terms, sounding
from coach.fingering.hand import Hand, Hands
from coach.fingering.handful import Grip, Handful
from coach.fingering.keyboard import Keyboard, is_black
from coach.fingering.plan import SIDES, Side
from coach.fingering.search import Choice, Options, Search
from coach.score.piece import Chord, Note

MOST_WAYS_OUT = 4

Fingers = tuple[int, ...]


@dataclass(frozen=True)
class Dealt:
    """One chord dealt out.

    Attributes:
        hands: Who plays each note of the chord, None where it is left out.
        keys: The key that each note is played on.
        ways_out: What was done to get there.
        let_go: How many notes were let go.
        rolled: The hands that roll.
    """

    hands: tuple[Side | None, ...]
    keys: tuple[int, ...]
    ways_out: tuple[tuple[str, object], ...]
    let_go: int
    rolled: frozenset[Side]


Page = dict[tuple[str, Fraction, int], Side]
"""The hand that each note is written for, by its voice, its onset and its key."""


def hands_on_the_page(phrase: Sequence[Chord]) -> Page:
    """By their staves; without, by the names of a choir of soprano, alto, tenor and bass, else by how many voices lie
    higher and lower than a note's own."""
    notes = [note for chord in phrase for note in chord.struck]
    voices = {note.voice: [other for other in notes if other.voice == note.voice] for note in notes if not note.staff}
    mean = {
        voice: sum(n.midi * n.duration for n in own if not n.staff) / sum(n.duration for n in own if not n.staff)
        for voice, own in voices.items()
    }

    def upper(voice: str) -> bool:
        if all(name in ("soprano", "alto", "tenor", "bass") for name in mean):
            return voice in ("soprano", "alto")
        here = (-mean[voice], voice)
        higher = [name for name in mean if (-mean[name], name) < here]
        lower = [name for name in mean if (-mean[name], name) > here]
        if len(higher) != len(lower):
            return len(higher) < len(lower)
        if not higher:
            return mean[voice] >= 60
        return min(mean[name] for name in higher) - mean[voice] <= mean[voice] - max(mean[name] for name in lower)

    return {
        (n.voice, n.onset, n.midi): "right" if (n.staff == 1 if n.staff else upper(n.voice)) else "left" for n in notes
    }


def ways_to_deal(chord: Chord, before: Chord | None, was: Dealt | None, page: Page | None) -> Iterator[Dealt]:
    """Every way to deal out a chord after the one before it was dealt out so, whatever ways out it takes."""
    notes = chord.notes
    start: list[tuple[Side | None, int] | None] = []
    for note in notes:
        if any(note is struck for struck in chord.struck):
            start.append(None)
        else:
            assert before is not None
            assert was is not None
            place = next(i for i, earlier in enumerate(before.notes) if earlier is note)
            start.append((was.hands[place], was.keys[place]))
    written = [note.midi if fate is None else fate[1] for note, fate in zip(notes, start, strict=True)]
    sounding_keys = [key for key, fate in zip(written, start, strict=True) if fate is None or fate[0] is not None]
    holding = {side: [i for i, fate in enumerate(start) if fate and fate[0] == side] for side in SIDES}
    can_drop = [side for side in SIDES if len(holding[side]) > 1]
    for dropped in _subsets(can_drop):
        options = [
            _fortunes(key, fate, fate is not None and fate[0] in dropped, sounding_keys, page is not None)
            for key, fate in zip(written, start, strict=True)
        ]
        for fortunes in product(*options):
            keys = tuple(key + 12 * (what == "raise") for key, what in zip(written, fortunes, strict=True))
            taken: list[tuple[str, object]] = [("let go", side) for side in dropped]
            taken += [(what, i) for i, what in enumerate(fortunes) if what in ("raise", "omit", "let go")]
            let_go = sum(what in ("let go", "dropped") for what in fortunes)
            for hands in _givings(notes, keys, start, fortunes, page):
                for rolled in _subsets(SIDES):
                    rolls: list[tuple[str, object]] = [("roll", side) for side in rolled]
                    yield Dealt(hands, keys, tuple(taken + rolls), let_go, frozenset(rolled))


def _fortunes(
    key: int, fate: tuple[Side | None, int] | None, dropped: bool, keys: Sequence[int], as_written: bool
) -> list[str]:
    """What can become of a note."""
    if fate is not None:
        return ["gone"] if fate[0] is None else ["dropped"] if dropped else ["keep", "let go"]
    if as_written or not min(keys) < key < max(keys):
        return ["play"]
    return ["play", "omit", *(["raise"] if key + 12 < max(keys) else [])]


def _givings(
    notes: Sequence[Note],
    keys: Sequence[int],
    start: Sequence[tuple[Side | None, int] | None],
    fortunes: Sequence[str],
    page: Page | None,
) -> Iterator[tuple[Side | None, ...]]:
    """Who plays what: held notes stay in their hand, and the hands do not cross."""
    options: list[tuple[Side | None, ...]] = []
    for note, fate, what in zip(notes, start, fortunes, strict=True):
        if what not in ("play", "raise", "keep"):
            options.append((None,))
        elif fate is not None:
            options.append((fate[0],))
        elif page is not None:
            options.append((page[note.voice, note.onset, note.midi],))
        else:
            options.append(SIDES)
    for hands in product(*options):
        right = [key for key, hand in zip(keys, hands, strict=True) if hand == "right"]
        left = [key for key, hand in zip(keys, hands, strict=True) if hand == "left"]
        if page is not None or not right or not left or min(right) > max(left):
            yield hands


def _subsets(sides: Sequence[Side]) -> list[tuple[Side, ...]]:
    return [
        tuple(s for s, there in zip(sides, bits, strict=True) if there) for bits in product((0, 1), repeat=len(sides))
    ]


@cache
def fingerings(grip: Grip, hand: Hand, keyboard: Keyboard) -> tuple[Fingers, ...]:
    """Every fingering of a grip, found by trying all."""
    return tuple(
        fingers
        for fingers in product(range(1, 6), repeat=len(grip.keys))
        if _in_order(grip, fingers) and _within_the_hand(grip, fingers, hand, keyboard)
    )


def _in_order(grip: Grip, fingers: Fingers) -> bool:
    for place in range(1, len(fingers)):
        if fingers[place - 1] == fingers[place]:
            low, high = grip.keys[place - 1], grip.keys[place]
            if place > 1 or fingers[place] != 1 or is_black(low) or is_black(high) or high - low > 2:
                return False
        elif fingers[place - 1] > fingers[place]:
            return False
    return True


def _within_the_hand(grip: Grip, fingers: Fingers, hand: Hand, keyboard: Keyboard) -> bool:
    for high in range(len(fingers)):
        for low in range(high):
            if fingers[low] == fingers[high]:
                continue
            if grip.rolled and not (grip.kept[low] or grip.kept[high]):
                continue
            spans = hand.spans(fingers[low], fingers[high])
            one, other = grip.keys[low], grip.keys[high]
            if keyboard.distance_mm(one, other) > spans.most_practical + 1e-6 or other - one < spans.least_practical:
                return False
    return True


@dataclass(frozen=True)
class Played:
    """One hand's way through the chords so far: every sequence of fingerings and what each costs.

    Attributes:
        handfuls: What the hand had to do in each chord, None where it rests.
        cost: Effort of every sequence of fingerings, an axis for each chord that the hand plays in; infinite where the
            hand cannot do it.
    """

    handfuls: tuple[Handful | None, ...]
    cost: NDArray[np.float64]


@dataclass(frozen=True)
class Line:
    """A way to deal out the chords so far, with every fingering of both hands."""

    dealt: tuple[Dealt, ...]
    hands: dict[Side, Played]
    dealing: float

    @property
    def least(self) -> float:
        return self.dealing + sum(float(self.hands[side].cost.min()) for side in SIDES)


class AllPlans:
    """All plans of a phrase.

    Args:
        phrase: Its chords.
        hands: The player.
        options: The player's wishes.
    """

    def __init__(self, phrase: Sequence[Chord], hands: Hands, options: Options) -> None:
        self.phrase = phrase
        self.hands = hands
        self.options = options
        # For prices alone: the terms of effort and the frame that one of them looks at.
        self.prices = Search(phrase, hands, options)
        self.page = hands_on_the_page(phrase) if options.as_written else None

    def lines(self) -> list[Line]:
        """Every line that can be played, ways out admitted chord by chord, as few as will do."""
        nothing = Played((), np.zeros(()))
        lines = [Line((), {"right": nothing, "left": nothing}, 0.0)]
        for place in range(len(self.phrase)):
            for ways_out in range(MOST_WAYS_OUT + 1):
                found = [
                    grown
                    for each in lines
                    for dealt in self._after(place, each)
                    if len(dealt.ways_out) == ways_out and (grown := self._grown(each, dealt)) is not None
                ]
                if found:
                    break
            else:
                return []
            lines = found
        return lines

    def _after(self, place: int, each: Line) -> Iterator[Dealt]:
        before = self.phrase[place - 1] if place else None
        was = each.dealt[-1] if place else None
        return ways_to_deal(self.phrase[place], before, was, self.page)

    def _grown(self, each: Line, dealt: Dealt) -> Line | None:
        place = len(each.dealt)
        handfuls = {side: self._handful(place, dealt, side) for side in SIDES}
        for side, handful in handfuls.items():
            if side in dealt.rolled and not self._must_roll(side, handful):
                return None
        hands = {side: self._played(side, each.hands[side], handfuls[side]) for side in SIDES}
        if not all(played.cost.size and np.isfinite(played.cost).any() for played in hands.values()):
            return None
        return Line((*each.dealt, dealt), hands, each.dealing + self._dealing(each, dealt, handfuls))

    def _handful(self, place: int, dealt: Dealt, side: Side) -> Handful | None:
        chord = self.phrase[place]
        on_key: dict[int, list[Note]] = {}
        for note, hand, key in zip(chord.notes, dealt.hands, dealt.keys, strict=True):
            if hand == side:
                on_key.setdefault(key if side == "right" else 124 - key, []).append(note)
        if not on_key:
            return None
        keys = sorted(on_key)
        grip = Grip(
            keys=tuple(keys),
            struck=tuple(any(note.onset == chord.onset for note in on_key[key]) for key in keys),
            kept=tuple(any(note.onset != chord.onset for note in on_key[key]) for key in keys),
            rolled=side in dealt.rolled,
        )
        since = tuple(max(float(note.onset) for note in on_key[key]) for key in keys)
        return Handful(grip, since, tuple(max(float(note.end) for note in on_key[key]) for key in keys))

    def _must_roll(self, side: Side, handful: Handful | None) -> bool:
        """A roll needs two keys to strike, and is a way out only where the hand cannot span them."""
        if handful is None or sum(handful.grip.struck) < 2:
            return False
        grip = handful.grip
        at_once = Grip(grip.keys, grip.struck, grip.kept)
        return not fingerings(at_once, self.hands.hand(side), self.hands.keyboard)

    def _played(self, side: Side, before: Played, handful: Handful | None) -> Played:
        if handful is None:
            return Played((*before.handfuls, None), before.cost)
        effort = self.prices.efforts[side]
        rows = self._rows(side, handful)
        own = self.prices.posture(len(before.handfuls), side, handful).effort[rows]
        cost = before.cost[..., None] + own
        last = next((each for each in reversed(before.handfuls) if each is not None), None)
        if last is not None:
            rested = before.handfuls[-1] is None
            change = effort.change(Handful(Grip((), (), ()), memory=last) if rested else last, handful)
            cost = cost + change.least[np.ix_(self._rows(side, last), rows)]
        return Played((*before.handfuls, handful), cost)

    def _rows(self, side: Side, handful: Handful) -> list[int]:
        """Where the planner's terms keep the price of each fingering that was found here."""
        theirs = {
            tuple(map(int, row)): place for place, row in enumerate(self.prices.efforts[side].ways(handful).fingers)
        }
        mine = fingerings(handful.grip, self.hands.hand(side), self.hands.keyboard)
        assert sorted(mine) == sorted(theirs), f"fingerings of {handful.grip}"
        return [theirs[fingers] for fingers in mine]

    def _dealing(self, each: Line, dealt: Dealt, handfuls: dict[Side, Handful | None]) -> float:
        weights, place = self.prices.weights, len(each.dealt)
        deal = self._deal(dealt, handfuls)
        terms = dealing_terms(deal, self.options.as_written, self.options.preference)
        effort = sum(weights[name] * count for name, count in terms.items())
        if place and not self.options.as_written:
            earlier = {side: each.hands[side].handfuls[-1] for side in SIDES}
            chord = sounding(self.phrase[place], self.phrase[place - 1])
            before_this = self._deal(each.dealt[-1], earlier)
            if changes_hands(before_this, chord, deal):
                effort += weights["redistribution"]
                alone = [{side for side in SIDES if one.handful(side).keys} for one in (before_this, deal)]
                if alone in ([{"right"}, {"left"}], [{"left"}, {"right"}]):
                    effort += weights["handed_over"]
        return effort

    def _deal(self, dealt: Dealt, handfuls: dict[Side, Handful | None]) -> Deal:
        resting = Handful(Grip((), (), ()))
        return Deal(
            fates=tuple(Fate(hand, key) for hand, key in zip(dealt.hands, dealt.keys, strict=True)),
            right=handfuls["right"] or resting,
            left=handfuls["left"] or resting,
            ways_out=dealt.ways_out,  # type: ignore[arg-type]
            let_go=dealt.let_go,
        )

    def price(self, lines: Sequence[Line], choices: Sequence[Choice]) -> float:
        """What the planner's choices cost as one of the lines; infinite where they are none of them."""
        wanted = [
            (
                tuple(fate.hand for fate in choice.deal.fates),
                tuple(fate.key for fate in choice.deal.fates),
                frozenset(side for side in SIDES if choice.deal.handful(side).grip.rolled),
            )
            for choice in choices
        ]
        prices = [np.inf]
        for each in lines:
            if [(dealt.hands, dealt.keys, dealt.rolled) for dealt in each.dealt] != wanted:
                continue
            price = each.dealing
            for side in SIDES:
                played = each.hands[side]
                at = tuple(
                    fingerings(handful.grip, self.hands.hand(side), self.hands.keyboard).index(choice.fingers(side))
                    for handful, choice in zip(played.handfuls, choices, strict=True)
                    if handful is not None
                )
                price += float(played.cost[at])
            prices.append(price)
        return min(prices)
