"""Who sings what: closed scores, chords without voices, parts above a hymn, keyboard music."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from fractions import Fraction

import pytest
from engraving import closed_score

from coach.score.page import Mark, Part
from coach.score.piece import SATB, Piece
from coach.score.reading import read_score
from coach.score.separation import separate, usual_count
from coach.score.singers import singer, voice_names, voices_of

SAMPLE = ("bach/bwv269", "bach/bwv10.7", "bach/bwv153.5", "bach/bwv287", "bach/bwv352", "bach/bwv430", "bach/bwv403")


def abc(code: str, head: str = "", key: str = "C") -> Piece:
    return read_score(f"X:1\nM:4/4\nL:1/4\n{head}K:{key}\n{code}\n".encode(), "t.abc", "t")


def share(piece: Piece, other: Piece) -> float:
    """Share of a piece's notes that another reading gives to the same voice."""
    notes = [Counter((n.voice, n.onset, n.duration, n.midi) for n in each.notes) for each in (piece, other)]
    return sum((notes[0] & notes[1]).values()) / sum(notes[0].values())


def test_chorales_merged_into_two_staves_without_voices_come_apart_again(corpus: Callable[[str], Piece]) -> None:
    """Over all chorales 99.3 % of the notes come back to their own voice (tests/bench/bench_voices.py)."""
    shares = {}
    for name in SAMPLE:
        chorale = corpus(name)
        merged = read_score(closed_score(chorale).encode(), name, name)
        assert merged.voices == SATB
        assert {n.staff for n in merged.notes} == {1, 2}
        shares[name] = share(chorale, merged)
    assert min(shares.values()) > 0.9
    assert sum(shares.values()) / len(shares) > 0.975


def test_a_merged_chorale_loses_no_note_and_no_length(corpus: Callable[[str], Piece]) -> None:
    chorale = corpus("bach/bwv352")
    merged = read_score(closed_score(chorale).encode(), "merged", "merged")
    notes = [Counter((n.onset, n.duration, n.midi) for n in each.notes) for each in (chorale, merged)]
    assert notes[0] == notes[1]


def test_everything_on_one_staff_comes_apart_too(corpus: Callable[[str], Piece]) -> None:
    """As in a MIDI file with a single track."""
    chorale = corpus("bach/bwv352")
    one = read_score(closed_score(chorale, [SATB]).encode(), "one", "one")
    assert share(chorale, one) > 0.95


def marks(*chords: str) -> list[Mark]:
    """Chords of quarter notes by MIDI numbers: "72 64 55 48"."""
    return [
        Mark(0, 1, "", Fraction(place), Fraction(1), int(key), "C4")
        for place, chord in enumerate(chords)
        for key in chord.split()
    ]


def test_voices_move_by_small_steps() -> None:
    """The alto rests in the second chord, the tenor in the third (common practice: no leaps without need)."""
    assert separate(marks("72 64 55 48", "74 57 50", "72 64 52", "71 62 55 43"), 4) == [
        *(0, 1, 2, 3),
        *(0, 2, 3),
        *(0, 1, 3),
        *(0, 1, 2, 3),
    ]


def test_voices_cross_where_their_lines_do() -> None:
    """Alto up a step, soprano down a step: they exchange places rather than leap."""
    crossed = [
        Mark(0, 1, "1", Fraction(0), Fraction(1), 69, "A4"),
        Mark(0, 1, "2", Fraction(0), Fraction(1), 67, "G4"),
        Mark(0, 1, "2", Fraction(1), Fraction(1), 69, "A4"),
        Mark(0, 1, "1", Fraction(1), Fraction(1), 67, "G4"),
    ]
    assert separate(crossed, 2) == [0, 1, 1, 0]


def test_a_unison_is_two_voices_on_one_key() -> None:
    found = separate(marks("67 67 55 48"), 4)
    assert sorted(found) == [0, 1, 2, 3]


