"""A piece: all its phrases with their tables and reasons; hear them, drill them, split and join them."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import ClassVar

from textual import work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from coach.errors import CoachError
from coach.fingering.choices import Choices
from coach.fingering.hand import CAUTION
from coach.fingering.notation import write_fix
from coach.paper.cells import first_stanza
from coach.paper.reasons_text import reasons_of
from coach.paper.sheet_files import Order, page_file, written
from coach.paper.sound import sounding
from coach.practice import chosen
from coach.practice.music import Music, cut_anew, planned_anew
from coach.practice.outlook import Outlook, outlook
from coach.practice.work import phrases_from
from coach.score import cuts
from coach.score.bar_beat import place_written
from coach.score.counting import place_words
from coach.score.page import exact
from coach.score.piece import Phrase, Piece, Quarters
from coach.screens.base import CoachScreen, Head, Prose
from coach.screens.chord_table import ChordTableView
from coach.screens.hints import Hints
from coach.screens.phrase_view import PhraseView
from coach.screens.sounding import Sounding
from coach.screens.words import as_sentence
from coach.whole import write_whole

ANSWERS = frozenset(["drill", "move", "back"])
"""What the keys do that answer where to cut; all others wait until it is answered."""

Change = Callable[[Piece, Sequence[Phrase], Quarters], tuple[Phrase, ...]]
"""Cuts a piece otherwise, at an onset."""


@dataclass(frozen=True, slots=True)
class Cutting:
    """A cut for which a chord is being chosen.

    Attributes:
        words: What it does, up to where.
        key: What the key says that does it.
        change: How the phrases change.
    """

    words: str
    key: str
    change: Change


class PieceScreen(CoachScreen[None]):
    """All phrases of a piece."""

    called = "A piece"
    about = (
        "All its phrases with hands and fingers. Choose a phrase and drill it, hear it, or read why each chord is"
        " played so. Where a phrase should begin or end elsewhere, split it, join it with the next one or move "
        "its end: you choose the chord, Enter does it. Your own choices of fingers are kept and planned around; "
        "Undo takes back a choice, not a cut."
    )
    DEFAULT_CSS = """
    PieceScreen #phrases { height: 1fr; padding: 1 0 0 0; }
    PieceScreen #remarks { padding: 0 2 1 2; color: $secondary; height: auto; }
    PieceScreen #said { padding: 0 2; height: auto; display: none; }
    PieceScreen #said.-on { display: block; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "drill", "Drill", key_display="Enter", priority=True),
        Binding("down", "choose(1)", "Phrase", key_display="↑ ↓", priority=True),
        Binding("up", "choose(-1)", "Phrase before", show=False, priority=True),
        Binding("h", "hear_it", "Hear it"),
        Binding("y", "reasons", "Why"),
        Binding("s", "split", "Split"),
        Binding("j", "join", "Join with next"),
        Binding("m", "move_end", "Move end"),
        Binding("right", "move(1)", "Chord", key_display="← →"),
        Binding("left", "move(-1)", "Chord before", show=False),
        Binding("f", "choose_fingers", "Your choices"),
        Binding("u", "undo", "Undo choice"),
        Binding("o", "redo", "Redo choice"),
        Binding("a", "alternatives", "Alternatives"),
        Binding("w", "spell", "Away from the piano"),
        Binding("p", "print", "Print"),
        Binding("t", "take_up", "Practise daily"),
        Binding("d", "date", "Ready by"),
        Binding("escape", "back", "Back", key_display="Esc"),
    ]

    def __init__(self, music: Music) -> None:
        super().__init__()
        self.music = music
        self.views: list[PhraseView] = []
        self.chosen = 0
        self._cutting: Cutting | None = None
        self._all_reasons = False
        self._daily = False

    def compose(self) -> ComposeResult:
        yield Head(self.music.piece.title)
        yield VerticalScroll(id="phrases", can_focus=False)
        yield Prose(id="said")
        yield Hints()

    async def on_mount(self) -> None:
        await self._fill(self.music)

    async def _fill(self, music: Music) -> None:
        """Put music up in place of what is there; keys that are pressed meanwhile do nothing."""
        page = self.query_one("#phrases", VerticalScroll)
        if self._cutting is not None:
            # The phrase that was to be cut may be another one.
            self._leave_cutting()
        self.views = []
        await page.remove_children()
        views = [PhraseView(phrase, first_stanza(music.piece, phrase)) for phrase in music.plan.phrases]
        for view in views:
            view.set_class(self._all_reasons, "-reasons")
        await page.mount(Prose(id="remarks"), *views, Prose(CAUTION, classes="caution"))
        self.music, self.views = music, views
        self.chosen = min(self.chosen, len(views) - 1)
        self._stand()

    def _stand(self) -> None:
        """Say how the phrases stand, and whether the piece will be ready."""
        mark, log, minutes = self.music.passages[0].piece, self.coach.log_, self.coach.settings.minutes
        said = self.asked(lambda: outlook(log, mark, minutes), Outlook) if log is not None else Outlook()
        plan = self.music.plan
        self._daily = self._is_daily()
        self.query_one(Head).title = self.music.piece.title + (" · in daily practice" if self._daily else "")
        self.refresh_bindings()
        lines = [f"For {plan.hands}.", *plan.remarks, *said.sentences]
        self.query_one("#remarks", Static).update(Content("\n".join(lines)))
        for view in self.views:
            view.stands = said.phrases.get(view.plan.number, "")
        self._point()

    def on_screen_resume(self) -> None:
        super().on_screen_resume()
        if not self.is_mounted or not self.views:
            return
        hands, options = self.coach.settings.hands, self.coach.settings.options
        if self.music.planned_for(hands, options):
            self._stand()
        else:
            self._plan_anew(replace(self.music, hands=hands, options=options))

    def take_kept(self) -> None:
        if self.is_mounted and self.views:
            self._stand()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """While there are no phrases one can only leave; while a cut is being chosen, only choose it or leave it."""
        if self._cutting is not None:
            return action in ANSWERS
        return bool(self.views) or action == "back"

    @property
    def phrase(self) -> Phrase:
        """The chosen phrase."""
        return self.music.phrases[self.chosen]

    def _point(self) -> None:
        for place, view in enumerate(self.views):
            view.point(chosen=place == self.chosen)
        if self.views:
            self.views[self.chosen].scroll_visible(animate=False, top=False)

    def action_choose(self, by: int) -> None:
        """Choose another phrase."""
        self._look_away()
        self.chosen = min(max(self.chosen + by, 0), len(self.views) - 1)
        self._point()

    def on_chord_table_view_chord_clicked(self, event: ChordTableView.ChordClicked) -> None:
        for place, view in enumerate(self.views):
            if event.view in view.walk_children():
                if self._cutting is not None and place != self.chosen:
                    # It is this phrase that is to be cut.
                    return
                self.chosen = place
                self._point()
                self._look_at(event.chord)

    # Hearing and drilling

    def action_drill(self) -> None:
        """Drill the chosen phrase, or cut it when that is what is going on."""
        from coach.screens.drill import DrillScreen

        if self._cutting is not None:
            self._cut_here()
            return
        items, place = phrases_from(self.music, self.phrase.number)
        self.coach.push_screen(DrillScreen(items, place))

    def action_hear_it(self) -> None:
        """Hear the chosen phrase as planned, or stop hearing it."""
        planned = sounding(self.views[self.chosen].plan.chords, self.music.target_bpm)
        if said := Sounding(self.coach.sound).hear(planned):
            self.coach.say(said)

    def action_reasons(self) -> None:
        """Show or hide why each chord is played so."""
        self._all_reasons = not self._all_reasons
        for view in self.views:
            view.set_class(self._all_reasons, "-reasons")
        self.call_after_refresh(self._point)

    def action_move(self, by: int) -> None:
        """Look at the next chord, or at the one before."""
        table = self.views[self.chosen].query_one(ChordTableView)
        chords = len(self.views[self.chosen].plan.chords)
        self._look_at(0 if table.here is None else min(max(table.here + by, 0), chords - 1))

    def _look_at(self, chord: int) -> None:
        for place, view in enumerate(self.views):
            view.query_one(ChordTableView).here = chord if place == self.chosen else None
        plan = self.views[self.chosen].plan
        if self._cutting is not None:
            chord = max(chord, 1)
            self.views[self.chosen].query_one(ChordTableView).here = chord
            where = place_words(plan.chords[chord].bar, plan.chords[chord].beat)
            self._tell(f"{self._cutting.words} {where}? ← → choose the chord, Enter does it, Esc leaves it.")
            return
        looked = plan.chords[chord]
        said = "; ".join(reasons_of(looked)) or looked.distribution
        self._tell(as_sentence(f"{place_words(looked.bar, looked.beat)}: {said}"))

    def _tell(self, text: str) -> None:
        line = self.query_one("#said", Static)
        line.update(Content(text))
        line.set_class(bool(text), "-on")

    # Phrases

    def action_split(self) -> None:
        """Begin to split the chosen phrase."""
        chords = self.views[self.chosen].plan.chords
        if len(chords) < 2:
            self.coach.say("A phrase of one chord cannot be split.")
            return
        self._choose_chord("Split before", "Split here", cuts.split, len(chords) // 2)

    def action_move_end(self) -> None:
        """Begin to move the end of the chosen phrase."""
        number = self.phrase.number
        if len(self.views[self.chosen].plan.chords) < 2:
            self.coach.say("A phrase of one chord cannot end before: join it with the next one.")
            return

        def move(piece: Piece, phrases: Sequence[Phrase], onset: Quarters) -> tuple[Phrase, ...]:
            return cuts.move(piece, phrases, number, onset)

        self._choose_chord("End the phrase before", "End here", move, len(self.views[self.chosen].plan.chords) - 1)

    def _choose_chord(self, words: str, key: str, change: Change, place: int) -> None:
        """Have a chord chosen for a cut."""
        table = self.views[self.chosen].query_one(ChordTableView)
        self._cutting = Cutting(words, key, change)
        self._look_at(table.here or place)
        self.refresh_bindings()

    def _cut_here(self) -> None:
        """Cut before the chord that was chosen."""
        assert self._cutting is not None
        change, view = self._cutting.change, self.views[self.chosen]
        place = view.query_one(ChordTableView).here or 0
        onset = exact(view.plan.chords[place].onset)
        self._leave_cutting()
        self._cut(lambda piece, phrases: change(piece, phrases, onset))

    def _leave_cutting(self) -> None:
        self._cutting = None
        self._look_away()
        self.refresh_bindings()

    def _look_away(self) -> None:
        """Look at no chord."""
        self._tell("")
        for view in self.views:
            view.query_one(ChordTableView).here = None

    def action_join(self) -> None:
        """Join the chosen phrase with the next one."""
        number = self.phrase.number
        self._look_away()
        self._cut(lambda piece, phrases: cuts.join(piece, phrases, number))

    @work(exclusive=True, group="cut")
    async def _cut(self, change: Callable[[Piece, Sequence[Phrase]], tuple[Phrase, ...]]) -> None:
        music = self.music
        try:
            phrases = change(music.piece, music.phrases)
            again = await asyncio.to_thread(cut_anew, music, phrases)
            cuts.keep(music.piece, phrases)
        except CoachError as error:
            self.coach.say(str(error), problem=True)
            return
        self.coach.keep_music(again)
        await self._fill(again)

    # Choices

    def action_choose_fingers(self) -> None:
        """Choose a finger, a distribution, a lift or a join."""
        from coach.screens.choice import ChoiceScreen

        view = self.views[self.chosen]
        here = view.query_one(ChordTableView).here
        chord = view.plan.chords[here or 0]
        start = place_written(self.music.piece, exact(chord.onset))
        self.coach.push_screen(ChoiceScreen(self.music, f"{start} "), self._changed)

    def action_alternatives(self) -> None:
        """Other ways to play the chosen phrase."""
        from coach.screens.alternatives import AlternativesScreen

        self.coach.push_screen(AlternativesScreen(self.music, self.phrase), self._changed)

    def action_undo(self) -> None:
        """Take the last choice back; how the phrases are cut stays as it is."""
        self._step_back(chosen.undo)

    def action_redo(self) -> None:
        """Make a choice again that was taken back."""
        self._step_back(chosen.redo)

    def _step_back(self, change: Callable[[Piece], Choices]) -> None:
        piece = self.music.piece
        try:
            before = chosen.choices_of(piece).fixes
            after = change(piece).fixes
        except CoachError as error:
            self.coach.say(str(error))
            return
        gone = [write_fix(fix, piece) for fix in before if fix not in after]
        come = [write_fix(fix, piece) for fix in after if fix not in before]
        said = [f"{words}: {', '.join(them)}" for words, them in (("Taken back", gone), ("Chosen again", come)) if them]
        if said:
            self.coach.say(f"{'. '.join(said)}.")
        self._changed(True)

    def _changed(self, changed: bool | None) -> None:
        """Choices have changed: plan around them."""
        if changed:
            self._plan_anew(self.music)

    @work(exclusive=True, group="cut")
    async def _plan_anew(self, music: Music) -> None:
        try:
            again = await asyncio.to_thread(planned_anew, music)
        except CoachError as error:
            self.coach.say(str(error), problem=True)
            return
        self.coach.keep_music(again)
        await self._fill(again)

    def action_spell(self) -> None:
        """Type the fingers of the chosen phrase, away from the piano."""
        from coach.screens.spell import SpellScreen

        passage = self.music.phrase_passage(self.phrase.number)
        try:
            self.coach.push_screen(SpellScreen(self.music, passage, self.views[self.chosen].plan))
        except CoachError as error:
            self.coach.say(str(error), problem=True)

    # Paper

    @work(exclusive=True, group="print")
    async def action_print(self) -> None:
        """Write the fingered music as a page that a browser prints."""
        music, path = self.music, None
        self._tell("Writing the sheet ...")
        try:
            path = page_file(music.piece, music.name)
            page = await asyncio.to_thread(written, path.name, Order(music.piece, music.plan))
            write_whole(path, page)
        except (CoachError, OSError) as error:
            self._told_of_sheet("")
            self.coach.say(
                str(error) if isinstance(error, CoachError) else f'cannot write "{path}": {error.strerror}',
                problem=True,
            )
            return
        self._told_of_sheet(f"The sheet is in {path}: open it in a browser, and print it there.")

    def _told_of_sheet(self, said: str) -> None:
        """Say what became of the sheet, but for in the place of a question that was asked meanwhile."""
        if self._cutting is None:
            self._tell(said)
        elif said:
            self.coach.say(said)

    # Practice

    def _is_daily(self) -> bool:
        """Whether the piece comes up in Today; not where the log cannot be read."""
        log, mark = self.coach.log_, self.music.passages[0].piece
        try:
            return log is not None and any(stand.piece == mark for stand in log.stands(here=True))
        except CoachError:
            return False

    def hint(self, action: str, words: str) -> str:
        if self._cutting is not None:
            return {"drill": self._cutting.key, "back": "Leave it"}.get(action, words)
        return "Set aside" if action == "take_up" and self._daily else words

    def action_take_up(self) -> None:
        """Have the piece in every day's practice, or set it aside."""
        log = self.coach.kept_log()
        if log is None:
            return
        mark = self.music.passages[0].piece
        try:
            up = self._is_daily()
            log.set_state(mark, "set aside" if up else "in practice")
        except CoachError as error:
            self.coach.say(str(error), problem=True)
            return
        self._stand()
        title = self.music.piece.title
        self.coach.say(f"{title} is set aside." if up else f"{title} comes up in Today from now on.")

    def action_date(self) -> None:
        """Set the day by which the piece must be ready."""
        from coach.screens.date import DateScreen

        self.coach.push_screen(DateScreen(self.music))

    def action_back(self) -> None:
        """Leave the cutting, or the piece."""
        if self._cutting is not None:
            self._leave_cutting()
            return
        self.coach.sound.stop()
        self.dismiss()
