"""Changes of clef: where they spare ledger lines, in MusicXML and on the engraved page."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise, product
from xml.etree.ElementTree import fromstring

import pytest
from sheets import breaches, written

from coach.fingering.plan import SIDES, PhrasePlan
from coach.paper.clefs import AWAY, STAFF, Clef, clefs_of
from coach.paper.engraving import BY_ITSELF, engraved
from coach.paper.musicxml import musicxml_of
from coach.paper.sheet import Sheet
from coach.paper.signs import letter_step
from coach.score.reading import read_score

Phrases = Callable[..., PhrasePlan]

SVG = "{http://www.w3.org/2000/svg}"

LOW = "C3:1:l5 E3:1:l3 G3:1:l1 E3:1:l3"
HIGH = "E4:1:l5 G4:1:l3 B4:1:l1 G4:1:l3"


def melody(phrase: Phrases, *bars: str) -> Sheet:
    """A left hand of these bars under long notes of the right one."""
    return written(phrase({"soprano": " ".join(["C6:4:r5"] * len(bars)), "bass": " ".join(bars)}))


def ledger_lines(sheet: Sheet, clefs: tuple[Clef, ...]) -> int:
    """Counted from the definition: a line for every second place beyond the staff, for each left-hand note."""
    total = 0
    for bar, clef in zip(sheet.bars, clefs, strict=True):
        low, high = STAFF[clef]
        for one in sheet.strokes:
            if one.hand == "left" and bar.onset <= one.onset < bar.end:
                step = letter_step(one.pitch)
                total += len(range(low - 2, step - 1, -2)) + len(range(high + 2, step + 1, 2))
    return total


def effort(sheet: Sheet, clefs: tuple[Clef, ...]) -> int:
    for bar, clef in zip(sheet.bars, clefs, strict=True):
        low = [letter_step(s.pitch) for s in sheet.strokes if s.hand == "left" and bar.onset <= s.onset < bar.end]
        if clef == "treble" and min(low) < letter_step("G3"):
            return 1000
    return ledger_lines(sheet, clefs) + AWAY * list(pairwise(("bass", *clefs))).count(("bass", "treble"))


def test_a_left_hand_above_its_staff_for_a_bar_reads_the_treble_clef(phrase: Phrases) -> None:
    """Common practice, no source."""
    sheet = melody(phrase, LOW, HIGH, LOW)
    assert clefs_of(sheet, "left") == ("bass", "treble", "bass")
    assert clefs_of(sheet, "right") == ("treble",) * 3


def test_a_few_high_notes_are_read_on_ledger_lines(phrase: Phrases) -> None:
    sheet = melody(phrase, LOW, "G3:1:l2 C4:1:l1 E4:1:l1 C4:1:l1", LOW)
    assert set(clefs_of(sheet, "left")) == {"bass"}


def test_a_right_hand_far_below_reads_the_bass_clef(phrase: Phrases) -> None:
    low = "G3:1:r5 E3:1:r3 C3:1:r1 E3:1:r3"
    sheet = written(phrase({"soprano": f"C5:4:r5 {low} C5:4:r5", "bass": "C2:4:l5 C2:4:l5 C2:4:l5"}))
    assert clefs_of(sheet, "right") == ("treble", "bass", "treble")


def test_a_left_hand_that_goes_down_again_is_read_in_its_own_clef(phrase: Phrases) -> None:
    """Five ledger lines under the treble staff are worse than a change of clef."""
    sheet = melody(phrase, LOW, HIGH, "E4:2:l1 C3:2:l5", HIGH, LOW)
    assert clefs_of(sheet, "left") == ("bass", "treble", "bass", "treble", "bass")


def test_a_low_last_chord_of_the_right_hand_is_no_change_of_clef(phrase: Phrases) -> None:
    sheet = written(
        phrase({"soprano": "C5:4:r5 D4:4:r5", "alto": "G4:4:r2 A3:4:r2", "tenor": "E4:4:r1 F3:4:r1", "bass": "C3:8:l5"})
    )
    assert set(clefs_of(sheet, "right")) == {"treble"}


def test_a_left_hand_that_never_goes_below_middle_c_reads_the_treble_clef(phrase: Phrases) -> None:
    assert set(clefs_of(melody(phrase, "C4:2:l5 D4:2:l4"), "left")) == {"treble"}


@pytest.mark.parametrize(
    "bars", list(product([LOW, HIGH, "A3:2:l2 D4:2:l1", "F3:1:l5 G4:3:l1", "C4:4:l1"], repeat=4))[::15]
)
def test_no_other_clefs_take_less_reading(phrase: Phrases, bars: tuple[str, ...]) -> None:
    sheet = melody(phrase, LOW, *bars)
    names: tuple[Clef, Clef] = ("treble", "bass")
    assert effort(sheet, clefs_of(sheet, "left")) == min(effort(sheet, way) for way in product(names, repeat=5))


def test_a_change_of_clef_is_written_for_its_staff_and_changes_no_note(phrase: Phrases) -> None:
    sheet = melody(phrase, LOW, HIGH, LOW)
    document = musicxml_of(sheet)
    assert not breaches(document)
    signs = [
        (bar.get("number"), clef.get("number"), clef.findtext("sign"))
        for bar in fromstring(document).iter("measure")
        for clef in bar.iter("clef")
    ]
    assert signs == [("1", "1", "G"), ("1", "2", "F"), ("2", "2", "G"), ("3", "2", "F")]
    back = read_score(document, "sheet.musicxml", "sheet")
    assert {(note.onset, note.duration, note.midi, note.staff) for note in back.notes} == {
        (one.onset, one.duration, one.midi, SIDES.index(one.hand) + 1) for one in sheet.strokes
    }


def test_music21_reads_the_clefs_and_the_notes_of_a_sheet(phrase: Phrases) -> None:
    """music21 reads MusicXML by code of its own."""
    from music21 import clef, converter

    sheet = melody(phrase, LOW, HIGH, LOW)
    score = converter.parseData(musicxml_of(sheet).decode(), format="musicxml")
    lower = score.parts[1].flatten()
    assert [(float(one.offset), one.sign) for one in lower.getElementsByClass(clef.Clef)] == [
        (0.0, "F"),
        (4.0, "G"),
        (8.0, "F"),
    ]
    assert [one.pitch.midi for one in lower.notes] == [one.midi for one in sheet.strokes if one.hand == "left"]


def test_a_change_of_clef_is_drawn_and_spares_the_ledger_lines(phrase: Phrases) -> None:
    def drawn(sheet: Sheet, kind: str) -> int:
        root = fromstring(engraved(musicxml_of(sheet), BY_ITSELF)[0])
        return sum(kind in group.get("class", "").split() for group in root.iter(f"{SVG}g"))

    assert drawn(melody(phrase, LOW, LOW, LOW), "clef") == 2
    assert drawn(melody(phrase, LOW, HIGH, LOW), "clef") == 4
