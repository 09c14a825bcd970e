"""Hands: the span of each hand, typed or measured at the keyboard, how far it likes to stretch, and the keyboard."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.widgets import Input, Select, Static

from coach.fingering.hand import (
    CAUTION,
    REACH_BELOW_SPAN_MM,
    Hand,
    reaches,
)
from coach.fingering.keyboard import OCTAVES_MM, Keyboard
from coach.fingering.plan import Side
from coach.lengths import LARGEST_SPAN_MM, MM_AN_INCH, SMALLEST_SPAN_MM, span_of
from coach.listening.events import Event
from coach.screens.base import CoachScreen, Head, Prose
from coach.screens.hints import Hints
from coach.settings import COMFORT, COMPASS

HELD = 1.0
"""Seconds that an interval must be held to be measured."""

WAY_WORDS = {"raise": "play an octave higher", "roll": "roll the chord", "omit": "leave out"}
"""What to do with a note out of reach, in the player's words."""


class HandsScreen(CoachScreen[None]):
    """The player's hands and keyboard."""

    called = "Hands"
    about = (
        "Plans are made for these hands at this keyboard. Type the span of each, thumb tip to little-finger tip, "
        "as 208 mm or 8.2 in; or press F2 or F3 and hold the widest interval that is comfortable with that hand "
        "for a second: whatever you held is within reach from then on. Stretches say how willingly a hand opens, "
        "not how far. Enter takes a field and goes to the next. What you practise is planned anew when you leave."
    )
    DEFAULT_CSS = """
    HandsScreen VerticalScroll { padding: 1 2; }
    HandsScreen Horizontal { height: auto; margin-bottom: 1; }
    HandsScreen .name { width: 22; }
    HandsScreen Input, HandsScreen Input:focus { width: 14; }
    HandsScreen Select { width: 28; height: 1; }
    HandsScreen #caution { color: $warning; }
    HandsScreen #measured { padding: 0 2; height: auto; }
    HandsScreen .reach { width: 1fr; padding: 0 0 0 2; color: $secondary; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f2", "measure('right')", "Measure right", key_display="F2"),
        Binding("f3", "measure('left')", "Measure left", key_display="F3"),
        Binding("tab", "app.focus_next", "Next field", key_display="Tab", show=True),
        Binding("enter", "done", "Keep", key_display="Enter"),
        Binding("escape", "done", "Back", key_display="Esc"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._measuring: Side | None = None
        self._down: dict[int, float] = {}

    def compose(self) -> ComposeResult:
        settings = self.coach.settings
        yield Head("Hands")
        with VerticalScroll(can_focus=False):
            yield Prose(f"{CAUTION}\n", id="caution")
            yield Prose(
                "The span is measured from the tip of the thumb to the tip of the little finger of the open, relaxed "
                "hand, in mm or in inches. Or measure it here: F2 or F3, then hold the widest interval that is "
                "comfortable.\n",
            )
            for side, span in (("right", settings.right_span_mm), ("left", settings.left_span_mm)):
                with Horizontal():
                    yield Prose(f"{side.capitalize()} hand", classes="name")
                    yield Input(f"{span:g} mm", id=side, select_on_focus=True)
                    yield Prose(id=f"reach-{side}", classes="reach")
            with Horizontal():
                yield Prose("Stretches", classes="name")
                yield Select(
                    [(f"{name}", name) for name in COMFORT],
                    value=settings.comfort, allow_blank=False, compact=True, id="comfort",
                )  # fmt: skip
            with Horizontal():
                yield Prose("A note out of reach", classes="name")
                yield Select(
                    [(words, way) for way, words in WAY_WORDS.items()],
                    value=settings.way_out, allow_blank=False, compact=True, id="way",
                )  # fmt: skip
            with Horizontal():
                yield Prose("Width of an octave", classes="name")
                yield Select(
                    [(f"{name} ({mm:g} mm)", mm) for name, mm in _widths(settings.octave_mm).items()],
                    value=settings.octave_mm, allow_blank=False, compact=True, id="octave",
                )  # fmt: skip
            with Horizontal():
                yield Prose("Keys", classes="name")
                yield Select(
                    [(f"{keys} keys", keys) for keys in COMPASS],
                    value=settings.keys, allow_blank=False, compact=True, id="keys",
                )  # fmt: skip
        # Not at the end of what scrolls: in a small window nobody would see it, with the hands on the keys.
        yield Prose(id="measured")
        yield Hints()

    def on_mount(self) -> None:
        settings = self.coach.settings
        self._planned_for = settings.hands, settings.options
        self.set_interval(0.1, self._watch)
        self._show_reach()
        self.query_one("#right", Input).focus()

    # Typing

    def on_input_submitted(self, event: Input.Submitted) -> None:
        event.stop()
        if self._take(event.input):
            self.focus_next()

    def on_input_blurred(self, event: Input.Blurred) -> None:
        self._take(event.input)

    def _take(self, field: Input) -> bool:
        """Take what was typed into a field; what is no span is said and put back."""
        span = span_of(field.value)
        side = field.id
        before = self.coach.settings.right_span_mm if side == "right" else self.coach.settings.left_span_mm
        if span is None:
            self.coach.say(
                f"“{field.value}” is no span of a hand: {SMALLEST_SPAN_MM:.0f} to {LARGEST_SPAN_MM:.0f} mm, "
                f"or {SMALLEST_SPAN_MM / MM_AN_INCH:.1f} to {LARGEST_SPAN_MM / MM_AN_INCH:.1f} in.",
                problem=True,
            )
            field.value = f"{before:g} mm"
            return False
        if span != before:
            self.coach.change_settings(**{f"{side}_span_mm": span})
        field.value = f"{span:g} mm"
        self._show_reach()
        return True

    def on_select_changed(self, event: Select.Changed) -> None:
        name = {"octave": "octave_mm", "keys": "keys", "comfort": "comfort", "way": "way_out"}[event.select.id or ""]
        if getattr(self.coach.settings, name) != event.value:
            self.coach.change_settings(**{name: event.value})
            self._show_reach()

    def _show_reach(self) -> None:
        settings = self.coach.settings
        keyboard = Keyboard(octave_mm=settings.octave_mm)
        for side, span in (("right", settings.right_span_mm), ("left", settings.left_span_mm)):
            self.query_one(f"#reach-{side}", Static).update(reaches(Hand(span), keyboard))

    # Measuring

    def action_measure(self, side: Side) -> None:
        """Measure a hand at the keyboard."""
        link = self.coach.link
        if link is None or link.state != "listening":
            self.coach.say("To measure at the keyboard, connect one first; or type the span.", about="keyboard")
            return
        self._measuring = side
        self._down.clear()
        self.query_one("#measured", Static).update(
            f"Hold the widest interval that is comfortable with the {side} hand, thumb and little finger, for a second."
        )

    def hear(self, events: Sequence[Event]) -> None:
        for event in events:
            if event.kind == "press":
                self._down[event.key] = event.seconds
            elif event.kind == "release":
                self._down.pop(event.key, None)

    def _watch(self) -> None:
        """Take the interval once it was held long enough."""
        if self._measuring is None or len(self._down) != 2:
            return
        if self.coach.clock() - max(self._down.values()) < HELD:
            return
        side, self._measuring = self._measuring, None
        low, high = sorted(self._down)
        width = Keyboard(octave_mm=self.coach.settings.octave_mm).distance_mm(low, high)
        span = span_that_reaches(width)
        line = self.query_one("#measured", Static)
        if not SMALLEST_SPAN_MM <= span <= LARGEST_SPAN_MM:
            line.update(f"That interval is {width:.0f} mm wide: not the span of a hand. F2 or F3 measures again.")
            return
        self.coach.change_settings(**{f"{side}_span_mm": float(span)})
        self.query_one(f"#{side}", Input).value = f"{span} mm"
        line.update(f"Measured: {width:.0f} mm between the keys, a span of {span} mm for the {side} hand.")
        self._show_reach()

    def action_done(self) -> None:
        """Keep what was typed and leave."""
        for side in ("right", "left"):
            if not self._take(self.query_one(f"#{side}", Input)):
                return
        settings = self.coach.settings
        if (settings.hands, settings.options) != self._planned_for:
            self.coach.plan_all_anew()
        self.dismiss()


def span_that_reaches(width_mm: float) -> int:
    """The span in whole mm of a hand that held two keys: up, for what was held is within reach.

    Args:
        width_mm: Distance between the centres of the two keys.
    """
    # The last digits of a float are the arithmetic's, not the hand's.
    return math.ceil(width_mm + REACH_BELOW_SPAN_MM - 1e-6)


def _widths(own: float) -> dict[str, float]:
    """The widths to choose from: those that keyboards are built with, and the player's own, if it is another one."""
    return OCTAVES_MM if own in OCTAVES_MM.values() else {"yours": own, **OCTAVES_MM}
