"""What a player sits down to, and what is asked for in it."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from intonation import INTONATION
from practising import entry, evening, learn

from coach.errors import CoachError
from coach.practice.entry import Fault
from coach.practice.ladder import LEFT, MEMORY, RIGHT, TOGETHER, Step
from coach.practice.log import Log
from coach.practice.music import Music, open_music
from coach.practice.work import Item, asked_for, opening, phrases_from

BASS_COMES_LATER = """X:1
T:Bass comes later
M:4/4
L:1/4
V:1
V:2
K:C
[V:1] CDEF | !fermata!G4 | GFED | !fermata!C4 |]
[V:2] z4 | z4 | G,F,E,D, | C,4 |]
"""
"""Two phrases; in the first the bass rests."""


@pytest.fixture
def item(log: Log, music: Music) -> Item:
    """Phrase 1, which the log knows."""
    return Item(music.name, log.know(music.piece, music.phrases, music.shapes)[0])


def test_all_phrases_of_a_piece_are_gone_through_from_one_on(music: Music) -> None:
    items, place = phrases_from(music, 3)
    assert ([item.passage.first for item in items], place) == ([1, 2, 3, 4], 2)
    with pytest.raises(CoachError, match="phrases 1 to 4"):
        phrases_from(music, 5)


def test_the_ladder_says_what_is_asked_for_and_its_first_step_where_nothing_was_kept(
    log: Log, music: Music, item: Item
) -> None:
    learn(log, item.passage)
    assert asked_for(log, music, item) == (item.passage, MEMORY)
    assert asked_for(None, music, item) == (item.passage, RIGHT)


@pytest.mark.parametrize(("letters", "step"), [("B", LEFT), ("S", RIGHT), ("SB", RIGHT)])
def test_some_voices_begin_with_a_step_of_their_own(log: Log, music: Music, letters: str, step: Step) -> None:
    """The ladder begins with the right hand; a bass alone has nothing for it."""
    log.know(music.piece, music.phrases, music.shapes)
    part = open_music(music.name, letters=letters)
    items, place = phrases_from(part, 1)
    assert asked_for(log, part, items[place]) == (items[place].passage, step)
    assert asked_for(None, part, items[place]) == (items[place].passage, step)


def test_some_voices_take_up_the_step_that_the_ladder_has_come_to(log: Log, music: Music, item: Item) -> None:
    learn(log, item.passage)
    part = open_music(music.name, letters="B")
    assert asked_for(log, part, replace(item, letters="B"))[1] == MEMORY


def test_a_phrase_in_which_all_voices_that_are_played_rest_is_left_out(tmp_path: Path) -> None:
    tune = tmp_path / "later.abc"
    tune.write_text(BASS_COMES_LATER)
    part = open_music(str(tune), letters="B")
    items, place = phrases_from(part, None)
    assert ([item.passage.first for item in items], place) == ([2], 0)
    assert phrases_from(part, 2) == (items, 0)
    with pytest.raises(CoachError, match='phrase 1 of "Bass comes later" has nothing to play in the voices asked for'):
        phrases_from(part, 1)


def test_a_piece_is_begun_where_the_hand_has_something_to_play(tmp_path: Path) -> None:
    tune = tmp_path / "intonation.abc"
    tune.write_text(INTONATION)
    music = open_music(str(tune))
    items, place = phrases_from(music, None, LEFT)
    assert items[place].passage.first == 2


def test_the_hands_of_a_passage_are_those_with_notes(tmp_path: Path) -> None:
    tune = tmp_path / "intonation.abc"
    tune.write_text(INTONATION)
    music = open_music(str(tune))
    assert [music.hands_in(music.phrase_passage(number)) for number in (1, 2)] == [("right",), ("right", "left")]


def test_a_line_for_a_change_begins_with_the_change_by_itself(log: Log, music: Music, item: Item) -> None:
    chord = music.plan.phrases[0].chords[4]
    fault = Fault(Fraction(chord.onset), "left", chord.bar)
    for minute in range(3):
        log.record(entry(item.passage, TOGETHER, "weak", at=evening(0, minute), faults=(fault,)))
    passage, step = asked_for(log, music, replace(item, change=fault))
    assert (passage.kind, step) == ("change", LEFT)
    assert asked_for(log, music, item)[0] == item.passage


def test_a_passage_of_another_cut_is_not_in_the_piece(music: Music, item: Item) -> None:
    assert item.is_in(music)
    assert not replace(item, passage=replace(item.passage, end=item.passage.end - 1)).is_in(music)


def test_a_passage_opens_with_the_keys_of_its_first_chord(music: Music, item: Item) -> None:
    keys, pitches = opening(music, item.passage, TOGETHER, range(21, 109))
    first = music.plan.phrases[0].chords[0]
    assert keys == {note.midi for note in first.notes}
    assert sorted(pitches) == sorted(note.pitch for note in first.notes)
