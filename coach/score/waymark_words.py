"""The words and signs by which scores say D.C., D.S., Fine, Segno and Coda, in all their spellings."""

from __future__ import annotations

import re
import unicodedata

from coach.score.waymarks import Kind, Until, Waymark

SIGNS = {
    # Unicode, Musical Symbols; the same in SMuFL 1.3, table Repeats (W3C Music Notation Community Group).
    "\U0001d109": "d.s.",
    "\U0001d10a": "d.c.",
    "\U0001d10b": "segno",
    "\U0001d10c": "coda",
    "\ue045": "d.s.",
    "\ue046": "d.c.",
    "\ue047": "segno",
    "\ue048": "coda",
    "\ue049": "coda",
    "\ue04a": "segno",
    "\ue04b": "segno",
}
"""Characters that stand for a mark."""

BACK = r"(?P<capo>dc|dacapo)|(?P<segno>ds|dsegno|da(?:l|l?lo)?segno|dals)(?:segno)?"
"""The words are read without dots, blanks and accents: "D. C.", "Da Capo", "D.S. 𝄋"."""

TOWARDS = r"(?:al|alla|allo|ala|a|to|tothe|till|until)"

MARKS: tuple[tuple[re.Pattern[str], Kind], ...] = (
    (re.compile(r"(?:il)?fine?"), "fine"),
    (re.compile(r"segno|ilsegno|thesign"), "segno"),
    (re.compile(rf"(?:{TOWARDS}|da|vai?alla)coda(?:coda)?"), "to coda"),
    (re.compile(r"(?:la|the)?coda(?:coda)?"), "coda"),
)
"""Marks of one word. French and old English prints have "Fin" (common practice, no source)."""

GOES_BACK = re.compile(
    rf"(?:m(?=dc)|m[ei]nuett?o?|scherzo)?(?:{BACK})"
    rf"(?:{TOWARDS}?(?:(?P<fine>fine?)|(?P<coda>coda)|(?P<sign>segno|ilsegno|thesign)))?"
    r"(?:e?(?:poi|then|and|indi)(?:la|segue|the)*coda)?"
    # That repeats are left out on the way is what a D.C. means by itself.
    r"(?:ma)?(?:(?:senza|without|no|sans)(?:le?|the)?(?:rep\w{0,12}|rit\w{0,12}))?"
)
""""D.C.", "Da Capo al Fine", "D.S. al Coda e poi la Coda", "Menuetto da capo senza ripetizione"."""

LIKE_IT = re.compile(
    r"\b(?:[Dd]\. ?[CcSs]\.?(?=\W*(?:$|[a-z]|A[Ll]))|[Dd][Aa] ?[Cc][Aa][Pp][Oo]\b|[Dd][Aa][Ll] ?[Ss][Ee][Gg][Nn][Oo]\b)"
)
"""What no player can pass over, though it says more than is understood. "D. S. Wood" is a person."""

LONGEST = 60
"""Letters of the longest words that are read as a mark."""


def waymark_in(text: str) -> Waymark | None:
    """The mark that a text is, all of it: "Fine" is one, "Finest of all" is none. Its place is left at 0."""
    squeezed = _squeezed(text)
    if not squeezed or len(squeezed) > LONGEST:
        return None
    for pattern, kind in MARKS:
        if pattern.fullmatch(squeezed):
            return Waymark(kind)
    found = GOES_BACK.fullmatch(squeezed)
    if not found:
        return None
    until: Until = "fine" if found["fine"] else "coda" if found["coda"] else "segno" if found["sign"] else ""
    return Waymark("da capo" if found["capo"] else "dal segno", until=until)


def not_understood(text: str) -> bool:
    """Whether a text that is no mark says D.C. or D.S. all the same, with words about it that make no sense here."""
    return len(text) <= 2 * LONGEST and LIKE_IT.search(" ".join(text.split())) is not None


def _squeezed(text: str) -> str:
    """A text in small letters without blanks, dots and accents; signs as words."""
    for sign, word in SIGNS.items():
        text = text.replace(sign, f" {word} ")
    plain = unicodedata.normalize("NFKD", text).casefold()
    return "".join(letter for letter in plain if letter.isalnum())
