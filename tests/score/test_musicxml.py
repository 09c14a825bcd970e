"""Reading MusicXML. Meanings of elements: MusicXML 4.0 reference, W3C Music Notation Community Group."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Any

import pytest

from coach.errors import CoachError
from coach.score.phrases import find_phrases
from coach.score.piece import Note, Piece
from coach.score.reading import read_score
from coach.score.transposing import Interval, transposed

HEAD = "<divisions>2</divisions><key><fifths>0</fifths></key><time><beats>4</beats><beat-type>4</beat-type></time>"


def score(*parts: str, names: tuple[str, ...] = ()) -> Piece:
    """A score of parts, each given as its bars' content apart by "|"; the first bar gets C major, 4/4, divisions 2."""
    listed, bodies = "", ""
    for number, part in enumerate(parts, 1):
        name = names[number - 1] if names else ""
        listed += f'<score-part id="P{number}"><part-name>{name}</part-name></score-part>'
        bars = part.split("|")
        body = "".join(
            f'<measure number="{place}">{f"<attributes>{HEAD}</attributes>" if place == 1 else ""}{bar}</measure>'
            for place, bar in enumerate(bars, 1)
        )
        bodies += f'<part id="P{number}">{body}</part>'
    return document(f"<part-list>{listed}</part-list>{bodies}")


def document(inside: str) -> Piece:
    return read_score(f'<score-partwise version="4.0">{inside}</score-partwise>'.encode(), "test.xml", "test")


def note(pitch: str, length: int = 2, extra: str = "", *, chord: bool = False, voice: int = 1, staff: int = 1) -> str:
    alter = f"<alter>{ {'#': 1, 'b': -1}[pitch[1]] }</alter>" if len(pitch) == 3 else ""
    return (
        f"<note>{'<chord/>' if chord else ''}<pitch><step>{pitch[0]}</step>{alter}<octave>{pitch[-1]}</octave></pitch>"
        f"<duration>{length}</duration>{extra}<voice>{voice}</voice><staff>{staff}</staff></note>"
    )


def rest(length: int) -> str:
    return f"<note><rest/><duration>{length}</duration><voice>1</voice></note>"


def back(length: int) -> str:
    return f"<backup><duration>{length}</duration></backup>"


def told(piece: Piece) -> list[tuple[str, Any, Any, str]]:
    return [(n.voice, n.onset, n.duration, n.pitch) for n in piece.notes]


def the(piece: Piece, pitch: str) -> Note:
    return next(n for n in piece.notes if n.pitch == pitch)


def test_tied_notes_are_one_note() -> None:
    tied = score(note("C4", 8, '<tie type="start"/>') + "|" + note("C4", 2, '<tie type="stop"/>') + note("D4", 6))
    assert told(tied) == [("soprano", 0, 5, "C4"), ("soprano", 5, 3, "D4")]


def test_a_tie_that_only_the_page_shows_counts_too() -> None:
    """The `tied` notation is what is seen, the `tie` element what is heard; files often carry only one of them."""
    shown = '<notations><tied type="{}"/></notations>'
    tied = score(note("C4", 8, shown.format("start")) + "|" + note("C4", 8, shown.format("stop")))
    assert told(tied) == [("soprano", 0, 8, "C4")]


def test_a_tie_that_leads_nowhere_leaves_the_note_as_long_as_printed() -> None:
    assert told(score(note("C4", 2, '<tie type="start"/>') + note("D4", 6)))[0] == ("soprano", 0, 1, "C4")


def test_two_voices_tie_the_same_key_each_for_itself() -> None:
    start, stop = '<tie type="start"/>', '<tie type="stop"/>'
    first = note("C4", 8, start, voice=1) + back(4) + note("C4", 4, start, voice=2)
    second = note("C4", 2, stop, voice=1) + back(2) + note("C4", 4, stop, voice=2)
    assert [(n.onset, n.duration) for n in score(first + "|" + second).notes] == [(0, 5), (2, 4)]


