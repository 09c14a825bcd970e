"""A sheet as MusicXML. Oracles: the schema of MusicXML, `partitura` as an independent reader, and the coach's own."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate
from pathlib import Path
from xml.etree.ElementTree import fromstring

import pytest
from hypothesis import given, settings
from passages import chorale
from random_phrases import phrases
from sheets import breaches, misread, written

from coach.fingering.plan import SIDES, PhrasePlan
from coach.fingering.planner import Options, plan_piece
from coach.paper.engraving import BY_ITSELF, engraved
from coach.paper.musicxml import musicxml_of
from coach.paper.sheet import Sheet, sheet_of
from coach.score.cuts import phrases_of
from coach.score.library import open_piece
from coach.score.piece import Bar, Phrase, Piece
from coach.score.reading import read_score

Phrases = Callable[..., PhrasePlan]

PIECES = Path(__file__).parents[2] / "pieces"
FINGERED = Path(__file__).parents[1] / "data" / "fingerings"


def sheet_by(piece: Piece, options: Options | None = None) -> Sheet:
    return sheet_of(plan_piece(piece, phrases_of(piece), options=options), piece)


def notes_of(sheet: Sheet) -> set[tuple[object, ...]]:
    """Onset, length, key and staff of each note; where voices meet on a key, of the longer: to a reader they are one
    stroke of a voice."""
    start = sheet.bars[0].onset
    # A reader that finds notes on one staff alone has nothing to tell staves apart for.
    both = len({one.hand for one in sheet.strokes}) == 2
    longest: dict[tuple[object, int, int], Fraction] = {}
    for one in sheet.strokes:
        key = (one.onset - start, one.midi, SIDES.index(one.hand) + 1 if both else 0)
        longest[key] = max(longest.get(key, Fraction(0)), one.duration)
    return {(onset, duration, midi, staff) for (onset, midi, staff), duration in longest.items()}


def fingers_of(sheet: Sheet) -> Counter[tuple[object, ...]]:
    start = sheet.bars[0].onset
    return Counter((one.onset - start, one.midi, int(one.finger[0])) for one in sheet.strokes if one.finger)


def holds(sheet: Sheet, *, numbered: bool = True) -> None:
    """The document keeps the schema, and the coach reads back what was written: notes, staves, fingers, bars, key."""
    document = musicxml_of(sheet)
    assert not breaches(document)
    back = read_score(document, "sheet.musicxml", "sheet")
    struck = [
        n
        for n in fromstring(document).iter("note")
        if n.find("pitch") is not None and n.find("tie[@type='stop']") is None
    ]
    assert len(struck) == len(sheet.strokes)
    longest: dict[tuple[object, int, int], Fraction] = {}
    for n in back.notes:
        longest[n.onset, n.midi, n.staff] = max(longest.get((n.onset, n.midi, n.staff), Fraction(0)), n.duration)
    assert {(onset, length, midi, staff) for (onset, midi, staff), length in longest.items()} == notes_of(sheet)
    assert Counter((n.onset, n.midi, n.finger) for n in back.notes if n.finger) == fingers_of(sheet)
    assert [(bar.duration, bar.metre) for bar in back.bars] == [(bar.duration, bar.metre) for bar in sheet.bars]
    if numbered:
        assert [bar.number for bar in back.bars] == [bar.number for bar in sheet.bars]
    assert [bar.repeat for bar in back.bars] == [bar.repeat for bar in sheet.bars]
    assert [bar.waymarks for bar in back.bars] == [bar.waymarks for bar in sheet.bars]
    assert (back.fifths, back.minor) == (sheet.fifths, sheet.minor)


@pytest.mark.parametrize("way_out", ["raise", "roll", "omit"])
@pytest.mark.parametrize("path", sorted(PIECES.glob("*.musicxml")), ids=lambda path: path.stem)
def test_shipped_pieces_are_written_whole(path: Path, way_out: str) -> None:
    holds(sheet_by(open_piece(str(path)), Options(way_out=way_out, pedal=way_out == "roll")))  # type: ignore[arg-type]


@pytest.mark.parametrize("path", sorted(FINGERED.glob("*.musicxml"))[2::4], ids=lambda path: path.stem)
def test_piano_music_of_the_editions_is_written_whole(path: Path) -> None:
    """Public-domain piano music (Mutopia Project): voices that come and go, triplets, runs, held notes."""
    holds(sheet_by(open_piece(str(path))))


@pytest.mark.parametrize("name", ["corpus:bach/bwv269", "corpus:bach/bwv66.6", "corpus:bach/bwv305"])
def test_chorales_are_written_whole(name: str) -> None:
    holds(sheet_by(open_piece(name)))


@pytest.mark.parametrize(
    "name",
    ["corpus:bach/bwv113.8", "corpus:bach/bwv244.15", "corpus:bach/bwv283", str(FINGERED / "bach-bwv533.musicxml")],
)
def test_accidentals_are_right_where_voices_of_a_hand_have_different_ones(name: str) -> None:
    """Bach's chorales of music21's corpus and a prelude of the Mutopia Project, in which one voice alters a line that
    another one has unaltered in the same bar."""
    document = musicxml_of(sheet_by(open_piece(name)))
    assert not breaches(document)
    assert not misread(document)


LATER = """X:1
T:Signs of two voices
M:4/4
L:1/4
K:C
V:S
V:A
V:T clef=bass
V:B clef=bass
[V:S] c2 A ^F | G4 | c ^F G2 | G4 |]
[V:A] E F E D | D4 | E3 F | D4 |]
[V:T] C D C A, | B,4 | C C C B, | B,4 |]
[V:B] A,, D, A,, D, | G,,4 | A,, D, C, D, | G,,4 |]
"""


def test_an_accidental_reminds_of_one_before_it_and_of_none_that_comes_later() -> None:
    """The alto's F needs no natural before the soprano's F sharp, and one after it (common practice, no source)."""
    document = musicxml_of(sheet_by(read_score(LATER.encode(), "later.abc", "later")))
    assert not misread(document)
    first, _, third, _ = fromstring(document).iterfind("part/measure")
    signs = [
        [note.findtext("accidental") for note in measure.iter("note") if note.findtext("pitch/step") == "F"]
        for measure in (first, third)
    ]
    assert [Counter(each) for each in signs] == [Counter([None, "sharp"]), Counter(["sharp", "natural"])]


ENDINGS = """X:1
T:Rounds
M:4/4
L:1/4
K:G
V:1
V:2 clef=bass
[V:1] D|[GB][GB][FA]G|1[GB][Gc][GB]A:|2[GB][FA]G2||[Gd][GB]cB|:AGFA::[DG]AB[GB]|[1,2 AFG2:|[3 AFG2|]
[V:2] D,|G,G,D,G,|G,C,D,D,|D,D,G,2|B,B,A,G,|D,E,D,D,|G,A,B,G,|D,D,G,2|D,D,G,2|]
"""


def test_repeats_and_endings_are_written_as_in_the_score() -> None:
    piece = read_score(ENDINGS.encode(), "rounds.abc", "rounds")
    sheet = sheet_by(piece)
    assert [bar.repeat.bracket for bar in sheet.bars] == ["", "", "1", "2", "", "", "", "1, 2", "3"]
    holds(sheet)
    # Every line that opens a bar comes before its notes: readers look for it there.
    for measure in fromstring(musicxml_of(sheet)).iter("measure"):
        tags = [child.tag for child in measure]
        assert all(tags.index("barline") < tags.index("note") for _ in measure.iterfind("barline[@location='left']"))


DA_CAPO = """X:1
T:Round and round
M:4/4
L:1/4
K:G
V:1
V:2 clef=bass
[V:1] D|S[DG][DG][DA][DB]|[GB]3!fine![DG]|[DG][DG][DA][DB]|[GB]2[GB]2!dacoda!|[DA][DA][DB][Dc]|[GB]3!D.S.alcoda![DG]|
[V:2] G,|G,G,F,G,|G,3G,|G,G,F,G,|E,2D,2|G,G,F,G,|G,3G,|
[V:1] O[DG][DG][DA][DB]|[GB]3"D.C. al Fine"|]
[V:2] G,G,F,G,|G,3|]
"""


def test_a_da_capo_is_written_as_in_the_score() -> None:
    """MusicXML 4.0, sound: for programs that play, a jump names the sign that it goes to."""
    sheet = sheet_by(read_score(DA_CAPO.encode(), "round.abc", "round"))
    told = [[(mark.words, mark.at) for mark in bar.waymarks] for bar in sheet.bars]
    assert told == [
        [],
        [("Segno", 0)],
        [("Fine", 3)],
        [],
        [("To Coda", 4)],
        [],
        [("D.S. al Coda", 3)],
        [("Coda", 0)],
        [("D.C. al Fine", 3)],
    ]
    holds(sheet)
    root = fromstring(musicxml_of(sheet))
    sounds = [sound.attrib for sound in root.iter("sound") if "tempo" not in sound.attrib]
    assert sounds == [
        {"segno": "segno1"},
        {"fine": "yes"},
        {"tocoda": "coda7"},
        {"dalsegno": "segno1"},
        {"coda": "coda7"},
        {"dacapo": "yes"},
    ]
    # Words that end a bar stand behind its notes, where readers look for them.
    last = root.findall("part/measure")[-1]
    tags = [child.tag for child in last]
    assert "note" not in tags[tags.index("direction") :]


def test_an_excerpt_has_the_da_capo_that_it_holds_whole() -> None:
    piece = read_score(DA_CAPO.encode(), "round.abc", "round")
    for start, end, words in ((0, 35, 6), (1, 35, 4), (1, 16, 0), (9, 35, 0)):
        phrase = Phrase(1, Fraction(start), Fraction(end), "")
        sheet = sheet_of(plan_piece(piece, [phrase]), piece)
        assert sum(len(bar.waymarks) for bar in sheet.bars) == words
        assert not breaches(musicxml_of(sheet))


def test_music21_reads_the_da_capo_of_a_sheet() -> None:
    """music21 reads MusicXML by code of its own."""
    from music21 import converter, repeat

    sheet = sheet_by(read_score(DA_CAPO.encode(), "round.abc", "round"))
    score = converter.parseData(musicxml_of(sheet).decode(), format="musicxml")
    read = [
        (measure.number, type(sign).__name__)
        for measure in score.parts[0].getElementsByClass("Measure")
        for sign in measure.getElementsByClass(repeat.RepeatExpression)
    ]
    assert read == [
        (1, "Segno"),
        (2, "Fine"),
        (4, "Coda"),
        (6, "DalSegnoAlCoda"),
        (7, "Coda"),
        (8, "DaCapoAlFine"),
    ]


@pytest.mark.parametrize(
    ("start", "end", "signs"),
    [
        (0, 13, ["", "", "1:|", "2"]),
        (0, 9, ["", "", "1"]),
        (1, 13, ["", "1", "2"]),
        (13, 21, ["", "|::|"]),
        (17, 33, ["|::|", "|:", "1, 2:|", "3"]),
        (13, 29, ["", "|::|", "", "1, 2"]),
    ],
)
def test_phrases_by_themselves_have_the_repeats_that_they_hold_whole(start: int, end: int, signs: list[str]) -> None:
    piece = read_score(ENDINGS.encode(), "rounds.abc", "rounds")
    phrase = Phrase(1, Fraction(start), Fraction(end), "")
    sheet = sheet_of(plan_piece(piece, [phrase]), piece)
    told = [("|:" * r.opens) + r.bracket + (":|" * r.closes) for r in (bar.repeat for bar in sheet.bars)]
    assert told == signs
    holds(sheet, numbered=False)


@settings(max_examples=40)
@given(phrases(most_voices=6, most_chords=6))
def test_any_phrase_is_written_whole(piece: Piece) -> None:
    holds(sheet_by(piece))


@pytest.mark.parametrize("name", ["before-the-tide", "corpus:bach/bwv269"])
def test_an_independent_reader_finds_the_same_notes_and_fingers(name: str, tmp_path: Path) -> None:
    """`partitura` 1.x reads MusicXML with a reader of its own."""
    partitura = pytest.importorskip("partitura")
    sheet = sheet_by(open_piece(name))
    path = tmp_path / "sheet.musicxml"
    path.write_bytes(musicxml_of(sheet))
    score = partitura.load_musicxml(str(path))
    rows = score[0].note_array(include_staff=True)
    # It counts from the first bar line, so that a pickup is before zero.
    first = min(row["onset_quarter"] for row in rows)
    start = min(one.onset for one in sheet.strokes)
    found = Counter(
        (
            round(float(r["onset_quarter"] - first), 3),
            round(float(r["duration_quarter"]), 3),
            int(r["pitch"]),
            int(r["staff"]),
        )
        for r in rows
    )
    assert found == Counter(
        (round(float(one.onset - start), 3), round(float(one.duration), 3), one.midi, SIDES.index(one.hand) + 1)
        for one in sheet.strokes
    )
    fingers = Counter(
        int(technical.fingering)
        for note in score[0].notes
        for technical in note.technical or ()
        if hasattr(technical, "fingering")
    )
    assert fingers == Counter(int(one.finger) for one in sheet.strokes if one.finger)


def test_what_is_planned_as_written_from_the_sheet_is_the_plan() -> None:
    """Staves are hands: a player who opens the sheet gets the same hands and, as printed fingers, the same fingers."""
    from coach.practice.chosen import options_for

    piece = open_piece("between-two-banks")
    plan = plan_piece(piece, phrases_of(piece))
    back = read_score(musicxml_of(sheet_of(plan, piece)), "sheet.musicxml", "sheet")
    again = plan_piece(back, phrases_of(back), options=options_for(back, Options(hands="as-written"), habits="ignore"))
    assert [sorted((n.midi, n.hand, n.finger) for n in chord.notes) for chord in again.chords()] == [
        sorted((n.midi, n.hand, n.finger) for n in chord.notes) for chord in plan.chords()
    ]


@pytest.mark.parametrize("lengths", [(4, 4, 8), (4, 8, 4), (30,)])
def test_bars_longer_than_their_metre_keep_their_notes(lengths: tuple[int, ...]) -> None:
    """Chorales of the corpus end so (BWV 119.9), chant has no bar lines at all."""
    piece = chorale(*(" ".join([pitch + ":2"] * (sum(lengths) // 2)) for pitch in ("C5", "G4", "E4", "C3")))
    starts = accumulate(lengths, initial=0)
    made = [
        Bar(n, Fraction(at), Fraction(length), "4/4")
        for n, (at, length) in enumerate(zip(starts, lengths, strict=False), 1)
    ]
    holds(sheet_by(replace(piece, bars=tuple(made))), numbered=False)


def test_nobody_is_named_as_the_composer_where_none_is_known() -> None:
    sheet = replace(sheet_by(open_piece("before-the-tide")), composer="")
    assert fromstring(musicxml_of(sheet)).find("identification/creator") is None
    named = replace(sheet, composer="A. Nonymous")
    assert fromstring(musicxml_of(named)).findtext("identification/creator") == "A. Nonymous"


def test_the_same_sheet_is_the_same_file() -> None:
    sheet = sheet_by(open_piece("before-the-tide"))
    assert musicxml_of(sheet) == musicxml_of(sheet)


def test_slurs_of_the_two_staves_have_numbers_of_their_own() -> None:
    """Slurs that overlap are told apart by their numbers (MusicXML 4.0, number-level)."""
    root = fromstring(musicxml_of(sheet_by(open_piece("before-the-tide"))))
    upper, lower = (
        {slur.get("number") for n in root.iter("note") if n.findtext("staff") == staff for slur in n.iter("slur")}
        for staff in "12"
    )
    assert upper
    assert lower
    assert not upper & lower


def test_rolls_changed_fingers_and_notes_left_out_are_marked(phrase: Phrases) -> None:
    made = phrase(
        {"soprano": "E5:2:r5~", "alto": "C4:1:r2~ D4:1:r1", "tenor": "A3:2:-", "bass": "C3:2:l5"},
        new_fingers={("soprano", 0): (1.0, 4)},
    )
    document = musicxml_of(written(made))
    assert not breaches(document)
    root = fromstring(document)
    by_pitch = {(n.findtext("pitch/step"), n.findtext("pitch/octave")): n for n in root.iter("note")}
    assert by_pitch["E", "5"].find("notations/arpeggiate") is not None
    assert by_pitch["C", "4"].find("notations/arpeggiate") is not None
    assert by_pitch["D", "4"].find("notations/arpeggiate") is None
    assert by_pitch["E", "5"].findtext("notations/technical/fingering") == "5-4"
    assert by_pitch["A", "3"].find("notehead[@parentheses='yes']") is not None
    assert by_pitch["A", "3"].find("notations/technical") is None


def test_the_pedal_is_a_line_that_notches_mark() -> None:
    """MusicXML 4.0, pedal: `change` is for pedal lines."""
    root = fromstring(musicxml_of(sheet_by(open_piece("wide-water"), Options(pedal=True))))
    assert {(foot.get("line"), foot.get("sign")) for foot in root.iter("pedal")} == {("yes", "no")}


def test_the_pedal_comes_up_where_the_next_chord_is_struck() -> None:
    sheet = sheet_by(open_piece("wide-water"), Options(pedal=True))
    root = fromstring(musicxml_of(sheet))
    divisions = int(root.findtext("part/measure/attributes/divisions", "1"))
    found = []
    for measure, bar in zip(root.iterfind("part/measure"), sheet.bars, strict=True):
        for direction in measure.iterfind("direction"):
            foot = direction.find("direction-type/pedal")
            if foot is not None:
                found.append((bar.onset + int(direction.findtext("offset", "0")) / divisions, foot.get("type")))
    names = {"down": "start", "change": "change", "up": "stop"}
    assert found == [(float(onset), names[foot]) for onset, foot in sheet.pedal]
    assert len(found) > 4


def test_the_tempo_is_written_where_one_is_printed() -> None:
    piece = open_piece("before-the-tide")
    root = fromstring(musicxml_of(sheet_by(piece)))
    assert root.findtext(".//metronome/per-minute") == str(round(piece.quarter_bpm or 0))
    assert fromstring(musicxml_of(sheet_by(open_piece("corpus:bach/bwv269")))).find(".//metronome") is None


@pytest.mark.parametrize(
    ("metre", "marked", "unit", "number"),
    [
        ("6/8", "3/8=60", ("quarter", True), 60),
        ("6/8", "1/4=100", ("quarter", False), 100),
        ("3/8", "3/8=44", ("quarter", True), 44),
        ("3/4", "1/4=90", ("quarter", False), 90),
    ],
)
def test_a_tempo_counts_what_the_foot_taps(metre: str, marked: str, unit: tuple[str, bool], number: int) -> None:
    """In compound metres metronome marks give the dotted beat (common practice, no source)."""
    tune = f"X:1\nT:Tempo\nM:{metre}\nL:1/8\nQ:{marked}\nK:G\n" + "GAB|" * 8
    piece = read_score(tune.encode(), "tempo.abc", "tempo")
    document = musicxml_of(sheet_by(piece))
    mark = fromstring(document).find(".//metronome")
    assert mark is not None
    assert (mark.findtext("beat-unit"), mark.find("beat-unit-dot") is not None) == unit
    assert mark.findtext("per-minute") == str(number)
    assert not breaches(document)
    assert read_score(document, "sheet.musicxml", "sheet").quarter_bpm == piece.quarter_bpm
    (page,) = engraved(document, BY_ITSELF)
    assert f"♩{'.' * unit[1]} = {number}" in "".join(fromstring(page).itertext()).replace("\u00a0", " ")


HIGHER = """X:1
T:Two keys
M:4/4
L:1/4
K:G
V:1
V:2 clef=bass
[V:1] [GB][GB][FA]G|[GB][Gc][GB]A|[K:Eb] [GB][GB][Ac]G|[GB][FA]G2|]
[V:2] G,G,D,G,|G,C,D,D,|[K:Eb] E,E,A,,E,|E,B,,E,2|]
"""


def test_a_new_signature_is_written_where_it_begins() -> None:
    piece = replace(read_score(HIGHER.encode(), "higher.abc", "higher"), key_changes=((Fraction(8), -3),))
    sheet = sheet_by(piece)
    holds(sheet)
    document = fromstring(musicxml_of(sheet))
    assert [(m.get("number"), m.findtext("attributes/key/fifths")) for m in document.iter("measure")] == [
        ("1", "1"),
        ("2", None),
        ("3", "-3"),
        ("4", None),
    ]
    # In three flats the notes of E flat major need no accidental of their own.
    assert not [note for m in list(document.iter("measure"))[2:] for note in m.iter("accidental")]
    assert read_score(musicxml_of(sheet), "sheet.musicxml", "sheet").key_changes == piece.key_changes


def test_a_phrase_after_a_new_signature_begins_in_it() -> None:
    piece = replace(read_score(HIGHER.encode(), "higher.abc", "higher"), key_changes=((Fraction(8), -3),))
    sheet = sheet_of(plan_piece(piece, [Phrase(1, Fraction(12), Fraction(16), "")]), piece)
    assert (sheet.fifths, sheet.key_changes) == (-3, ())


def test_syllables_say_where_they_stand_in_their_words() -> None:
    tune = "X:1\nT:Words\nM:4/4\nL:1/4\nK:G\nG A B c|d2 G2|]\n"
    tune += "w: Hal-le-lu-jah, sing a-\nw: Light of eve-ning, now be-gin.\n"
    document = musicxml_of(sheet_by(read_score(tune.encode(), "words.abc", "words")))
    assert not breaches(document)
    for stanza, told in (
        (
            "1",
            [("Hal", "begin"), ("le", "middle"), ("lu", "middle"), ("jah,", "end"), ("sing", "single"), ("a", "begin")],
        ),
        (
            "2",
            [
                ("Light", "single"),
                ("of", "single"),
                ("eve", "begin"),
                ("ning,", "end"),
                ("now", "single"),
                ("be", "begin"),
            ],
        ),
    ):
        found = [one for one in fromstring(document).iter("lyric") if one.get("number") == stanza]
        assert [(one.findtext("text"), one.findtext("syllabic")) for one in found] == told


def test_an_ending_without_a_repeat_sign_is_written_too() -> None:
    """A last verse's own ending, after "D.C.", has a bracket and nothing that turns back."""
    tune = "X:1\nT:Verses\nM:4/4\nL:1/4\nK:G\n[GB][GB][FA]G|[1-3 [GB]AG2||[4 [GB]AG2|]\n"
    sheet = sheet_by(read_score(tune.encode(), "verses.abc", "verses"))
    assert [bar.repeat.bracket for bar in sheet.bars] == ["", "1, 2, 3", "4"]
    holds(sheet)


