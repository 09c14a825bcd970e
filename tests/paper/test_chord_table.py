"""The chord table: what a pianist must be able to read from it, at any width."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.fingering.plan import HandPart, PhrasePlan, PlannedChord, PlannedNote, Side
from coach.paper.cells import first_stanza
from coach.paper.chord_table import NARROWEST, ChordTable, chord_table, chord_table_text, heading, marked
from coach.paper.lines import Part
from coach.paper.signs import ASCII, SIGNS, breadth
from coach.score.cuts import phrases_of
from coach.score.library import open_piece

Phrases = Callable[..., PhrasePlan]
WORDS = dict(zip([0, 1, 2, 3, 4, 5, 6], ["Now", "falls", "the", "e-", "ven-", "ing", "light"], strict=True))


def lines_of(table: ChordTable, label: str) -> list[str]:
    """The lines of a row, one for each system."""
    return [line.text for system in table.systems for line in system.lines if line.text[:3].strip() == label]


def parts_of(table: ChordTable, kind: str, chord: int | None = None) -> list[Part]:
    parts = [part for system in table.systems for line in system.lines for part in line.parts if part.kind == kind]
    return [part for part in parts if chord is None or part.chord == chord]


# --- One phrase, read sign by sign ---


def test_a_phrase_of_a_chorale_at_eighty_columns(evening: PhrasePlan) -> None:
    """The page as a whole, so that a change of it is seen; common practice, no source."""
    assert (
        chord_table_text(evening, syllables=WORDS)
        == """\
Phrase 1 · pickup to bar 2 · fermata

