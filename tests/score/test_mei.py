"""Reading MEI (Music Encoding Initiative, Guidelines 5.0, common music notation; elements and attributes are named)."""

from __future__ import annotations

import base64
import io
from collections import Counter
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import mido
import pytest
from engraving import as_mei

from coach.errors import CoachError
from coach.score.page import Part
from coach.score.piece import Note, Piece
from coach.score.reading import read_page, read_score

HEAD = 'key.sig="1s" meter.count="3" meter.unit="4"'
ONE_STAFF = '<staffDef n="1" lines="5"/>'


def document(*measures: str, head: str = HEAD, staffs: str = ONE_STAFF) -> bytes:
    """A score whose measures are given by what stands in them, or whole; they are numbered from 1."""
    inside = "".join(
        each if each.startswith(("<measure", "<scoreDef", "<staffDef")) else f'<measure n="{number}">{each}</measure>'
        for number, each in enumerate(measures, 1)
    )
    return (
        '<mei xmlns="http://www.music-encoding.org/ns/mei" meiversion="5.0"><music><body><mdiv><score>'
        f"<scoreDef {head}><staffGrp>{staffs}</staffGrp></scoreDef><section>{inside}</section>"
        "</score></mdiv></body></music></mei>"
    ).encode()


def score(*measures: str, head: str = HEAD, staffs: str = ONE_STAFF) -> Piece:
    return read_score(document(*measures, head=head, staffs=staffs), "test.mei", "test")


def mei(layers: str, after: str = "") -> Piece:
    """One measure of one staff, and the signs after it."""
    return score(f'<staff n="1">{layers}</staff>{after}')


def staff(number: int, *layers: str, bar: str = "n") -> str:
    """A staff of layers in short: "d5:4 r:4 d4+g4:2." are a note, a rest and a chord, R is a bar's rest.

    The third of layer 2 of staff 1 has the name n1.2.3, and of a chord the first note n1.2.3.1.
    """
    inside = "".join(
        f'<layer n="{layer}">'
        + "".join(event(token, f"{bar}{number}.{layer}.{place}") for place, token in enumerate(code.split(), 1))
        + "</layer>"
        for layer, code in enumerate(layers, 1)
    )
    return f'<staff n="{number}">{inside}</staff>'


def event(token: str, name: str) -> str:
    pitches, _, value = token.partition(":")
    length = f'dur="{value.rstrip(".")}" dots="{value.count(".")}"'
    if pitches in ("r", "R"):
        return f'<rest xml:id="{name}" {length}/>' if value else f'<mRest xml:id="{name}"/>'
    notes = pitches.split("+")
    if len(notes) == 1:
        return f'<note xml:id="{name}" pname="{notes[0][0]}" oct="{notes[0][1]}" {length}/>'
    inside = "".join(f'<note xml:id="{name}.{n}" pname="{p[0]}" oct="{p[1]}"/>' for n, p in enumerate(notes, 1))
    return f'<chord xml:id="{name}" {length}>{inside}</chord>'


def marked(piece: Piece, sign: Callable[[Note], bool] = lambda note: note.fermata) -> list[tuple[Fraction, str]]:
    return [(note.onset, note.pitch) for note in piece.notes if sign(note)]