def test_the_voice_that_moves_on_takes_the_shorter_note_of_a_unison() -> None:
    """Soprano and alto meet on D; the soprano stays, the alto goes on down. The longer note is printed last."""
    unison = [
        Mark(0, 1, "", Fraction(0), Fraction(1), 66, "F#4"),
        Mark(0, 1, "", Fraction(0), Fraction(1), 62, "D4"),
        Mark(0, 1, "", Fraction(1), Fraction(1, 2), 62, "D4"),
        Mark(0, 1, "", Fraction(1), Fraction(2), 62, "D4"),
        Mark(0, 1, "", Fraction(3, 2), Fraction(1, 2), 60, "C4"),
    ]
    assert separate(unison, 2) == [0, 1, 1, 0, 1]


TWO_STEMS = """<?xml version="1.0"?><score-partwise version="4.0"><part-list><score-part id="P1"><part-name/>
</score-part></part-list><part id="P1"><measure number="1"><attributes><divisions>1</divisions>
<time><beats>4</beats><beat-type>4</beat-type></time></attributes>
<note><pitch><step>C</step><octave>5</octave></pitch><duration>2</duration><voice>1</voice>
<notations><fermata/><technical><fingering>5</fingering></technical></notations></note>
<note><pitch><step>D</step><octave>5</octave></pitch><duration>2</duration><voice>1</voice></note>
<backup><duration>4</duration></backup>
<note><pitch><step>C</step><octave>5</octave></pitch><duration>4</duration><voice>1</voice></note>
<backup><duration>4</duration></backup>
<note><pitch><step>C</step><octave>3</octave></pitch><duration>4</duration><voice>2</voice></note>
</measure></part></score-partwise>"""


def test_a_key_that_a_voice_is_given_twice_is_the_longer_note_with_what_is_printed_at_either() -> None:
    piece = read_score(TWO_STEMS.encode(), "two stems", "two stems")
    (twice,) = (note for note in piece.notes if note.pitch == "C5")
    assert (twice.duration, twice.finger, twice.fermata) == (4, 5, True)


def test_how_many_voices_there_are() -> None:
    assert usual_count(marks(*["72 64 55 48"] * 9, "72 67 64 55 48")) == 4
    assert usual_count(marks(*["72 64 55 48"] * 9, *["72 67 64 55 48"] * 3)) == 5
    assert usual_count(marks("72 64 55 48")) == 4
    assert usual_count(marks("72")) == 1


HYMN = "%%score (S A) (T B)\nV:S\nV:A\nV:T clef=bass\nV:B clef=bass\n"


def test_voices_that_appear_and_vanish_within_a_bar() -> None:
    """Chords while the voices move together, two voices while they do not: as hymnals print them."""
    piece = abc("V:1\n[ce][df] e2 & x2 c2 | [Gc]4 |\nV:2 clef=bass\n[C,E,][D,F,] [C,G,]2 | [C,E,]4 |\n")
    sung = {voice: [n.pitch for n in piece.notes if n.voice == voice] for voice in piece.voices}
    assert sung["soprano"] == ["E5", "F5", "E5", "C5"]
    assert sung["alto"] == ["C5", "D5", "C5", "G4"]


def test_a_voice_that_divides_in_passing_keeps_both_notes() -> None:
    """An octave in the bass of a last chord makes no fifth voice."""
    bars = "c4 | c4 | c4 | c4 | c4 | c4 |"
    bass = "C,4 | C,4 | C,4 | C,4 | C,4 | [C,,C,]4 |"
    piece = abc(f"V:S\n{bars}\nV:A\n{bars.replace('c', 'E')}\nV:T\n{bars.replace('c', 'G,')}\nV:B\n{bass}\n", HYMN)
    assert piece.voices == SATB
    assert [n.pitch for n in piece.notes if n.voice == "bass"][-2:] == ["C3", "C2"]
    assert piece.remarks == ("the bass divides in bar 6",)


def test_a_score_that_divides_for_long_has_a_fifth_voice() -> None:
    five = "".join(f"V:{n}\n{note}4 | {note}4 |\n" for n, note in enumerate(("c", "G", "E", "C", "C,"), 1))
    assert abc(five, "%%score (1 2 3) (4 5)\n").voices == ("soprano", "alto", "tenor", "voice 5", "bass")


@pytest.mark.parametrize(
    ("count", "names"), [(1, ("soprano",)), (2, ("soprano", "bass")), (3, ("soprano", "alto", "bass"))]
)
def test_fewer_voices(count: int, names: tuple[str, ...]) -> None:
    assert voice_names(count) == names


