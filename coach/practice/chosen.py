"""The player's choices as they are kept with a piece, and how a piece is planned with them and the habits they show.

A piece is known by its notes, whatever file they come from; one whose notes were corrected, by its source.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Literal

from coach import places
from coach.errors import DAMAGED, CoachError
from coach.fingering.choices import (
    Choices,
    Fix,
    What,
    as_named_in,
    from_json,
    moved,
    printed,
    still_there,
    that_apply,
    to_json,
    together,
)
from coach.fingering.fixing import fix, search_around
from coach.fingering.habits import Habits, Lesson, habits_of, lesson_of
from coach.fingering.hand import Hands
from coach.fingering.limits import can_be
from coach.fingering.repeated import where_again
from coach.fingering.search import Options
from coach.fingering.settling import settle
from coach.fingering.weights import WEIGHTS
from coach.listing import numbered
from coach.score.marks import mark_of
from coach.score.piece import Phrase, Piece
from coach.whole import write_whole

FORM = 1
"""Version of the JSON form."""

NOTHING = Choices()

Keep = Literal["keep", "ignore"]


@dataclass(frozen=True)
class Kept:
    """What is kept with a piece.

    Attributes:
        choices: The player's choices.
        lessons: What single choices say about the player, those that can come back included.
    """

    choices: Choices = NOTHING
    lessons: Mapping[Fix, Lesson] = field(default_factory=dict)


def choices_of(piece: Piece) -> Choices:
    """The player's choices for a piece."""
    return _kept(piece).choices


@dataclass(frozen=True, slots=True)
class Made:
    """Choices that were made.

    Attributes:
        choices: All that is chosen in the piece.
        also: Numbers of the phrases that have the notes of those the choices were made for, where they hold too.
    """

    choices: Choices
    also: tuple[int, ...] = ()

    @property
    def said(self) -> str:
        """Where else they hold, as a sentence without its full stop; "" for nowhere."""
        has = "has" if len(self.also) == 1 else "have"
        return f"{numbered('phrase', self.also)} {has} the same notes: chosen there too" if self.also else ""


def make(
    piece: Piece,
    phrases: Sequence[Phrase],
    wishes: Sequence[Fix | What],
    hands: Hands | None = None,
    options: Options | None = None,
) -> Made:
    """Make choices, or take some back, as one change; keep them with the piece.

    A phrase that comes again is one thing to learn, so it is fingered alike: a choice holds wherever its phrase comes
    again, unless another of these choices, or one made before, speaks against it there.

    Args:
        piece: The whole piece.
        phrases: How it is cut.
        wishes: New choices, and what is to be free of one.
        hands: The player's hands and keyboard.
        options: How the piece is planned.

    Raises:
        CoachError: a choice is impossible, or nothing can be written; then none is made.
    """
    kept = _kept(piece)
    choices, lessons = kept.choices, dict(kept.lessons)
    try:
        for wish in wishes:
            if isinstance(wish, tuple):
                if all(one.what != wish for one in choices.fixes):
                    raise CoachError("nothing is chosen there")
                choices = choices.freed(wish)
                continue
            made = fix(piece, phrases, choices, wish, hands, options)
            lesson = _lesson(piece, phrases, choices, wish, hands, options)
            if lesson is not None:
                lessons[wish] = lesson
            choices = made
    except CoachError as error:
        raise CoachError(f"{error}; none of the {len(wishes)} was chosen" if len(wishes) > 1 else str(error)) from error
    named = {_what(wish) for wish in wishes}
    also: set[int] = set()
    for wish in wishes:
        for phrase, by in where_again(phrases, _what(wish)[1]):
            there = moved(wish, by)
            if _what(there) in named:
                continue
            if isinstance(there, tuple):
                choices = choices.freed(there)
                continue
            with suppress(CoachError):
                choices = fix(piece, phrases, choices, there, hands, options)
                also.add(phrase.number)
    # However many wishes, one step takes them back.
    _write(piece, Kept(kept.choices.changed(choices.fixes), lessons))
    return Made(choices_of(piece), tuple(sorted(also)))


def _what(wish: Fix | What) -> What:
    return wish if isinstance(wish, tuple) else wish.what


