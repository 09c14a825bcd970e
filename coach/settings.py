"""What the player has set: hands, keyboard, instruments, and how the screen looks. One small JSON file."""

from __future__ import annotations

import json
import os
from dataclasses import asdict, dataclass, field, fields, replace
from typing import TYPE_CHECKING, Any, Literal

from coach import places
from coach.errors import DAMAGED, CoachError
from coach.lengths import LARGEST_SPAN_MM, NARROWEST_OCTAVE_MM, SMALLEST_SPAN_MM, WIDEST_OCTAVE_MM
from coach.whole import write_whole

if TYPE_CHECKING:
    from coach.fingering.hand import Hands
    from coach.fingering.search import Options

COMFORT = {"relaxed": 0.9, "normal": 1.0, "wide": 1.1}
"""How far the hands like to stretch, as `coach.fingering.hand.Hand` takes it."""

WAYS_OUT = ("raise", "roll", "omit")
"""Play it an octave higher, roll the chord, or leave the note out."""

COMPASS = {
    88: (21, 108),
    76: (28, 103),
    73: (28, 100),
    61: (36, 96),
    49: (36, 84),
}
"""Lowest and highest key by the number of keys, MIDI numbers (common practice, no source; 88 keys are A0 to C8)."""


@dataclass(frozen=True, slots=True)
class Settings:
    """The player's settings. Spans and octave start as the fingering's own, which is not loaded for them.

    Attributes:
        right_span_mm: Thumb tip to little-finger tip of the open right hand, in mm.
        left_span_mm: The same of the left hand.
        comfort: How far the hands like to stretch, a key of `COMFORT`.
        way_out: What to do with a note out of reach, one of `WAYS_OUT`.
        octave_mm: Width of an octave on the player's keyboard, in mm.
        keys: How many keys it has; its compass is `COMPASS[keys]`.
        midi_input: The player's instrument: the one that was chosen, or the first that was played; "" for any.
        midi_output: Where sound and clicks go, "" for the first output that an instrument may stand behind.
        clicks: Whether the beat clicks on the output.
        minutes: How long a day's practice is meant to be.
        theme: Name of the screen's theme, "" for the coach's own.
        set_up: Whether the first set-up was done or declined.
        others: What a later version wrote and this one does not know; kept as it is.
    """

    right_span_mm: float = 208.0
    left_span_mm: float = 208.0
    comfort: str = "normal"
    way_out: Literal["raise", "roll", "omit"] = "raise"
    octave_mm: float = 164.5
    keys: int = 88
    midi_input: str = ""
    midi_output: str = ""
    clicks: bool = True
    minutes: int = 25
    theme: str = ""
    set_up: bool = False
    others: dict[str, Any] = field(default_factory=dict)

    @property
    def compass(self) -> range:
        """The keys of the player's keyboard, MIDI numbers."""
        lowest, highest = COMPASS[self.keys]
        return range(lowest, highest + 1)

    @property
    def hands(self) -> Hands:
        """The player's hands at their keyboard."""
        from coach.fingering.hand import Hand, Hands
        from coach.fingering.keyboard import Keyboard

        comfort = COMFORT[self.comfort]
        return Hands(
            Hand(self.right_span_mm, comfort), Hand(self.left_span_mm, comfort), Keyboard(octave_mm=self.octave_mm)
        )

    @property
    def options(self) -> Options:
        """The player's wishes for every plan."""
        from coach.fingering.search import Options

        return Options(way_out=self.way_out)


def load() -> Settings:
    """Read the settings; what is missing or makes no sense has its starting value.

    Raises:
        CoachError: the file cannot be read. A damaged file is no error: it is set aside beside the new one.
    """
    return _read() or Settings()


def changed(ours: Settings, **changes: Any) -> Settings:
    """Change some settings in the file; the others stay as they are there, for another coach may have changed them.

    Args:
        ours: What holds where there is no file that can be used.
        changes: The settings to change, by name.

    Raises:
        CoachError: the file cannot be read or written.
    """
    settings = replace(_read() or ours, **changes)
    save(settings)
    return settings


def _read() -> Settings | None:
    """What the file says; None where it is missing, or damaged and set aside."""
    path = places.settings_file()
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise CoachError(f'cannot read the settings "{path}": {error}') from error
    try:
        form = json.loads(content)
    except DAMAGED:
        form = None
    if not isinstance(form, dict):
        _set_aside()
        return None
    known = {each.name: each for each in fields(Settings) if each.name != "others"}
    settings = Settings(others={name: value for name, value in form.items() if name not in known})
    for name in known:
        value = form.get(name)
        if value is not None and _sensible(name, value):
            settings = replace(settings, **{name: value})
    return settings


def save(settings: Settings) -> None:
    """Write the settings whole or not at all.

    Raises:
        CoachError: the file cannot be written.
    """
    form = asdict(settings)
    form = {**form.pop("others"), **form}
    path = places.settings_file()
    try:
        write_whole(path, json.dumps(form, indent=2) + "\n")
    except OSError as error:
        raise CoachError(f'cannot write the settings "{path}": {error.strerror}') from error


def _sensible(name: str, value: object) -> bool:
    start = getattr(Settings(), name)
    if isinstance(start, bool) or isinstance(value, bool):
        return isinstance(start, bool) and isinstance(value, bool)
    if isinstance(start, str):
        allowed = {"comfort": tuple(COMFORT), "way_out": WAYS_OUT}.get(name)
        return isinstance(value, str) and (allowed is None or value in allowed)
    if not isinstance(value, int | float):
        return False
    if name.endswith("span_mm"):
        return SMALLEST_SPAN_MM <= value <= LARGEST_SPAN_MM
    if name == "octave_mm":
        return NARROWEST_OCTAVE_MM <= value <= WIDEST_OCTAVE_MM
    if name == "keys":
        return value in COMPASS
    return isinstance(value, int) and 5 <= value <= 240


def _set_aside() -> None:
    path = places.settings_file()
    os.replace(path, path.with_name("settings.damaged.json"))