@pytest.mark.parametrize(
    ("parts", "voices"),
    [
        ("Soprano,Alto,Tenor,Bass 1,Bass 2", "soprano,alto,tenor,voice 5,bass"),
        ("Soprano,Alto,Tenor,Baritone,Bass", "soprano,alto,tenor,voice 5,bass"),
        ("Soprano 1,Soprano 2,Alto,Tenor,Baritone,Bass", "soprano,voice 5,alto,tenor,voice 6,bass"),
        ("Tenor 1,Tenor 2,Bass 1,Bass 2", "tenor,voice 5,voice 6,bass"),
        ("Soprano 1,Soprano 2,Alto", "soprano,voice 5,alto"),
    ],
)
def test_choirs_name_their_outer_parts(parts: str, voices: str) -> None:
    """The topmost soprano is the soprano, the lowest bass the bass (common practice, no source)."""
    names = parts.split(",")
    pitches = ("g", "e", "c", "G", "E", "C")
    head = "".join(f'V:{place} name="{name}"\n' for place, name in enumerate(names))
    body = "".join(f"V:{place}\n{pitches[place]}4 | {pitches[place]}4 |\n" for place in range(len(names)))
    piece = abc(body, head)
    assert piece.voices == tuple(voices.split(","))
    assert [sung(piece, voice)[0][1] for voice in piece.voices] == [79, 76, 72, 67, 64, 60][: len(names)]


def test_of_two_bass_parts_that_divide_the_lowest_line_is_the_bass() -> None:
    lines = {"Soprano": "g4|g4|g4|", "Alto": "e4|e4|e4|", "Bass 1": "[CE]4|[CE]4|[CE]4|"}
    lines["Bass 2"] = "[C,G,]4|[D,G,]4|[C,G,]4|"
    head = "".join(f'V:{place} name="{name}"\n' for place, name in enumerate(lines))
    piece = abc("".join(f"V:{place}\n{notes}\n" for place, notes in enumerate(lines.values())), head)
    assert piece.voices == ("soprano", "alto", "voice 5", "voice 6", "voice 7", "bass")
    assert [midi for _, midi in sung(piece, "bass")] == [48, 50, 48]


def test_a_descant_above_a_hymn_is_left_out_and_said_so() -> None:
    four = "".join(
        f"V:{label}\n{note}4 | {note}4 |\n" for label, note in zip("SATB", ("c", "E", "C", "C,"), strict=True)
    )
    head = '%%score D (S A) (T B)\nV:D name="Descant"\nV:S\nV:A\nV:T\nV:B\n'
    piece = abc(f"V:D\ng4 | a4 |\n{four}", head)
    assert piece.voices == SATB
    assert piece.remarks == ("left out Descant",)


def test_a_melody_above_its_harmonisation_is_left_out_and_said_so() -> None:
    """The tune alone, for the congregation, over the closed score: without names, only the notes tell."""
    voices = {"S": "c", "A": "E", "T": "C", "B": "C,"}
    four = "".join(f"V:{label}\n{note}4 | {note}4 |\n" for label, note in voices.items())
    piece = abc(f"V:M\nc4 | c4 |\n{four}", "%%score M (S A) (T B)\nV:M\nV:S\nV:A\nV:T\nV:B\n")
    assert piece.voices == SATB
    assert piece.remarks == ("left out the top part, which others double",)


def test_parts_beside_a_keyboard_are_left_out_for_no_doubling() -> None:
    """Two parts without names over two staves of one instrument (MusicXML 4.0, staves)."""

    def note(pitch: str, more: str = "") -> str:
        step, octave = pitch
        key = f"<pitch><step>{step}</step><octave>{octave}</octave></pitch>"
        return f"<note>{key}<duration>4</duration>{more}</note>"

    def part(number: int, inside: str) -> str:
        return f'<part id="P{number}"><measure number="1">{inside}</measure></part>'

    hands = "<attributes><divisions>1</divisions><staves>2</staves></attributes>"
    hands += f"{note('C4', '<staff>1</staff>')}<backup><duration>4</duration></backup>{note('C3', '<staff>2</staff>')}"
    names = "".join(f'<score-part id="P{number}"><part-name/></score-part>' for number in (1, 2, 3))
    body = part(1, note("A5")) + part(2, note("E5")) + part(3, hands)
    data = f"<score-partwise><part-list>{names}</part-list>{body}</score-partwise>"
    assert read_score(data.encode(), "t", "t").remarks == ("left out the top part and part 2 from the top",)


