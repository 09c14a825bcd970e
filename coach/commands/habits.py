"""coach habits: what the player's choices say about how they like to play, and whether plans follow it."""

from __future__ import annotations

import argparse


def add(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument(
        "action",
        nargs="?",
        choices=("on", "off", "forget"),
        help="let plans follow your habits, or not, or forget what your choices have said so far (they stay)",
    )


def run(arguments: argparse.Namespace) -> int:
    """Switch, forget, and say what is known."""
    import textwrap

    from coach.practice import chosen

    if arguments.action in ("on", "off"):
        chosen.switch_habits(arguments.action == "on")
    elif arguments.action == "forget":
        chosen.forget_habits()
    sentences = chosen.habits_now().sentences
    for sentence in sentences:
        print(textwrap.fill(sentence[0].upper() + sentence[1:] + ".", 80))
    if not sentences:
        print("No habits yet: they show when choices of one kind come back in several pieces.")
    if chosen.habits_are_on():
        print("Plans follow your habits; coach habits off stops that.")
    else:
        print("Plans do not follow your habits; coach habits on lets them.")
    return 0
