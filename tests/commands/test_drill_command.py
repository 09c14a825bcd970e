"""`coach drill` and `coach` alone: what is wrong is said before any screen is drawn."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import struct
import sys
import termios
import time
from dataclasses import replace
from pathlib import Path

import pytest
from intonation import INTONATION

from coach import settings
from coach.cli import main
from coach.score.library import own_name


@pytest.fixture(autouse=True)
def data_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("COACH_HOME", str(tmp_path))
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "no-such-server")
    settings.save(replace(settings.Settings(), set_up=True))
    return tmp_path


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["drill", "nowhere"], 'cannot find "nowhere"'),
        (["drill", "wide-water", "--phrase", "9"], "phrases 1 to 4, no phrase 9"),
        (["drill", "wide-water", "--voices", "X"], "names no voice"),
        (["drill", "wide-water"], "needs a terminal"),
        (["drill", "wide-water", "--voices", "B"], "needs a terminal"),
        ([], "needs a terminal"),
    ],
)
def test_what_is_wrong_is_one_line(words: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(words) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert said in captured.err
    assert captured.err.count("\n") == 1


def test_a_hand_that_rests_cannot_be_drilled(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    tune = tmp_path / "intonation.abc"
    tune.write_text(INTONATION)
    for words, said in (
        (["--phrase", "1"], "the left hand has nothing to play in phrase 1"),
        (["--phrase", "2"], "needs a terminal"),
        ([], "needs a terminal"),
    ):
        assert main(["drill", str(tune), "--hand", "left", *words]) == 2
        assert said in capsys.readouterr().err


def test_a_file_is_known_by_a_name_that_lasts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "hymn.musicxml").write_text("")
    monkeypatch.chdir(tmp_path)
    assert own_name("hymn.musicxml") == str(tmp_path / "hymn.musicxml")
    assert own_name("wide-water") == "wide-water"


class Terminal:
    """A program on a pseudo terminal."""

    def __init__(self, *words: str, **environment: str) -> None:
        self.drawn = b""
        self.process, self._terminal = pty.fork()
        if self.process == 0:
            os.environ.update({"TERM": "xterm-256color", **environment})
            os.execv(sys.executable, [sys.executable, "-m", "coach.cli", *words])
        fcntl.ioctl(self._terminal, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))

    def until(self, wanted: str, seconds: float = 30.0) -> None:
        limit = time.monotonic() + seconds
        while wanted.encode() not in self.drawn:
            assert time.monotonic() < limit, self.drawn[-3000:].decode(errors="replace")
            self._read()

    def type(self, keys: str) -> None:
        os.write(self._terminal, keys.encode())

    def ends(self, seconds: float = 15.0) -> int:
        limit = time.monotonic() + seconds
        while time.monotonic() < limit:
            self._read()
            done, status = os.waitpid(self.process, os.WNOHANG)
            if done:
                return os.waitstatus_to_exitcode(status)
        raise AssertionError("the app does not end")

    def _read(self) -> None:
        if select.select([self._terminal], [], [], 0.1)[0]:
            try:
                self.drawn += os.read(self._terminal, 65536)
            except OSError:
                return


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo terminals are POSIX")
def test_the_app_opens_in_a_terminal_without_a_word_of_the_midi_libraries() -> None:
    """No ALSA sequencer and no JACK server here: their C libraries complain on standard error, which is the screen."""
    terminal = Terminal()
    terminal.until("Nothing is in practice yet")
    terminal.until("no MIDI here")
    terminal.type("q")
    assert terminal.ends() == 0
    for words in (b"ALSA lib", b"jack server", b"JackShm", b"Cannot connect"):
        assert words not in terminal.drawn


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo terminals are POSIX")
def test_the_demonstration_plays_by_itself_and_keeps_nothing(data_folder: Path) -> None:
    terminal = Terminal("drill", "wide-water", "--demo")
    terminal.until("Demonstration: a simulated player is playing.")
    terminal.until("Solid.")
    terminal.type("\x1b")
    terminal.until("Today")
    terminal.type("q")
    assert terminal.ends() == 0
    from coach.practice.log import Log

    with Log.open() as log:
        assert log.count() == 0
    assert not list(data_folder.rglob("*.mid"))


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo terminals are POSIX")
def test_a_terminal_without_unicode_gets_the_plain_signs() -> None:
    terminal = Terminal("drill", "wide-water", PYTHONIOENCODING="ascii", NO_COLOR="1")
    terminal.until("Play the first chord to begin.")
    text = terminal.drawn.decode("ascii")
    assert "+ as planned" in text
    assert "? as planned" not in text
    terminal.type("\x11")
    assert terminal.ends() == 0