def test_four_parts_in_unison_are_four_voices() -> None:
    piece = abc("".join(f"V:{label}\nC4 | D4 |\n" for label in "SATB"), "V:S\nV:A\nV:T\nV:B\n")
    assert piece.voices == SATB
    assert piece.remarks == ()


def test_a_divided_part_leaves_the_others_their_names() -> None:
    """Sopranos in thirds, basses in octaves: the outer line bears the part's name (common practice, no source)."""
    parts = {"Soprano": "[ce]4 | [df]4 | [eg]4 |", "Alto": "G4 | G4 | G4 |", "Tenor": "C4 | D4 | E4 |"}
    parts["Bass"] = "[C,C,,]4 | [D,D,,]4 | [E,E,,]4 |"
    head = "".join(f'V:{name[0]} name="{name}"\n' for name in parts)
    piece = abc("".join(f"V:{name[0]}\n{notes}\n" for name, notes in parts.items()), head)
    assert piece.voices == ("soprano", "voice 5", "alto", "tenor", "voice 6", "bass")
    assert {note.pitch for note in piece.notes if note.voice == "tenor"} == {"C4", "D4", "E4"}
    assert {note.midi for note in piece.notes if note.voice == "bass"} == {36, 38, 40}


VERSE = {
    "Soprano": "G A B c | d c B2 | c B A G | A B G2 | d d e d | c B A2 | G A B c | B A G2 |",
    "Alto": "D E G G | F E D2 | E D D D | E D D2 | F G G G | E D D2 | D D D E | D D B,2 |",
    "Tenor": "B, C D E | A, G, G,2 | G, G, F, B, | C A, B,2 | A, B, C B, | G, G, F,2 | G, F, G, G, | G, F, G,2 |",
    "Bass": "G,, C, G,, C, | D, E, G,,2 | C, G,, D, G,, | C, F, G,2 | D, G, C, G, | A,, B,, D,2 | B,, D, G,, C, |"
    " D, D, G,,2 |",
}
DIVIDING = {
    "Soprano": "[Gd] [FA] [GB] [Gc] | [GB] [FA] [DG]2 |",
    "Alto": "[B,D] [B,D] [B,D] [CE] | [B,D] [A,D] [G,B,]2 |",
    "Tenor": "[G,B,] [F,A,] [G,B,] [G,C] | [G,B,] [F,A,] [G,B,]2 |",
    "Bass": "B,, [D,,D,] G,, [C,,C,] | [D,,D,] [D,,D,] [G,,,G,,]2 |",
}
"""Bars 7 and 8, where one voice divides."""
LAYOUTS = ("four parts", "two staves", "layers")


def verse(voice: str, layout: str) -> Piece:
    """Eight bars in four voices, one of which divides in the last two.

    Args:
        voice: Which one.
        layout: "four parts", "two staves" of two voices each, or four parts of which one has a second layer in bars 7
            and 8 alone.
    """
    lines = dict(VERSE)
    head = lines[voice].split("|")[:6]
    if layout == "layers":
        upper, lower = (re.sub(r"\[(\w[,']*)(\w[,']*)\]", part, DIVIDING[voice]) for part in (r"\2", r"\1"))
        bars = [f"{one} & {other}" for one, other in zip(upper.split("|")[:2], lower.split("|")[:2], strict=True)]
    else:
        bars = DIVIDING[voice].split("|")[:2]
    lines[voice] = "|".join([*head, *bars]) + "|"
    body = "".join(f"V:{name[0]}\n{notes}\n" for name, notes in lines.items())
    if layout == "two staves":
        return read_score(f"X:1\nM:4/4\nL:1/4\n%%score (S A) (T B)\nK:G\n{body}".encode(), "t.abc", "t")
    named = "".join(f'V:{name[0]} name="{name}"\n' for name in lines)
    return read_score(f"X:1\nM:4/4\nL:1/4\n{named}K:G\n{body}".encode(), "t.abc", "t")