def test_a_pickup_is_bar_0_and_counts_the_last_beats() -> None:
    piece = score(note("G4", 2) + "|" + note("C5", 8))
    assert [(bar.number, bar.duration) for bar in piece.bars] == [(0, 1), (1, 4)]
    assert piece.bars[0].beat(Fraction(0)) == 4


def test_a_bar_divided_by_a_repeat_keeps_its_number_and_its_beats() -> None:
    repeat = '<barline><bar-style>light-heavy</bar-style><repeat direction="backward"/></barline>'
    piece = document(
        '<part-list><score-part id="P1"><part-name/></score-part></part-list><part id="P1">'
        f'<measure number="1"><attributes>{HEAD}</attributes>{note("C4", 8)}</measure>'
        f'<measure number="2">{note("D4", 6)}{repeat}</measure>'
        f'<measure number="X1" implicit="yes">{note("E4", 2)}</measure>'
        f'<measure number="3">{note("C4", 8)}</measure></part>'
    )
    assert [(bar.number, bar.double) for bar in piece.bars] == [(1, False), (2, True), (2, False), (3, False)]
    assert piece.bar_at(Fraction(7)).beat(Fraction(7)) == 4


def test_a_bar_lasts_as_long_as_its_longest_part() -> None:
    piece = score(note("C5", 4) + "|" + note("D5", 8), note("C3", 8) + "|" + note("D3", 8))
    assert the(piece, "D5").onset == 4


def test_chords_share_their_onset() -> None:
    piece = score(note("E4", 4) + note("C4", 4, chord=True) + note("F4", 4))
    assert [(n.onset, n.pitch) for n in piece.notes] == [(0, "E4"), (0, "C4"), (2, "F4")]


def test_backup_and_forward_move_between_voices() -> None:
    piece = score(note("C5", 8) + back(8) + "<forward><duration>4</duration></forward>" + note("E4", 4, voice=2))
    assert [(n.pitch, n.onset, n.duration) for n in piece.notes] == [("C5", 0, 4), ("E4", 2, 2)]


def test_tuplets_are_exact() -> None:
    piece = document(
        '<part-list><score-part id="P1"><part-name/></score-part></part-list><part id="P1"><measure number="1">'
        "<attributes><divisions>3</divisions></attributes>"
        + "".join(note(pitch, 1) for pitch in ("C4", "D4", "E4"))
        + note("F4", 9)
        + "</measure></part>"
    )
    assert [n.onset for n in piece.notes] == [0, Fraction(1, 3), Fraction(2, 3), 1]


def test_changes_of_divisions_and_metre_inside_a_piece() -> None:
    change = "<attributes><divisions>4</divisions><time><beats>6</beats><beat-type>8</beat-type></time></attributes>"
    piece = score(note("C4", 8) + "|" + change + note("D4", 12))
    assert [(bar.metre, bar.duration) for bar in piece.bars] == [("4/4", 4), ("6/8", 3)]


def test_additive_metres_are_added_up() -> None:
    time = "<attributes><time><beats>3+2</beats><beat-type>8</beat-type></time></attributes>"
    assert score(time + note("C4", 5)).bars[0].metre == "5/8"


def test_grace_and_cue_notes_are_left_out_and_said_so() -> None:
    grace = "<note><grace/><pitch><step>D</step><octave>5</octave></pitch><voice>1</voice></note>"
    cue = "<note><cue/><pitch><step>E</step><octave>5</octave></pitch><duration>4</duration></note>"
    piece = score(grace + note("C5", 4) + cue)
    assert told(piece) == [("soprano", 0, 2, "C5")]
    assert piece.remarks == ("left out 1 grace note", "left out 1 cue note")


def test_percussion_beside_pitched_notes_is_left_out_and_said_so() -> None:
    drum = "<note><unpitched/><duration>8</duration></note>"
    assert "left out 1 percussion note" in score(note("C5", 8), drum).remarks


