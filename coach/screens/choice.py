"""Your own choices for a piece: a finger, a distribution, a lift or a join, written in one line; the rest is planned
around them."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Input, Static

from coach.errors import CoachError
from coach.fingering.notation import read_fix, write_fix
from coach.practice import chosen
from coach.practice.music import Music
from coach.screens.base import CoachScreen, Head, Prose
from coach.screens.hints import Hints
from coach.screens.words import as_sentence

HOW = """\
Write bar and beat, then what you choose there:
  3:2.5 soprano 4     a finger for a note (or by its pitch: 3:2.5 E5 4)
  3:2.5 2+2           notes of the right hand + notes of the left
  3:2.5 right lift    the hand lifts after this chord; or: 3:2.5 left join
  3:2.5 soprano free  takes a choice back (hands free, right free)
3:2.5 is beat 2& of bar 3, 3:2.25 and 3:2.75 are its e and a; the pickup is bar 0.
"""


class ChoiceScreen(CoachScreen[bool]):
    """One line to write a choice in; gives whether anything was changed."""

    called = "Your choices"
    about = (
        "Write where, by bar and beat, and what you choose there: a finger for a voice or a pitch, how the hands "
        "share the notes, a lift or a join. The rest is planned around it; what cannot be is refused with the "
        "reason. What you chose so far stands below."
    )
    DEFAULT_CSS = """
    ChoiceScreen #how, ChoiceScreen #now, ChoiceScreen #said { padding: 1 2 0 2; }
    ChoiceScreen #said { color: $error; }
    ChoiceScreen Input, ChoiceScreen Input:focus { margin: 1 2 0 2; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "make", "Choose", key_display="Enter", priority=True),
        Binding("escape", "leave", "Back", key_display="Esc"),
    ]

    def __init__(self, music: Music, start: str = "") -> None:
        """Offer to choose.

        Args:
            music: The piece.
            start: What stands in the line at first, "3:2 ".
        """
        super().__init__()
        self._music = music
        self._start = start
        self._changed = False

    def compose(self) -> ComposeResult:
        yield Head(f"{self._music.piece.title} · your choices")
        yield Prose(HOW, id="how")
        yield Input(self._start, select_on_focus=False)
        yield Prose(id="said")
        yield Prose(id="now")
        yield Hints()

    def on_mount(self) -> None:
        self.query_one(Input).focus()
        self._list()

    def _list(self) -> None:
        piece = self._music.piece
        try:
            fixes = sorted(chosen.choices_of(piece).fixes, key=lambda fix: fix.onset)
        except CoachError as error:
            self.coach.say(str(error), problem=True)
            return
        lines = [f"  {write_fix(fix, piece)}" for fix in fixes]
        self.query_one("#now", Static).update("\n".join(["Chosen so far:", *lines]) if lines else "")

    def action_make(self) -> None:
        """Make the choice, or say why it cannot be."""
        field = self.query_one(Input)
        music, said = self._music, self.query_one("#said", Static)
        if field.value.strip() == self._start.strip():
            self.action_leave()
            return
        try:
            wish = read_fix(field.value, music.piece)
            made = chosen.make(music.piece, music.phrases, [wish], music.hands, music.options)
        except CoachError as error:
            said.update(as_sentence(str(error)))
            return
        said.update(as_sentence(made.said))
        self._changed = True
        field.value = self._start
        self._list()

    def action_leave(self) -> None:
        """Back to the piece."""
        self.dismiss(self._changed)
