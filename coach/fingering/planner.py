"""Plans a piece: cuts each phrase into chords, searches for the least effort, and writes the plan down with reasons."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from coach.errors import CoachError
from coach.fingering.account import counts_of, weighed
from coach.fingering.choices import Fix, FixedFinger, FixedLeaving, FixedSharing, What, inside, of_note
from coach.fingering.collecting import collector_aside
from coach.fingering.finger_reasons import FingerReasons
from coach.fingering.finished import Finished, played
from coach.fingering.hand import Hands, hands_in_words, reach_in_words
from coach.fingering.handful import hand_key
from coach.fingering.leaving_reasons import LeavingReasons
from coach.fingering.pedal import pedal_marks
from coach.fingering.plan import SIDES, HandPart, PhrasePlan, Plan, PlannedChord, PlannedNote, Side
from coach.fingering.search import FREE, Choice, Options, search_of
from coach.fingering.settling import settle
from coach.fingering.sharing_reasons import SharingReasons
from coach.score.piece import Chord, Phrase, Piece, chords_of

__all__ = ["Options", "plan_phrase", "plan_piece"]

CHOSEN = {"player": "your choice", "printed": "printed in the score"}
"""The reason for what was chosen before planning, by who chose it."""

OWN, PRINTED = "a choice of yours", "a printed finger"
"""What is left out, in words."""


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
    with collector_aside():
        for phrase in phrases:
            chords = chords_of(piece, phrase)
            if chords:
                planned.append(plan_phrase(phrase, chords, hands, options))
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
        hands=hands_in_words(hands),
        phrases=tuple(planned),
        remarks=(*piece.remarks, *gathered(planned)),
    )


def plan_phrase(
    phrase: Phrase,
    chords: Sequence[Chord],
    hands: Hands | None = None,
    options: Options | None = None,
) -> PhrasePlan:
    """Plan the chords of one phrase as a whole.

    Args:
        phrase: The phrase.
        chords: Its chords, at least one.
        hands: The player's hands and keyboard.
        options: The player's wishes.
    """
    options = options or Options()
    search = search_of(chords, hands or Hands(), options)
    settled = settle(search, inside(options.choices, chords[0].onset, chords[-1].end))
    found = search.best() if settled.limits is FREE else search.limited(settled.limits)
    assert found is not None, "what is settled can be planned"
    effort, choices = found
    finished = Finished(search, choices, settled.limits)
    reasons, leaving, sharing = FingerReasons(finished), LeavingReasons(finished), SharingReasons(finished)
    fixes = {fix.what: fix for fix in settled.honoured}
    parts = {side: _parts(leaving, chords, choices, side, fixes) for side in SIDES}
    planned = [
        PlannedChord(
            onset=float(chord.onset),
            duration=float(chord.duration),
            bar=chord.bar,
            beat=chord.beat,
            distribution=choice.deal.distribution,
            notes=_notes(reasons, place, choice, fixes),
            right=parts["right"][place],
            left=parts["left"][place],
            why=CHOSEN["player"] if chosen else sharing.of_distribution(place),
            chosen=chosen,
        )
        for place, (chord, choice) in enumerate(zip(chords, choices, strict=True))
        for chosen in [bool(fixes) and FixedSharing(chord.onset, 0, 0).what in fixes]
    ]
    if options.pedal:
        planned = [replace(chord, pedal=mark) for chord, mark in zip(planned, pedal_marks(planned), strict=True)]
    return PhrasePlan(
        number=phrase.number,
        bars=(chords[0].bar, chords[-1].bar),
        onset=float(phrase.onset),
        end=float(phrase.end),
        why_it_ends=phrase.why_it_ends,
        effort=round(effort, 6),
        chords=tuple(planned),
        terms={name: round(part, 6) for name, part in weighed(counts_of(finished), search.weights).items()},
        remarks=_remarks(settled.refused),
        again=phrase.again,
    )


def _remarks(refused: Sequence[tuple[Fix, str]]) -> tuple[str, ...]:
    """A sentence for each choice that is left out."""
    return tuple(f"{PRINTED if _is_printed(fix) else OWN} is left out: {why}" for fix, why in refused)


def _is_printed(fix: Fix) -> bool:
    return isinstance(fix, FixedFinger) and fix.source == "printed"


def gathered(phrases: Sequence[PhrasePlan]) -> tuple[str, ...]:
    """What the plans of its phrases say of a whole piece: the player's choices one by one, printed fingers in one
    line."""
    remarks = [remark for phrase in phrases for remark in phrase.remarks]
    own = [remark for remark in remarks if not remark.startswith(PRINTED)]
    printed = [remark for remark in remarks if remark.startswith(PRINTED)]
    if len(printed) > 1:
        first = printed[0].removeprefix(f"{PRINTED} is left out: ")
        printed = [f"{len(printed)} printed fingers are left out, the first of them: {first}"]
    return (*own, *printed)


def _parts(
    reasons: LeavingReasons, chords: Sequence[Chord], choices: Sequence[Choice], side: Side, fixes: Mapping[What, Fix]
) -> list[HandPart | None]:
    """How a hand leaves each chord; None where it has nothing to play."""
    parts: list[HandPart | None] = []
    group = 1
    for place, (chord, choice) in enumerate(zip(chords, choices, strict=True)):
        if not choice.deal.handful(side).keys:
            parts.append(None)
            continue
        after = reasons.after(place, side)
        fix = fixes.get(FixedLeaving(chord.onset, side, "lift").what) if fixes else None
        if isinstance(fix, FixedLeaving) and after != "end":
            kind = reasons.lifting(place, side) if after == "lift" else after
            parts.append(HandPart(after, group, f"{kind}: {CHOSEN['player']}", chosen=True))
        else:
            parts.append(HandPart(after, group, reasons.of_leaving(place, side, after), chosen=fix is not None))
        group += after == "lift"
    return parts


def _notes(reasons: FingerReasons, place: int, choice: Choice, fixes: Mapping[What, Fix]) -> tuple[PlannedNote, ...]:
    fingers = {
        (side, key): finger
        for side in SIDES
        for key, finger in zip(choice.deal.handful(side).keys, choice.fingers(side), strict=True)
    }
    takes_one = bool(choice.deal.ways_out)
    notes = []
    sounding = reasons.plan.chords[place]
    fixed = [fixes.get(of_note(note, 1).what) if fixes else None for note in sounding.notes]
    # Two voices on one key have one finger: chosen for the one, it is for the other.
    sources = {
        fate.key: fix.source
        for fix, struck, fate in zip(fixed, sounding.struck, choice.deal.fates, strict=True)
        if struck and isinstance(fix, FixedFinger)
    }
    these = zip(
        sounding.notes, sounding.struck, sounding.since, sounding.lasting, choice.deal.fates, fixed, strict=True
    )
    for note_place, (note, struck, onset, duration, fate, fix) in enumerate(these):
        finger = None
        why = reasons.of_way_out(place, note_place) if fate.hand is None or takes_one else ""
        if fate.hand is not None:
            key = hand_key(fate.hand, fate.key)
            finger = fingers[fate.hand, key]
            if struck and not why:
                source = sources.get(fate.key)
                why = CHOSEN[source] if source else reasons.of_finger(place, fate.hand, key)
        notes.append(
            PlannedNote(
                voice=note.voice,
                onset=onset,
                duration=duration,
                pitch=played(note, fate),
                midi=fate.key,
                written_midi=note.midi,
                struck=struck,
                hand=fate.hand,
                finger=finger,
                why=why,
                rolled=struck and fate.hand is not None and choice.deal.handful(fate.hand).grip.rolled,
                chosen=isinstance(fix, FixedFinger) and finger == fix.finger,
            )
        )
    return tuple(notes)