def test_what_a_note_carries() -> None:
    extra = (
        "<notations><fermata/><articulations><breath-mark/></articulations>"
        "<technical><fingering>4</fingering></technical></notations>"
    )
    found = score(note("C5", 8, extra)).notes[0]
    assert (found.fermata, found.breath, found.finger) == (True, True, 4)


@pytest.mark.parametrize(
    ("printed", "finger"),
    [
        ("<fingering>3</fingering>", 3),
        ("<fingering>4-3</fingering>", 4),
        ('<fingering>2</fingering><fingering substitution="yes">1</fingering>', 2),
        ('<fingering alternate="yes">5</fingering><fingering>4</fingering>', 4),
        ("<fingering>p</fingering>", None),
        ("<fingering>12</fingering>", None),
    ],
)
def test_of_a_silent_change_of_finger_the_one_that_strikes_counts(printed: str, finger: int | None) -> None:
    """MusicXML 4.0, `fingering`: substitution is a change in mid-note, alternate another choice."""
    extra = f"<notations><technical>{printed}</technical></notations>"
    assert score(note("C5", 8, extra)).notes[0].finger == finger


def test_a_fermata_on_the_bar_line_holds_the_last_notes() -> None:
    barline = '<barline location="right"><bar-style>light-heavy</bar-style><fermata/></barline>'
    piece = score(note("C5", 6) + note("D5", 2) + barline)
    assert [n.fermata for n in piece.notes] == [False, True]


def hidden(text: str) -> str:
    return text.replace("<note>", '<note print-object="no">')


def test_notes_that_are_not_printed_are_left_out_and_said_so() -> None:
    """MusicXML 4.0, print-object: whether to print an object. Files let ornaments and chord signs sound that way."""
    bar = note("G4", 4) + note("A4", 4) + back(8) + hidden(note("C6", 8, voice=3)) + back(8) + note("E4", 8, voice=2)
    piece = score(bar)
    assert told(piece) == told(
        score(bar.replace(hidden(note("C6", 8, voice=3)), "<forward><duration>8</duration></forward>"))
    )
    assert piece.remarks == ("left out 1 note that is not printed",)
    piece = score(bar + "|" + bar)
    assert piece.remarks == ("left out 2 notes that are not printed",)


def test_a_note_that_is_not_printed_and_doubles_one_that_is_needs_no_word() -> None:
    piece = score(note("G4", 4) + note("A4", 4) + back(8) + hidden(note("G4", 2, voice=3) + note("A4", 2, voice=3)))
    assert told(piece) == [("soprano", 0, 2, "G4"), ("soprano", 2, 2, "A4")]
    assert piece.remarks == ("left out 1 note that is not printed",)
    piece = score(note("G4", 8), hidden(note("G4", 8)))
    assert (len(piece.notes), piece.remarks) == (1, ())


def test_a_score_of_which_no_note_is_printed_is_read() -> None:
    """A score for the ear alone; percussion, which is left out anyway, makes it no other."""
    drum = "<note><unpitched/><duration>8</duration></note>"
    piece = score(hidden(note("G4", 8) + back(8) + note("E4", 8, voice=2)), drum)
    assert [n.pitch for n in piece.notes] == ["G4", "E4"]
    assert piece.remarks == ("left out 1 percussion note",)


HELD = "<notations><fermata/></notations>"


def held(piece: Piece) -> list[str]:
    return [n.pitch for n in piece.notes if n.fermata]


