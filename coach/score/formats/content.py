"""What a file holds, told by its content and not by its name, and which endings fit."""

from __future__ import annotations

import re
from codecs import BOM_UTF8
from typing import Literal

from coach.score.formats.abc_file import looks_like_abc
from coach.score.formats.kern import looks_like_kern
from coach.score.formats.utf16 import in_utf_8
from coach.score.transposing import looks_transposed

Content = Literal["mxl", "musicxml", "mei", "kern", "abc", "midi", "rmi", "moved"]

ENDINGS: dict[Content, tuple[str, ...]] = {
    "mxl": (".mxl",),
    "musicxml": (".musicxml", ".xml"),
    "mei": (".mei", ".xml"),
    "kern": (".krn",),
    "abc": (".abc",),
    "midi": (".mid", ".midi"),
    "rmi": (".rmi",),
    "moved": (".moved",),
}
"""Endings of files of each kind, the usual one first; ".moved" is a kept transposition."""

ROOT = re.compile(
    rb"(?>\s+|<\?.*?\?>|<!--.*?-->|<!DOCTYPE[^\[>]*(?:\[.*?\]\s*)?>)*+<(?:[\w.-]+:)?(?P<tag>[\w.-]+)", re.S
)
"""An XML document up to its first element (XML 1.0, section 2.8); no sign of it is looked at twice."""

MEI_ROOTS = (b"mei", b"music", b"meiCorpus")
"""Elements that an MEI document may begin with (MEI Guidelines 5.0, section 1.1.2)."""


def content_of(data: bytes) -> Content | None:
    """What a file holds, None where it is nothing that the coach reads.

    XML that is no MEI counts as MusicXML, whose reader says what is wrong with it.
    """
    if looks_transposed(data):
        return "moved"
    if data.startswith(b"PK"):
        return "mxl"
    if data.startswith(b"MThd"):
        return "midi"
    if data.startswith(b"RIFF"):
        return "rmi" if data[8:12] == b"RMID" and data[20:24] == b"MThd" else None
    text = in_utf_8(data).removeprefix(BOM_UTF8)
    if text.lstrip(b" \t\r\n\0").startswith(b"<"):
        root = ROOT.match(text.lstrip(b" \t\r\n\0"))
        return "mei" if root and root["tag"] in MEI_ROOTS else "musicxml"
    if looks_like_kern(text):
        return "kern"
    return "abc" if looks_like_abc(text) else None


def fitting_ending(data: bytes, suffix: str) -> str:
    """The ending for a file of this content: its own where that fits, else the usual one."""
    content = content_of(data)
    endings = ENDINGS[content] if content else (suffix,)
    return suffix if suffix in endings else endings[0]
