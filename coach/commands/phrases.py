"""coach pieces phrases, split, join and move: how a piece falls into phrases, and the player's own cuts."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from coach.commands.typed import whole_number

if TYPE_CHECKING:
    from coach.score.piece import Phrase, Piece, Quarters

Action = Callable[[str, str, Callable[[argparse.Namespace], int]], argparse.ArgumentParser]
"""Declares an action of `coach pieces`: its name, what it does in a few words, and what does it."""


def add_phrases(action: Action) -> None:
    """Declare the actions."""
    showing = action("phrases", "show how a piece falls into phrases, and why", _phrases)
    showing.add_argument("piece", metavar="PIECE")
    showing.add_argument("--metre", metavar="METRE", help="keep the lines of a poetic metre as phrases: 8.7.8.7, C.M.")
    showing.add_argument("--own", action="store_true", help="forget your own cuts: the page decides again")
    splitting = action("split", "begin a new phrase at a chord", _split)
    splitting.add_argument("piece", metavar="PIECE")
    splitting.add_argument("place", metavar="BAR:BEAT", help="where the new phrase begins: 5:3")
    joining = action("join", "join a phrase with the next one", _join)
    joining.add_argument("piece", metavar="PIECE")
    joining.add_argument("phrase", type=whole_number, metavar="N", help="number of the phrase")
    shifting = action("move", "move the end of a phrase", _move)
    shifting.add_argument("piece", metavar="PIECE")
    shifting.add_argument("phrase", type=whole_number, metavar="N", help="number of the phrase")
    shifting.add_argument("place", metavar="BAR:BEAT", help="where the phrase after it begins: 5:3")


def _phrases(arguments: argparse.Namespace) -> int:
    from coach.score.cuts import phrases_of
    from coach.score.library import open_piece
    from coach.score.phrases import find_phrases
    from coach.score.words import metre_lines

    piece = open_piece(arguments.piece)
    if arguments.metre:
        _keep_cut(piece, find_phrases(piece, metre_lines(arguments.metre)))
    elif arguments.own:
        from dataclasses import replace

        _keep_cut(piece, find_phrases(replace(piece, cuts=None)))
    _show(piece, phrases_of(piece))
    return 0


def _split(arguments: argparse.Namespace) -> int:
    from coach.score.cuts import split

    return _cut(arguments, lambda piece, phrases: split(piece, phrases, _place(piece, arguments.place)))


def _join(arguments: argparse.Namespace) -> int:
    from coach.score.cuts import join

    return _cut(arguments, lambda piece, phrases: join(piece, phrases, arguments.phrase))


def _move(arguments: argparse.Namespace) -> int:
    from coach.score.cuts import move

    return _cut(
        arguments,
        lambda piece, phrases: move(piece, phrases, arguments.phrase, _place(piece, arguments.place)),
    )


def _cut(arguments: argparse.Namespace, change: Callable[[Piece, tuple[Phrase, ...]], tuple[Phrase, ...]]) -> int:
    from coach.score.cuts import phrases_of
    from coach.score.library import open_piece

    piece = open_piece(arguments.piece)
    phrases = change(piece, phrases_of(piece))
    _keep_cut(piece, phrases)
    _show(piece, phrases)
    return 0


def _keep_cut(piece: Piece, phrases: Sequence[Phrase]) -> None:
    """Keep a cut with the piece, and in the log where it is practised."""
    from coach import places
    from coach.score.cuts import keep

    keep(piece, phrases)
    if not places.log_file().exists():
        return
    from coach.practice.log import Log
    from coach.practice.passage import piece_mark
    from coach.score.piece import with_notes

    with Log.open() as log:
        mark = piece_mark(piece)
        if any(known["mark"] == mark for known in log.pieces()):
            log.know(piece, with_notes(piece, phrases))


def _place(piece: Piece, text: str) -> Quarters:
    """The onset of a chord named by bar and beat: "5:3", "5" for its first beat.

    Raises:
        CoachError: there is no such bar or chord, or the text names none.
    """
    from coach.errors import CoachError
    from coach.score.bar_beat import onset_at

    place = text.strip().replace(",", ".")
    bar, dot, beat = place.partition(".")
    if ":" not in place:
        place = f"{bar}:{beat if dot else 1}"
    found = onset_at(piece, place)
    if found is None:
        raise CoachError(f'"{text}" names no place: write bar and beat, as in 5:3')
    return found


def _show(piece: Piece, phrases: Sequence[Phrase]) -> None:
    from coach.score.bar_beat import place_written
    from coach.score.counting import bars_words
    from coach.score.order import how_it_runs
    from coach.score.phrases import halfway
    from coach.score.piece import chords_of

    print(piece.title)
    for phrase in phrases:
        inside = [note.onset for note in piece.notes if phrase.onset <= note.onset < phrase.end]
        if not inside:
            continue
        first, last = piece.bar_at(min(inside)), piece.bar_at(max(inside))
        bars = bars_words(first.number, last.number)
        chords = len(chords_of(piece, phrase))
        ends = phrase.why_it_ends + (f"; as phrase {phrase.again}" if phrase.again else "")
        print(f"{phrase.number:3}  {bars:15}  {chords:2} chord{'s' if chords != 1 else ' '}  {ends}")
        middle = halfway(piece, phrase)
        if middle is not None:
            print(f"     long: it can be halved at {place_written(piece, middle)}")
    runs = how_it_runs(piece.bars)
    if runs:
        print(f"as played: {runs}")