def sung(piece: Piece, voice: str) -> list[tuple[Fraction, int]]:
    return [(note.onset, note.midi) for note in piece.notes if note.voice == voice]


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("voice", VERSE)
def test_a_voice_that_divides_for_a_while_keeps_its_row_and_leaves_the_others_theirs(voice: str, layout: str) -> None:
    """Only what it adds is a numbered voice, and the outer note bears the name (common practice, no source)."""
    piece = verse(voice, layout)
    plain = abc("".join(f"V:{name[0]}\n{notes}\n" for name, notes in VERSE.items()), "%%score (S A) (T B)\n", key="G")
    assert sorted(piece.voices) == sorted((*SATB, "voice 5"))
    for name in SATB:
        known, found = sung(plain, name), sung(piece, name)
        if name == voice.lower():
            known, found = ([note for note in notes if note[0] < 24] for notes in (known, found))
        assert found == known, name
    for onset, added in sung(piece, "voice 5"):
        assert onset >= 24
        own = next(midi for at, midi in sung(piece, voice.lower()) if at == onset)
        assert own <= added if voice == "Bass" else own >= added


def test_chords_on_two_staves_keep_the_bass_in_one_row_too() -> None:
    """The file numbers no voices; five notes sound together in five chords of bars 7 and 8."""
    chords = [
        "[DG] [EA] [GB] [Gc] | [Fd] [Ec] [DB]2 | [Ec] [DB] [DA] [DG] | [EA] [DB] [DG]2 |"
        " [DG] [DA] [DB] [Ec] | [DB] [DA] [B,G]2 |",
        "[G,,B,] [C,C] [G,,D] [C,E] | [D,A,] [E,G,] [G,,G,]2 | [C,G,] [G,,G,] [D,F,] [G,,B,] | [C,C] [F,A,] [G,B,]2 |"
        " [B,,G,] [D,,D,F,] [G,,G,] [C,,C,G,] | [D,,D,G,] [D,,D,F,] [G,,,G,,G,]2 |",
    ]
    piece = abc(f"V:1\n{chords[0]}\nV:2 clef=bass\n{chords[1]}\n", key="G")
    assert piece.voices == ("soprano", "alto", "tenor", "voice 5", "bass")
    lowest = {note.onset: min(n.midi for n in piece.notes if n.onset == note.onset) for note in piece.notes}
    assert sung(piece, "bass") == sorted(lowest.items())
    assert [onset for onset, _ in sung(piece, "voice 5")] == [17, 19, 20, 21, 22]


def test_a_tenor_that_is_printed_on_the_upper_staff_for_a_note_stays_the_tenor() -> None:
    """MusicXML 4.0: the numbers of voices are a part's, not a staff's."""
    lines = {1: "G4 A4 G4 F4 G4 E4", 2: "E4 F4 E4 D4 D4 C4", 5: "C4 C4 C4 A3 B3 G3", 6: "C3 F2 C3 D3 G2 C3"}
    inside = "<attributes><divisions>1</divisions><staves>2</staves></attributes>"
    for number, line in lines.items():
        for place, pitch in enumerate(line.split()):
            staff = 1 if number < 5 or (number, place) == (5, 1) else 2
            key = f"<pitch><step>{pitch[0]}</step><octave>{pitch[1]}</octave></pitch>"
            inside += f"<note>{key}<duration>1</duration><voice>{number}</voice><staff>{staff}</staff></note>"
        inside += "<backup><duration>6</duration></backup>"
    data = f'<score-partwise><part-list/><part id="P"><measure number="1">{inside}</measure></part></score-partwise>'
    piece = read_score(data.encode(), "c.xml", "c")
    assert piece.remarks == ()
    found = [[note.pitch for note in piece.notes if note.voice == voice] for voice in SATB]
    assert found == [line.split() for line in lines.values()]


def test_hymnals_mixture_of_chords_and_voices_is_no_division() -> None:
    """A staff in chords while its voices move together, in two voices while they do not: the alto stays one voice."""
    upper = "[DG][EA]B2 & x2 GF | [Ec]BA2 & xGFE | [DG][EA]B2 & x2 GF | [DG]3 z |"
    lower = "[G,,B,][C,C]D2 & x2 G,,2 | [C,G,]E2C & xC,2C, | [G,,B,][C,C]D2 & x2 G,,2 | [G,,B,]3 z |"
    piece = abc(f"V:1\n{upper}\nV:2 clef=bass\n{lower}\n", key="G")
    assert piece.voices == SATB
    assert [midi for _, midi in sung(piece, "alto")] == [62, 64, 67, 66, 64, 67, 66, 64, 62, 64, 67, 66, 62]


