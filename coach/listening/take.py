"""What a take is, and how it is kept: as a standard MIDI file (Standard MIDI Files 1.0, RP-001)."""

from __future__ import annotations

import struct
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any

import mido

from coach.errors import CoachError
from coach.listening.events import SUSTAIN, Event, Metronome
from coach.listening.layers import layers_of
from coach.listening.wire import Decoder
from coach.paper.sound import PERCUSSION
from coach.whole import write_whole

__all__ = ["Event", "Metronome", "Take", "read_take", "write_take"]

TICKS = 960
"""Ticks a quarter note in files written here; about half a millisecond at 120 quarters a minute."""

LARGEST = 2_000_000
"""Bytes in the largest file read: hours of dense playing, read in seconds."""

MOST = 100_000
"""Notes in the longest take read: some three hours of dense playing."""

LONGEST = 2**40
"""Ticks in the longest file read; a damaged length would give more."""

_METRONOME = "metronome"
_ABOUT = "about: "


@dataclass(frozen=True, slots=True)
class Take:
    """One play-through.

    Attributes:
        events: In order of time; the place of a press among the presses is its index everywhere.
        metronome: The clock it was played with, or None.
        about: What was played, in the words of whoever kept the take; "" where nobody said.
        note_ons: For each press, which note-on of its file it is, counted from 0 in file order, all tracks merged by
            time: layers and percussion have note-ons of their own. Empty for a take that comes from no file.
    """

    events: tuple[Event, ...]
    metronome: Metronome | None = None
    about: str = ""
    note_ons: tuple[int, ...] = ()

    @property
    def presses(self) -> int:
        """How many keys were pressed in all."""
        return sum(event.kind == "press" for event in self.events)


Message = tuple[float, int, Any]
"""Seconds, track, and the message as mido reads it."""


def read_take(path: Path | str) -> Take:
    """Read a standard MIDI file of type 0, 1 or 2 as one take.

    All tracks and channels are merged by time; events of the same tick stay in the order of their tracks. What they
    mean is found as at the keyboard itself, see `Decoder`: a key that two tracks or channels strike is struck once. The
    patterns of a type 2 file are played one after the other. Tempo changes, running status and SMPTE time are
    followed; foreign chunks are passed over.

    Raises:
        CoachError: the file cannot be read, is not a MIDI file, is damaged or holds no notes, or percussion alone.
    """
    name = Path(path).name or str(path)
    score = _parsed(_bytes(Path(path), name), name)
    try:
        messages = list(_timed(score))
    except CoachError as error:
        raise CoachError(f'cannot read "{name}": {error}') from error
    notes = [entry for entry in messages if entry[2].type == "note_on" and entry[2].velocity > 0]
    if not notes:
        raise CoachError(f'cannot use "{name}": the MIDI file holds no notes')
    if len(notes) > MOST:
        raise CoachError(f'cannot use "{name}": {len(notes)} notes are too many for one take')
    events = tuple(_events(messages, layers_of((at, note.channel, note.note) for at, _, note in _keys(notes))))
    if not any(event.kind == "press" for event in events):
        raise CoachError(
            f'cannot use "{name}": all its notes are on channel 10, which carries percussion; '
            "let the keyboard send on another channel"
        )
    return Take(events, _metronome(messages), _about(messages), _note_ons(events, notes))


def write_take(take: Take, path: Path | str) -> None:
    """Write a take as a type 0 file that any sequencer opens.

    The file appears under its name only once it is whole and on the disk: a crash or a power cut costs at most this
    take, never another one. Its time starts with the first event (or the metronome, where that is earlier).

    Raises:
        CoachError: the file cannot be written.
    """
    target = Path(path)
    try:
        write_whole(target, _written(take))
    except OSError as error:
        raise CoachError(f'cannot keep the take "{target.name}": {error.strerror or error}') from error


def _bytes(path: Path, name: str) -> bytes:
    try:
        if path.is_dir():
            raise CoachError(f'cannot read "{name}": it is a folder')
        if not path.exists():
            raise CoachError(f'cannot find the take "{path}"')
        if not path.is_file():
            raise CoachError(f'cannot read "{name}": it is not a file')
        if path.stat().st_size > LARGEST:
            raise CoachError(f'cannot read "{name}": {path.stat().st_size / 1_000_000:.0f} MB is too large for a take')
        return path.read_bytes()
    except OSError as error:
        raise CoachError(f'cannot read "{name}": {error.strerror or error}') from error
    except ValueError as error:
        raise CoachError(f'cannot read "{name}": the name is not a file name') from error


def _parsed(content: bytes, name: str) -> mido.MidiFile:
    if not content:
        raise CoachError(f'cannot read "{name}": the file is empty')
    start = content.find(b"MThd", 0, 256)
    if start < 0:
        raise CoachError(f'cannot read "{name}": it is not a MIDI file')
    tidy = _only_tracks(content[start:], name)
    try:
        score = mido.MidiFile(file=BytesIO(tidy), clip=True)
    except (EOFError, OSError, ValueError, LookupError, TypeError, struct.error, UnicodeError) as error:
        detail = f" ({error})" if str(error) else ""
        raise CoachError(f'cannot read "{name}": the MIDI file is damaged{detail}') from error
    if score.type not in (0, 1, 2):
        raise CoachError(f'cannot read "{name}": MIDI files of type {score.type} are unknown')
    return score


