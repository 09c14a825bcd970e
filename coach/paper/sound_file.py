"""A plan as a standard MIDI file (Standard MIDI Files 1.0, MIDI Manufacturers Association): each hand a track."""

from __future__ import annotations

from collections.abc import Iterator
from io import BytesIO
from typing import Any

import mido

from coach.fingering.plan import SIDES, Plan
from coach.paper.bars import metre_of
from coach.paper.sheet import Sheet
from coach.paper.sound import sounding
from coach.score.piece import Quarters
from coach.score.spelling import LINE

TICKS = 480
"""Ticks of a quarter note: every division that is played is a whole number of them, but for the rarest."""

CHANNELS = {"right": 0, "left": 1}
"""A channel for each hand, so that one can be silenced (common practice)."""

SUSTAIN = 64
"""The controller of the sustain pedal (MIDI 1.0): 127 down, 0 up."""

PEDAL_AFTER = 0.15
"""Quarter notes after a chord at which the pedal goes down, so that it takes nothing along of the chord before (common
practice, no source)."""


def midi_of(plan: Plan, sheet: Sheet, quarter_bpm: float) -> bytes:
    """The plan as it is to sound, lifts, rolls and pedal included.

    Args:
        plan: What the hands do.
        sheet: The same plan written down, for title, key and metre.
        quarter_bpm: Quarter notes a minute.
    """
    start = sheet.bars[0].onset
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS, charset="utf-8")
    file.tracks.append(_track(sheet.title, list(_conducting(sheet, quarter_bpm))))
    chords = tuple(plan.chords())
    before = chords[0].onset - float(start)
    for side in SIDES:
        played = [
            (_ticks(before + seconds * quarter_bpm / 60), _message(message, CHANNELS[side]))
            for seconds, message in sounding(chords, quarter_bpm, (side,))
        ]
        file.tracks.append(_track(f"{side} hand", [*played, *_pedal(sheet, start, CHANNELS[side])]))
    buffer = BytesIO()
    file.save(file=buffer)
    return buffer.getvalue()


def _track(name: str, events: list[tuple[int, Any]]) -> Any:
    """A track of events at their ticks; of those at one time, keys come up before others go down."""
    track = mido.MidiTrack([mido.MetaMessage("track_name", name=name)])
    now = 0
    for tick, message in sorted(events, key=lambda event: (event[0], event[1].type == "note_on")):
        track.append(message.copy(time=tick - now))
        now = tick
    return track


def _conducting(sheet: Sheet, quarter_bpm: float) -> Iterator[tuple[int, Any]]:
    """Tempo, keys and metres. A pickup is a bar of its own length, so that later bar lines fall where they are."""
    yield 0, mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(quarter_bpm))
    start = sheet.bars[0].onset
    for onset, fifths in ((start, sheet.fifths), *sheet.key_changes):
        sign = mido.MetaMessage("key_signature", key=_key(fifths, minor=sheet.minor))
        yield _ticks(float(onset - start)), sign
    metre = ""
    for bar in sheet.bars:
        written = metre_of(bar.duration) if bar is sheet.bars[0] and bar.duration < bar.full else bar.metre
        if written != metre:
            count, unit = (int(number) for number in written.split("/"))
            mark = mido.MetaMessage("time_signature", numerator=count, denominator=unit)
            yield _ticks(float(bar.onset - start)), mark
        metre = written


def _key(fifths: int, *, minor: bool) -> str:
    """As mido calls a key signature: "Bb", "F#m"."""
    place = fifths + (3 if minor else 0)
    sign = {1: "#", -1: "b"}.get((place + 1) // 7, "")
    return f"{LINE[(place + 1) % 7]}{sign}{'m' if minor else ''}"


def _pedal(sheet: Sheet, start: Quarters, channel: int) -> Iterator[tuple[int, Any]]:
    for onset, foot in sheet.pedal:
        at = float(onset - start)
        if foot in ("up", "change"):
            yield _ticks(at), mido.Message("control_change", channel=channel, control=SUSTAIN, value=0)
        if foot in ("down", "change"):
            after = _ticks(at + PEDAL_AFTER)
            yield after, mido.Message("control_change", channel=channel, control=SUSTAIN, value=127)


def _message(message: bytes, channel: int) -> Any:
    return mido.Message.from_bytes(message).copy(channel=channel)


def _ticks(quarters: float) -> int:
    return max(round(quarters * TICKS), 0)
