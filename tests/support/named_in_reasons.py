"""Holds what reasons name against the plan they stand in: every note, finger and place has to be there as said."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from coach.fingering.intervals import interval_name, note_name
from coach.fingering.plan import SIDES, PlannedChord, PlannedNote, Side
from coach.score.counting import beat_words, place_words

NOTE = r"([A-G](?: double)?(?: sharp| flat)?)"

OCTAVES = r"(?: (?:an|\d) octaves? (?:up|down))?"

AT = r"(?: \(([^)]*)\))?"


Claim = Callable[[str, bool], None]
"""Takes a kind of claim and whether it holds."""


@dataclass(frozen=True)
class Told:
    """A reason and where it stands.

    Attributes:
        chords: Of its phrase.
        place: Its chord.
        side: Its hand.
        text: The reason.
        note: The note whose finger it is about; None for a lift.
    """

    chords: Sequence[PlannedChord]
    place: int
    side: Side
    text: str
    note: PlannedNote | None = None

    def outer(self, place: int) -> PlannedNote | None:
        """The hand's outer note in a chord."""
        return self._by_key(place)[-1] if self._by_key(place) else None

    def inner(self, place: int) -> PlannedNote:
        """Its innermost one."""
        return self._by_key(place)[0]

    def _by_key(self, place: int) -> list[PlannedNote]:
        played = self.chords[place].played_by(self.side) if 0 <= place < len(self.chords) else ()
        return sorted(played, key=lambda note: note.midi if self.side == "right" else -note.midi)

    def names(self, place: int, finger: int | None = None) -> set[str]:
        """Names of the hand's notes in a chord, or of those that a finger has."""
        return {note_name(n.pitch) for n in self._by_key(place) if finger is None or n.finger == finger}

    def joins(self, place: int) -> bool:
        """Whether the hand stays on the keys out of a chord."""
        part = self.chords[place].part(self.side)
        return part is not None and part.after in ("join", "restrike")

    def places(self, words: str | None, *near: int) -> list[int]:
        """The chords that a place in brackets may mean; those near by where there is none."""
        if not words:
            return [place for place in near if 0 <= place < len(self.chords)]
        bar = self.chords[self.place].bar
        return [
            place
            for place, chord in enumerate(self.chords)
            if words == (beat_words(chord.beat) if chord.bar == bar else place_words(chord.bar, chord.beat))
        ]


def told(chords: Sequence[PlannedChord]) -> Iterator[Told]:
    """All reasons for fingers and lifts of a planned phrase."""
    for place, chord in enumerate(chords):
        for side in SIDES:
            part = chord.part(side)
            if part is not None and part.after == "lift":
                yield Told(chords, place, side, part.why)
            for note in chord.played_by(side):
                if note.struck:
                    yield Told(chords, place, side, note.why, note)


def untrue(one: Told, seen: Counter[str]) -> list[str]:
    """The claims of a reason that do not hold; each kind of claim that was looked at is counted in `seen`."""
    wrong: list[str] = []

    def claim(kind: str, holds: bool) -> None:
        seen[kind] += 1
        if not holds:
            chord = one.chords[one.place]
            wrong.append(f"bar {chord.bar}, beat {chord.beat}, {one.side}: {kind}: {one.text}")

    (_of_lift if one.note is None else _of_finger)(one, one.text, one.place, claim)
    return wrong


def _is_outer(one: Told, name: str, place: int) -> bool:
    outer = one.outer(place)
    return outer is not None and note_name(outer.pitch) == name


def _of_lift(one: Told, text: str, at: int, claim: Claim) -> None:
    lifts = re.search(r"(?:here or|lifts) before (.*?)(?: is alike)?$", text)
    for name, words in re.findall(NOTE + AT, lifts[1] if lifts else ""):
        claim("or before", any(_is_outer(one, name, to) and one.joins(to - 1) for to in one.places(words, at + 2)))
    if found := re.search(r"here or one chord (earlier|later)", text):
        claim("one chord", one.joins(at + (1 if found[1] == "later" else -1)))
    for low, high, words in re.findall(rf"(?:stretch|cramp) \d-\d on {NOTE} and {NOTE}{AT}", text):
        claim("stretch on", any({low, high} <= one.names(to) for to in one.places(words, at, at + 1)))
    for here, there, words in re.findall(
        rf"(?:stretch|cramp|cross) \d-\d from {NOTE} to (?:the )?{NOTE}{OCTAVES}{AT}", text
    ):
        claim(
            "from to",
            any(_is_outer(one, there, to) and _is_outer(one, here, to - 1) for to in one.places(words, at + 1)),
        )
    for name, words in re.findall(rf"would put the (?:thumb|little finger) on {NOTE}{AT}", text):
        claim("put on", any(name in one.names(to) for to in one.places(words, at, at + 1)))
    for here, there, words in re.findall(rf"have to move from {NOTE} to (?:the )?{NOTE}{OCTAVES}{AT}", text):
        claim(
            "have to move",
            any(there in one.names(to) and here in one.names(to - 1) for to in one.places(words, at + 1)),
        )
    if found := re.search(rf"the hand moves from {NOTE} to (?:the )?{NOTE}", text):
        claim("the hand moves", _is_outer(one, found[1], at) and _is_outer(one, found[2], at + 1))
    if found := re.search(rf"the hand follows {NOTE} to (?:the )?{NOTE}", text):
        inner = [note_name(one.inner(there).pitch) for there in (at, at + 1)]
        claim("the hand follows", inner == [found[1], found[2]])
    if found := re.search(rf"makes ready for {NOTE}", text):
        names = {note_name(note.pitch) for chord in one.chords[at:] for note in chord.notes}
        claim("makes ready", found[1] in names)


