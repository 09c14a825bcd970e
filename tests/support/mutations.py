"""Damages real files in the ways that files get damaged, and in ways that nobody would."""

from __future__ import annotations

import random
import re
from collections.abc import Callable

NUMBERS = (b"0", b"-1", b"1", b"7", b"99", b"12345", b"99999999999", b"0.5", b"1e9", b"")
JUNK = (
    b"<",
    b">",
    b"&",
    b'"',
    b"\0",
    b"\xff",
    b"|",
    b"[",
    b"]",
    b"{",
    b"(",
    b"\n",
    b"\r",
    b"\t",
    b"*",
    b"%",
    b"\\",
    b"\xe2\x82",
)


def mutated(data: bytes, chance: random.Random) -> bytes:
    """A damaged copy: one to four damages."""
    for _ in range(chance.choice((1, 1, 1, 2, 2, 3, 4))):
        if not data:
            break
        data = chance.choice(DAMAGES)(data, chance)
    return data


def _flip(data: bytes, chance: random.Random) -> bytes:
    changed = bytearray(data)
    for _ in range(chance.choice((1, 1, 2, 8))):
        changed[chance.randrange(len(changed))] = chance.randrange(256)
    return bytes(changed)


def _cut_short(data: bytes, chance: random.Random) -> bytes:
    return data[: chance.randrange(len(data))]


def _leave_out(data: bytes, chance: random.Random) -> bytes:
    place = chance.randrange(len(data))
    return data[:place] + data[place + chance.choice((1, 1, 3, 20, 200)) :]


def _repeat(data: bytes, chance: random.Random) -> bytes:
    place = chance.randrange(len(data))
    piece = data[place : place + chance.choice((1, 5, 40, 300))]
    return data[:place] + piece * chance.choice((2, 2, 3, 30)) + data[place:]


def _swap(data: bytes, chance: random.Random) -> bytes:
    one, two = sorted(chance.randrange(len(data)) for _ in range(2))
    width = chance.choice((1, 6, 60))
    return (
        data[:one] + data[two : two + width] + data[one + width : two] + data[one : one + width] + data[two + width :]
    )


def _insert(data: bytes, chance: random.Random) -> bytes:
    place = chance.randrange(len(data))
    return data[:place] + chance.choice(JUNK) * chance.choice((1, 1, 2, 50)) + data[place:]


def _renumber(data: bytes, chance: random.Random) -> bytes:
    numbers = list(re.finditer(rb"\d+", data))
    if not numbers:
        return _flip(data, chance)
    found = chance.choice(numbers)
    return data[: found.start()] + chance.choice(NUMBERS) + data[found.end() :]


def _mix_lines(data: bytes, chance: random.Random) -> bytes:
    lines = re.split(rb"(?<=[\n>])", data)
    one, two = chance.randrange(len(lines)), chance.randrange(len(lines))
    lines[one], lines[two] = lines[two], lines[one]
    return b"".join(lines)


DAMAGES: tuple[Callable[[bytes, random.Random], bytes], ...] = (
    _flip,
    _cut_short,
    _leave_out,
    _repeat,
    _swap,
    _insert,
    _renumber,
    _renumber,
    _mix_lines,
)
