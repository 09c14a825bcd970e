"""A piece on the music stand: its phrases planned for the player's hands, and every passage of it ready to drill."""

from __future__ import annotations

from collections.abc import Container, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING

from coach.errors import CoachError
from coach.fingering.plan import SIDES, PhrasePlan, Plan, PlannedChord, Side
from coach.listening.events import MIDI_KEYS
from coach.practice.beat import beats_of, count_in
from coach.practice.changes import Trouble, span_of
from coach.practice.ladder import Shape, Step, shape_of
from coach.practice.passage import Passage, change_passage, passage, passages_of, piece_mark
from coach.practice.task import Task
from coach.score.cuts import phrases_of
from coach.score.page import exact
from coach.score.piece import Phrase, Piece, with_notes
from coach.score.plain import decorated, plain_piece

if TYPE_CHECKING:
    from coach.fingering.hand import Hands
    from coach.fingering.options import Options
    from coach.practice.log import Log

SLOWEST, FASTEST = 20.0, 240.0
"""Quarter notes a minute between which a drill can be set."""


@dataclass(frozen=True)
class Music:
    """A piece, planned.

    Attributes:
        name: What opens it again.
        piece: The piece.
        phrases: How it is cut today, in order.
        plan: Hands and fingers for all phrases.
        hands: Whose hands it is planned for.
        options: The player's wishes, without the choices and habits that are kept.
        letters: The voices that are played, by their letters; "" for all.
    """

    name: str
    piece: Piece
    phrases: tuple[Phrase, ...]
    plan: Plan
    hands: Hands
    options: Options
    letters: str = ""

    @cached_property
    def plain(self) -> Plan:
        """The plan of the plain chords; planned when it is first asked for."""
        if not decorated(self.piece, self.phrases):
            return self.plan
        return _planned(self.piece, self.phrases, self.hands, self.options, self.letters, plain=True)

    def planned_for(self, hands: Hands, options: Options) -> bool:
        """Whether it is planned for these hands and wishes."""
        return (self.hands, self.options) == (hands, options)

    @property
    def passages(self) -> tuple[Passage, ...]:
        """All that is practised of it."""
        return passages_of(self.piece, self.phrases)

    @property
    def shapes(self) -> dict[int, Shape]:
        """Shapes of the phrases, by number."""
        return {phrase.number: shape_of(phrase) for phrase in self.plan.phrases}

    @property
    def target_bpm(self) -> float:
        """Tempo to reach, in quarter notes a minute."""
        return self.piece.tempo

    def phrase_passage(self, number: int) -> Passage:
        """The passage of one phrase.

        Raises:
            CoachError: there is no such phrase.
        """
        found = [phrase for phrase in self.phrases if phrase.number == number]
        if not found:
            raise CoachError(f'"{self.piece.title}" has phrases 1 to {len(self.phrases)}, no phrase {number}')
        return passage(self.piece, "phrase", found[0], found[0])

    def change(self, home: Passage, trouble: Trouble, troubles: Sequence[Trouble]) -> Passage | None:
        """The passage of the drill of one change of chords (see `span_of`).

        Args:
            home: The passage in which the change keeps failing.
            trouble: The change.
            troubles: All of the passage.

        Returns:
            None where the plan leads the hand to no chord there.
        """
        hand = trouble.fault.hand
        chords = [chord for chord in self.plan.chords() if home.onset <= exact(chord.onset) < home.end]
        own = [chord for chord in chords if hand == "both" or chord.part(hand) is not None]
        onsets = [exact(chord.onset) for chord in own]
        if trouble.fault.onset not in onsets[1:]:
            return None
        first, last = span_of(trouble, troubles, onsets)
        end = next((exact(chord.onset) for chord in chords if chord.onset > own[last].onset), home.end)
        return change_passage(self.piece, self.phrases, onsets[first], end)

    def hands_in(self, of: Passage) -> tuple[Side, ...]:
        """The hands that have something to play in a passage."""
        chords = [chord for chord in self.plan.chords() if of.onset <= exact(chord.onset) < of.end]
        return tuple(side for side in SIDES if any(chord.played_by(side) for chord in chords))

    def planned(self, of: Passage, step: Step) -> PhrasePlan:
        """The plan of a passage as one phrase, as a step asks for it.

        Raises:
            CoachError: it has nothing to play in this step, or nothing for its hand.
        """
        source = self.plain if step.plain else self.plan
        inside = [phrase for phrase in source.phrases if of.onset < exact(phrase.end) and exact(phrase.onset) < of.end]
        if step.seam and len(inside) > 1:
            chords = [chord for one, other in pairwise(inside) for chord in (one.chords[-1], other.chords[0])]
        else:
            chords = [chord for phrase in inside for chord in phrase.chords if of.onset <= exact(chord.onset) < of.end]
        if step.voices == "outer" and not self.letters:
            chords = outer_voices(chords)
        if not chords:
            where = "the voices asked for" if self.letters else "this step"
            raise CoachError(f'{of.label} of "{self.piece.title}" has nothing to play in {where}')
        if step.hand != "both" and not any(note.hand == step.hand for chord in chords for note in chord.notes):
            raise CoachError(f'the {step.hand} hand has nothing to play in {of.label} of "{self.piece.title}"')
        return PhrasePlan(
            number=of.first,
            bars=(chords[0].bar, chords[-1].bar),
            onset=chords[0].onset if step.seam else float(of.onset),
            end=chords[-1].end if step.seam else float(of.end),
            why_it_ends=inside[-1].why_it_ends,
            effort=sum(phrase.effort for phrase in inside),
            chords=with_pedal(_from_here(chords)) if step.pedal else _from_here(chords),
        )

    def task(self, of: Passage, step: Step, keys: range = MIDI_KEYS, quarter_bpm: float | None = None) -> Task:
        """A passage to drill.

        Args:
            of: The passage.
            step: What is asked of the hands.
            keys: The keys that the instrument has.
            quarter_bpm: Tempo to play at; the step's share of the target where none is given.
        """
        plan = self.planned(of, step)
        bpm = quarter_bpm or self.target_bpm * step.tempo_fraction
        start = exact(plan.chords[0].onset)
        return Task(
            plan=plan,
            step=step,
            quarter_bpm=min(max(bpm, SLOWEST), FASTEST),
            beats=beats_of(self.piece, start, exact(plan.end)),
            count_in=count_in(self.piece, start),
            keys=keys,
        )


