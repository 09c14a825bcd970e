"""Help: what the pianist can do from the bench, what the signs mean, and the keys."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widgets import Static

from coach.fingering.hand import CAUTION
from coach.screens.base import CoachScreen, Head
from coach.screens.hints import Hints

CAUTION_LINES = CAUTION.replace(". ", ".\n  ")

TEXT = f"""\
[b]From the piano[/b]
  Play the first chord of the phrase: the take begins
  (in tempo: you are counted in). Play it again: it begins again.
  Let go of the last chord: the take ends and is judged. In tempo a
  pause ends it too; chord by chord it waits for you, and Space ends it.
  A passed step moves on by itself.
  The sustain pedal twice, quickly: the next phrase. Three times: back.

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
  ~ late: after the others, or after the beat
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
  {CAUTION_LINES}

[b]Everywhere[/b]
  ? or F1 help   ^p all commands   Esc back   ^q quit
"""


class HelpScreen(CoachScreen[None]):
    """One page of help."""

    DEFAULT_CSS = """
    HelpScreen VerticalScroll { padding: 1 2; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,question_mark,f1,q", "dismiss", "Back", key_display="Esc"),
        Binding("down", "scroll(1)", "Read on", key_display="↑ ↓"),
        Binding("up", "scroll(-1)", "Read back", show=False),
    ]

    def compose(self) -> ComposeResult:
        yield Head("Help")
        with VerticalScroll(can_focus=False):
            yield Static(TEXT)
        yield Hints()

    def action_scroll(self, by: int) -> None:
        """Move the page by some lines."""
        self.query_one(VerticalScroll).scroll_relative(y=4 * by, animate=False)
