"""What to say of a take that did not stay with the metronome."""

from __future__ import annotations

from coach.listening.expected import Expected
from coach.listening.pace import Clicks, Pace, quarters_a_beat
from coach.listening.thresholds import OFF_TEMPO, ON_A_BEAT, SWAY


def off_the_clock(expected: Expected, pace: Pace, clicks: Clicks) -> str:
    """What to say of a take that did not stay with the metronome: one that grew quicker or slower, or went to and fro,
    another tempo, or the same one on another beat or beside its beats."""
    went, asked, drift = pace.quarter_bpm, clicks.quarter_bpm, pace.drift
    if drift is not None and drift.is_one:
        how, remedy = "dragged", "choose a tempo that the hardest change allows, and keep it"
        if drift.last > drift.first:
            how, remedy = "rushed", "count aloud to the last chord, as slowly as you began"
        return f"you {how}, from ♩ = {drift.first:.0f} to {drift.last:.0f} where {asked:.0f} was asked; {remedy}"
    if drift is not None and pace.is_uneven:
        if abs(drift.average / asked - 1) > OFF_TEMPO:
            return f"on the whole it went at ♩ = {drift.average:.0f} where {asked:.0f} was asked; even it out first"
        return "the chords strayed from the beat of the metronome; stay with it from beat to beat"
    if drift is not None and drift.sway > SWAY:
        went_between = f"the tempo went to and fro between ♩ = {drift.slowest:.0f} and {drift.fastest:.0f}"
        return f"{went_between} where {asked:.0f} was asked; count aloud, every beat as long as the last"
    if went is not None and pace.at_another_tempo:
        how = "steady, but at" if pace.unevenness is not None else "it went at"
        remedy = "and hold it back" if went > asked else "or build it up from a slower one"
        return f"{how} ♩ = {went:.0f} where {asked:.0f} was asked; take the tempo from the count-in, {remedy}"
    beats = clicks.mean * asked / 60 / quarters_a_beat(expected)
    if round(beats) and abs(beats - round(beats)) <= ON_A_BEAT:
        many = "a beat" if abs(round(beats)) == 1 else f"{abs(round(beats))} beats"
        if beats < 0:
            return f"you came in {many} early; count the bar out"
        return f"you came in {many} late; breathe with the last beat of the count, and come in on the next"
    when = "after" if clicks.mean > 0 else "ahead of"
    return f"the chords lay {when} the beat of the metronome; count a bar with it before you begin, and stay with it"
