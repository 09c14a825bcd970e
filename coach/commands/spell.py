"""coach spell: away from the piano, the fingers of a phrase typed chord by chord and checked against the plan."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from coach.commands.typed import whole_number
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.practice.spelling import Asked, Spelling


def add(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("piece", metavar="PIECE", help="a file, a piece on the shelf, or corpus:bach/bwv269")
    parser.add_argument("--phrase", type=whole_number, default=1, metavar="N", help="which phrase, counted from 1")
    parser.add_argument("--hand", choices=("right", "left", "both"), default="both", help="one hand, or both")


def run(arguments: argparse.Namespace) -> int:
    """Ask for every chord; what is spelled to the end is kept in the log, apart from what is played."""
    from coach.practice import days
    from coach.practice.log import Log
    from coach.practice.music import open_music
    from coach.practice.spelling import spelled, spelling_of
    from coach.settings import load

    settings = load()
    music = open_music(arguments.piece, settings.hands, settings.options)
    passage = music.phrase_passage(arguments.phrase)
    plan = next(phrase for phrase in music.plan.phrases if phrase.number == arguments.phrase)
    spelling = spelling_of(plan, arguments.hand)
    print(f"{music.piece.title}, {passage.label}: type the fingers of each chord from the top down, as 521.")
    print("An empty line ends it.")
    spelling = _asked(spelling)
    if spelling.current is not None:
        print("Not spelled to the end: nothing is kept.")
        return 0
    print(f"{spelling.right} of {len(spelling.chords)} chords as planned.")
    with Log.open() as log:
        log.know(music.piece, music.phrases, music.shapes)
        done = spelled(
            spelling, passage, music.piece.title, plan, at=days.now(), hand=arguments.hand, source=music.name
        )
        log.keep_spelling(done)
    return 0


def _asked(spelling: Spelling) -> Spelling:
    """Ask chord by chord until the end, an empty line or the end of the input."""
    while (chord := spelling.current) is not None:
        try:
            typed = input(f"{_shown(chord)} > ").strip()
        except EOFError:
            print()
            return spelling
        if not typed:
            return spelling
        try:
            spelling = spelling.typed(typed)
        except CoachError as error:
            print(f"    {error}")
            continue
        answer = spelling.answers[-1]
        print("    right" if answer.right else f"    planned: {answer.asked}")
    return spelling


def _shown(chord: Asked) -> str:
    from coach.score.counting import place_words

    hands = "  ".join(f"{side} {' '.join(pitches)}" for side, pitches in chord.pitches.items())
    return f"{chord.place:2}  {place_words(chord.bar, chord.beat)}   {hands}"
