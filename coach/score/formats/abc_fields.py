"""What the information fields of ABC mean: key, metre, unit length, tempo, voices (ABC 2.1, sections 3, 4.6 and 7)."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from coach.score.page import signature
from coach.score.spelling import TONICS

MODES = {"": 0, "maj": 0, "ion": 0, "mix": -1, "dor": -2, "m": -3, "min": -3, "aeo": -3, "phr": -4, "loc": -5, "lyd": 1}
"""How many fifths a mode's signature lies from that of the major key on the same note."""

KEY = re.compile(r"\s*([A-G])([#b]?)\s*(?:(maj|min|mix|dor|phr|loc|lyd|ion|aeo)[a-z]*|(m)(?![a-z]))?(.*)", re.I | re.S)
ACCIDENTAL = re.compile(r"(?<!\S)(\^\^|\^|__|_|=)([A-Ga-g])(?!\S)")
ALTERS = {"^^": 2, "^": 1, "=": 0, "_": -1, "__": -2}


@dataclass(frozen=True, slots=True)
class Key:
    """A key signature.

    Attributes:
        fifths: Sharps or, negative, flats of the signature, of which G sharp major has eight.
        minor: Whether it is minor, None where the field does not say.
        alters: Alteration of every step it changes.
    """

    fifths: int = 0
    minor: bool | None = None
    alters: dict[str, int] = field(default_factory=dict)


@dataclass(slots=True)
class VoiceField:
    """What V: (or K:) says of a voice.

    Attributes:
        name: As printed.
        octave: Octaves to move the code up, from `octave=`.
        transpose: Semitones, from `transpose=`.
        clef: Octaves that the clef's +8 or -8 asks for.
        merge: On the staff of the voice before it.
        drums: A percussion clef.
    """

    name: str = ""
    octave: int = 0
    transpose: int = 0
    clef: int = 0
    merge: bool = False
    drums: bool = False


def key_of(text: str) -> Key | None:
    """Read K:, or None where the field names no key (only a clef, say)."""
    stripped = text.strip()
    if stripped in ("HP", "Hp") or stripped.startswith(("HP ", "Hp ")):
        return Key(2, False, {"F": 1, "C": 1})
    if not stripped or stripped.lower().startswith("none"):
        return Key(0, None, _explicit(stripped, {}))
    found = KEY.match(stripped)
    if not found or re.match(r"(bass|alto|treble|clef|[a-z]+=)", stripped, re.I):
        explicit = _explicit(stripped, {})
        return Key(0, None, explicit) if explicit else None
    tonic = TONICS[found[1].upper()] + {"#": 7, "b": -7, "": 0}[found[2].lower()]
    mode = (found[3] or found[4] or "").lower()
    fifths = tonic + MODES[mode]
    start: dict[str, int] = {} if re.search(r"\bexp\b", found[5]) else signature(fifths)
    minor = {"m": True, "min": True, "aeo": True, "maj": False, "ion": False, "": False}.get(mode)
    return Key(fifths, minor, _explicit(found[5], start))


def _explicit(text: str, alters: dict[str, int]) -> dict[str, int]:
    """Add the accidentals that a key field lists: "K:D =c ^g"."""
    return alters | {step.upper(): ALTERS[sign] for sign, step in ACCIDENTAL.findall(text)}


def metre_of(text: str) -> str | None:
    """ "6/8" of M:, "" for free metre, None where it makes no sense."""
    text = text.strip()
    if text in ("C", ""):
        return "4/4"
    if text == "C|":
        return "2/2"
    if text.lower().startswith("none"):
        return ""
    found = re.match(r"\(?\s*(\d{1,3}(?:\s*\+\s*\d{1,3})*)\s*\)?\s*/\s*(\d{1,2})", text)
    if not found:
        return None
    count, unit = sum(int(number) for number in re.findall(r"\d+", found[1])), int(found[2])
    return f"{count}/{unit}" if count and unit in (1, 2, 4, 8, 16, 32, 64) else None


def unit_of(text: str) -> Fraction | None:
    """Unit note length of L: in quarter notes."""
    found = re.match(r"\s*(\d{1,3})(?:\s*/\s*(\d{1,3}))?", text)
    if not found or not int(found[1]) or found[2] == "0":
        return None
    return Fraction(int(found[1]) * 4, int(found[2] or 1))


