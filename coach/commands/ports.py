"""`coach ports`: MIDI inputs and outputs."""

from __future__ import annotations

import argparse


def add(parser: argparse.ArgumentParser) -> None:
    """Declare the words of the command: none."""


def run(arguments: argparse.Namespace) -> int:
    """List the inputs and outputs of every MIDI system that answers, and which of them the coach would take."""
    from coach.paper.systems import NO_SYSTEM, called, chosen, hushed, ports
    from coach.settings import load

    with hushed():
        inputs, outputs = ports("input"), ports("output")
    if inputs is None and outputs is None:
        print(f"{NO_SYSTEM[0].upper()}{NO_SYSTEM[1:]}.")
        return 0
    settings = load()
    for title, offered, wanted in (
        ("Inputs", inputs or (), settings.midi_input),
        ("Outputs", outputs or (), settings.midi_output),
    ):
        print(f"{title}:")
        taken = chosen(offered, wanted)
        if taken is None and title == "Inputs":
            taken = chosen(offered)
        for port in offered:
            if port.own:
                continue
            note = "  (used)" if port == taken else "  (passes on what others send)" if port.through else ""
            print(f"  {called(port, offered)}  [{port.system.name}]{note}")
        if all(port.own for port in offered):
            print("  none")
    return 0