@pytest.mark.parametrize(
    ("bars", "holds"),
    [
        ("{C5:4} {D5:2} {rest}", "D5"),
        ("{C5:4} {D5:2} {+B4:2} {rest}", "D5 B4"),
        ("{C5:4} {D5:2} {r:1} {rest}", "D5"),
        ("{C5:8} | {rest} {D5:6}", "C5"),
        ("{C5:8} | {r:8} | {rest} {D5:6}", ""),
        ("{rest} {C5:6}", ""),
        # What another voice sings on through the rest is what is held.
        ("{C5:4} {D5:2} {rest} {<:8} {2E4:4} {2F4:4}", "F4"),
        ("{C5:4} {D5:2} {rest} {<:8} {2E4:4} {2F4:2} {2r:2}", "D5"),
    ],
)
def test_a_fermata_on_a_rest_holds_what_sounds_on_or_the_note_before_it_in_its_voice(bars: str, holds: str) -> None:
    """MusicXML 4.0: notations, and so `fermata`, belong to rests as to notes. That the note before is held is common
    practice, no source."""

    def written(sign: str) -> str:
        if sign == "rest":
            return rest(2).replace("</note>", f"{HELD}</note>")
        what, length = sign.split(":")
        voice = 2 if what.startswith("2") else 1
        what = what.removeprefix("2")
        if what in ("r", "<"):
            return (rest(int(length)) if what == "r" else back(int(length))).replace("<voice>1", f"<voice>{voice}")
        return note(what.removeprefix("+"), int(length), chord=what.startswith("+"), voice=voice)

    assert held(score(re.sub(r"\{(.+?)\}", lambda sign: written(sign[1]), bars))) == holds.split()


def test_a_phrase_ends_before_a_rest_with_a_fermata() -> None:
    """Chorales end their lines with a fermata (common practice, no source)."""
    bars = [note("C5") + note("D5") + note("C5") + rest(2)] * 6
    for place in (2, 4):
        bars[place] = bars[place].replace("</voice></note>", f"</voice>{HELD}</note>")
    phrases = find_phrases(score("|".join(bars)))
    assert [phrase.end for phrase in phrases if phrase.why_it_ends == "fermata"] == [12, 20]


def test_syllables_of_all_stanzas() -> None:
    first = (
        '<lyric number="1"><syllabic>begin</syllabic><text>1. Ho</text></lyric>'
        '<lyric number="2"><syllabic>single</syllabic><text>Lord</text></lyric>'
    )
    second = '<lyric number="1"><syllabic>end</syllabic><text>ly</text></lyric>'
    elided = (
        '<lyric number="1"><syllabic>single</syllabic><text>the</text><elision> </elision>'
        "<syllabic>single</syllabic><text>one</text></lyric>"
    )
    piece = score(note("C5", 2, first) + note("D5", 2, second) + note("E5", 4, elided))
    assert [n.words for n in piece.notes] == [("Ho-", "Lord"), ("ly",), ("the one",)]


@pytest.mark.parametrize(
    ("labels", "first"),
    [
        (("2", "1"), "1"),
        (("10", "9"), "9"),
        (("chorus", "3"), "3"),
        (("part1verse2", "part1verse1"), "part1verse1"),
    ],
)
def test_stanzas_come_in_the_order_of_their_numbers(labels: tuple[str, str], first: str) -> None:
    """MusicXML 4.0, lyric: `number` tells the lines apart; the second stanza may begin a note before the first."""

    def lyric(label: str) -> str:
        return f'<lyric number="{label}"><syllabic>single</syllabic><text>{label}</text></lyric>'

    piece = score(note("C5", 2, lyric(labels[0])) + note("D5", 2, "".join(map(lyric, labels))) + note("E5", 4))
    other = next(label for label in labels if label != first)
    assert [n.words for n in piece.notes][:2] == [("", other), (first, other)]


def test_a_line_of_words_without_words_is_no_stanza() -> None:
    extended = '<lyric number="1"><extend type="stop"/></lyric>'
    sung = '<lyric number="2"><syllabic>single</syllabic><text>Lord</text></lyric>'
    piece = score(note("C5", 4, extended) + note("D5", 4, sung))
    assert [n.words for n in piece.notes] == [(), ("Lord",)]


def test_a_transposing_part_sounds_where_it_sounds() -> None:
    """MusicXML 4.0, `transpose`: written C for a horn in F sounds F, seven semitones and four steps lower."""
    horn = "<attributes><transpose><diatonic>-4</diatonic><chromatic>-7</chromatic></transpose></attributes>"
    assert score(horn + note("C5", 4) + note("F#4", 4)).notes[0].pitch == "F4"
    assert score(horn + note("C5", 4) + note("F#4", 4)).notes[1].pitch == "B3"