def carry(before: Piece, after: Piece) -> None:
    """Keep the choices for a piece with the corrected one that takes its place, as far as their notes and chords are
    there; one that has choices of its own keeps them.

    Under the same title it is known by its source in any case. Under another one what the choices say about the player
    stays with the old title, or it would count twice.

    Raises:
        CoachError: they cannot be written.
    """
    fixes = still_there(as_named_in(choices_of(before).fixes, after), after)
    if fixes and before.title != after.title and not _path(after).exists():
        _write(after, Kept(Choices(fixes)))


def undo(piece: Piece) -> Choices:
    """Take the last change back.

    Raises:
        CoachError: there is none, or nothing can be written.
    """
    return _changed(piece, Choices.undone, "there is no choice to take back")


def redo(piece: Piece) -> Choices:
    """Make the change again that was taken back last.

    Raises:
        CoachError: there is none, or nothing can be written.
    """
    return _changed(piece, Choices.redone, "no choice was taken back")


def clear(piece: Piece) -> Choices:
    """Take all choices back, as one change.

    Raises:
        CoachError: there are none, or nothing can be written.
    """
    return _changed(piece, Choices.cleared, "nothing is chosen in this piece")


def options_for(
    piece: Piece,
    options: Options | None = None,
    *,
    own: Keep = "keep",
    printed_fingers: Keep = "keep",
    habits: Keep = "keep",
    part: Piece | None = None,
) -> Options:
    """How to plan a piece for this player: with their choices, the fingers that the page prints, and their habits.

    Args:
        piece: The whole piece.
        options: The player's other wishes.
        own: Whether the player's choices are honoured.
        printed_fingers: Whether printed fingers are.
        habits: Whether habits count, where they are not switched off for good.
        part: What is planned of the piece, where it is not the whole: some voices, plain chords.
    """
    options = options or Options()
    fixes = together(
        choices_of(piece).fixes if own == "keep" else (), printed(piece) if printed_fingers == "keep" else ()
    )
    if part is not None:
        fixes = that_apply(fixes, part)
    options = replace(options, choices=fixes)
    found = habits_now() if habits == "keep" and habits_are_on() else Habits()
    return replace(options, own_weights=found.applied(options.weights)) if found.factors else options


# Habits.


def habits_now() -> Habits:
    """The habits that all kept choices show, as far as they can be read here."""
    lessons = []
    for path in sorted(_latest().values()):
        try:
            kept = _read(path)
        except CoachError:
            # Another piece's choices, of a later coach or out of reach, are no reason to plan nothing.
            continue
        lessons.append([kept.lessons[one] for one in kept.choices.fixes if one in kept.lessons])
    return habits_of(lessons, WEIGHTS)


def habits_are_on() -> bool:
    """Whether plans follow the player's habits; they do until the player says otherwise."""
    try:
        return bool(json.loads(places.habits_file().read_text("utf-8"))["on"])
    except (OSError, *DAMAGED):
        return True


def switch_habits(on: bool) -> None:
    """Let plans follow the player's habits, or not.

    Raises:
        CoachError: it cannot be written.
    """
    _put(places.habits_file(), {"on": on}, "whether habits count")


def forget_habits() -> None:
    """Forget what choices made so far say about the player; the choices stay.

    Raises:
        CoachError: it cannot be written.
    """
    for path in sorted(places.choices().glob("*.json")):
        form = _form(path)
        if form is not None:
            _put(path, {**form, "lessons": []}, "the choices")


def _lesson(
    piece: Piece,
    phrases: Sequence[Phrase],
    choices: Choices,
    wish: Fix,
    hands: Hands | None,
    options: Options | None,
) -> Lesson | None:
    """What a choice says by the usual weights, so that no habit argues for itself."""
    usual = replace(options or Options(), choices=()).usual
    search = search_around(piece, phrases, wish, hands, usual)
    before = [one for one in choices.fixes if one.what != wish.what and one.onset in search.onsets]
    honoured = settle(search, before).honoured
    return lesson_of(search, honoured, wish) if can_be(search, [*honoured, wish]) else None


# The files.


def _changed(piece: Piece, change: Any, nothing: str) -> Choices:
    kept = _kept(piece)
    choices: Choices = change(kept.choices)
    if choices == kept.choices:
        raise CoachError(nothing)
    _write(piece, Kept(choices, kept.lessons))
    return choices


