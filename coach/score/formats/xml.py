"""How XML is opened without danger, and small helpers for reading it."""

from __future__ import annotations

import re
from codecs import BOM_UTF8
from fractions import Fraction
from xml.etree.ElementTree import Element, ParseError

from coach.errors import CoachError
from coach.score.formats.utf16 import utf_16_order

NUMBER = re.compile(r"\s*([+-]?\d{1,9}(?:\.\d{1,9})?)\s*")
"""A decimal of bounded size: exact arithmetic on "1e999999" would never end."""


def parse_xml(data: bytes, name: str) -> Element:
    """Parse XML without entities, external documents or surprises.

    Raises:
        CoachError: it is not well-formed, or declares entities.
    """
    from defusedxml import DefusedXmlException
    from defusedxml.ElementTree import fromstring

    try:
        root: Element = fromstring(_without_blanks(data))
    except ParseError as error:
        line = f" at line {error.position[0]}" if getattr(error, "position", None) else ""
        raise CoachError(f'cannot read "{name}": its XML is damaged or cut short{line}') from error
    except DefusedXmlException as error:
        raise CoachError(f'cannot read "{name}": it declares XML entities, which no score needs') from error
    except (ValueError, LookupError) as error:
        raise CoachError(f'cannot read "{name}": its text encoding is unknown') from error
    return root


def _without_blanks(data: bytes) -> bytes:
    """A document from its first sign on: the standard allows no blanks before `<?xml` (XML 1.0, section 2.8), but files
    that were copied and pasted have them."""
    codec = utf_16_order(data)
    if codec:
        text = data.decode(codec, "replace").removeprefix("\ufeff")
        return f"\ufeff{text.lstrip()}".encode(codec) if text[:1].isspace() else data
    mark = BOM_UTF8 if data.startswith(BOM_UTF8) else b""
    return mark + data.removeprefix(mark).lstrip()


def local(element: Element) -> str:
    """Tag of an element without its namespace."""
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""


def decimal(text: str | None) -> Fraction | None:
    """A decimal number exactly, or None where there is none."""
    found = NUMBER.fullmatch(text or "")
    return Fraction(found[1]) if found else None


def whole(text: str | None) -> int | None:
    """A whole number, or None where there is none; 1.0 is whole, too."""
    if text and text.isdecimal() and len(text) < 10:
        return int(text)
    number = decimal(text)
    return int(number) if number is not None and number.denominator == 1 else None