def _only_tracks(content: bytes, name: str) -> bytes:
    """The header and its tracks, without the chunks that the standard tells readers to pass over."""
    if len(content) < 14:
        raise CoachError(f'cannot read "{name}": the MIDI file is cut short')
    length = int.from_bytes(content[4:8], "big")
    kind, count, division = struct.unpack(">HHH", content[8:14])
    if length < 6 or division == 0:
        raise CoachError(f'cannot read "{name}": the MIDI file is damaged')
    place = 8 + length
    tracks: list[bytes] = []
    while place + 8 <= len(content) and len(tracks) < count:
        size = int.from_bytes(content[place + 4 : place + 8], "big")
        if place + 8 + size > len(content):
            raise CoachError(f'cannot read "{name}": the MIDI file is cut short')
        if content[place : place + 4] == b"MTrk":
            tracks.append(content[place : place + 8 + size])
        place += 8 + size
    if len(tracks) < count:
        raise CoachError(f'cannot read "{name}": the MIDI file is cut short')
    return b"MThd" + struct.pack(">LHHH", 6, kind, count, division) + b"".join(tracks)


def _timed(score: mido.MidiFile) -> Iterator[Message]:
    """All messages with their seconds, tracks merged by time."""
    numbered = list(enumerate(score.tracks))
    patterns = [[track] for track in numbered] if score.type == 2 else [numbered]
    start = 0.0
    for pattern in patterns:
        placed = []
        for number, track in pattern:
            tick = 0
            for message in track:
                tick += message.time
                placed.append((tick, number, message))
        # Sorting is stable: what stands at the same tick stays in the order of tracks.
        placed.sort(key=lambda entry: entry[0])
        seconds, last, tempo = start, 0, 500_000
        if placed and placed[-1][0] > LONGEST:
            raise CoachError("the MIDI file is damaged (a silence without end)")
        for tick, number, message in placed:
            seconds += (tick - last) * _tick(score.ticks_per_beat, tempo)
            last = tick
            if message.type == "set_tempo":
                tempo = message.tempo
            yield seconds, number, message
        start = seconds


def _tick(division: int, tempo: int) -> float:
    """Seconds of one tick; a negative division is SMPTE frames and ticks a frame."""
    if division > 0:
        return tempo / 1_000_000 / division
    frames = -(division >> 8)
    rate = 30_000 / 1_001 if frames == 29 else float(frames)
    return 1 / (rate * max(division & 0xFF, 1))


def _keys(notes: Iterable[Message]) -> Iterator[Message]:
    return (note for note in notes if note[2].channel != PERCUSSION)


def _events(messages: list[Message], layers: frozenset[int]) -> Iterator[Event]:
    """Presses, releases and pedal, in order of time."""
    decoder = Decoder(layers)
    for seconds, track, message in messages:
        if message.type in ("note_on", "note_off", "control_change"):
            yield from decoder.read(seconds, message.bin(), track)


def _note_ons(events: Iterable[Event], notes: Iterable[Message]) -> tuple[int, ...]:
    """Which note-on of its file each press is; of some on one key at one time, the first."""
    places: dict[tuple[float, int, int], deque[int]] = {}
    for place, (seconds, _, message) in enumerate(notes):
        places.setdefault((seconds, message.channel, message.note), deque()).append(place)
    pressed = (event for event in events if event.kind == "press")
    return tuple(places[event.seconds, event.channel, event.key].popleft() for event in pressed)


def _metronome(messages: list[Message]) -> Metronome | None:
    """The clock that `write_take` marked; tempo alone says nothing, since every file has one."""
    tempo = 500_000
    for seconds, _, message in messages:
        if message.type == "set_tempo":
            tempo = message.tempo
        elif message.type == "cue_marker" and message.text == _METRONOME:
            return Metronome(round(mido.tempo2bpm(tempo), 3), seconds)
    return None


def _about(messages: list[Message]) -> str:
    for _, _, message in messages:
        if message.type == "text" and message.text.startswith(_ABOUT):
            try:
                return str(message.text[len(_ABOUT) :].encode("latin1").decode("utf-8"))
            except UnicodeError:
                return ""
    return ""


def _written(take: Take) -> bytes:
    bpm = take.metronome.quarter_bpm if take.metronome else 120.0
    tempo = mido.bpm2tempo(bpm)
    events = sorted(take.events, key=lambda event: event.seconds)
    starts = [event.seconds for event in events[:1]] + ([take.metronome.start] if take.metronome else [])
    begin = min(starts, default=0.0)
    placed: list[tuple[int, Any]] = []
    if take.metronome:
        mark = mido.MetaMessage("cue_marker", text=_METRONOME)
        placed.append((_ticks(take.metronome.start - begin, tempo), mark))
    for event in events:
        placed.append((_ticks(event.seconds - begin, tempo), _message(event)))
    placed.sort(key=lambda entry: entry[0])
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=tempo)])
    if take.about:
        track.append(mido.MetaMessage("text", text=_ABOUT + take.about.encode("utf-8").decode("latin1")))
    last = 0
    for tick, message in placed:
        track.append(message.copy(time=tick - last))
        last = tick
    score = mido.MidiFile(type=0, ticks_per_beat=TICKS)
    score.tracks.append(track)
    buffer = BytesIO()
    score.save(file=buffer)
    return buffer.getvalue()


def _ticks(seconds: float, tempo: int) -> int:
    return max(0, round(seconds * 1_000_000 / tempo * TICKS))


def _message(event: Event) -> Any:
    value = min(max(event.value, 0), 127)
    if event.kind == "press":
        return mido.Message("note_on", note=event.key, velocity=max(value, 1), channel=event.channel)
    if event.kind == "release":
        return mido.Message("note_off", note=event.key, velocity=value, channel=event.channel)
    return mido.Message("control_change", control=SUSTAIN, value=value)