def test_mei_in_small() -> None:
    """MEI 5.0, common music notation: layers, chords, beams, tuplets, dots, accidentals of the signature, verses."""
    piece = mei(
        '<layer n="1"><beam><note pname="f" oct="5" dur="8" dots="1">'
        '<verse n="1"><syl con="d" wordpos="i">Ho</syl></verse></note><note pname="g" oct="5" dur="16"/></beam>'
        '<chord dur="4"><note pname="d" oct="5"/><note pname="b" oct="4"/></chord>'
        '<tuplet num="3" numbase="2"><note pname="a" oct="4" dur="8"/><note pname="g" oct="4" dur="8"/>'
        '<note pname="f" oct="4" dur="8" accid="n"/></tuplet></layer>'
        '<layer n="2"><note grace="acc" pname="c" oct="4" dur="8"/><note pname="c" oct="4" dur="2" dots="1"/></layer>'
    )
    assert [(n.onset, n.duration, n.pitch) for n in piece.notes] == [
        (0, Fraction(3, 4), "F#5"),
        (0, 3, "C4"),
        (Fraction(3, 4), Fraction(1, 4), "G5"),
        (1, 1, "D5"),
        (1, 1, "B4"),
        (2, Fraction(1, 3), "A4"),
        (Fraction(7, 3), Fraction(1, 3), "G4"),
        (Fraction(8, 3), Fraction(1, 3), "F4"),
    ]
    assert piece.notes[0].words == ("Ho-",)
    assert piece.remarks == ("left out 1 grace note",)


def test_of_several_readings_in_mei_one_is_played() -> None:
    """MEI Guidelines 5.0, editorial markup: what stands in `choice` or `app` is alternatives for one place."""

    def note(pitch: str) -> str:
        return f'<note pname="{pitch}" oct="5" dur="4"/>'

    piece = mei(
        f'<layer n="1"><choice><sic>{note("c")}</sic><corr>{note("d")}</corr></choice>'
        f"<app><rdg>{note('e')}</rdg><rdg>{note('f')}</rdg></app>"
        f"<app><rdg>{note('a')}</rdg><lem>{note('g')}</lem></app></layer>"
    )
    assert [(n.onset, n.pitch) for n in piece.notes] == [(0, "D5"), (1, "E5"), (2, "G5")]
    assert piece.remarks == ("took the editor's reading, or the first of several, in bar 1",)
    alone = mei(
        f'<layer n="1"><supplied>{note("d")}</supplied><del>{note("c")}</del>'
        f"<orig>{note('e')}</orig>{note('g')}</layer>"
    )
    assert [n.pitch for n in alone.notes] == ["D5", "E5", "G5"]
    assert alone.remarks == ()


@pytest.mark.parametrize(
    ("keys", "fifths"),
    [
        (('key.sig="2s" trans.semi="-2" trans.diat="-1"',), 0),
        (('key.sig="2s" trans.semi="-2"',), 0),
        (('key.sig="0" trans.semi="-12"',), 0),
        (('key.sig="0" trans.semi="-7"', 'key.sig="3f"', 'key.sig="3f"'), -3),
    ],
    ids=["a clarinet in B flat", "without steps", "an octave", "a horn without signature over strings"],
)
def test_mei_of_transposing_staves_is_in_the_key_that_sounds(keys: tuple[str, ...], fifths: int) -> None:
    """MEI 5, att.transposition: what is added to the written pitch to make it sound; key.sig is as written."""
    staffs = "".join(f'<staffDef n="{number}" {key}/>' for number, key in enumerate(keys, 1))
    body = "".join(
        f'<staff n="{number}"><layer n="1"><note pname="d" oct="{6 - number}" dur="1"/></layer></staff>'
        for number in range(1, len(keys) + 1)
    )
    data = (
        '<mei xmlns="http://www.music-encoding.org/ns/mei"><music><body><mdiv><score>'
        f'<scoreDef meter.count="4" meter.unit="4"><staffGrp>{staffs}</staffGrp></scoreDef>'
        f'<section><measure n="1">{body}</measure></section></score></mdiv></body></music></mei>'
    )
    assert read_score(data.encode(), "t.mei", "t").fifths == fifths


def test_signs_of_mei_that_point_at_notes() -> None:
    notes = "".join(f'<note xml:id="n{place}" pname="c" oct="5" dur="4"/>' for place in range(3))
    signs = (
        '<tie startid="#n0" endid="#n1"/><fermata startid="#n2"/><fing startid="#n2">4</fing>'
        '<breath staff="1" tstamp="1"/><tempo tstamp="1" mm="96" mm.unit="4">Allegro</tempo>'
    )
    piece = mei(f"<layer>{notes}</layer>", after=signs)
    assert [(n.onset, n.duration, n.fermata, n.finger, n.breath) for n in piece.notes] == [
        (0, 2, False, None, True),
        (2, 1, True, 4, False),
    ]
    assert piece.quarter_bpm == 96


