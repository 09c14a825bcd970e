"""Intervals and pitches in words."""

from __future__ import annotations

import pytest

from coach.fingering.intervals import interval_name, note_name, octave_up, with_article


@pytest.mark.parametrize(
    ("pitch", "other", "name"),
    [
        ("C4", "C4", "unison"),
        ("C4", "D4", "second"),
        ("E4", "C4", "third"),
        ("F3", "B3", "fourth"),
        ("Cb4", "F4", "fourth"),
        ("F#3", "C4", "fifth"),
        ("C3", "C4", "octave"),
        ("B3", "C4", "second"),
        ("G2", "Bb3", "tenth"),
        ("C3", "E4", "tenth"),
        ("D2", "D4", "double octave"),
        ("C2", "E4", "17th"),
        ("C2", "B4", "21st"),
        ("C2", "C5", "22nd"),
        ("C2", "D5", "23rd"),
    ],
)
def test_an_interval_goes_by_its_letters(pitch: str, other: str, name: str) -> None:
    assert interval_name(pitch, other) == name
    assert interval_name(other, pitch) == name


@pytest.mark.parametrize(
    ("name", "text"),
    [("tenth", "a tenth"), ("octave", "an octave"), ("eleventh", "an eleventh"), ("unison", "a unison")],
)
def test_articles(name: str, text: str) -> None:
    assert with_article(name) == text


@pytest.mark.parametrize(("name", "text"), [("18th", "an 18th"), ("17th", "a 17th")])
def test_articles_before_numbers(name: str, text: str) -> None:
    """ "an eighteenth" """
    assert with_article(name) == text


@pytest.mark.parametrize(
    ("pitch", "name"),
    [("C4", "C"), ("Bb3", "B flat"), ("F#5", "F sharp"), ("F##4", "F double sharp"), ("Ebb-1", "E double flat")],
)
def test_notes_have_the_names_that_musicians_say(pitch: str, name: str) -> None:
    assert note_name(pitch) == name


@pytest.mark.parametrize(("pitch", "higher"), [("C4", "C5"), ("Bb-1", "Bb0"), ("F##3", "F##4")])
def test_an_octave_up(pitch: str, higher: str) -> None:
    assert octave_up(pitch) == higher


@pytest.mark.parametrize("pitch", ["", "H4", "C", "4", "c4", "C4 ", "C#b4x"])
def test_what_is_no_pitch_is_refused(pitch: str) -> None:
    with pytest.raises(ValueError, match="no pitch"):
        note_name(pitch)
