"""What was heard in a take, and what comes after it."""

from __future__ import annotations

from textual.content import Content
from textual.reactive import reactive

from coach.practice.attempt import Done
from coach.practice.octave import said_of
from coach.screens.base import Prose
from coach.screens.words import as_sentence, pretty


class Heard(Prose):
    """The verdict of the last take with its remarks, and a sentence about what follows."""

    DEFAULT_CSS = """
    Heard { padding: 0 2; height: auto; }
    Heard.-solid { color: $success; }
    """

    done: reactive[Done | None] = reactive(None, init=False)
    """The last take, None where there is nothing to say about one."""

    after: reactive[str] = reactive("", init=False)
    """What follows."""

    def clear(self) -> None:
        """Nothing was heard yet."""
        self.done, self.after = None, ""

    def watch_done(self) -> None:
        self._write()

    def watch_after(self) -> None:
        self._write()

    def _write(self) -> None:
        done = self.done
        self.set_class(done is not None and done.verdict.word == "solid", "-solid")
        if done is None:
            self.update(self.after)
            return
        head = f"{done.verdict.word.capitalize()}{', broken off' if done.broken_off else ''}. {self.after}".strip()
        remarks = [pretty(as_sentence(remark)) for remark in done.verdict.remarks]
        lines = [said_of(done.shift), *remarks] if done.shift else remarks
        self.update(Content("\n").join([Content.styled(head, "bold"), *map(Content, lines)]))
