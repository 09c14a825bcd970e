"""The player's shelf: takes copies of pieces in, corrects them, takes them off, and puts them into other keys."""

from __future__ import annotations

import contextlib
import glob
import re
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from coach import places
from coach.errors import CoachError
from coach.score.cards import Card, cards
from coach.score.cuts import clean_cuts, keep, kept, phrases_of
from coach.score.formats.abc_file import chosen_tune, decoded, tunes_of
from coach.score.formats.content import fitting_ending
from coach.score.formats.utf16 import in_utf_8
from coach.score.library import (
    CORPUS,
    SUFFIXES,
    Entry,
    find_source,
    has_words,
    open_file,
    open_piece,
    same_words,
    shelf_entries,
    shown,
    titled,
)
from coach.score.marks import mark_of
from coach.score.phrases import find_phrases
from coach.score.piece import Piece
from coach.score.reading import KNOWN, read_bytes, read_score, tunes_in
from coach.score.spelling import key_name
from coach.score.transposing import between, interval_of, interval_to, looks_transposed, transposed, unwrapped, wrapped
from coach.whole import write_whole

MOST_FILES = 5_000
"""Most files taken in at once."""

CORRECTED = 0.5
"""A corrected score has at least this share of its notes where they were; with less it is another piece."""


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of one file that was to be taken in.

    Attributes:
        source: What the player named.
        outcome: "added", "known" (its music is on the shelf already) or "failed".
        name: Its name on the shelf, or that of the piece it equals; "" where it failed.
        problem: Why it failed.
        namesake: Of a piece that was added, another of the player's that has its title and other notes; "" for none.
        mark: What its music is known by, see `marks`; "" where it failed.
    """

    source: str
    outcome: Literal["added", "known", "failed"]
    name: str = ""
    problem: str = ""
    namesake: str = ""
    mark: str = ""


def take_in(sources: Sequence[str], progress: Callable[[int, int], None] | None = None) -> Iterator[Taken]:
    """Take copies of pieces in, one after the other; a failure leaves the rest alone and the shelf as it was.

    Args:
        sources: Files, folders, patterns with * and ?, or corpus names.
        progress: Told how many files are done, and of how many.
    """
    known: dict[str, dict[str, str]] = {}
    own: dict[str, list[str]] = {}
    for card in cards():
        if card.mark:
            known.setdefault(card.mark, {}).setdefault(card.title.casefold(), card.name)
            if not card.shipped:
                own.setdefault(card.title.casefold(), []).append(card.name)
    wanted = list(_expanded(sources))
    for done, source in enumerate(wanted):
        if progress:
            progress(done, len(wanted))
        yield from _take(source, known, own)
    if progress:
        progress(len(wanted), len(wanted))


def correct(name: str, source: str) -> tuple[Piece, Piece]:
    """Put a corrected score in the place of a piece, which keeps its name and the player's phrases. If that score was
    taken in meanwhile, as a piece of its own, it is one no more.

    Args:
        name: The piece's whole name.
        source: The corrected score, as `open_piece` takes it; of a tune book one tune.

    Returns:
        The piece as it was, and as it is now.

    Raises:
        CoachError: no such piece or score, or it is other music; then the shelf stays as it was.
    """
    entry = entry_named(name)
    if entry.shipped:
        raise CoachError(f'"{entry.name}" ships with the coach and stays: coach pieces add takes your own in')
    before = _opened(entry)
    said = shown(source)
    found = find_source(source)
    if found.path.is_dir():
        raise CoachError(f'"{said}" is a folder: name the corrected score')
    data = read_bytes(found.path, said)
    if not found.choice and len(list(tunes_in(data, said))) > 1:
        raise CoachError(f'"{said}" holds several pieces: name one of them, as in "{said}#2"')
    after = read_score(data, said, "", found.choice)
    if _alike(before, after) < CORRECTED:
        raise CoachError(f'"{said}" is other music than "{entry.name}": coach pieces add takes it in beside it')
    copy = _one_tune(data, found.choice, said) if found.choice else data
    path = entry.path.with_name(f"{entry.name}{fitting_ending(data, found.path.suffix.lower())}")
    # What was taken in meanwhile comes into this place; a tune book keeps its other tunes, and so stays.
    given_up = {entry.path} if found.choice else {entry.path, found.path.absolute()}
    if path not in given_up and path.exists():
        raise CoachError(f'cannot correct "{entry.name}": "{path.name}" on the shelf is another piece')
    try:
        write_whole(path, copy)
        for gone in given_up - {path}:
            if gone.parent == places.shelf():
                gone.unlink()
    except OSError as error:
        raise CoachError(f'cannot correct "{entry.name}": {error.strerror}') from error
    now = _opened(Entry(entry.name, path, shipped=False))
    if before.cuts is not None and now.cuts is None:
        keep(now, find_phrases(replace(now, cuts=clean_cuts(now, dict(before.cuts)))))
        now = replace(now, cuts=kept(now))
    return before, now


def _opened(entry: Entry) -> Piece:
    piece = open_file(entry.path, entry.name)
    piece = replace(piece, title=titled(piece.title, entry.path))
    return replace(piece, cuts=kept(piece))


def _alike(piece: Piece, other: Piece) -> float:
    """The share of notes that two pieces have in common, key for key at their place."""
    one, two = (Counter((note.onset, note.midi) for note in some.notes) for some in (piece, other))
    return (one & two).total() / max(one.total(), two.total())


def remove(name: str) -> Card:
    """Take a piece off the shelf; the file it once came from is not touched.

    Raises:
        CoachError: there is no such piece, or it ships with the coach.
    """
    entry = entry_named(name)
    if entry.shipped:
        raise CoachError(f'"{entry.name}" ships with the coach and stays')
    card = next((card for card in cards() if card.name == entry.name), Card(entry.name, entry.name))
    try:
        entry.path.unlink()
    except OSError as error:
        raise CoachError(f'cannot remove "{entry.name}": {error.strerror}') from error
    return card


def transpose(name: str, *, to: str = "", by: str = "") -> Taken:
    """Put a piece on the shelf in another key, as an entry of its own.

    Args:
        name: Any piece, as `open_piece` takes it.
        to: The new key, "E flat"; the way there is the shortest.
        by: An interval, "minor third up", where `to` is empty.

    Raises:
        CoachError: no such piece, key or interval, or a note would leave the piano.
    """
    source = find_source(name)
    piece = open_piece(name)
    interval = interval_to(piece, to) if to else interval_of(by)
    if not interval.semitones and not interval.steps:
        raise CoachError(f'"{piece.title}" is in {key_name(piece.fifths, piece.minor)} already')
    moved = transposed(piece, interval)
    title = piece.title
    data = read_bytes(source.path, shown(name))
    if source.choice:
        data = _one_tune(data, source.choice, shown(name))
    if looks_transposed(data):
        # A transposition is kept as its source and one interval, however often it was moved.
        before = unwrapped(data, shown(name))
        data = before.data
        first = read_score(data, shown(name), "")
        interval = between(first, moved, before.interval.semitones + interval.semitones)
        title = titled(first.title or title, source.path)
    title = f"{title} in {key_name(moved.fifths, moved.minor)}"
    marks = {card.mark: card.name for card in cards() if card.mark}
    mark = mark_of(moved.notes)
    if mark in marks:
        return Taken(shown(name), "known", marks[mark], mark=mark)
    added = _put(title, ".moved", wrapped(data, title, interval))
    if piece.cuts is not None:
        # The player's phrases go along.
        keep(replace(moved, title=title, source=added), phrases_of(piece))
    return Taken(shown(name), "added", added, mark=mark)


def entry_named(name: str) -> Entry:
    """The entry of the shelf, or of the shipped pieces, that has a name; a part of a name is not enough.

    Raises:
        CoachError: there is none, or several could be meant.
    """
    entries = shelf_entries()
    for found in (
        [entry for entry in entries if entry.name.casefold() == name.strip().casefold() or str(entry.path) == name],
        [entry for entry in entries if same_words(entry.name, name)],
    ):
        if len({entry.name for entry in found}) == 1:
            return found[0]
    meant = [entry.name for entry in entries if has_words(entry.name, name) and not entry.shipped]
    hint = f'; "{meant[0]}" is: give its whole name' if len(meant) == 1 else ""
    raise CoachError(f'there is no "{shown(name)}" on the shelf{hint}')


def _take(source: str, known: dict[str, dict[str, str]], own: dict[str, list[str]]) -> Iterator[Taken]:
    """Take one file in.

    Args:
        source: As the player names it.
        known: Names of the pieces on the shelf by their notes and their titles; those taken in are added.
        own: Names of the player's pieces by their titles; those taken in are added.
    """
    said = shown(source)
    try:
        found = find_source(source)
        if found.path.is_dir():
            raise CoachError(f'there is no score in "{said}": the coach reads {KNOWN}')
        data = read_bytes(found.path, said)
        choices = [(found.choice, "")] if found.choice else list(tunes_in(data, said)) or [("", "")]
    except CoachError as error:
        yield Taken(said, "failed", problem=str(error))
        return
    for choice, _ in choices:
        label = f"{said}#{choice}" if choice and not found.choice else said
        try:
            piece = read_score(data, label, "", choice)
            title = titled(piece.title or shown(found.path.stem), found.path)
            mark = mark_of(piece.notes)
            same = known.setdefault(mark, {})
            # Two hymns may be sung to one tune: each has words of its own, and practice is shared by the notes.
            sung = any(any(note.words) for note in piece.notes)
            there = same.get(title.casefold()) or (None if sung else next(iter(same.values()), None))
            if there:
                yield Taken(label, "known", there, mark=mark)
                continue
            copy = _one_tune(data, choice, said) if choice else data
            namesakes = own.setdefault(title.casefold(), [])
            namesake = next((name for name in namesakes if _corrects(name, piece)), "")
            name = _put(title, fitting_ending(data, found.path.suffix.lower()), copy)
            same[title.casefold()] = name
            namesakes.append(name)
            yield Taken(label, "added", name, namesake=namesake, mark=mark)
        except CoachError as error:
            yield Taken(label, "failed", problem=str(error))


def _corrects(name: str, piece: Piece) -> bool:
    """Whether a piece may be a corrected copy of one on the shelf: with most of its notes."""
    try:
        return _alike(piece, _opened(entry_named(name))) >= CORRECTED
    except CoachError:
        return False


def _expanded(sources: Sequence[str]) -> Iterator[str]:
    count = 0
    for source in sources:
        for found in _files(source):
            count += 1
            if count > MOST_FILES:
                raise CoachError(f"more than {MOST_FILES} files at once: take them in folder by folder")
            yield found


def _files(source: str) -> Iterator[str]:
    if source.startswith(CORPUS):
        yield source
        return
    with contextlib.suppress(OSError, ValueError, CoachError):
        path = places.expanded(source)
        if path.is_dir():
            inside = (found for found in sorted(path.rglob("*")) if found.suffix.lower() in SUFFIXES)
            files = [str(found) for found in inside if found.is_file()]
            if files:
                yield from files
                return
        elif not path.exists() and re.search(r"[*?\[]", source):
            matched = sorted(glob.glob(str(path), recursive=True))
            if matched:
                yield from (found for found in matched if not Path(found).is_dir())
                return
    yield source


def _one_tune(data: bytes, choice: str, name: str) -> bytes:
    """A tune book's one tune as a file of its own."""
    tune = chosen_tune(tunes_of(decoded(in_utf_8(data)), name), choice, name)
    return "\n".join([f"X:{tune.number}", *(line.text for line in tune.lines), ""]).encode("utf-8")


def _put(title: str, suffix: str, data: bytes) -> str:
    """Write a copy under a free name and return the name."""
    folder = places.shelf()
    taken = {entry.name.casefold() for entry in shelf_entries()}
    base = places.file_name(title)
    name, number = base, 1
    while name.casefold() in taken:
        number += 1
        name = f"{base} ({number})"
    try:
        write_whole(folder / f"{name}{suffix}", data)
    except OSError as error:
        raise CoachError(f'cannot put "{title}" on the shelf: {error.strerror}') from error
    return name
