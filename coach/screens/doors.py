"""How one screen opens another by name, without loading it before."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.screen import Screen

if TYPE_CHECKING:
    from coach.screens.app import CoachApp


def open(where: str) -> Screen[None]:
    """The screen of this name: "hands", "instrument", "week", "shelf", "set-up"."""
    if where == "hands":
        from coach.screens.hands import HandsScreen

        return HandsScreen()
    if where == "instrument":
        from coach.screens.instrument import InstrumentScreen

        return InstrumentScreen()
    if where == "week":
        from coach.screens.week import WeekScreen

        return WeekScreen()
    if where == "shelf":
        from coach.screens.shelf import ShelfScreen

        return ShelfScreen()
    if where == "set-up":
        from coach.screens.set_up import SetUpScreen

        return SetUpScreen()
    raise KeyError(where)


def demonstrate(coach: CoachApp) -> None:
    """Open the demonstration of the piece that ships with the coach for it."""
    from coach.screens.demonstration import DemonstrationScreen, shown_piece

    coach.push_screen(DemonstrationScreen(shown_piece()))
