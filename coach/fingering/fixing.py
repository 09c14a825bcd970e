"""What the player does with choices: make one, take one back, see what it would cost."""

from __future__ import annotations

from collections.abc import Sequence

from coach.errors import CoachError
from coach.fingering.choices import Choices, Fix
from coach.fingering.hand import Hands
from coach.fingering.limits import can_be
from coach.fingering.refusals import in_words, refusal
from coach.fingering.search import Options, Search, search_of
from coach.fingering.settling import settle
from coach.score.piece import Phrase, Piece, chords_of


def fix(
    piece: Piece,
    phrases: Sequence[Phrase],
    choices: Choices,
    wish: Fix,
    hands: Hands | None = None,
    options: Options | None = None,
) -> Choices:
    """The player's choices with one more; one that decided the same before gives way.

    Args:
        piece: The piece.
        phrases: How it is cut.
        choices: What is chosen so far.
        wish: The new choice.
        hands: The player's hands and keyboard.
        options: How the piece is planned; the choices among them do not count.

    Raises:
        CoachError: no plan honours it, with the reason; an earlier choice that the plan honours stays.
    """
    search = search_around(piece, phrases, wish, hands, options)
    others = [one for one in choices.fixes if one.what != wish.what]
    honoured = settle(search, _in(search, others)).honoured
    if not can_be(search, [*honoured, wish]):
        raise CoachError(refusal(search, wish, honoured))
    return choices.fixed(wish)


def search_around(
    piece: Piece, phrases: Sequence[Phrase], wish: Fix, hands: Hands | None = None, options: Options | None = None
) -> Search:
    """The search of the phrase that a choice is in.

    Raises:
        CoachError: it is in none.
    """
    for phrase in phrases:
        if phrase.onset <= wish.onset < phrase.end:
            chords = chords_of(piece, phrase)
            return search_of(chords, hands or Hands(), options or Options())
    raise CoachError(f"{in_words(wish)} is not possible: no phrase of the piece has a chord there")


def _in(search: Search, fixes: Sequence[Fix]) -> tuple[Fix, ...]:
    return tuple(one for one in fixes if one.onset in search.onsets)