def parts(*attributes: str) -> Piece:
    """One bar of D and its lower octaves, a part for each `attributes`."""
    names = "".join(f'<score-part id="P{number}"/>' for number in range(len(attributes)))
    bodies = "".join(
        f'<part id="P{number}"><measure number="1"><attributes><divisions>1</divisions>{inside}</attributes>'
        f"{note(f'D{6 - number}', 4)}</measure></part>"
        for number, inside in enumerate(attributes)
    )
    data = f"<score-partwise><part-list>{names}</part-list>{bodies}</score-partwise>"
    return read_score(data.encode(), "t.xml", "t")


def moves(fifths: int, diatonic: int | None, chromatic: int, octaves: int = 0) -> str:
    """A key as written, and how its part transposes."""
    steps = "" if diatonic is None else f"<diatonic>{diatonic}</diatonic>"
    inside = f"{steps}<chromatic>{chromatic}</chromatic><octave-change>{octaves}</octave-change>"
    return f"<key><fifths>{fifths}</fifths></key><transpose>{inside}</transpose>"


@pytest.mark.parametrize(
    ("attributes", "fifths"),
    [
        ((moves(2, -1, -2), "<key><fifths>0</fifths></key>"), 0),
        ((moves(2, None, -2),), 0),
        ((moves(4, 2, 3), "<key><fifths>1</fifths></key>"), 1),
        ((moves(2, 0, 0, -1),), 2),
        ((moves(7, 1, 2),), -3),
    ],
    ids=["a clarinet in B flat", "without steps", "a clarinet in E flat", "an octave", "nine sharps are three flats"],
)
def test_the_key_is_the_one_that_sounds(attributes: tuple[str, ...], fifths: int) -> None:
    """MusicXML 4.0: `key` is as written, `transpose` what is added to the written pitch to make it sound."""
    assert parts(*attributes).fifths == fifths


@pytest.mark.parametrize(
    ("attributes", "written", "sounding"),
    [
        (moves(0, 0, -7), "C5 D5", "F4 G4"),
        (moves(0, 0, -2), "C5 D5", "Bb4 C5"),
        (moves(7, 1, 2), "C#5 D#5", "Eb5 F5"),
        (moves(-6, -1, -2), "Gb5 Ab5", "E5 F#5"),
    ],
    ids=["a horn without steps", "a clarinet without steps", "nine sharps", "eight flats"],
)
def test_notes_of_a_transposing_part_go_with_the_signature_that_sounds(
    attributes: str, written: str, sounding: str
) -> None:
    """MusicXML 4.0, `transpose`: `diatonic` and `chromatic` are to agree, but files have a 0 for the steps."""
    inside = f"<attributes><divisions>1</divisions>{attributes}</attributes>"
    piece = score(inside + "".join(note(pitch, 4) for pitch in written.split()))
    assert " ".join(note.pitch for note in piece.notes) == sounding


def test_a_transposition_that_is_told_after_the_key_counts_too() -> None:
    late = moves(2, -1, -2).replace("<transpose>", "</attributes><attributes><transpose>")
    assert parts(late).fifths == 0


def test_a_horn_that_is_written_without_signature_does_not_decide_the_key() -> None:
    """Horns are written without signature, whatever the key (common practice, no source)."""
    strings = "<key><fifths>-3</fifths></key>"
    assert parts(moves(0, -4, -7), strings, strings).fifths == -3


def test_tempo_of_a_metronome_mark() -> None:
    mark = (
        "<direction><direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit-dot/>"
        "<per-minute>60</per-minute></metronome></direction-type></direction>"
    )
    assert score(mark + note("C5", 8)).quarter_bpm == 90
    assert score('<sound tempo="72"/>' + note("C5", 8)).quarter_bpm == 72
    assert score(note("C5", 8)).quarter_bpm is None