def test_a_tuplet_that_is_marked_from_note_to_note() -> None:
    notes = "".join(f'<note xml:id="n{place}" pname="c" oct="5" dur="8"/>' for place in range(3))
    span = '<tupletSpan startid="#n0" endid="#n2" num="3" numbase="2"/>'
    rest = '<note pname="d" oct="5" dur="2"/>'
    assert [n.duration for n in mei(f"<layer>{notes}{rest}</layer>", after=span).notes] == [Fraction(1, 3)] * 3 + [2]


def test_mei_agrees_with_partitura(corpus: Callable[[str], Piece], tmp_path: Path) -> None:
    """`partitura` reads MEI independently; it does not join notes by the attribute `tie`, so printed notes are held
    against printed notes."""
    import partitura

    chorale = corpus("bach/bwv352")
    path = tmp_path / "chorale.mei"
    path.write_bytes(as_mei(chorale))
    expected = Counter(
        (round(float(part.quarter_map(note.start.t)), 3), note.midi_pitch)
        for part in partitura.load_mei(path).parts
        for note in part.notes
    )
    start = min(onset for onset, _ in expected)
    own = read_page(path.read_bytes(), "mei")
    assert Counter((round(float(mark.onset) + start, 3), mark.midi) for mark in own.marks) == expected


@pytest.mark.parametrize(
    ("layers", "said"),
    [
        ("<layer><note pname='c' oct='5'/></layer>", "bar 1 has a note without a sensible length"),
        ("<layer><note pname='h' oct='5' dur='4'/></layer>", "bar 1 has a note whose pitch makes no sense"),
        ("<layer><note pname='c' oct='5' dur='4' accid='1qs'/></layer>", "bar 1 has quarter tones"),
        ("<layer><mRpt/></layer>", "bar 1 has signs that repeat what came before"),
        ("<layer><mRpt2/></layer>", "bar 1 has signs that repeat what came before"),
        ("<layer><beatRpt/></layer>", "bar 1 has signs that repeat what came before"),
    ],
)
def test_what_mei_says_and_nobody_can_play_is_refused(layers: str, said: str) -> None:
    with pytest.raises(CoachError, match=said):
        mei(layers)


# Octave lines


def heard_by_verovio(data: bytes) -> list[tuple[Fraction, int]]:
    """Onset and key of every note, from the MIDI file that verovio, an independent reader, makes of a score."""
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    verovio.setDefaultResourcePath(str(Path(verovio.__file__).parent / "data"))
    toolkit = verovio.toolkit()
    assert toolkit.loadData(data.decode())
    file = mido.MidiFile(file=io.BytesIO(base64.b64decode(toolkit.renderToMIDI())))
    found = []
    for track in file.tracks:
        now = 0
        for message in track:
            now += message.time
            if message.type == "note_on" and message.velocity:
                found.append((Fraction(now, file.ticks_per_beat), message.note))
    return sorted(found)


@pytest.mark.parametrize(
    "line",
    [
        'startid="#n1.1.2" endid="#m1.1.1" dis="8" dis.place="above"',
        'startid="#n1.1.1" endid="#n1.1.2" dis="15" dis.place="below"',
        'tstamp="2" tstamp2="0m+3" dis="8" dis.place="below"',
        'tstamp="1" tstamp2="1m+2" dis="15" dis.place="above"',
    ],
)
def test_an_octave_line_moves_the_notes_from_its_first_to_its_last(line: str) -> None:
    """MEI Guidelines 5.0, octave: dis is 8 or 15, dis.place above or below; oct is as written."""
    data = document(
        staff(1, "c5:4 d5:4 e5:4") + f'<octave staff="1" {line}/>',
        staff(1, "c5:4 d5:4 e5:4", bar="m"),
        head='meter.count="3" meter.unit="4"',
        staffs='<staffDef n="1" lines="5" clef.shape="G" clef.line="2"/>',
    )
    heard = heard_by_verovio(data)
    assert sum(key in (72, 74, 76) for _, key in heard) < 6
    piece = read_score(data, "test.mei", "test")
    assert [(note.onset, note.midi) for note in piece.notes] == heard
    assert all(note.pitch[0] == "CDE"[int(note.onset) % 3] for note in piece.notes)