def keyboard(upper: str, lower: str, above: str = "") -> Piece:
    def part(number: int, name: str, inside: str, staves: int) -> tuple[str, str]:
        attributes = f"<attributes><divisions>1</divisions><staves>{staves}</staves></attributes>"
        return (
            f'<score-part id="P{number}"><part-name>{name}</part-name></score-part>',
            f'<part id="P{number}"><measure number="1">{attributes}{inside}</measure></part>',
        )

    def notes(text: str, staff: int) -> str:
        found = ""
        for chord in text.split():
            for place, pitch in enumerate(chord.split("+")):
                sign = "<chord/>" if place else ""
                octave = f"<step>{pitch[0]}</step><octave>{pitch[1]}</octave>"
                found += f"<note>{sign}<pitch>{octave}</pitch><duration>1</duration><staff>{staff}</staff></note>"
        return found

    back = f"<backup><duration>{len(upper.split())}</duration></backup>"
    parts = [part(1, "Voice", notes(above, 1), 1)] if above else []
    parts.append(part(2, "Piano", notes(upper, 1) + back + notes(lower, 2), 2))
    listed, bodies = ("".join(texts) for texts in zip(*parts, strict=True))
    return read_score(
        f"<score-partwise><part-list>{listed}</part-list>{bodies}</score-partwise>".encode(), "k.xml", "k"
    )


def test_keyboard_music_keeps_its_staves() -> None:
    piece = keyboard("C5+E5+G5 D5 E5+G5 C5", "C3 C3+G3 C3 C3+E3+G3")
    assert {(n.onset, n.midi): n.staff for n in piece.notes if n.midi >= 72} == {
        (n.onset, n.midi): 1 for n in piece.notes if n.midi >= 72
    }
    assert all(n.staff == 2 for n in piece.notes if n.midi < 72)
    assert len(piece.notes) == 14


def test_a_song_above_its_accompaniment_is_left_out_and_said_so() -> None:
    piece = keyboard("C5+E5 D5+F5", "C3 D3", above="G5 A5")
    assert piece.remarks == ("left out Voice",)
    assert max(n.midi for n in piece.notes) == 77


def organ(*staves: tuple[str, int, str]) -> Piece:
    """Parts of quarter notes, each with its name, how many staves it has, and a staff's notes a line."""
    names = bodies = ""
    for number, (name, count, text) in enumerate(staves):
        names += f'<score-part id="P{number}"><part-name>{name}</part-name></score-part>'
        inside = f"<attributes><divisions>1</divisions><staves>{count}</staves></attributes>"
        for staff, line in enumerate(text.splitlines(), 1):
            inside += f"<backup><duration>{len(line.split())}</duration></backup>" if staff > 1 else ""
            for pitch in line.split():
                key = f"<step>{pitch[0]}</step><octave>{pitch[1]}</octave>"
                inside += f"<note><pitch>{key}</pitch><duration>1</duration><staff>{staff}</staff></note>"
        bodies += f'<part id="P{number}"><measure number="1">{inside}</measure></part>'
    return read_score(f"<score-partwise><part-list>{names}</part-list>{bodies}</score-partwise>".encode(), "o.xml", "o")


MANUALS = "G4 A4 B4 G4\nB3 C4 D4 B3"
PEDALS = "G2 A2 G2 G2"


@pytest.mark.parametrize("name", ["Pedal", ""])
def test_an_organs_pedals_belong_to_its_manuals_as_a_part_of_their_own_too(name: str) -> None:
    """Three staves in two parts are the same music as three staves in one (common practice, no source)."""
    two, one = organ(("Manual", 2, MANUALS), (name, 1, PEDALS)), organ(("Organ", 3, f"{MANUALS}\n{PEDALS}"))
    assert two.remarks == ()
    assert (two.voices, two.notes) == (one.voices, one.notes)