def open_music(name: str, hands: Hands | None = None, options: Options | None = None, letters: str = "") -> Music:
    """Open a piece and plan it, with the choices and habits kept; takes the better part of a second for a long one.

    Args:
        name: As `open_piece` takes it.
        hands: The player's hands and keyboard; two hands that reach a ninth by default.
        options: The player's other wishes.
        letters: The voices to play, by their letters: "SB"; "" for all.

    Raises:
        CoachError: it cannot be opened, or cannot be planned as wished.
    """
    from coach.fingering.hand import Hands
    from coach.fingering.options import Options
    from coach.score.library import open_piece, own_name

    hands, options = hands or Hands(), options or Options()
    name = own_name(name)
    piece = open_piece(name)
    phrases = with_notes(piece, phrases_of(piece))
    return Music(name, piece, phrases, _planned(piece, phrases, hands, options, letters), hands, options, letters)


def know_all(log: Log, marks: Container[str] | None = None) -> None:
    """Let a log know the phrases of all pieces in practice that open here.

    One that came with another machine's record, or was mended, knows only what was played; a day, and the forecast for
    a date, are made of all that is to be played.

    Args:
        marks: Of the only pieces wanted.
    """
    from coach.score.library import open_piece

    for known in log.pieces():
        if known["state"] != "in practice" or not known["source"] or not (marks is None or known["mark"] in marks):
            continue
        with suppress(CoachError):
            piece = open_piece(str(known["source"]))
            if piece_mark(piece) == known["mark"]:
                log.know(piece, with_notes(piece, phrases_of(piece)))


def planned_anew(music: Music) -> Music:
    """The same piece as the player's choices are now.

    Raises:
        CoachError: it cannot be planned as wished.
    """
    plan = _planned(music.piece, music.phrases, music.hands, music.options, music.letters)
    return replace(music, plan=plan)


