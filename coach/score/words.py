"""What the words under the notes say: syllables, words, line ends, and the poetic metre they scan in."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass

from coach.errors import CoachError
from coach.score.piece import Note, Piece, Quarters

STOPS = {".": 1.0, "!": 1.0, "?": 1.0, ";": 0.9, ":": 0.9, ",": 0.55, "—": 0.6, "–": 0.6}
"""How strongly a sign after a word speaks for the end of a line; 1 is the end of a sentence."""

LONGEST_RUN = 80
"""Digits in a row of a metre: forty lines of two each."""

NAMED_METRES: dict[str, tuple[int, ...]] = {
    "CM": (8, 6, 8, 6),
    "LM": (8, 8, 8, 8),
    "SM": (6, 6, 8, 6),
}
"""Common, long and short metre, as hymnals' metrical indexes abbreviate them (common practice, no source)."""


DOUBLED = re.compile(r"(?P<first>D(?:OUBLED?)? ?(?=[CLS] ?M\b|\d))?(?P<metre>.*?)(?P<last> ?D(?:OUBLED?)?)?")
"""A metre that is sung twice to a stanza: "8.7.8.7 D", "C.M. Double", "D.C.M." (common practice, no source)."""


def words_under(piece: Piece, onset: Quarters | float, end: Quarters | float) -> dict[Quarters, Note]:
    """The notes whose words stand under a stretch of music, by their onset.

    They are those of the highest voice that has words there, and another voice's where that one is silent: its singers
    may be written in another row for a note.
    """
    inside = piece.notes[_place(piece, onset) : _place(piece, end)]
    sung = {note.voice for note in inside if any(note.words)}
    highest = next((voice for voice in piece.voices if voice in sung), None)
    sounding = [note for note in inside if note.voice == highest]
    found = {note.onset: note for note in sounding if any(note.words)}
    for note in sorted((one for one in inside if any(one.words)), key=lambda one: piece.voices.index(one.voice)):
        if note.onset not in found and not any(other.onset <= note.onset < other.end for other in sounding):
            found[note.onset] = note
    return found


def _place(piece: Piece, onset: Quarters | float) -> int:
    """The place of the first note that starts there or later."""
    return bisect_left(piece.notes, onset, key=lambda note: note.onset)


@dataclass(frozen=True, slots=True)
class Syllable:
    """A note of the singing voice and what stands under it.

    Attributes:
        note: The note.
        texts: Syllable a stanza, "" where the note carries on the syllable before it or has no words.
    """

    note: Note
    texts: tuple[str, ...]

    @property
    def sung(self) -> bool:
        """Whether a syllable begins here."""
        return any(self.texts)


def singing_voice(piece: Piece) -> str | None:
    """The voice with most words, the upper one of two; None where nobody has words."""
    counts = {voice: sum(any(note.words) for note in piece.notes if note.voice == voice) for voice in piece.voices}
    best = max(piece.voices, key=lambda voice: counts[voice], default=None)
    return best if best is not None and counts[best] else None


def melody(piece: Piece) -> tuple[Syllable, ...]:
    """The voice that the phrases follow: the one with the words, else the highest; one note at a time."""
    voice = singing_voice(piece) or piece.voices[0]
    top: dict[object, Note] = {}
    for note in piece.notes:
        if note.voice == voice and (note.onset not in top or note.midi > top[note.onset].midi):
            top[note.onset] = note
    return tuple(Syllable(note, note.words) for note in top.values())


def after_word(syllables: Sequence[Syllable], place: int, stanza: int) -> str | None:
    """The syllable that sounds before a note, where it ends its word; "" inside a word, None without words."""
    for earlier in reversed(syllables[:place]):
        text = earlier.texts[stanza] if stanza < len(earlier.texts) else ""
        if text:
            return "" if text.endswith("-") and not re.search(r"[^\w-]-$", text) else text
    return None


def stop_after(text: str) -> float:
    """How strongly the signs after a word speak for a line end, 0 to 1."""
    signs = re.sub(r"[\"'”’»)\]*]+$", "", text.strip())
    if signs.endswith("--"):
        return STOPS["—"]
    return STOPS.get(signs[-1:], 0.0)


def begins_with_capital(text: str) -> bool:
    """Whether a word begins with a capital letter, quotation marks and brackets aside."""
    letters = re.sub(r"^[^\w]+", "", text)
    return letters[:1].isupper()


def stanzas(syllables: Sequence[Syllable]) -> int:
    """How many stanzas stand under the notes."""
    return max((len(syllable.texts) for syllable in syllables), default=0)


def metre_lines(text: str) -> tuple[int, ...]:
    """Syllables a line of a poetic metre: "8.7.8.7", "87 87 D", "C.M. Double", "11.10.11.10 with refrain".

    Raises:
        CoachError: no metre can be made of it.
    """
    bare = " ".join(re.sub(r"WITH|REFRAIN|AND|ALLELUIAS?|[\s.,:/+()-]", " ", text.upper()).split())
    found = DOUBLED.fullmatch(bare)
    assert found
    named, doubled = found["metre"], bool(found["first"] or found["last"])
    lines = NAMED_METRES.get(named.replace(" ", ""))
    if lines is None:
        tokens = named.split()
        if not tokens or any(not token.isdecimal() or len(token) > LONGEST_RUN for token in tokens):
            raise CoachError(
                f'cannot make a metre of "{text}": write the syllables of each line, as in 8.7.8.7, or C.M.'
            )
        # "87 87" and "1110" stand for several lines: no line has more syllables than about twenty.
        split = [re.findall(r"1\d|\d", token) if int(token) > 20 else [token] for token in tokens]
        lines = tuple(int(number) for numbers in split for number in numbers)
    lines *= 2 if doubled else 1
    if len(lines) > 40 or any(not number for number in lines):
        raise CoachError(f'cannot make a metre of "{text}": a stanza has at most 40 lines of 1 to 20 syllables')
    return lines
