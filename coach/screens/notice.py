"""What is said in passing: one sentence at a time, in a line of its own above the key hints, where it hides nothing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, cast

from textual.content import Content

from coach.screens.base import Prose

if TYPE_CHECKING:
    from coach.screens.app import CoachApp

READ_IN = 8.0
"""Seconds after which a sentence is taken away, if no key took it away before."""


@dataclass(frozen=True, slots=True)
class Saying:
    """One sentence.

    Attributes:
        sentence: For the player.
        problem: Whether something went wrong.
        about: What it says something of, "keyboard"; it is true as long as nothing else is known of that. "" where it
            stays true.
    """

    sentence: str
    problem: bool = False
    about: str = ""


@dataclass(frozen=True, slots=True)
class Notices:
    """What is said, and what has still to be said.

    Attributes:
        sayings: The last one is shown. Below it wait the problems that another sentence has pushed aside before they
            were read.
    """

    sayings: tuple[Saying, ...] = ()

    @property
    def shown(self) -> Saying | None:
        """What the player reads."""
        return self.sayings[-1] if self.sayings else None

    def said(self, saying: Saying) -> Notices:
        """Something else is said: it is read first."""
        kept = self.without(saying.about).sayings if saying.about else self.sayings
        return Notices((*(one for one in kept if one.problem and one.sentence != saying.sentence), saying))

    def read(self) -> Notices:
        """What is shown was read, or nobody wants to read it."""
        return replace(self, sayings=self.sayings[:-1])

    def without(self, about: str) -> Notices:
        """What is said of something is true no longer."""
        return replace(self, sayings=tuple(one for one in self.sayings if one.about != about))


class Notice(Prose):
    """The line in which it is read."""

    DEFAULT_CSS = """
    Notice { height: auto; width: 1fr; padding: 0 1; display: none; background: $primary 20%; color: $foreground; }
    Notice.-on { display: block; }
    Notice.-problem { background: $error 20%; }
    """

    def on_mount(self) -> None:
        self.show(cast("CoachApp", self.app).notices.shown)

    def show(self, saying: Saying | None) -> None:
        """Show a sentence, or take the line away."""
        self.set_class(saying is not None, "-on")
        self.set_class(saying is not None and saying.problem, "-problem")
        if saying is not None:
            self.update(Content.styled(saying.sentence, "bold"))
