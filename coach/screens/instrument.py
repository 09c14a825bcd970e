"""The instrument: which MIDI input is heard, where sound and clicks go."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from typing import ClassVar

from textual import work
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import OptionList, Static

from coach.listening.events import Event
from coach.listening.ports import Link
from coach.listening.wording import key_name
from coach.paper.systems import NO_SYSTEM, Port, called, chosen, ports
from coach.screens.base import CoachScreen, Head, Prose
from coach.screens.hints import Hints
from coach.screens.rows import Column, Rows
from coach.screens.words import as_sentence, pretty


class InstrumentScreen(CoachScreen[None]):
    """Choosing MIDI ports."""

    called = "Instrument"
    about = (
        "Above, the MIDI inputs: choose the one that is your keyboard, and press a key to see that it is heard. "
        "Below, the outputs: choose where a passage sounds when you hear it, and the clicks of the beat."
    )
    DEFAULT_CSS = """
    InstrumentScreen Rows { height: 1fr; }
    InstrumentScreen #above { padding: 1 2; color: $secondary; }
    InstrumentScreen #heard { padding: 0 2; height: 1; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "choose", "Choose", priority=True, key_display="Enter"),
        Binding("r", "look", "Look again"),
        Binding("escape", "dismiss", "Back", key_display="Esc"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._inputs: tuple[Port, ...] = ()
        self._outputs: tuple[Port, ...] = ()

    def compose(self) -> ComposeResult:
        yield Head("Instrument")
        yield Prose("Choose what the coach hears, and where it sounds.", id="above")
        yield Rows((Column(9, 0), Column(24, 1), Column(10, 0)), id="rows")
        yield Prose("Press a key of your instrument.", id="heard")
        yield Hints()

    def on_mount(self) -> None:
        self.query_one(Rows).focus()
        self.action_look()

    @work(exclusive=True)
    async def action_look(self) -> None:
        """List the ports as they are now."""
        inputs = await asyncio.to_thread(ports, "input")
        outputs = await asyncio.to_thread(ports, "output")
        if inputs is None and outputs is None:
            self.query_one("#above", Static).update(as_sentence(NO_SYSTEM))
            self.query_one("#heard", Static).update("")
        self._inputs = tuple(port for port in inputs or () if not port.own)
        self._outputs = tuple(port for port in outputs or () if not port.own)
        self._fill()

    def _fill(self) -> None:
        link = self.coach.link
        heard = link.port if link is not None and link.state == "listening" else ""
        rows = [("hears", called(port, self._inputs), "in use" if port.name == heard else "") for port in self._inputs]
        sounds = chosen(self._outputs, self.coach.settings.midi_output)
        rows += [
            ("sounds on", called(port, self._outputs), "in use" if port == sounds else "") for port in self._outputs
        ]
        self.query_one(Rows).fill(rows)

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        self.action_choose()

    def action_choose(self) -> None:
        """Use the chosen port."""
        place = self.query_one(Rows).highlighted
        if place is None:
            return
        if place < len(self._inputs):
            name = called(self._inputs[place], self._inputs)
            self.coach.change_settings(midi_input=name)
            if self.coach.keyboard is not None:
                self.coach.keyboard.choose(name)
        else:
            name = called(self._outputs[place - len(self._inputs)], self._outputs)
            self.coach.change_settings(midi_output=name)
            self.coach.sound.wanted = name
            self._fill()

    def linked(self, link: Link) -> None:
        super().linked(link)
        self._fill()

    def hear(self, events: Sequence[Event]) -> None:
        for event in events:
            if event.kind == "press":
                self.query_one("#heard", Static).update(f"Heard: {pretty(key_name(event.key))}.")
