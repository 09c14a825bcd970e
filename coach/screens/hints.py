"""The foot of every screen: what is said in passing, and each key with what it does, in as many lines as that takes; a
click does the same."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, ClassVar

from textual import events
from textual.app import ComposeResult, RenderResult
from textual.containers import Vertical
from textual.content import Content
from textual.geometry import Size
from textual.screen import Screen
from textual.widget import Widget

from coach.screens.base import CoachScreen
from coach.screens.notice import Notice

GAP = 2
"""Places between two hints."""


@dataclass(frozen=True, slots=True)
class Hint:
    """One key with its meaning, and where it stands.

    Attributes:
        key: As Textual calls it.
        shown: As the player reads it.
        says: What it does.
        more: The same for who asks for help.
        enabled: Whether it does anything now.
        line, column: Where it begins.
    """

    key: str
    shown: str
    says: str
    more: str
    enabled: bool
    line: int = 0
    column: int = 0

    @property
    def width(self) -> int:
        return len(self.shown) + 1 + len(self.says)


class Hints(Vertical):
    """The foot of the screen that it stands on."""

    DEFAULT_CSS = """
    Hints { dock: bottom; height: auto; background: $panel; }
    """

    def compose(self) -> ComposeResult:
        yield Notice()
        yield Keys()


class Keys(Widget):
    """The keys."""

    DEFAULT_CSS = """
    Keys { height: auto; padding: 0 1; color: $secondary; }
    Keys .hints--key { color: $foreground; text-style: bold; }
    Keys .hints--off { text-style: dim; }
    """
    COMPONENT_CLASSES: ClassVar[set[str]] = {"hints--key", "hints--off"}

    def __init__(self) -> None:
        super().__init__()
        self._hints: tuple[Hint, ...] = ()

    def on_mount(self) -> None:
        self.screen.bindings_updated_signal.subscribe(self, lambda _: self._look())
        self._look()

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        placed = placed_hints(hints_of(self.screen), width)
        return placed[-1].line + 1 if placed else 1

    def render(self) -> RenderResult:
        self._hints = placed_hints(hints_of(self.screen), self.content_size.width)
        key, off = (self.get_component_styles(name).text_style for name in ("hints--key", "hints--off"))
        colour = self.get_component_styles("hints--key").color
        lines: dict[int, list[Content]] = {}
        for hint in self._hints:
            style = f"{key} {colour.hex}" if hint.enabled else str(off)
            line = lines.setdefault(hint.line, [])
            line.append(Content.assemble((hint.shown, style), " ", (hint.says, "" if hint.enabled else str(off))))
        gap = Content(" " * GAP)
        return Content("\n").join(gap.join(line) for line in lines.values())

    def on_click(self, event: events.Click) -> None:
        offset = event.get_content_offset(self)
        if offset is None:
            return
        for hint in self._hints:
            if hint.line == offset.y and hint.column <= offset.x < hint.column + hint.width:
                self.app.simulate_key(hint.key)

    def _look(self) -> None:
        self.refresh(layout=True)


def hints_of(screen: Screen[Any]) -> list[Hint]:
    """The keys of a screen that do something as things stand, those of its widgets and of the app among them."""
    hints = []
    seen = set()
    for active in screen.active_bindings.values():
        binding = active.binding
        if not binding.show or not binding.description or binding.action in seen:
            continue
        seen.add(binding.action)
        says = binding.description
        if isinstance(screen, CoachScreen):
            says = screen.hint(binding.action, says)
        hints.append(
            Hint(binding.key, screen.app.get_key_display(binding), says, binding.tooltip or says, active.enabled)
        )
    return hints


def placed_hints(hints: list[Hint], width: int) -> tuple[Hint, ...]:
    """Hints line by line."""
    placed: list[Hint] = []
    line = column = 0
    for hint in hints:
        if column and column + hint.width > width:
            line, column = line + 1, 0
        placed.append(replace(hint, line=line, column=column))
        column += hint.width + GAP
    return tuple(placed)