def test_an_octave_line_counts_for_all_layers_of_its_staff_unless_it_names_one() -> None:
    """MEI Guidelines 5.0, att.staffIdent and att.layerIdent."""
    staves = staff(1, "e5:2.", "c5:2.") + staff(2, "c4:2.")
    two = '<staffDef n="1" lines="5"/><staffDef n="2" lines="5"/>'
    whole = score(staves + '<octave startid="#n1.1.1" endid="#n1.1.1"/>', staffs=two)
    assert [note.pitch for note in whole.notes] == ["E6", "C6", "C4"]
    upper = score(staves + '<octave staff="1" layer="1" tstamp="1" tstamp2="1"/>', staffs=two)
    assert [note.pitch for note in upper.notes] == ["E6", "C5", "C4"]


def test_a_note_that_says_in_which_octave_it_sounds_is_moved_no_further() -> None:
    """MEI Guidelines 5.0, oct.ges: the octave that sounds where it is not the written one."""
    layer = '<note xml:id="a" pname="g" oct="4" oct.ges="5" dur="4"/><note xml:id="b" pname="a" oct="4" dur="2"/>'
    line = '<octave staff="1" startid="#a" endid="#b" dis="8" dis.place="above"/>'
    assert [note.pitch for note in mei(f"<layer>{layer}</layer>").notes] == ["G5", "A4"]
    assert [note.pitch for note in mei(f"<layer>{layer}</layer>", line).notes] == ["G5", "A5"]


@pytest.mark.parametrize("line", ['startid="#n1.1.1"', 'tstamp="1" tstamp2="5m+1"', 'tstamp="1" tstamp2="0m+2"'])
def test_an_octave_line_of_unknown_reach_is_left_out_and_that_is_said(line: str) -> None:
    """The last one names no staff, which a sign without a note must (MEI Guidelines 5.0, att.staffIdent)."""
    piece = score(staff(1, "c5:4 d5:4 e5:4") + f"<octave {line}/>")
    assert [note.pitch for note in piece.notes] == ["C5", "D5", "E5"]
    assert piece.remarks == ("left out an octave line that does not say how far it reaches, in bar 1",)


# Signs that point at chords and rests


def test_a_sign_that_points_at_a_chord_counts_for_its_notes() -> None:
    """MEI Guidelines 5.0, fermata, breath, caesura and tie: startid may name any event."""
    signs = '<fermata startid="#n1.1.1"/><{} startid="#n1.1.2"/><tie startid="#n1.1.2" endid="#n1.1.3"/>'
    for breath in ("breath", "caesura"):
        piece = score(staff(1, "d5+b4:4 c5+a4:4 c5+a4:4") + signs.format(breath))
        assert marked(piece) == [(0, "D5"), (0, "B4")]
        assert marked(piece, lambda note: note.breath) == [(1, "C5"), (1, "A4")]
        assert [note.duration for note in piece.notes] == [1, 1, 2, 2]


def test_a_finger_that_points_at_a_chord_is_for_none_of_its_notes() -> None:
    """Which note a `fing` is for is said by naming the note (MEI Guidelines 5.0, fing)."""
    fingers = '<fing startid="#n1.1.1">5</fing><fing startid="#n1.1.2.1">4</fing><fing tstamp="3" staff="1">2</fing>'
    piece = score(staff(1, "d5+b4:4 e5+c5:4 d5:4", "g4:2.") + fingers)
    assert {(note.pitch, note.finger) for note in piece.notes if note.finger} == {("E5", 4), ("D5", 2)}
    assert [note.finger for note in piece.notes if note.onset == 0] == [None, None, None]