@pytest.mark.parametrize(
    ("key", "bass", "minor"),
    [
        ("<fifths>-3</fifths><mode>minor</mode>", "C3", True),
        ("<fifths>-3</fifths><mode>major</mode>", "C3", False),
        ("<fifths>-3</fifths>", "C3", True),
        ("<fifths>-3</fifths>", "E3", False),
    ],
)
def test_where_the_page_names_no_mode_the_last_bass_note_tells(key: str, bass: str, minor: bool) -> None:
    """Three flats: C in the bass at the end is C minor (common practice, no source)."""
    piece = document(
        '<part-list><score-part id="P1"><part-name/></score-part></part-list><part id="P1"><measure number="1">'
        f"<attributes><divisions>2</divisions><key>{key}</key></attributes>{note(bass, 8)}</measure></part>"
    )
    assert (piece.fifths, piece.minor) == (-3, minor)


def test_a_score_written_bar_by_bar() -> None:
    """`score-timewise` holds bars that hold parts."""
    piece = read_score(
        (
            '<score-timewise version="4.0"><part-list><score-part id="A"><part-name/></score-part>'
            '<score-part id="B"><part-name/></score-part></part-list>'
            f'<measure number="1"><part id="A"><attributes>{HEAD}</attributes>{note("C5", 8)}</part>'
            f'<part id="B"><attributes>{HEAD}</attributes>{note("C3", 8)}</part></measure>'
            f'<measure number="2"><part id="B">{note("D3", 8)}</part></measure>'
            f'<measure number="3"><part id="A">{note("E5", 8)}</part><part id="B">{note("E3", 8)}</part></measure>'
            "</score-timewise>"
        ).encode(),
        "test.xml",
        "test",
    )
    assert [(n.pitch, n.onset) for n in piece.notes] == [
        ("C5", 0),
        ("C3", 0),
        ("D3", 4),
        ("E5", 8),
        ("E3", 8),
    ]


def test_a_score_in_utf_16() -> None:
    text = (
        '<?xml version="1.0" encoding="UTF-16"?><score-partwise><work><work-title>Größe</work-title></work>'
        '<part-list><score-part id="P1"><part-name/></score-part></part-list><part id="P1"><measure number="1">'
        f"<attributes>{HEAD}</attributes>{note('C4', 8)}</measure></part></score-partwise>"
    )
    assert read_score(text.encode("utf-16"), "test.xml", "test").title == "Größe"


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (note("C4", -2), "bar 1 has a note without a sensible length"),
        (note("C4", 0), "bar 1 has a note without a sensible length"),
        (note("C4", 900), "bar 1 has a note of 450 quarter notes"),
        (note("C9", 8), "bar 1 asks for C9, which no piano has"),
        (
            "<note><pitch><step>H</step><octave>4</octave></pitch><duration>8</duration></note>",
            "whose pitch makes no sense",
        ),
        (
            "<note><pitch><step>C</step><alter>0.5</alter><octave>4</octave></pitch><duration>8</duration></note>",
            "bar 1 has quarter tones, which no keyboard has",
        ),
        (
            '<attributes><measure-style><measure-repeat type="start">1</measure-repeat></measure-style></attributes>',
            "bar 1 has signs that repeat what came before",
        ),
        ("<attributes><divisions>0</divisions></attributes>" + note("C4", 8), "divisions that make no sense"),
        (rest(8), "it has no notes with a pitch"),
        ("<note><unpitched/><duration>8</duration></note>", "it has no notes with a pitch"),
    ],
)
def test_what_cannot_be_played_is_said_with_its_bar(content: str, said: str) -> None:
    with pytest.raises(CoachError, match=said.replace(".", r"\.")):
        score(content)


def test_thirty_notes_at_once_are_more_than_ten_fingers() -> None:
    chord = "".join(note(f"{'CDEFGAB'[n % 7]}{2 + n // 7}", 8, chord=n > 0) for n in range(30))
    with pytest.raises(CoachError, match="bar 1 has 30 keys down at once, more than ten fingers"):
        score(chord)