bar  0             1
     4         │   1          2          &         3          4          &
 RH  ╭────·········───╮,      ╭───────────────────────╮,      ╭────────────────
  S  A₄  5┐    │   A  5┐      B  5┐ ─────── ┐      C♯ 5┐      D  4┐ ──────── ┐
  A  E₄  2│    │   F♯ 3│      G♯ 3┘      E 1┘      A  2┘      F♯ 1┘      G♯ 1┘
  T  C♯₄ 1┘    │   C♯ 1┘     ┌D  1  ────┌──       ┌E  1      ┌A₃ 1  ────┌───
  B [A₃  1     │  [F♯ 2      └E  3  ────└──       └A₂ 5      └D  4  ────└───
 LH  ╰───────────────────────────╯,      ╰──────────────────────────────────╯,
     Now           falls      the                  e-         ven-

bar  2
     1           &          2
 RH  ──────────────────────────╮,
  S  C♯₅ 4┐ ──────── ┐      B  3┐
  A  A₄  2┘ ──────── ┘      G♯ 1┘
  T ┌E₄  1  ────┌───       ┌E  1
  B └A₂  5      └C♯ 4      └E  3
 LH  ╰─────────────────────────╯,
     ing                    light

┌└ left hand   ┐┘ right hand   , lift   · same keys again   ── hold"""
    )


def test_the_tenor_goes_from_one_bracket_to_the_other_when_the_distribution_changes(evening: PhrasePlan) -> None:
    table = chord_table(evening, 120)
    brackets = {(part.chord, part.hand): part.text for part in parts_of(table, "bracket") if part.voice == "tenor"}
    assert brackets[1, "right"] == SIGNS.right[2]
    assert brackets[2, "left"] == SIGNS.left[0]
    assert (1, "left") not in brackets
    assert (2, "right") not in brackets


def test_the_right_hand_is_bracketed_on_the_right_and_the_left_hand_on_the_left(evening: PhrasePlan) -> None:
    for system in chord_table(evening).systems:
        for line in system.lines:
            order = [(part.chord, part.kind, part.hand) for part in line.parts if part.kind in ("name", "bracket")]
            for at, (chord, kind, hand) in enumerate(order):
                if kind != "name" or hand is None:
                    continue
                bracket = order[at + 1] if hand == "right" else order[at - 1]
                assert bracket == (chord, "bracket", hand)


def test_crossing_voices_keep_their_rows_and_the_brackets_pass_each_other(phrase: Phrases) -> None:
    """The tenor crosses over the alto, the right hand takes it; the octaves say which is higher."""
    crossed = phrase(
        {
            "soprano": "E5:1:r5 D5:1:r4 C5:2:r3",
            "alto": "G4:1:r2 A3:1:l1 G4:2:r1",
            "tenor": "C4:1:l1 F4:1:r1 E4:2:l1",
            "bass": "C3:1:l5 D3:1:l4 C3:2:l5",
        }
    )
    text = chord_table_text(crossed, with_legend=False)
    assert "┌A₃ 1┊" in text
    assert "┊F₄ 1┘" in text


def test_a_hold_is_a_line_through_the_chords_it_sounds_in(evening: PhrasePlan) -> None:
    table = chord_table(evening, 120)
    assert {(part.chord, part.voice) for part in parts_of(table, "hold")} == {
        (chord, note.voice) for chord, here in enumerate(evening.chords) for note in here.notes if not note.struck
    }


def test_slurs_and_commas_show_the_groups(evening: PhrasePlan) -> None:
    right = lines_of(chord_table(evening, 120), "RH")
    assert "".join(right).count(SIGNS.lift) == 3
    assert "".join(right).count(SIGNS.slur_right[0]) == 3
    assert "".join(right).count(SIGNS.slur_right[1]) == 3
    assert SIGNS.again in right[0]


def test_a_chord_alone_in_its_group_gets_a_comma_and_no_slur(phrase: Phrases) -> None:
    table = chord_table(phrase({"soprano": "C5:1:r1 G5:1:r5"}, right_lifts=[0]))
    assert lines_of(table, "RH")[0].replace(" ", "") == "RH,,"


def test_raised_rolled_omitted_let_go_and_chosen_notes_have_their_signs(phrase: Phrases) -> None:
    wide = phrase(
        {
            "soprano": "G5:1:r5 Ab5:1:r5! G5:2:r5",
            "alto": "Eb5:1:r3 D5:1:r2~ D5:2:r2",
            "tenor": "C4:1:l1 Bb5:1:r1^ G4:2:l1",
            "bass": "C2:1:l5 Bb2:1:l4 B2:1:- B2:1:l5",
        },
        let_go={("alto", 2.0): 3.0},
    )
    text = chord_table_text(wide, 200)
    rows = {line[:3].strip(): line for line in text.splitlines()}
    assert "A♭₅  5°" in rows["S"], "with its octave: the raised tenor lies above it"
    assert "∫D" in rows["A"]
    assert rows["A"].endswith("─┤")
    assert "B♭₅↑" in rows["T"]
    assert "(B)" in rows["B"]
    for meaning in ("octave higher", "roll", "leave out", "let go", "chosen finger"):
        assert meaning in text


def test_another_finger_on_a_held_key_is_written_at_the_end_of_its_line(phrase: Phrases) -> None:
    held = phrase({"soprano": "C5:2:r4", "alto": "E4:1:r1 F4:1:r1"}, new_fingers={("soprano", 0.0): (1.0, 5)})
    assert lines_of(chord_table(held), "S")[0].endswith("─5┐")


def test_the_octave_is_written_at_the_head_of_a_system_and_after_leaps_of_a_fifth(phrase: Phrases) -> None:
    table = chord_table(phrase({"bass": "C3:1:l5 F3:1:l2 C3:1:l5 G3:1:l1"}))
    assert [part.text for part in parts_of(table, "name")] == ["C₃", "F", "C", "G₃"]


@pytest.mark.parametrize(
    ("beats", "heads"),
    [
        ("1/2 1/2 1/2 1/2", ["1", "&", "2", "&"]),
        ("3/2 1/2 1", ["1", "2&", "3"]),
        ("1/4 1/4 1/4 1/4", ["1", "e", "&", "a"]),
        ("1/3 1/3 1/3", ["1", "·", "·"]),
    ],
)
def test_beats_are_headed_as_they_are_counted(phrase: Phrases, beats: str, heads: list[str]) -> None:
    """Common practice in English, no source."""
    line = phrase({"soprano": " ".join(f"C5:{length}:r1" for length in beats.split())})
    assert [part.text for part in parts_of(chord_table(line), "beat")] == heads


# --- Headings ---


def test_the_heading_says_where_and_why_the_phrase_ends(evening: PhrasePlan) -> None:
    assert heading(evening) == ("Phrase 1 · pickup to bar 2 · fermata",)
    assert heading(replace(evening, bars=(5, 5), why_it_ends="end of the piece"), hand="left") == (
        "Phrase 1 · bar 5 · left hand alone · end of the piece",
    )
    assert heading(replace(evening, bars=(5, 7)), signs=ASCII) == ("Phrase 1 - bars 5-7 - fermata",)
    again = replace(evening, number=3, bars=(5, 7), again=1)
    assert heading(again) == ("Phrase 3 · bars 5–7 · as phrase 1 · fermata",)


# --- Fingers shown, changes, hidden ---


def test_fingers_at_changes_of_place_only(evening: PhrasePlan) -> None:
    fingers = {
        (part.chord, part.voice): part.text.strip()
        for part in parts_of(chord_table(evening, 120, fingers="changes"), "finger")
    }
    assert fingers[0, "soprano"] == "5", "the first chord shows where the hand begins"
    assert fingers[1, "tenor"] == "", "the same keys under the same fingers need no figure"
    assert any(fingers.values()), "and some figures remain"


@pytest.mark.parametrize("fingers", ["changes", "none"])
def test_hiding_fingers_moves_nothing(evening: PhrasePlan, fingers: str) -> None:
    shown = [line.text for system in chord_table(evening).systems for line in system.lines]
    hidden = [
        line.text
        for system in chord_table(evening, fingers=fingers).systems
        for line in system.lines  # type: ignore[arg-type]
    ]
    for one, other in zip(shown, hidden, strict=True):
        assert len(one) == len(other) or one[len(other) :].strip().isdigit()
        for a, b in zip(one, other, strict=False):
            assert a == b or (a.isdigit() and b == " ")


# --- One hand alone ---


def test_one_hand_alone_shows_its_notes_only(evening: PhrasePlan) -> None:
    table = chord_table(evening, hand="left")
    assert not lines_of(table, "S")
    assert not lines_of(table, "RH")
    names = [(part.chord, part.note) for part in parts_of(table, "name")]
    own = [
        (c, n) for c, chord in enumerate(evening.chords) for n, note in enumerate(chord.notes) if note.hand == "left"
    ]
    assert set(names) <= set(own)


def test_a_hand_alone_has_no_column_where_it_only_holds(evening: PhrasePlan) -> None:
    shown = {chord for system in chord_table(evening, hand="left").systems for chord in system.chords}
    struck = {i for i, chord in enumerate(evening.chords) if any(n.struck for n in chord.played_by("left"))}
    assert shown == struck


def test_a_lift_while_the_other_hand_moves_stands_before_the_next_chord_of_a_hand_alone(phrase: Phrases) -> None:
    moving = phrase(
        {"soprano": "E5:1:r5 E5:1:r5", "bass": "C3:1/2:l5 D3:1/2:l4 E3:1:l3"},
        right_lifts=[1],
    )
    assert lines_of(chord_table(moving, hand="right"), "RH")[0].count(",") == 2


# --- On screen ---


def test_marks_and_the_pointer_move_nothing(evening: PhrasePlan) -> None:
    table = chord_table(evening, marks=True, airy=True)
    seen = marked(table, {(2, 0): "x", (1, "right"): "v"}, here=2)
    for before, after in zip(table.systems, seen.systems, strict=True):
        for one, other in zip(before.lines, after.lines, strict=True):
            assert [len(part.text) for part in one.parts] == [len(part.text) for part in other.parts]
    assert [part.text for part in parts_of(seen, "pointer", 2)] == [SIGNS.here]
    assert [part.text for part in parts_of(seen, "mark", 2) if part.note == 0] == ["x"]
    assert [part.text for part in parts_of(seen, "mark", 1) if part.hand == "right" and part.note is None] == ["v"]
    assert marked(seen, {}).text == table.text


def test_every_note_has_a_place_for_a_mark(evening: PhrasePlan) -> None:
    places = {(p.chord, p.note) for p in parts_of(chord_table(evening, marks=True), "mark") if p.note is not None}
    assert places == {(c, n) for c, chord in enumerate(evening.chords) for n in range(len(chord.notes))}


# --- Piano textures ---


def test_ten_notes_have_ten_rows(phrase: Phrases) -> None:
    ten = ["C6:1:r5", "G5:1:r3", "E5:1:r2", "C5:1:r1", "G4:1:r1", "E4:1:l1", "C4:1:l1", "G3:1:l2", "E3:1:l3", "C3:1:l5"]
    table = chord_table(phrase({f"voice {n + 1}": note for n, note in enumerate(ten)}))
    labels = [line.text[:3].strip() for line in table.systems[0].lines]
    assert labels == ["bar", "", "RH", *map(str, range(1, 11)), "LH"]


def test_a_voice_with_two_notes_at_once_has_two_rows(phrase: Phrases) -> None:
    two = phrase({"soprano": "C5:2:r1"})
    chord = two.chords[0]
    third = replace(chord.notes[0], pitch="E5", midi=76, written_midi=76, finger=3)
    double = replace(two, chords=(replace(chord, notes=(third, chord.notes[0])),))
    text = chord_table_text(double)
    assert "E₅ 3" in text
    assert "C₅ 1" in text


def test_a_bar_too_long_for_a_line_is_broken_at_a_beat(phrase: Phrases) -> None:
    running = phrase({"soprano": " ".join(f"{'CDEF'[i % 4]}5:1/4:r{i % 4 + 1}" for i in range(16)), "bass": "C3:4:l5"})
    table = chord_table(running)
    assert len(table.systems) > 1
    for system in table.systems:
        assert running.chords[system.chords[0]].beat.is_integer()
    assert "(1)" in table.systems[1].lines[0].text
    assert "─C₃ 5" in table.systems[1].lines[-2].text, "the held bass is named again on the new line"


def test_words_after_a_repeat_stand_under_their_phrases() -> None:
    """BWV 113.8 in music21's corpus: the two lines that are repeated have two rows of words, and the rest of the stanza
    (Ringwaldt's "Herr Jesu Christ, du höchstes Gut", 1588) stands in the second one."""
    piece = open_piece("corpus:bach/bwv113.8")
    first, second, third, *_ = (first_stanza(piece, phrase) for phrase in phrases_of(piece))
    assert [*first.values()] == ["Herr", "Je-", "su", "Christ,", "du", "höch-", "stes", "Gut,"]
    assert [*second.values()][-2:] == ["Gna-", "den,"]
    assert [*third.values()] == ["und", "in", "mir", "hab'", "der", "Pfei-", "le", "viel,"]


def test_words_in_any_script_keep_the_columns(evening: PhrasePlan) -> None:
    """Widths: Unicode Standard Annex 11."""
    words = {0.0: "夕べ", 1.0: "ne\u0301", 2.0: "Ä-", 3.0: "strength"}
    table = chord_table(evening, syllables=words)
    for system in table.systems:
        below = system.lines[-1].text
        for chord in system.chords:
            word = words.get(evening.chords[chord].onset)
            if word is None:
                continue
            at = below.index(word[0])
            beat = next(p for p in parts_of(table, "beat", chord))
            assert breadth(below[:at]) == _column_of(system.lines[1].parts, beat)


def _column_of(parts: tuple[Part, ...], wanted: Part) -> int:
    at = 0
    for part in parts:
        if part == wanted:
            return at
        at += breadth(part.text)
    raise AssertionError("the part is not in the line")


# --- Properties ---

LETTERS = ["C", "C#", "D", "Eb", "E", "F", "F##", "G", "Abb", "A", "Bb", "B"]


@st.composite
def phrases(draw: st.DrawFn) -> PhrasePlan:
    """Any phrase, playable or not: one to ten voices that cross, rest, hold, change hands, are left out or let go."""
    voices = draw(
        st.lists(
            st.sampled_from(["soprano", "alto", "tenor", "bass", *(f"voice {n}" for n in range(5, 13))]),
            min_size=1,
            max_size=10,
            unique=True,
        )
    )
    count = draw(st.integers(1, 11))
    step = draw(st.sampled_from([0.25, 0.5, 1.0, 1 / 3]))
    metre = draw(st.sampled_from([2, 3, 4, 12]))
    side = st.sampled_from(["right", "left", None])
    sounding: dict[str, PlannedNote] = {}
    groups = {"right": 1, "left": 1}
    chords = []
    for place in range(count):
        onset = place * step
        here = []
        for voice in voices:
            what = draw(st.sampled_from(["strike", "strike", "hold", "rest"]))
            if what == "hold" and voice in sounding:
                held = replace(sounding[voice], struck=False)
                if held.hand is not None and draw(st.integers(0, 4)) == 0:
                    held = replace(held, hand=None, finger=None)
                elif held.hand is not None and draw(st.integers(0, 4)) == 0:
                    held = replace(held, finger=draw(st.integers(1, 5)))
                sounding[voice] = held
                here.append(held)
            elif what != "rest":
                key = draw(st.integers(21, 108))
                hand: Side | None = draw(side)  # type: ignore[assignment]
                note = PlannedNote(
                    voice=voice,
                    onset=onset,
                    duration=step,
                    pitch=f"{LETTERS[key % 12]}{key // 12 - 1}",
                    midi=key,
                    written_midi=key - draw(st.sampled_from([0, 0, 0, 12])),
                    struck=True,
                    hand=hand,
                    finger=draw(st.integers(1, 5)) if hand else None,
                    rolled=draw(st.booleans()),
                    chosen=draw(st.booleans()),
                )
                sounding[voice] = note
                here.append(note)
            else:
                sounding.pop(voice, None)
        here.sort(key=lambda note: -note.written_midi)
        parts: dict[str, HandPart | None] = {"right": None, "left": None}
        for name in ("right", "left"):
            if any(note.hand == name for note in here):
                after = "end" if place == count - 1 else draw(st.sampled_from(["join", "restrike", "lift"]))
                parts[name] = HandPart(after, groups[name])  # type: ignore[arg-type]
                groups[name] += after == "lift"
        chords.append(
            PlannedChord(
                onset,
                step,
                int(onset // metre),
                round(onset % metre, 4) + 1,
                "",
                tuple(here),
                parts["right"],
                parts["left"],
            )
        )
    return PhrasePlan(
        draw(st.integers(1, 99)),
        (chords[0].bar, chords[-1].bar),
        0.0,
        count * step,
        draw(st.sampled_from(["fermata", "four bars (a guess)", "the text line ends and the bass rests"])),
        0.0,
        tuple(chords),
    )


widths = st.integers(NARROWEST, 160)
hands = st.sampled_from([None, "right", "left"])
anything = settings(max_examples=60, deadline=None)


@anything
@given(phrases(), widths, hands, st.sampled_from([SIGNS, ASCII]), st.booleans(), st.booleans())
def test_no_line_is_longer_than_the_width(
    phrase: PhrasePlan, width: int, hand: Side | None, signs: object, marks: bool, airy: bool
) -> None:
    words = {chord.onset: "Al-le-lu-ia, a very long word"[: 3 + 5 * n] for n, chord in enumerate(phrase.chords)}
    table = chord_table(
        phrase,
        width,
        hand=hand,
        signs=signs,
        marks=marks,
        airy=airy,
        syllables=words,  # type: ignore[arg-type]
    )
    for line in table.text.splitlines():
        assert breadth(line) <= width
        assert line == line.rstrip()


@anything
@given(phrases(), widths)
def test_every_struck_note_and_its_finger_stand_in_their_column(phrase: PhrasePlan, width: int) -> None:
    table = chord_table(phrase, width)
    for index, chord in enumerate(phrase.chords):
        names = {part.note: part.text for part in parts_of(table, "name", index)}
        fingers = {part.note: part.text for part in parts_of(table, "finger", index)}
        for place, note in enumerate(chord.notes):
            if note.struck:
                assert names[place][0] == note.pitch[0]
            if note.struck and note.hand is not None:
                assert fingers[place] == str(note.finger)


@anything
@given(phrases(), widths)
def test_no_chord_is_lost_and_none_comes_twice(phrase: PhrasePlan, width: int) -> None:
    table = chord_table(phrase, width)
    assert [chord for system in table.systems for chord in system.chords] == list(range(len(phrase.chords)))
    assert [part.chord for part in parts_of(table, "beat")] == list(range(len(phrase.chords)))


@anything
@given(phrases(), widths, st.sampled_from(["right", "left"]))
def test_a_hand_alone_strikes_all_its_notes_and_no_other(phrase: PhrasePlan, width: int, hand: Side) -> None:
    table = chord_table(phrase, width, hand=hand)
    struck = {
        (c, n)
        for c, chord in enumerate(phrase.chords)
        for n, x in enumerate(chord.notes)
        if x.struck and x.hand == hand
    }
    assert {(part.chord, part.note) for part in parts_of(table, "finger") if part.text.strip()} >= struck
    assert all(part.hand in (hand, None) for part in parts_of(table, "name"))


@anything
@given(phrases(), widths)
def test_every_bracket_encloses_its_hands_notes(phrase: PhrasePlan, width: int) -> None:
    table = chord_table(phrase, width)
    for index, chord in enumerate(phrase.chords):
        for side in ("right", "left"):
            around = {p.voice for p in parts_of(table, "bracket", index) if p.hand == side}
            assert around >= {note.voice for note in chord.notes if note.hand == side}


@anything
@given(phrases(), st.booleans())
def test_every_character_fills_one_place(phrase: PhrasePlan, airy: bool) -> None:
    """Widths: Unicode Standard Annex 11; the plain set is ASCII (ECMA-6)."""
    for character in set(chord_table(phrase, airy=airy).text):
        assert character == "\n" or unicodedata.east_asian_width(character) not in "WF"
        assert not unicodedata.combining(character)
    assert chord_table(phrase, airy=airy, signs=ASCII).text.isascii()
