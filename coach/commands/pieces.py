"""coach pieces: what is on the shelf; takes files in, finds, corrects, removes and transposes pieces."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING

from coach.commands.phrases import add_phrases
from coach.commands.progress_bar import ProgressBar
from coach.listing import numbered

if TYPE_CHECKING:
    from coach.score.cards import Card
    from coach.score.piece import Piece

MOST_NAMED = 6
"""So many bars or phrases are named one by one; of more it is said how many."""

TAKEN = {"added": "added", "known": "on the shelf already", "missing": "not found", "unread": "could not be read"}
"""What became of the files that were to be taken in, in the order in which they are counted."""


def add(parser: argparse.ArgumentParser) -> None:
    parser.description = "What is on the shelf, with key, phrases and how it stands."
    parser.add_argument(
        "--by-effort", action="store_true", help="the shelf and the 371 chorales from easy to hard for your hands"
    )
    actions = parser.add_subparsers(metavar="ACTION", dest="action")

    def action(name: str, text: str, function: Callable[[argparse.Namespace], int]) -> argparse.ArgumentParser:
        made = actions.add_parser(name, help=text, description=text[0].upper() + text[1:] + ".")
        made.set_defaults(pieces=function)
        return made

    taking = action("add", "take copies of files in", _add)
    taking.add_argument("files", nargs="+", metavar="FILE", help="files, folders, patterns like hymns/*.abc")
    finding = action("find", "find pieces and chorales by words of the title", _find)
    finding.add_argument("words", nargs="+", metavar="WORD")
    correcting = action("correct", "put a corrected score in the place of a piece, which keeps its practice", _correct)
    correcting.add_argument("piece", metavar="NAME")
    correcting.add_argument("file", metavar="FILE", help="the corrected score")
    removing = action("remove", "take a piece off the shelf", _remove)
    removing.add_argument("piece", metavar="NAME")
    moving = action("transpose", "put a piece on the shelf in another key", _transpose)
    moving.add_argument("piece", metavar="PIECE")
    way = moving.add_mutually_exclusive_group(required=True)
    way.add_argument("--to", default="", metavar="KEY", help='the new key: "E flat", "F sharp minor"')
    way.add_argument("--by", default="", metavar="INTERVAL", help='"minor third up", "major second down", +2 semitones')
    action("chorales", "list the 371 chorales by number, read on first use", _chorales)
    add_phrases(action)


def run(arguments: argparse.Namespace) -> int:
    if arguments.action is None:
        return _by_effort() if arguments.by_effort else _list()
    return int(arguments.pieces(arguments))


def _list() -> int:
    from coach.score.cards import cards

    with ProgressBar("reading the shelf") as bar:
        found = cards(bar.show)
    stands = _standings([card.mark for card in found if card.mark])
    own = [card for card in found if not card.shipped]
    if not own:
        print("Your shelf is empty: coach pieces add FILE takes pieces in.\n")
    _print_cards(own, stands, "yours")
    _print_cards([card for card in found if card.shipped], stands, "shipped")
    return 0


def _by_effort() -> int:
    from coach.fingering.hand import hands_in_words
    from coach.practice.graded import by_effort
    from coach.settings import load

    hands = load().hands
    with ProgressBar("planning") as bar:
        found = by_effort(hands, bar.show)
    print(f"From easy to hard for {hands_in_words(hands)}: effort a second, and its parts.\n")
    parts = next((piece.difficulty.parts for piece in found if piece.difficulty), {})
    print("effort  " + "  ".join(parts))
    for piece in found:
        if piece.difficulty is None:
            print(f"        {piece.name}  {piece.problem}")
            continue
        figures = "  ".join(f"{value:{len(name)}.1f}" for name, value in piece.difficulty.parts.items())
        print(f"{piece.difficulty.number:6.1f}  {figures}  {piece.name:24}  {piece.title}")
    return 0


def _print_cards(found: Sequence[Card], stands: dict[str, str], source: str) -> None:
    from coach.paper.signs import breadth, padded
    from coach.score.piece import count_of_phrases

    width = max((breadth(card.name) for card in found), default=0)
    for card in found:
        name = padded(card.name, width)
        if card.problem:
            print(f"{name}  {card.problem}")
            continue
        phrases = count_of_phrases(card.phrases)
        title = f"  {card.title}" if card.title != card.name else ""
        print(f"{name}  {card.key:14}  {phrases:10}  {source:7}  {stands.get(card.mark, 'new')}{title}")


def _standings(marks: Sequence[str]) -> dict[str, str]:
    """How pieces stand, in words, by mark; nothing where nothing was practised."""
    from coach import places

    if not places.log_file().exists():
        return {}
    from coach.errors import CoachError
    from coach.practice.log import Log
    from coach.practice.standing import stand_in_words

    told = {}
    try:
        opened = Log.open()
    except CoachError as error:
        # The shelf can be read all the same, from a folder that cannot be written, say.
        print(f"coach: {error}", file=sys.stderr)
        return {}
    with opened as log:
        aside = {str(piece["mark"]) for piece in log.pieces() if piece["state"] == "set aside"}
        for mark in marks:
            words = list(log.standings(mark).values())
            said, new = stand_in_words(words), words.count(None)
            if said and new:
                said += f", {new} new"
            if mark in aside or said:
                told[mark] = ", ".join(filter(None, ("set aside" if mark in aside else "", said)))
    return told


def _add(arguments: argparse.Namespace) -> int:
    from coach.score.shelf import take_in

    count = {"added": 0, "known": 0, "missing": 0, "unread": 0}
    here: dict[str, str] = {}
    with ProgressBar("taking in") as bar:
        for taken in take_in(arguments.files, bar.show):
            bar.clear()
            if taken.mark:
                here[taken.mark] = taken.name
            if taken.outcome == "added":
                count["added"] += 1
                print(f"added {taken.name}")
                if taken.namesake:
                    print(
                        f'  Is it "{taken.namesake}", corrected? Then put it in its place:'
                        f' coach pieces correct "{taken.namesake}" "{taken.name}"'
                    )
            elif taken.outcome == "known":
                count["known"] += 1
                print(f"{taken.source} is on the shelf already, as {taken.name}")
            else:
                count["unread" if _opens(taken.source) else "missing"] += 1
                print(f"coach: {taken.problem}", file=sys.stderr)
    if sum(count.values()) > 1:
        print(", ".join(f"{many} {TAKEN[how]}" for how, many in count.items() if many or how == "added"))
    _go_on_with(here)
    return 2 if count["unread"] or count["missing"] else 0


def _go_on_with(here: Mapping[str, str]) -> None:
    """Go on practising pieces that were practised before: taken off the shelf meanwhile, or on another machine.

    Args:
        here: Names on the shelf, by what the music is known by.
    """
    from coach import places

    if not here or not places.log_file().exists():
        return
    from coach.errors import CoachError
    from coach.practice.log import Log
    from coach.practice.music import know_all

    try:
        with Log.open() as log:
            lost = {str(piece["mark"]): str(piece["state"]) for piece in log.pieces() if not piece["source"]}
            lost = {mark: state for mark, state in lost.items() if mark in here}
            log.find_sources({mark: here[mark] for mark in lost})
            know_all(log, lost)
            for mark, state in lost.items():
                if log.source(mark) == here[mark] and state != "known":
                    told = "it comes up in Today again" if state == "in practice" else "it is set aside"
                    print(f"{here[mark]} was practised before: {told}.")
    except CoachError as error:
        # What was taken in is on the shelf all the same.
        print(f"coach: {error}", file=sys.stderr)


def _find(arguments: argparse.Namespace) -> int:
    from coach.errors import CoachError
    from coach.score.cards import search
    from coach.score.chorales import catalogue
    from coach.score.library import has_words

    words = " ".join(arguments.words)
    found = search(words)
    stands = _standings([card.mark for card in found if card.mark])
    _print_cards([card for card in found if not card.shipped], stands, "yours")
    _print_cards([card for card in found if card.shipped], stands, "shipped")
    chorales = [
        chorale for chorale in catalogue() if has_words(f"{chorale.title} {chorale.name} {chorale.number}", words)
    ]
    for chorale in chorales:
        print(_chorale_line(chorale.number, chorale.name, chorale.title, chorale.key, chorale.phrases))
    if not found and not chorales:
        raise CoachError(f'no piece and no chorale has "{words}" in its title')
    return 0


def _chorale_line(number: int, name: str, title: str, key: str, phrases: int) -> str:
    from coach.score.piece import count_of_phrases

    told = f"  {key}, {count_of_phrases(phrases)}" if phrases else ""
    return f"{number:3}  {name:24}  {title}{told}"


def _chorales(arguments: argparse.Namespace) -> int:
    from coach.score.chorales import catalogue, is_prepared, prepare

    if not is_prepared():
        with ProgressBar("reading the chorales") as bar:
            prepare(bar.show)
    for chorale in catalogue():
        print(_chorale_line(chorale.number, chorale.name, chorale.title, chorale.key, chorale.phrases))
    return 0


def _remove(arguments: argparse.Namespace) -> int:
    from coach import places
    from coach.score.shelf import remove

    card = remove(arguments.piece)
    if places.log_file().exists():
        from coach.practice.log import Log

        with Log.open() as log:
            # It may have been opened by any words that lead to it, and still be had as a file of its own.
            names = {str(piece["source"]) for piece in log.pieces() if card.mark in ("", piece["mark"])}
            log.forget_source(card.name, *(name for name in names if name and not _opens(name)))
    print(f"removed {card.name}")
    return 0


def _correct(arguments: argparse.Namespace) -> int:
    from coach import places
    from coach.practice.chosen import carry
    from coach.practice.passage import piece_mark
    from coach.score.cuts import phrases_of
    from coach.score.shelf import correct

    before, after = correct(arguments.piece, arguments.file)
    carry(before, after)
    if places.log_file().exists():
        from coach.practice.log import Log

        with Log.open() as log:
            if any(log.source(piece_mark(piece)) for piece in (before, after)):
                log.know(after, phrases_of(after))
    print(f"corrected {after.source}: {_corrected(before, after)}")
    return 0


def _corrected(before: Piece, after: Piece) -> str:
    """What a correction changes: where there are other notes, and which phrases have to be learnt anew."""
    from coach.practice.passage import passages_of
    from coach.score.counting import bars_listed
    from coach.score.cuts import phrases_of

    was, now = ({(n.onset, n.duration, n.midi) for n in piece.notes} for piece in (before, after))
    changed = was ^ now
    if not changed:
        return "the notes are the same"
    bars = sorted({after.bar_at(onset).number for onset, _, _ in changed})
    known = {one.mark for one in passages_of(before, phrases_of(before)) if one.kind == "phrase"}
    phrases = [one for one in passages_of(after, phrases_of(after)) if one.kind == "phrase"]
    new = [one.first for one in phrases if one.mark not in known]
    told = f"other notes in {bars_listed(bars) if len(bars) <= MOST_NAMED else f'{len(bars)} bars'}"
    return f"{told}; {_numbered('phrase', new)} begin{'s' if len(new) == 1 else ''} anew" if new else told


def _numbered(word: str, numbers: Sequence[int]) -> str:
    """ "bar 3", "bars 3, 5 and 7"; of many only how many."""
    if len(numbers) > MOST_NAMED:
        return f"{len(numbers)} {word}s"
    return numbered(word, numbers)


def _opens(name: str) -> bool:
    from coach.errors import CoachError
    from coach.score.library import find_source

    try:
        return bool(find_source(name))
    except CoachError:
        return False


def _transpose(arguments: argparse.Namespace) -> int:
    from coach.score.shelf import transpose

    taken = transpose(arguments.piece, to=arguments.to, by=arguments.by)
    known = taken.outcome == "known"
    print(f"on the shelf already, as {taken.name}" if known else f"added {taken.name}")
    _go_on_with({taken.mark: taken.name})
    return 0