def keyed(*bars: str) -> bytes:
    """A part of whole notes, with what stands before the note of each bar."""
    note = "<note><pitch><step>G</step><octave>4</octave></pitch><duration>4</duration></note>"
    measures = "".join(f'<measure number="{n}">{before}{note}</measure>' for n, before in enumerate(bars, 1))
    head = '<part-list><score-part id="P1"/></part-list>'
    return f'<score-partwise>{head}<part id="P1">{measures}</part></score-partwise>'.encode()


def attributes(fifths: int, more: str = "") -> str:
    return f"<attributes><divisions>1</divisions><key><fifths>{fifths}</fifths></key>{more}</attributes>"


def test_later_signatures_are_kept_where_they_change() -> None:
    """MusicXML 4.0, element key. Programs repeat the signature at a new line; that is no change."""
    piece = read_score(keyed(attributes(1), attributes(1), attributes(-3), "", attributes(1)), "k.xml", "k")
    assert (piece.fifths, piece.key_changes) == (1, ((Fraction(8), -3), (Fraction(16), 1)))
    assert [piece.fifths_at(Fraction(at)) for at in (0, 7, 8, 15, 16, 99)] == [1, 1, -3, -3, 1, 1]
    assert Piece.from_json(piece.to_json()) == piece
    assert transposed(piece, Interval(1, 2)).key_changes == ((Fraction(8), -1), (Fraction(16), 3))
    # A fifth and two more up, G major has twelve sharps fewer than it would: the same keys by another name.
    assert transposed(piece, Interval(0, 1)).key_changes == ((Fraction(8), 4), (Fraction(16), -4))


def test_signatures_of_a_transposing_part_are_kept_as_they_sound() -> None:
    down = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    piece = read_score(keyed(attributes(2, down), attributes(4)), "k.xml", "k")
    assert (piece.fifths, piece.key_changes) == (0, ((Fraction(4), 2),))


REPEATED = '<attributes><measure-style><measure-repeat type="start">1</measure-repeat></measure-style></attributes>'


@pytest.mark.parametrize(
    ("name", "first", "remark"),
    [
        ("Drumset", "<note><unpitched/><duration>8</duration></note>", "left out 1 percussion note"),
        ("Guitar", note("C4", 8), "left out Guitar"),
    ],
)
def test_a_part_that_repeats_its_bars_by_signs_keeps_nobody_from_the_others(name: str, first: str, remark: str) -> None:
    """MusicXML 4.0, measure-repeat: the bars it stands for are written as rests."""
    sung = [f"{note(pitch, 8)}|{note(pitch, 8)}" for pitch in ("C5", "E4", "C4", "C3")]
    names = ("Soprano", "Alto", "Tenor", "Bass")
    piece = score(*sung, f"{first}|{REPEATED}{rest(8)}", names=(*names, name))
    assert told(piece) == told(score(*sung, names=names))
    assert piece.remarks == (remark,)
    sung[2] = f"{note('C4', 8)}|{REPEATED}{rest(8)}"
    with pytest.raises(CoachError, match=r'cannot read "test.xml": bar 2 has signs that repeat what came before'):
        score(*sung, f"{first}|{rest(8)}", names=(*names, name))


def test_a_guitarists_slashes_are_no_keys() -> None:
    """MusicXML 4.0, notehead-value "slash": it shows rhythm, and its place on the staff means nothing."""
    slash = "".join(note("B4", 2, "<notehead>slash</notehead>") for _ in range(4))
    four = [note(pitch, 8) for pitch in ("C5", "E4", "C4", "C3")]
    piece = score(slash, *four, names=("Guitar", "", "", "", ""))
    assert told(piece) == told(score(*four))
    assert piece.remarks == ("left out 4 rhythm slashes",)
    with pytest.raises(CoachError, match="it has no notes with a pitch"):
        score(slash)
