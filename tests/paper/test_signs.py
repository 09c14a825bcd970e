"""Names of notes and widths of characters."""

from __future__ import annotations

import unicodedata
from dataclasses import astuple

import pytest

from coach.errors import CoachError
from coach.paper.signs import (
    ASCII,
    SIGNS,
    breadth,
    in_its_place,
    letter_step,
    note_name,
    octave_figure,
    plain,
    signs_for,
)


@pytest.mark.parametrize(
    ("pitch", "name", "octave", "ascii_name"),
    [("C4", "C", "₄", "C"), ("Bb3", "B♭", "₃", "Bb"), ("F##5", "F♯♯", "₅", "F##"), ("Ebb0", "E♭♭", "₀", "Ebb")],
)
def test_names_have_real_accidentals(pitch: str, name: str, octave: str, ascii_name: str) -> None:
    assert note_name(pitch) == name
    assert octave_figure(pitch) == octave
    assert note_name(pitch, ASCII) == ascii_name


@pytest.mark.parametrize("pitch", ["H4", "C", "C#b4", "c4", ""])
def test_what_is_no_note_is_refused(pitch: str) -> None:
    with pytest.raises(CoachError, match="not the name of a note"):
        note_name(pitch)


def test_letters_count_steps_of_the_staff_whatever_the_accidental() -> None:
    assert letter_step("C5") - letter_step("B4") == 1
    assert letter_step("Cb5") - letter_step("B#4") == 1
    assert letter_step("A4") - letter_step("A3") == 7


def test_every_sign_is_one_place_wide() -> None:
    """Unicode Standard Annex 11."""
    for signs in (SIGNS, ASCII):
        for sign in astuple(signs):
            for character in "".join(sign):
                assert unicodedata.east_asian_width(character) not in "WF"
                assert breadth(character) == 1
    assert all("".join(sign).isascii() for sign in astuple(ASCII))


def test_words_lose_their_accents_in_plain_text() -> None:
    assert plain("Größe né – “zum”…") == 'Grosse ne - "zum"...'
    assert plain("夕").isascii()


@pytest.mark.parametrize(("encoding", "full"), [("utf-8", True), ("utf-16", True), ("ascii", False), ("cp437", False)])
def test_the_full_set_where_an_encoding_has_all_of_it(encoding: str, full: bool) -> None:
    """Code page 437 has the lines of boxes and no accidentals (Unicode Consortium, CP437.TXT)."""
    assert (signs_for(encoding) is SIGNS) == full


@pytest.mark.parametrize("encoding", [None, "no such encoding"])
def test_the_plain_set_where_nothing_is_known_of_the_encoding(encoding: str | None) -> None:
    assert signs_for(encoding) is ASCII


def test_plain_signs_fill_the_places_of_the_full_ones() -> None:
    """On a screen a likeness of another width would shift all that follows."""
    drawn = "".join(sign for field in astuple(SIGNS) for sign in field) + "•×○█▉▏′“…ß中文é🎹"
    for character in drawn:
        plainly = in_its_place(character)
        assert plainly.isascii()
        assert breadth(plainly) == breadth(character), character
    assert in_its_place("G₄ ♯┐▸•") == "G4 #]>+"
