"""Help: what one does on the screen one is on and its keys; then what can be done from the bench, and the signs."""

from __future__ import annotations

from typing import Any, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Static

from coach.fingering.hand import CAUTION
from coach.paper.signs import breadth, padded
from coach.screens.base import CoachScreen, Head
from coach.screens.chord_table import sign_of
from coach.screens.hints import Hints, hints_of
from coach.screens.terminal import signs_here

HELP_KEYS = frozenset(["question_mark", "f1"])

CAUTION_LINES = CAUTION.replace(". ", ".\n  ")

GENERAL = """\
[b]From the piano[/b]
  Play the first chord of the phrase: the take begins
  (in tempo: you are counted in). Play it again: it begins again.
  Let go of the last chord, or play on: the take ends and is judged.
  In tempo a pause ends it too; chord by chord it waits for you, and
  Space ends it.
  A passed step moves on by itself.
  The sustain pedal twice, quickly, between two takes: the next phrase.
  Three times: back.

[b]The chord table[/b]
  A column is a chord, a row a voice.
  Each cell holds a note and its finger, 1 the thumb.
  The right hand's bracket stands right of its notes, the left's left.
  A slur joins a group of chords; a comma says that the hand lifts;
  a line holds a note.
  ↑ an octave higher than written   ∫ roll
  ( ) leave out   ° a chosen finger

[b]While you play[/b]
  ▸ the chord to play
  • struck as planned, kept as planned, lifted as planned
  {late} late: after the others, or after the beat
  × another key, or no lift where one is planned
  ○ missing, or let go too early

[b]Steps[/b]
  Right hand, left hand, together chord by chord, together in tempo,
  fewer fingers shown, no fingers, and again from memory days later.
  Each is passed by what was heard, never by what you say: by two solid
  takes in a row, or by the very first take of it.
  Press s in a drill to choose another step.
  Solid: together, in tempo, without fingers, on two separate days.
  Weak: a review failed, or the last take of a new phrase.
  Shaky: all between.

[b]Rest[/b]
  {caution}

[b]Everywhere[/b]
  ? or F1 help   ^p all commands   Esc back   ^q quit
"""
"""What holds everywhere; `late` is the sign for that, which is another one where there are few."""


def general() -> str:
    """What holds everywhere, as markup."""
    return GENERAL.format(late=sign_of("late", signs_here()), caution=CAUTION_LINES)


def part_about(screen: Screen[Any]) -> Content:
    """What one does on a screen, and its keys as things stand; nothing where there is nothing to say.

    Args:
        screen: The one that is up.
    """
    if not isinstance(screen, CoachScreen) or not screen.called:
        return Content("")
    keys = [hint for hint in hints_of(screen) if hint.key not in HELP_KEYS]
    room = max((breadth(hint.shown) for hint in keys), default=0)
    lines = [f"  {padded(hint.shown, room)}  {hint.more}" for hint in keys]
    return Content.assemble((screen.called, "bold"), "\n", screen.about, "\n\n", "\n".join(lines), "\n")


class HelpScreen(CoachScreen[None]):
    """A page of help about the screen that it is asked for on, and about all else."""

    DEFAULT_CSS = """
    HelpScreen VerticalScroll { padding: 1 2; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,question_mark,f1,q", "dismiss", "Back", key_display="Esc"),
        Binding("down", "scroll(1)", "Read on", key_display="↑ ↓"),
        Binding("up", "scroll(-1)", "Read back", show=False),
    ]

    def __init__(self, about: Screen[Any]) -> None:
        """Help.

        Args:
            about: The screen that is up.
        """
        super().__init__()
        # Its keys are those that do something while it is up, not behind this page.
        self._part = part_about(about)

    def compose(self) -> ComposeResult:
        yield Head("Help")
        with VerticalScroll(can_focus=False):
            yield Static(self._part, id="part")
            yield Static(general())
        yield Hints()

    def action_scroll(self, by: int) -> None:
        """Move the page by some lines."""
        self.query_one(VerticalScroll).scroll_relative(y=4 * by, animate=False)
