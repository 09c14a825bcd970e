"""How a phrase was played, in one word and at most three remarks.

How the word is reached: every fault has a weight (`faults.WEIGHTS`). The weights of faults of notes (wrong, missing
and extra notes, going back, waiting, stopping) are summed and divided by the number of notes; the weights of faults
of touch (lifts, joins, holds, smears, togetherness, evenness) are summed for each hand and divided by the number of
chord changes of that hand, so that what one hand does neither hides nor worsens the other; and, those included that
both hands had a part in, they are divided by the changes of both. Each share gives a word by the limits below, and the
worst of these words counts. A phrase off the beat, uneven, or without the pedal that was asked for, is not solid
however long it is. All sums only ever grow with a fault, so mending one never lowers the word.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from coach.fingering.plan import Side
from coach.listening.events import Metronome
from coach.listening.faults import WHOLE, Fault, Kind, faults
from coach.listening.findings import Findings, find
from coach.listening.matching import Match
from coach.listening.report import as_json
from coach.listening.thresholds import REMARKS, SHAKY_NOTES, SOLID_NOTES, SOLID_TOUCH
from coach.listening.word import Word


@dataclass(frozen=True)
class Verdict:
    """The judgement on one phrase.

    Attributes:
        word: "solid", "shaky" or "weak".
        remarks: What matters most, at most three sentences.
        faults: Everything that was not as planned.
        findings: Everything that was heard.
    """

    word: Word
    remarks: tuple[str, ...]
    faults: tuple[Fault, ...]
    findings: Findings

    @property
    def remarked(self) -> int | None:
        """Number of the chord that the first remark speaks of, None where there is nothing to remark."""
        ordered = _together(self.faults)
        return _worst(ordered[0]).chord if ordered else None

    def to_json(self, note_ons: Sequence[int] | None = None) -> dict[str, Any]:
        """What `coach check --json` prints of one phrase.

        Args:
            note_ons: For each press, its index among the note-ons of the whole take; by default they are the same.
        """
        if note_ons is None:
            note_ons = range(len(self.findings.match.strokes))
        return {"verdict": self.word, "remarks": list(self.remarks), **as_json(self.findings, note_ons)}


def judge(
    match: Match,
    metronome: Metronome | None = None,
    *,
    timed: bool = True,
    pedal: bool = False,
    chords: range | None = None,
) -> Verdict:
    """Judge a take.

    Args:
        match: The take as matched.
        metronome: The clock it was played with, if any.
        timed: Whether waiting and unevenness count (they do not chord by chord, without a clock).
        pedal: Whether it was to be played with the sustain pedal.
        chords: Numbers of the chords to judge, a phrase's; by default all that were expected.
    """
    findings = find(match, metronome, chords)
    found = faults(findings, timed=timed, pedal=pedal)
    changes: Counter[Side] = Counter()
    for chord in findings.chords:
        changes.update(findings.expected.chords[chord].leaving.keys())
    return Verdict(word(found, len(findings.asked), changes), remarks(found), found, findings)


def word(found: Iterable[Fault], notes: int, changes: Mapping[Side, int]) -> Word:
    """The word that some faults come to.

    Args:
        found: The faults.
        notes: How many keys were to be struck.
        changes: How many chords each hand was to leave.
    """
    of_notes, of_touch, whole = 0.0, 0.0, False
    of_hand: dict[Side, float] = {}
    for fault in found:
        whole = whole or fault.kind in WHOLE
        if fault.touch:
            of_touch += fault.weight
            if fault.hand is not None:
                of_hand[fault.hand] = of_hand.get(fault.hand, 0.0) + fault.weight
        else:
            of_notes += fault.weight
    of_notes /= max(notes, 1)
    shares = [weight / max(changes.get(hand, 0), 1) for hand, weight in of_hand.items()]
    of_touch = max(of_touch / max(sum(changes.values()), 1), *shares, 0.0)
    if of_notes > SHAKY_NOTES:
        return "weak"
    return "shaky" if whole or of_notes > SOLID_NOTES or of_touch > SOLID_TOUCH else "solid"


def remarks(found: Iterable[Fault]) -> tuple[str, ...]:
    """The few sentences that matter most: faults of one kind in one voice or hand are said once."""
    return tuple(_said(some) for some in _together(found)[:REMARKS])


def _together(found: Iterable[Fault]) -> list[list[Fault]]:
    """Faults of one kind in one voice or hand, the heaviest of these groups first."""
    alike: dict[tuple[Kind, str], list[Fault]] = {}
    for fault in found:
        alike.setdefault((fault.kind, fault.who), []).append(fault)
    return sorted(alike.values(), key=lambda some: (-sum(fault.weight for fault in some), some[0].chord))


def _worst(some: list[Fault]) -> Fault:
    return max(some, key=lambda fault: fault.weight)


def _said(some: list[Fault]) -> str:
    worst = _worst(some)
    more = len({fault.chord for fault in some if fault.text != worst.text} - {worst.chord})
    if not more:
        return worst.text
    return f"{worst.text} (and so in {more} more chord{'s' if more > 1 else ''})"
