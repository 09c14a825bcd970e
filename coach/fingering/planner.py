"""Plans a piece: cuts each phrase into chords, searches for the least effort, and writes the plan down with reasons."""

from __future__ import annotations

from collections.abc import Sequence

from coach.errors import CoachError
from coach.fingering.hand import Hands, reach_in_words
from coach.fingering.handful import hand_key
from coach.fingering.plan import SIDES, HandPart, PhrasePlan, Plan, PlannedChord, PlannedNote, Side
from coach.fingering.reasons import Reasons, played
from coach.fingering.search import Choice, Options, Search
from coach.score.piece import Chord, Phrase, Piece, chords_of

__all__ = ["Options", "plan_phrase", "plan_piece"]


def plan_piece(
    piece: Piece, phrases: Sequence[Phrase], hands: Hands | None = None, options: Options | None = None
) -> Plan:
    """Plan some phrases of a piece, or all.

    Args:
        piece: The piece.
        phrases: The phrases to plan.
        hands: The player's hands and keyboard; two hands that reach a ninth by default.
        options: The player's wishes.

    Raises:
        CoachError: no plan meets the player's wishes.
    """
    hands = hands or Hands()
    planned = []
    for phrase in phrases:
        chords = chords_of(piece, phrase)
        if chords:
            planned.append(plan_phrase(phrase, chords, hands, options, last_bar=piece.bar_at(chords[-1].onset).number))
    if not planned:
        raise CoachError(f'"{piece.title}" has no notes to plan')
    smaller = hands.smaller
    return Plan(
        title=piece.title,
        source=piece.source,
        voices=len(piece.voices),
        span_mm=smaller.span_mm,
        reach=reach_in_words(smaller, hands.keyboard),
        reach_mm=smaller.reach_mm,
        phrases=tuple(planned),
        remarks=piece.remarks,
    )


def plan_phrase(
    phrase: Phrase,
    chords: Sequence[Chord],
    hands: Hands | None = None,
    options: Options | None = None,
    last_bar: int | None = None,
) -> PhrasePlan:
    """Plan the chords of one phrase as a whole.

    Args:
        phrase: The phrase.
        chords: Its chords, at least one.
        hands: The player's hands and keyboard.
        options: The player's wishes.
        last_bar: Printed number of the bar that the phrase ends in; its last chord's by default.
    """
    search = Search(chords, hands or Hands(), options or Options())
    effort, choices = search.best()
    reasons = Reasons(search, choices)
    parts = {side: _parts(reasons, choices, side) for side in SIDES}
    planned = tuple(
        PlannedChord(
            onset=float(chord.onset),
            duration=float(chord.duration),
            bar=chord.bar,
            beat=chord.beat,
            distribution=choice.deal.distribution,
            notes=_notes(reasons, place, chord, choice),
            right=parts["right"][place],
            left=parts["left"][place],
            why=reasons.of_distribution(place),
        )
        for place, (chord, choice) in enumerate(zip(chords, choices, strict=True))
    )
    return PhrasePlan(
        number=phrase.number,
        bars=(chords[0].bar, chords[-1].bar if last_bar is None else last_bar),
        onset=float(phrase.onset),
        end=float(phrase.end),
        why_it_ends=phrase.why_it_ends,
        effort=round(effort, 6),
        chords=planned,
    )


def _parts(reasons: Reasons, choices: Sequence[Choice], side: Side) -> list[HandPart | None]:
    """How a hand leaves each chord; None where it has nothing to play."""
    parts: list[HandPart | None] = []
    group = 1
    for place, choice in enumerate(choices):
        if not choice.deal.handful(side).keys:
            parts.append(None)
            continue
        after = reasons.after(place, side)
        parts.append(HandPart(after, group, reasons.of_leaving(place, side)))
        group += after == "lift"
    return parts


def _notes(reasons: Reasons, place: int, chord: Chord, choice: Choice) -> tuple[PlannedNote, ...]:
    fingers = {
        (side, key): finger
        for side in SIDES
        for key, finger in zip(choice.deal.handful(side).keys, choice.fingers(side), strict=True)
    }
    notes = []
    for note_place, (note, fate) in enumerate(zip(chord.notes, choice.deal.fates, strict=True)):
        struck = note.onset == chord.onset
        finger = None
        why = reasons.of_way_out(place, note_place)
        if fate.hand is not None:
            key = hand_key(fate.hand, fate.key)
            finger = fingers[fate.hand, key]
            if struck and not why:
                why = reasons.of_finger(place, fate.hand, key)
        notes.append(
            PlannedNote(
                voice=note.voice,
                onset=float(note.onset),
                duration=float(note.duration),
                pitch=played(note, fate),
                midi=fate.key,
                written_midi=note.midi,
                struck=struck,
                hand=fate.hand,
                finger=finger,
                why=why,
                rolled=struck and fate.hand is not None and choice.deal.handful(fate.hand).grip.rolled,
            )
        )
    return tuple(notes)