def _kept(piece: Piece) -> Kept:
    """What is kept with a piece.

    A piece whose notes were corrected at the source is still known by its source: choices whose notes or chords are
    gone since then are dropped.
    """
    path = _path(piece)
    before = None if path.exists() else _latest().get((piece.source, piece.title))
    if before is None:
        return _named(_read(path), piece)
    kept = _named(_read(before), piece)
    fixes = still_there(kept.choices.fixes, piece)
    return Kept(Choices(fixes), {fix: lesson for fix, lesson in kept.lessons.items() if fix in fixes})


def _named(kept: Kept, piece: Piece) -> Kept:
    """What is kept, with the voices of this edition."""
    own = kept.choices
    fixes, *steps = (as_named_in(each, piece) for each in (own.fixes, *own.past, *own.future))
    choices = Choices(fixes, tuple(steps[: len(own.past)]), tuple(steps[len(own.past) :]))
    lessons = dict(zip(as_named_in(kept.lessons, piece), kept.lessons.values(), strict=True))
    return Kept(choices, lessons)


def _latest() -> dict[tuple[str, str], Path]:
    """The files of choices by source and title: the latest one where a piece was corrected at its source since."""
    found = []
    for path in places.choices().glob("*.json"):
        with suppress(OSError, *DAMAGED):
            form = json.loads(path.read_text("utf-8"))
            found.append((path.stat().st_mtime_ns, path, (str(form["source"]), str(form["title"]))))
    return {piece: path for _, path, piece in sorted(found)}


def _path(piece: Piece) -> Path:
    return places.choices() / f"{mark_of(piece.notes)}.json"


def _form(path: Path) -> dict[str, Any] | None:
    """What a file says; None where there is none. A damaged file is set aside, so that it is not written over.

    Raises:
        CoachError: it is a later coach's, or cannot be read; it must not be written over.
    """
    try:
        form = json.loads(path.read_text("utf-8"))
        if form["form"] == FORM:
            return dict(form)
        if form["form"] > FORM:
            raise CoachError(f'"{path.name}" holds choices of a later version of the coach, and stays as it is')
    except FileNotFoundError:
        return None
    except OSError as error:
        raise CoachError(f'the choices in "{path}" cannot be read: {error.strerror}') from error
    except DAMAGED:
        pass
    _set_aside(path)
    return None


def _read(path: Path) -> Kept:
    form = _form(path)
    if form is None:
        return Kept()
    try:
        choices = Choices(
            _fixes(form["fixes"]),
            tuple(_fixes(step) for step in form["past"]),
            tuple(_fixes(step) for step in form["future"]),
        )
        lessons = {from_json(one): Lesson.from_json(lesson) for one, lesson in form["lessons"]}
    except DAMAGED:
        _set_aside(path)
        return Kept()
    return Kept(choices, lessons)


def _fixes(forms: Iterable[Sequence[Any]]) -> tuple[Fix, ...]:
    return tuple(from_json(form) for form in forms)


def _set_aside(path: Path) -> None:
    try:
        path.replace(path.with_suffix(".damaged"))
    except OSError as error:
        raise CoachError(f'the damaged choices in "{path}" cannot be set aside: {error.strerror}') from error


def _write(piece: Piece, kept: Kept) -> None:
    choices = kept.choices
    said = {one for step in (choices.fixes, *choices.past, *choices.future) for one in step}
    form = {
        "form": FORM,
        "title": piece.title,
        "source": piece.source,
        "fixes": [to_json(one) for one in choices.fixes],
        "past": [[to_json(one) for one in step] for step in choices.past],
        "future": [[to_json(one) for one in step] for step in choices.future],
        "lessons": [[to_json(one), lesson.to_json()] for one, lesson in kept.lessons.items() if one in said],
    }
    _put(_path(piece), form, f'the choices for "{piece.title}"')


def _put(path: Path, form: object, what: str) -> None:
    try:
        write_whole(path, json.dumps(form, ensure_ascii=False, indent=1) + "\n")
    except OSError as error:
        raise CoachError(f"cannot keep {what}: {error.strerror}") from error