FERMATA = '<fermata startid="#n1.1.3"/>'


@pytest.mark.parametrize(
    ("bars", "held"),
    [
        ((staff(1, "d5:4 c5:4 r:4", "b4:4 a4:4 r:4") + FERMATA,), [(1, "C5")]),
        ((staff(1, "d5+b4:4 c5+a4:4 r:4") + FERMATA,), [(1, "C5"), (1, "A4")]),
        ((staff(1, "d5:4 r:4 r:4") + FERMATA,), [(0, "D5")]),
        # The pause is that of the voices which sound through the rest.
        ((staff(1, "d5:4 c5:4 r:4", "b4:4 a4:2") + FERMATA,), [(1, "A4")]),
        ((staff(1, "d5:4 c5:4 r:4", "b4:4 a4:4 f4+d4:4") + FERMATA + '<fermata startid="#n1.2.3.1"/>',), [(2, "F#4")]),
        # The rest fills the next bar, or stands too far away.
        ((staff(1, "d5:2."), staff(1, "R", bar="m") + '<fermata startid="#m1.1.1"/>'), [(0, "D5")]),
        (
            (staff(1, "d5:2."), staff(1, "R", bar="m"), staff(1, "R", bar="o") + '<fermata startid="#o1.1.1"/>'),
            [],
        ),
        ((staff(1, "r:4 r:4 r:4") + FERMATA, staff(1, "d5:2.", bar="m")), []),
    ],
)
def test_a_fermata_over_a_rest_holds_what_sounds_or_what_sounded_last(
    bars: tuple[str, ...], held: list[tuple[Fraction, str]]
) -> None:
    """Common practice, no source."""
    assert marked(score(*bars)) == held


def test_rests_may_bear_their_fermata_as_an_attribute() -> None:
    """MEI Guidelines 5.0, att.fermataPresent: on rest and mRest as on note and chord."""
    layer = '<note pname="d" oct="5" dur="2"/><rest dur="4" fermata="above"/>'
    assert marked(mei(f"<layer>{layer}</layer>")) == [(0, "D5")]
    empty = '<staff n="1"><layer><mRest fermata="above"/></layer></staff>'
    assert marked(score(staff(1, "d5:4 c5:2"), empty)) == [(1, "C5")]


# Words


def verses(*found: tuple[str | None, str]) -> str:
    """A note and what is sung to it: the number of each verse, and its syllable."""
    inside = ""
    for number, syllable in found:
        inside += f"<verse{'' if number is None else f' n={chr(34)}{number}{chr(34)}'}><syl>{syllable}</syl></verse>"
    return f'<note pname="d" oct="5" dur="4">{inside}</note>'


@pytest.mark.parametrize(
    ("found", "words"),
    [
        ([("1", "A"), ("2", "B")], ("A", "B")),
        ([("2", "A")], ("", "A")),
        ([("2", "B"), ("1", "A")], ("A", "B")),
        ([("1", "A"), ("4", "B")], ("A", "", "B")),
        ([("2", "A"), (None, "B")], ("", "A", "B")),
        ([("refrain", "A")], ("A",)),
    ],
)
def test_a_verse_is_the_stanza_that_it_says(found: list[tuple[str | None, str]], words: tuple[str, ...]) -> None:
    """MEI Guidelines 5.0, verse, att.nNumberLike; one without a number comes after the others (from memory)."""
    beside = verses(("1", "one"), ("2", "two"), ("4", "four"))
    assert mei(f"<layer>{beside}{verses(*found)}</layer>").notes[1].words == words


