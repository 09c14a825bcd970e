"""What MEI says of D.C., D.S., Fine, Segno and Coda (MEI Guidelines 5.0, elements dir and repeatMark)."""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.etree.ElementTree import Element

from coach.score.formats.xml import local
from coach.score.waymark_words import waymark_in
from coach.score.waymarks import Kind, Waymark

FUNC: dict[str, Kind] = {
    "coda": "coda",
    "segno": "segno",
    "dalSegno": "dal segno",
    "daCapo": "da capo",
    "fine": "fine",
}
"""Values of the attribute func of a repeatMark."""

SAYING = {"dir", "repeatMark"}
"""Elements that may say so."""


def said_by(sign: Element) -> Waymark | str:
    """The mark that an element is, or its words where it is none. The words of a repeatMark may say more than its
    func: "D.C. al Fine", "To Coda"."""
    text = " ".join("".join(_texts(sign)).split())
    kind = FUNC.get(sign.get("func") or "") if local(sign) == "repeatMark" else None
    return waymark_in(text) or (Waymark(kind) if kind else text)


def _texts(item: Element) -> Iterator[str]:
    """The words in an element, and the signs drawn among them: a symbol has a name or a number of SMuFL."""
    if local(item) == "symbol":
        number = re.fullmatch(r"(?:U\+|#x)([0-9A-Fa-f]{4})", item.get("glyph.num") or "")
        yield chr(int(number[1], 16)) if number else f" {item.get('glyph.name') or ''} "
    yield item.text or ""
    for child in item:
        yield from _texts(child)
        yield child.tail or ""