SILENT = """X:1
T:Silences
M:4/4
L:1/4
K:G
V:1
V:2 clef=bass
[V:1] G|GABc|z4|d4|]
[V:2] z|G,4|z4|G,4|]
"""


def test_only_a_bar_of_its_full_length_has_a_whole_bar_rest() -> None:
    """A pickup has a rest of its own length (MusicXML 4.0, rest: `measure` is for a complete measure)."""
    sheet = sheet_by(read_score(SILENT.encode(), "silences.abc", "silences"))
    holds(sheet)
    rests = [
        [(note.findtext("type"), rest.get("measure")) for note in bar.iter("note") for rest in note.findall("rest")]
        for bar in fromstring(musicxml_of(sheet)).iter("measure")
    ]
    assert rests == [[("quarter", None)], [], [(None, "yes"), (None, "yes")], []]


def test_a_long_bar_without_metre_is_cut_before_the_rest_that_a_phrase_begins_after() -> None:
    voices = (
        "[V:1] z " + "G2 " * 6 + "G|z " + "A2 " * 6 + "A|]\n",
        "[V:2] z " + "G,2 " * 6 + "G,|z " + "D,2 " * 6 + "D,|]\n",
    )
    tune = "X:1\nT:Free\nM:none\nL:1/4\nK:G\nV:1\nV:2 clef=bass\n" + "".join(voices)
    piece = read_score(tune.encode(), "free.abc", "free")
    phrases = [Phrase(1, Fraction(1), Fraction(15), ""), Phrase(2, Fraction(15), Fraction(28), "")]
    sheet = sheet_of(plan_piece(piece, phrases), piece)
    holds(sheet, numbered=False)
    assert all(any(bar.onset <= one.onset < bar.end for one in sheet.strokes) for bar in sheet.bars)
    silent = [note for note in fromstring(musicxml_of(sheet)).iter("note") if note.find("rest") is not None]
    assert silent
    assert {(note.findtext("type"), note.find("rest").get("measure")) for note in silent} == {("quarter", None)}  # type: ignore[union-attr]
