"""What an ABC file holds: its text, and the tunes in it (ABC 2.1, sections 2 and 3)."""

from __future__ import annotations

import html
import re
import unicodedata
from dataclasses import dataclass

from coach.errors import CoachError

CHARSET = re.compile(rb"^(?:%%|I:)\s*abc-charset\s+([\w-]+)", re.M)
FIELD = re.compile(r"([A-Za-z+]):(.*)", re.S)
MUSIC = re.compile(r"[A-Ga-gzxZXy\d\s|:\[\](){}/,'^_=<>.~\-!&\"HTuv]+")
"""Lines made of nothing else can only be music."""

ACCENTS = {"`": "\u0300", "'": "\u0301", "^": "\u0302", "~": "\u0303", '"': "\u0308", "c": "\u0327", "v": "\u030c"}
"""Combining characters of ABC's mnemonics: \\'e, \\"u, \\cc (ABC 2.1, section 8.2)."""

LETTERS = {"ae": "æ", "AE": "Æ", "oe": "œ", "OE": "Œ", "ss": "ß", "aa": "å", "AA": "Å", "/o": "ø", "/O": "Ø"}


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a tune.

    Attributes:
        number: In the file, from 1, for error sentences.
        text: Without comment and line end.
    """

    number: int
    text: str

    @property
    def field(self) -> tuple[str, str] | None:
        """Letter and content, where the line is an information field."""
        found = FIELD.fullmatch(self.text)
        return (found[1], found[2].strip()) if found else None


@dataclass(frozen=True, slots=True)
class Tune:
    """One tune of a file.

    Attributes:
        number: Its X: number, 0 where it has none.
        title: Its first title, "" where it has none.
        lines: The lines of the file header, and all lines of the tune after X:.
    """

    number: int
    title: str
    lines: tuple[Line, ...]


def looks_like_abc(data: bytes) -> bool:
    """Whether a file holds an ABC tune: it needs a key field, and a number or a title before it."""
    head = data[:65536].replace(b"\r", b"\n")
    return bool(re.search(rb"^K:", head, re.M)) and bool(re.search(rb"^(?:X|T):", head, re.M))


def decoded(data: bytes) -> str:
    """The text of a file: UTF-8 where it is valid, else the character set it names, else Latin-1."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        named = CHARSET.search(data)
        try:
            return data.decode(named[1].decode("ascii") if named else "latin-1", "replace")
        except LookupError:
            return data.decode("latin-1")


def tunes_of(text: str, name: str) -> tuple[Tune, ...]:
    """Cut a file into its tunes. Lines before the first tune (the file header) count for each of them.

    A tune ends at an empty line, unless what follows is plainly more of its music.
    """
    header: list[Line] = []
    groups: list[list[Line]] = []
    typeset = ended = False
    for line in _lines(text):
        if re.match(r"%%begin(text|ps|svg)", line.text):
            typeset = True
        if typeset:
            typeset = not re.match(r"%%end(text|ps|svg)", line.text)
            continue
        field = line.field
        if field and field[0] == "X":
            groups.append([line])
            ended = False
        elif not groups:
            if (field and field[0] in "ILMQU") or line.text.startswith("%%"):
                header.append(line)
            elif field and field[0] in "TVK":
                # A tune without a number.
                groups.append([Line(line.number, "X:0"), line])
        elif not line.text.strip():
            ended = ended or _has_key(groups[-1])
        elif not ended or _continues(line):
            groups[-1].append(line)
    tunes = []
    for group in groups:
        if not _has_key(group):
            continue
        number = re.match(r"\s*(\d{1,9})", group[0].field[1] if group[0].field else "")
        titles = [line.field[1] for line in group if line.field and line.field[0] == "T"]
        title = plain(titles[0]) if titles else ""
        tunes.append(Tune(int(number[1]) if number else 0, title, (*header, *group[1:])))
    if not tunes:
        raise CoachError(f'cannot read "{name}": it holds no ABC tune (a tune needs a key, "K:")')
    return tuple(tunes)


def chosen_tune(tunes: tuple[Tune, ...], choice: str, name: str) -> Tune:
    """The tune that the player means.

    Args:
        tunes: All tunes of the file.
        choice: A number, words of a title, or "" where the file should hold one tune only.
        name: What the player calls the file.

    Raises:
        CoachError: none or several fit.
    """
    if not choice:
        fitting = list(tunes)
    elif choice.isdecimal():
        fitting = [tune for tune in tunes if tune.number == int(choice)][:1]
    else:
        wanted = choice.casefold()
        fitting = [tune for tune in tunes if tune.title.casefold() == wanted] or [
            tune for tune in tunes if wanted in tune.title.casefold()
        ]
    if len(fitting) == 1:
        return fitting[0]
    some = ", ".join(f"{tune.number} {tune.title}".strip() for tune in (fitting or list(tunes))[:6])
    more = ", ..." if len(fitting or tunes) > 6 else ""
    if not fitting:
        raise CoachError(f'cannot find "{choice}" among the tunes of "{name}": {some}{more}')
    if choice:
        raise CoachError(f'"{choice}" fits several tunes of "{name}": {some}{more}')
    raise CoachError(
        f'"{name}" holds {len(tunes)} tunes: name one by number or title, as in "{name}#{tunes[0].number}"'
        f" ({some}{more})"
    )


def plain(text: str) -> str:
    """Text without ABC's mnemonics and entities: "\\'e" and "&eacute;" become "é" (ABC 2.1, section 8.2)."""
    if "\\" in text:
        text = re.sub(r"\\(ae|AE|oe|OE|ss|aa|AA|/o|/O)", lambda found: LETTERS[found[1]], text)
        text = re.sub(r"\\u([0-9a-fA-F]{4})", lambda found: chr(int(found[1], 16)), text)
        text = re.sub(
            r"\\([`'^~\"cv])([A-Za-z])",
            lambda found: unicodedata.normalize("NFC", found[2] + ACCENTS[found[1]]),
            text,
        )
        text = re.sub(r"\\(.)", r"\1", text)
    return " ".join((html.unescape(text) if "&" in text else text).split())


def _lines(text: str) -> list[Line]:
    lines = []
    for number, raw in enumerate(re.split(r"\r\n|\r|\n", text), 1):
        kept = raw if raw.startswith("%%") else re.sub(r"(?<!\\)%.*", "", raw)
        if raw.strip() and not kept.strip():
            # A line that is all comment is no empty line.
            continue
        lines.append(Line(number, re.sub(r"\[r:[^\[\]]*\]", "", kept).rstrip()))
    return lines


def _has_key(lines: list[Line]) -> bool:
    return any(line.text.startswith("K:") for line in lines)


def _continues(line: Line) -> bool:
    if line.text.startswith("%%") or re.match(r"\[?V:|w:|\[[A-Z]:", line.text):
        return True
    return "|" in line.text and MUSIC.fullmatch(line.text) is not None
