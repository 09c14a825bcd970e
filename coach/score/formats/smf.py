"""What bytes a standard MIDI file is made of (Standard MIDI Files 1.0, RP-001, MIDI Manufacturers Association).

Only what notation needs is kept: notes, time and key signatures, tempo, names, words; places are ticks.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from coach.errors import CoachError

MOST_TRACKS = 128
MOST_EVENTS = 400_000
"""Events believed in one file; an hour of dense playing has some 100,000."""


@dataclass(frozen=True, slots=True)
class Struck:
    """One note: its track and channel (0 to 15), key, and where it starts and ends, in ticks."""

    track: int
    channel: int
    key: int
    start: int
    end: int


@dataclass(slots=True)
class MidiFile:
    """A file in ticks.

    Attributes:
        quarter: Ticks in a quarter note.
        struck: All notes.
        names: Track names, by track.
        metres: Tick, count, unit.
        keys: Tick, fifths, minor.
        tempos: Tick, quarter notes a minute.
        words: Tick and syllable.
    """

    quarter: int
    struck: list[Struck] = field(default_factory=list)
    names: dict[int, str] = field(default_factory=dict)
    metres: list[tuple[int, int, int]] = field(default_factory=list)
    keys: list[tuple[int, int, bool]] = field(default_factory=list)
    tempos: list[tuple[int, float]] = field(default_factory=list)
    words: list[tuple[int, str]] = field(default_factory=list)
    title: str = ""


def parse_midi(data: bytes, name: str) -> MidiFile:
    """Read the bytes of a standard MIDI file.

    Args:
        data: The file.
        name: What the player calls it.

    Raises:
        CoachError: cut short, damaged, or timed in film frames instead of beats.
    """
    try:
        return _parse(data, name)
    except IndexError as error:
        raise CoachError(f'cannot read "{name}": the MIDI file is cut short') from error


def _parse(data: bytes, name: str) -> MidiFile:
    header = int.from_bytes(data[4:8], "big")
    if data[:4] != b"MThd" or header < 6 or len(data) < 14:
        raise CoachError(f'cannot read "{name}": the MIDI file is cut short')
    division = int.from_bytes(data[12:14], "big")
    if division & 0x8000 or not division:
        raise CoachError(f'cannot read "{name}": the MIDI file counts film frames instead of beats')
    file = MidiFile(division)
    place, track = 8 + header, 0
    while place + 8 <= len(data):
        kind, length = data[place : place + 4], int.from_bytes(data[place + 4 : place + 8], "big")
        end = place + 8 + length
        if end > len(data):
            raise CoachError(f'cannot read "{name}": the MIDI file is cut short')
        if kind == b"MTrk":
            _Track(data[place + 8 : end], track, file, name).read()
            track += 1
            if track > MOST_TRACKS:
                raise CoachError(f'cannot read "{name}": it has more than {MOST_TRACKS} tracks')
        place = end
    if not track:
        raise CoachError(f'cannot read "{name}": the MIDI file holds no track')
    return file


class _Track:
    def __init__(self, data: bytes, number: int, file: MidiFile, name: str) -> None:
        self.data = data
        self.number = number
        self.file = file
        self.name = name
        self.place = 0
        self.tick = 0
        self.sounding: dict[tuple[int, int], list[int]] = {}

    def read(self) -> None:
        status, count = 0, 0
        while self.place < len(self.data):
            self.tick += self._number()
            count += 1
            if count > MOST_EVENTS:
                raise CoachError(f'cannot read "{self.name}": it has more than {MOST_EVENTS} events')
            byte = self.data[self.place]
            if byte == 0xFF:
                kind = self.data[self.place + 1]
                self.place += 2
                self._meta(kind, self._bytes())
                if kind == 0x2F:
                    break
            elif byte in (0xF0, 0xF7):
                self.place += 1
                self._bytes()
            else:
                if byte & 0x80:
                    status = byte
                    self.place += 1
                if not status & 0x80 or status >= 0xF0:
                    raise CoachError(f'cannot read "{self.name}": the MIDI file is damaged')
                self._channel(status)
        for (channel, key), starts in self.sounding.items():
            for start in starts:
                self._sound(channel, key, start)

    def _number(self) -> int:
        value = 0
        for _ in range(4):
            byte = self.data[self.place]
            self.place += 1
            value = value << 7 | byte & 0x7F
            if not byte & 0x80:
                return value
        raise CoachError(f'cannot read "{self.name}": the MIDI file is damaged')

    def _bytes(self) -> bytes:
        length = self._number()
        if self.place + length > len(self.data):
            raise IndexError
        found = self.data[self.place : self.place + length]
        self.place += length
        return found

    def _channel(self, status: int) -> None:
        kind, channel = status & 0xF0, status & 0x0F
        first = self.data[self.place]
        second = 0 if kind in (0xC0, 0xD0) else self.data[self.place + 1]
        self.place += 1 if kind in (0xC0, 0xD0) else 2
        if first > 127 or second > 127:
            raise CoachError(f'cannot read "{self.name}": the MIDI file is damaged')
        if kind == 0x90 and second:
            self.sounding.setdefault((channel, first), []).append(self.tick)
        elif kind in (0x80, 0x90):
            starts = self.sounding.get((channel, first))
            if starts:
                self._sound(channel, first, starts.pop(0))

    def _sound(self, channel: int, key: int, start: int) -> None:
        if self.tick > start:
            self.file.struck.append(Struck(self.number, channel, key, start, self.tick))

    def _meta(self, kind: int, content: bytes) -> None:
        if kind == 0x03:
            text = _text(content)
            self.file.names.setdefault(self.number, text)
            if self.number == 0:
                self.file.title = self.file.title or text
        elif kind == 0x05:
            self.file.words.append((self.tick, _text(content)))
        elif kind == 0x51 and len(content) == 3:
            micros = int.from_bytes(content, "big")
            if micros:
                self.file.tempos.append((self.tick, round(60_000_000 / micros, 3)))
        elif kind == 0x58 and len(content) >= 2 and content[0] and content[1] <= 6:
            self.file.metres.append((self.tick, content[0], 2 ** content[1]))
        elif kind == 0x59 and len(content) == 2:
            fifths = int.from_bytes(content[:1], "big", signed=True)
            if -7 <= fifths <= 7:
                self.file.keys.append((self.tick, fifths, content[1] == 1))


def _text(content: bytes) -> str:
    try:
        return content.decode("utf-8").strip("\0")
    except UnicodeDecodeError:
        return content.decode("latin-1").strip("\0")
