"""Writes a piece as Humdrum kern, MEI or MusicXML, so that readers of different formats can be held together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from xml.sax.saxutils import escape

from coach.score.piece import Bar, Note, Piece
from coach.score.spelling import parsed

VALUES = [Fraction(8), Fraction(6), Fraction(4), Fraction(3), Fraction(2), Fraction(3, 2), Fraction(1)] + [
    Fraction(count, unit) for unit in (4, 8, 16) for count in (3, 2, 1)
]
"""Note values in quarter notes, the longest first; each is a plain or a dotted one."""


@dataclass(frozen=True)
class Printed:
    """A note or a rest inside one bar."""

    pitch: str | None
    quarters: Fraction
    tied_in: bool = False
    tied_on: bool = False
    fermata: bool = False


def printed(notes: Iterable[Note], bar: Bar) -> list[Printed]:
    """What stands in one bar of a voice that has one note at a time."""
    row: list[Printed] = []
    now = bar.onset
    for note in sorted(notes, key=lambda note: note.onset):
        start, end = max(note.onset, bar.onset), min(note.end, bar.end)
        if start >= end:
            continue
        row += [Printed(None, value) for value in values(start - now)]
        parts = values(end - start)
        for place, value in enumerate(parts):
            first, last = place == 0, place == len(parts) - 1
            row.append(
                Printed(
                    note.pitch,
                    value,
                    tied_in=not first or note.onset < bar.onset,
                    tied_on=not last or note.end > bar.end,
                    fermata=note.fermata and last and note.end <= bar.end,
                )
            )
        now = end
    return row + [Printed(None, value) for value in values(bar.end - now)]


def values(length: Fraction) -> list[Fraction]:
    """Note values that add up to a length."""
    found = []
    while length > 0:
        value = next((value for value in VALUES if value <= length), None)
        if value is None:
            raise ValueError(f"no note value for {length}")
        found.append(value)
        length -= value
    return found


def by_voice(piece: Piece) -> list[list[Note]]:
    return [[note for note in piece.notes if note.voice == voice] for voice in piece.voices]


def shape(quarters: Fraction) -> tuple[str, int]:
    """Reciprocal value and dots: 3/2 is ("4", 1); a breve is ("0", 0)."""
    for dots, plain in ((0, quarters), (1, quarters * 2 / 3)):
        if plain == 8:
            return "0", dots
        if (4 / plain).denominator == 1:
            return str(4 / plain), dots
    raise ValueError(f"no note value for {quarters}")


def as_kern(piece: Piece) -> str:
    """Humdrum: one **kern column a voice, the lowest first."""
    rows = by_voice(piece)[::-1]
    lines = ["\t".join(["**kern"] * len(rows)), "\t".join(f'*I"{voice}' for voice in piece.voices[::-1])]
    sign, order = ("#", "fcgdaeb") if piece.fifths >= 0 else ("-", "beadgcf")
    lines.append("\t".join(["*k[" + "".join(f"{step}{sign}" for step in order[: abs(piece.fifths)]) + "]"] * len(rows)))
    metre = ""
    for bar in piece.bars:
        if bar.number or bar.before:
            lines.append("\t".join([f"={bar.number}" if not bar.before else "="] * len(rows)))
        if bar.metre != metre:
            metre = bar.metre
            lines.append("\t".join([f"*M{metre}"] * len(rows)))
        tokens: dict[Fraction, list[str]] = {}
        for place, row in enumerate(rows):
            now = Fraction(0)
            for value in printed(row, bar):
                tokens.setdefault(now, ["."] * len(rows))[place] = _kern(value)
                now += value.quarters
        lines += ["\t".join(tokens[now]) for now in sorted(tokens)]
    lines.append("\t".join(["=="] * len(rows)))
    lines.append("\t".join(["*-"] * len(rows)))
    return f"!!!OTL: {piece.title}\n" + "\n".join(lines) + "\n"


def _kern(value: Printed) -> str:
    digits, dots = shape(value.quarters)
    length = digits + "." * dots
    if value.pitch is None:
        return f"{length}r"
    step, alter, octave = parsed(value.pitch)
    letters = step.lower() * (octave - 3) if octave > 3 else step * (4 - octave)
    sign = "#" * alter if alter >= 0 else "-" * -alter
    tie = {(False, True): "[", (True, True): "_", (True, False): "]"}.get((value.tied_in, value.tied_on), "")
    before, after = (tie, "") if tie == "[" else ("", tie)
    return f"{before}{length}{letters}{sign}{after}{';' if value.fermata else ''}"


def as_mei(piece: Piece, *, sounding: bool = True) -> bytes:
    """MEI: one staff a voice.

    Args:
        sounding: State how every note sounds (`accid.ges`), as engraving programs do; else leave it to the reader to
            apply the key signature.
    """
    rows = by_voice(piece)
    count, unit = piece.bars[0].metre.split("/")
    key = f"{abs(piece.fifths)}{'s' if piece.fifths > 0 else 'f' if piece.fifths < 0 else ''}"
    staves = "".join(
        f'<staffDef n="{number}" lines="5" label="{voice.title()}"/>' for number, voice in enumerate(piece.voices, 1)
    )
    measures = []
    metre = piece.bars[0].metre
    for bar in piece.bars:
        if bar.metre != metre:
            metre = bar.metre
            measures.append(f'<scoreDef meter.count="{metre.split("/")[0]}" meter.unit="{metre.split("/")[1]}"/>')
        inside = "".join(
            f'<staff n="{number}"><layer n="1">'
            + "".join(
                _mei(value, f"n{bar.onset}.{number}.{place}", sounding) for place, value in enumerate(printed(row, bar))
            )
            + "</layer></staff>"
            for number, row in enumerate(rows, 1)
        )
        double = ' right="dbl"' if bar.double else ""
        measures.append(f'<measure n="{bar.number}"{double}>{inside}</measure>')
    return (
        '<?xml version="1.0" encoding="UTF-8"?><mei xmlns="http://www.music-encoding.org/ns/mei" meiversion="5.0">'
        f"<meiHead><fileDesc><titleStmt><title>{escape(piece.title)}</title></titleStmt><pubStmt/></fileDesc></meiHead>"
        f'<music><body><mdiv><score><scoreDef key.sig="{key}" meter.count="{count}" meter.unit="{unit}">'
        f"<staffGrp>{staves}</staffGrp></scoreDef><section>{''.join(measures)}</section></score></mdiv></body></music></mei>"
    ).encode()


def _mei(value: Printed, key: str, sounding: bool) -> str:
    digits, dots = shape(value.quarters)
    length = f'dur="{"breve" if digits == "0" else digits}"' + (f' dots="{dots}"' if dots else "")
    if value.pitch is None:
        return f'<rest xml:id="{key}" {length}/>'
    step, alter, octave = parsed(value.pitch)
    name = {1: "s", -1: "f", 0: "n", 2: "x", -2: "ff"}[alter]
    sign = f'accid.ges="{name}"' if sounding else f'accid="{name}"'
    tie = {(False, True): ' tie="i"', (True, True): ' tie="m"', (True, False): ' tie="t"'}
    extra = tie.get((value.tied_in, value.tied_on), "") + (' fermata="above"' if value.fermata else "")
    return f'<note xml:id="{key}" pname="{step.lower()}" oct="{octave}" {length} {sign}{extra}/>'


def closed_score(piece: Piece, staves: Sequence[Sequence[str]] = (("soprano", "alto"), ("tenor", "bass"))) -> str:
    """MusicXML on two staves without any voices: chords where notes start and end together, else note by note."""
    divisions = 48
    bars = []
    for place, bar in enumerate(piece.bars):
        head = ""
        if place == 0:
            count, unit = bar.metre.split("/")
            head = (
                f"<attributes><divisions>{divisions}</divisions><key><fifths>{piece.fifths}</fifths></key>"
                f"<time><beats>{count}</beats><beat-type>{unit}</beat-type></time><staves>{len(staves)}</staves></attributes>"
            )
        body, now = "", bar.onset
        for staff, voices in enumerate(staves, 1):
            sung = [note for note in piece.notes if note.voice in voices]
            inside = [note for note in sung if note.onset < bar.end and note.end > bar.onset]
            groups: dict[tuple[Fraction, Fraction], list[Note]] = {}
            for note in inside:
                groups.setdefault((max(note.onset, bar.onset), min(note.end, bar.end)), []).append(note)
            for start, end in sorted(groups):
                body += _moved(start - now, divisions)
                for number, note in enumerate(groups[start, end]):
                    body += _xml_note(note, bar, end - start, staff, number > 0, divisions)
                now = end
            if staff < len(staves):
                body += _moved(bar.onset - now, divisions)
                now = bar.onset
        body += _moved(bar.end - now, divisions) if now < bar.end else ""
        implicit = ' implicit="yes"' if bar.number == 0 else ""
        bars.append(f'<measure number="{bar.number}"{implicit}>{head}{body}</measure>')
    return (
        '<?xml version="1.0"?><score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Organ</part-name>'
        f'</score-part></part-list><part id="P1">{"".join(bars)}</part></score-partwise>'
    )


def _moved(by: Fraction, divisions: int) -> str:
    if by == 0:
        return ""
    tag = "forward" if by > 0 else "backup"
    return f"<{tag}><duration>{abs(by) * divisions}</duration></{tag}>"


def _xml_note(note: Note, bar: Bar, length: Fraction, staff: int, chord: bool, divisions: int) -> str:
    step, alter, octave = parsed(note.pitch)
    ties = '<tie type="stop"/>' if note.onset < bar.onset else ""
    ties += '<tie type="start"/>' if note.end > bar.end else ""
    pitch = f"<pitch><step>{step}</step><alter>{alter}</alter><octave>{octave}</octave></pitch>"
    return (
        f"<note>{'<chord/>' if chord else ''}{pitch}"
        f"<duration>{length * divisions}</duration>{ties}<staff>{staff}</staff></note>"
    )
