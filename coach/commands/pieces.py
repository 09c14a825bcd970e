"""coach pieces: what is on the shelf; takes files in, finds, removes and transposes pieces, cuts them into phrases."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from coach.listing import numbered

if TYPE_CHECKING:
    from coach.score.cards import Card
    from coach.score.piece import Phrase, Piece, Quarters

BAR_WIDTH = 30
"""Characters of a progress bar."""


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
    showing = action("phrases", "show how a piece falls into phrases, and why", _phrases)
    showing.add_argument("piece", metavar="PIECE")
    showing.add_argument("--metre", metavar="METRE", help="keep the lines of a poetic metre as phrases: 8.7.8.7, C.M.")
    showing.add_argument("--own", action="store_true", help="forget your own cuts: the page decides again")
    splitting = action("split", "begin a new phrase at a chord", _split)
    splitting.add_argument("piece", metavar="PIECE")
    splitting.add_argument("place", metavar="BAR:BEAT", help="where the new phrase begins: 5:3")
    joining = action("join", "join a phrase with the next one", _join)
    joining.add_argument("piece", metavar="PIECE")
    joining.add_argument("phrase", type=int, metavar="N", help="number of the phrase")
    shifting = action("move", "move the end of a phrase", _move)
    shifting.add_argument("piece", metavar="PIECE")
    shifting.add_argument("phrase", type=int, metavar="N", help="number of the phrase")
    shifting.add_argument("place", metavar="BAR:BEAT", help="where the phrase after it begins: 5:3")


def run(arguments: argparse.Namespace) -> int:
    if arguments.action is None:
        return _by_effort() if arguments.by_effort else _list()
    return int(arguments.pieces(arguments))


def _list() -> int:
    from coach.score.cards import cards

    with _Bar("reading the shelf") as bar:
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
    with _Bar("planning") as bar:
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
    with _Bar("taking in") as bar:
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
        with _Bar("reading the chorales") as bar:
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
    from coach.score.cuts import phrases_of

    was, now = ({(n.onset, n.duration, n.midi) for n in piece.notes} for piece in (before, after))
    changed = was ^ now
    if not changed:
        return "the notes are the same"
    bars = sorted({after.bar_at(onset).number for onset, _, _ in changed})
    known = {one.mark for one in passages_of(before, phrases_of(before)) if one.kind == "phrase"}
    phrases = [one for one in passages_of(after, phrases_of(after)) if one.kind == "phrase"]
    new = [one.first for one in phrases if one.mark not in known]
    told = f"other notes in {_numbered('bar', bars)}"
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
        CoachError: there is no such bar, or the text names none.
    """
    import re

    from coach.errors import CoachError

    found = re.fullmatch(r"\s*(\d{1,6})\s*(?:[:.,]\s*(\d{1,3}(?:\.\d{1,4})?)\s*)?", text)
    if not found:
        raise CoachError(f'"{text}" names no place: write bar and beat, as in 5:3')
    bars = [bar for bar in piece.bars if bar.number == int(found[1])]
    if not bars:
        raise CoachError(
            f"there is no bar {found[1]}: the piece has bars {piece.bars[0].number} to {piece.bars[-1].number}"
        )
    beat = Fraction(found[2] or 1)
    onsets = sorted({note.onset for note in piece.notes})
    exact = [place for place in onsets if (bar := piece.bar_at(place)) in bars and abs(bar.beat(place) - beat) < 0.01]
    if not exact:
        raise CoachError(f"no chord begins at bar {found[1]}, beat {float(beat):g}")
    return exact[0]


def _show(piece: Piece, phrases: Sequence[Phrase]) -> None:
    from coach.score.order import how_it_runs
    from coach.score.phrases import halfway
    from coach.score.piece import chords_of

    print(piece.title)
    for phrase in phrases:
        inside = [note.onset for note in piece.notes if phrase.onset <= note.onset < phrase.end]
        if not inside:
            continue
        first, last = piece.bar_at(min(inside)), piece.bar_at(max(inside))
        bars = f"bar {first.number}" if first.number == last.number else f"bars {first.number}-{last.number}"
        chords = len(chords_of(piece, phrase))
        ends = phrase.why_it_ends + (f"; as phrase {phrase.again}" if phrase.again else "")
        print(f"{phrase.number:3}  {bars:12}  {chords:2} chord{'s' if chords != 1 else ' '}  {ends}")
        middle = halfway(piece, phrase)
        if middle is not None:
            bar = piece.bar_at(middle)
            print(f"     long: it can be halved at {bar.number}:{bar.beat(middle):g}")
    runs = how_it_runs(piece.bars)
    if runs:
        print(f"as played: {runs}")


class _Bar:
    """A progress bar on standard error, where a person can see it and the work is long enough to show."""

    def __init__(self, text: str) -> None:
        self.text = text
        self._shown = False

    def __enter__(self) -> _Bar:
        return self

    def __exit__(self, *_: object) -> None:
        self.clear()

    def show(self, done: int, total: int) -> None:
        if total < 3 or not sys.stderr.isatty():
            return
        filled = BAR_WIDTH * done // total
        line = f"{self.text} [{'=' * filled}{' ' * (BAR_WIDTH - filled)}] {done} of {total}"
        print(f"\r{line}", end="", file=sys.stderr, flush=True)
        self._shown = True

    def clear(self) -> None:
        if self._shown:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)
            self._shown = False
