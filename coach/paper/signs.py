"""How each thing that musicians pencil is written in one character: a full set, and one in plain ASCII."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import astuple, dataclass

from coach.errors import CoachError

_PITCH = re.compile(r"([A-G])(#*|b*)(-?\d+)")


@dataclass(frozen=True, slots=True)
class Signs:
    """One set of signs, each a single character that fills a single place of a terminal.

    Attributes:
        sharp, flat: Accidentals.
        digits: Small figures 0 to 9 and a minus, for octaves.
        right, left: A hand's bracket: top, middle, bottom, a note alone, and passing a voice that is not the hand's.
        slur_right, slur_left: The two ends of the slur over a group.
        slur: The slur's line where the hand joins.
        again: The dots under a slur where the hand only strikes the same keys again.
        lift: The hand leaves the keys.
        hold: The line of a held note.
        let_go: Where a held note is let go early.
        raised: Played an octave higher than written.
        rolled: Struck in turn, lowest first.
        own: The finger is the player's or the source's own choice.
        omitted: Around a note that is left out.
        pedal: The pedal goes down, changes, comes up; a line holds it.
        bar: Bar line.
        here: Points at the current chord.
        cut: Ends a syllable that had no room.
        dash, dot: Range of bars; separator in headings.
    """

    sharp: str
    flat: str
    digits: str
    right: tuple[str, str, str, str, str]
    left: tuple[str, str, str, str, str]
    slur_right: tuple[str, str]
    slur_left: tuple[str, str]
    slur: str
    again: str
    lift: str
    hold: str
    let_go: str
    raised: str
    rolled: str
    own: str
    omitted: tuple[str, str]
    pedal: tuple[str, str, str]
    bar: str
    here: str
    cut: str
    dash: str
    dot: str


SIGNS = Signs(
    sharp="♯",
    flat="♭",
    digits="₀₁₂₃₄₅₆₇₈₉₋",
    right=("┐", "│", "┘", "]", "┊"),
    left=("┌", "│", "└", "[", "┊"),
    slur_right=("╭", "╮"),
    slur_left=("╰", "╯"),
    slur="─",
    again="·",
    lift=",",
    hold="─",
    let_go="┤",
    raised="↑",
    rolled="∫",
    own="°",
    omitted=("(", ")"),
    pedal=("└", "┴", "┘"),
    bar="│",
    here="▸",
    cut="…",
    dash="–",
    dot="·",
)
"""Every one of these is in the common fixed-width fonts, and one place wide."""

ASCII = Signs(
    sharp="#",
    flat="b",
    digits="0123456789-",
    right=("]", "]", "]", "]", ":"),
    left=("[", "[", "[", "[", ":"),
    slur_right=(".", "."),
    slur_left=("'", "'"),
    slur="-",
    again=".",
    lift=",",
    hold="-",
    let_go="/",
    raised="^",
    rolled="~",
    own="*",
    omitted=("(", ")"),
    pedal=("|", "^", "|"),
    bar="|",
    here=">",
    cut="~",
    dash="-",
    dot="-",
)
"""For terminals and printers that know no more."""


def signs_for(encoding: str | None) -> Signs:
    """The full set where an encoding knows all of it, else the plain one."""
    try:
        "".join(sign for field in astuple(SIGNS) for sign in field).encode(encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return ASCII
    return SIGNS


def note_name(pitch: str, signs: Signs = SIGNS) -> str:
    """The name without its octave: "B♭" for "Bb3".

    Raises:
        CoachError: the spelling is not one of a note.
    """
    letter, accidental, _ = _spelling(pitch)
    return letter + accidental.replace("#", signs.sharp).replace("b", signs.flat)


def octave_figure(pitch: str, signs: Signs = SIGNS) -> str:
    """The octave as small figures: "₃" for "Bb3" (scientific pitch notation: middle C begins octave 4)."""
    _, _, octave = _spelling(pitch)
    return "".join(signs.digits[10 if figure == "-" else int(figure)] for figure in octave)


def letter_step(pitch: str) -> int:
    """Place on the staff, counted in letters: neighbours differ by 1 whatever their accidentals; C0 is 0."""
    letter, _, octave = _spelling(pitch)
    return "CDEFGAB".index(letter) + 7 * int(octave)


def _spelling(pitch: str) -> tuple[str, str, str]:
    found = _PITCH.fullmatch(pitch)
    if found is None:
        raise CoachError(f'"{pitch}" is not the name of a note')
    return found[1], found[2], found[3]


def beside(signs: Signs, text: str) -> str:
    """A text as it is written beside these signs: in ASCII beside the plain ones."""
    return plain(text) if signs is ASCII else text


def breadth(text: str) -> int:
    """How many places of a terminal a text fills; words may be in any script (Unicode UAX 11 and 44)."""
    return sum(places(character) for character in text)


def padded(text: str, width: int, *, right: bool = False) -> str:
    """A text filled up with spaces to so many places of a terminal; to the right, they stand before it."""
    gap = " " * (width - breadth(text))
    return gap + text if right else text + gap


def places(character: str) -> int:
    """0 for marks that stand on the character before, 2 for wide East Asian ones, else 1."""
    if " " <= character <= "~":
        return 1
    if unicodedata.category(character) in ("Mn", "Me", "Cf", "Cc"):
        return 0
    return 2 if unicodedata.east_asian_width(character) in "WF" else 1


def plain(text: str) -> str:
    """A text in ASCII: letters lose their accents, what has no likeness becomes a question mark."""
    likeness = {"–": "-", "—": "-", "’": "'", "‘": "'", "“": '"', "”": '"', "…": "...", "ß": "ss", "♭": "b", "♯": "#"}
    spelled = "".join(likeness.get(character, character) for character in text)
    letters = "".join(c for c in unicodedata.normalize("NFKD", spelled) if not unicodedata.combining(c))
    return letters.encode("ascii", "replace").decode("ascii")


def in_its_place(text: str) -> str:
    """A text in ASCII for a screen: every character's likeness fills the places that the character filled."""
    return "".join((_PLAIN_SIGN.get(c) or plain(c) or "?").ljust(places(c))[: places(c)] for c in text)


def _pairs() -> dict[str, str]:
    found: dict[str, str] = {}
    for full, bare in zip(astuple(SIGNS), astuple(ASCII), strict=True):
        for sign, plain_sign in zip(full, bare, strict=True):
            found.setdefault(sign, plain_sign)
    return found


_BLOCKS = {"▁▂▃": "_", "▄▅": "=", "▏▎▍": ".", "▆▇▌▋▊▉█": "#", "░": "."}
"""Parts of a place that a scroll bar, a plot or a chance fills, by what comes near (Unicode, U+2581 to U+2591)."""

_PLAIN_SIGN = {
    **_pairs(),
    "•": "+",
    "×": "x",
    "○": "o",
    "′": "'",
    "←": "<",
    "→": ">",
    "↓": "v",
    "▼": "v",
    "▲": "^",
    **{block: bare for blocks, bare in _BLOCKS.items() for block in blocks},
}
"""Signs that the screen draws, and what stands for them where a terminal knows no more than ASCII."""
