"""What a player sits down to, and what is asked for in it."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from practising import entry, evening, learn

from coach.errors import CoachError
from coach.practice.entry import Fault
from coach.practice.ladder import LEFT, MEMORY, RIGHT, TOGETHER
from coach.practice.log import Log
from coach.practice.music import Music
from coach.practice.work import Item, asked_for, opening, phrases_from


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