def test_stanzas_that_have_no_words_anywhere_are_not_counted() -> None:
    """Chorales often print one stanza of many under its own number (common practice, no source)."""
    piece = mei(f"<layer>{verses(('2', 'A'))}{verses(('100000000', 'B'))}{verses((None, 'C'))}</layer>")
    assert [note.words for note in piece.notes] == [("A",), ("", "B"), ("C",)]


# Parts


SATB = "".join(f'<staffDef n="{n}" label="{name}"/>' for n, name in enumerate(("Soprano", "Alto", "Tenor", "Bass"), 1))
HANDS = '<staffDef n="{}" clef.shape="G" clef.line="2"/><staffDef n="{}" clef.shape="F" clef.line="4"/>'
NAMED = '<staffDef n="{}" label="Organ"/><staffDef n="{}" label="Organ"/>'


def parts(staffs: str, count: int) -> list[Part]:
    body = "".join(staff(number, "c4:2.") for number in range(1, count + 1))
    return read_page(document(body, staffs=staffs), "test.mei").parts


@pytest.mark.parametrize(
    ("group", "found"),
    [
        (f'<staffGrp symbol="brace" label="Piano">{HANDS}</staffGrp>', [Part("Piano", 2)]),
        (f'<staffGrp><grpSym symbol="brace"/><label>Piano</label>{HANDS}</staffGrp>', [Part("Piano", 2)]),
        (
            f'<staffGrp symbol="brace">{NAMED}</staffGrp>',
            [Part("Organ", 2)],
        ),
        (f'<staffGrp symbol="brace" label="Organ">{HANDS}<staffDef n="3"/></staffGrp>', [Part("Organ", 3)]),
        (
            f'<staffGrp symbol="brace" label="Organ"><staffGrp>{HANDS}</staffGrp><staffDef n="3"/></staffGrp>',
            [Part("Organ", 3)],
        ),
        (f'<staffGrp bar.thru="true" label="Harp">{HANDS}</staffGrp>', [Part("Harp", 2)]),
        # What is no keyboard: a bracket, a brace round voices or strings that have names, four staves.
        (f'<staffGrp symbol="bracket" bar.thru="true" label="Women">{HANDS}</staffGrp>', [Part(), Part()]),
        (f'<staffGrp bar.thru="true">{HANDS}</staffGrp>', [Part(), Part()]),
        (
            '<staffGrp symbol="brace"><staffDef n="1" label="Violin 1"/><staffDef n="2" label="Violin 2"/></staffGrp>',
            [Part("Violin 1"), Part("Violin 2")],
        ),
        (f'<staffGrp symbol="brace">{HANDS}<staffDef n="3"/><staffDef n="4"/></staffGrp>', [Part()] * 4),
    ],
)
def test_staves_that_a_brace_joins_are_one_instrument(group: str, found: list[Part]) -> None:
    """MEI Guidelines 5.0, staffGrp, grpSym, bar.thru: a brace stands before the staves of one instrument. Names, and
    how many staves an instrument has: common practice, no source."""
    assert parts(group.format(1, 2), sum(part.staves for part in found)) == found


def test_singers_are_played_where_a_keyboard_stands_below_them() -> None:
    group = f'{SATB}<staffGrp symbol="brace" label="Piano">{HANDS.format(5, 6)}</staffGrp>'
    sung = [staff(1, "e5:2."), staff(2, "c5:2."), staff(3, "g4:2."), staff(4, "c4:2.")]
    piece = score("".join([*sung, staff(5, "g5:4 g5:2"), staff(6, "c3:4 c3:2")]), head="", staffs=group)
    assert [(note.voice, note.pitch) for note in piece.notes] == [
        ("soprano", "E5"),
        ("alto", "C5"),
        ("tenor", "G4"),
        ("bass", "C4"),
    ]
    assert piece.remarks == ("left out Piano",)


