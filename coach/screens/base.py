"""What every screen of the coach has: a head, key hints, and an ear for the keyboard."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, ClassVar, TypeVar, cast

from textual.app import RenderResult
from textual.content import Content
from textual.screen import Screen
from textual.widget import Widget
from textual.widgets import Static

from coach.errors import CoachError
from coach.listening.events import Event
from coach.listening.ports import Link
from coach.paper.signs import breadth

if TYPE_CHECKING:
    from coach.screens.app import CoachApp

Result = TypeVar("Result")
Answer = TypeVar("Answer")
Other = TypeVar("Other")


class CoachScreen(Screen[Result]):
    """A screen of the coach.

    Attributes:
        called: What help calls it; "" where help has nothing to say of it.
        about: What one does there, a short paragraph.
    """

    called: ClassVar[str] = ""
    about: ClassVar[str] = ""

    @property
    def coach(self) -> CoachApp:
        """The app, as what it is."""
        return cast("CoachApp", self.app)

    def asked(self, ask: Callable[[], Answer], otherwise: Callable[[], Other]) -> Answer | Other:
        """What the log answers. Where it cannot be read, which is said, another answer holds: its folder may come back.

        Args:
            ask: Asks the log.
            otherwise: What holds where it gives no answer; worked out only then.
        """
        try:
            return ask()
        except CoachError as error:
            self.coach.say(str(error), problem=True)
            return otherwise()

    def leave(self) -> None:
        """Go back to the screen below. Under another page it waits until it is up again: the page is being read."""
        if self.is_active:
            self.dismiss()
        else:
            self._leaving = True

    _leaving: bool = False
    """Whether it is to be left as soon as it is up again."""

    hears_behind: ClassVar[bool] = False
    """Whether it hears the keyboard behind screens that have no use for it: a take does not stop while help is read."""

    def hear(self, events: Sequence[Event]) -> None:
        """Take what was played, in order of time; most screens have no use for it."""

    @property
    def hears(self) -> bool:
        """Whether it has a use for what is played while it is up."""
        return type(self).hear is not CoachScreen.hear

    @property
    def take_goes_on(self) -> bool:
        """Whether one does, or is being counted in, that another instrument must not break into."""
        return False

    def unplugged(self, releases: Sequence[Event]) -> None:
        """The keyboard is gone; its keys came up."""
        self.hear(releases)

    def closing(self) -> None:
        """The app is about to be left: finish what must not be lost."""

    def planned_anew(self) -> None:
        """What is in practice was planned for hands that were changed; most screens show nothing of it."""

    def take_kept(self) -> None:
        """A take that ended when its drill was left is in the log; most screens show nothing of it."""

    def hint(self, action: str, words: str) -> str:
        """What a key's hint says as things stand.

        Args:
            action: What the key does, as its binding names it.
            words: What its hint says otherwise.
        """
        return words

    def linked(self, link: Link) -> None:
        """The link to the keyboard changed."""
        self._show_link()

    def on_screen_resume(self) -> None:
        """The screen is up again."""
        self._show_link()
        if self._leaving:
            self.call_later(self.leave)

    def _show_link(self) -> None:
        for head in self.query(Head):
            head.refresh()


class Prose(Static):
    """A text as it stands: a title or a file's name may have square brackets, which are no markup."""

    def __init__(self, text: str = "", *, id: str | None = None, classes: str | None = None) -> None:
        super().__init__(text, id=id, classes=classes, markup=False)


class Head(Widget):
    """The first line of a screen: where one is, and how things stand with the keyboard."""

    DEFAULT_CSS = """
    Head { dock: top; height: 1; padding: 0 1; background: $panel; color: $foreground; }
    Head .head--link { color: $secondary; }
    """
    COMPONENT_CLASSES: ClassVar[set[str]] = {"head--link"}

    def __init__(self, title: str = "") -> None:
        super().__init__()
        self._title = title

    @property
    def title(self) -> str:
        """What stands on the left."""
        return self._title

    @title.setter
    def title(self, title: str) -> None:
        self._title = title
        self.refresh()

    def render(self) -> RenderResult:
        width = self.content_size.width
        link = shortened(said_of(cast("CoachApp", self.app).link), max(width // 3, 12))
        title = shortened(self._title, width - breadth(link) - 2 if link else width)
        gap = " " * max(width - breadth(title) - breadth(link), 0)
        colour = self.get_component_styles("head--link").color.hex
        return Content.assemble((title, "bold"), gap, (link, colour))


def said_of(link: Link | None) -> str:
    """How things stand with the keyboard, in few words."""
    if link is None:
        return ""
    return {
        "listening": link.name,
        "unplugged": f"unplugged: {link.name}",
        "nothing": "no keyboard",
        "no system": "no MIDI here",
        "taken": f"in use: {link.name}",
    }[link.state]


def shortened(text: str, width: int) -> str:
    """A text in so many places of the terminal, its end cut where it is longer."""
    if breadth(text) <= width:
        return text
    while text and breadth(text) > width - 1:
        text = text[:-1]
    return text + "…"
