"""The JSON form of what was heard in a phrase."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from coach.listening.expected import Expected
from coach.listening.findings import Findings, Pedal
from coach.listening.fingers import RuledOut
from coach.listening.matching import Match
from coach.listening.pace import Pace
from coach.listening.wording import milliseconds, place, voice
from coach.listing import listed


def as_json(findings: Findings, note_ons: Sequence[int]) -> dict[str, Any]:
    """Everything but the verdict; times in milliseconds, onsets in quarter notes, presses by their note-ons.

    Fields beyond the contract: `wrong` is the index of the press that was probably meant for a note, `again` lists
    earlier presses of notes that the player came back to.

    Args:
        findings: What was heard.
        note_ons: For each press that the findings number, its index among the note-ons of the whole take.
    """
    return {
        "notes": _notes(findings, note_ons),
        "extra": sorted(note_ons[press] for _, press in findings.extra),
        "lifts": _lifts(findings),
        "holds": _holds(findings),
        "smears": [
            {
                "onset": findings.expected.notes[smear.note].onset,
                "voice": findings.expected.notes[smear.note].voice,
                "into_onset": findings.expected.chords[smear.into].onset,
                "over_ms": milliseconds(smear.over),
            }
            for smear in findings.smears
        ],
        "chords": _chords(findings),
        "left_ahead_ms": milliseconds(findings.left_ahead) if findings.left_ahead is not None else None,
        "tempo": tempo_json(findings.pace, findings.expected),
        "pedal": pedal_json(findings.pedal),
        "fingers": _fingers(findings),
        "jumps": [
            {"from_onset": findings.expected.chords[left].onset, "to_onset": findings.expected.chords[came].onset}
            for left, came in findings.jumps
        ],
    }


def _notes(findings: Findings, note_ons: Sequence[int]) -> list[dict[str, Any]]:
    match = findings.match
    presses: dict[int, list[int]] = {}
    for visit in match.visits:
        for number, struck in visit.played:
            presses.setdefault(number, []).append(struck)
    rows = []
    for note in findings.notes:
        press = match.press_of(note)
        row: dict[str, Any] = {
            "onset": note.onset,
            "midi": note.midi,
            "voice": note.voice,
            "hand": note.hand,
            "played": note_ons[press] if press is not None else None,
            "late_ms": milliseconds(lateness(match, press)) if press is not None else None,
        }
        for other in findings.expected.sharing(note):
            if other.number in findings.meant:
                row["wrong"] = note_ons[findings.meant[other.number]]
        if len(presses.get(note.number, [])) > 1:
            row["again"] = [note_ons[press] for press in presses[note.number][:-1]]
        rows.append(row)
    return rows


def lateness(match: Match, press: int) -> float:
    """Seconds that a press came after the middle of its chord, negative when before."""
    return match.strokes[press].press - match.middle(match.visit_of[press])


def _lifts(findings: Findings) -> list[dict[str, Any]]:
    return [
        {
            "after_onset": findings.expected.chords[lift.chord].leaving[lift.hand].onset,
            "hand": lift.hand,
            "planned": lift.planned,
            "seen": lift.seen,
            "gap_ms": milliseconds(lift.gap) if lift.gap is not None else None,
            "after": lift.after,
            "joined": lift.joined,
            "pedal": lift.pedal,
        }
        for lift in findings.lifts
    ]


def _holds(findings: Findings) -> list[dict[str, Any]]:
    return [
        {
            "onset": findings.expected.notes[hold.note].onset,
            "voice": findings.expected.notes[hold.note].voice,
            "kept": hold.kept,
            "short_ms": milliseconds(hold.short),
        }
        for hold in findings.holds
    ]


def _chords(findings: Findings) -> list[dict[str, Any]]:
    notes = findings.expected.notes
    return [
        {
            "onset": findings.expected.chords[one.chord].onset,
            "spread_ms": milliseconds(one.spread),
            "led": notes[one.first].voice if one.first is not None else None,
            "lagged": notes[one.last].voice if one.last is not None else None,
            "rolled": one.rolled,
        }
        for one in findings.together
    ]


def tempo_json(pace: Pace, expected: Expected) -> dict[str, Any]:
    """Tempo and steadiness."""
    form: dict[str, Any] = {
        "quarter_bpm": pace.quarter_bpm,
        "unevenness": round(pace.unevenness, 4) if pace.unevenness is not None else None,
        "hesitations": [
            {"onset": expected.chords[wait.chord].onset, "waited_ms": milliseconds(wait.waited)}
            for wait in pace.hesitations
        ],
    }
    if pace.clicks is not None:
        form["metronome"] = {
            "quarter_bpm": pace.clicks.quarter_bpm,
            "mean_ms": milliseconds(pace.clicks.mean),
            "spread_ms": milliseconds(pace.clicks.spread),
        }
    return form


def pedal_json(pedal: Pedal) -> dict[str, Any]:
    """What the pedal did."""
    return {"presses": pedal.presses, "down_share": round(pedal.share, 3)}


def _fingers(findings: Findings) -> list[dict[str, Any]]:
    notes = findings.expected.notes
    return [
        {
            "onset": notes[one.note].onset,
            "voice": notes[one.note].voice,
            "finger": notes[one.note].finger,
            "contradicted_by": finger_sentence(findings, one),
        }
        for one in findings.fingers
    ]


def finger_sentence(findings: Findings, one: RuledOut) -> str:
    """Why a planned finger cannot have been used."""
    note, before = findings.expected.notes[one.note], findings.expected.notes[one.before]
    voices = listed(sorted({voice(before), voice(note)}, key=[voice(before), voice(note)].index))
    return (
        f"{place(findings.expected, note.chord)}: you joined {before.pitch} to {note.pitch} in {voices}: "
        f"the planned {before.finger}-{note.finger} cannot do that"
    )
