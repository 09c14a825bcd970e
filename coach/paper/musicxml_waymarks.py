"""D.C., D.S., Fine, Segno and Coda of a sheet in MusicXML (MusicXML 4.0: direction, segno, coda, sound)."""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree.ElementTree import Element, SubElement

from coach.score.piece import Bar
from coach.score.waymarks import Waymark, coda_for, segno_for

DRAWN = ("segno", "coda")
"""Marks that are signs; the others are words."""


def add_waymarks(root: Element, bars: Sequence[Bar]) -> None:
    """Put the marks above the upper staff: a sign before the music that it begins, words behind the music that they
    end.

    Args:
        root: A document of one part, whose bars are these.
        bars: With their marks.
    """
    divisions = int(root.findtext("part/measure/attributes/divisions", "1"))
    ways = [bar.waymarks for bar in bars]
    for place, (measure, bar) in enumerate(zip(root.iterfind("part/measure"), bars, strict=True)):
        tags = [child.tag for child in measure]
        head = max((tags.index(tag) + 1 for tag in ("barline", "attributes") if tag in tags[:2]), default=0)
        ends = sum(tag != "barline" or at < head for at, tag in enumerate(tags))
        behind = [mark for mark in bar.waymarks if not mark.begins and mark.at == bar.duration]
        for mark in behind:
            measure.insert(ends, _direction(mark, _sound(ways, place, mark)))
            ends += 1
        for mark in (mark for mark in bar.waymarks if mark not in behind):
            offset = round(mark.at * divisions)
            measure.insert(head, _direction(mark, _sound(ways, place, mark), offset))
            head += 1


def _direction(mark: Waymark, sound: dict[str, str], offset: int = 0) -> Element:
    direction = Element("direction", placement="above")
    kind = SubElement(direction, "direction-type")
    if mark.kind in DRAWN:
        SubElement(kind, mark.kind)
    else:
        SubElement(kind, "words").text = mark.words
    if offset:
        SubElement(direction, "offset").text = str(offset)
    SubElement(direction, "staff").text = "1"
    SubElement(direction, "sound", sound)
    return direction


def _sound(ways: Sequence[Sequence[Waymark]], place: int, mark: Waymark) -> dict[str, str]:
    """What the mark of a bar means to a program that plays: a jump names the sign that it goes to."""
    if mark.kind == "segno":
        return {"segno": f"segno{place}"}
    if mark.kind == "coda":
        return {"coda": f"coda{place}"}
    if mark.kind == "dal segno":
        return {"dalsegno": f"segno{segno_for(ways, place)}"}
    if mark.kind == "to coda":
        return {"tocoda": f"coda{coda_for(ways, place)}"}
    return {"fine": "yes"} if mark.kind == "fine" else {"dacapo": "yes"}
