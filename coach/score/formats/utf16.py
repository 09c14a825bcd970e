"""Whether a file is text in UTF-16, and what it is in UTF-8 (RFC 2781: the mark at its beginning may be missing)."""

from __future__ import annotations

from codecs import BOM_UTF16_BE, BOM_UTF16_LE


def utf_16_order(data: bytes) -> str:
    """The codec of a text in UTF-16: "utf-16-le" or "utf-16-be"; "" for any other file."""
    if data.startswith(BOM_UTF16_LE):
        return "utf-16-le"
    if data.startswith(BOM_UTF16_BE):
        return "utf-16-be"
    # A score begins with two ASCII characters in every format that is text: "<?", "X:", "**", "!!", "%a".
    zeros = [byte == 0 for byte in data[:4]]
    if zeros == [False, True, False, True]:
        return "utf-16-le"
    if zeros == [True, False, True, False]:
        return "utf-16-be"
    return ""


def in_utf_8(data: bytes) -> bytes:
    """A file of text in UTF-8 where it is in UTF-16; any other file as it is."""
    codec = utf_16_order(data)
    return data.decode(codec, "replace").removeprefix("\ufeff").encode() if codec else data
