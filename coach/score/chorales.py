"""The 371 chorales of Riemenschneider's collection in music21's corpus: their titles, keys and phrases.

music21 knows numbers and titles; loading it takes a moment and reading all chorales longer, so both are done once and
kept. Run as a program (`python -m coach.score.chorales`) the module prepares the catalogue and prints how far it is.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from typing import Any

from coach import places
from coach.errors import DAMAGED, CoachError
from coach.score.library import READING, open_piece
from coach.score.phrases import CUTTING, find_phrases
from coach.score.spelling import key_name
from coach.whole import write_whole

FORM = 2
"""Version of the kept catalogue."""


@dataclass(frozen=True, slots=True)
class Chorale:
    """One of the chorales.

    Attributes:
        number: Riemenschneider's, 1 to 371.
        name: What `open_piece` takes.
        title: First line of its text.
        key: "G major", "" before it was read.
        phrases: How many phrases it has, 0 before it was read.
    """

    number: int
    name: str
    title: str
    key: str = ""
    phrases: int = 0


def catalogue() -> tuple[Chorale, ...]:
    """The chorales by number; those that were not read yet have neither key nor phrases.

    Nor have those that were read by other readers, or cut by another search for phrases.
    """
    try:
        form = json.loads(_file().read_text("utf-8"))
        if form["form"] == FORM:
            chorales = tuple(Chorale(**chorale) for chorale in form["chorales"])
            still = form["read"] == _how_read()
            return chorales if still else tuple(replace(chorale, key="", phrases=0) for chorale in chorales)
    except (OSError, *DAMAGED):
        pass
    chorales = _listed()
    _keep(chorales)
    return chorales


def is_prepared() -> bool:
    """Whether all chorales have been read."""
    return _file().is_file() and all(chorale.phrases for chorale in catalogue())


def title_of(name: str) -> str:
    """Title of a chorale by its corpus name, where the catalogue is there to tell; never loads music21."""
    try:
        form = json.loads(_file().read_text("utf-8"))
        return next((str(entry["title"]) for entry in form["chorales"] if entry["name"] == name), "")
    except (OSError, *DAMAGED):
        return ""


def name_of_number(number: int) -> str:
    """Corpus name of a chorale by Riemenschneider's number.

    Raises:
        CoachError: there are 371.
    """
    found = next((chorale.name for chorale in catalogue() if chorale.number == number), None)
    if found is None:
        raise CoachError(f"there is no chorale {number}: they are numbered 1 to 371")
    return found


def prepare(progress: Callable[[int, int], None] | None = None, stop: Callable[[], bool] | None = None) -> None:
    """Read every chorale that was not read yet and keep what the shelf shows of it.

    Args:
        progress: Told how many are done, and of how many.
        stop: Asked between two chorales whether to leave off; what is done stays done.
    """
    chorales = list(catalogue())
    known: dict[str, Chorale] = {chorale.name: chorale for chorale in chorales if chorale.phrases}
    for done, chorale in enumerate(chorales):
        if progress:
            progress(done, len(chorales))
        if stop and stop():
            break
        if chorale.name not in known:
            piece = open_piece(chorale.name)
            phrases = len(find_phrases(replace(piece, cuts=None)))
            known[chorale.name] = replace(chorale, key=key_name(piece.fifths, piece.minor), phrases=phrases)
        read = known[chorale.name]
        chorales[done] = replace(chorale, key=read.key, phrases=read.phrases)
        if done % 50 == 49:
            _keep(tuple(chorales))
    else:
        if progress:
            progress(len(chorales), len(chorales))
    _keep(tuple(chorales))


class Preparation:
    """The catalogue being prepared by another process, so that nothing on screen waits for it.

    Attributes:
        done: Chorales read so far.
        total: Chorales altogether, 0 before that is known.
    """

    def __init__(self) -> None:
        self.done = self.total = 0
        self._process = subprocess.Popen(
            [sys.executable, "-m", "coach.score.chorales"],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            stdin=subprocess.DEVNULL,
            text=True,
            env={**os.environ, "COACH_HOME": str(places.home())},
        )
        threading.Thread(target=self._listen, daemon=True).start()

    @property
    def running(self) -> bool:
        return self._process.poll() is None

    def stop(self) -> None:
        """Leave off; what is done stays done."""
        if self.running:
            self._process.terminate()
        self._process.wait()

    def wait(self) -> bool:
        """Wait for the end; whether all chorales were read."""
        return self._process.wait() == 0

    def _listen(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            done, _, total = line.partition("/")
            if done.strip().isdecimal() and total.strip().isdecimal():
                self.done, self.total = int(done), int(total)


def _listed() -> tuple[Chorale, ...]:
    """Numbers and titles as music21 lists them."""
    from music21.corpus import chorales

    listed: dict[Any, Any] = chorales.ChoraleListRKBWV().byRiemenschneider  # type: ignore[no-untyped-call]
    return tuple(
        Chorale(int(number), f"corpus:bach/bwv{entry['bwv']}", " ".join(str(entry["title"]).split()))
        for number, entry in sorted(listed.items())
        if 1 <= int(number) <= 371
    )


def _how_read() -> str:
    """What keys and numbers of phrases depend on beside the scores."""
    return f"{READING}.{CUTTING}"


def _file() -> Any:
    return places.home() / "chorales.json"


def _keep(chorales: tuple[Chorale, ...]) -> None:
    form = {"form": FORM, "read": _how_read(), "chorales": [asdict(chorale) for chorale in chorales]}
    # Not kept, it is made anew next time.
    with suppress(OSError):
        write_whole(_file(), json.dumps(form, ensure_ascii=False, separators=(",", ":")), lasting=False)


def _main() -> int:
    def told(done: int, total: int) -> None:
        print(f"{done}/{total}", flush=True)

    try:
        prepare(told)
    except CoachError as error:
        print(error, file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(_main())
