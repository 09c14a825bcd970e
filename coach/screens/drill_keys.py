"""The keys of a drill: what each does, and whether it does anything as things stand."""

from __future__ import annotations

from dataclasses import dataclass

from textual.binding import Binding, BindingType

from coach.fingering.plan import SIDES, Side
from coach.practice.drill import Phase
from coach.practice.ladder import FALL_BACK_AT, MISS, PASSES_IN_A_ROW

TEMPO_STEP = 4
"""Quarter notes a minute by which a key changes the tempo."""

BINDINGS: list[BindingType] = [
    Binding("space", "start", "Count in", key_display="Space", tooltip="begin, begin again, or end a take"),
    Binding("n", "move(1)", "Next", tooltip="the next passage"),
    Binding("v", "move(-1)", "Before", tooltip="the passage before"),
    Binding("r", "hand('right')", "Right", tooltip="the right hand alone"),
    Binding("l", "hand('left')", "Left", tooltip="the left hand alone"),
    Binding("b", "hand('both')", "Both", tooltip="both hands"),
    Binding("t", "clock", "Tempo", tooltip="in tempo, with a count-in, or chord by chord at your leisure"),
    Binding(
        "plus,equals_sign", f"tempo({TEMPO_STEP})", "Faster, slower", key_display="+ -",
        tooltip=f"faster or slower by {TEMPO_STEP} quarter notes a minute",
    ),
    Binding("minus", f"tempo(-{TEMPO_STEP})", "Slower", show=False),
    Binding("f", "fingers", "Fingers", tooltip="which fingers are written: all, at changes of place, none"),
    Binding("p", "peek", "Peek", tooltip="look at hidden fingers while you hold the key"),
    Binding("s", "steps", "Step", tooltip="choose another step of the ladder"),
    Binding("h", "hear_it", "Hear it", tooltip="hear the passage as planned, on the MIDI output"),
    Binding("c", "clicks", "Clicks", tooltip="clicks on the beat in tempo, on the MIDI output, or none"),
    Binding("right", "look(1)", "Look through", key_display="← →", tooltip="what the plan says, chord by chord"),
    Binding("left", "look(-1)", "Look back", show=False),
    Binding(
        "up", "show_fingers(True)", "Show, hide fingers", key_display="↑ ↓",
        tooltip="show or hide the fingers to read them; the take is asked for as before",
    ),
    Binding("down", "show_fingers(False)", "Hide fingers", show=False),
    Binding("escape", "leave", "Leave", key_display="Esc", tooltip="leave the drill; a take that goes on is kept"),
]  # fmt: skip
"""Key by key, with what its hint says and what help says of it."""

NUMBERS = {2: "two", 3: "three", 6: "six"}

ABOUT = (
    "Play what is asked for above the table; what was heard stands below it. "
    f"{NUMBERS[PASSES_IN_A_ROW].capitalize()} solid takes in a row pass a step, or the very first take of it, and "
    f"the next step comes by itself. {NUMBERS[FALL_BACK_AT // MISS['weak']].capitalize()} weak takes in a row, or "
    f"{NUMBERS[FALL_BACK_AT // MISS['shaky']]} that are shaky, fall back a step: “Back to: right hand” says which "
    "one is asked for from then on. A change of chords that keeps failing is played on its own until it is mended.\n"
    "r, l, b, t, + and - choose another way to play the same passage: one hand or both, in tempo or chord by chord, "
    "faster or slower. What you choose so is heard and kept; the ladder counts it where it is one of its steps. In "
    "tempo you are counted in, and the beat clicks where there is a MIDI output: c takes the clicks away, and the "
    "count stands above the table all the same."
)
"""What help says of it."""


@dataclass(frozen=True, slots=True)
class Standing:
    """What the keys depend on.

    Attributes:
        phase: Of the drill.
        in_tempo: Whether the passage is asked for in tempo.
        hidden: Whether some fingers are hidden.
        first, last: Whether the passage is the first, or the last, of what is gone through.
        clicks: Whether the beat clicks.
        resting: Whether the player is asked to rest.
        hands: The hands that have something to play in the passage.
    """

    phase: Phase = "ready"
    in_tempo: bool = False
    hidden: bool = False
    first: bool = True
    last: bool = True
    clicks: bool = False
    resting: bool = False
    hands: tuple[Side, ...] = SIDES

    @property
    def going_on(self) -> bool:
        """Whether a take goes on."""
        return self.phase in ("counting", "playing")


def works(action: str, parameters: tuple[object, ...], now: Standing) -> bool:
    """Whether a key does anything.

    Args:
        action, parameters: What it does, as its binding names it.
        now: How things stand.
    """
    if action == "start":
        # Chord by chord the first chord begins; only the words that ask for rest can be put away.
        return now.in_tempo or now.phase != "ready" or now.resting
    if action == "peek":
        return now.hidden
    if action == "look":
        return not now.going_on
    if action == "move" and parameters == (-1,):
        return not now.first
    if action == "hand" and parameters != ("both",):
        return parameters[0] in now.hands
    return True


def says(action: str, words: str, now: Standing) -> str:
    """What the hint of a key says.

    Args:
        action: What it does, parameters and all.
        words: What its hint says otherwise.
        now: How things stand.
    """
    if action == "start":
        if now.going_on:
            return "End take"
        return words if now.in_tempo else "Go on" if now.phase == "ready" else "Again"
    if action == "move(1)" and now.last:
        return "End"
    if action == "clock" and now.in_tempo:
        return "Chord by chord"
    if action == "clicks" and now.clicks:
        return "No clicks"
    return words