def test_a_choir_of_four_beside_an_organ_with_pedals_is_still_the_choir() -> None:
    choir = [("", 1, "G4 A4 B4 G4"), ("", 1, "D4 E4 D4 D4"), ("", 1, "B3 C4 D4 B3"), ("", 1, "G3 A3 G3 G3")]
    piece = organ(*choir, ("Organ", 2, MANUALS), ("Pedal", 1, PEDALS))
    assert piece.remarks == ("left out Organ and Pedal",)
    assert piece.voices == SATB


@pytest.mark.parametrize(
    "below", [("Voice", 1, "G5 A5 B5 G5"), ("Cello", 1, PEDALS)], ids=["a singer", "an instrument"]
)
def test_what_stands_below_a_keyboard_and_is_no_pedal_is_left_out(below: tuple[str, int, str]) -> None:
    assert organ(("Piano", 2, MANUALS), below).remarks == (f"left out {below[0]}",)


HYMN_ON_TWO_STAVES = (
    "V:1\nGABc & DDGG | d2c2 & G2G2 | GABc & DDGG |",
    "V:2\nB,DDE & G,,F,,G,,C, | B,2C2 & G,,2C,2 | B,DDE & G,,F,,G,,C, |",
)


def beside_hymn(names: tuple[str, str, str], line: str = "efge | f4 | efge |", last: bool = False) -> Piece:
    """A hymn on two staves, and a part above or below it."""
    added = f"V:0\n{line}"
    voices = [*HYMN_ON_TWO_STAVES, added] if last else [added, *HYMN_ON_TWO_STAVES]
    numbers = "120" if last else "012"
    head = "".join(f'V:{number} name="{name}"\n' for number, name in zip(numbers, names, strict=True))
    return abc("\n".join(voices), head)


def of_the_hymn_alone() -> dict[str, list[tuple[Fraction, int]]]:
    piece = abc("\n".join(HYMN_ON_TWO_STAVES), "V:1\nV:2\n")
    return {voice: sung(piece, voice) for voice in SATB}


@pytest.mark.parametrize(
    "names",
    [
        ("Trumpet in Bb", "Soprano/Alto", "Tenor/Bass"),
        ("Guitar", "S. A.", "T. B."),
        ("C Instrument", "SA", "TB"),
        ("Voice", "Soprano and Alto", "Tenor and Bass"),
        ("Alto Saxophone", "Sopran & Alt", "Tenor & Bass"),
        ("Trumpet", "Women", "Men"),
        ("Violin", "", ""),
        ("Alto Recorder", "Upper Voices", "Lower Voices"),
        ("Harp", "Choir 1", "Choir 2"),
    ],
)
def test_an_instrument_beside_a_hymn_on_two_staves_is_left_out_and_said_so(names: tuple[str, str, str]) -> None:
    """Two singers share a staff, and so its name; or the name of the part says that nobody sings it (common practice,
    no source)."""
    for last in (False, True):
        piece = beside_hymn((*names[1:], names[0]) if last else names, last=last)
        assert piece.remarks == (f"left out {names[0]}",)
        assert {voice: sung(piece, voice) for voice in piece.voices} == of_the_hymn_alone()


@pytest.mark.parametrize(
    ("names", "lines", "voices"),
    [
        # A quartet of instruments is the music.
        (("Trumpet 1", "Trumpet 2", "Horn", "Trombone"), ("g4|", "e4|", "C4|", "C,4|"), SATB),
        # So are an instrument and two others whose chords are no hymn.
        (("Violin", "Voice 1", "Voice 2"), ("g4|", "[Ec]4|", "C,4|"), ("soprano", "alto", "tenor", "bass")),
        # Or whose chords are an accompaniment.
        (("Violin", "Accordion"), ("g4|", "[C,CEc]4|"), ("soprano", "alto", "tenor", "voice 5", "bass")),
        # A quartet of singers whose bass an instrument plays.
        (
            ("Soprano", "Alto", "Tenor", "Bass (Cello)"),
            ("[gb]4|", "e4|", "C4|", "C,4|"),
            ("soprano", "voice 5", *SATB[1:]),
        ),
    ],
)
def test_an_instrument_that_is_one_of_the_voices_stays(
    names: tuple[str, ...], lines: tuple[str, ...], voices: tuple[str, ...]
) -> None:
    head = "".join(f'V:{place} name="{name}"\n' for place, name in enumerate(names))
    piece = abc("\n".join(f"V:{place}\n{line * 4}" for place, line in enumerate(lines)), head)
    assert piece.remarks == ()
    assert piece.voices == voices


