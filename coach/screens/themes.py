"""How the coach looks: paper by day, lamplight in the evening. Colour only repeats what a sign says already."""

from __future__ import annotations

from textual.theme import Theme

LIGHT = Theme(
    name="paper",
    primary="#2f5d73",
    secondary="#6b5b45",
    accent="#7f5300",
    warning="#7f5300",
    error="#9b2d1f",
    success="#2e6b3a",
    foreground="#1f1b16",
    background="#f7f3ea",
    surface="#efe9dc",
    panel="#e5ddcc",
    dark=False,
)

DARK = Theme(
    name="lamplight",
    primary="#8fb8c9",
    secondary="#b8a88c",
    accent="#e0b060",
    warning="#e0b060",
    error="#e58a78",
    success="#93c48b",
    foreground="#e6dfd2",
    background="#191714",
    surface="#211e1a",
    panel="#2b2722",
    dark=True,
)

START = DARK.name
"""The theme before the player chooses one."""
