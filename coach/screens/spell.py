"""Away from the piano: the fingers of a phrase typed chord by chord, checked against the plan, kept apart."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widgets import Input, Static

from coach.errors import CoachError
from coach.fingering.plan import PhrasePlan
from coach.listening.expected import Hand
from coach.listing import capital
from coach.paper.cells import first_stanza
from coach.practice import days
from coach.practice.marks import Cell, Mark
from coach.practice.music import Music
from coach.practice.passage import Passage
from coach.practice.spelling import Spelling, spelled, spelling_of
from coach.score.counting import place_words
from coach.screens.base import CoachScreen, Head, Prose
from coach.screens.chord_table import ChordTableView
from coach.screens.hints import Hints
from coach.screens.words import as_sentence, pretty


class SpellScreen(CoachScreen[None]):
    """A phrase without its fingers, and a line to type them in."""

    called = "Away from the piano"
    about = (
        "Type the fingers of each chord as you would play it, from the highest note down, and Enter: 521 for "
        "three notes. Each answer is held against the plan. What you spell is kept, apart from what you play."
    )
    DEFAULT_CSS = """
    SpellScreen #page { height: 1fr; padding: 1 1 0 1; }
    SpellScreen #asked, SpellScreen #said { padding: 0 2; height: auto; }
    SpellScreen Input, SpellScreen Input:focus { margin: 0 2 1 2; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "answer", "Answer", key_display="Enter", priority=True),
        Binding("escape", "dismiss", "Back", key_display="Esc"),
    ]

    def __init__(self, music: Music, passage: Passage, plan: PhrasePlan, hand: Hand = "both") -> None:
        """Have a phrase spelled.

        Args:
            music: The piece.
            passage: The phrase.
            plan: Its plan.
            hand: One hand, or both.

        Raises:
            CoachError: the hand strikes nothing in this phrase.
        """
        super().__init__()
        self._music, self._passage, self._plan, self._hand = music, passage, plan, hand
        self._spelling: Spelling = spelling_of(plan, hand)

    @property
    def spelling(self) -> Spelling:
        """How far it has come."""
        return self._spelling

    def compose(self) -> ComposeResult:
        yield Head(f"{self._music.piece.title} · {self._passage.label} · away from the piano")
        with VerticalScroll(id="page", can_focus=False):
            yield ChordTableView(live=True, id="table")
        yield Prose(id="said")
        yield Prose(id="asked")
        yield Input(placeholder="fingers from the top down: 521")
        yield Hints()

    def on_mount(self) -> None:
        side = None if self._hand == "both" else self._hand
        table = self.query_one(ChordTableView)
        table.show(self._plan, side, first_stanza(self._music.piece, self._plan))
        table.fingers = "none"
        self.query_one(Input).focus()
        self._ask()

    def _ask(self) -> None:
        chord = self._spelling.current
        table = self.query_one(ChordTableView)
        table.mark(self._marks(), chord.place - 1 if chord else None)
        if chord is None:
            self.query_one("#asked", Static).update(
                f"{self._spelling.right} of {len(self._spelling.chords)} chords as planned. Esc goes back."
            )
            table.fingers = "all"
            return
        hands = ", ".join(f"{side} hand {' '.join(pitches)}" for side, pitches in chord.pitches.items())
        self.query_one("#asked", Static).update(pretty(capital(f"{place_words(chord.bar, chord.beat)}: {hands}")))

    def _marks(self) -> dict[Cell, Mark]:
        """Chords that were spelled, as right or wrong."""
        marks: dict[Cell, Mark] = {}
        for answer in self._spelling.answers:
            for number, note in enumerate(self._plan.chords[answer.place - 1].notes):
                if note.struck and note.finger and self._hand in ("both", note.hand):
                    marks[answer.place - 1, number] = "right" if answer.right else "wrong"
        return marks

    def action_answer(self) -> None:
        """Check what was typed against the plan."""
        field, said = self.query_one(Input), self.query_one("#said", Static)
        if self._spelling.current is None:
            self.dismiss()
            return
        try:
            self._spelling = self._spelling.typed(field.value)
        except CoachError as error:
            said.update(as_sentence(str(error)))
            return
        answer = self._spelling.answers[-1]
        said.update("As planned." if answer.right else f"Planned: {answer.asked}.")
        field.value = ""
        if self._spelling.current is None:
            self._keep()
        self._ask()

    def _keep(self) -> None:
        log = self.coach.kept_log()
        if log is None:
            return
        title, source = self._music.piece.title, self._music.name
        done = spelled(self._spelling, self._passage, title, self._plan, at=days.now(), hand=self._hand, source=source)
        try:
            log.keep_spelling(done)
        except CoachError as error:
            self.coach.say(str(error), problem=True)
