"""How MusicXML is read (MusicXML 4.0, W3C Music Notation Community Group; partwise and timewise).

Elements and their meaning follow the standard's reference, https://www.w3.org/2021/06/musicxml40/.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from xml.etree.ElementTree import Element

from coach.errors import CoachError
from coach.score.formats.musicxml_bars import PageBars
from coach.score.formats.musicxml_part import PartReader, is_printed
from coach.score.formats.xml import local
from coach.score.page import Page, Part, Rest, Tally, changes_of_key, numbered_from_pickup, with_held_rests
from coach.score.spelling import leading
from coach.score.waymark_places import Posts

MOST_PARTS = 200
"""Most parts believed in one score; the largest orchestras have some fifty."""


def read_musicxml(root: Element, name: str) -> Page:
    """Read a MusicXML document.

    Args:
        root: Its root element.
        name: What the player calls it, for error sentences.

    Raises:
        CoachError: not MusicXML, or unplayable values in it.
    """
    if local(root) == "score-timewise":
        root = _partwise(root)
    if local(root) != "score-partwise":
        raise CoachError(f'cannot read "{name}": it is XML, but no MusicXML score (it starts with <{local(root)}>)')
    page = Page(title=_title(root), composer=_composer(root))
    names = {
        part.get("id", ""): (part.findtext("part-name") or "").strip() for part in root.iterfind("part-list/score-part")
    }
    parts = root.findall("part")
    if len(parts) > MOST_PARTS:
        raise CoachError(f'cannot read "{name}": it has more than {MOST_PARTS} parts')
    tally = Tally(name)
    all_hidden = not any(is_printed(note) for note in root.iter("note") if note.find("pitch") is not None)
    posts = Posts()
    readers = [PartReader(place, part, tally, posts, all_hidden) for place, part in enumerate(parts)]
    bars = max((len(reader.measures) for reader in readers), default=0)
    start = Fraction(0)
    metre, number = "", 0
    numbers = any(_digits(measure) for reader in readers for measure in reader.measures)
    found = PageBars()
    for place in range(bars):
        length = max((reader.read_bar(place, start) for reader in readers), default=Fraction(0))
        metre = next((reader.metre for reader in readers if reader.metre), metre)
        number = _bar_number(readers, place, number)
        lines = [line for reader in readers for line in reader.lines]
        found.add(number if numbers else None, start, length, metre, lines)
        start += length
    page.bars = numbered_from_pickup(found.bars)
    rests: list[Rest] = []
    for part, reader in zip(parts, readers, strict=True):
        page.marks.extend(reader.marks)
        rests += reader.rests
        page.parts.append(Part(names.get(part.get("id", ""), ""), reader.staves, reader.fault))
    page.marks = with_held_rests(page.marks, rests, page.bars)
    fault = next((part.fault for part in page.parts if part.fault), "")
    if fault and not page.marks:
        raise CoachError(fault)
    key = leading(reader.key for reader in readers if reader.key is not None)
    if key is not None:
        reader = next(reader for reader in readers if reader.key == key)
        page.fifths, page.minor = key.sounding, reader.minor
        page.key_changes = changes_of_key(key.sounding, reader.later_keys)
    page.quarter_bpm = next((reader.quarter_bpm for reader in readers if reader.quarter_bpm), None)
    page.remarks.extend(_left_out(readers))
    posts.fill(page)
    return page


def _bar_number(readers: list[PartReader], place: int, before: int) -> int:
    """Printed number of a bar; one numbered in letters ("X1") continues the bar before it."""
    for reader in readers:
        if place < len(reader.measures):
            digits = _digits(reader.measures[place])
            return int(digits) if digits else before
    return before + 1


def _digits(measure: Element) -> str:
    found = re.match(r"\s*(\d{1,6})", measure.get("number") or "")
    return found[1] if found else ""


def _title(root: Element) -> str:
    for place in ("movement-title", "work/work-title"):
        title = " ".join((root.findtext(place) or "").split())
        if title:
            return re.sub(r"\.(mxl|xml|musicxml|krn|abc|mid)$", "", title)
    return ""


def _composer(root: Element) -> str:
    for creator in root.iterfind("identification/creator"):
        if creator.get("type", "composer") == "composer" and (creator.text or "").strip():
            return " ".join((creator.text or "").split())
    return ""


def _left_out(readers: list[PartReader]) -> Iterator[str]:
    for count, one, many in (
        (sum(reader.graces for reader in readers), "grace note", "grace notes"),
        (sum(reader.cues for reader in readers), "cue note", "cue notes"),
        (sum(reader.drums for reader in readers), "percussion note", "percussion notes"),
        (sum(reader.slashes for reader in readers), "rhythm slash", "rhythm slashes"),
        (_hidden(readers), "note that is not printed", "notes that are not printed"),
    ):
        if count:
            yield f"left out {count} {one if count == 1 else many}"


def _hidden(readers: list[PartReader]) -> int:
    """How many notes are not printed and double no printed one."""
    printed = {(mark.onset, mark.midi) for reader in readers for mark in reader.marks}
    return sum((mark.onset, mark.midi) not in printed for reader in readers for mark in reader.hidden)


def _partwise(root: Element) -> Element:
    """Turn a timewise document (bars holding parts) into a partwise one (parts holding bars)."""
    turned = Element("score-partwise")
    turned.extend(child for child in root if local(child) != "measure")
    bars = root.findall("measure")
    parts = {part.get("id", ""): None for bar in bars for part in bar.findall("part")}
    for name in parts:
        whole = Element("part", {"id": name})
        for bar in bars:
            measure = Element("measure", dict(bar.attrib))
            for part in bar.findall("part"):
                if part.get("id", "") == name:
                    measure.extend(part)
            whole.append(measure)
        turned.append(whole)
    return turned