def test_layers_of_a_keyboard_are_voices_of_their_staff_and_keep_to_themselves_on_another() -> None:
    """MEI Guidelines 5.0, layer and note/@staff: layer 1 of the upper staff is not layer 1 of the lower one."""
    group = f'<staffGrp symbol="brace">{HANDS.format(1, 2)}</staffGrp>'
    lower = staff(2, "c4:4 b3:4 c4:4", "c3:4 g3:4 c3:4")
    upper = staff(1, "e5:4 d5:4 e5:4", "g4:4 f4:4 g4:4")
    crossing = upper.replace('pname="f" oct="4"', 'pname="f" oct="4" staff="2"')
    piece = score(upper + lower, crossing + lower, head='meter.count="3" meter.unit="4"', staffs=group)
    assert piece.voices == ("soprano", "alto", "tenor", "bass")
    alto = [(note.pitch, note.staff) for note in piece.notes if note.voice == "alto"]
    assert alto == [("G4", 1), ("F4", 1), ("G4", 1), ("G4", 1), ("F4", 2), ("G4", 1)]


def test_percussion_is_left_out_and_that_is_said() -> None:
    """MEI Guidelines 5.0: clef/@shape perc, and note/@loc for what has a place on the staff and no pitch."""
    for drum in ('<staffDef n="2" clef.shape="perc"/>', '<staffDef n="2"><clef shape="perc"/></staffDef>'):
        piece = score(staff(1, "c4:2.") + staff(2, "c5:4 c5:2"), staffs=f'<staffDef n="1"/>{drum}')
        assert [note.pitch for note in piece.notes] == ["C4"]
        assert piece.remarks == ("left out 2 percussion notes",)
    beats = '<staff n="2"><layer><note loc="4" dur="4"/><note loc="4" dur="2"/></layer></staff>'
    piece = score(staff(1, "c4:4 d4:2") + beats, staffs='<staffDef n="1"/><staffDef n="2"/>')
    assert [(note.onset, note.pitch) for note in piece.notes] == [(0, "C4"), (1, "D4")]
    assert piece.remarks == ("left out 2 percussion notes",)


# Bars


def told(piece: Piece) -> list[tuple[int, Fraction, Fraction]]:
    return [(bar.number, bar.onset, bar.duration) for bar in piece.bars]


RESTS = '<staff n="{}"><layer><multiRest num="{}"/></layer></staff>'


def test_a_sign_for_several_bars_of_rest_is_so_many_bars() -> None:
    """MEI Guidelines 5.0, multiRest: bars of rest that are drawn as one, as in a part."""
    piece = score(
        staff(1, "c4:2."), f'<measure n="2" right="dbl">{RESTS.format(1, 3)}</measure>', staff(1, "d4:2.", bar="m")
    )
    assert told(piece) == [(1, 0, 3), (2, 3, 3), (3, 6, 3), (4, 9, 3), (5, 12, 3)]
    assert [bar.double for bar in piece.bars] == [False, False, False, True, False]
    assert [(note.onset, note.pitch) for note in piece.notes] == [(0, "C4"), (12, "D4")]


@pytest.mark.parametrize(
    ("numbers", "found"), [((1, 3, 4), [1, 2, 3, 4]), ((1, 2, 3), [1, 2, 3, 4]), ((4, 6, 9), [4, 5, 6, 9])]
)
def test_bars_after_several_bars_of_rest_are_numbered_on(numbers: tuple[int, ...], found: list[int]) -> None:
    """Whether the file counts the bars or its measure elements."""
    bars = [RESTS.format(1, 2), staff(1, "d4:2."), staff(1, "c4:2.", bar="m")]
    measures = [f'<measure n="{number}">{bar}</measure>' for number, bar in zip(numbers, bars, strict=True)]
    assert [bar.number for bar in score(*measures).bars] == found


