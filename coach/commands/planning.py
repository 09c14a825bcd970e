"""What the commands that plan a piece ask for alike: the piece, the hands, which part of it."""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

from coach.commands.typed import span, whole_number
from coach.errors import CoachError
from coach.lengths import NARROWEST_OCTAVE_MM, WIDEST_OCTAVE_MM, octave_of
from coach.listing import listed

if TYPE_CHECKING:
    from coach.fingering.hand import Hands
    from coach.fingering.search import Options
    from coach.score.piece import Phrase, Piece
    from coach.settings import Settings


def add_planning(parser: argparse.ArgumentParser) -> None:
    """Declare the piece and how it is planned, the hands, and which part of it."""
    parser.add_argument("piece", metavar="PIECE", help="a file, a piece on the shelf, or corpus:bach/bwv269")
    parser.add_argument("--phrase", type=whole_number, metavar="N", help="only this phrase, counted from 1")
    parser.add_argument("--hands", choices=("planned", "as-written"), default="planned", help="who takes which note")
    parser.add_argument(
        "--way-out", choices=("raise", "roll", "omit"), help="what to do with a note out of reach, else as set"
    )
    hands = parser.add_argument_group("the hands", "as set in the coach, where nothing is said here")
    hands.add_argument(
        "--span",
        type=span,
        metavar="MM",
        help="span of the open hands, thumb to little finger, in mm, or in inches: 8.2in",
    )
    hands.add_argument("--span-right", type=span, metavar="MM", help="the right hand's alone")
    hands.add_argument("--span-left", type=span, metavar="MM", help="the left hand's alone")
    hands.add_argument("--comfort", choices=("relaxed", "normal", "wide"), help="how far the hands like to stretch")
    hands.add_argument(
        "--octave", metavar="WIDTH", help="octave of the keyboard in mm (165 at full size), or in inches: 6.0in"
    )
    part = parser.add_argument_group("part of the piece")
    part.add_argument("--metre", metavar="METRE", help="poetic metre: lines of so many syllables are phrases, 8.7.8.7")
    part.add_argument("--voices", metavar="SATB", help="only these voices, by their letters")
    part.add_argument("--plain", action="store_true", help="plain chords, without passing notes and decorations")
    part.add_argument("--pedal", action="store_true", help="say where the pedal goes down and up to cover the lifts")


@dataclass(frozen=True)
class Asked:
    """What was asked for.

    Attributes:
        piece: The whole piece.
        phrases: How it is cut: by the metre that was given, else as it is kept.
        hands: The player's hands and keyboard.
        options: The player's wishes, choices apart.
        arguments: The words of the command.
    """

    piece: Piece
    phrases: tuple[Phrase, ...]
    hands: Hands
    options: Options
    arguments: argparse.Namespace

    @cached_property
    def part(self) -> Piece:
        """What is to be planned of the piece, with a remark that says so; the piece itself where that is all of it.

        Raises:
            CoachError: it has no such voices.
        """
        part = self.piece
        if self.arguments.plain:
            from coach.score.plain import plain_piece

            part = plain_piece(part, self.phrases)
            fewer = len(self.piece.notes) - len(part.notes)
            part = replace(part, remarks=(*part.remarks, f"plain chords: {fewer} note{'s' * (fewer != 1)} fewer"))
        if self.arguments.voices is not None:
            from coach.score.parts import some_voices

            part = some_voices(part, self.arguments.voices)
            if part.voices != self.piece.voices:
                part = replace(part, remarks=(*part.remarks, f"only {listed(part.voices)}"))
        return part

    @property
    def wanted(self) -> tuple[Phrase, ...]:
        """The phrases to plan: the one that was named, else all.

        Raises:
            CoachError: there is none of that number.
        """
        from coach.score.piece import phrase_numbered

        number = self.arguments.phrase
        return self.phrases if number is None else (phrase_numbered(self.phrases, number),)

    def choosing(self, **kept: Any) -> Options:
        """The wishes with the choices kept for the piece, as far as they concern the part; see `options_for`."""
        from coach.practice.chosen import options_for

        part = self.part if self.part is not self.piece else None
        return options_for(self.piece, self.options, part=part, **kept)


def asked_for(arguments: argparse.Namespace) -> Asked:
    """Open the piece and read the words of a command.

    Raises:
        CoachError: no such piece, or the words make no sense.
    """
    from coach.fingering.search import Options
    from coach.score.library import open_piece
    from coach.settings import load

    settings = load()
    hands = _hands(arguments, settings)
    piece = open_piece(arguments.piece)
    options = Options(hands=arguments.hands, way_out=arguments.way_out or settings.way_out, pedal=arguments.pedal)
    return Asked(piece, _phrases(piece, arguments), hands, options, arguments)


def _hands(arguments: argparse.Namespace, settings: Settings) -> Hands:
    """The player's hands as set, and as the words of the command say otherwise."""
    said: dict[str, Any] = {}
    if arguments.span is not None:
        said |= {"right_span_mm": arguments.span, "left_span_mm": arguments.span}
    for side in ("right", "left"):
        span = getattr(arguments, f"span_{side}")
        if span is not None:
            said[f"{side}_span_mm"] = span
    if arguments.comfort is not None:
        said["comfort"] = arguments.comfort
    if arguments.octave is not None:
        said["octave_mm"] = _octave(arguments.octave)
    return replace(settings, **said).hands


def _octave(text: str) -> float:
    """The width of an octave in mm.

    Raises:
        CoachError: it is no keyboard's.
    """
    width = octave_of(text)
    if width is None:
        believed = f"{NARROWEST_OCTAVE_MM:.0f} to {WIDEST_OCTAVE_MM:.0f} mm"
        raise CoachError(f'"{text}" is no width of an octave: give {believed}, or inches as in 6.0in')
    return width


def _phrases(piece: Piece, arguments: argparse.Namespace) -> tuple[Phrase, ...]:
    if arguments.metre is None:
        from coach.score.cuts import phrases_of

        return phrases_of(piece)
    from coach.score.phrases import find_phrases
    from coach.score.words import metre_lines

    return find_phrases(piece, metre_lines(arguments.metre))
