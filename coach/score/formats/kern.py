"""How Humdrum files with **kern spines are read.

Syntax and signs: David Huron, The Humdrum Toolkit: Reference Manual, sections on Humdrum syntax and **kern
(https://www.humdrum.org/rep/kern/).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from fractions import Fraction

from coach.errors import CoachError
from coach.score.formats.kern_sections import LABEL, ORDER, going_back, with_endings
from coach.score.page import (
    FINEST,
    Mark,
    Page,
    Part,
    Rest,
    Tally,
    changes_of_key,
    divided,
    incomplete,
    measured,
    midi_of,
    numbered_from_pickup,
    spelled,
    with_held_rests,
)
from coach.score.piece import Bar, Quarters
from coach.score.repeats import Repeat
from coach.score.waymark_places import Posts

PITCH = re.compile(r"([a-g])\1*|([A-G])\2*")
ALTER = re.compile(r"[a-gA-G](##?|--?|n)?")
LENGTH = re.compile(r"(\d{1,4})(?:%(\d{1,4}))?(\.{0,4})")
TEXT = re.compile(r"!!?LO:TX:(?:[^\t]*?:)?t=([^:\t]*)")
"""A text printed over what comes next, in one column or, with "!!", in all of them (Humdrum, layout parameters)."""

MOST_SPINES = 200


@dataclass(slots=True)
class _Spine:
    """One column. Columns made by a split share their origin.

    Attributes:
        kind: "**kern", "**text" and so on.
        origin: Index of the column it began as.
        line: Number of the voice within the part after splits.
        until: Where the last token of the column ends, for **kern.
    """

    kind: str
    origin: int
    line: int = 0
    until: Quarters = Fraction(0)


@dataclass(frozen=True, slots=True)
class _BarLine:
    """A bar line: where, the number of the bar that it begins, and its signs: "=:|!" closes a repeat, "=!|:" opens
    one, "=:|!|:" does both."""

    place: Quarters
    number: int | None
    double: bool
    closes: bool
    opens: bool

    @classmethod
    def of(cls, token: str, place: Quarters) -> _BarLine:
        found = re.match(r"=+(\d{0,5})[a-z]?([|!:]*)", token)
        number, signs = found.groups() if found else ("", "")
        double = re.search(r"==|\|\||[:!]", token) is not None
        return cls(place, int(number) if number else None, double, signs.startswith(":"), signs.endswith(":"))

    def joined(self, last: _BarLine) -> _BarLine:
        """With another one at the same place before it."""
        number = last.number if self.number is None else self.number
        double, closes, opens = self.double or last.double, self.closes or last.closes, self.opens or last.opens
        return _BarLine(self.place, number, double, closes, opens)


@dataclass(slots=True)
class _Column:
    """What is known of a column as it began: its name, its notes, its rests with a fermata."""

    name: str = ""
    marks: list[Mark] = field(default_factory=list)
    rests: list[Rest] = field(default_factory=list)


def looks_like_kern(data: bytes) -> bool:
    """Whether a file is Humdrum with music in it."""
    return re.search(rb"^(?:[^\n\t]*\t)*\*\*kern", data[:65536].replace(b"\r", b"\n"), re.M) is not None


def read_kern(text: str, name: str) -> Page:
    """Read a Humdrum file.

    Args:
        text: The file.
        name: What the player calls it.

    Raises:
        CoachError: columns that do not fit together, or tokens that make no sense.
    """
    reader = _KernReader(name)
    for number, line in enumerate(re.split(r"\r\n|\r|\n", text), 1):
        reader.line(line, number)
    return reader.page()


class _KernReader:
    def __init__(self, name: str) -> None:
        self.name = name
        self._tally = Tally(name)
        self.title = self.composer = ""
        self.spines: list[_Spine] = []
        self.columns: list[_Column] = []
        self.now: Quarters = Fraction(0)
        self.metres: list[tuple[Quarters, str]] = []
        self.barlines: list[_BarLine] = []
        self.fifths: int | None = None
        self.later_keys: list[tuple[Quarters, int]] = []
        self._key_column: int | None = None
        self.order: list[str] = []
        self.labels: list[tuple[Quarters, str]] = []
        self.minor: bool | None = None
        self.tempo: float | None = None
        self.graces = 0
        self.number = 0
        self.posts = Posts()

    def line(self, line: str, number: int) -> None:
        self.number = number
        if line.startswith("!"):
            self._reference(line)
            self._texts(line)
        elif not line.strip():
            return
        elif line.startswith("**"):
            if self.spines:
                raise self._error("begins its columns a second time")
            kinds = line.split("\t")
            if len(kinds) > MOST_SPINES:
                raise self._error(f"has more than {MOST_SPINES} columns")
            self.spines = [_Spine(kind, place) for place, kind in enumerate(kinds)]
            self.columns = [_Column() for _ in kinds]
        elif self.spines:
            tokens = line.split("\t")
            if len(tokens) != len(self.spines):
                raise self._error(f"has {len(tokens)} columns where {len(self.spines)} are open")
            if line.startswith("*"):
                self._interpret(tokens)
            elif line.startswith("="):
                self._bar_line(tokens)
            else:
                self._data(tokens)

    def page(self) -> Page:
        page = Page(title=self.title, composer=self.composer, quarter_bpm=self.tempo)
        page.fifths, page.minor = self.fifths or 0, self.minor
        page.key_changes = changes_of_key(page.fifths, self.later_keys)
        self._advance()
        end = max((mark.end for column in self.columns for mark in column.marks), default=self.now)
        page.bars = with_endings(self._bars(max(end, self.now)), self.order, self.labels)
        rests: list[Rest] = []
        # The lowest part stands in the first column.
        for column in reversed([column for column in self.columns if column.marks]):
            page.marks += [replace(mark, part=len(page.parts)) for mark in column.marks]
            rests += [replace(rest, part=len(page.parts)) for rest in column.rests]
            page.parts.append(Part(column.name))
        page.marks = with_held_rests(page.marks, rests, page.bars)
        if self.graces:
            page.remarks.append(f"left out {self.graces} grace note{'s' if self.graces > 1 else ''}")
        if not any(post.mark.goes_back for post in self.posts.posted):
            for mark, onset in going_back(self.order, self.labels, page.bars[-1].end if page.bars else self.now):
                # What ends music there ends the bar before.
                self.posts.add(mark, onset, onset if mark.begins else Fraction(-1))
        self.posts.fill(page)
        return page

    def _reference(self, line: str) -> None:
        found = re.match(r"!!!(OTL|COM)[^:]*:\s*(.*)", line)
        if found and found[1] == "OTL" and not self.title:
            self.title = " ".join(re.sub(r"^\d+\.\s*", "", _accents(found[2])).split())
        elif found and found[1] == "COM" and not self.composer:
            last, _, first = _accents(found[2]).partition(",")
            self.composer = f"{first.strip()} {last.strip()}".strip()

    def _texts(self, line: str) -> None:
        # The next row starts where the first of all columns has ended.
        onset = min((spine.until for spine in self.spines if spine.kind == "**kern"), default=self.now)
        since = self.barlines[-1].place if self.barlines else Fraction(0)
        for text in TEXT.findall(line):
            self.posts.text(text.replace("&colon;", ":"), onset, since)

    def _interpret(self, tokens: list[str]) -> None:
        if any(token in ("*^", "*v", "*+", "*-", "*x") for token in tokens):
            self._paths(tokens)
            return
        self._section(next((token for token in tokens if token.startswith("*>")), ""))
        for token, spine in zip(tokens, self.spines, strict=True):
            if spine.kind != "**kern":
                continue
            column = self.columns[spine.origin]
            if found := re.fullmatch(r"\*M(\d{1,2})/(\d{1,2})", token):
                if int(found[1]) and found[2] in ("1", "2", "4", "8", "16", "32"):
                    self._metre(f"{int(found[1])}/{found[2]}")
            elif token == "*MX":
                self._metre("")
            elif found := re.fullmatch(r"\*k\[((?:[a-g][#-])*)\]", token):
                self._signature(found[1].count("#") - found[1].count("-"), spine.origin)
            elif found := re.fullmatch(r"\*([A-Ga-g])[#-]?:.*", token):
                if self.minor is None:
                    self.minor = found[1].islower()
            elif found := re.fullmatch(r"\*MM(\d{2,3}(?:\.\d+)?)", token):
                self.tempo = self.tempo or (float(found[1]) if 10 <= float(found[1]) <= 500 else None)
            elif found := re.fullmatch(r"\*I[\":](.*)", token):
                column.name = column.name or found[1].strip("[] ")

    def _section(self, token: str) -> None:
        """Take in a section's label, or the order in which sections are played."""
        if (found := ORDER.fullmatch(token)) and not self.order:
            self.order = [label.strip() for label in found[1].split(",")]
        elif found := LABEL.fullmatch(token):
            self._advance()
            self.labels.append((self.now, found[1]))

    def _metre(self, metre: str) -> None:
        if not self.metres or self.metres[-1][1] != metre:
            self._advance()
            self.metres.append((self.now, metre))

    def _signature(self, fifths: int, column: int) -> None:
        """Take in a signature; of several columns the first that has one leads."""
        self._advance()
        if self._key_column is None:
            self._key_column = column
        if column == self._key_column:
            if self.now:
                self.later_keys.append((self.now, fifths))
            else:
                self.fifths = fifths

    def _paths(self, tokens: list[str]) -> None:
        """Columns that split, join, end, change places."""
        spines: list[_Spine] = []
        place = 0
        while place < len(tokens):
            token, spine = tokens[place], self.spines[place]
            if token == "*^":
                lines = [other.line for other in self.spines + spines if other.origin == spine.origin]
                spines += [spine, replace(spine, line=max(lines) + 1)]
            elif token == "*v":
                joined = [spine]
                while place + 1 < len(tokens) and tokens[place + 1] == "*v":
                    place += 1
                    joined.append(self.spines[place])
                spines.append(replace(spine, until=max(other.until for other in joined)))
            elif token == "*+":
                self.columns.append(_Column())
                spines += [spine, _Spine("**null", len(self.columns) - 1, 0, spine.until)]
            elif token == "*x" and place + 1 < len(tokens) and tokens[place + 1] == "*x":
                spines += [self.spines[place + 1], spine]
                place += 1
            elif token != "*-":
                spines.append(spine)
            place += 1
        if len(spines) > MOST_SPINES:
            raise self._error(f"has more than {MOST_SPINES} columns")
        if not any(spine.kind == "**kern" for spine in spines):
            self._advance()
        self.spines = spines

    def _advance(self) -> None:
        """Move to where the next row starts: where all columns have ended, if they end together."""
        ends = [spine.until for spine in self.spines if spine.kind == "**kern"]
        later = [end for end in ends if end > self.now]
        if later:
            self.now = min(later)

    def _bar_line(self, tokens: list[str]) -> None:
        self._advance()
        ends = {spine.until for spine in self.spines if spine.kind == "**kern" and spine.until > self.now}
        if ends:
            raise self._error("has a bar line that a note sounds through without a tie")
        line = _BarLine.of(tokens[0], self.now)
        if self.barlines and self.barlines[-1].place == self.now:
            line = line.joined(self.barlines.pop())
        self.barlines.append(line)

    def _data(self, tokens: list[str]) -> None:
        rows = [(token, spine) for token, spine in zip(tokens, self.spines, strict=True) if token != "."]
        kern = [(token, spine) for token, spine in rows if spine.kind == "**kern"]
        starts = {spine.until for token, spine in kern if not _is_grace(token)}
        if len(starts) > 1:
            raise self._error("starts notes together whose columns are not at the same place")
        if starts:
            start = starts.pop()
            if start < self.now:
                raise self._error("starts a note before its place")
            self.now = start
        words = self._row_words(tokens)
        for token, spine in kern:
            self._token(token, spine, words.get(spine.origin, ()))

    def _row_words(self, tokens: list[str]) -> dict[int, tuple[str, ...]]:
        """Syllables of this row for the column to whose right they stand."""
        found: dict[int, list[str]] = {}
        owner: int | None = None
        for token, spine in zip(tokens, self.spines, strict=True):
            if spine.kind == "**kern":
                owner = spine.origin
            elif spine.kind in ("**text", "**silbe", "**lyrics") and owner is not None:
                syllable = "" if token in (".", "|", "_") else _accents(token)
                syllable = re.sub(r"^[-~_\s]+|[_|\s]+$", "", syllable).replace("~", " ")
                found.setdefault(owner, []).append(syllable)
        return {owner: tuple(words) for owner, words in found.items() if any(words)}

    def _token(self, token: str, spine: _Spine, words: tuple[str, ...]) -> None:
        if _is_grace(token):
            self.graces += len(token.split())
            return
        lengths = []
        for part in token.split():
            length = self._length(part)
            if length is None:
                continue
            lengths.append(length)
            if "r" not in part and "R" not in part:
                self._note(part, length, spine, words)
                words = ()
            elif ";" in part:
                self.columns[spine.origin].rests.append(Rest(0, str(spine.line), self.now))
        if not lengths:
            raise self._error(f'has a note without length: "{token[:12]}"')
        spine.until = self.now + max(lengths)
        if spine.until.denominator > FINEST:
            raise self._error("has a rhythm that nobody can count")

    def _length(self, part: str) -> Quarters | None:
        found = LENGTH.search(part)
        if not found:
            return None
        digits, under, dots = found.groups()
        if under and int(under) and int(digits):
            length = Fraction(4 * int(under), int(digits))
        elif set(digits) == {"0"}:
            length = Fraction(4 * 2 ** len(digits))
        else:
            length = Fraction(4, int(digits))
        return length * (2 - Fraction(1, 2 ** len(dots)))

    def _note(self, part: str, length: Quarters, spine: _Spine, words: tuple[str, ...]) -> None:
        self._tally.note()
        found = PITCH.search(part)
        if not found:
            raise self._error(f'has a note without pitch: "{part[:12]}"')
        letters = found[0]
        sign = ALTER.match(part, found.end() - 1)
        alter = {"#": 1, "##": 2, "-": -1, "--": -2}.get((sign[1] if sign else None) or "", 0)
        octave = 3 + len(letters) if letters.islower() else 4 - len(letters)
        step = letters[0].upper()
        if not 0 <= octave <= 9:
            raise self._error("has a note that no piano has")
        self.columns[spine.origin].marks.append(
            Mark(
                part=0,
                staff=1,
                line=str(spine.line),
                onset=self.now,
                duration=length,
                midi=midi_of(step, alter, octave),
                pitch=spelled(step, alter, octave),
                tied_in="]" in part or "_" in part,
                tied_on="[" in part or "_" in part,
                fermata=";" in part,
                breath="," in part,
                words=words,
            )
        )

    def _bars(self, end: Quarters) -> list[Bar]:
        starts = [Fraction(0), *(line.place for line in self.barlines if 0 < line.place < end)]
        ends = [*starts[1:], end]
        lines = {line.place: line for line in self.barlines}
        none = _BarLine(Fraction(0), None, False, False, False)
        bars: list[Bar] = []
        for start, until in zip(starts, ends, strict=True):
            metre = next((metre for place, metre in reversed(self.metres) if place <= start), "")
            opening, closing = lines.get(start, none), lines.get(until, none)
            repeat = Repeat(opening.opens, closing.closes)
            bar = measured(Bar(0, start, until - start, metre, closing.double, repeat=repeat))
            number = opening.number
            if number is None:
                number = bars[-1].number if bars else int(not incomplete(bar))
                number += 0 if not bars or divided(bars[-1], bar) else 1
            if bars and bars[-1].number and divided(bars[-1], bar):
                bar = replace(bar, before=bars[-1].duration)
            bars.append(replace(bar, number=number))
        return numbered_from_pickup(bars)

    def _error(self, what: str) -> CoachError:
        return CoachError(f'cannot read "{self.name}": line {self.number} {what}')


def _is_grace(token: str) -> bool:
    return "q" in token or "Q" in token


def _accents(text: str) -> str:
    """Humdrum's old spelling of umlauts: "f\\u3r" is "für"."""
    umlauts = {"u": "ü", "o": "ö", "a": "ä", "U": "Ü", "O": "Ö", "A": "Ä", "s": "ß"}
    return re.sub(r"\\([uoaUOAs])3", lambda found: umlauts[found[1]], text)