@pytest.mark.parametrize(
    ("names", "shared"), [(("Soprano/Alto", "Tenor", "Bass"), 0), (("Soprano", "Alto, Tenor", "Bass"), 1)]
)
def test_singers_who_share_a_staff_have_their_own_names(names: tuple[str, ...], shared: int) -> None:
    lines = {"g4|d4|": 79, "e4|G4|": 76, "C4|D4|": 60, "C,4|B,,4|": 48}
    bars = [line.split("|")[:2] * 2 for line in lines]
    staves = ["|".join(line) + "|" for line in bars]
    both = "|".join(f"{one} & {other}" for one, other in zip(bars[shared], bars[shared + 1], strict=True)) + "|"
    staves[shared : shared + 2] = [both]
    head = "".join(f'V:{place} name="{name}"\n' for place, name in enumerate(names))
    piece = abc("\n".join(f"V:{place}\n{line}" for place, line in enumerate(staves)), head)
    assert piece.voices == SATB
    assert [sung(piece, voice)[0][1] for voice in SATB] == list(lines.values())


def test_a_bass_that_divides_below_a_tenor_on_its_staff_keeps_the_lower_row() -> None:
    """The outer line bears the name (common practice, no source)."""
    lines = {"Soprano": "g4|a4|g4|a4|", "Alto": "e4|e4|d4|e4|", "Tenor, Bass": "C4 & [C,,C,]4|D4 & [D,,D,]4|" * 2}
    head = "".join(f'V:{place} name="{name}"\n' for place, name in enumerate(lines))
    piece = abc("".join(f"V:{place}\n{line}\n" for place, line in enumerate(lines.values())), head)
    assert sung(piece, "tenor") == [(0, 60), (4, 62), (8, 60), (12, 62)]
    assert sung(piece, "bass") == [(0, 36), (4, 38), (8, 36), (12, 38)]


def test_a_melody_above_singers_who_share_staves_is_still_no_instrument() -> None:
    piece = beside_hymn(("Melody", "Soprano/Alto", "Tenor/Bass"), "GABc | d2c2 | GABc |")
    assert piece.remarks == ("left out Melody",)
    assert piece.voices == SATB


@pytest.mark.parametrize(
    ("name", "voices"),
    [
        ("Soprano/Alto", "soprano alto"),
        ("Tenor\nBass", "tenor bass"),
        ("T & B", "tenor bass"),
        ("SATB", "soprano alto tenor bass"),
        ("AT", "alto tenor"),
        ("Alt und Tenor (8vb)", "alto tenor"),
        ("Soprano 1, Soprano 2", "soprano"),
        ("Soprano A", "soprano"),
        ("Mezzo-Soprano", "alto"),
        ("Bass-Baritone", "bass"),
        ("Soprano Oboe 1 Violin 1", "soprano"),
        ("Bass Clarinet", ""),
        ("Clarinet in A", ""),
        ("Descant", ""),
        ("TA", ""),
        ("", ""),
    ],
)
def test_the_singers_of_a_part_by_its_name(name: str, voices: str) -> None:
    assert voices_of(Part(name)) == tuple(voices.split())


@pytest.mark.parametrize(
    ("name", "voice"),
    [
        ("Soprano", "soprano"),
        ("S", "soprano"),
        ("Alto 2", "alto"),
        ("Tenor (8vb)", "tenor"),
        ("B.", "bass"),
        ("[BASSO]", "bass"),
        ("Discantus", "soprano"),
        ("Soprano Oboe 1 Violin 1", "soprano"),
        ("Bass Continuo", "bass"),
        ("Tenor Horn", None),
        ("Alto Recorder", None),
        ("Bass Clarinet", None),
        ("Descant", None),
        ("Violin 1", None),
        ("", None),
        ("Organ", None),
        ("Baritone", "bass"),
        ("Altus", "alto"),
    ],
)
def test_singers_by_their_names(name: str, voice: str | None) -> None:
    assert singer(Part(name)) == voice
