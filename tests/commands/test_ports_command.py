"""`coach ports` over real virtual MIDI ports, and on a machine without any."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from coach import settings
from coach.cli import main


@pytest.fixture(autouse=True)
def data_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    return tmp_path


def test_inputs_and_outputs_are_listed_and_the_one_used_is_marked(
    piano: Any, synthesizer: Any, jack_server: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    through = jack_server.client("output", "Midi Through")
    through.open_virtual_port("out")
    try:
        assert main(["ports"]) == 0
        assert capsys.readouterr().out.splitlines() == [
            "Inputs:",
            "  Test Piano:keys  [JACK]  (used)",
            "  Midi Through:out  [JACK]  (passes on what others send)",
            "Outputs:",
            "  Synth:in  [JACK]  (used)",
        ]
        settings.save(replace(settings.load(), midi_output="Synth:in"))
        main(["ports"])
        assert "  Synth:in  [JACK]  (used)" in capsys.readouterr().out
    finally:
        through.delete()


def test_no_instrument_is_said_so(jack_server: Any, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ports"]) == 0
    assert capsys.readouterr().out == "Inputs:\n  none\nOutputs:\n  none\n"


@pytest.mark.skipif(os.path.exists("/dev/snd/seq"), reason="this machine has an ALSA sequencer")
def test_a_machine_without_midi_gets_one_plain_line_and_nothing_on_standard_error(data_folder: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "coach.cli", "ports"],
        capture_output=True,
        text=True,
        env={**os.environ, "JACK_DEFAULT_SERVER": "no-such-server", "COACH_HOME": str(data_folder)},
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout == (
        "This machine has no MIDI system that answers: the coach works, but it hears no keyboard and makes no sound.\n"
    )
