"""From what was heard of a take to its entry in the log."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, tzinfo
from statistics import mean
from typing import Any

from coach.listening.events import Metronome
from coach.listening.expected import Hand
from coach.listening.findings import Findings
from coach.listening.matching import Match
from coach.listening.verdict import Verdict, judge
from coach.practice.attempt import Done
from coach.practice.entry import Entry, Fault, Part, new_entry
from coach.practice.ladder import Step
from coach.practice.music import Music
from coach.practice.passage import Passage, plan_mark
from coach.score.page import exact
from coach.score.piece import Phrase

LEAVING = frozenset({"lift", "unplanned lift", "join", "hold", "back"})
"""Faults that are heard on leaving a chord: the change that went wrong leads to the next one."""

NO_CHANGE = frozenset({"unfinished", "uneven", "clock", "apart", "smear", "pedal"})
"""Faults that say nothing of one change of chords."""


def entry_for(done: Done, music: Music, passage: Passage, began: datetime, *, chosen: bool) -> Entry:
    """A take as the log keeps it.

    Args:
        done: The take.
        music: The piece.
        passage: What was played.
        began: When its first key went down.
        chosen: The player chose the step.
    """
    step = done.task.step
    several = passage.kind in ("join", "piece") and not step.seam
    phrases = [phrase for phrase in music.phrases if passage.onset <= phrase.onset < passage.end] if several else []
    return entry_of(
        passage,
        music.piece.title,
        step,
        done.verdict,
        began=began,
        seconds=round(done.seconds, 3),
        target_bpm=music.target_bpm,
        chosen=chosen,
        peeked=done.peeked and step.fingers != "all",
        broken_off=done.broken_off,
        parts=parts_of(phrases, done.match, done.metronome, timed=step.clock == "tempo"),
        plan=plan_mark(music.planned(passage, replace(step, voices="all", plain=False))),
        source=music.name,
    )


def entry_of(
    passage: Passage,
    title: str,
    step: Step,
    verdict: Verdict,
    *,
    began: datetime,
    seconds: float,
    target_bpm: float | None,
    chosen: bool = False,
    peeked: bool = False,
    broken_off: bool = False,
    parts: tuple[Part, ...] = (),
    plan: str = "",
    source: str = "",
    zone: tzinfo | None = None,
) -> Entry:
    """The entry of a take that was just judged.

    Args:
        step: What was asked.
        began: When the first key went down.
        seconds: How long the take lasted.
        target_bpm: Tempo that the passage is meant for, quarter notes a minute (not the step's share of it).
        chosen: The player chose the step.
        peeked: The player looked at fingers that the step hides.
        broken_off: The player stopped, or began again, before the last chord.
        parts: Of a passage of several phrases, see `parts_of`.
        plan: Mark of the plan.
        source: Where the piece came from.
        zone: Where the player is; None for this computer's zone.
    """
    findings = verdict.findings
    played = [chord for chord in findings.chords if chord not in findings.not_reached]
    last = exact(findings.expected.chords[played[-1]].onset) if played else passage.onset
    return new_entry(
        passage,
        title,
        replace(step, fingers="all") if peeked else step,
        verdict.word,
        began=began,
        seconds=seconds,
        zone=zone,
        chosen=chosen,
        target_bpm=target_bpm,
        quarter_bpm=findings.pace.quarter_bpm if step.clock == "tempo" else None,
        faults=changes_that_failed(verdict),
        parts=parts,
        reached=last if broken_off or findings.not_reached else None,
        measures=measures(verdict),
        plan=plan,
        source=source,
    )


def parts_of(
    phrases: Sequence[Phrase], match: Match, metronome: Metronome | None = None, *, timed: bool = True
) -> tuple[Part, ...]:
    """How each phrase went in a take of several; phrases that were not reached are left out.

    Args:
        phrases: The phrases that the take was to cover.
        match: The take as matched.
        metronome: The clock it was played with.
        timed: As for `judge`.
    """
    parts = []
    for phrase in phrases:
        inside = [c.number for c in match.expected.chords if phrase.onset <= exact(c.onset) < phrase.end]
        if inside and any(number in match.last_visits for number in inside):
            chords = range(inside[0], inside[-1] + 1)
            parts.append(Part(phrase.onset, phrase.end, judge(match, metronome, timed=timed, chords=chords).word))
    return tuple(parts)


def changes_that_failed(verdict: Verdict) -> tuple[Fault, ...]:
    """The changes of chords in which something went wrong, in each hand."""
    expected = verdict.findings.expected
    found: dict[tuple[int, Hand], Fault] = {}
    for fault in verdict.faults:
        if fault.kind in NO_CHANGE:
            continue
        number = fault.chord + 1 if fault.kind in LEAVING else fault.chord
        if not 0 < number < len(expected.chords) or number not in verdict.findings.chords:
            continue
        chord = expected.chords[number]
        for hand in (fault.hand,) if fault.hand else expected.hands:
            found[number, hand] = Fault(exact(chord.onset), hand, chord.bar)
    return tuple(found[key] for key in sorted(found))


def measures(verdict: Verdict) -> dict[str, Any]:
    """What was measured, in short; the take's MIDI file holds all of it."""
    findings = verdict.findings
    pace = findings.pace
    return {
        "remarks": list(verdict.remarks),
        "faults": dict(Counter(fault.kind for fault in verdict.faults)),
        "notes": len(findings.notes),
        "missing": len(findings.absent),
        "extra": len(findings.extra),
        "lifts": _share([bool(lift.seen) for lift in findings.lifts if lift.planned]),
        "holds": _share([hold.kept for hold in findings.holds]),
        "spread_ms": _spread(findings),
        "unevenness": None if pace.unevenness is None else round(pace.unevenness, 4),
        "hesitations": len(pace.hesitations),
        "late_ms": None if pace.clicks is None else round(1000 * pace.clicks.mean),
        "pedal": findings.pedal.presses,
    }


def _spread(findings: Findings) -> float | None:
    spreads = [one.spread for one in findings.together if not one.rolled]
    return round(1000 * mean(spreads), 1) if spreads else None


def _share(kept: list[bool]) -> list[int]:
    """How many of how many."""
    return [sum(kept), len(kept)]