def cut_anew(music: Music, phrases: Sequence[Phrase]) -> Music:
    """The same piece with other phrases; only those that changed are planned again.

    Raises:
        CoachError: a phrase cannot be planned as wished.
    """
    from coach.fingering.planner import gathered

    known = {(plan.onset, plan.end): plan for plan in music.plan.phrases}
    fresh = [phrase for phrase in phrases if (float(phrase.onset), float(phrase.end)) not in known]
    if fresh:
        planned = _planned(music.piece, fresh, music.hands, music.options, music.letters).phrases
        known |= {(plan.onset, plan.end): plan for plan in planned}
    plans = tuple(
        replace(plan, number=phrase.number, why_it_ends=phrase.why_it_ends, again=phrase.again)
        for phrase in phrases
        if (plan := known.get((float(phrase.onset), float(phrase.end))))
    )
    of_the_piece = music.plan.remarks[: len(music.plan.remarks) - len(gathered(music.plan.phrases))]
    whole = replace(music.plan, phrases=plans, remarks=(*of_the_piece, *gathered(plans)))
    return replace(music, phrases=tuple(phrases), plan=whole)


def _planned(
    piece: Piece,
    phrases: Sequence[Phrase],
    hands: Hands,
    options: Options,
    letters: str,
    *,
    plain: bool = False,
) -> Plan:
    """Plan a piece, or some voices or the plain chords of it, as the player has chosen."""
    from coach.fingering.planner import plan_piece
    from coach.practice.chosen import options_for
    from coach.score.parts import some_voices

    part = plain_piece(piece, phrases) if plain else piece
    if letters:
        part = some_voices(part, letters)
    return plan_piece(part, phrases, hands, options_for(piece, options, part=None if part is piece else part))


def with_pedal(chords: Sequence[PlannedChord]) -> tuple[PlannedChord, ...]:
    """The same chords with what the foot does: it covers the lifts that the hands have learned."""
    from coach.fingering.pedal import pedal_marks

    return tuple(replace(chord, pedal=mark) for chord, mark in zip(chords, pedal_marks(chords), strict=True))


def outer_voices(chords: Sequence[PlannedChord]) -> list[PlannedChord]:
    """Soprano and bass as planned; chords in which only inner voices move are joined to the one before."""
    voices = {note.voice for chord in chords for note in chord.notes}
    wanted = {"soprano", "bass"} if {"soprano", "bass"} <= voices else _top_and_bottom(chords)
    kept: list[PlannedChord] = []
    for chord in chords:
        notes = tuple(note for note in chord.notes if note.voice in wanted)
        if not any(note.struck for note in notes):
            if kept:
                kept[-1] = replace(kept[-1], duration=chord.end - kept[-1].onset, right=chord.right, left=chord.left)
            continue
        hands = [sum(note.hand == side for note in notes) for side in ("right", "left")]
        kept.append(
            replace(
                chord,
                notes=notes,
                distribution=f"{hands[0]}+{hands[1]}",
                right=chord.right if hands[0] else None,
                left=chord.left if hands[1] else None,
            )
        )
    return kept


def _top_and_bottom(chords: Sequence[PlannedChord]) -> set[str]:
    notes = [note for chord in chords for note in chord.notes]
    return {max(notes, key=lambda note: note.midi).voice, min(notes, key=lambda note: note.midi).voice}


def _from_here(chords: Sequence[PlannedChord]) -> tuple[PlannedChord, ...]:
    """Chords cut out of a phrase: what is held from before is struck, and the last chord ends what the hands join."""
    first = chords[0]
    notes = tuple(
        note
        if note.struck or note.hand is None
        else replace(note, struck=True, onset=first.onset, duration=note.end - first.onset)
        for note in first.notes
    )
    renamed = {note.known_by: fresh for note, fresh in zip(first.notes, notes, strict=True)}
    cut = [replace(first, notes=notes)]
    for chord in chords[1:]:
        cut.append(
            replace(
                chord,
                notes=tuple(
                    replace(note, onset=fresh.onset, duration=fresh.duration)
                    if not note.struck and (fresh := renamed.get(note.known_by))
                    else note
                    for note in chord.notes
                ),
            )
        )
    last = cut[-1]
    ended = {
        side: replace(part, after="end") if part is not None and part.after != "end" else part
        for side, part in (("right", last.right), ("left", last.left))
    }
    cut[-1] = replace(last, right=ended["right"], left=ended["left"])
    return tuple(cut)
