"""How the words of an ABC tune are laid under its notes (ABC 2.1, section 5)."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from coach.score.formats.abc_file import plain

if TYPE_CHECKING:
    from coach.score.formats.abc_bars import CodedNote

TOKEN = re.compile(r"\s*((?:\\.|[^\s\-_*|])+-?|-|_|\*|\|)")
"""A syllable with the hyphen that follows it, or a sign: held on, skipped, next bar."""


def lay_words(text: str, stanza: int, notes: Sequence[tuple[int, CodedNote]]) -> None:
    """Lay one stanza under the notes that have no words yet.

    Args:
        text: Content of a w: field.
        stanza: Which stanza it is, from 0.
        notes: Notes in order, each with the index of its bar.
    """
    text = re.sub(r"^\s*\d+[.):]?(?:~|\s)+(?=\S)", "", text)
    place, barred = 0, True
    for sign in TOKEN.findall(text):
        if place >= len(notes):
            return
        if sign == "|":
            # The first bar line after the last syllable of a bar only closes it; each further one skips a bar.
            if barred or notes[place][0] == notes[place - 1][0]:
                bar = notes[place][0]
                while place < len(notes) and notes[place][0] == bar:
                    place += 1
            barred = True
            continue
        barred = False
        note = notes[place][1]
        note.words += [""] * (stanza + 1 - len(note.words))
        if sign not in ("-", "_", "*"):
            goes_on = sign.endswith("-") and not sign.endswith("\\-")
            syllable = sign[:-1] if goes_on else sign
            note.words[stanza] = plain(syllable.replace("~", " ")) + ("-" if goes_on else "")
        place += 1
