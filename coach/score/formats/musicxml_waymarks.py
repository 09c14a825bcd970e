"""What MusicXML says of D.C., D.S., Fine, Segno and Coda (MusicXML 4.0: direction, sound, barline, segno, coda)."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain
from xml.etree.ElementTree import Element

from coach.score.formats.xml import local
from coach.score.waymark_words import waymark_in
from coach.score.waymarks import Kind, Waymark

SOUND: dict[str, Kind] = {
    "dacapo": "da capo",
    "dalsegno": "dal segno",
    "fine": "fine",
    "segno": "segno",
    "coda": "coda",
    "tocoda": "to coda",
}
"""Attributes of `sound`, for programs that play, and what they mean."""

CODAS: set[Kind] = {"coda", "to coda"}
"""What a coda sign may mean."""

DRAWN = {"segno": "\U0001d10b", "coda": "\U0001d10c"}
"""Elements that are signs, as characters among words."""


def waymarks_of(item: Element) -> Iterator[Waymark | str]:
    """What a `direction`, a `sound` or a `barline` says: marks, and words that are none.

    Words and signs of one direction are read together ("To" and a coda sign), and one by one where they are no mark
    together. What is printed leads: what `sound` says as well counts only where the page says nothing of it, or draws a
    coda sign, which may mean two things.
    """
    sounds = list(_sounds(item))
    printed = list(_printed(item))
    whole = waymark_in("".join(printed))
    marks = [whole] if whole else [mark for text in printed if (mark := waymark_in(text))]
    if not marks and not sounds:
        yield from printed
    codas = [sound for sound in sounds if sound.kind in CODAS]
    for mark in marks:
        yield codas[0] if codas and mark.kind in CODAS else mark
    kinds = {mark.kind for mark in marks}
    yield from (sound for sound in sounds if not ({sound.kind} if sound not in codas else CODAS) & kinds)


def _printed(item: Element) -> Iterator[str]:
    for sign in item if local(item) == "barline" else chain.from_iterable(item.iterfind("direction-type")):
        tag = local(sign)
        if tag in DRAWN:
            yield DRAWN[tag]
        elif tag in ("words", "rehearsal", "symbol"):
            yield f" {(sign.text or '')} "


def _sounds(item: Element) -> Iterator[Waymark]:
    tag = local(item)
    for sound in item.iterfind("sound") if tag == "direction" else (item,):
        for name, kind in SOUND.items():
            # In a bar line these go with a sign that is drawn there.
            if sound.get(name, "no").strip() not in ("", "no") and tag != "barline":
                yield Waymark(kind)
