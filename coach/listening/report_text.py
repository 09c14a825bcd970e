"""What was heard, in words for the player."""

from __future__ import annotations

import textwrap

from coach.listening.findings import Findings
from coach.listening.hearing import Heard, Hearing
from coach.listening.report import finger_sentence
from coach.listening.setting import half_sentence, sentence
from coach.listening.thresholds import UNHEARD
from coach.listening.wording import milliseconds
from coach.score.counting import bars_words

WIDTH = 80


def report(hearing: Hearing) -> str:
    """A readable account of a take, phrase by phrase."""
    parts = [_wrapped(sentence(hearing.semitones), "", "")] if hearing.semitones else []
    if hearing.half is not None:
        parts.append(_wrapped(half_sentence(hearing.half), "", ""))
    parts += [_phrase(heard) for heard in hearing.heard]
    hand = hearing.only_hand
    if hand is not None:
        parts.append(f"Only the {hand} hand was heard: with --hand {hand} it is judged by itself.")
    if hearing.not_played:
        numbers = [phrase.number for phrase in hearing.not_played]
        parts.append(f"Not played: {_numbers(numbers)}.")
    return "\n\n".join(parts)


def _phrase(heard: Heard) -> str:
    findings = heard.verdict.findings
    bars = bars_words(*heard.phrase.bars, dash=" to ")
    lines = [f"Phrase {heard.phrase.number}, {bars}: {heard.verdict.word}"]
    lines += [_wrapped(remark, "  - ", "    ") for remark in heard.verdict.remarks]
    measured = [_notes(findings), _touch(findings), _time(findings), _pedal(findings)]
    lines += [_wrapped(line, "  ", "    ") for line in measured if line]
    lines += [_wrapped(finger_sentence(findings, one), "  ", "    ") for one in findings.fingers]
    return "\n".join(lines)


def _notes(findings: Findings) -> str:
    wanted, extra = len(findings.asked), len(findings.extra)
    silent = len(findings.absent) + sum(len(findings.expected.asked(chord)) for chord in findings.not_reached)
    text = f"Notes: {wanted - silent} of {wanted}"
    if extra:
        text += f", {extra} more that {'does' if extra == 1 else 'do'} not belong"
    if findings.jumps:
        times = len(findings.jumps)
        text += f"; you went back or ahead {'once' if times == 1 else f'{times} times'}"
    return text + "."


def _touch(findings: Findings) -> str:
    said = []
    planned = [lift for lift in findings.lifts if lift.planned and lift.seen is not None and lift.next is not None]
    joins = [lift for lift in findings.lifts if lift.joined is not None]
    if planned:
        said.append(f"Lifts: {sum(bool(lift.seen) for lift in planned)} of {len(planned)} as planned")
    if joins:
        said.append(f"joins: {sum(bool(lift.joined) for lift in joins)} of {len(joins)} connected")
    if findings.holds:
        said.append(f"holds: {sum(hold.kept for hold in findings.holds)} of {len(findings.holds)} kept")
    spreads = sorted(one.spread for one in findings.together if one.first is not None and not one.rolled)
    if spreads:
        said.append(f"chords: struck within {milliseconds(spreads[len(spreads) // 2])} ms, as a rule{_ahead(findings)}")
    text = "; ".join(said)
    return f"{text[0].upper()}{text[1:]}." if text else ""


def _ahead(findings: Findings) -> str:
    ahead = findings.left_ahead
    if ahead is None or abs(ahead) < UNHEARD:
        return ""
    return f", the {'left' if ahead > 0 else 'right'} hand {milliseconds(abs(ahead))} ms ahead"


def _time(findings: Findings) -> str:
    pace = findings.pace
    if pace.quarter_bpm is None:
        return ""
    text = f"Tempo: {pace.quarter_bpm:.0f} quarter notes a minute"
    if pace.unevenness is not None:
        text += f", steps even to {pace.unevenness:.0%}"
    if pace.clicks is not None:
        text += f"; the metronome went at {pace.clicks.quarter_bpm:.0f}"
        if not pace.at_another_tempo:
            mean = pace.clicks.mean
            text += f", you came {milliseconds(abs(mean))} ms {'after' if mean > 0 else 'before'} it"
    return text + "."


def _pedal(findings: Findings) -> str:
    pedal = findings.pedal
    if not pedal.presses and not pedal.share:
        return ""
    covered = sum(lift.pedal for lift in findings.lifts)
    text = f"Pedal: down {pedal.share:.0%} of the time"
    return f"{text}, through {covered} of the gaps between chords." if covered else f"{text}."


def _numbers(numbers: list[int]) -> str:
    """Phrase numbers in words: "phrases 1, 3 to 5"."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    words = [f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs]
    return ("phrase " if len(numbers) == 1 else "phrases ") + ", ".join(words)


def _wrapped(text: str, first: str, further: str) -> str:
    return textwrap.fill(text, WIDTH, initial_indent=first, subsequent_indent=further, break_on_hyphens=False)
