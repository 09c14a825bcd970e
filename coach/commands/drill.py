"""`coach drill`: straight to one phrase at the keyboard, or a demonstration of it."""

from __future__ import annotations

import argparse
from dataclasses import replace
from typing import TYPE_CHECKING

from coach.commands.typed import whole_number

if TYPE_CHECKING:
    from coach.screens.app import CoachApp
    from coach.screens.drill import DrillScreen


def add(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("piece", metavar="PIECE", help="a file, a piece on the shelf, or corpus:bach/bwv269")
    parser.add_argument("--phrase", type=whole_number, metavar="N", help="begin with this phrase, counted from 1")
    parser.add_argument("--hand", choices=("right", "left", "both"), help="one hand alone, or both together")
    parser.add_argument("--plain", action="store_true", help="plain chords, without passing notes and decorations")
    parser.add_argument("--voices", default="", metavar="SATB", help="only these voices, by their letters")
    parser.add_argument("--pedal", action="store_true", help="with the sustain pedal")
    parser.add_argument("--demo", action="store_true", help="let a simulated player show it; nothing is kept")


def run(arguments: argparse.Namespace) -> int:
    """Open the app on the drill; errors in the words are said before the screen is."""
    from coach.commands.app import need_terminal
    from coach.practice.ladder import LEFT, RIGHT, TOGETHER
    from coach.practice.music import open_music
    from coach.practice.own_way import custom_step
    from coach.practice.work import phrases_from
    from coach.screens.app import run_app
    from coach.settings import load

    step = {"right": RIGHT, "left": LEFT, "both": TOGETHER, None: None}[arguments.hand]
    if arguments.plain or arguments.pedal:
        asked = replace(step or TOGETHER, plain=arguments.plain, pedal=arguments.pedal)
        step = custom_step(asked, ())
    settings = load()
    music = open_music(arguments.piece, settings.hands, settings.options, arguments.voices)
    items, place = phrases_from(music, arguments.phrase, step)
    need_terminal()

    def opening(app: CoachApp) -> DrillScreen:
        app.keep_music(music)
        if arguments.demo:
            from coach.screens.demonstration import DemonstrationScreen

            return DemonstrationScreen(music.name, arguments.phrase, step, letters=music.letters)
        from coach.screens.drill import DrillScreen

        return DrillScreen(items, place)

    return run_app(opening)
