"""Two-staff keyboard music keeps every note's staff, onset and length."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from xml.etree import ElementTree

import pytest

from coach.score.reading import read_score


def straight(xml: str) -> Counter[tuple[Fraction, Fraction, int, int]]:
    """Onset, printed length, key and staff of every printed note, by the plainest possible reading."""
    found: Counter[tuple[Fraction, Fraction, int, int]] = Counter()
    bar = Fraction(0)
    divisions = Fraction(1)
    for measure in ElementTree.fromstring(xml).iter("measure"):
        now = longest = last = bar
        for item in measure:
            if item.findtext("divisions"):
                divisions = Fraction(item.findtext("divisions"))
            length = Fraction(item.findtext("duration") or 0) / divisions
            if item.tag == "backup":
                now -= length
            elif item.tag == "forward":
                now += length
            elif item.tag == "note":
                onset = last if item.find("chord") is not None else now
                last, now = onset, max(now, onset + length)
                step = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}[item.findtext("pitch/step") or ""]
                key = 12 * (int(item.findtext("pitch/octave") or 0) + 1) + step + int(item.findtext("pitch/alter") or 0)
                found[onset, length, key, int(item.findtext("staff") or 1)] += 1
            longest = max(longest, now)
        bar = longest
    return found


UNEVEN = """<score-partwise><part-list><score-part id="P1"><part-name>Piano</part-name></score-part></part-list>
<part id="P1"><measure number="1"><attributes><divisions>12</divisions><staves>2</staves></attributes>
<note><pitch><step>E</step><octave>5</octave></pitch><duration>24</duration><voice>1</voice><staff>1</staff></note>
<note><chord/><pitch><step>C</step><octave>5</octave></pitch><duration>24</duration><voice>1</voice><staff>1</staff></note>
<note><pitch><step>G</step><octave>5</octave></pitch><duration>12</duration><voice>1</voice><staff>1</staff></note>
<backup><duration>36</duration></backup>
<forward><duration>12</duration><voice>2</voice><staff>1</staff></forward>
<note><pitch><step>A</step><octave>4</octave></pitch><duration>6</duration><voice>2</voice><staff>1</staff></note>
<note><pitch><step>B</step><octave>4</octave></pitch><duration>6</duration><voice>2</voice><staff>1</staff></note>
<backup><duration>24</duration></backup>
<note><pitch><step>C</step><octave>3</octave></pitch><duration>48</duration><voice>5</voice><staff>2</staff></note>
<backup><duration>36</duration></backup>
<note><pitch><step>G</step><octave>3</octave></pitch><duration>4</duration><voice>6</voice><staff>2</staff></note>
<note><pitch><step>E</step><octave>3</octave></pitch><duration>4</duration><voice>6</voice><staff>2</staff></note>
<note><chord/><pitch><step>B</step><octave>3</octave></pitch><duration>4</duration><voice>6</voice><staff>2</staff></note>
</measure><measure number="2">
<note><pitch><step>F</step><octave>4</octave></pitch><duration>24</duration><voice>1</voice><staff>1</staff></note>
</measure></part></score-partwise>"""


def test_every_note_keeps_staff_onset_and_length() -> None:
    piece = read_score(UNEVEN.encode(), "uneven.xml", "uneven")
    assert Counter((n.onset, n.duration, n.midi, n.staff) for n in piece.notes) == straight(UNEVEN)


@pytest.mark.parametrize("voice", ["1", "2", "5", "6"])
def test_chords_without_voice_numbers_lose_nothing(voice: str) -> None:
    bare = UNEVEN.replace(f"<voice>{voice}</voice>", "")
    piece = read_score(bare.encode(), "bare.xml", "bare")
    assert Counter((n.onset, n.duration, n.midi, n.staff) for n in piece.notes) == straight(bare)
