"""How the music code of one ABC voice is read, bar by bar (ABC 2.1, section 4)."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

from coach.errors import CoachError
from coach.score.formats.abc_bars import CodedBar, CodedNote
from coach.score.formats.abc_fields import Key, VoiceField, default_unit
from coach.score.formats.abc_file import plain
from coach.score.page import FINEST, Tally, midi_of, spelled
from coach.score.piece import Quarters
from coach.score.repeats import Repeat, ending_of
from coach.score.spelling import Signature, moved, signature_of

NOTE = re.compile(r"(\^\^|\^|__|_|=)?(\d*/\d*)?([A-Ga-g])([,']*)(\d{0,4}(?:/\d{1,4}|/*))")
REST = re.compile(r"([zxyZX])(\d{0,4}(?:/\d{1,4}|/*))")
LENGTH = re.compile(r"(\d{0,4})(?:/(\d{1,4})|(/*))")
BAR = re.compile(r"\.?(\[\|[\]:]?|\|\]|[:|]*\|[:|]*\]?|::+)(\d[\d,\-]*)?")
ENDING = re.compile(r'\[(\d[\d,\-]*|"[^"]*")')
TUPLET = re.compile(r"\(([2-9])(?::(\d{0,2}))?(?::(\d{0,2}))?")
DECORATION = re.compile(r"!([^!\s|]*)!|\+([^+\s|]+)\+")
SYMBOLS = {
    "T": "trill",
    "H": "fermata",
    "L": "accent",
    "M": "lowermordent",
    "P": "uppermordent",
    "~": "roll",
    "S": "segno",
    "O": "coda",
}
"""What single letters mean unless U: says otherwise (ABC 2.1, section 4.16); the coach heeds fermata, segno, coda."""

PLACEMENT = re.compile(r"^\s*(?:[\^_<>]|@[-\d.,\s]*)")
ROOT = r"[A-G][#b♯♭♮]?"
CHORD_SYMBOL = re.compile(
    rf"\(?{ROOT}(?:maj|min|dim|aug|sus|add|[mMo°øΔ+-]|[#b♯♭]?\d+|\([^()]*\))*(?:/{ROOT})?\)?(?:\({ROOT}[^()]*\))?"
)
"""What stands between quotation marks without a placement sign names a chord, where it can: D over C is "D/C" (ABC 2.1,
section 4.18). Of other texts without that sign files have many."""

BREATHS = {"breath", "caesura", "shortphrase", "mediumphrase", "longphrase"}
QUIET = set(" \t`$*;?@#~.)")
"""Signs that change neither pitch nor length: reserved characters, staccato, ends of slurs."""

STRAY = set(":,'")
"""Signs that mean nothing where they stand alone, and are passed over."""

MOST_BARS = 5_000
"""Most bars believed in one voice."""

ACCIDENTALS = {"^^": 2, "^": 1, "=": 0, "_": -1, "__": -2}


class VoiceReader:
    """Reads the code of one voice and remembers what lasts: unit, metre, key, accidentals of the bar, open ties."""

    def __init__(self, label: str, tally: Tally, unit: Quarters | None, metre: str, key: Key, properties: VoiceField):
        self.label = label
        self.name = tally.name
        self._tally = tally
        self.properties = properties
        self.unit = unit
        self.metre = metre
        self.key = key
        self.propagate = "pitch"
        self.symbols = dict(SYMBOLS)
        self.bars: list[CodedBar] = [CodedBar(metre)]
        self.graces = 0
        self.unsung: list[tuple[int, CodedNote]] = []
        """Notes that no words have been laid under yet, each with the index of its bar."""
        self.begins_in: Signature | None = None
        """The signature of its first note, which is that of its beginning."""
        self.begins_minor: bool | None = None
        self.texts: list[tuple[int, Quarters | None, str]] = []
        """Annotations and decorations that may say D.C., Fine, Segno and the like: the index of the bar, and the place
        in it; None for its end."""
        self.later_keys: list[tuple[int, Quarters, int]] = []
        """Later signatures as they sound: the index of the bar, the place in it, sharps or flats."""
        self._now: Quarters = Fraction(0)
        self._overlay = 0
        self._ending: tuple[int, ...] = ()
        self._accidentals: dict[tuple[str, int], int] = {}
        self._ties: dict[tuple[str, int], int] = {}
        self._tuplet: tuple[Fraction, int] = (Fraction(1), 0)
        self._swing: Fraction | None = None
        self._last: tuple[list[CodedNote], Quarters, Quarters] | None = None
        self._decorations: list[str] = []

    def read(self, text: str, line: int) -> None:
        """Read a stretch of music code without inline fields."""
        place = 0
        while place < len(text):
            place = self._item(text, place, line)

    def set_metre(self, metre: str) -> None:
        self.metre = metre
        if not self.bars[-1].notes and self._now == 0:
            self.bars[-1].metre = metre

    def set_key(self, key: Key) -> None:
        self.key = key
        if self.begins_in is not None:
            self.later_keys.append((len(self.bars) - 1, self._now, self._signature().sounding))

    def _signature(self) -> Signature:
        shift = self.properties.transpose
        return signature_of(self.key.fifths, round(shift * 7 / 12), shift)

    def close(self) -> None:
        """End the tune: a last bar that holds nothing is no bar."""
        self._end_bar()
        if self.bars and not self.bars[-1].notes and self.bars[-1].length == 0:
            self._texts_to_bar_before()
            self.bars.pop()

    def _item(self, text: str, place: int, line: int) -> int:
        letter = text[place]
        if letter in QUIET:
            return place + 1
        if letter == '"':
            end = text.find('"', place + 1)
            if end < 0:
                raise self._error(line, "a quotation mark that is not closed")
            self._quoted(text[place + 1 : end])
            return end + 1
        found = DECORATION.match(text, place)
        if found:
            self._decorations.append(found[1] or found[2] or "")
            self._text(self._decorations[-1])
            return found.end()
        if letter in "!+\\":
            return place + 1
        if letter == "{":
            end = text.find("}", place)
            if end < 0:
                raise self._error(line, "grace notes that are not closed")
            self.graces += len(NOTE.findall(text[place:end]))
            return end + 1
        found = NOTE.match(text, place)
        if found:
            self._sound([self._note(found, line)], self._length(found[5], line), line)
            return found.end()
        found = REST.match(text, place)
        if found:
            self._rest(found, line)
            return found.end()
        if letter == "[" and not re.match(r"\[[|\d\"]", text[place:]):
            return self._chord(text, place, line)
        found = BAR.match(text, place)
        if found:
            self._bar_line(found[1], line)
            if found[2]:
                self._begin_ending(found[2])
            return found.end()
        return self._sign(text, place, line)

    def _sign(self, text: str, place: int, line: int) -> int:
        letter = text[place]
        found = TUPLET.match(text, place)
        if found:
            self._tuplet = self._ratio(found)
            return found.end()
        found = ENDING.match(text, place)
        if found:
            self._begin_ending(found[1])
            return found.end()
        if letter == "(" or letter in STRAY:
            return place + 1
        if letter == "-":
            if self._last:
                for note in self._last[0]:
                    note.tied_on = True
                    self._remember_tie(note)
            return place + 1
        if letter in "<>":
            found = re.compile(r"<+|>+").match(text, place)
            assert found
            self._broken(found[0], line)
            return found.end()
        if letter == "&":
            if text[place - 1 : place] == "(" or text[place + 1 : place + 2] == ")":
                raise self._error(line, "an overlay over several bars, which the coach does not read")
            self._end_overlay()
            self._overlay += 1
            return place + 1
        if letter in "HIJKLMNOPQRSTUVWhijklmnopqrstuvw":
            self._decorations.append(self.symbols.get(letter, ""))
            self._text(self._decorations[-1])
            return place + 1
        raise self._error(line, f'a sign that is no music code: "{letter}"')

    def _quoted(self, text: str) -> None:
        """Remember a text between quotation marks that is no chord symbol; an annotation begins with where it is to be
        printed (ABC 2.1, section 4.19)."""
        if not CHORD_SYMBOL.fullmatch(plain(text)):
            self._text(PLACEMENT.sub("", text))

    def _text(self, text: str) -> None:
        """Remember a text or a decoration that may say D.C., Fine, Segno and the like."""
        words = plain(text)
        if len(words) > 1:
            self.texts.append((len(self.bars) - 1, self._now, words))

    def _texts_to_bar_before(self) -> None:
        """What is written behind the last bar line, or between two, belongs to the bar that has ended."""
        bar = len(self.bars) - 1
        self.texts = [(bar - 1, None, said) if at == bar and bar else (at, here, said) for at, here, said in self.texts]

    def _ratio(self, found: re.Match[str]) -> tuple[Fraction, int]:
        count = int(found[1])
        compound = self.metre in ("6/8", "9/8", "12/8", "6/4", "9/4", "12/4", "3/8", "6/16", "9/16", "12/16")
        usual = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}.get(count, 3 if compound else 2)
        into = int(found[2] or usual) or usual
        return Fraction(into, count), int(found[3] or count)

    def _note(self, found: re.Match[str], line: int) -> tuple[str, int, int]:
        """Step, octave and alteration as written, before the voice's transposition."""
        sign, micro, letter, octaves = found[1], found[2], found[3], found[4]
        if micro:
            raise self._error(line, "quarter tones, which no keyboard has")
        step = letter.upper()
        octave = (4 if letter.isupper() else 5) + octaves.count("'") - octaves.count(",")
        if not -1 <= octave <= 9:
            raise self._error(line, "a note that no piano has")
        if sign is not None:
            alter = ACCIDENTALS[sign]
            if self.propagate != "not":
                self._accidentals[step, octave if self.propagate == "octave" else 0] = alter
        elif (step, octave) in self._ties:
            alter = self._ties[step, octave]
        else:
            where = (step, octave if self.propagate == "octave" else 0)
            alter = self._accidentals.get(where, self.key.alters.get(step, 0))
        return step, octave, alter

    def _sound(self, pitches: list[tuple[str, int, int]], length: Quarters, line: int) -> None:
        """Let the notes of one note or chord sound."""
        for _ in pitches:
            self._tally.note()
        length = self._timed(length)
        if length <= 0:
            raise self._error(line, "a note without length")
        if (self._now + length).denominator > FINEST:
            raise self._error(line, "a rhythm that nobody can count")
        bar = self.bars[-1]
        fingers = [int(sign) for sign in self._decorations if sign in ("1", "2", "3", "4", "5")]
        notes = []
        for step, octave, alter in pitches:
            notes.append(self._coded(step, octave, alter, length))
        for note, finger in zip(notes, fingers, strict=False):
            note.finger = finger
        for note in notes:
            note.fermata = any("fermata" in sign for sign in self._decorations)
            note.breath = any(sign in BREATHS for sign in self._decorations)
        self._decorations = []
        bar.notes += notes
        if not self._overlay:
            self.unsung.append((len(self.bars) - 1, max(notes, key=lambda note: note.midi)))
        self._last = (notes, self._now, length)
        self._ties = {}
        self._now += length

    def _coded(self, step: str, octave: int, alter: int, length: Quarters) -> CodedNote:
        shift = self.properties.transpose
        if self.begins_in is None:
            self.begins_in, self.begins_minor = self._signature(), self.key.minor
        midi = midi_of(step, alter, octave + self.properties.octave) + shift
        pitch = moved(spelled(step, alter, octave + self.properties.octave), self._signature().steps, shift)
        return CodedNote(self._now, length, midi, pitch, (step, octave, alter), self._overlay)

    def _remember_tie(self, note: CodedNote) -> None:
        """A tied note keeps its accidental across the bar line."""
        step, octave, alter = note.written
        self._ties[step, octave] = alter

    def _timed(self, length: Quarters) -> Quarters:
        """A length with tuplet and broken rhythm in it."""
        ratio, left = self._tuplet
        if left:
            length *= ratio
            self._tuplet = (ratio, left - 1)
        if self._swing is not None:
            length *= self._swing
            self._swing = None
        return length

    def _broken(self, signs: str, line: int) -> None:
        """Lengthen the last note at the cost of the next, or the other way round."""
        if self._last is None:
            raise self._error(line, "a broken rhythm without a note before it")
        short = Fraction(1, 2 ** min(len(signs), 3))
        first, self._swing = (2 - short, short) if signs[0] == ">" else (short, 2 - short)
        notes, start, length = self._last
        for note in notes:
            note.duration = length * first
        self._now = start + length * first

    def _rest(self, found: re.Match[str], line: int) -> None:
        kind = found[1]
        fermata = any("fermata" in sign for sign in self._decorations)
        self._decorations = []
        if kind == "y":
            return
        if fermata:
            self.bars[-1].held_rests.append((self._now, self._overlay))
        if kind in "ZX":
            count = min(int(re.sub(r"\D.*", "", found[2]) or 1), 999)
            for number in range(count):
                self._now += self._full_bar()
                if number + 1 < count:
                    self._end_bar()
                    self._new_bar(line)
            return
        length = self._timed(self._length(found[2], line))
        self._last = ([], self._now, length)
        self._now += length

    def _full_bar(self) -> Quarters:
        count, unit = (self.metre or "4/4").split("/")
        return Fraction(int(count) * 4, int(unit))

    def _chord(self, text: str, place: int, line: int) -> int:
        end = text.find("]", place)
        if end < 0:
            raise self._error(line, "a chord that is not closed")
        for said in re.findall(r'"([^"]*)"', text[place + 1 : end]):
            self._quoted(said)
        inside = re.sub(r'"[^"]*"', "", text[place + 1 : end])
        pitches: list[tuple[str, int, int]] = []
        fingers: list[int | None] = []
        tied: list[bool] = []
        first: Quarters | None = None
        decorations: list[str] = []
        cursor = 0
        while cursor < len(inside):
            found = NOTE.match(inside, cursor)
            if found:
                pitches.append(self._note(found, line))
                length = self._length(found[5], line)
                first = length if first is None else first
                fingers.append(next((int(sign) for sign in decorations if sign in set("12345")), None))
                self._decorations += [sign for sign in decorations if sign not in set("12345")]
                decorations = []
                tied.append(inside[found.end() : found.end() + 1] == "-")
                cursor = found.end()
                continue
            sign = DECORATION.match(inside, cursor)
            if sign:
                decorations.append(sign[1] or sign[2] or "")
                self._text(decorations[-1])
                cursor = sign.end()
            elif inside[cursor] in self.symbols:
                decorations.append(self.symbols[inside[cursor]])
                self._text(decorations[-1])
                cursor += 1
            elif inside[cursor] in QUIET or inside[cursor] in "(-!+\\hijklmnopqrstuvw":
                cursor += 1
            elif rest := REST.match(inside, cursor):
                cursor = rest.end()
            else:
                raise self._error(line, f'a sign that is no music code in a chord: "{inside[cursor]}"')
        outer = LENGTH.match(text, end + 1)
        assert outer
        if not pitches or first is None:
            return outer.end()
        if self.unit is None:
            self.unit = default_unit(self.metre)
        self._sound(pitches, first * (self._length(outer[0], line) / self.unit), line)
        assert self._last
        for note, finger, tie in zip(self._last[0], fingers, tied, strict=True):
            note.finger = finger or note.finger
            if tie:
                note.tied_on = True
                self._remember_tie(note)
        return outer.end()

    def _length(self, text: str, line: int) -> Quarters:
        if self.unit is None:
            self.unit = default_unit(self.metre)
        found = LENGTH.fullmatch(text)
        assert found
        over = Fraction(int(found[1] or 1))
        under = int(found[2]) if found[2] else 2 ** min(len(found[3] or ""), 8)
        if not under:
            raise self._error(line, "a note divided by nothing")
        return self.unit * over / under

    def _end_overlay(self) -> None:
        bar = self.bars[-1]
        bar.length = max(bar.length, self._now)
        self._now = Fraction(0)
        self._tuplet = (Fraction(1), 0)
        self._swing = self._last = None

    def _end_bar(self) -> None:
        bar = self.bars[-1]
        bar.length = max(bar.length, self._now)
        self._now = Fraction(0)
        self._overlay = 0
        self._accidentals = {}

    def _new_bar(self, line: int) -> None:
        if len(self.bars) >= MOST_BARS:
            raise self._error(line, f"more than {MOST_BARS} bars before it")
        self.bars.append(CodedBar(self.metre, repeat=Repeat(ending=self._ending)))

    def _begin_ending(self, times: str) -> None:
        self._ending = ending_of(times)
        self.bars[-1].repeat = replace(self.bars[-1].repeat, ending=self._ending)

    def _bar_line(self, sign: str, line: int) -> None:
        self._pause()
        double = sign.count("|") > 1 or ":" in sign or "]" in sign or "[" in sign
        bar = self.bars[-1]
        if not bar.notes and self._now == 0 and bar.length == 0:
            # Two bar lines in a row, or one that opens the line: the sign belongs to the bar before.
            if len(self.bars) > 1:
                self._close(self.bars[-2], sign, double)
                self._texts_to_bar_before()
        else:
            self._end_bar()
            self._close(bar, sign, double)
            self._new_bar(line)
        if sign.endswith(":"):
            self.bars[-1].repeat |= Repeat(opens=True)

    def _pause(self) -> None:
        """Hold the note or rest before a bar line that bears a fermata or a breath (ABC 2.1, section 4.14)."""
        fermata = any("fermata" in sign for sign in self._decorations)
        breath = any(sign in BREATHS for sign in self._decorations)
        self._decorations = []
        if self._last is None:
            return
        notes, start, _ = self._last
        for note in notes:
            note.fermata, note.breath = note.fermata or fermata, note.breath or breath
        if fermata and not notes and self._now:
            self.bars[-1].held_rests.append((start, self._overlay))

    def _close(self, bar: CodedBar, sign: str, double: bool) -> None:
        """What a bar line says of the bar before it; any but a simple one ends an ending (ABC 2.1, section 4.9)."""
        bar.double = bar.double or double
        bar.repeat |= Repeat(closes=sign.startswith(":"))
        if double:
            self._ending = ()
            if self.bars[-1] is not bar:
                self.bars[-1].repeat = replace(self.bars[-1].repeat, ending=())

    def _error(self, line: int, what: str) -> CoachError:
        return CoachError(f'cannot read "{self.name}": line {line} has {what}')
