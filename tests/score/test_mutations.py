"""Two thousand damaged files: never a traceback, never a hang, never a changed shelf.

Real files of every format are damaged with a fixed seed. `tests/bench/fuzz_readings.py` does the same with other seeds
and whole chorales for as long as one likes.
"""

from __future__ import annotations

import contextlib
import faulthandler
import io
import random
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import mido
import pytest
from engraving import as_kern, as_mei, closed_score
from mutations import mutated

from coach import places
from coach.errors import CoachError
from coach.score.cards import cards
from coach.score.page import complete
from coach.score.phrases import find_phrases
from coach.score.piece import Piece
from coach.score.reading import read_page, read_score
from coach.score.shelf import take_in
from coach.score.voices import piece_of

SEED = 20_251
MUTATIONS = 2_000
HUNG = 60
"""Seconds after which one small file counts as a hang and the whole run is ended; they take milliseconds."""


def first_bars(piece: Piece, count: int = 3) -> Piece:
    """The beginning of a piece: real music, quickly read."""
    bars = piece.bars[:count]
    notes = tuple(note for note in piece.notes if note.end <= bars[-1].end)
    return replace(piece, bars=bars, notes=notes)


@pytest.fixture(scope="module")
def sources(corpus: Callable[[str], Piece], hymns: Path) -> dict[str, bytes]:
    """A file of every format the coach reads."""
    chorale = first_bars(corpus("bach/bwv352"))
    xml = closed_score(chorale)
    archive = io.BytesIO()
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as out:
        out.writestr("META-INF/container.xml", '<container><rootfile full-path="a.xml"/></container>')
        out.writestr("a.xml", xml)
    stored = io.BytesIO()
    with zipfile.ZipFile(stored, "w", zipfile.ZIP_STORED) as out:
        out.writestr("a.xml", xml)
    hymn = (hymns / "rejoice-my-heart-be-glad-and-sing-ich-singe-dir-mit-herz.abc").read_bytes()
    return {
        "xml": xml.encode(),
        "mxl": archive.getvalue(),
        "stored mxl": stored.getvalue(),
        "abc": hymn[:2_600],
        "krn": as_kern(chorale).encode(),
        "mei": as_mei(chorale),
        "mid": as_midi(chorale),
    }


def as_midi(piece: Piece) -> bytes:
    file = mido.MidiFile()
    for channel, voice in enumerate(piece.voices):
        events = []
        for note in (note for note in piece.notes if note.voice == voice):
            events += [(int(note.onset * 480), 1, note.midi), (int(note.end * 480), 0, note.midi)]
        track, now = mido.MidiTrack([mido.MetaMessage("time_signature", numerator=3, denominator=4)]), 0
        for tick, on, key in sorted(events):
            track.append(mido.Message("note_on", note=key, velocity=64 * on, time=tick - now, channel=channel))
            now = tick
        file.tracks.append(track)
    stream = io.BytesIO()
    file.save(file=stream)
    return stream.getvalue()


@contextlib.contextmanager
def no_hang() -> Iterator[None]:
    faulthandler.dump_traceback_later(HUNG, exit=True)
    try:
        yield
    finally:
        faulthandler.cancel_dump_traceback_later()


def test_the_files_are_sound_before_they_are_damaged(sources: dict[str, bytes]) -> None:
    for name, data in sources.items():
        assert len(read_score(data, name, name).notes) > 20


def test_no_damaged_file_gives_a_traceback_or_hangs(sources: dict[str, bytes]) -> None:
    """Goes around `read_score`'s last net: the readers themselves must refuse with their own sentences."""
    chance = random.Random(SEED)
    names = list(sources)
    outcomes: Counter[str] = Counter()
    for number in range(MUTATIONS):
        name = names[number % len(names)]
        data = mutated(sources[name], chance)
        with no_hang():
            try:
                page = read_page(data, "damaged")
                complete(page, "damaged")
                piece = piece_of(page, "damaged", "damaged")
            except CoachError as error:
                outcomes["refused"] += 1
                sentence = str(error)
                assert sentence.count("\n") == 0, (number, name)
                assert '"damaged' in sentence, (number, name)
                continue
            outcomes["read"] += 1
            assert piece.notes
            assert all(21 <= note.midi <= 108 and note.duration > 0 for note in piece.notes)
            phrases = find_phrases(piece)
            assert phrases[-1].end == piece.end
            assert Piece.from_json(piece.to_json()) == piece
    # Both happen often: damage in a title or a length is no reason to refuse, a lost bracket is.
    assert min(outcomes["read"], outcomes["refused"]) > MUTATIONS / 8, outcomes


def test_no_damaged_file_changes_what_is_on_the_shelf(sources: dict[str, bytes], tmp_path: Path) -> None:
    good = tmp_path / "good.abc"
    good.write_text("X:1\nT:Good\nM:4/4\nL:1/4\nK:C\nC D E F |\n")
    assert [taken.outcome for taken in take_in([str(good)])] == ["added"]
    (shelved,) = places.shelf().iterdir()
    before = shelved.read_bytes()
    chance = random.Random(SEED)
    names = list(sources)
    damaged = []
    for number in range(140):
        path = tmp_path / f"{number}.bin"
        path.write_bytes(mutated(sources[names[number % len(names)]], chance))
        damaged.append(str(path))
    outcomes = Counter(taken.outcome for taken in take_in(damaged))
    assert sum(outcomes.values()) >= 140
    assert outcomes["failed"]
    assert shelved.read_bytes() == before
    own = [card for card in cards() if not card.shipped]
    assert len(own) == 1 + outcomes["added"] == len(list(places.shelf().iterdir()))
    assert not [card.problem for card in own if card.problem]
