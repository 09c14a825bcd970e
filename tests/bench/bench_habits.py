"""How much nearer habits bring the coach's plans to a player's, over simulated players with ways of their own.

Each player weighs the terms of effort otherwise than the coach, some half, some double. In some chorales the player
puts right the first fingers of every phrase that they would play otherwise; the share of struck notes on which the
coach then agrees with them is measured in other chorales, before and after the habits count.

python tests/bench/bench_habits.py [--players N]
"""

from __future__ import annotations

import argparse
import random
from collections.abc import Iterator

from coach.fingering.choices import Fix, of_note
from coach.fingering.habits import Lesson, habits_of, lesson_of
from coach.fingering.hand import Hands
from coach.fingering.limits import can_be
from coach.fingering.plan import PhrasePlan
from coach.fingering.planner import Options, plan_phrase
from coach.fingering.search import search_of
from coach.fingering.terms import RANKING
from coach.fingering.weights import WEIGHTS, Weights
from coach.score.chorales import catalogue
from coach.score.library import open_piece
from coach.score.phrases import find_phrases
from coach.score.piece import Chord, Phrase, chords_of

FACTORS = (0.5, 0.5, 1.0, 1.0, 1.0, 2.0, 2.0)

CORRECTED = 4
"""Fingers that the player puts right in a phrase."""


def phrases_of(names: list[str]) -> Iterator[tuple[Phrase, tuple[Chord, ...]]]:
    for name in names:
        piece = open_piece(name)
        for phrase in find_phrases(piece):
            chords = chords_of(piece, phrase)
            if chords:
                yield phrase, chords


def lessons(phrase: Phrase, chords: tuple[Chord, ...], player: Weights) -> Iterator[Lesson]:
    """What the player's corrections of one phrase say."""
    search = search_of(chords, Hands(), Options())
    wanted = plan_phrase(phrase, chords, None, Options(own_weights=player))
    fixes: list[Fix] = []
    while len(fixes) < CORRECTED:
        shown = plan_phrase(phrase, chords, None, Options(choices=tuple(fixes)))
        fix = next((one for one in corrections(shown, wanted, chords) if can_be(search, [*fixes, one])), None)
        if fix is None or fix.what in {one.what for one in fixes}:
            return
        lesson = lesson_of(search, fixes, fix)
        if lesson is not None:
            yield lesson
        fixes.append(fix)


def corrections(shown: PhrasePlan, wanted: PhrasePlan, chords: tuple[Chord, ...]) -> Iterator[Fix]:
    for now, then, chord in zip(shown.chords, wanted.chords, chords, strict=True):
        for here, there, note in zip(now.notes, then.notes, chord.notes, strict=True):
            if here.struck and there.finger is not None and here.finger != there.finger:
                yield of_note(note, there.finger)


def agreement(names: list[str], coach: Weights, player: Weights) -> float:
    """Share of struck notes with the same hand and finger."""
    same = total = 0
    for phrase, chords in phrases_of(names):
        plans = [plan_phrase(phrase, chords, None, Options(own_weights=weights)) for weights in (coach, player)]
        for one, other in zip(plans[0].chords, plans[1].chords, strict=True):
            for here, there in zip(one.notes, other.notes, strict=True):
                total += here.struck
                same += here.struck and (here.hand, here.finger) == (there.hand, there.finger)
    return same / total


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--players", type=int, default=6, metavar="N")
    parser.add_argument("--seed", type=int, default=100)
    arguments = parser.parse_args()
    names = [chorale.name for chorale in catalogue()]
    shown, unseen = names[20:26], names[40:46]
    befores, afters = [], []
    for number in range(arguments.players):
        order = random.Random(arguments.seed + number)
        player = Weights(
            {term: value * (1 if term in RANKING else order.choice(FACTORS)) for term, value in WEIGHTS.items()}
        )
        pieces = [
            [lesson for phrase, chords in phrases_of([name]) for lesson in lessons(phrase, chords, player)]
            for name in shown
        ]
        habits = habits_of(pieces, WEIGHTS)
        befores.append(agreement(unseen, WEIGHTS, player))
        afters.append(agreement(unseen, habits.applied(WEIGHTS), player))
        count = sum(map(len, pieces))
        print(
            f"player {number + 1}: {count} choices, {len(habits.habits)} habits; "
            f"agreement in other chorales {befores[-1]:.1%} before, {afters[-1]:.1%} after"
        )
        for sentence in habits.sentences[:2]:
            print(f"    {sentence}")
    print(f"mean {sum(befores) / len(befores):.1%} before, {sum(afters) / len(afters):.1%} after")


if __name__ == "__main__":
    main()