def _of_finger(one: Told, text: str, at: int, claim: Claim) -> None:
    assert one.note is not None
    if found := re.search(rf"(?:free|in reach) while (\d) holds {NOTE}$", text):
        held = one.outer(at - 1)
        claim("while it holds", held is not None and (str(held.finger), note_name(held.pitch)) == found.groups())
        claim("while it joins", one.joins(at - 1))
    if found := re.search(rf"^connects (\d)-(\d){AT}", text):
        claim(
            "connects",
            any(
                one.joins(to - 1)
                and tuple(f"{n.finger}" for n in (one.outer(to - 1), one.outer(to)) if n) == found.groups()[:2]
                for to in one.places(found[3], at, at + 1)
                if to
            ),
        )
    if found := re.search(r"^as good as (\d)$", text):
        claim("as good as", int(found[1]) != one.note.finger)
    if found := re.search(rf"leaves (\d) for {NOTE}, which connects{AT}", text):
        near = one.places(found[3], at, at + 1)
        claim(
            "leaves for",
            any(
                one.joins(to - 1)
                and any(_is_outer(one, found[2], w) and found[2] in one.names(w, int(found[1])) for w in (to - 1, to))
                for to in near
                if to
            ),
        )
    if found := re.search(rf"so that (\d) can go to {NOTE}{AT}", text):
        claim(
            "can go to",
            any(
                one.joins(to - 1) and found[2] in one.names(to, int(found[1]))
                for to in one.places(found[3], at + 1, at)
            ),
        )
    if found := re.search(rf"leaves (\d) for {NOTE}, so that", text):
        claim("leaves it for", any(found[2] in one.names(to, int(found[1])) for to in range(len(one.chords))))
    if found := re.search(rf"leaves (\d) for {NOTE} while (\d) holds {NOTE}{AT}", text):
        claim(
            "leaves while",
            any(
                found[2] in one.names(to, int(found[1]))
                and found[4] in one.names(to - 1, int(found[3]))
                and one.joins(to - 1)
                for to in one.places(found[5], at, at + 1)
            ),
        )
    if found := re.search(rf"so that {NOTE} keeps its (\d){AT}", text):
        claim(
            "keeps its",
            any(found[1] in one.names(to, int(found[2])) for to in one.places(found[3], at - 1, at, at + 1)),
        )
    if found := re.search(rf"keeps the (?:thumb|little finger) off {NOTE}{AT}", text):
        claim("off", any(found[1] in one.names(to) for to in one.places(found[2], at)))
    if found := re.search(rf"room: \d-\d on {NOTE} and {NOTE} would be cramped{AT}", text):
        claim("cramped", any({found[1], found[2]} <= one.names(to) for to in one.places(found[3], at)))
    if text.startswith("stays on its key"):
        claim(
            "stays",
            (one.note.midi, one.note.finger) in {(n.midi, n.finger) for n in one.chords[at - 1].played_by(one.side)},
        )
    if found := re.search(rf"fingers change towards the thumb{AT}", text):
        near = one.places(found[1], at - 1, at)
        again = [
            (before.finger, after.finger)
            for to in near
            if to + 1 < len(one.chords)
            for before in one.chords[to].played_by(one.side)
            for after in one.chords[to + 1].played_by(one.side)
            if before.midi == after.midi and after.struck
        ]
        claim("towards the thumb", any((before or 0) > (after or 0) for before, after in again))
    if found := re.search(r"the hand spans an? (\w+)", text):
        outer = one.outer(at)
        claim("spans", outer is not None and interval_name(one.inner(at).pitch, outer.pitch) == found[1])