def test_a_rest_of_several_bars_over_notes_is_a_rest_in_each_bar_as_it_is_written() -> None:
    """A measure in which another staff has notes is one bar (MEI Guidelines 5.0, measure)."""
    two = '<staffDef n="1"/><staffDef n="2"/>'
    piece = score(RESTS.format(1, 2) + staff(2, "c4:2."), staff(2, "d4:2.", bar="m"), staffs=two)
    assert told(piece) == [(1, 0, 3), (2, 3, 3)]
    assert [(note.onset, note.pitch) for note in piece.notes] == [(0, "C4"), (3, "D4")]


# Keys


@pytest.mark.parametrize(
    ("first", "change", "keys"),
    [
        ('key.sig="1s"', '<scoreDef key.sig="3f"/>', (1, [(3, -3)])),
        ('key.sig="1s"', '<scoreDef><keySig sig="2s"/></scoreDef>', (1, [(3, 2)])),
        ('key.sig="1s"', '<staffDef n="1" key.sig="2s"/>', (1, [(3, 2)])),
        ('key.sig="1s"', '<scoreDef key.sig="1s"/>', (1, [])),
        ("", '<scoreDef key.sig="2s"/>', (0, [(3, 2)])),
    ],
)
def test_later_signatures_count_from_their_place(
    first: str, change: str, keys: tuple[int, list[tuple[int, int]]]
) -> None:
    """MEI Guidelines 5.0, scoreDef, staffDef and keySig; what has no signature has none to begin with."""
    piece = score(staff(1, "f4:2."), change, staff(1, "f4:2.", bar="m"), head=f'{first} meter.count="3" meter.unit="4"')
    assert (piece.fifths, list(piece.key_changes)) == keys
    later = keys[1][-1][1] if keys[1] else keys[0]
    assert [note.pitch for note in piece.notes] == ["F#4" if fifths > 0 else "F4" for fifths in (keys[0], later)]


def test_a_signature_among_the_notes_counts_from_there() -> None:
    """MEI Guidelines 5.0, keySig as a child of layer."""
    layer = '<note pname="b" oct="4" dur="4"/><keySig sig="2f"/><note pname="b" oct="4" dur="2"/>'
    piece = mei(f"<layer>{layer}</layer>")
    assert (piece.fifths, piece.key_changes) == (1, ((1, -2),))
    assert [note.pitch for note in piece.notes] == ["B4", "Bb4"]


def test_later_signatures_are_those_of_the_staff_that_leads_as_they_sound() -> None:
    """A clarinet in B flat above a voice: each changes as it is written (MEI Guidelines 5.0, att.transposition)."""
    staffs = '<staffDef n="1" key.sig="2s" trans.semi="-2"/><staffDef n="2" key.sig="0"/>'
    notes = [staff(1, "d5:2.", bar=bar) + staff(2, "c4:2.", bar=bar) for bar in "nm"]
    change = '<staffDef n="1" key.sig="3s"/>', '<staffDef n="2" key.sig="1s"/>'
    both = score(notes[0], *change, notes[1], head='meter.count="3" meter.unit="4"', staffs=staffs)
    assert (both.fifths, both.key_changes) == (0, ((3, 1),))
    alone = staffs.partition("/>")[0] + "/>"
    one = score(
        staff(1, "d5:2."), change[0], staff(1, "e5:2.", bar="m"), head='meter.count="3" meter.unit="4"', staffs=alone
    )
    assert (one.fifths, one.key_changes) == (0, ((3, 1),))


def test_the_mode_at_the_start_is_that_of_the_key_at_the_start() -> None:
    """MEI Guidelines 5.0, key.mode and keySig/@mode."""
    bars = staff(1, "e4:2."), '<scoreDef key.sig="4s" key.mode="major"/>', staff(1, "e4:2.", bar="m")
    assert score(*bars, head='key.sig="1s" key.mode="minor" meter.count="3" meter.unit="4"').minor is True
    own = '<staffDef n="1"><keySig sig="1s" mode="minor"/></staffDef>'
    assert score(*bars, head='meter.count="3" meter.unit="4"', staffs=own).minor is True
