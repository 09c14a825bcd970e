"""coach check: what a recorded take did, heard as the drill would have heard it."""

from __future__ import annotations

import argparse

from coach.commands.typed import whole_number


def add(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command."""
    parser.add_argument("piece", metavar="PIECE", help="a file, a piece on the shelf, or corpus:bach/bwv269")
    parser.add_argument("take", metavar="TAKE.mid", help="a standard MIDI file of the playing")
    parser.add_argument("--phrase", type=whole_number, metavar="N", help="judge it as this phrase, counted from 1")
    parser.add_argument("--hand", choices=("right", "left", "both"), default="both", help="which hand played")
    parser.add_argument("--hands", choices=("planned", "as-written"), default="planned", help="who takes which note")
    parser.add_argument("--json", action="store_true", help="print everything that was heard as JSON")


def run(arguments: argparse.Namespace) -> int:
    """Hear the take and print the judgement."""
    from dataclasses import replace

    from coach.errors import CoachError
    from coach.listening.expected import expect
    from coach.listening.hearing import hear
    from coach.listening.take import read_take
    from coach.practice.music import open_music
    from coach.settings import load

    take = read_take(arguments.take)
    settings = load()
    options = replace(settings.options, hands=arguments.hands)
    music = open_music(arguments.piece, settings.hands, options)
    if arguments.phrase is not None:
        music.phrase_passage(arguments.phrase)
    asked = [phrase for phrase in music.plan.phrases if arguments.phrase in (None, phrase.number)]
    if not expect(asked, arguments.hand).chords:
        where = f'"{music.piece.title}"' if arguments.phrase is None else f"phrase {arguments.phrase}"
        raise CoachError(f"the {arguments.hand} hand has nothing to play in {where}")
    hearing = hear(music.plan.phrases, take, arguments.hand, only=arguments.phrase)
    if not hearing.heard:
        raise CoachError(f'"{arguments.take}" holds no phrase of "{music.piece.title}" that could be recognised')
    if not hearing.fits:
        own, keys = len(hearing.match.note_of), len(hearing.match.strokes)
        whose = "notes of it" if arguments.hand == "both" else f"notes of its {arguments.hand} hand"
        raise CoachError(f'"{arguments.take}" does not fit "{music.piece.title}": {own} of its {keys} keys are {whose}')
    if arguments.json:
        import json

        print(json.dumps(hearing.to_json()))
        return 0
    from coach.listening.report_text import report

    print(report(hearing))
    return 0