def default_unit(metre: str) -> Fraction:
    """Unit note length where no L: is given: a sixteenth in metres below 3/4, else an eighth (ABC 2.1, 3.1.7)."""
    if not metre:
        return Fraction(1, 2)
    count, unit = metre.split("/")
    return Fraction(1, 4) if Fraction(int(count), int(unit)) < Fraction(3, 4) else Fraction(1, 2)


def tempo_of(text: str, unit: Fraction) -> float | None:
    """Quarter notes a minute of Q:, None where it names none."""
    bare = re.sub(r'"[^"]*"', "", text)
    found = re.search(r"((?:\d{1,2}/\d{1,2}\s*)+)=\s*(\d{1,3}(?:\.\d{1,3})?)", bare)
    if found:
        beats = [part.split("/") for part in found[1].split()]
        beat = sum((Fraction(int(a) * 4, int(b)) for a, b in beats if int(b)), Fraction(0))
        tempo = float(beat * Fraction(found[2]))
    else:
        number = re.fullmatch(r"\s*(?:C\s*=\s*)?(\d{1,3})\s*", bare)
        if not number:
            return None
        tempo = float(unit * int(number[1]))
    return tempo if 10 <= tempo <= 500 else None


def composer_of(fields: Sequence[str]) -> str:
    """Who made the music, from the C: fields.

    Hymn collections write words, music, tune name, year and setting into these fields: the one that speaks of the
    music counts, without all that surrounds the name.
    """
    music = next((text for text in fields if re.search(r"\bmusic\b", text, re.I)), "")
    if not music:
        return fields[0] if fields else ""
    kept = re.sub(r"^.*?\bmusic\b(?:\s+and\s+\w+)?\s*:?\s*", "", music, flags=re.I)
    kept = re.sub(r"""^(?:(?:or\s+)?(?:'[^']*'|"[^"]*")[\s,]*)+""", "", kept)
    ends = r"[\s,(]*(?:circa\s+|ca?\.\s*)?\d{4}|;|\.?\s+(?:Setting|Arr|Harm|Adapt|Words)\w*\b|\s+found in\b"
    return re.split(ends, kept)[0].strip(" .,")


def voice_field(text: str, voice: VoiceField) -> None:
    """Add what a V: or K: field says to what is known of a voice."""
    for word, quoted, bare in re.findall(r'(\w+)\s*=\s*(?:"([^"]*)"|(\S+))', text):
        value = quoted or bare
        if word in ("name", "nm") or (word in ("subname", "snm", "sname") and not voice.name):
            voice.name = " ".join(value.replace("\\n", " ").split())
        elif word == "octave":
            voice.octave = _small(value)
        elif word in ("transpose", "t"):
            voice.transpose = _small(value)
    clef = re.search(r"(?:clef\s*=\s*\"?|(?<!\S))(treble|alto|tenor|bass|perc|G|F|C)\d?([+^_-]8)?", text)
    if clef:
        voice.drums = clef[1] == "perc"
        voice.clef = {"+8": 1, "^8": 1, "-8": -1, "_8": -1}.get(clef[2] or "", 0)
    if re.search(r"(?<!\S)merge(?!\S)", text):
        voice.merge = True


def _small(text: str) -> int:
    return int(text) if re.fullmatch(r"[+-]?\d{1,2}", text) else 0


def score_of(text: str) -> list[list[str]]:
    """Voices a staff, from %%score or %%staves: "(S A) | (T B)" is [["S", "A"], ["T", "B"]] (ABC 2.1, section 7.1)."""
    staves: list[list[str]] = []
    inside = False
    for token in re.findall(r"[(){}\[\]|]|[^\s(){}\[\]|]+", text):
        if token == "(":
            inside = True
            staves.append([])
        elif token == ")":
            inside = False
        elif token in "{}[]|*":
            continue
        elif inside:
            staves[-1].append(token.lstrip("*"))
        else:
            staves.append([token.lstrip("*")])
    return [staff for staff in staves if staff]
