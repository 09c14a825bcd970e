"""A sheet as it is printed: pages of music in SVG (Scalable Vector Graphics, W3C), engraved by verovio."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from textwrap import wrap
from xml.etree.ElementTree import Element, SubElement, fromstring, register_namespace, tostring

from coach.errors import CoachError
from coach.paper.mei import MEI, settle


@dataclass(frozen=True, slots=True)
class Format:
    """A page.

    Attributes:
        width_mm: Of the page.
        height_mm: The most it may take; a page is no taller than what stands on it.
        margin_mm: Left free around the music.
        titled: Whether title and composer stand above the music.
    """

    width_mm: float
    height_mm: float
    margin_mm: float
    titled: bool


WITHIN_A_PAGE = Format(186, 235, 3, titled=False)
"""What fits on A4 (ISO 216, 210 by 297 mm) within margins of 12 and 14 mm, below a heading of a few lines."""

BY_ITSELF = Format(210, 6000, 12, titled=True)
"""As broad as A4 and as tall as it takes: the tallest page that verovio engraves."""

STAFF_MM = 1.75
"""Distance between two lines of a staff: 7 mm a staff, to be read from a music stand (common practice for piano music,
no source)."""

UNITS_A_MM = 10
"""verovio measures pages in tenths of a millimetre."""

FONTS = "Times, 'Times New Roman', 'Liberation Serif', serif"
"""Letters like those that verovio measures by; on a machine without Times their likeness has the same widths."""

LONGEST_LINE = 55
"""Letters of a title that fit beside each other on A4."""


def engraved(musicxml: bytes, form: Format) -> list[str]:
    """Pages of music.

    Args:
        musicxml: What to engrave.
        form: How large a page is.

    Raises:
        CoachError: verovio does not take it.
    """
    import verovio

    # verovio knows these two by the thread, and is told the second only in the one that loads it.
    verovio.enableLog(verovio.LOG_OFF)
    verovio.setDefaultResourcePath(str(Path(verovio.__file__).parent / "data"))
    toolkit = verovio.toolkit()
    margin = UNITS_A_MM * form.margin_mm
    toolkit.setOptions(
        {
            "pageWidth": UNITS_A_MM * form.width_mm,
            "pageHeight": UNITS_A_MM * form.height_mm,
            "adjustPageHeight": True,
            "pageMarginLeft": margin,
            "pageMarginRight": margin,
            "pageMarginTop": margin,
            "pageMarginBottom": margin,
            "unit": UNITS_A_MM * STAFF_MM / 2,
            "scale": 100,
            "spacingSystem": 8,
            "lyricSize": 4.0,
            # Words need as much room beside each other as their letters, also where their notes need none.
            "lyricWordSpace": 3.0,
            "header": "encoded" if form.titled else "none",
            "footer": "none",
            "breaksNoWidow": True,
            "svgViewBox": True,
            "xmlIdSeed": 1,
        }
    )
    score = fromstring(musicxml)
    _in_letters(score)
    loaded = toolkit.loadData(tostring(score, encoding="unicode"))
    # Without a name of its own for the namespace, every element would be called "ns0:...", which verovio does not read.
    register_namespace("", MEI.strip("{}"))
    # MEI (Music Encoding Initiative) is what verovio keeps of it, and says more of where things stand.
    mei = fromstring(toolkit.getMEI())
    settle(mei)
    _write_heading(mei, score)
    if not (loaded and toolkit.loadData(tostring(mei, encoding="unicode"))):
        raise CoachError("the music could not be engraved")
    pages = range(1, toolkit.getPageCount() + 1)
    return [_finished(toolkit.renderToSVG(page), page) for page in pages]


def _in_letters(score: Element) -> None:
    """Write the tempo as a line of text, since as a sign it would come from a font that few programs draw, and the
    numbers of the phrases as text in a box: verovio puts other rehearsal marks at the beginning of their bar."""
    for direction in score.iter("direction"):
        for kind in direction.findall("direction-type"):
            for mark in kind.findall("metronome"):
                kind.remove(mark)
                note = "♩" if mark.find("beat-unit-dot") is None else "♩."
                SubElement(kind, "words").text = f"{note} = {mark.findtext('per-minute')}"
            for mark in kind.findall("rehearsal"):
                kind.remove(mark)
                direction.set("placement", "above")
                box = SubElement(
                    kind, "words", {"enclosure": "rectangle", "font-weight": "bold", "font-style": "normal"}
                )
                box.text = mark.text


def _write_heading(mei: Element, score: Element) -> None:
    """Title and composer above the first page, a long title in several lines."""
    title = score.findtext("movement-title") or score.findtext("work/work-title") or ""
    composer = score.findtext("identification/creator[@type='composer']") or ""
    definition = next(mei.iter(f"{MEI}scoreDef"))
    for heading in definition.findall(f"{MEI}pgHead"):
        definition.remove(heading)
    heading = Element(f"{MEI}pgHead", func="first")
    for text, place, size in ((title, "center", "150%"), (composer, "right", "90%")):
        if text:
            first, *more = wrap(text, LONGEST_LINE)
            line = SubElement(heading, f"{MEI}rend", halign=place, valign="bottom", fontsize=size)
            line.text = first
            for further in more:
                SubElement(line, f"{MEI}lb").tail = further
    definition.insert(0, heading)


def _finished(svg: str, page: int) -> str:
    """A drawing on white paper, in fonts that are there, that can stand beside others in one document: its name, by
    which its parts and its style call each other, is that of its page."""
    svg = svg.replace('font-family="Times, serif"', f'font-family="{FONTS}"')
    found = re.search(r'<svg[^>]* id="([^"]+)"[^>]*>', svg)
    assert found, "verovio names its drawings"
    opened = f'{found[0]}\n   <rect width="100%" height="100%" style="fill: white; stroke: none"/>'
    return svg.replace(found[0], opened, 1).replace(found[1], f"page{page}")
