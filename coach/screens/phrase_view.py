"""One phrase on the screen of a piece: its heading, its chord table, and why each chord is played so."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Static

from coach.fingering.plan import PhrasePlan
from coach.paper.chord_table import heading
from coach.paper.reasons_text import reasons_in
from coach.score.counting import bar_words, beat_words
from coach.screens.base import Prose
from coach.screens.chord_table import ChordTableView

MOST_CHANGES = 3
"""Changes of who plays what that a heading names."""


class PhraseView(Vertical):
    """One phrase of the piece.

    Attributes:
        plan: The phrase.
        stands: How it stands, in a few words; shown when it is pointed at next.
    """

    DEFAULT_CSS = """
    PhraseView { height: auto; padding: 0 1; margin-bottom: 1; border-left: blank; }
    PhraseView.-chosen { border-left: thick $primary; }
    PhraseView .heading { color: $secondary; }
    PhraseView.-chosen .heading { color: $foreground; text-style: bold; }
    PhraseView .reasons { padding: 1 1 0 1; display: none; color: $foreground; }
    PhraseView.-reasons .reasons { display: block; }
    """

    def __init__(self, plan: PhrasePlan, syllables: dict[float, str]) -> None:
        """Show a phrase.

        Args:
            plan: The phrase.
            syllables: The first stanza's, by onset.
        """
        super().__init__()
        self.plan = plan
        self.stands = ""
        self._syllables = syllables

    def compose(self) -> ComposeResult:
        yield Prose(classes="heading")
        yield ChordTableView()
        yield Static(reasons(self.plan), classes="reasons")

    def on_mount(self) -> None:
        self.query_one(ChordTableView).show(self.plan, None, self._syllables)
        self.point(chosen=False)

    def point(self, *, chosen: bool) -> None:
        """Mark the phrase as the chosen one, by a sign as well."""
        self.set_class(chosen, "-chosen")
        words = [*heading(self.plan, 200), distributions(self.plan), self.stands]
        said = " · ".join(word for word in words if word)
        self.query_one(".heading", Static).update(Content(f"{'▸' if chosen else ' '} {said}"))


def distributions(plan: PhrasePlan) -> str:
    """How the notes are shared over the phrase: "2+2, 3+1 from bar 2"; where that changes often, "mostly 2+2"."""
    if not plan.chords:
        return ""
    first = plan.chords[0]
    shared = Counter(chord.distribution for chord in plan.chords)
    changes = [chord for before, chord in pairwise(plan.chords) if chord.distribution != before.distribution]
    if len(changes) > MOST_CHANGES:
        usual, chords = shared.most_common(1)[0]
        if 2 * chords > len(plan.chords):
            return f"mostly {usual}"
    named = Counter(chord.bar for chord in (first, *changes))
    said = [
        f"{chord.distribution} from {bar_words(chord.bar)}"
        + (f" {beat_words(chord.beat)}" if named[chord.bar] > 1 else "")
        for chord in changes[:MOST_CHANGES]
    ]
    return ", ".join([first.distribution, *said, *(["and so on"] if len(changes) > MOST_CHANGES else [])])


def reasons(plan: PhrasePlan) -> Content:
    """Why each chord of a phrase is played so."""
    return Content("\n").join([Content(f"{where}: {said}") for where, said in reasons_in(plan)])
