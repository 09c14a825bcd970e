"""What was not as planned: each fault with its weight, its chord, and what a teacher would say about it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

from coach.fingering.plan import Side
from coach.listening.clock_words import off_the_clock
from coach.listening.expected import Expected, ExpectedNote
from coach.listening.findings import Findings
from coach.listening.ornaments import ornaments
from coach.listening.thresholds import (
    APART,
    JOIN_BROKEN,
    LATE_NOTE,
    LIFT_UNPLANNED,
    OFF_CLICK,
    PEDAL_LEFT_DOWN,
)
from coach.listening.touch import Lift, was_rolled
from coach.listening.wording import finger, place, spelled, voice, voices
from coach.listing import listed

Kind = Literal[
    "wrong",
    "missing",
    "left out",
    "extra",
    "back",
    "again",
    "waited",
    "unfinished",
    "late",
    "lift",
    "unplanned lift",
    "join",
    "hold",
    "smear",
    "apart",
    "uneven",
    "clock",
    "pedal",
]

WEIGHTS: dict[Kind, float] = {
    "wrong": 1.0,
    "missing": 1.0,
    "left out": 1.0,
    "unfinished": 1.0,
    "extra": 0.5,
    "back": 1.5,
    "again": 1.0,
    "waited": 1.0,
    "late": 0.35,
    "lift": 0.5,
    "unplanned lift": 0.35,
    "join": 0.35,
    "hold": 0.5,
    "smear": 0.35,
    "apart": 0.35,
    "uneven": 2.0,
    "clock": 2.0,
    "pedal": 2.0,
}
"""How much each fault weighs; a note of the score that does not sound is the unit (common practice, no source)."""

TOUCH: frozenset[Kind] = frozenset(
    {"late", "lift", "unplanned lift", "join", "hold", "smear", "apart", "uneven", "clock", "pedal"}
)
"""Faults of touch and time; the others are faults of notes."""

WHOLE: frozenset[Kind] = frozenset({"uneven", "clock", "pedal"})
"""Faults of a phrase as a whole: one of them keeps it from being solid, however long it is."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that was not as planned.

    Attributes:
        kind: What.
        who: The voice or hand it concerns, "" for the whole.
        chord: Number of its chord.
        weight: How much it counts.
        text: What to say about it: bar and beat, voice and remedy.
        hand: The hand that it happened in, None where both had a part in it.
    """

    kind: Kind
    who: str
    chord: int
    weight: float
    text: str
    hand: Side | None = None

    @property
    def touch(self) -> bool:
        """Whether it is a fault of touch or time rather than of notes."""
        return self.kind in TOUCH


def faults(findings: Findings, *, timed: bool = True, pedal: bool = False) -> tuple[Fault, ...]:
    """Every fault of a take, by chord.

    Args:
        findings: What was heard.
        timed: Whether waiting and unevenness count; they do not where the player has all the time there is.
        pedal: Whether it was to be played with the sustain pedal.
    """
    sources: list[Callable[[Findings], Iterator[Fault]]] = [
        _notes,
        _left_out,
        _extra,
        _jumps,
        _late,
        _lifts,
        _holds,
        _smears,
    ]
    if timed:
        sources.append(_time)
    if pedal:
        sources.append(_pedal)
    found = [fault for source in sources for fault in source(findings)]
    found.sort(key=lambda fault: (fault.chord, -fault.weight))
    return tuple(found)


def _fault(kind: Kind, who: str, chord: int, text: str, hand: Side | None = None, times: float = 1.0) -> Fault:
    return Fault(kind, who, chord, WEIGHTS[kind] * times, text, hand)


def _notes(findings: Findings) -> Iterator[Fault]:
    expected, match = findings.expected, findings.match
    whole = {chord for run in findings.left_out for chord in run}
    for note in findings.absent:
        if note.chord in whole:
            continue
        where, sharing = place(expected, note.chord), expected.sharing(note)
        if note.number in findings.meant:
            key = spelled(match.strokes[findings.meant[note.number]].key, expected, note.chord)
            text = (
                f"{where}: {key} sounded for {note.pitch} in {voices(sharing)}; play {note.pitch} with {finger(note)}"
            )
            yield _fault("wrong", note.voice, note.chord, text, note.hand)
        else:
            what = f"{voice(note)} ({note.pitch})"
            if len(sharing) > 1:
                what = f"{note.pitch} ({listed(other.voice for other in sharing)})"
            text = f"{where}: {what} is missing; take it with {finger(note)} as planned"
            yield _fault("missing", note.voice, note.chord, text, note.hand)
    if findings.not_reached:
        first = findings.not_reached[0]
        notes = sum(len(expected.asked(chord)) for chord in findings.not_reached)
        text = f"the take stops before {place(expected, first)}; play the change into it by itself"
        yield _fault("unfinished", "", first, text, times=notes)


def _left_out(findings: Findings) -> Iterator[Fault]:
    """Chords passed over: each is a fault of its own, as each change into one of them is, and said once."""
    expected = findings.expected
    for run in findings.left_out:
        hands = {note.hand for chord in run for note in expected.asked(chord)}
        who = hands.pop() if len(hands) == 1 else None
        what = place(expected, run.start)
        if len(run) > 1:
            what = f"{what} to {place(expected, run[-1], run.start)}"
        before = "the chord before it" if run.start in findings.chords[1:] else "the beginning"
        text = f"{what} was left out; play slowly from {before} to the chord after it"
        for chord in run:
            yield _fault("left out", who or "", chord, text, who, times=len(expected.asked(chord)))


def _extra(findings: Findings) -> Iterator[Fault]:
    expected, match = findings.expected, findings.match
    before: int | None = None
    meant = set(findings.meant.values())
    mended = {press: expected.notes[number] for number, press in findings.mended.items()}
    adorning = ornaments(match, findings.extra)
    for current, press in findings.extra:
        if press in meant:
            continue
        key = match.strokes[press].key
        chord = mended[press].chord if press in mended else current
        where = place(expected, chord)
        held = {expected.notes[n].midi: expected.notes[n] for n in expected.chords[chord].held}
        own = {note.midi: note for note in expected.struck(chord)}
        who = ""
        if press in adorning:
            note = adorning[press]
            who, where = note.voice, place(expected, note.chord)
            text = f"{where}: {voice(note)} has {note.pitch} without an ornament; leave the ornaments out"
        elif press in mended:
            note = mended[press]
            text = (
                f"{where}: {spelled(key, expected, chord)} sounded before {note.pitch} in {voice(note)}; "
                f"find {note.pitch} with {finger(note)} before you strike"
            )
        elif key in held:
            note = held[key]
            text = f"{where}: {voice(note)} ({note.pitch}) was struck again; hold it with {finger(note)}"
        elif key in own:
            note = own[key]
            text = f"{where}: {voice(note)} ({note.pitch}) was struck twice; one stroke with {finger(note)} will do"
        else:
            name = spelled(key, expected, chord)
            text = f"{where}: {name} does not belong there; find the keys of this chord before you strike"
        # Keys brushed one after the other are one slip that goes on, not so many new ones.
        yield _fault("extra", who, chord, text, times=0.5 if before == chord else 1.0)
        before = chord


def _jumps(findings: Findings) -> Iterator[Fault]:
    expected, left_out = findings.expected, findings.left_out
    for left, came in findings.jumps:
        if range(left + 1, came) in left_out:
            continue
        if came == left:
            where = place(expected, came)
            text = f"{where} was struck again; find its keys before you strike, then go on"
            yield _fault("again", "", came, text)
            continue
        if came < left:
            text = (
                f"after {place(expected, left)} you went back to {place(expected, came, left)}; "
                "play the change that you went back from by itself, slowly"
            )
        else:
            text = f"you went from {place(expected, left)} on to {place(expected, came, left)}; play what lies between"
        yield _fault("back", "", left, text)


def _late(findings: Findings) -> Iterator[Fault]:
    expected, match = findings.expected, findings.match
    for one in findings.together:
        visit = match.last_visits[one.chord]
        if one.spread > APART and not one.rolled and was_rolled(match, visit):
            text = f"{place(expected, one.chord)}: the chord was rolled; strike its keys as one"
            yield _fault("apart", "", one.chord, text)
            continue
        late = []
        usual = match.middle(visit)
        for number, press in visit.played:
            after = match.strokes[press].press - usual
            note = expected.notes[number]
            if after > LATE_NOTE and not one.rolled:
                late.append(note)
        if len(late) * 2 >= len(visit.played):
            late = []
        for note in late:
            # That a slip had to be mended first is said of the slip.
            if note.number not in findings.mended:
                text = f"{place(expected, one.chord)}: {voice(note)} came late; take it with {finger(note)} as planned"
                yield _fault("late", note.voice, one.chord, text, note.hand)
        if not late and not one.rolled and one.spread > APART and one.first is not None and one.last is not None:
            if one.last in findings.mended:
                continue
            first, last = expected.notes[one.first], expected.notes[one.last]
            led, lagged = _parties(first, last)
            text = f"{place(expected, one.chord)}: {led} came before {lagged}; strike them as one"
            yield _fault("apart", lagged, one.chord, text, first.hand if first.hand == last.hand else None)


def _parties(first: ExpectedNote, last: ExpectedNote) -> tuple[str, str]:
    if first.hand and last.hand and first.hand != last.hand:
        return f"the {first.hand} hand", f"the {last.hand} hand"
    return voice(first), voice(last)


def _lifts(findings: Findings) -> Iterator[Fault]:
    expected = findings.expected
    for lift in findings.lifts:
        if lift.next is None or lift.gap is None or lift.seen is None:
            continue
        left = expected.chords[lift.chord].leaving[lift.hand]
        same = expected.chords[lift.chord].phrase == expected.chords[lift.next].phrase
        where, following = place(expected, left), place(expected, lift.next, left) if same else "the next phrase"
        if lift.planned and not lift.seen:
            held = [note.pitch for note in expected.held_over(lift.chord, lift.hand)]
            what = f"lift all but {listed(held)}" if held else "lift it"
            text = f"{where}: the {lift.hand} hand stayed on the keys; {what} before {following} as planned"
            yield _fault("lift", lift.hand, lift.chord, text, lift.hand)
        elif _mended(findings, lift):
            # The way from one chord to the next is broken by the slip alone.
            continue
        elif lift.after == "join" and lift.seen and lift.gap > LIFT_UNPLANNED:
            text = f"{where}: the {lift.hand} hand left the keys; {_connect(expected, lift)} into {following}"
            yield _fault("unplanned lift", lift.hand, lift.chord, text, lift.hand)
        elif lift.after == "join" and lift.joined is False and lift.gap > JOIN_BROKEN:
            text = f"{where}: the {lift.hand} hand's outer voice broke off; {_connect(expected, lift)} into {following}"
            yield _fault("join", lift.hand, lift.chord, text, lift.hand)


def _mended(findings: Findings, lift: Lift) -> bool:
    """Whether a hand struck a wrong key for its outer note, and mended it, on the way into the next chord."""
    outer = max if lift.hand == "right" else min
    assert lift.next is not None
    mine = [note for note in findings.expected.struck(lift.next) if note.hand == lift.hand]
    return bool(mine) and outer(mine, key=lambda note: note.midi).number in findings.mended


def _connect(expected: Expected, lift: Lift) -> str:
    """The remedy for a broken join: the voice, and its fingers where it changes them."""
    outer = max if lift.hand == "right" else min
    pair = []
    for chord in (lift.chord, lift.next):
        assert chord is not None
        mine = [note for note in expected.sounding(chord) if note.hand == lift.hand]
        if mine:
            pair.append(outer(mine, key=lambda note: note.midi))
    if len(pair) < 2 or not pair[0].finger or not pair[1].finger:
        return "connect it"
    return f"connect {voice(pair[0])} with {pair[0].finger}-{pair[1].finger}"


def _holds(findings: Findings) -> Iterator[Fault]:
    expected = findings.expected
    for hold in findings.holds:
        if hold.kept:
            continue
        note = expected.notes[hold.note]
        until = place(expected, note.last, note.chord)
        text = (
            f"{place(expected, note.chord)}: {voice(note)} ({note.pitch}) was let go too soon; "
            f"keep {finger(note)} down through {until}"
        )
        yield _fault("hold", note.voice, note.chord, text, note.hand)


def _smears(findings: Findings) -> Iterator[Fault]:
    expected = findings.expected
    for smear in findings.smears:
        note = expected.notes[smear.note]
        where = place(expected, smear.into)
        text = f"{where}: {voice(note)} ({note.pitch}) from before stayed down; let {finger(note)} go as you strike"
        yield _fault("smear", note.voice, smear.into, text, note.hand)


def _time(findings: Findings) -> Iterator[Fault]:
    expected, pace = findings.expected, findings.pace
    for wait in pace.hesitations:
        visit = findings.match.last_visits[wait.chord]
        if all(number in findings.mended for number, _ in visit.played):
            continue
        text = f"{place(expected, wait.chord)} was waited for; look ahead to it while you hold the chord before"
        yield _fault("waited", "", wait.chord, text)
    if pace.is_uneven:
        range_of = "" if pace.drift is None else f", from ♩ = {pace.drift.slowest:.0f} to {pace.drift.fastest:.0f}"
        text = (
            f"the steps from chord to chord are uneven{range_of}; "
            "count aloud, and choose a tempo that the widest change allows"
        )
        yield _fault("uneven", "", findings.chords[0], text)
    clicks = pace.clicks
    if clicks is not None:
        allowed = OFF_CLICK * 60 / clicks.quarter_bpm
        if abs(clicks.mean) > allowed or clicks.spread > allowed:
            yield _fault("clock", "", findings.chords[0], off_the_clock(expected, pace, clicks))


def _pedal(findings: Findings) -> Iterator[Fault]:
    pedal = findings.pedal
    if pedal.share == 0:
        text = "the pedal was not used; press it where a hand lifts, so that it covers the gap"
    elif pedal.presses < 2 and pedal.share > PEDAL_LEFT_DOWN:
        text = "the pedal stayed down through the chords; let it up as you strike, and press it again"
    else:
        return
    yield _fault("pedal", "", findings.chords[0], text)
